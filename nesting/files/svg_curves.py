"""Path data of SVG 2 to lines in mm: polylines within a stated chord error, and the arcs they stand for."""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..geometry import Floats
from ..model.curves import Curve, Node
from .arcs import Complexes, Follow, fitted
from .limits import DEFAULT
from .svg_units import NUMBER, WHITE, Fault, numbers

_COMMANDS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
_COMMAND = re.compile(r"([MmLlHhVvCcSsQqTtAaZz])([^MmLlHhVvCcSsQqTtAaZz]*)")
_SPACES = " \t\n\r\f"
_BETWEEN = rf"{WHITE}*+,?{WHITE}*+"
_FREE = rf"((?>{NUMBER}))"
_ARC = re.compile(_BETWEEN + _BETWEEN.join([_FREE, _FREE, _FREE, "([01])", "([01])", _FREE, _FREE]))


class Piece(NamedTuple):
    """A stretch of a line in mm: where it starts, and how it goes on to the next.

    Straight or by an arc of this ``bulge`` (see `model.curves.Curve`), or along the smooth curve that ``follow`` gives.
    """

    start: complex
    bulge: float = 0.0
    follow: Follow | None = None


@dataclass(frozen=True, eq=False)
class Line:
    """A polyline in mm, shape (n, 2). When its path closes it, its first point is not repeated at the end.

    ``pieces`` are what was drawn, where that is known; the last of an open line is where it ends.
    """

    points: Floats
    closed: bool
    pieces: tuple[Piece, ...] = ()

    @cached_property
    def curve(self) -> Curve:
        """The line as straight stretches and arcs, true to the drawing by `limits.FileLimits.fit_mm`."""
        if not self.pieces:
            return Curve(tuple((x, y, 0.0) for x, y in self.points.tolist()), self.closed)
        nodes: list[Node] = []
        for start, bulge, follow in self.pieces:
            nodes += [(start.real, start.imag, bulge)] if follow is None else fitted(follow, DEFAULT.fit_mm)
        return Curve(tuple(_apart(nodes, self.closed)), self.closed)


class Pen:
    """Draws path data through a matrix into polylines, and counts the points of a whole file."""

    def __init__(self, tolerance_mm: float, most_points: int = DEFAULT.svg_points):
        self.tolerance_mm, self.left, self.most_points = tolerance_mm, most_points, most_points

    def draw(self, data: str, matrix: Floats) -> tuple[Line, ...]:
        """The subpaths of some path data.

        Parameters
        ----------
        data : str
            The ``d`` of a path.
        matrix : np.ndarray, shape (3, 3)
            From the path's own units to mm.

        Returns
        -------
        tuple of Line
            A move that draws nothing leaves none.

        Raises
        ------
        Fault
            When the data is not as the grammar of SVG 2 has it, or leaves 1 km.
        OverflowError
            When the points of the whole file become too many.
        """
        lines = []
        for corners, pieces, closed in _Trace(self, matrix).subpaths(data):
            drawn = np.array(corners)
            points = np.column_stack([drawn.real, drawn.imag]) @ matrix[:2, :2].T + matrix[:2, 2]
            if not np.all(np.abs(points) <= DEFAULT.farthest_drawn_mm):
                raise Fault("reaches beyond 1 km", "usually wrong units: set the document's width and height in mm")
            lines.append(Line(_distinct(points, closed), closed, pieces))
        return tuple(lines)

    def spend(self, points: int) -> None:
        """Allow so many more points, or refuse the file."""
        self.left -= points
        if self.left < 0:
            raise OverflowError(f"over {self.most_points} points")


class _Trace:
    """One run through path data. Points are complex numbers in the path's own units."""

    def __init__(self, pen: Pen, matrix: Floats):
        (a, c), (b, d) = matrix[:2, :2]
        self.pen = pen
        self.turn, self.flip = complex(a + d, b - c) / 2, complex(a - d, b + c) / 2
        self.shift = complex(*matrix[:2, 2])
        self.here = self.start = 0j
        self.control, self.after = 0j, ""
        self.corners: list[complex] = []
        self.pieces: list[Piece] = []

    def subpaths(self, data: str) -> Iterator[tuple[list[complex], tuple[Piece, ...], bool]]:
        """The corners of each subpath that draws something, its pieces in mm, and whether it is closed."""
        for command, values in _commands(data):
            name = command.upper()
            origin = self.here if command.islower() else 0j
            if name in "MZ":
                if self.corners:
                    yield self.corners, self._drawn(), name == "Z"
                self.corners, self.pieces = [], []
            if name == "Z":
                self.here = self.start
            elif name == "M":
                self.here = self.start = origin + complex(*values)
            else:
                if not self.corners:
                    self.corners = [self.here]
                self._segment(name, values, origin)
            self.after = name
        if self.corners:
            yield self.corners, self._drawn(), False

    def _drawn(self) -> tuple[Piece, ...]:
        return *self.pieces, Piece(self._placed(self.corners[-1]))

    def _segment(self, name: str, values: list[float], origin: complex) -> None:
        here = self.here
        if name == "H":
            self._line(complex(values[0] + origin.real, here.imag))
        elif name == "V":
            self._line(complex(here.real, values[0] + origin.imag))
        elif name == "A":
            rx, ry, rotation, large, sweep, x, y = values
            self._arc(rx, ry, rotation, bool(large), bool(sweep), origin + complex(x, y))
        else:
            points = [origin + complex(*pair) for pair in zip(values[::2], values[1::2])]
            if name == "L":
                self._line(points[0])
            elif name == "C":
                self._cubic(*points)
            elif name == "S":
                self._cubic(2 * here - self.control if self.after in ("C", "S") else here, *points)
            elif name == "Q":
                self._quadratic(*points)
            else:
                self._quadratic(2 * here - self.control if self.after in ("Q", "T") else here, *points)

    def _line(self, end: complex) -> None:
        self.pen.spend(1)
        self.pieces.append(Piece(self._placed(self.here)))
        self.corners.append(end)
        self.here = end

    def _quadratic(self, control: complex, end: complex) -> None:
        self._cubic(self.here + (control - self.here) * 2 / 3, end + (control - end) * 2 / 3, end)
        self.control = control

    def _cubic(self, first: complex, second: complex, end: complex) -> None:
        """Equal steps of the parameter, so many that no chord is off by more than the tolerance.

        A chord over a step h lies within h^2/8 max|B''| of its curve, and |B''| of a cubic is at most six times the
        greater second difference of its control points (Filip, Magedson and Markot 1986).
        """
        bend = max(self._size(self.here - 2 * first + second), self._size(first - 2 * second + end))
        straight = all(
            self._size(control - self.here) + self._size(end - control)
            <= self._size(end - self.here) + DEFAULT.straight_mm
            for control in (first, second)
        )
        chords = (
            1 if straight else max(DEFAULT.least_chords, math.ceil(math.sqrt(6 * bend / (8 * self.pen.tolerance_mm))))
        )
        self.pen.spend(chords)
        bent = None if straight else _cubic(*(self._placed(point) for point in (self.here, first, second, end)))
        self.pieces.append(Piece(self._placed(self.here), follow=bent))
        t = np.arange(1, chords) / chords
        s = 1 - t
        curve = s**3 * self.here + 3 * s * s * t * first + 3 * s * t * t * second + t**3 * end
        self.corners.extend(curve.tolist())
        self.corners.append(end)
        self.here, self.control = end, second

    def _arc(self, rx: float, ry: float, rotation: float, large: bool, sweep: bool, end: complex) -> None:
        """Equal steps of the angle, so many that no chord is off by more than the tolerance.

        Over a step h a unit circle lies 1 - cos(h/2) off its chord, and a map multiplies that by its stretch at most.
        """
        if not rx or not ry or end == self.here:
            return self._line(end)
        if min(abs(rx), abs(ry)) < DEFAULT.least_radius:
            raise Fault(f"arc of radius {min(abs(rx), abs(ry)):g}", "too small to follow: draw a line instead")
        centre, across, up, angle, turned = _centre_form(self.here, abs(rx), abs(ry), rotation, large, sweep, end)
        mapped_across, mapped_up = self._mapped(across), self._mapped(up)
        stretch = (abs(mapped_across - 1j * mapped_up) + abs(mapped_across + 1j * mapped_up)) / 2
        step = math.pi / 2 / DEFAULT.least_chords
        if stretch > self.pen.tolerance_mm:
            step = min(step, 4 * math.asin(math.sqrt(self.pen.tolerance_mm / (2 * stretch))))
        chords = max(1, math.ceil(abs(turned) / step - 1e-9))
        self.pen.spend(chords)
        self.pieces.append(self._arc_piece(self._placed(centre), mapped_across, mapped_up, angle, turned))
        angles = angle + turned * np.arange(1, chords) / chords
        self.corners.extend((centre + across * np.cos(angles) + up * np.sin(angles)).tolist())
        self.corners.append(end)
        self.here = end

    def _arc_piece(self, centre: complex, across: complex, up: complex, angle: float, turned: float) -> Piece:
        """An arc in mm: of a circle by its bulge, of any other ellipse by its equation."""
        side = 1 if (across.conjugate() * up).imag > 0 else -1
        round_enough = abs(up - side * 1j * across) <= DEFAULT.same_circle * abs(across)
        if round_enough:
            return Piece(self._placed(self.here), side * math.tan(turned / 4))

        def follow(places: Complexes) -> tuple[Complexes, Complexes]:
            angles = angle + turned * places
            cos, sin = np.cos(angles), np.sin(angles)
            return centre + across * cos + up * sin, turned * (up * cos - across * sin)

        return Piece(self._placed(self.here), follow=follow)

    def _placed(self, point: complex) -> complex:
        return self._mapped(point) + self.shift

    def _mapped(self, vector: complex) -> complex:
        """A vector of the path in mm: any linear map of the plane is turn z + flip conj(z)."""
        return self.turn * vector + self.flip * vector.conjugate()

    def _size(self, vector: complex) -> float:
        return abs(self._mapped(vector))


def _cubic(start: complex, first: complex, second: complex, end: complex) -> Follow:
    """A cubic in Bernstein form, and its derivative; where that vanishes, the direction close by."""
    small = 1e-9 * (abs(first - start) + abs(second - first) + abs(end - second))

    def way(t: Complexes) -> Complexes:
        s = 1 - t
        found: Complexes = s * s * (first - start) + 2 * s * t * (second - first) + t * t * (end - second)
        return found

    def follow(places: Complexes) -> tuple[Complexes, Complexes]:
        t, s = places, 1 - places
        points = s**3 * start + 3 * s * s * t * first + 3 * s * t * t * second + t**3 * end
        ways = way(t)
        return points, np.where(np.abs(ways) > small, ways, way(t + 1e-4 * (0.5 - t)))

    return follow


def _apart(nodes: list[Node], closed: bool) -> list[Node]:
    """Without nodes that the next repeats; of a closed line also without a last one that repeats the first."""

    def same(one: Node, other: Node) -> bool:
        return math.hypot(other[0] - one[0], other[1] - one[1]) <= DEFAULT.same_mm

    kept = [node for node, following in pairwise(nodes) if not same(node, following)] + nodes[-1:]
    if closed and len(kept) > 1 and same(kept[-1], kept[0]):
        kept.pop()
    return kept


def _centre_form(
    start: complex, rx: float, ry: float, rotation: float, large: bool, sweep: bool, end: complex
) -> tuple[complex, complex, complex, float, float]:
    """An arc as centre + across cos(t) + up sin(t), the t of its start, and how far t runs (SVG 2, B.2.4 and B.2.5).

    The ellipse is mapped to the unit circle; radii too small for the chord are scaled up until they just reach.
    """
    axis = cmath.rect(1.0, math.radians(rotation))
    first, last = (complex(z.real / rx, z.imag / ry) for z in (start / axis, end / axis))
    middle, half = (first + last) / 2, (first - last) / 2
    size = abs(half)
    if size >= 1:
        grown, centre = size, middle
    else:
        side = 1 if large != sweep else -1
        grown, centre = 1.0, middle - 1j * side * half / size * math.sqrt((1 - size) * (1 + size))
    turned = cmath.phase((last - centre) * (first - centre).conjugate())
    if sweep and turned < 0:
        turned += 2 * math.pi
    elif not sweep and turned > 0:
        turned -= 2 * math.pi
    centre_out = complex(centre.real * rx, centre.imag * ry) * axis
    return centre_out, rx * grown * axis, 1j * ry * grown * axis, cmath.phase(first - centre), turned


def _commands(data: str) -> Iterator[tuple[str, list[float]]]:
    """Path data as single commands: repeated ones written out, the lines that follow a move named."""
    if data.strip() == "none":
        return
    position = len(data) - len(data.lstrip(_SPACES))
    if position < len(data) and data[position] not in "Mm":
        raise Fault(f"path data {data[position : position + 30]!r}", "path data starts with M: draw the path again")
    # from a command on, all that follows up to the next is its own, so that nothing is left between them
    for found in _COMMAND.finditer(data, position):
        command, rest = found[1], found[2]
        each = _COMMANDS[command.upper()]
        try:
            values = _arcs(rest) if each == 7 else numbers(rest)
        except Fault as fault:
            raise Fault(f"path data {found[0][:30]!r}", fault.mend) from None
        if (each == 0 and values) or (each and (not values or len(values) % each)):
            raise Fault(f"path data {found[0][:30]!r}", f"{command} takes {each or 'no'} numbers: draw the path again")
        for at in range(0, max(len(values), 1), max(each, 1)):
            yield command, values[at : at + each]
            command = {"M": "L", "m": "l"}.get(command, command)


def _arcs(rest: str) -> list[float]:
    """Arcs have two flags of one digit each, which may stand without anything between."""
    values: list[float] = []
    position, end = 0, len(rest.rstrip(_SPACES))
    while position < end:
        found = _ARC.match(rest, position)
        if not found:
            raise Fault(rest, "an arc takes two radii, an angle, two flags of 0 or 1, and a point")
        values += numbers(" ".join(found.groups()))
        position = found.end()
    return values


def _distinct(points: Floats, closed: bool) -> Floats:
    """Without points that repeat the one before; a closed line also without a last point that repeats its first."""
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = np.hypot(*(points[1:] - points[:-1]).T) > DEFAULT.same_mm
    points = points[keep]
    while closed and len(points) > 1 and np.hypot(*(points[-1] - points[0])) <= DEFAULT.same_mm:
        points = points[:-1]
    return points
