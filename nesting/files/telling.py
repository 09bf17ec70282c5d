"""What lines without labels are, told by what they look like and by the labelled lines around them.

Closed shapes that lie in no other are outlines, those in them cutouts; small equal shapes in rows are stitch holes;
dashed and open lines are fold lines; text is a note. What fits nowhere is left out and said. A person looks at the
result before anything is planned with it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely.geometry import LineString, Polygon

from ..geometry import Floats
from ..model.values import agreed
from .drawn import LEFT, Drawn
from .limits import DEFAULT
from .svg_curves import Line, Piece

CLOSED = ("outline", "cutout")
"""What closed lines in each other are, from the outermost inwards."""


@dataclass(frozen=True)
class Telling:
    """Shapes of one line each with what they are taken for, and what is in doubt, in words."""

    shapes: tuple[tuple[Drawn, str], ...]
    doubts: tuple[str, ...]


@dataclass(eq=False)
class _Shape:
    drawn: Drawn
    line: Line
    area: Polygon | None
    """What it encloses; None of an open line."""
    kind: str = ""
    labelled: bool = False
    """Whether a label says what it is, so that it stands around others and is not told."""


def tell(drawn: Sequence[Drawn], labelled: Sequence[tuple[Drawn, str]] = ()) -> Telling:
    """Tell what shapes without labels are.

    Parameters
    ----------
    drawn : sequence of Drawn
        Those without lines are passed over.
    labelled : sequence of Drawn and str, optional
        Shapes beside them whose labels say what they are.

    Returns
    -------
    Telling
        What of ``drawn`` is what: lines whose ends meet are joined, and copies of a line, labelled ones too, are left
        out.
    """
    doubts: list[str] = []
    lines = [(one, line, kind) for one, kind in labelled for line in one.lines]
    seen = {_key(line) for _, line, _ in lines}
    solid: list[tuple[Drawn, Line]] = []
    dashed: list[tuple[Drawn, Line]] = []
    for one in drawn:
        for line in one.lines:
            (dashed if one.dashed else solid).append((one, line))
    shapes = [_shape(*pair) for pair in _met(joined(_single(solid, doubts, seen)), doubts)]
    folds = [_Shape(*pair, None, "fold") for pair in _single(dashed, doubts, seen)]
    around = [replace(_shape(one, line), kind=kind, labelled=True) for one, line, kind in lines if kind in CLOSED]
    shapes += [shape for shape in around if shape.area is not None]
    for shape in shapes:
        if shape.area is None and _slipped(shape.line):
            gap = math.dist(shape.line.points[0], shape.line.points[-1])
            doubts.append(f"a line is open by {gap:.2g} mm at {_at(shape)}: it is taken as closed by a straight line")
            shape.line = replace(shape.line, closed=True)
            shape.area = _area(shape.line)
        elif shape.area is None and _nearly_closed(shape.line, shapes):
            # taken for what it was meant to be, so that its gap is told where it is read
            shape.area = _area(shape.line)
    _tell_closed(shapes, doubts)
    _tell_rows(shapes, _Inside(shapes))
    _tell_open(shapes, folds, doubts)
    told = [
        (replace(shape.drawn, lines=(shape.line,), fault=None), shape.kind)
        for shape in (*shapes, *folds)
        if shape.kind and not shape.labelled
    ]
    return Telling(tuple(told), tuple(doubts))


def joined(pairs: Sequence[tuple[Drawn, Line]], near_mm: float = DEFAULT.closing_mm) -> list[tuple[Drawn, Line]]:
    """Open lines joined where two ends meet: first those of one colour in the same groups, then all others."""
    whole = [pair for pair in pairs if pair[1].closed]
    by_look: dict[object, list[tuple[Drawn, Line]]] = defaultdict(list)
    for pair in pairs:
        if not pair[1].closed:
            by_look[pair[0].colour, tuple(node.name for node in pair[0].trail[:-1])].append(pair)
    rest: list[tuple[Drawn, Line]] = []
    for alike in by_look.values():
        rest += _joined(alike, near_mm)
    return whole + _joined(rest, near_mm)


def _joined(pairs: Sequence[tuple[Drawn, Line]], near_mm: float) -> list[tuple[Drawn, Line]]:
    opened = [(drawn, line) for drawn, line in pairs if not line.closed]
    done = [(drawn, line) for drawn, line in pairs if line.closed]
    if not opened:
        return done
    ends = np.array([end for _, line in opened for end in (line.points[0], line.points[-1])])
    near = cKDTree(ends).query_ball_point(ends, near_mm)
    pairs_of = {end: sum(others) - end for end, others in enumerate(near) if len(others) == 2}
    meets = {end: other for end, other in pairs_of.items() if pairs_of.get(other) == end}
    left = set(range(len(opened)))
    while left:
        start = min(left)
        # walk back to where the chain begins, or once around
        end = 2 * start
        while end in meets and meets[end] // 2 != start:
            end = meets[end] ^ 1
        chain: list[Line] = []
        first = end // 2
        while True:
            number, backwards = end // 2, end % 2 == 1
            left.discard(number)
            line = opened[number][1]
            chain.append(_backwards(line) if backwards else line)
            following = meets.get(end ^ 1)
            if following is None or following // 2 not in left:
                break
            end = following
        round_again = len(chain) > 1 and meets.get(end ^ 1, -1) // 2 == first
        done.append((opened[first][0], _chained(chain, round_again)))
    return done


def _met(pairs: Sequence[tuple[Drawn, Line]], doubts: list[str]) -> list[tuple[Drawn, Line]]:
    """With lines that end on the middle of others: where open lines go around something together, its edge is one
    closed line, what lies within it stays open, and what sticks out of it is left out."""
    closed = [Polygon(line.points) for _, line in pairs if line.closed and len(line.points) > 2]
    numbers = [n for n, (_, line) in enumerate(pairs) if not line.closed and len(line.points) > 1]
    lines = [LineString(pairs[n][1].points) for n in numbers]
    if len(lines) < 2:
        return list(pairs)
    drawn = shapely.union_all([_reaching(line, [other for other in lines if other is not line]) for line in lines])
    around = shapely.union_all(list(shapely.get_parts(shapely.polygonize([drawn]))))
    gone: set[int] = set()
    found: list[tuple[Drawn, Line]] = []
    for outer in (Polygon(bit.exterior) for bit in shapely.get_parts(around) if isinstance(bit, Polygon)):
        # what open lines make within a closed one are folds that cross
        if any(ring.area > outer.area and ring.intersects(outer) for ring in closed if ring.is_valid):
            continue
        own = [n for n, line in zip(numbers, lines) if line.intersection(outer.buffer(DEFAULT.closing_mm)).length > 0]
        gone.update(own)
        edge = np.asarray(shapely.remove_repeated_points(outer.exterior, DEFAULT.same_mm).coords)[:-1, :2]
        first = pairs[own[0]][0]
        found.append((first, Line(edge, True)))
        meant = outer.buffer(DEFAULT.closing_mm)
        inner = shapely.union_all([lines[numbers.index(n)] for n in own]).difference(
            outer.exterior.buffer(DEFAULT.closing_mm)
        )
        bits = [bit for bit in shapely.get_parts(shapely.line_merge(inner)) if bit.length > DEFAULT.open_slip_mm]
        found += [(first, Line(np.asarray(bit.coords)[:, :2], False)) for bit in bits if meant.covers(bit)]
        x, y = edge[0]
        out = sum(not meant.covers(bit) for bit in bits)
        left = f"; {out} ends that stick out are left out" if out else ""
        doubts.append(f"lines that end on others are taken for one around ({x:.1f}, {y:.1f}){left}")
    return [pair for n, pair in enumerate(pairs) if n not in gone] + found


def _reaching(line: LineString, others: Sequence[LineString]) -> LineString:
    """A line with its ends drawn on to the lines that they nearly reach."""
    points = np.asarray(line.coords)[:, :2]
    tree = shapely.STRtree(list(others))
    ends = []
    for end, way in ((points[0], points[0] - points[1]), (points[-1], points[-1] - points[-2])):
        near = tree.query(shapely.Point(end), predicate="dwithin", distance=DEFAULT.closing_mm)
        # a little beyond, so that the lines are sure to cross
        beyond = end + way / max(float(np.hypot(*way)), 1e-9) * 2 * DEFAULT.closing_mm
        ends.append([beyond] if near.size else [])
    return LineString([*ends[0], *points, *ends[1]])


def _backwards(line: Line) -> Line:
    pieces = line.pieces
    turned: list[Piece] = []
    for before, after in zip(pieces[-2::-1], pieces[:0:-1]):
        follow = before.follow

        def back(places: Floats, follow: object = follow) -> tuple[object, object]:
            points, ways = follow(1 - places)  # type: ignore[operator]
            return points, -ways

        turned.append(Piece(after.start, -before.bulge, back if follow else None))  # type: ignore[arg-type]
    return Line(line.points[::-1], False, (*turned, pieces[0]._replace(bulge=0.0, follow=None)) if pieces else ())


def _chained(chain: Sequence[Line], closed: bool) -> Line:
    points = np.vstack([chain[0].points, *(line.points[1:] for line in chain[1:])])
    pieces = [piece for line in chain for piece in line.pieces[:-1]]
    known = all(line.pieces for line in chain)
    if not closed:
        return Line(points, False, (*pieces, chain[-1].pieces[-1]) if known else ())
    return Line(points[:-1], True, (*pieces, pieces[0]._replace(bulge=0.0, follow=None)) if known else ())


def _single(
    pairs: Sequence[tuple[Drawn, Line]], doubts: list[str], labelled: Collection[object]
) -> list[tuple[Drawn, Line]]:
    """Without lines drawn twice, which would be burnt twice."""
    seen = set(labelled)
    kept: list[tuple[Drawn, Line]] = []
    for drawn, line in pairs:
        key = _key(line)
        if key not in seen:
            kept.append((drawn, line))
        seen.add(key)
    if len(kept) < len(pairs):
        doubts.append(f"{len(pairs) - len(kept)} lines are drawn twice: each is taken once")
    return kept


def _key(line: Line) -> object:
    """What is equal of two copies of a line."""
    points = np.round(line.points, 2) + 0.0
    return line.closed, frozenset(map(tuple, points.tolist()))


def _shape(drawn: Drawn, line: Line) -> _Shape:
    points = line.points
    closed = line.closed or (len(points) > 3 and math.dist(points[0], points[-1]) <= DEFAULT.closing_mm)
    if not closed or len(points) < 3:
        return _Shape(drawn, line, None)
    return _Shape(drawn, line, _area(line))


def _area(line: Line) -> Polygon:
    """What a line goes around, or about that where it crosses itself."""
    area = Polygon(line.points)
    if area.is_valid and area.area > 0:
        return area
    return Polygon(shapely.get_coordinates(area.convex_hull.buffer(0.001)))


def _tell_closed(shapes: Sequence[_Shape], doubts: list[str]) -> None:
    rings = [shape for shape in shapes if shape.area is not None]
    depths = _depths(rings)
    deep = [ring for ring, depth in zip(rings, depths) if depth > 1]
    inner = [ring for ring, depth in zip(rings, depths) if depth == 1]
    frames = [ring for ring, depth in zip(rings, depths) if depth == 0 and _is_frame(ring, inner, deep)]
    if frames:
        doubts.append(f"a frame around everything is left out, at {_at(frames[0])}")
        rings = [ring for ring in rings if ring not in frames]
        depths = _depths(rings)
    for ring, depth in zip(rings, depths):
        if depth < len(CLOSED) and not ring.labelled:
            ring.kind = CLOSED[depth]
    inside = [ring for ring, depth in zip(rings, depths) if depth > 1 and not ring.labelled]
    for ring in inside:
        ring.kind = LEFT
    if inside:
        told = agreed(len(inside), "shape lies in a cutout and is left out", "shapes lie in cutouts and are left out")
        doubts.append(f"{told}, the first at {_at(inside[0])}" if len(inside) > 1 else f"{told}, at {_at(inside[0])}")


def _is_frame(ring: _Shape, inner: Sequence[_Shape], deep: Sequence[_Shape]) -> bool:
    """An upright rectangle around shapes that have shapes in them is no part but the edge of a page; of a part whose
    holes have its own colour, those shapes are something else drawn on it."""
    area = ring.area
    assert area is not None
    if ring.labelled or area.area <= 0.999 * shapely.box(*area.bounds).area:
        return False
    held = [shape.area for shape in deep if shape.area is not None and area.contains(shape.area)]
    within = [(shape.drawn.colour, shape.area) for shape in inner if shape.area and area.contains(shape.area)]
    around = [colour for colour, shape in within if any(map(shape.contains, held))]
    own = ring.drawn.colour
    drawn_on = own not in around and any(colour == own for colour, _ in within)
    return bool(held) and not (own and drawn_on)


def _depths(rings: Sequence[_Shape]) -> list[int]:
    """In how many others each lies."""
    if not rings:
        return []
    areas = [ring.area for ring in rings if ring.area is not None]
    spots = [area.representative_point() for area in areas]
    within, around = shapely.STRtree(areas).query(spots, predicate="within")
    depths = [0] * len(rings)
    for one, other in zip(within.tolist(), around.tolist()):
        if one != other and areas[one].area < areas[other].area:
            depths[one] += 1
    return depths


class _Inside:
    """Which lines lie in an outline, for a part of their length at least."""

    def __init__(self, shapes: Sequence[_Shape]):
        self.outlines = [shape.area for shape in shapes if shape.kind == "outline" and shape.area is not None]
        self.tree = shapely.STRtree(self.outlines)

    def __call__(self, shape: _Shape) -> bool:
        if len(shape.line.points) < 2:
            return False
        line = LineString(shape.line.points)
        near = [self.outlines[index] for index in self.tree.query(line)]
        return any(outline.intersection(line).length > DEFAULT.same_mm for outline in near)


def _tell_rows(shapes: Sequence[_Shape], inside: _Inside) -> None:
    """Small equal shapes or slits side by side in rows are stitch holes."""
    small = [
        shape
        for shape in shapes
        if ((shape.kind == "cutout" and not shape.labelled) or (shape.area is None and inside(shape)))
        and _across(shape) <= DEFAULT.largest_stitch_mm
    ]
    by_size: list[list[_Shape]] = []
    for shape in sorted(small, key=lambda one: (one.area is None, _across(one))):
        last = by_size[-1] if by_size else []
        same = last and (last[0].area is None) == (shape.area is None)
        if same and _across(shape) <= DEFAULT.same_stitch * _across(last[0]):
            last.append(shape)
        else:
            by_size.append([shape])
    for alike in by_size:
        if len(alike) < DEFAULT.least_stitches:
            continue
        middles = np.array([shape.line.points.mean(axis=0) for shape in alike])
        apart = np.asarray(cKDTree(middles).query(middles, 2)[0])[:, 1]
        step = float(np.median(apart))
        if not _across(alike[0]) < step <= DEFAULT.longest_stitch_mm:
            continue
        in_row = [shape for shape, gap in zip(alike, apart) if gap <= DEFAULT.lone_stitch * step]
        if len(in_row) >= DEFAULT.least_stitches:
            for shape in in_row:
                shape.kind = "stitch"


def _tell_open(shapes: Sequence[_Shape], folds: list[_Shape], doubts: list[str]) -> None:
    inside = _Inside(shapes)
    strays: list[_Shape] = []
    for shape in [one for one in shapes if one.area is None and not one.kind and len(one.line.points) > 1]:
        if inside(shape):
            shape.kind = "fold"
        else:
            strays.append(shape)
    for fold in list(folds):
        if not inside(fold):
            strays.append(fold)
            folds.remove(fold)
    if strays:
        told = agreed(
            len(strays), "open line lies in no part and is left out", "open lines lie in no part and are left out"
        )
        doubts.append(f"{told}, the first at {_at(strays[0])}" if len(strays) > 1 else f"{told}, at {_at(strays[0])}")


def _slipped(line: Line) -> bool:
    """Whether the ends of a line are so near each other that they were meant to meet, and it is sound when they do."""
    if len(line.points) < 4:
        return False
    gap = math.dist(line.points[0], line.points[-1])
    return gap <= min(DEFAULT.open_slip_mm, DEFAULT.open_slip_share * _length(line)) and Polygon(line.points).is_valid


def _nearly_closed(line: Line, shapes: Sequence[_Shape]) -> bool:
    """Whether a line was meant to be closed: it goes round other shapes."""
    if len(line.points) < 4:
        return False
    gap, length = math.dist(line.points[0], line.points[-1]), _length(line)
    around = Polygon(line.points)
    if gap > DEFAULT.open_side_share * length or not around.is_valid:
        return False
    return any(shape.area is not None and around.contains(shape.area) for shape in shapes)


def _across(shape: _Shape) -> float:
    return float(np.ptp(shape.line.points, axis=0).max()) if shape.area is not None else _length(shape.line)


def _length(line: Line) -> float:
    return float(np.hypot(*np.diff(line.points, axis=0).T).sum())


def _at(shape: _Shape) -> str:
    x, y = shape.line.points[0]
    return f"({x:.1f}, {y:.1f})"
