"""Knife lines of up to three straight strokes that follow the front of parts."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from ..geometry import Floats
from .limits import DEFAULT, PlanLimits


def strokes(
    straight: LineString,
    parts: Sequence[Polygon],
    towards_deg: float,
    clear_mm: float,
    least_mm: float,
    most: int,
    limits: PlanLimits = DEFAULT,
) -> LineString | None:
    """The line of up to three strokes that leaves the least leather before it, and yet keeps clear of parts.

    Parameters
    ----------
    straight : LineString
        The straight line square to the direction, which keeps clear of the parts and lies beyond them; what is found
        ends where it does, and nowhere beyond it.
    parts : sequence of Polygon
    towards_deg : float
        The direction of the side that the leather won lies on.
    clear_mm : float
        Distance to keep from the parts.
    least_mm : float
        How far along the direction the line lies at the least, from the origin.
    most : int
        Strokes at the most.
    limits : PlanLimits, optional

    Returns
    -------
    LineString or None
        None where a straight line is as good: for each stroke more so much leather must be won that it is worth the
        cutting (``limits.stroke_gain_mm2``).

    Notes
    -----
    The strokes are found by dynamic programming over columns across the line and some heights, and then each of their
    ends is moved back as far as the others let it, in turns.
    """
    angle = math.radians(towards_deg)
    axes = np.array([[-math.sin(angle), math.cos(angle)], [math.cos(angle), math.sin(angle)]])
    (left, top), (right, _) = shapely.get_coordinates(straight) @ axes.T
    grown = [part.buffer(clear_mm + limits.stroke_slack_mm) for part in parts]
    columns, samples = limits.stroke_columns, limits.stroke_columns * limits.stroke_samples
    at = np.linspace(left, right, samples + 1)
    front = _front(grown, axes, at)
    bottom = max(least_mm, top - limits.stroke_depth_mm)
    if most == 1 or top - bottom <= limits.least_gain_mm:
        return None
    heights = np.linspace(bottom, top, limits.stroke_heights)
    nodes = at[:: limits.stroke_samples]
    needed = np.minimum(front, top)
    cost = _costs(nodes, heights, needed, limits.stroke_samples)
    best: tuple[float, tuple[tuple[int, int], ...]] = (top * (right - left), ())
    # the best way to come to each column at each height, with so many strokes
    reached = np.full((columns + 1, len(heights)), math.inf)
    reached[0], paths = 0.0, [np.full((*reached.shape, 2), -1)]
    for count in range(1, most + 1):
        came, steps = np.full_like(reached, math.inf), np.full((*reached.shape, 2), -1)
        for start, end in itertools.combinations(range(columns + 1), 2):
            sums = reached[start][:, None] + cost[start, end]
            lowest = np.argmin(sums, axis=0)
            total = sums[lowest, np.arange(len(heights))]
            better = total < came[end]
            came[end, better], steps[end, better, 0], steps[end, better, 1] = total[better], start, lowest[better]
        paths.append(steps)
        reached = came
        ends = int(np.argmin(came[columns]))
        total = float(came[columns, ends]) + (count - 1) * limits.stroke_gain_mm2
        if total < best[0] - limits.stroke_gain_mm2:
            chain = [(columns, ends)]
            for level in range(count, 0, -1):
                column, height = chain[-1]
                chain.append((int(paths[level][column, height, 0]), int(paths[level][column, height, 1])))
            best = (total, tuple(chain[::-1]))
    if not best[1]:
        return None
    where = np.array([column * limits.stroke_samples for column, _ in best[1]])
    found = np.array([heights[height] for _, height in best[1]])
    _lowered(at, needed, where, found, bottom, limits)
    line = LineString(np.column_stack([at[where], found]) @ axes)
    return line if all(line.distance(part) >= clear_mm for part in parts) else None


def _front(grown: Sequence[Polygon], axes: Floats, at: Floats) -> Floats:
    """How far shapes reach along the second axis at each of some places along the first, and half way to the next."""
    front, step = np.full(len(at), -math.inf), float(at[1] - at[0])
    for shape in grown:
        across, along = (shapely.get_coordinates(shapely.segmentize(shape.exterior, step / 4)) @ axes.T).T
        for shift in (-0.75, 0.0, 0.75):
            cells = np.clip(np.round((across - at[0]) / step + shift), 0, len(at) - 1).astype(int)
            np.maximum.at(front, cells, along)
    return front


def _costs(nodes: Floats, heights: Floats, needed: Floats, samples: int) -> dict[tuple[int, int], Floats]:
    """Area below each stroke from one column at a height to another; infinite where it is nearer than needed."""
    cost = {}
    for start, end in itertools.combinations(range(len(nodes)), 2):
        share = np.linspace(0.0, 1.0, samples * (end - start) + 1)
        line = heights[:, None, None] * (1.0 - share) + heights[None, :, None] * share
        holds = (line >= needed[samples * start : samples * end + 1] - 1e-9).all(axis=2)
        area = (heights[:, None] + heights[None, :]) / 2 * (nodes[end] - nodes[start])
        cost[start, end] = np.where(holds, area, math.inf)
    return cost


def _lowered(at: Floats, needed: Floats, where: np.ndarray, found: Floats, bottom: float, limits: PlanLimits) -> None:
    """Move each end of the strokes back as far as the others let it, in turns."""
    for _ in range(limits.stroke_turns):
        for node, column in enumerate(where):
            least = max(bottom, float(needed[column]))
            for other in (node - 1, node + 1):
                if 0 <= other < len(where):
                    between = slice(min(column, where[other]), max(column, where[other]) + 1)
                    share = (at[between] - at[where[other]]) / (at[column] - at[where[other]])
                    far = share > 0.05
                    least = max(least, float(np.max((needed[between] - (1 - share) * found[other])[far] / share[far])))
            found[node] = min(found[node], least)
