"""Nest real hides with graded zones: turn an instance into a job folder, plan it, prove it, print the figures.

    python tests/benchmarks/hides.py FOLDER --seconds 60 [--workers 2] [--name shoes] [--to OUT]
    python tests/benchmarks/hides.py FOLDER --seconds 60 --name shoes --fill hide1

The second form fills one hide with what it can of all the parts, freely turned and without gap, every zone forbidden,
and prints the share of its usable area that is covered as the seconds go by.

FOLDER holds instances of the form {"name", "hides": [{"id", "outline", "holes", "zones": [{"grade", "polygon"}]}],
"parts": [{"id", "quantity", "grade", "outline", "holes", "zones"}]}, lengths in mm.
"""

from __future__ import annotations

import argparse
import json
import resource
import tempfile
import time
from pathlib import Path

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.atomic import write_text
from nesting.costs.figures import figures
from nesting.engine import FREE, Container, Item, Problem, Shape, Stop, overlaps, solve, warm_up
from nesting.files.hides import write_hide
from nesting.files.job import read_job
from nesting.files.layout import write_layout
from nesting.geometry import areal, polygons
from nesting.model import Hide, Zone
from nesting.planning.plan import plan
from nesting.referee.rules import check

WORKSHOP = """[machine]
name = "a bed bigger than any hide"
bed_width_mm = 5000
bed_height_mm = 5000
rated_w = 40

[margins]
kerf_mm = 0.0
gap_mm = 0.0
edge_mm = 0.0
flaw_mm = 0.0
"""
LEAST_AREA_MM2 = 1.0
"""Smaller loops of a digitised outline are slips of the pen."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--name", help="only this instance")
    parser.add_argument(
        "--to", type=Path, help="where to write the job folders and layouts; a temporary folder by default"
    )
    parser.add_argument("--fill", metavar="HIDE", help="fill this hide alone")
    parser.add_argument("--seed", type=int, default=1, help="of the filling")
    options = parser.parse_args()
    warm_up()
    if options.fill:
        for path in sorted(options.folder.glob(f"{options.name or '*'}.json")):
            fill(json.loads(path.read_text()), options.fill, options.seconds, options.workers, options.seed)
        return
    to = options.to or Path(tempfile.mkdtemp(prefix="hides-"))
    print(
        f"{'instance':<12}{'hides':>6}{'placed':>12}{'of usable':>11}{'of consumed':>13}"
        f"{'first s':>9}{'all s':>7}{'MB':>7}  referee"
    )
    for path in sorted(options.folder.glob("*.json")):
        if options.name in (None, path.stem):
            print(
                measure(convert(json.loads(path.read_text()), to / path.stem), options.seconds, options.workers),
                flush=True,
            )
    print(f"layouts in {to}")


def fill(instance: dict, name: str, seconds: float, workers: int, seed: int) -> None:
    """Fill one hide and print how much of its usable area is covered, whenever a fifth more time has passed."""
    problem = fill_problem(instance, name)
    usable, began, last, best = problem.containers[0].region.area, time.monotonic(), 0.0, 0.0
    print(f"{instance['name']}, hide {name}: {usable / 1e4:.1f} dm2 usable, {len(problem.items)} parts to choose from")

    whole = sum(problem.shapes[item.shape].polygon.area for item in problem.items)

    def show(found) -> None:
        nonlocal last, best
        covered = whole - sum(found.unplaced_mm2)
        best, passed = max(best, covered / usable), time.monotonic() - began
        if passed > 1.2 * last:
            last = passed
            print(f"{passed:7.1f} s  {covered / usable:7.2%} of usable", flush=True)

    solution = solve(problem, Stop(seconds=seconds), seed, workers=workers, progress=show)
    print(f"at the end {best:.2%},", "sound" if not overlaps(problem, solution) else "NOT SOUND")


def fill_problem(instance: dict, name: str) -> Problem:
    """One hide without its zones, in its biggest piece, and all parts, freely turned."""
    hide = next(clean_hide(hide) for hide in instance["hides"] if str(hide["id"]) == name)
    region = biggest(hide.outline.difference(shapely.union_all([zone.polygon for zone in hide.zones])))
    shapes = tuple(Shape(biggest(Polygon(part["outline"])), angles=FREE) for part in instance["parts"])
    items = tuple(Item(n) for n, part in enumerate(instance["parts"]) for _ in range(part["quantity"]))
    return Problem((Container(region),), shapes, items, tolerance_mm=0.0)


def measure(folder: Path, seconds: float, workers: int) -> str:
    """Plan a job folder and give one line of figures."""
    job, began = read_job(folder), time.monotonic()
    first = []
    layout = plan(
        job,
        Stop(seconds=seconds),
        workers=workers,
        progress=lambda told: first.append(time.monotonic() - began) if told.placed and not first else None,
    )
    took = time.monotonic() - began
    faults, total = check(layout), figures(layout)["total"]
    write_layout(folder / "out" / "layout.json", layout, figures(layout))
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    placed = f"{len(layout.placements)}/{sum(layout.wanted.values())}"
    verdict = f"{len(faults)} faults: {faults[0]}" if faults else "sound"
    return (
        f"{folder.name:<12}{len(job.hides):>6}{placed:>12}"
        f"{total['yield_of_usable']:>11.2%}{total['yield_of_consumed']:>13.2%}"
        f"{first[0] if first else 0:>9.1f}{took:>7.1f}{memory:>7.0f}  {verdict}"
    )


def convert(instance: dict, folder: Path) -> Path:
    """Write an instance as a job folder and give it back."""
    write_text(folder / "workshop.toml", WORKSHOP)
    products, orders = [], ["order,product,quantity,due,priority,thread,note"]
    for part in instance["parts"]:
        write_text(folder / "patterns" / f"{part['id']}.svg", drawing(part))
        products.append(
            f'[[product]]\nname = "{part["id"]}"\npattern = "patterns/{part["id"]}.svg"\n'
            f'[[product.part]]\nname = "{part["id"]}"\ngrade = "{part["grade"]}"\n'
        )
        orders.append(f"all,{part['id']},{part['quantity']},2026-01-05,1,,")
    write_text(folder / "products.toml", "\n".join(products))
    write_text(folder / "orders.csv", "\n".join(orders) + "\n")
    for hide in instance["hides"]:
        write_hide(folder / "hides" / f"{hide['id']}.json", clean_hide(hide))
    return folder


def clean_hide(hide: dict) -> Hide:
    """Digitised outlines touch and cross themselves: keep the biggest sound piece, and every hole and zone in it."""
    outline = biggest(Polygon(hide["outline"])).difference(
        shapely.union_all([areal(Polygon(hole)) for hole in hide["holes"]])
    )
    zones = tuple(
        Zone(piece, zone["grade"])
        for zone in hide["zones"]
        for piece in polygons(areal(Polygon(zone["polygon"])), LEAST_AREA_MM2)
        if piece.intersects(outline)
    )
    return Hide(hide["id"], biggest(outline), zones, tannage="vegetable", nominal_mm=1.5)


def drawing(part: dict) -> str:
    """A part as a pattern drawing, y down, with its zones."""
    outline = biggest(Polygon(part["outline"]))
    x0, y0, x1, y1 = outline.bounds

    def path(label: str, polygon: Polygon) -> str:
        points = " L".join(f"{x - x0:.6f},{y1 - y:.6f}" for x, y in polygon.exterior.coords[:-1])
        return f'    <path id="{label}" d="M{points} Z"/>\n'

    body = path("outline", outline)
    for number, hole in enumerate(part["holes"]):
        body += path(f"cutout-{number}", areal(Polygon(hole)))
    for number, zone in enumerate(part["zones"]):
        for piece in polygons(areal(Polygon(zone["polygon"])).intersection(outline), LEAST_AREA_MM2):
            body += path(f"zone-{zone['grade']}-{number}", piece)
    width, height = x1 - x0, y1 - y0
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.6f}mm" height="{height:.6f}mm" '
        f'viewBox="0 0 {width:.6f} {height:.6f}">\n  <g id="{part["id"]}">\n{body}  </g>\n</svg>\n'
    )


def biggest(geometry: BaseGeometry) -> Polygon:
    """The biggest polygon of digitised corners, which may cross themselves."""
    return max(polygons(areal(geometry), LEAST_AREA_MM2), key=lambda polygon: polygon.area)


if __name__ == "__main__":
    main()
