"""How long the commands of the shop take with a book of many years: 2,000 hides, 50,000 order lines, 5,000 layouts.

    python tests/benchmarks/volume.py FOLDER [--shares 0.1 0.3 1] [--times 3] [--to volume.png]

The shop is invented and written into FOLDER. Each command is run as a program of its own, and the quickest of some
times counts, in seconds of the processor, which other work on the machine lengthens less than those of the clock.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "helpers")]

from shop import laid, leather, shop
from sqlalchemy import insert, text

from nesting.book.book import Book
from nesting.book.tables import BookLayout, BookLoad, BookOrder, Content, CutPart, ShelfHide, Step, Write
from nesting.files.hides import write_hide
from nesting.files.job import read_making
from nesting.files.layout import write_layout

HIDES, ORDERS, LAYOUTS = 2000, 50_000, 5000
LOADS, PARTS, THERE, OPEN = 3, 10, 0.2, 0.01
"""Loads of a layout, parts of a load, shares of hides still on the shelf and of orders still to be made."""
CONTENT = 15_000
"""Bytes kept of a layout's file for going back, as squeezed as one of forty parts is."""
COMMANDS = {
    "shelf": ["shelf"],
    "shelf --all": ["shelf", "--all"],
    "shelf show": ["shelf", "show", "h1"],
    "shelf add": ["shelf", "add"],
    "shelf label": ["shelf", "label", "h1"],
    "orders": ["orders"],
    "orders take": ["orders", "take", "new.csv"],
    "orders done": ["orders", "done", "new"],
    "cut (list)": ["cut"],
    "cut": ["cut", "{load}"],
    "undo": ["undo"],
    "money": ["money"],
    "money --by hide": ["money", "--by", "hide"],
    "money --by supplier": ["money", "--by", "supplier"],
    "money --by month": ["money", "--by", "month"],
    "price": ["price", "key fob"],
    "book steps": ["book", "steps"],
    "before a plan": [],
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--shares", type=float, nargs="+", default=[0.1, 0.3, 1.0])
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--to", type=Path)
    options = parser.parse_args()
    found: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for share in options.shares:
        folder = options.folder / f"shop-{share:g}"
        shutil.rmtree(folder, ignore_errors=True)
        load = build(folder, share)
        size = (folder / "stock-book.sqlite").stat().st_size / 1e6
        print(f"{share:g} of the volume, {size:.0f} MB")
        for name, words in COMMANDS.items():
            # a load is cut once, and taken back once
            times = 1 if name in ("cut", "undo") else options.times
            seconds = min(timed([word.format(load=load) for word in words], folder) for _ in range(times))
            found[name].append(seconds)
            print(f"  {name:20} {seconds:6.2f} s", flush=True)
    if options.to:
        draw(found, options.shares, options.to)


def timed(words: list[str], folder: Path) -> float:
    """Processor seconds of a command as a program of its own, from its start to its end."""
    code = (
        "import sys; from pathlib import Path; from nesting.app.actions.shop import *; take_in(Path()); job_of(Path())"
    )
    command = [sys.executable, "-m", "nesting", *words] if words else [sys.executable, "-c", code]
    began = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = ended.ru_utime + ended.ru_stime - began.ru_utime - began.ru_stime
    if done.returncode:
        raise SystemExit(f"{words}: {done.stderr}")
    return seconds


def build(folder: Path, share: float) -> str:
    """A shop of so much of the volume, with a layout at hand; gives a bed load of it."""
    chance = random.Random(0)
    hides, lines, layouts = (int(share * count) for count in (HIDES, ORDERS, LAYOUTS))
    shop(folder, [leather("h1")], "order,product,quantity,due,priority,thread,note\n")
    (folder / "new.csv").write_text("order,product,quantity,due,priority,thread,note\nnew,key fob,1,,,,\n")
    book = Book.begin(folder)
    there = max(int(THERE * hides), 2)
    for number in range(1, there + 1):
        write_hide(folder / "hides" / f"h{number}.json", leather(f"h{number}"))
    book.take_hides()
    first = book.hide("h1").told()
    at = [f"20{10 + n * 16 // layouts:02}-{1 + n % 12:02}-{1 + n % 28:02}T08:00:00Z" for n in range(layouts)]
    with book._store.step("read", "many years") as work:
        session = work.session

        def put(row: type, values: list[dict[str, object]]) -> None:
            session.execute(insert(row), values)

        put(ShelfHide, [
            first | {"id": number, "name": f"g{number}", "code": f"{number:05}", "state": "cut", "gone": at[-1],
                     "file": f"hides/cut/g{number}.json", "parent": None if number % 3 else 1,
                     "supplier": f"tannery {number % 9}"}
            for number in range(there + 1, hides + 1)
        ])  # fmt: skip
        put(BookOrder, [
            {"id": n, "name": f"o{n}", "product": "key fob", "quantity": 3, "due": None, "priority": 3, "thread": "",
             "note": "", "leather": "", "colour": "", "finish": "", "tannage": "", "taken": at[-1], "done": None,
             "state": "wanted" if n > lines * (1 - OPEN) else "cut", "price": 1400, "parts_each": 2, "planned": 0,
             "made": 0 if n > lines * (1 - OPEN) else 3, "spoiled": 0}
            for n in range(1, lines + 1)
        ])  # fmt: skip
        put(BookLayout, [
            {"id": n + 1, "mark": f"{n:08x}", "made": at[n], "current": 0, "wanted": 40, "placed": 40}
            for n in range(layouts)
        ])  # fmt: skip
        put(BookLoad, [
            {"id": n + 1, "layout": n // LOADS + 1, "hide": chance.randint(there + 1, hides), "panel": str(n % LOADS),
             "print": f"60000.000 {n}.000 1.000", "state": "cut", "at": at[n // LOADS], "count": PARTS,
             "panel_mm2": 6e4, "parts_mm2": 2e4, "kerf_mm2": 500.0, "scrap_mm2": 9500.0, "offcuts_mm2": 3e4}
            for n in range(layouts * LOADS)
        ])  # fmt: skip
        put(CutPart, [
            {"id": n + 1, "load": n // PARTS + 1, "line": chance.randint(1, int(lines * (1 - OPEN))), "part": "fob",
             "piece": n % 3 + 1, "copy": 1, "mirrored": 0, "state": "spoiled" if n % 50 == 0 else "cut", "x": 1.5,
             "y": 2.5, "angle": 0.0, "area_mm2": 2e3, "leather": 40, "masking": 1, "machine": 20, "labour": 70}
            for n in range(layouts * LOADS * PARTS)
        ])  # fmt: skip
        step = work.step.id
        for n in range(layouts * LOADS):
            session.add(Content(sha=f"{n:064x}", data=random.Random(n).randbytes(CONTENT)))
        session.flush()
        put(Step, [
            {"id": step + n + 1, "at": at[n // LOADS], "kind": "cut", "words": f"cut h{n}", "undone": None}
            for n in range(layouts * LOADS)
        ])  # fmt: skip
        put(Write, [
            {"step": step + n + 1, "path": "out/layout.json", "before": f"{max(n - 1, 0):064x}", "after": f"{n:064x}",
             "done": 1}
            for n in range(layouts * LOADS)
        ])  # fmt: skip
        # what each row was before: most rows change once after they came
        session.execute(text("UPDATE orders SET note = 'x'"))
        session.execute(text("UPDATE loads SET count = count + 0"))
    workshop, products = read_making(folder)
    job = book.job(workshop, products)
    layout = laid(replace(job, hides=job.hides[:2], orders=job.orders[:10]), chance)
    write_layout(folder / "out" / "layout.json", layout, {})
    book.planned(book.layout())
    return "/".join(book.waiting()[0])


def draw(found: dict[str, list[float]], shares: list[float], to: Path) -> None:
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(9, 6))
    for number, (name, seconds) in enumerate(sorted(found.items(), key=lambda item: -item[1][-1])):
        style = ("-", "--", ":")[number % 3]
        axes.plot([share * ORDERS for share in shares], seconds, style, marker="o", label=f"{name} {seconds[-1]:.2f} s")
    axes.axhline(1.0, color="0.5", linewidth=0.8)
    axes.set(xlabel="order lines in the book", ylabel="processor seconds, program started anew", ylim=(0, None))
    axes.legend(fontsize=7, loc="center left", bbox_to_anchor=(1, 0.5))
    figure.tight_layout()
    figure.savefig(to, dpi=120)


if __name__ == "__main__":
    main()
