"""What of a trace is in doubt: areas of the hide that somebody settles by looking, each with what it costs."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import shapely
from shapely.geometry import LineString, Point, Polygon

from ..geometry import areal, largest_polygon
from ..leather.regions import gains
from ..model import Answer, Doubt, Hide, StatedError
from .arrays import Floats, Places
from .doubt import Judgement
from .edge import Edge, shifting
from .hints import Told
from .limits import METHOD, TraceLimits
from .slits import begins_at_edge

DOUBT = METHOD.doubt
ToMm: TypeAlias = Callable[[Floats], Places]

SLIT, HOLE, SPECK, SIDE, NECK, END, FAINT, UNDER = (
    "slit or mark",
    "hole or stain",
    "hole or mark",
    "leather or floor",
    "narrow neck",
    "point or bay",
    "faint edge",
    "under a sheet",
)
SETTLES = {
    SLIT: "look whether it is a slit (cut) or only a mark, such as a wrinkle or a scar (correct)",
    HOLE: "look whether it is a hole (correct) or only a stain (leather)",
    SPECK: "look whether it is a hole (cut) or only a mark or dirt (correct)",
    SIDE: "look whether it is leather (leather) or floor (floor)",
    NECK: "look whether what hangs on there is leather (leather), or dirt, a shadow or a slit (floor)",
    END: "look whether it ends where it is drawn (correct), or take it off (floor)",
    UNDER: "a sheet lies on the leather or touches it: lay it 20 mm beside, and take the photo again",
    FAINT: "leather and floor look alike along here: look whether the line is right (correct), or take it off (floor)",
}
"""What to look for, by kind; in brackets the answer that says so."""


@dataclass(frozen=True)
class _Found:
    """A doubt in pixels of the photo."""

    kind: str
    size_mm: float
    pixel: tuple[float, float]
    area: Polygon


def find_doubts(
    edge: Edge,
    sure: Judgement,
    to_mm: ToMm,
    pixel_mm: float,
    told: Told,
    limits: TraceLimits,
    error: StatedError,
    covered: Sequence[Polygon] = (),
) -> tuple[list[Doubt], list[Polygon]]:
    """The doubts of a trace that nobody settled yet, in mm, those that cost most leather first, numbered from 1; and
    what somebody said is floor.

    Parameters
    ----------
    edge : Edge
    sure : Judgement
    to_mm : callable
        From (n, 2) pixels of the photo to mm.
    pixel_mm : float
        Of a pixel along the outline.
    told : Told
    limits : TraceLimits
        What is not put up with is in doubt.
    error : StatedError
        Of the outline, in the same mm; what is in doubt may lie so far off too.
    covered : sequence of Polygon
        What references cover of the leather, in pixels.
    """
    share = limits.helped_share if told.where else 1.0
    outline = shapely.transform(edge.outline, to_mm)
    outer = Polygon(outline.exterior)
    merged: list[_Found] = []
    under = (_Found(UNDER, math.sqrt(area.area) * pixel_mm, _pixel(area.centroid.coords[0]), area) for area in covered)
    for one in (*under, *_found(edge, sure, to_mm, pixel_mm, share, limits)):
        for number, other in enumerate(merged):
            if one.area.intersection(other.area).area > DOUBT.same_share * min(one.area.area, other.area.area):
                both = largest_polygon(areal(other.area.union(one.area))) or other.area
                larger = max(one, other, key=lambda doubt: doubt.area.area)
                merged[number] = replace(larger, area=both, size_mm=max(one.size_mm, other.size_mm))
                break
        else:
            merged.append(one)
    doubts: list[Doubt] = []
    floors: list[Polygon] = []
    for one in merged:
        area = largest_polygon(areal(shapely.transform(one.area.simplify(DOUBT.plain_pixels), to_mm)))
        if area is None or not area.intersects(outer) or _pointed_at(told.correct, one):
            continue
        if _pointed_at(told.floor, one):
            floors.append(area)
            continue
        off = float(error.at(shapely.get_coordinates(area.representative_point()))[0])
        around = area.buffer(off, quad_segs=4)
        doubts.append(Doubt(around, one.kind, one.size_mm, SETTLES[one.kind], len(doubts) + 1, one.pixel))
    won = gains(Hide("traced", outer, error=error, doubts=tuple(doubts)))
    # what the stated error keeps out in any case need not be looked at
    doubts = sorted((one for one in doubts if won[one.number] > 0), key=lambda one: -won[one.number])
    return [replace(doubt, number=number) for number, doubt in enumerate(doubts, start=1)], floors


def _pointed_at(pixels: Floats, it: _Found) -> bool:
    """Whether somebody pointed at a doubt: into it, or at about the place that stands for it."""
    if not len(pixels):
        return False
    points = shapely.points(pixels)
    close = shapely.dwithin(points, Point(it.pixel), METHOD.edge.around_pixels)
    return bool((close | shapely.intersects(it.area, points)).any())


def numbered(doubts: Sequence[Doubt], before: Sequence[Doubt], answers: Sequence[Answer]) -> tuple[Doubt, ...]:
    """Doubts with the numbers that their places had before; others get numbers that no place ever had."""
    reach = METHOD.edge.around_pixels
    taken = max([0, *(one.number for one in before), *(one.number for one in answers)])
    free = {one.number: one.pixel for one in before if one.number and one.pixel is not None}
    named = []
    for doubt in doubts:
        number = next((n for n, pixel in free.items() if math.dist(pixel, doubt.pixel or (0, 0)) < reach), 0)
        free.pop(number, None)
        if not number:
            taken += 1
            number = taken
        named.append(replace(doubt, number=number))
    return tuple(named)


def meant(answer: str, kind: str) -> str:
    """What an answer says of a doubt of a kind: only a slit is cut along its line, and only a hole becomes leather."""
    if kind == SLIT:
        return {"floor": "cut", "leather": "correct"}.get(answer, answer)
    if kind == HOLE:
        return {"floor": "correct", "cut": "correct"}.get(answer, answer)
    return {"cut": "floor", "leather": "correct"}.get(answer, answer)


def without_specks(outline: Polygon, smallest_mm: float) -> Polygon:
    """An outline less its holes that are smaller than a circle so wide: they may be dirt, and are in doubt instead."""
    least = math.pi / 4 * smallest_mm**2
    return Polygon(outline.exterior, [hole for hole in outline.interiors if Polygon(hole).area >= least])


def without_floors(outline: Polygon, floors: Sequence[Polygon]) -> Polygon:
    """An outline less what somebody said is floor."""
    return largest_polygon(areal(outline.difference(shapely.union_all(floors)))) or outline


def _found(
    edge: Edge, sure: Judgement, to_mm: ToMm, pixel_mm: float, share: float, limits: TraceLimits
) -> Iterator[_Found]:
    """Doubts of all kinds, in pixels; what a person tells most easily first."""
    for long, line in asked_lines(edge, to_mm, pixel_mm, limits):
        yield _Found(SLIT, long, _pixel(line.coords[-1]), _opened(line, edge.outline, pixel_mm))
    holes = [*map(Polygon, edge.outline.interiors)]
    for hole in holes:
        wide = 2 * math.sqrt(hole.area / math.pi) * pixel_mm
        if wide < limits.smallest_hole_mm:
            middle = hole.representative_point().coords[0]
            yield _Found(SPECK, wide, _pixel(middle), Polygon(hole.exterior).buffer(DOUBT.grown_pixels))
    for area in sure.lost:
        wide = 2 * math.sqrt(area.area / math.pi) * pixel_mm
        yield _Found(SPECK, wide, _pixel(area.representative_point().coords[0]), area)
    for wide, place in sure.unsure:
        hole = min(holes, key=Point(place).distance)
        yield _Found(HOLE, wide, _pixel(place), Polygon(hole.exterior).buffer(DOUBT.grown_pixels))
    for (reach, place), area in zip(sure.deep, sure.deep_areas):
        if reach > limits.deepest_mm * DOUBT.in_doubt_share / share:
            yield _Found(SIDE, reach, _pixel(place), area)
    for (reach, place), area in zip(sure.pinched, sure.pinched_areas):
        if reach > limits.pinched_mm * DOUBT.in_doubt_share / share:
            yield _Found(NECK, reach, _pixel(place), area)
    if sure.astray > limits.astray_share / share:
        for area in sure.stray:
            if area.area > DOUBT.stray_mm2 / pixel_mm**2:
                wide = 2 * math.sqrt(area.area / math.pi) * pixel_mm
                yield _Found(SIDE, wide, _pixel(area.representative_point().coords[0]), area)
    least_mm = max(limits.unsteady_mm, limits.unsteady_pixels * pixel_mm) * DOUBT.in_doubt_share / share
    for moved, place, area in shifting(edge, pixel_mm, least_mm):
        yield _Found(END, moved, place, area)
    for area in sure.faint if share == 1 else ():
        x0, y0, x1, y1 = area.bounds
        yield _Found(FAINT, max(x1 - x0, y1 - y0) * pixel_mm, _pixel(area.representative_point().coords[0]), area)


def asked_lines(edge: Edge, to_mm: ToMm, pixel_mm: float, limits: TraceLimits) -> Iterable[tuple[float, LineString]]:
    """Lines that might be slits and are long enough to be asked about, and how long they are, mm; longest first."""
    asked = []
    for line in edge.lines:
        long, least = shapely.transform(line, to_mm).length, limits.inner_slit_times * limits.slit_mm
        if begins_at_edge(line, edge.outline):
            long, least = long + METHOD.slits.shallow_pixels * pixel_mm, limits.slit_mm
        if long > least:
            asked.append((long, line))
    return sorted(asked, key=lambda one: (-one[0], one[1].coords[-1]))


def _opened(line: LineString, outline: Polygon, pixel_mm: float) -> Polygon:
    """What a slit along a line would take, from the edge on where it begins there."""
    if begins_at_edge(line, outline):
        mouth = shapely.shortest_line(outline.exterior, Point(line.coords[0])).coords[0]
        line = LineString([mouth, *line.coords])
    wide = METHOD.slits.wide_pixels / 2 + max(DOUBT.grown_pixels, DOUBT.beside_slit_mm / pixel_mm)
    return line.buffer(wide)


def _pixel(place: Sequence[float]) -> tuple[float, float]:
    return float(place[0]), float(place[1])
