"""A part of a drawing, put together of the shapes that are in it; what cannot be cut so is refused."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from ..errors import Faults, FileError, ModelError
from ..geometry import polygons
from ..model import Curve, Curves, Part, Zone
from .asked import is_asked
from .drawn import LEFT
from .labels import HOW_TO_LABEL, IGNORED, KINDS, Item
from .limits import DEFAULT
from .rings import crossing
from .source import printable
from .svg_curves import Line
from .svg_units import Fault

_WHERE = "(places are in mm from the lower left of the page)"
_UNITS = (
    "usually wrong units: give an SVG's width and height in mm and its viewBox the same numbers, and say the --units "
    "of a DXF"
)


def part_of(
    path: Path, name: str, items: Sequence[Item], tolerance_mm: float
) -> tuple[Part, list[tuple[str, Curve, int | None]]]:
    """A part, and the lines in it that are asked about: their colours, and which cutouts they are taken for."""
    by_kind: dict[str, list[Item]] = {kind: [] for kind in (*KINDS, LEFT)}
    faults = Faults()
    for item in items:
        with faults.gathered(), _within(path, name, item):
            _check_item(item)
            by_kind[item.kind].append(item)
    for second in by_kind["outline"][1:]:
        with faults.gathered(), _within(path, name, second):
            raise Fault(
                "a second outline", "keep one in each part's group, label holes cutout, and give each part a group"
            )
    if not by_kind["outline"]:
        faults.tell()
    first = by_kind["outline"][0]
    try:
        with _within(path, name, first):
            outline, edge, inner = _outline(first)
    except FileError as error:
        faults.found.append(error)
        faults.tell()
        raise
    holes = [(first, hole) for hole, _ in inner]
    edges = [curve for _, curve in inner]
    asked: list[tuple[str, Curve, int | None]] = []
    for item in by_kind["cutout"]:
        for line in item.drawn.lines:
            with faults.gathered(), _within(path, name, item):
                holes.append((item, _ring(line)))
                edges.append(_edge(line))
                if is_asked(item, first):
                    asked.append((item.drawn.colour, edges[-1], len(edges) - 1))
    for item in by_kind[LEFT]:
        if is_asked(item, first):
            asked += [(item.drawn.colour, _edge(line), None) for line in item.drawn.lines]
    for item, hole in holes:
        with faults.gathered(), _within(path, name, item):
            _check_inside(hole, outline)
    if (copy := _overlapping([hole for _, hole in holes])) is not None:
        with faults.gathered(), _within(path, name, holes[copy][0]):
            spot = _at(holes[copy][1].exterior.coords[0])
            raise Fault(f"overlaps another cutout at {spot}", f"draw the two as one, or delete the copy {_WHERE}")
    reach = outline.buffer(tolerance_mm + DEFAULT.same_mm)
    shapely.prepare(reach)
    lines: dict[str, list[LineString]] = {"stitch": [], "engrave": []}
    for kind, found in lines.items():
        for item in by_kind[kind]:
            for line in item.drawn.lines:
                with faults.gathered(), _within(path, name, item):
                    inside = _line_inside(line, reach)
                    # layout files give stitch lines back from their drawing, by these chords
                    found.append(line.curve.flattened(DEFAULT.chord_mm) if kind == "stitch" else inside)
    hows = [item.how for item in by_kind["engrave"] for _ in item.drawn.lines]
    zones: list[Zone] = []
    folds: list[LineString] = []
    for item in by_kind["zone"]:
        with faults.gathered(), _within(path, name, item):
            zones += _zones(item, outline)
    for item in by_kind["fold"]:
        with faults.gathered(), _within(path, name, item):
            folds += _folds(item, outline)
    faults.tell()
    stitch, engrave = (tuple(line.curve for item in by_kind[kind] for line in item.drawn.lines) for kind in lines)
    try:
        part = Part(
            name,
            outline,
            cutouts=tuple(hole for _, hole in holes),
            stitch=tuple(lines["stitch"]),
            engrave=tuple(lines["engrave"]),
            engrave_how=tuple(hows) if any(hows) else (),
            zones=tuple(zones),
            folds=tuple(folds),
            curves=Curves(edge, tuple(edges), stitch, engrave),
        )
    except ModelError as error:
        raise FileError(path, f"part {name}", error.value, error.mend) from None
    return part, asked


@contextmanager
def _within(path: Path, name: str, item: Item) -> Iterator[None]:
    """Say of a fault which part and shape it is about."""
    try:
        yield
    except Fault as fault:
        raise FileError(path, f"part {name} > {item.words}", printable(str(fault.value)), fault.mend) from None


def _check_item(item: Item) -> None:
    if item.drawn.fault:
        raise item.drawn.fault
    if not item.kind:
        near = difflib.get_close_matches(item.words.lower(), KINDS, 1, DEFAULT.near_label)
        hint = f"did you mean {near[0]}? " if near else ""
        raise Fault("unknown label", f"{hint}{HOW_TO_LABEL}, or {' or '.join(IGNORED)} to leave it out")
    if not item.drawn.lines:
        raise Fault("draws nothing", "delete it, or draw it again")
    if item.how == "fill" and (line := next((line for line in item.drawn.lines if not line.closed), None)):
        raise Fault(
            f"open at {_at(line.points[0])}: it cannot be filled", f"close the path, or label it engrave line {_WHERE}"
        )


def _outline(item: Item) -> tuple[Polygon, Curve, list[tuple[Polygon, Curve]]]:
    """The outer edge and its exact line, and those of the inner subpaths of a compound path."""
    width, height = np.ptp(np.concatenate([line.points for line in item.drawn.lines]), axis=0)
    if max(width, height) < DEFAULT.least_part_mm:
        raise Fault(f"{width:.4g} x {height:.4g} mm, smaller than {DEFAULT.least_part_mm:g} mm", _UNITS)
    if max(width, height) > DEFAULT.greatest_part_mm:
        raise Fault(f"{width:.4g} x {height:.4g} mm, bigger than {DEFAULT.greatest_part_mm / 1000:g} m", _UNITS)
    found = ((_ring(line), _edge(line)) for line in item.drawn.lines)
    (outer, edge), *inner = sorted(found, key=lambda pair: -pair[0].area)
    for ring, _ in inner:
        if not outer.intersects(ring):
            mend = f"keep one outline in each part's group, and give each part a group {_WHERE}"
            raise Fault(f"a second outline beside it at {_at(ring.exterior.coords[0])}", mend)
    return outer, edge, inner


def _edge(line: Line) -> Curve:
    """The exact line around the area of `_ring`."""
    return line.curve if line.closed else Curve(line.curve.nodes[:-1], True)


def _ring(line: Line) -> Polygon:
    """The area a line encloses; ends that nearly meet are joined."""
    points = line.points
    if not line.closed and len(points) > 2:
        gap = math.dist(points[0], points[-1])
        if gap > DEFAULT.closing_mm:
            value = f"open: {gap:.3g} mm from {_at(points[0])} to {_at(points[-1])}"
            raise Fault(value, f"join the ends or close the path {_WHERE}")
        points = points[:-1]
    if len(points) < 3:
        value = f"a line at {_at(points[0])} that encloses nothing"
        raise Fault(value, f"draw a closed shape, or delete the stray line {_WHERE}")
    ring = Polygon(points)
    if not ring.is_valid or ring.area <= 0:
        spot = _at(crossing(ring) or points[0])
        mend = f"redraw it so that it does not cross or touch itself {_WHERE}"
        raise Fault(f"crosses or touches itself at {spot}", mend)
    return ring


def _check_inside(hole: Polygon, outline: Polygon) -> None:
    shapely.prepare(outline)
    if not outline.contains_properly(hole):
        value = f"touches or leaves the outline at {_at(_farthest(hole, outline))}"
        raise Fault(value, f"move it inside; a notch in the edge belongs to the outline {_WHERE}")


def _overlapping(holes: Sequence[Polygon]) -> int | None:
    """The first cutout that overlaps one before it."""
    if len(holes) < 2:
        return None
    pairs = shapely.STRtree(holes).query(holes, predicate="intersects").T
    later = sorted((int(max(pair)), int(min(pair))) for pair in pairs if pair[0] < pair[1])
    return next((b for b, a in later if holes[a].intersection(holes[b]).area > DEFAULT.same_mm), None)


def _line_inside(line: Line, reach: Polygon) -> LineString:
    """A stitch or engrave line. It may reach the edge as drawn, which the chords of the edge miss by the tolerance."""
    if len(line.points) < 2:
        raise Fault(f"a dot at {_at(line.points[0])}", f"draw a line or a small circle, or delete it {_WHERE}")
    drawn = LineString(np.vstack([line.points, line.points[:1]]) if line.closed else line.points)
    if not reach.covers(drawn):
        raise Fault(f"leaves the outline at {_at(_farthest(drawn, reach))}", f"move it inside the outline {_WHERE}")
    return drawn


def _zones(item: Item, outline: Polygon) -> list[Zone]:
    """A zone, cut off at the outline since one along an edge is easiest drawn over it."""
    if len(item.drawn.lines) > 1:
        raise Fault("several lines in one path", "draw each zone as a path of its own, without holes")
    area = _ring(item.drawn.lines[0])
    areas = polygons(outline.intersection(area), DEFAULT.same_mm)
    if not areas:
        raise Fault(f"outside the outline at {_at(area.exterior.coords[0])}", f"move it onto the part {_WHERE}")
    return [Zone(shape, item.grade) for shape in areas]


def _folds(item: Item, outline: Polygon) -> list[LineString]:
    """Fold lines, cut off at the outline since they are easiest drawn beyond it."""
    found: list[LineString] = []
    for line in item.drawn.lines:
        if len(line.points) < 2:
            raise Fault(f"a dot at {_at(line.points[0])}", f"draw a line, or delete it {_WHERE}")
        drawn = LineString(np.vstack([line.points, line.points[:1]]) if line.closed else line.points)
        parts = shapely.get_parts(drawn.intersection(outline))
        kept = [part for part in parts if isinstance(part, LineString) and part.length > DEFAULT.same_mm]
        if not kept:
            raise Fault(f"outside the outline at {_at(line.points[0])}", f"move it onto the part {_WHERE}")
        found += kept
    return found


def _farthest(shape: Polygon | LineString, area: Polygon) -> tuple[float, float]:
    """The corner of a shape that lies farthest outside an area, or nearest to its edge when none does."""
    corners = shapely.get_coordinates(shape)
    points = shapely.points(corners)
    outside = shapely.distance(points, area)
    worst = np.argmax(outside) if outside.any() else np.argmin(shapely.distance(points, area.exterior))
    x, y = corners[worst]
    return float(x), float(y)


def _at(point: Sequence[float]) -> str:
    return f"({point[0]:.1f}, {point[1]:.1f})"
