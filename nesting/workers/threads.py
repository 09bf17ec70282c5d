"""The cores there are, and threads for work that leaves Python's lock alone."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Task = TypeVar("Task")
Answer = TypeVar("Answer")


def cores() -> int:
    """How many cores this process may use: the number of workers to take when nobody gives another."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def in_threads(work: Callable[[Task], Answer], tasks: Sequence[Task], workers: int | None = None) -> list[Answer]:
    """Answers to the tasks in their order, worked out in threads of this process.

    That is faster than one after another only where the work is done outside Python, as in numpy and OpenCV.

    Parameters
    ----------
    work : callable
        Called with each task.
    tasks : sequence
    workers : int, optional
        Threads; as many as there are cores, by default.
    """
    threads = min(workers or cores(), len(tasks))
    if threads <= 1:
        return [work(task) for task in tasks]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(work, tasks))
