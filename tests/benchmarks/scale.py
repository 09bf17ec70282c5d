"""How the time to a first complete layout grows with the number of parts: one hide for every hundred parts.

    python tests/benchmarks/scale.py [--parts 100 200 500 1000] [--seconds 0] [--to scale.png]

Hides and parts are invented here. --seconds searches on after the first layout. The picture shows seconds against
parts.
"""

from __future__ import annotations

import argparse
import resource
import time
from pathlib import Path

import numpy as np
from shapely.geometry import Point, Polygon

from nesting.engine import FREE, Container, Item, Problem, Search, Shape, Stop, overlaps, warm_up

PER_HIDE = 100


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--parts", type=int, nargs="+", default=[100, 200, 500, 1000])
    parser.add_argument("--seconds", type=float, default=0.0)
    parser.add_argument("--to", type=Path)
    options = parser.parse_args()
    warm_up()
    times = []
    print(f"{'parts':>6}{'hides':>6}{'placed':>8}{'first s':>9}{'in all s':>9}{'MB':>6}  faults")
    for count in options.parts:
        began = time.monotonic()
        problem = scaled(count)
        search = Search(problem, seed=1)
        solution = search.run(Stop(iterations=1))
        times.append(time.monotonic() - began)
        if options.seconds:
            solution = search.run(Stop(seconds=search.seconds + options.seconds))
        total, memory = time.monotonic() - began, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        placed = sum(pose is not None for pose in solution.poses)
        faults = len(overlaps(problem, solution))
        print(
            f"{count:>6}{len(problem.containers):>6}{placed:>8}{times[-1]:>9.1f}{total:>9.1f}{memory:>6.0f}  {faults}",
            flush=True,
        )
    if options.to:
        plot(options.parts, times, options.to)


def scaled(count: int) -> Problem:
    """Ten small shapes over as many wavy hides as there are hundreds of parts; the hides have room for about twice the
    parts."""
    random = np.random.default_rng(7)
    shapes = tuple(Shape(_wavy(random, random.uniform(25, 70), 9, 0.3), angles=FREE) for _ in range(10))
    area = np.mean([shape.polygon.area for shape in shapes]) * PER_HIDE
    hides = []
    for _ in range(max(1, count // PER_HIDE)):
        hide = _wavy(random, np.sqrt(2.0 * area / np.pi), 60, 0.12)
        flaws = [Point(random.uniform(-200, 200, 2)).buffer(random.uniform(5, 20)) for _ in range(4)]
        for flaw in flaws:
            hide = hide.difference(flaw)
        hides.append(Container(hide))
    return Problem(tuple(hides), shapes, tuple(Item(n % 10) for n in range(count)))


def _wavy(random, radius: float, corners: int, depth: float) -> Polygon:
    angles = np.linspace(0, 2 * np.pi, corners + 1)[:-1]
    reach = radius * (1 + depth * np.sin(3 * angles + random.uniform(0, 6)) * random.uniform(0.3, 1, corners))
    return Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * reach[:, None])


def plot(parts: list[int], times: list[float], to: Path) -> None:
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(figsize=(6, 4))
    axes.plot(parts, times, "o-", label="measured")
    axes.plot(
        [0, max(parts)], [0, times[0] / parts[0] * max(parts)], "--", color="0.6", label="in proportion to the first"
    )
    axes.set(xlabel="parts", ylabel="seconds to the first complete layout", xlim=(0, None), ylim=(0, None))
    axes.legend()
    figure.tight_layout()
    figure.savefig(to, dpi=120)


if __name__ == "__main__":
    main()
