"""What each step of the engine costs by points and shapes, and how well it keeps to its time.

    python tests/benchmarks/detail.py [--seconds 3] [--only 20-2000-quarter] [--stops 0]

Each row is a problem of invented wavy shapes in a process of its own, so that memory is its own: how many items of how
many shapes of how many points, and how they may be turned; then what the steps took: the plainer outline of a shape and
its points, a problem laid out, rows and a no-fit polygon of a shape; what CPU time the first layout took, and when the
search ended that was asked for so many seconds. --stops cancels a search at so many moments and tells the slowest end.
"""

from __future__ import annotations

import argparse
import multiprocessing
import resource
import time

import numpy as np
from shapely.geometry import Polygon, box

from nesting.engine import FREE, Cancel, Container, Item, Problem, Search, Shape, Stop, overlaps, warm_up
from nesting.engine.contact import no_fit_polygon
from nesting.engine.given import Given
from nesting.engine.limits import LIMITS
from nesting.engine.plain import coarser, outer, plainer, tolerance_of
from nesting.engine.rows import densest_rows

TURNS = {
    "free": FREE,
    "quarter": tuple((angle, angle) for angle in (0.0, 90.0, 180.0, 270.0)),
    "half": ((0.0, 0.0), (180.0, 180.0)),
}
CASES = [
    (items, shapes, points, turns)
    for items, shapes in ((20, 2), (100, 10), (100, 100), (500, 500))
    for points in (20, 200, 2000)
    for turns in TURNS
    if turns != "half" or items == 100
] + [(10, 1, 20_000, "free"), (40, 10, 20_000, "quarter")]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=3.0)
    parser.add_argument("--only", action="append", help="items-shapes-points-turns, parts of it left out or *")
    parser.add_argument("--stops", type=int, default=0)
    options = parser.parse_args()
    warm_up()
    heads = ("items", "shapes", "points", "turns", "plain ms", "left", "laid out s", "rows ms", "no-fit ms")
    more = ("first CPU s", "end s", "MB", "placed", "faults", "stop s")
    print("".join(f"{head:>12}" for head in (*heads, *more)), flush=True)
    for case in CASES:
        if options.only and not any(_matches(case, only) for only in options.only):
            continue
        with multiprocessing.get_context("spawn").Pool(1) as pool:
            row = pool.apply(measure, (*case, options.seconds, options.stops))
        print("".join(f"{value:>12}" for value in (*case, *row)), flush=True)


def _matches(case: tuple, only: str) -> bool:
    return all(word in ("*", str(value)) for word, value in zip(only.split("-"), case))


def measure(items: int, shapes: int, points: int, turns: str, seconds: float, stops: int) -> list[str]:
    """The figures of one row."""
    warm_up()
    problem = detailed(items, shapes, points, turns)
    polygon = problem.shapes[0].polygon
    within = tolerance_of(polygon, problem.tolerance_mm)
    plain, plain_s = timed(lambda: plainer(outer(polygon), within, True))
    _, given_s = timed(lambda: Given(problem))
    stand_in = coarser(plain, LIMITS.row_points)
    rows_s = timed(lambda: densest_rows(stand_in))[1] if stand_in is not None else float("nan")
    nfp_s = timed(lambda: no_fit_polygon(plain, plain))[1] if len(plain.exterior.coords) < 2000 else float("nan")
    again = detailed(items, shapes, points, turns, seed=2)
    told, began, busy = [], time.monotonic(), time.process_time()
    search = Search(again, 1, progress=lambda _: told.append(time.process_time() - busy))
    solution = search.run(Stop(seconds=max(0.0, seconds - (time.monotonic() - began))))
    end = time.monotonic() - began
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    placed, faults = sum(pose is not None for pose in solution.poses), len(overlaps(again, solution))
    worst = max((cancelled(again, seconds * (n + 0.5) / stops) for n in range(stops)), default=float("nan"))
    figures = [f"{1e3 * plain_s:.1f}", len(plain.exterior.coords), f"{given_s:.2f}", f"{1e3 * rows_s:.0f}"]
    figures += [f"{1e3 * nfp_s:.0f}", f"{told[0]:.2f}", f"{end:.2f}", f"{memory:.0f}", placed, faults, f"{worst:.2f}"]
    return list(map(str, figures))


def timed(work):
    """What a call gives, and the CPU time it took."""
    began = time.process_time()
    return work(), time.process_time() - began


def cancelled(problem: Problem, after: float) -> float:
    """Seconds from the cancel, so long after the start of a search, to its end."""
    import threading

    cancel, when = Cancel(), []

    def call() -> None:
        when.append(time.monotonic())
        cancel.cancel()

    search = Search(problem, 1)
    search.run(Stop(iterations=1))
    timer = threading.Timer(after, call)
    timer.start()
    search.run(Stop(cancel=cancel))
    return time.monotonic() - when[0]


def detailed(items: int, shapes: int, points: int, turns: str, seed: int = 1) -> Problem:
    """Wavy shapes 30 to 200 mm across, in a strip with twice the room that they need."""
    random = np.random.default_rng(seed)
    made = [Shape(_wavy(random, random.uniform(15, 100), points), angles=TURNS[turns]) for _ in range(shapes)]
    area = sum(made[n % shapes].polygon.area for n in range(items))
    strip = Container(box(0, 0, max(2.0 * area / 1000, 300.0), 1000))
    return Problem((strip,), tuple(made), tuple(Item(n % shapes) for n in range(items)))


def _wavy(random, radius: float, points: int) -> Polygon:
    turn = np.linspace(0, 2 * np.pi, points, endpoint=False)
    reach = 1 + sum(random.uniform(0, 0.25 / k) * np.sin(k * turn + random.uniform(0, 6)) for k in (2, 3, 5, 7))
    return Polygon(radius * np.column_stack([np.cos(turn), np.sin(turn)]) * reach[:, None])


if __name__ == "__main__":
    main()
