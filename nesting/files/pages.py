"""The pages of a tiled pattern put together again: by marks that stand on two of them, or by their order."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from ..geometry import Floats, polygons
from .drawn import Drawn, Node, Sheet
from .limits import DEFAULT
from .svg_curves import Line, Piece
from .svg_units import Fault
from .telling import joined

_MARK_NAME = re.compile(r"[A-Za-z0-9]{1,3}(?:[.\-/][A-Za-z0-9]{1,3}){0,2}")
Vector = tuple[float, float]
WHERE = "Where the templates go"
"""Stands on sheets that tell where paper templates are laid, beside the templates themselves."""
LAID = ("a", "b")
"""Names of the two points of each that it is laid by."""


@dataclass(frozen=True)
class Page:
    """One page: its shapes, its width and height, and what is written where, mm from its lower left corner."""

    shapes: tuple[Drawn, ...]
    size: Vector
    texts: tuple[tuple[str, float, float], ...] = ()
    pictures: int = 0


def joined_pages(pages: Sequence[Page]) -> Sheet:
    """Put the pages of a drawing together.

    Parameters
    ----------
    pages : sequence of Page
        In their order.

    Returns
    -------
    Sheet
        One drawing; where nothing tells how they belong together, the pages lie side by side and that is said.
    """
    checks = [page for page in pages if _is_check(page)]
    if checks and len(checks) < len(pages):
        rest = joined_pages([page for page in pages if page not in checks])
        told = f"{len(checks)} of the pages only check the printer's scale, and are left out"
        return replace(rest, told=(*rest.told, told))
    words = [page for page in pages if any(WHERE in text for text, *_ in page.texts)]
    if words and len(words) < len(pages):
        rest = joined_pages([_not_laid(page) for page in pages if page not in words])
        told = f"{len(words)} of the pages only tell where templates go on the leather, and are left out"
        return replace(rest, told=(*rest.told, told))
    if len(pages) == 1:
        return Sheet((*pages[0].shapes, *_notes(pages[0], (0.0, 0.0), ())))
    marks = [_marks(page) for page in pages]
    apart = [number for number, found in enumerate(marks) if not found]
    if 0 < len(apart) <= len(pages) - 2 and _by_marks([found for found in marks if found]) is not None:
        # such as a sheet of small parts beside those of a large one
        return _beside(
            joined_pages([page for page, found in zip(pages, marks) if found]),
            [pages[number] for number in apart],
        )
    if (places := _by_marks(marks)) is not None:
        told = f"{len(pages)} pages are joined by their marks: look whether lines go on from page to page"
        return Sheet(tuple(_together(pages, places, marks)), (told,))
    if (places := _by_order(pages)) is not None:
        told = f"{len(pages)} pages are joined by their order, for their lines meet at the edges: look whether they do"
        return Sheet(tuple(_together(pages, places, ())), (told,))
    shapes: list[Drawn] = []
    x = 0.0
    for page in pages:
        shapes += [_moved(shape, (x, 0.0)) for shape in page.shapes]
        shapes += _notes(page, (x, 0.0), ())
        x += page.size[0] + DEFAULT.page_gap_mm
    told = f"{len(pages)} pages have no marks in common and no lines that meet: each is taken by itself, side by side"
    return Sheet(tuple(shapes), (told,))


def _is_check(page: Page) -> bool:
    """Whether all that a page has of closed lines are squares that a ruler checks."""
    closed = [line.points for shape in page.shapes for line in shape.lines if line.closed]
    sides = np.array([np.ptp(points, axis=0) for points in closed]).reshape(-1, 2)
    square = np.abs(sides[:, 0] - sides[:, 1]) < DEFAULT.check_slack_mm
    known = np.abs(sides[:, :1] - np.array(DEFAULT.check_sides_mm)).min(axis=1, initial=np.inf) < DEFAULT.check_slack_mm
    return bool(closed) and all(len(points) == 4 for points in closed) and bool((square & known).all())


def _beside(sheet: Sheet, pages: Sequence[Page]) -> Sheet:
    """Pages that belong to no other beside a drawing."""
    shapes = list(sheet.drawn)
    points = [line.points for shape in shapes for line in shape.lines]
    x = float(np.vstack(points)[:, 0].max()) if points else 0.0
    for page in pages:
        x += DEFAULT.page_gap_mm
        shapes += [_moved(shape, (x, 0.0)) for shape in page.shapes]
        shapes += _notes(page, (x, 0.0), ())
        x += page.size[0]
    told = f"{len(pages)} of the pages have no marks: each is taken by itself, beside the others"
    return Sheet(tuple(shapes), (*sheet.told, told))


@dataclass(frozen=True)
class _Mark:
    """A cross with a name beside it, and the numbers of the shapes that draw it."""

    place: Vector
    shapes: frozenset[int]


def _not_laid(page: Page) -> Page:
    """A page without the points that templates are laid by, which every one of them has."""
    named = _every_mark(page)
    points = {f"{end} {number}": mark for end in LAID for number, mark in enumerate(named.get(end, ()))}
    drop = frozenset[int]().union(*(mark.shapes for mark in points.values()))
    kept = [n for n, shape in enumerate(page.shapes) if n not in drop and not _of_marks(shape, points)]
    texts = tuple(text for text in page.texts if text[0] not in LAID)
    return replace(page, shapes=tuple(page.shapes[n] for n in kept), texts=texts)


def _marks(page: Page) -> dict[str, _Mark]:
    """Marks by their names, those that stand on the page once."""
    return {text: found[0] for text, found in _every_mark(page).items() if len(found) == 1}


def _every_mark(page: Page) -> dict[str, list[_Mark]]:
    """Crosses of two short lines that halve each other, by the short text beside each."""
    strokes = []
    for number, shape in enumerate(page.shapes):
        for line in shape.lines:
            if not line.closed and len(line.points) == 2:
                length = float(np.hypot(*(line.points[1] - line.points[0])))
                if length <= DEFAULT.largest_mark_mm:
                    strokes.append((number, line.points.mean(axis=0), line.points[1] - line.points[0], length))
    crosses: list[tuple[Floats, frozenset[int]]] = []
    for (one, middle, way, length), (other, middle_too, way_too, length_too) in combinations(strokes, 2):
        alike = abs(length - length_too) < 0.1 * length and abs(way @ way_too) < 0.1 * length * length_too
        if alike and np.hypot(*(middle - middle_too)) < DEFAULT.mark_slack_mm:
            crosses.append((middle, frozenset((one, other))))
    named: dict[str, list[_Mark]] = defaultdict(list)
    for text, x, y in page.texts:
        if not _MARK_NAME.fullmatch(text) or not crosses:
            continue
        middle, shapes = min(crosses, key=lambda cross: float(np.hypot(cross[0][0] - x, cross[0][1] - y)))
        if np.hypot(middle[0] - x, middle[1] - y) <= DEFAULT.mark_name_mm:
            named[text].append(_Mark((float(middle[0]), float(middle[1])), shapes))
    return named


def _by_marks(marks: Sequence[Mapping[str, _Mark]]) -> list[Vector] | None:
    """Where each page lies, when marks of the same name tie all of them together and none contradicts."""
    places: dict[int, Vector] = {0: (0.0, 0.0)}
    waiting = [0]
    while waiting:
        page = waiting.pop()
        for other in range(len(marks)):
            shared = marks[page].keys() & marks[other].keys()
            if other == page or not shared:
                continue
            moves = np.array([np.subtract(marks[page][name].place, marks[other][name].place) for name in shared])
            if np.ptp(moves, axis=0).max() > DEFAULT.marks_agree_mm:
                return None
            x, y = moves.mean(axis=0) + places[page]
            if other not in places:
                places[other] = (float(x), float(y))
                waiting.append(other)
            elif np.hypot(x - places[other][0], y - places[other][1]) > 2 * DEFAULT.marks_agree_mm:
                return None
    return [places[page] for page in range(len(marks))] if len(places) == len(marks) else None


def _by_order(pages: Sequence[Page]) -> list[Vector] | None:
    """Where each page lies when they are laid in rows or columns edge to edge and every line cut off goes on.

    What is printed of the whole is the same window of every page: as large as what is drawn on any of them, for lines
    that are cut off end at its edges.
    """
    count = len(pages)
    windows = np.array([_window(page) for page in pages])
    (x0, y0), (x1, y1) = windows[:, :2].min(axis=0), windows[:, 2:].max(axis=0)
    ends = [_ends(page, (float(x0), float(y0), float(x1), float(y1))) for page in pages]
    best: list[Vector] | None = None
    most = 0
    for columns in (number for number in range(1, count + 1) if count % number == 0):
        rows = count // columns
        for by_rows in (True, False):
            spots = [(n % columns, n // columns) if by_rows else (n // rows, n % rows) for n in range(count)]
            for up in (-1, 1):
                places = [(float(column * (x1 - x0)), float(up * row * (y1 - y0))) for column, row in spots]
                met, loose = _meetings(ends, places)
                if met > most and not loose:
                    best, most = places, met
    return best


def _window(page: Page) -> tuple[float, float, float, float]:
    """What is drawn on a page, corner to corner."""
    points = np.vstack([line.points for shape in page.shapes for line in shape.lines])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def _ends(page: Page, window: tuple[float, float, float, float]) -> Floats:
    """Ends of solid lines that stop at the edge of the window."""
    pairs = [(shape, line) for shape in page.shapes if not shape.dashed for line in shape.lines]
    x0, y0, x1, y1 = window
    ends = [line.points[at] for _, line in joined(pairs) if not line.closed for at in (0, -1)]
    kept = [(x, y) for x, y in ends if min(x - x0, x1 - x, y - y0, y1 - y) < DEFAULT.page_edge_mm]
    return np.array(kept).reshape(-1, 2)


def _meetings(ends: Sequence[Floats], places: Sequence[Vector]) -> tuple[int, int]:
    """How many ends meet one of another page, and how many do not."""
    placed = [found + np.array(place) for found, place in zip(ends, places)]
    met = loose = 0
    for page, mine in enumerate(placed):
        others = np.vstack([theirs for other, theirs in enumerate(placed) if other != page] or [np.zeros((0, 2))])
        for end in mine:
            near = len(others) and np.hypot(*(others - end).T).min() <= DEFAULT.seam_mm
            met, loose = met + bool(near), loose + (not near)
    return met, loose


def _together(pages: Sequence[Page], places: Sequence[Vector], marks: Sequence[Mapping[str, _Mark]]) -> list[Drawn]:
    """The shapes of all pages as one drawing: marks and seams left out, overlaps drawn once, cut lines joined.

    Pages without marks meet edge to edge and do not overlap.
    """
    far = DEFAULT.farthest_drawn_mm
    cells = (
        _cells([box(0, 0, *page.size) for page in pages], places) if marks else [box(-far, -far, far, far)] * len(pages)
    )
    marks = marks or [{}] * len(pages)
    whole: list[tuple[Drawn, Line]] = []
    cut: list[tuple[Drawn, Line]] = []
    notes: list[Drawn] = []
    for page, place, named, cell in zip(pages, places, marks, cells):
        left_out = frozenset().union(*(mark.shapes for mark in named.values()))
        for number, shape in enumerate(page.shapes):
            if number in left_out or _of_marks(shape, named):
                continue
            moved = _moved(shape, place)
            for line in moved.lines:
                single = replace(moved, lines=(line,))
                if line.closed:
                    whole.append((single, line))
                else:
                    cut += [(single, piece) for piece in _within(line, cell)]
        notes += _notes(page, place, tuple(named))
    found = [*_once(whole), *joined(cut, DEFAULT.seam_mm)]
    return [
        *(
            replace(shape, trail=(*shape.trail[:-1], replace(shape.trail[-1], serial=number)), lines=(line,))
            for number, (shape, line) in enumerate(found)
        ),
        *notes,
    ]


def _cells(windows: Sequence[Polygon], places: Sequence[Vector]) -> list[Polygon]:
    """What each page alone draws: where two overlap, each up to the middle."""
    placed = [affinity.translate(window, *place) for window, place in zip(windows, places)]
    cells = list(placed)
    for one, other in combinations(range(len(placed)), 2):
        shared = placed[one].intersection(placed[other])
        if shared.is_empty:
            continue
        x0, y0, x1, y1 = shared.bounds
        axis = 0 if x1 - x0 <= y1 - y0 else 1
        middle = ((x0 + x1) / 2, (y0 + y1) / 2)[axis]
        if min(x1 - x0, y1 - y0) > 0.5 * max(x1 - x0, y1 - y0):
            continue  # pages that only share a corner
        for page, partner in ((one, other), (other, one)):
            low = placed[page].centroid.coords[0][axis] < placed[partner].centroid.coords[0][axis]
            far = 1e6
            half = {
                (0, True): box(-far, -far, middle, far), (0, False): box(middle, -far, far, far),
                (1, True): box(-far, -far, far, middle), (1, False): box(-far, middle, far, far),
            }[axis, low]  # fmt: skip
            cells[page] = max(polygons(cells[page].intersection(half)), key=lambda area: area.area)
    return cells


def _within(line: Line, cell: Polygon) -> list[Line]:
    """A line as it is, or what of it lies in a cell."""
    drawn = LineString(line.points)
    if cell.covers(drawn):
        return [line]
    parts = shapely.get_parts(shapely.line_merge(drawn.intersection(cell)))
    return [Line(np.asarray(part.coords), False) for part in parts if isinstance(part, LineString)]


def _once(pairs: Sequence[tuple[Drawn, Line]]) -> list[tuple[Drawn, Line]]:
    """Without closed lines that another page draws too."""
    kept: list[tuple[Drawn, Line]] = []
    for shape, line in pairs:
        bounds = np.concatenate([line.points.min(axis=0), line.points.max(axis=0)])
        same = (
            len(other.points) == len(line.points)
            and np.abs(np.concatenate([other.points.min(axis=0), other.points.max(axis=0)]) - bounds).max()
            < DEFAULT.marks_agree_mm
            for _, other in kept
        )
        if not any(same):
            kept.append((shape, line))
    return kept


def _of_marks(shape: Drawn, marks: Mapping[str, _Mark]) -> bool:
    """Whether it is a ring around the middle of a mark, or a dashed line through it, which says where to glue."""
    points = np.vstack([line.points for line in shape.lines])
    low, high = points.min(axis=0), points.max(axis=0)
    small = (high - low).max() <= DEFAULT.largest_mark_mm
    lines = shapely.MultiLineString([line.points for line in shape.lines])
    for mark in marks.values():
        centred = np.hypot(*((low + high) / 2 - mark.place)) < DEFAULT.mark_slack_mm
        if small and centred:
            return True
        if shape.dashed and lines.distance(shapely.Point(mark.place)) < DEFAULT.mark_slack_mm:
            return True
    return False


def _moved(shape: Drawn, by: Vector) -> Drawn:
    shift = complex(*by)

    def piece(one: Piece) -> Piece:
        follow = one.follow
        if follow is None:
            return one._replace(start=one.start + shift)

        def moved(places: Floats, follow: object = follow) -> tuple[object, object]:
            points, ways = follow(places)  # type: ignore[operator]
            return points + shift, ways

        return one._replace(start=one.start + shift, follow=moved)  # type: ignore[arg-type]

    lines = tuple(Line(line.points + by, line.closed, tuple(map(piece, line.pieces))) for line in shape.lines)
    return replace(shape, lines=lines)


def _notes(page: Page, by: Vector, marks: Sequence[str]) -> list[Drawn]:
    fault = Fault("text", "turn text to lines, or delete it")
    return [
        Drawn((Node(-1, "text", "", ""),), fault=fault, text=text, place=(x + by[0], y + by[1]))
        for text, x, y in page.texts
        if text not in marks
    ]
