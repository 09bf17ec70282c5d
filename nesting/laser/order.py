"""In which order lines are burnt: by operation, inner before outer, and within that with little travel."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString

from ..model import OPERATIONS
from .entry import rings_among
from .limits import DEFAULT, LaserLimits
from .tour import apart, short_tour

STEPS = ("fill", *OPERATIONS)
"""Filled engraving comes before engraved lines, so that the head goes over from rows to lines once."""


@dataclass(frozen=True)
class HeatSpread:
    """What is needed to keep neighbours from being burnt straight after each other.

    ``owners`` gives the part of every line by step, as an index; ``near`` the parts that are neighbours of each.
    """

    owners: Mapping[str, Sequence[int]]
    near: Mapping[int, frozenset[int]]


def burning_order(
    lines: Mapping[str, Sequence[LineString]],
    start: tuple[float, float] = (0.0, 0.0),
    spread: HeatSpread | None = None,
    limits: LaserLimits = DEFAULT,
    fixed: Mapping[str, Collection[int]] | None = None,
) -> dict[str, list[tuple[int, LineString]]]:
    """Order the lines of each operation so that the head travels little.

    Engraving comes first, then stitch holes and cutouts, outlines last, because a freed part lifts and curls (common
    practice, no published source). Within an operation what lies inside a closed line is burnt before it. Within that:
    nearest neighbour, 2-opt and Or-opt (see `tour.short_tour`). An open line may be burnt backwards, and a closed one
    is begun away from its corners.

    Parameters
    ----------
    lines : mapping of str to sequence of LineString
        Lines by step (see `STEPS`), mm.
    start : (x, y)
        Where the head waits, mm.
    spread : HeatSpread, optional
        Burn part by part, and after each part one that is not its neighbour as long as there is one: the heat spreads,
        the head travels further.
    limits : LaserLimits, optional
    fixed : mapping of str to collection of int, optional
        By step, the closed lines that are begun where they are given.

    Returns
    -------
    dict of str to list of (int, LineString)
        For every step, in burning order: each line's index among those given, and the line as it is burnt.
    """
    ordered: dict[str, list[tuple[int, LineString]]] = {}
    head, last = (float(start[0]), float(start[1])), None
    for operation in STEPS:
        given = lines.get(operation, ())
        ordered[operation] = []
        for layer in _layers(given):
            groups = [layer]
            if spread is not None:
                groups, last = _apart(layer, spread.owners[operation], spread.near, last)
            for group in groups:
                kept = [k for k, index in enumerate(group) if index in (fixed or {}).get(operation, ())]
                burnt = short_tour([given[index] for index in group], head, limits, kept)
                ordered[operation] += [(group[k], line) for k, line in burnt]
                x, y = burnt[-1][1].coords[-1][:2]
                head = x, y
    return ordered


def travel_mm(lines: Iterable[LineString], start: tuple[float, float] = (0.0, 0.0)) -> list[float]:
    """Length of the move that leads to each line when they are burnt as given, from ``start``, mm."""
    them = np.array(list(lines), object)
    first, last = (shapely.get_coordinates(shapely.get_point(them, end)) for end in (0, -1))
    moves: list[float] = apart(first, np.vstack([[start], last])[: len(them)]).tolist()
    return moves


def _layers(lines: Sequence[LineString]) -> list[list[int]]:
    """Indices of lines, those inside the most closed lines first."""
    them, depth = np.array(lines, object), np.zeros(len(lines), int)
    closed = np.flatnonzero(rings_among(lines))
    if closed.size:
        points, owner = shapely.get_coordinates(them[closed], return_index=True)
        areas = np.array(shapely.polygons(shapely.linearrings(points, indices=owner)), object)
        inner, ring = shapely.STRtree(list(areas)).query(shapely.get_point(them, 0), predicate="within")
        others = closed[ring] != inner
        inner, around = inner[others], areas[ring[others]]
        np.add.at(depth, inner, shapely.is_valid(around) & shapely.covers(around, them[inner]))
    return [np.flatnonzero(depth == level).tolist() for level in sorted(set(depth.tolist()), reverse=True)]


def _apart(
    layer: list[int], owners: Sequence[int], near: Mapping[int, frozenset[int]], last: int | None
) -> tuple[list[list[int]], int | None]:
    """The lines of a layer part by part, no part straight after a neighbour if it can be helped; and the last part."""
    of_part: dict[int, list[int]] = {}
    for index in layer:
        of_part.setdefault(owners[index], []).append(index)
    left, sequence = list(of_part), []
    while left:
        free = [part for part in left if last is None or part not in near.get(last, ())] or left
        # One that neighbours most of what is left grows hard to place later; else as the parts come.
        part = max(free, key=lambda part: (sum(other in near.get(part, ()) for other in left), -left.index(part)))
        left.remove(part)
        sequence.append(part)
        last = part
    return [of_part[part] for part in sequence], last
