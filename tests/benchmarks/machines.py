"""What more machines bring: searches a minute with one and two workers of a cluster, measured; with many, simulated.

    python tests/benchmarks/machines.py [--tasks 24] [--iterations 12] [--to machines.png]

A scheduler and workers are started on this machine. A task is a search of one panel with a seed of its own, as
`nesting plan --cluster` asks them. Measured are the tasks a minute that one worker and two workers do, the time of
each task at its worker, how long the scheduler takes to hand out a task that does nothing, and how long such a task
takes there and back.

The simulation hands out tasks whose times are drawn from those measured: the scheduler takes its time for each, one
after another, to whichever worker is free first, which then is busy for the way there and back and the time of the
task. It assumes machines like this one, a network as quick as this machine's own, and tasks enough for all.
"""

from __future__ import annotations

import argparse
import heapq
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
from shapely.geometry import Polygon, box

from nesting.engine import FREE, Container, Item, Problem, Shape, Stop, solve, warm_up
from nesting.workers import Cluster, Crew

COUNTS = (1, 2, 3, 10, 30, 100, 300, 1000)
EMPTY = 400


class Measured(NamedTuple):
    """Tasks a minute, and the seconds of each."""

    a_minute: float
    seconds: list[float]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tasks", type=int, default=24)
    parser.add_argument("--iterations", type=int, default=12)
    parser.add_argument("--to", type=Path)
    options = parser.parse_args()
    warm_up()
    found, handing_s, way_s = {}, 0.0, 0.0
    for workers in (1, 2):
        found[workers], handing_s, way_s = measured(workers, options.tasks, options.iterations)
        print(f"{workers} workers: {found[workers].a_minute:.1f} searches a minute, measured", flush=True)
    times = np.array(found[1].seconds)
    print(f"a search takes {times.mean():.2f} s ({times.min():.2f} to {times.max():.2f})")
    print(f"a task is handed out in {1e3 * handing_s:.1f} ms, and is there and back in {1e3 * way_s:.1f} ms")
    rates = {workers: simulated(times, workers, handing_s, way_s) for workers in COUNTS}
    for workers, rate in rates.items():
        print(f"{workers:5} workers: {rate:.0f} searches a minute, simulated: {rate / rates[1]:.0f} times one")
    if options.to:
        plot(found, rates, options.to)


def measured(workers: int, tasks: int, iterations: int) -> tuple[Measured, float, float]:
    """Tasks done by so many workers of a cluster of this machine; also how long handing one out takes, and the way."""
    from distributed import LocalCluster

    with (
        LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as local,
        Cluster(local.scheduler_address) as cluster,
        Crew(panel(), cluster) as crew,
    ):
        # kernels are loaded first
        crew.each(search, [(seed, 1) for seed in range(2 * workers)])
        began = time.monotonic()
        seconds = crew.each(search, [(seed, iterations) for seed in range(tasks)])
        took = time.monotonic() - began
        ways = []
        for _ in range(10):
            begun = time.monotonic()
            crew.each(nothing, [()])
            ways.append(time.monotonic() - begun)
        begun = time.monotonic()
        crew.each(nothing, [()] * EMPTY)
        handing = (time.monotonic() - begun) / EMPTY
    return Measured(60.0 * tasks / took, seconds), handing, float(np.median(ways))


def panel() -> Problem:
    """A panel with more straps and cards wanted than it holds."""
    shapes = (Shape(Polygon([(0, 0), (110, 0), (110, 70), (60, 82), (0, 70)]), angles=FREE), Shape(box(0, 0, 220, 24)))
    return Problem((Container(box(0, 0, 590, 390)),), shapes, (Item(0),) * 22 + (Item(1),) * 12)


def search(problem: Problem, seed: int, iterations: int) -> float:
    """Seconds that a search of so many iterations takes."""
    began = time.monotonic()
    solve(problem, Stop(iterations=iterations), seed)
    return time.monotonic() - began


def nothing(problem: Problem) -> None:
    """A task that takes no time."""


def simulated(times: np.ndarray, workers: int, handing_s: float, way_s: float) -> float:
    """Tasks a minute of so many workers, over fifty tasks for each."""
    random = np.random.default_rng(0)
    free, given = [0.0] * workers, 0.0
    count = 50 * workers
    for seconds in random.choice(times, count):
        given = max(given + handing_s, heapq.heappop(free))
        heapq.heappush(free, given + way_s + float(seconds))
    return 60.0 * count / max(free)


def plot(found: dict[int, Measured], rates: dict[int, float], to: Path) -> None:
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(figsize=(6, 4), layout="constrained")
    counts = list(rates)
    axes.loglog(counts, list(rates.values()), "-", color="#0072B2", label="simulated from the times measured")
    axes.loglog(counts, [rates[1] * count for count in counts], "--", color="0.6", label="in proportion")
    axes.loglog(list(found), [one.a_minute for one in found.values()], "o", color="#D55E00", label="measured")
    axes.set(xlabel="workers", ylabel="searches a minute")
    axes.legend()
    figure.savefig(to, dpi=120)


if __name__ == "__main__":
    main()
