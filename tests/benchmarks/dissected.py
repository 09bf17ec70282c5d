"""Cut a real outline up by random straight lines and ask the engine for the bits back: the optimum is 100 %.

    python tests/benchmarks/dissected.py FOLDER [--seconds 60] [--workers 2] [--pieces 8 16 32] [--knife 0.5] [--turned]

FOLDER holds hides in the form of tests/benchmarks/hides.py; the first outline of each is used. Bits keep their angle,
or with --turned may be turned at will; the knife takes --knife mm, so that they fit with that much play. What is
printed is the area of the bits placed as a share of all.
"""

from __future__ import annotations

import argparse
import json
import math
from pathlib import Path

import numpy as np
import shapely
import shapely.ops
from hides import biggest
from shapely.geometry import LineString, Polygon

from nesting.engine import FREE, Container, Item, Problem, Shape, Stop, overlaps, solve, warm_up
from nesting.geometry import polygons


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--pieces", type=int, nargs="+", default=[8, 16, 32])
    parser.add_argument("--knife", type=float, default=0.5)
    parser.add_argument("--turned", action="store_true")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    warm_up()
    print(f"{'outline':<14}{'pieces':>7}{'placed':>8}{'area %':>9}  faults")
    for path in sorted(options.folder.glob("*.json")):
        outline = biggest(Polygon(json.loads(path.read_text())["hides"][0]["outline"]))
        for count in options.pieces:
            problem = dissected(outline, count, options.seed, options.turned, options.knife)
            solution = solve(
                problem,
                Stop(seconds=options.seconds, enough_mm2=math.inf),
                options.seed,
                workers=options.workers,
            )
            whole = sum(shape.polygon.area for shape in problem.shapes)
            placed = [
                problem.shapes[item.shape].polygon.area for item, pose in zip(problem.items, solution.poses) if pose
            ]
            faults = overlaps(problem, solution)
            print(
                f"{path.stem:<14}{count:>7}{len(placed):>8}{100 * sum(placed) / whole:>9.2f}  {len(faults)}", flush=True
            )


def dissected(outline: Polygon, count: int, seed: int, turned: bool, knife_mm: float) -> Problem:
    """The biggest piece is cut in two until there are ``count``."""
    random, pieces = np.random.default_rng(seed), [outline]
    while len(pieces) < count:
        piece = pieces.pop(int(np.argmax([p.area for p in pieces])))
        middle, angle = piece.representative_point(), random.uniform(0, math.pi)
        dx, dy = 1e5 * math.cos(angle), 1e5 * math.sin(angle)
        knife = LineString([(middle.x - dx, middle.y - dy), (middle.x + dx, middle.y + dy)])
        pieces += polygons(shapely.ops.split(piece, knife), 1e-4 * outline.area)
    pieces = [biggest(piece.buffer(-knife_mm / 2, join_style="mitre")) for piece in pieces]
    shapes = tuple(Shape(piece, angles=FREE if turned else ((0.0, 0.0),)) for piece in pieces)
    return Problem((Container(outline),), shapes, tuple(Item(n) for n in range(len(pieces))), tolerance_mm=0.0)


if __name__ == "__main__":
    main()
