"""Pack irregular shapes into a strip of fixed width and least length, and compare with the best published.

    python tests/benchmarks/strips.py FOLDER --seconds 60 [--workers 2] [--seed 1] [--name albano] [--to OUT]

FOLDER holds instances of the form {"name", "strip_width", "published_best_density_percent", "items": [{"id",
"quantity", "rotations_deg" (null: any), "polygon"}]}. Density is the items' area over strip width x length. Layouts are
written as JSON: for every item its id, x, y and angle, in the instance's units.
"""

from __future__ import annotations

import argparse
import json
import resource
import time
from dataclasses import dataclass
from pathlib import Path

import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.engine import FREE, Container, Item, Problem, Shape, Stop, solve, warm_up

WIDTH = 1000.0
"""Instances are scaled to this strip width, so that the engine's lengths in mm suit them."""
GRID = 1e-9
"""Of the second opinion on what two items share, in an instance's units."""


@dataclass(frozen=True)
class Run:
    """The end of a search: density, seconds to it, the poses, and the seconds to the first layout and to the end."""

    density: float
    reached: float
    poses: tuple
    first: float
    took: float


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--name", action="append", help="only this instance (may be given again)")
    parser.add_argument("--to", type=Path, help="where to write the layouts")
    options = parser.parse_args()
    warm_up()
    head = f"{'instance':<18}{'density %':>10}{'first s':>9}{'at s':>7}{'end s':>7}{'MB':>6}"
    print(f"{head}{'published %':>13}{'ratio':>8}{'overlap':>10}")
    for path in sorted(options.folder.glob("*.json")):
        if options.name and path.stem not in options.name:
            continue
        instance = json.loads(path.read_text())
        best = search(instance, options.seed, options.seconds, options.workers)
        placed = place(instance, best.poses)
        published = instance.get("published_best_density_percent")
        ratio = f"{best.density / published:>8.4f}" if published else f"{'':>8}"
        print(
            f"{path.stem:<18}{best.density:>10.2f}{best.first:>9.1f}{best.reached:>7.1f}{best.took:>7.1f}"
            f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:>6.0f}{published or 0:>13.2f}{ratio}"
            f"{overlap(placed):>10.2g}",
            flush=True,
        )
        if options.to:
            options.to.mkdir(parents=True, exist_ok=True)
            rows = [{"id": name, "x": x, "y": y, "angle": angle} for name, x, y, angle, _ in placed]
            (options.to / f"{path.stem}.json").write_text(
                json.dumps({"name": path.stem, "density": best.density, "placements": rows})
            )


def search(instance: dict, seed: int, seconds: float, workers: int) -> Run:
    """The densest strip found in a time."""
    problem, area, _ = strip_problem(instance)
    found, begun = [], time.monotonic()

    def told(best) -> None:
        found.append((best.unplaced_mm2, best.consumed_mm2, time.monotonic() - begun))

    solution = solve(problem, Stop(seconds=seconds), seed, workers=workers, progress=told)
    took, first = time.monotonic() - begun, found[0][-1]
    return Run(100 * area / solution.consumed_mm2, min(found)[-1], solution.poses, first, took)


def strip_problem(instance: dict) -> tuple[Problem, float, list[str]]:
    """The engine's problem, the items' total area (scaled), and the id of every item."""
    scale = WIDTH / instance["strip_width"]
    shapes, items, names, area = [], [], [], 0.0
    for item in instance["items"]:
        polygon = Polygon([(x * scale, y * scale) for x, y in item["polygon"]])
        turns = item["rotations_deg"]
        angles = FREE if turns is None else tuple((float(angle), float(angle)) for angle in turns)
        shapes.append(Shape(polygon, angles=angles))
        items += [Item(len(shapes) - 1)] * item["quantity"]
        names += [item["id"]] * item["quantity"]
        area += polygon.area * item["quantity"]
    longest = max(
        max(s.polygon.bounds[2] - s.polygon.bounds[0], s.polygon.bounds[3] - s.polygon.bounds[1]) for s in shapes
    )
    strip = Container(box(0, 0, 2.2 * area / WIDTH + longest, WIDTH))
    return Problem((strip,), tuple(shapes), tuple(items)), area, names


def place(instance: dict, poses) -> list[tuple]:
    """Id, x, y, angle and polygon of every item in the instance's units."""
    scale, polygons = (
        WIDTH / instance["strip_width"],
        {item["id"]: Polygon(item["polygon"]) for item in instance["items"]},
    )
    placed = []
    for name, pose in zip(strip_problem(instance)[2], poses):
        x, y = pose.x / scale, pose.y / scale
        moved = affinity.translate(affinity.rotate(polygons[name], pose.angle_deg, origin=(0, 0)), x, y)
        placed.append((name, x, y, pose.angle_deg, moved))
    return placed


def overlap(placed: list[tuple]) -> float:
    """Greatest area that two items share, by shapely, as a share of the smallest item."""
    polygons = [row[-1] for row in placed]
    tree, worst = shapely.STRtree(polygons), 0.0
    for i, j in tree.query(polygons, predicate="intersects").T:
        if i < j:
            worst = max(worst, shared(polygons[i], polygons[j]))
    return worst / min(polygon.area for polygon in polygons)


def shared(one: Polygon, other: Polygon) -> float:
    """Area that two polygons share: the less of what GEOS finds on no grid and on a fine one.

    Where edges all but coincide it may take the whole of one for it on no grid (a triangle 1e-17 off the edge that it
    lies against, GEOS 3.14.1); on a grid it may find slivers where there are none.
    """
    return min(one.intersection(other).area, shapely.intersection(one, other, grid_size=GRID).area)


if __name__ == "__main__":
    main()
