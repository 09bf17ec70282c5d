"""How a plan grows with the job: by default 500, 1,000, 2,000 and 5,000 parts, with a hide for every 25 of them.

    python tests/benchmarks/big.py FOLDER [--parts 500 1000 2000 5000] [--seconds 0] [--workers 2] [--to big.png]

The jobs are written into FOLDER: invented hides, each bent, scaled, marked and measured in its own way, made of the
demo's; orders of the demo's products. Each is planned as the command does it, in a program of its own that has no time
to search on (--seconds 0). Told are the time until it has its first whole layout, every part tried, reading included;
that of the whole command, both also in seconds of processors, which other work on the machine changes less; the most
memory of all its processes at one moment, what they share counted once (seen twice a second, on Linux alone); what
report and layout take; and the exponent by which the seconds of processors grow from the first job to the last.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import math
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
from shapely.affinity import scale
from shapely.geometry import Point, Polygon

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "data")]

from demo_hides import _blob, _readings, _smooth, known_hides

from nesting.atomic import write_text
from nesting.files.hides import write_hide
from nesting.geometry import areal, polygons
from nesting.model import Hide, Zone

PARTS_A_HIDE, WIDE = 25, 11
HEADS = ("parts", "hides", "placed", "first s", "of core", "command s", "of cores", "MB", "page MB", "layout MB")
TOLD = ("search ", "first ", "all ")
RUN = """
import resource, sys, time
from pathlib import Path
from nesting.app.terminal import job

search = job.plan

def used():
    return sum(sum(resource.getrusage(who)[:2]) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))

def timed(*given, **how):
    layout = search(*given, **how)
    print("search", time.monotonic() - began)
    print("first", used() - before)
    return layout

job.plan, began, before = timed, time.monotonic(), used()
assert job.run_plan(Path(sys.argv[1]), float(sys.argv[2]), workers=int(sys.argv[3]))
print("all", used() - before)
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--parts", type=int, nargs="+", default=[500, 1000, 2000, 5000])
    parser.add_argument("--seconds", type=float, default=0.0, help="given to the command")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--only-make", action="store_true", help="write the jobs and plan none")
    parser.add_argument("--to", type=Path, help="a picture of seconds against parts")
    options = parser.parse_args()
    print("".join(name.rjust(WIDE) for name in HEADS))
    rows = []
    for parts in options.parts:
        folder = options.folder / str(parts)
        if not folder.exists():
            make(folder, parts)
        if options.only_make:
            continue
        rows.append(measured(folder, parts, options.seconds, options.workers))
        print(rows[-1][0], flush=True)
    for name, number in (("first layout", 1), ("command", 2)):
        if len(rows) > 1:
            growth = math.log(rows[-1][number] / rows[0][number]) / math.log(options.parts[-1] / options.parts[0])
            print(f"{name}: processor seconds grow as parts to the power of {growth:.2f}")
    if options.to and rows:
        plot(options.parts, rows, options.to)


def make(folder: Path, parts: int, seed: int = 0) -> None:
    """Write a job of so many parts, or a few more, and a hide for every twenty-five."""
    for name in ("workshop.toml", "products.toml"):
        write_text(folder / name, (ROOT / "data" / name).read_text())
    shutil.copytree(ROOT / "data" / "patterns", folder / "patterns")
    chance, models = random.Random(seed), known_hides()
    for number in range(max(1, round(parts / PARTS_A_HIDE))):
        hide = varied(models[number % len(models)], f"hide-{number:03}", chance)
        write_hide(folder / "hides" / f"{hide.id}.json", hide)
    write_text(folder / "orders.csv", orders(parts, chance))


def varied(model: Hide, name: str, chance: random.Random) -> Hide:
    """A hide like one of the demo's: other corners, another size, marks and readings of its own."""
    ring = model.outline.exterior
    corners = [ring.interpolate(n / 30, normalized=True) for n in range(30)]
    middle = model.outline.centroid
    pulled = [
        (middle.x + (p.x - middle.x) * pull, middle.y + (p.y - middle.y) * pull)
        for p in corners
        for pull in [chance.uniform(0.94, 1.04)]
    ]
    size = chance.uniform(0.75, 1.0)
    shape = max(
        polygons(areal(Polygon(_smooth(pulled, points=150, ripple=1.5, seed=chance.randrange(10**6)))), 1.0),
        key=lambda bit: bit.area,
    )
    outline = Polygon(scale(shape, size, size * chance.uniform(0.9, 1.1), origin=(0, 0)).exterior)
    left, bottom, right, top = outline.bounds

    def place(inside: Polygon) -> tuple[float, float]:
        while True:
            x, y = chance.uniform(left, right), chance.uniform(bottom, top)
            if inside.contains(Point(x, y)):
                return round(x, 1), round(y, 1)

    safe = outline.buffer(-45)
    zones = tuple(
        Zone(
            Polygon(_blob(*place(safe), chance.uniform(10, 36), chance.uniform(4, 9), chance.uniform(0, 180),
                          bend=chance.uniform(-2, 2), seed=chance.randrange(10**6))),
            chance.choice("BCCDD"), chance.choice(["scar", "tick bites", "brand"]),
        )
        for _ in range(chance.randrange(2, 7))
    )  # fmt: skip
    nominal, wide = model.nominal_mm or 1.5, right - left
    spots = [place(outline.buffer(-15)) for _ in range(chance.randrange(8, 15))]
    readings = _readings(
        spots, lambda x, y: nominal + 0.08 - 0.16 * abs(2 * (x - left) / wide - 1) ** 2, chance.randrange(10**6)
    )
    price = Decimal(round(outline.area / 1e4 * 1.7 * chance.uniform(0.85, 1.2) * 100)) / 100
    spine = tuple((round(x * size, 1), round(y * size, 1)) for x, y in model.backbone or ())
    return replace(model, id=name, outline=outline, zones=zones, readings=readings, price=price, backbone=spine or None)


def orders(parts: int, chance: random.Random) -> str:
    """Orders of so many parts or a few more: of three months, with due dates, priorities and some fillers."""
    each = {"card holder": 4, "key fob": 1, "watch strap": 2, "notebook cover": 1, "glasses case": 2, "coaster": 1,
            "bag handle": 2, "shears holster": 2, "cable tidy": 1}  # fmt: skip
    rows, made = ["order,product,quantity,due,priority,thread,note,colour"], 0
    while made < parts:
        product, quantity = chance.choice(list(each)), chance.randrange(1, 5)
        filler = product == "cable tidy"
        due = f"2026-{chance.randrange(9, 12):02}-{chance.randrange(1, 29):02}"
        rows.append(f"{len(rows):05},{product},{quantity},{due},{9 if filler else chance.randrange(1, 4)},,,")
        made += quantity * each[product]
    return "\n".join(rows) + "\n"


def measured(folder: Path, parts: int, seconds: float, workers: int) -> tuple[str, float, float]:
    """A line of figures of one job, and the processor seconds to its first layout and of the command."""
    words, environment = [folder, str(seconds), str(workers)], {**os.environ, "PYTHONPATH": str(ROOT)}
    began = time.monotonic()
    memory = 0.0
    with tempfile.TemporaryFile("w+") as said:
        command = [sys.executable, "-c", RUN, *words]
        process = subprocess.Popen(command, env=environment, stdout=said, stderr=said, start_new_session=True)
        while process.poll() is None:
            memory = max(memory, memory_mb(process.pid))
            time.sleep(0.5)
        took = time.monotonic() - began
        said.seek(0)
        text = said.read()
    if process.returncode:
        raise SystemExit(text)
    told = dict(line.split() for line in text.splitlines() if line.startswith(TOLD))
    first = float(told["search"])
    of_core, of_all = float(told["first"]), float(told["all"])
    layout = json.loads((folder / "out" / "layout.json").read_text())
    page, file = ((folder / "out" / name).stat().st_size / 1e6 for name in ("report.html", "layout.json"))
    hides = len(layout["hides"])
    counts = (parts, hides, len(layout["placements"]))
    figures = (first, of_core, took, of_all, memory, page, file)
    line = "".join(f"{count:>{WIDE}}" for count in counts) + "".join(f"{figure:>{WIDE}.1f}" for figure in figures)
    return line, of_core, of_all


def memory_mb(session: int) -> float:
    """Memory of all processes of a session, what they share counted once."""
    kilobytes = 0
    for process in Path("/proc").glob("[0-9]*"):
        # others end, or are not ours to ask
        with contextlib.suppress(OSError):
            if os.getsid(int(process.name)) == session:
                lines = (process / "smaps_rollup").read_text().splitlines()
                kilobytes += sum(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
    return kilobytes / 1024


def plot(parts: list[int], rows: list[tuple[str, float, float]], to: Path) -> None:
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(figsize=(6, 4))
    axes.loglog(parts, [row[2] for row in rows], "o-", color="#0072B2", label="whole command")
    axes.loglog(parts, [row[1] for row in rows], "s-", color="#D55E00", label="first layout of every part")
    slope = np.array(parts) / parts[0]
    axes.loglog(parts, rows[0][1] * slope, "--", color="0.6", label="in proportion")
    axes.set(xlabel="parts", ylabel="processor seconds", xticks=parts, xticklabels=list(map(str, parts)))
    axes.legend()
    figure.tight_layout()
    figure.savefig(to, dpi=120)


if __name__ == "__main__":
    main()
