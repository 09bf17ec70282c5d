"""In which order lines are burnt: by operation, and within one with little travel."""

from __future__ import annotations

import numpy as np
from shapely.geometry import LineString

from ..model import OPERATIONS

PASSES = 30
WINDOW = 60


def burning_order(lines: dict[str, list[LineString]], start=(0.0, 0.0)) -> dict[str, list[int]]:
    """Order the lines of each operation so that the head travels little.

    Engraving comes first, then stitch holes and cutouts, outlines last, because a freed piece lifts and curls (common
    practice, no published source). Within an operation: nearest neighbour, then 2-opt.

    Parameters
    ----------
    lines : dict of list of LineString
        Lines by operation.
    start : (x, y)
        Where the head waits, mm.

    Returns
    -------
    dict of list of int
        By operation in burning order, the indices of its lines.
    """
    order, head = {}, np.array(start, float)
    for operation in OPERATIONS:
        ends = _ends(lines.get(operation, []))
        order[operation] = _two_opt(_nearest(ends, head), ends, head)
        if order[operation]:
            head = ends[order[operation][-1], 1]
    return order


def travel_mm(lines: list[LineString], order: list[int], start=(0.0, 0.0)) -> float:
    """Length of the moves between lines burnt in an order, from ``start``."""
    ends = _ends(lines)
    spots = np.vstack([[start], ends[order, 1][:-1]]) if len(order) else np.zeros((0, 2))
    return float(np.hypot(*(ends[order, 0] - spots).T).sum()) if len(order) else 0.0


def _ends(lines: list[LineString]) -> np.ndarray:
    """First and last point of every line, (n, 2, 2)."""
    return np.array([[line.coords[0][:2], line.coords[-1][:2]] for line in lines]).reshape(-1, 2, 2)


def _nearest(ends: np.ndarray, head: np.ndarray) -> list[int]:
    left, order = np.ones(len(ends), bool), []
    for _ in range(len(ends)):
        distance = np.where(left, np.hypot(*(ends[:, 0] - head).T), np.inf)
        pick = int(np.argmin(distance))
        order.append(pick)
        left[pick] = False
        head = ends[pick, 1]
    return order


def _two_opt(order: list[int], ends: np.ndarray, head: np.ndarray) -> list[int]:
    """Turn round stretches of the tour while that shortens it; lines keep their own direction."""
    order = np.array(order, int)
    if len(order) < 3:
        return order.tolist()

    def length(stretch, before, after):
        spots = np.vstack([before, ends[stretch, 1]])
        goals = ends[stretch, 0] if after is None else np.vstack([ends[stretch, 0], after])
        return np.hypot(*(goals - spots[: len(goals)]).T).sum()

    for _ in range(PASSES):
        better = False
        for i in range(len(order) - 1):
            before = head if i == 0 else ends[order[i - 1], 1]
            for j in range(i + 1, min(i + WINDOW, len(order))):
                after = None if j + 1 == len(order) else ends[order[j + 1], 0]
                # a quick look at the two moves that change, before the whole stretch is measured
                gain = np.hypot(*(ends[order[i], 0] - before)) - np.hypot(*(ends[order[j], 0] - before))
                if after is not None:
                    gain += np.hypot(*(after - ends[order[j], 1])) - np.hypot(*(after - ends[order[i], 1]))
                if gain > 1e-9:
                    stretch = order[i : j + 1]
                    if length(stretch[::-1], before, after) < length(stretch, before, after) - 1e-9:
                        order[i : j + 1] = stretch[::-1]
                        better = True
        if not better:
            break
    return order.tolist()
