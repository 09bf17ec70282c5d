"""Files to burn read back: SVG and DXF as lines on the bed, and what they say of themselves.

Readers of their own, for the files that are written here alone: whatever else stands in one is refused, since a machine
would burn it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, ParseError

import numpy as np
import numpy.typing as npt

from ..errors import FileError
from ..model import OPERATIONS, Curve
from .limits import DEFAULT, RefereeLimits

Points = npt.NDArray[np.float64]

AGAIN = "export the layout again"
_SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_STEPS = re.compile(rf"([MLACZ])((?:[\s,]*{_NUMBER})*)[\s,]*")
_COUNTS = {"M": 2, "L": 2, "A": 7, "C": 6, "Z": 0}
_PLAIN = {"id", "d", "cx", "cy", "r", "fill", "fill-rule", "stroke", "stroke-width"}
_ROOT = {"width", "height", "viewBox", "version", "data-layout", "data-pose"}
_FILL = "-fill"


@dataclass(frozen=True, eq=False)
class CutLine:
    """One line of a file: its operation, points in mm on the bed, (n, 2), y up, and whether it is an edge to fill.

    ``circle`` is (x, y, radius) of one that is a circle as a whole.
    """

    operation: str
    points: Points
    filled: bool = False
    circle: tuple[float, float, float] | None = None

    @property
    def closed(self) -> bool:
        """Whether it ends where it began."""
        return len(self.points) > 3 and bool((self.points[0] == self.points[-1]).all())


@dataclass(frozen=True)
class CutFile:
    """A file to burn: its title, the mark of its layout, what it says, how the panel lies, and its lines in order.

    ``bed_mm`` is None where the format has no page. ``pose`` is the turn in degrees about the hide's origin and the
    move in mm that lay a hide on the bed.
    """

    path: Path
    title: str
    mark: str
    about: str
    bed_mm: tuple[float, float] | None
    pose: tuple[float, float, float]
    lines: tuple[CutLine, ...]


def read_cut_file(path: Path, limits: RefereeLimits = DEFAULT) -> CutFile:
    """Read a file to burn.

    Raises
    ------
    FileError
        When it cannot be read, or holds anything but what a file to burn has.
    """
    try:
        if path.stat().st_size > limits.cut_file_bytes:
            raise FileError(path, "file", f"{path.stat().st_size} bytes", AGAIN)
        content = path.read_bytes()
    except OSError as error:
        raise FileError(path, "reading", error.strerror or error, AGAIN) from None
    return _svg(path, content, limits) if path.suffix == ".svg" else _dxf(path, content, limits)


def _svg(path: Path, content: bytes, limits: RefereeLimits) -> CutFile:
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        root = fromstring(content)
    except (ParseError, DefusedXmlException, ValueError, LookupError, RecursionError) as error:
        raise FileError(path, "SVG", str(error) or type(error).__name__, AGAIN) from None
    bed = tuple(_numbers(path, root.get(key, "").removesuffix("mm"), 1)[0] for key in ("width", "height"))
    box = _numbers(path, root.get("viewBox", ""), 4)
    in_mm = all(root.get(key, "").endswith("mm") for key in ("width", "height"))
    if root.tag != f"{_SVG}svg" or tuple(box) != (0, 0, *bed) or not in_mm or not set(root.attrib) <= _ROOT:
        raise FileError(path, "page", f"{root.get('width')} {root.get('viewBox')}", f"it is not in mm: {AGAIN}")
    lines: list[CutLine] = []
    texts = {"title": "", "desc": ""}
    for child in root:
        name = str(child.tag).removeprefix(_SVG)
        if name in texts:
            texts[name] += "".join(child.itertext()).strip()
        elif name == "g" and child.get("id") in OPERATIONS and set(child.attrib) <= _PLAIN:
            lines += [line for shape in child for line in _shape(path, str(child.get("id")), shape, bed[1], limits)]
        else:
            raise FileError(path, f"<{name}>", child.get("id", ""), f"it is nothing to burn: {AGAIN}")
    pose = _numbers(path, root.get("data-pose", ""), 3)
    mark = root.get("data-layout", "")
    return CutFile(
        path, texts["title"], mark, texts["desc"], (bed[0], bed[1]), (pose[0], pose[1], pose[2]), tuple(lines)
    )


def _shape(path: Path, operation: str, shape: Element, high: float, limits: RefereeLimits) -> Iterator[CutLine]:
    name, strange = str(shape.tag).removeprefix(_SVG), set(shape.attrib) - _PLAIN
    if name not in ("path", "circle") or strange or len(shape):
        raise FileError(path, f"<{name}> in {operation}", ", ".join(sorted(strange)), f"it is no plain line: {AGAIN}")
    if name == "circle":
        x, y, radius = (_numbers(path, shape.get(key, ""), 1)[0] for key in ("cx", "cy", "r"))
        if not _near([x, y, radius], limits):
            raise FileError(path, f"<circle> in {operation}", radius, AGAIN)
        yield _long(path, _circle(operation, x, high - y, radius, limits))
        return
    filled = shape.get("fill", "none") != "none"
    data = shape.get("d", "").strip()
    if "".join(found[0] for found in _STEPS.finditer(data)) != data or not data.startswith("M"):
        raise FileError(path, f"path {shape.get('id', '')}", data[:60], f"it is no path of M, L, A, C and Z: {AGAIN}")
    for part in re.split(r"(?=M)", data)[1:]:
        yield _long(path, CutLine(operation, _path(path, part, high, limits), filled))


def _long(path: Path, line: CutLine) -> CutLine:
    """A line that has a length."""
    if len(line.points) < 2 or not np.ptp(line.points, axis=0).any():
        raise FileError(path, f"line in {line.operation}", "of no length", f"no machine burns it: {AGAIN}")
    return line


def _path(path: Path, data: str, high: float, limits: RefereeLimits) -> Points:
    """The points of one line, in chords."""
    points: list[complex] = []
    for step in _STEPS.finditer(data):
        letter, values = step[1], [float(value) for value in re.findall(_NUMBER, step[2])]
        count = _COUNTS[letter]
        if not _near(values, limits) or (len(values) % count if count else values) or (count and not values):
            raise FileError(path, f"path step {letter}", step[2][:60], AGAIN)
        if letter == "Z":
            points.append(points[0])
        for at in range(0, len(values), max(count, 1)):
            some = values[at : at + count]
            first, second, end = (complex(some[n], high - some[n + 1]) for n in (0, max(count - 4, 0), count - 2))
            if letter == "C":
                points += _cubic(points[-1], first, second, end, limits.chord_mm)
            elif letter == "A":
                points += _arc(path, points[-1], some, end, limits.chord_mm)
            else:
                points.append(end)
    return np.column_stack([np.real(points), np.imag(points)])


def _near(values: list[float], limits: RefereeLimits) -> bool:
    """Whether numbers are such as lie on any bed."""
    return all(abs(value) <= limits.cut_far_mm for value in values)


def _arc(path: Path, start: complex, values: list[float], end: complex, chord_mm: float) -> list[complex]:
    """Points of a circular arc after its start (SVG 1.1, appendix F.6; a radius too small is made to reach)."""
    across, up, _, large, clockwise = values[:5]
    chord = abs(end - start)
    if across != up or across <= 0 or not chord:
        raise FileError(path, "arc", values, f"it is no circular arc: {AGAIN}")
    turn = 2 * math.asin(min(1.0, chord / (2 * across)))
    turn = 2 * math.pi - turn if large else turn
    bulge = math.tan(turn / 4) * (-1 if clockwise else 1)
    curve = Curve(((start.real, start.imag, bulge), (end.real, end.imag, 0.0)))
    return [complex(x, y) for x, y in curve.flattened(chord_mm).coords][1:]


def _cubic(start: complex, first: complex, second: complex, end: complex, chord_mm: float) -> list[complex]:
    """Points of a cubic after its start; between them it leaves its chords by at most a length."""
    # a chord over a step h leaves a curve by at most h^2 / 8 times its second derivative
    bend = 6 * max(abs(start - 2 * first + second), abs(first - 2 * second + end))
    t = np.arange(1, (count := max(1, math.ceil(math.sqrt(bend / (8 * chord_mm))))) + 1) / count
    found = (1 - t) ** 3 * start + 3 * (1 - t) ** 2 * t * first + 3 * (1 - t) * t**2 * second + t**3 * end
    points: list[complex] = found.tolist()
    return [*points[:-1], end]


def _circle(operation: str, x: float, y: float, radius: float, limits: RefereeLimits) -> CutLine:
    curve = Curve(((x + radius, y, 1.0), (x - radius, y, 1.0)), True)
    return CutLine(operation, _points(curve, limits), circle=(x, y, radius))


def _points(curve: Curve, limits: RefereeLimits) -> Points:
    return np.asarray(curve.flattened(limits.chord_mm).coords)[:, :2]


def _numbers(path: Path, text: str, count: int) -> list[float]:
    words = text.split()
    if len(words) != count or not all(re.fullmatch(_NUMBER, word) for word in words):
        raise FileError(path, "numbers", text[:60], f"there have to be {count}: {AGAIN}")
    return [float(word) for word in words]


def _dxf(path: Path, content: bytes, limits: RefereeLimits) -> CutFile:
    import io

    from ezdxf.filemanagement import read
    from ezdxf.lldxf.const import DXFError

    text = content.decode("utf-8", "replace")
    said = re.findall(r"(?m)^999\r?\n(.*?)\r?$", text.split("SECTION", 1)[0])
    keys = {word: rest for word, _, rest in (line.partition(" ") for line in said)}
    pose = _numbers(path, keys.get("pose", ""), 3)
    try:
        entities = list(read(io.StringIO(text)).modelspace())
        lines = tuple(_entity(path, entity, limits) for entity in entities)
    except FileError:
        raise
    except (DXFError, ValueError, ArithmeticError, LookupError, AttributeError, TypeError) as error:
        raise FileError(path, "DXF", str(error) or type(error).__name__, AGAIN) from None
    title = next((line for line in said if line.startswith("Hide ")), "")
    found = (pose[0], pose[1], pose[2])
    return CutFile(path, title, keys.get("layout", "")[:8], "\n".join(said), None, found, lines)


def _entity(path: Path, entity: Any, limits: RefereeLimits) -> CutLine:
    layer, kind = str(entity.dxf.layer), entity.dxftype()
    operation = layer.removesuffix(_FILL)
    if operation not in OPERATIONS:
        raise FileError(path, f"{kind} on layer {layer}", "", f"it is nothing to burn: {AGAIN}")
    if kind == "CIRCLE":
        x, y, _ = entity.dxf.center
        if not _near([x, y, entity.dxf.radius], limits):
            raise FileError(path, f"{kind} on layer {layer}", entity.dxf.radius, AGAIN)
        circle = _circle(operation, x, y, entity.dxf.radius, limits)
        return _long(path, CutLine(operation, circle.points, layer != operation, circle.circle))
    if kind == "LINE":
        points = np.array([tuple(entity.dxf.start)[:2], tuple(entity.dxf.end)[:2]])
    elif kind in ("POLYLINE", "LWPOLYLINE"):
        corners = entity.get_points("xyb") if kind == "LWPOLYLINE" else _corners(entity)
        nodes = [(float(x), float(y), float(bulge)) for x, y, bulge in corners]
        if not _near([value for node in nodes for value in node], limits):
            raise FileError(path, f"{kind} on layer {layer}", "", f"its points are on no bed: {AGAIN}")
        points = _points(Curve(tuple(nodes), bool(entity.is_closed)), limits)
    elif kind in ("ARC", "SPLINE", "ELLIPSE"):
        points = np.array([tuple(point)[:2] for point in entity.flattening(limits.chord_mm)])
    else:
        raise FileError(path, f"{kind} on layer {layer}", "", f"it is no plain line: {AGAIN}")
    if not _near(points.ravel().tolist(), limits):
        raise FileError(path, f"{kind} on layer {layer}", "", f"its points are on no bed: {AGAIN}")
    return _long(path, CutLine(operation, points, layer != operation))


def _corners(entity: Any) -> list[tuple[float, float, float]]:
    return [(*tuple(corner.dxf.location)[:2], corner.dxf.get("bulge", 0.0)) for corner in entity.vertices]
