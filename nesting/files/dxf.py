"""The lines of a DXF drawing, in mm, with the layers and blocks they lie in.

Lines, arcs, circles, ellipses, polylines with their bulges, splines and inserted blocks are read; arcs stay arcs. What
is no line to cut (dimensions, hatches, solids, points) is left out and counted, so that it can be said.
"""

from __future__ import annotations

import io
import logging
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import FileError
from ..model.values import agreed
from .drawn import Drawn, Node, Sheet
from .limits import DEFAULT
from .source import printable, read_bytes
from .svg_curves import Pen
from .svg_units import Fault

if TYPE_CHECKING:
    from ezdxf.document import Drawing

_TEXT = frozenset(["TEXT", "MTEXT", "ATTRIB", "ATTDEF"])
_LINES = frozenset(["LINE", "ARC", "CIRCLE", "ELLIPSE", "LWPOLYLINE", "POLYLINE", "SPLINE", "HELIX"])
_SOLID = ("continuous", "bylayer", "byblock", "")
_MENDS = "save it as DXF R12 or 2000, or as SVG at real size"
UNITS_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4, "ft": 304.8}
"""What a drawing without units may be said to be in."""


def read_dxf(path: Path, tolerance_mm: float, unit: str = "") -> Sheet:
    """Read the lines of a DXF file.

    Parameters
    ----------
    path : Path
    tolerance_mm : float
        Greatest distance between a curve and the chords that stand for it.
    unit : str
        One of `UNITS_MM`, whatever the file says; empty for the file's own.

    Returns
    -------
    Sheet
        In drawing order, in mm; layers are nodes of the tag ``layer``, blocks of the tag ``g``.

    Raises
    ------
    FileError
        When the file cannot be read, is too big, or holds no line.
    """
    document = _load(path)
    told: list[str] = []
    scale = _scale(document, unit, told)
    reader = _Reader(document, Pen(tolerance_mm), scale)
    try:
        reader.read(document.modelspace(), ())
    except OverflowError as error:
        raise FileError(path, "file", str(error), "simplify the drawing, or split it into several files") from None
    if not any(drawn.lines for drawn in reader.drawn):
        left = _listed(reader.left_out)
        value = f"no lines, only {left}" if left else "no lines"
        raise FileError(path, "drawing", value, "draw the parts as lines, arcs, polylines or splines in model space")
    if reader.left_out:
        told.append(f"left out, for they are no lines: {_listed(reader.left_out)}")
    if reader.hidden:
        told.append(
            agreed(
                reader.hidden,
                "line on a layer that is off or frozen is left out",
                "lines on layers that are off or frozen are left out",
            )
        )
    if reader.tilted:
        told.append(
            agreed(
                reader.tilted,
                "line lies in a tilted plane: it is taken as seen from above",
                "lines lie in tilted planes: they are taken as seen from above",
            )
        )
    if reader.broken:
        told.append(
            agreed(
                reader.broken,
                "line that draws nothing (no length, no radius) is left out",
                "lines that draw nothing (no length, no radius) are left out",
            )
        )
    return Sheet(tuple(reader.drawn), tuple(told))


def _load(path: Path) -> Drawing:
    from ezdxf import filemanagement, recover
    from ezdxf.lldxf import const

    logging.getLogger("ezdxf").setLevel(logging.CRITICAL)  # what it mends is no matter of the maker's
    mend = "give the path of a DXF drawing"
    content = read_bytes(path, DEFAULT.svg_bytes, missing=mend, not_plain=mend, too_big="split the drawing")
    if content[:4] == b"AC10" and content[:6].isalnum():
        raise FileError(path, "file", "a DWG drawing", "save it as DXF")
    if not content.strip():
        raise FileError(path, "file", "empty", "export the drawing as DXF again")
    try:
        if content.startswith(b"AutoCAD Binary DXF"):
            return filemanagement.readfile(path)
        document, _ = recover.read(io.BytesIO(content))
    except (const.DXFError, OSError) as error:
        reason = printable(str(error).split("\n")[0][:60]) or "damaged"
        raise FileError(path, "file", reason, f"export the drawing as DXF again: {_MENDS}") from None
    except Exception as error:
        # a file made to break readers may break the library anywhere
        raise FileError(path, "file", f"damaged ({type(error).__name__})", _MENDS) from None
    return document


def _scale(document: Drawing, unit: str, told: list[str]) -> float:
    """How many mm a unit of the drawing is."""
    from ezdxf import units

    if unit:
        return UNITS_MM[unit]
    code = document.header.get("$INSUNITS", 0)
    if code in range(1, 25):
        return float(units.conversion_factor(code, units.MM))  # type: ignore[arg-type]
    told.append("the drawing does not say its units: taken as mm; where they are inches, say --units inch")
    return 1.0


def _listed(counts: Counter[str]) -> str:
    return ", ".join(f"{count} {name}" for name, count in sorted(counts.items()))


@dataclass
class _Reader:
    document: Drawing
    pen: Pen
    scale: float
    drawn: list[Drawn] = field(default_factory=list)
    left_out: Counter[str] = field(default_factory=Counter)
    hidden: int = 0
    broken: int = 0
    tilted: int = 0
    visits: int = 0

    def read(self, entities: Iterable[Any], trail: tuple[Node, ...], depth: int = 0) -> None:
        if depth > DEFAULT.svg_depth:
            raise OverflowError(f"blocks nested over {DEFAULT.svg_depth} levels deep")
        for entity in entities:
            self.visits += 1
            if self.visits > DEFAULT.svg_elements:
                raise OverflowError(f"over {DEFAULT.svg_elements} elements")
            self._read(entity, trail, depth)

    def _read(self, entity: Any, trail: tuple[Node, ...], depth: int) -> None:
        kind = entity.dxftype()
        if not entity.dxf.is_supported("layer"):
            # of a kind that nobody knows, as where a name is damaged
            self.left_out[_one_line(kind)] += 1
            return
        layer = str(entity.dxf.get("layer", "0"))
        if kind == "INSERT":
            name = str(entity.dxf.get("name", ""))
            inside = trail if name.startswith("*") else (*trail, Node(self.visits, "g", _one_line(name), ""))
            for copy in entity.multi_insert() if entity.mcount > 1 else (entity,):
                self.read(_virtual(copy), inside, depth + 1)
            self.read(entity.attribs, inside, depth + 1)
            return
        if self._is_hidden(layer) or entity.dxf.get("invisible", 0):
            self.hidden += kind not in _TEXT
            return
        if kind not in _TEXT and kind not in _LINES:
            self.left_out[kind] += 1
            return
        here = trail if layer == "0" else (*trail, Node(-self.visits, "layer", _one_line(layer), ""))
        here = (*here, Node(self.visits, kind.lower(), "", ""))
        if kind in _TEXT:
            self._text(entity, here)
            return
        try:
            data = _path_data(entity, kind)
        except (ArithmeticError, ValueError, TypeError, AttributeError, IndexError):
            data = ""
        if data is None:
            self.left_out[f"{kind} mesh"] += 1
            return
        self.tilted += _side(entity) == 0
        try:
            lines = self.pen.draw(data, np.diag([self.scale, self.scale, 1.0]))
        except Fault as fault:
            self.drawn.append(Drawn(here, fault=fault))
            return
        lines = tuple(line for line in lines if len(line.points) > 1)
        if not lines:
            self.broken += 1
            return
        self.drawn.append(Drawn(here, lines, colour=self._colour(entity, layer), dashed=self._dashed(entity, layer)))

    def _text(self, entity: Any, trail: tuple[Node, ...]) -> None:
        words = entity.plain_text() if hasattr(entity, "plain_text") else str(entity.dxf.get("text", ""))
        x, y, *_ = entity.dxf.get("insert", (0.0, 0.0))
        place = (float(x) * self.scale, float(y) * self.scale)
        fault = Fault("text", "turn text to lines, or delete it")
        self.drawn.append(Drawn(trail, fault=fault, text=_one_line(words)[: DEFAULT.name_letters], place=place))

    def _layer(self, name: str) -> Any:
        return self.document.layers.get(name) if name in self.document.layers else None

    def _is_hidden(self, name: str) -> bool:
        layer = self._layer(name)
        return layer is not None and (layer.is_off() or layer.is_frozen())

    def _colour(self, entity: Any, layer_name: str) -> str:
        from ezdxf import colors

        layer = self._layer(layer_name)
        for owner in (entity, layer):
            if owner is None:
                continue
            if owner.dxf.get("true_color") is not None:
                return "#{:02x}{:02x}{:02x}".format(*colors.int2rgb(owner.dxf.true_color))
            index = abs(owner.dxf.get("color", 256))
            if 1 <= index <= 255:
                return "#{:02x}{:02x}{:02x}".format(*colors.aci2rgb(index))
        return ""

    def _dashed(self, entity: Any, layer_name: str) -> bool:
        style = str(entity.dxf.get("linetype", "BYLAYER")).lower()
        layer = self._layer(layer_name)
        if style == "bylayer" and layer is not None:
            style = str(layer.dxf.get("linetype", "")).lower()
        return style not in _SOLID


def _virtual(insert: Any) -> Iterator[Any]:
    """The entities of a block as it is inserted; none where it is not there."""
    try:
        yield from insert.virtual_entities()
    except (ArithmeticError, ValueError, TypeError, AttributeError, LookupError):
        return


def _path_data(entity: Any, kind: str) -> str | None:
    """A line as path data of SVG in the drawing's own units, y up; None for what is no line, empty for no way."""
    dxf = entity.dxf
    upright = _side(entity)
    mirrored = upright < 0
    if kind == "LINE":
        return _move(dxf.start) + _to(dxf.end)
    if kind in ("ARC", "CIRCLE") and upright:
        start, end = (dxf.start_angle, dxf.end_angle) if kind == "ARC" else (0.0, 360.0)
        return _arc(dxf.center, dxf.radius, start, end, mirrored)
    if kind == "ELLIPSE" and upright:
        return _ellipse(dxf, mirrored)
    if kind == "LWPOLYLINE" and upright:
        points = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
        return _polyline(points, entity.closed, mirrored)
    if kind == "POLYLINE" and entity.is_2d_polyline and upright and not dxf.flags & 6:
        points = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices]
        return _polyline(points, entity.is_closed, mirrored)
    if kind == "POLYLINE" and not (entity.is_2d_polyline or entity.is_3d_polyline):
        return None
    return _curve(entity)


def _side(entity: Any) -> int:
    """Which way its plane looks: 1 up, -1 down (drawn mirrored), 0 tilted."""
    if entity.dxftype() in ("LINE", "SPLINE", "HELIX"):
        return 1
    x, y, z = entity.dxf.get("extrusion", (0, 0, 1))
    return (1 if z > 0 else -1) if max(abs(x), abs(y)) < 1e-9 * abs(z) else 0


def _arc(centre: Any, radius: float, start: float, end: float, mirrored: bool) -> str:
    if not (radius > 0 and math.isfinite(radius)):
        return ""
    turn = (end - start) % 360.0 or 360.0
    if turn > 360.0 - 1e-9:
        turn = 360.0
    flip = -1.0 if mirrored else 1.0
    steps = 2 if turn > 180.0 else 1
    angles = [math.radians(start + turn * step / steps) for step in range(steps + 1)]
    points = [(flip * (centre.x + radius * math.cos(a)), centre.y + radius * math.sin(a)) for a in angles]
    sweep = 0 if mirrored else 1
    data = _move(points[0]) + "".join(f"A{radius!r} {radius!r} 0 0 {sweep} {_pair(point)}" for point in points[1:-1])
    if turn == 360.0:
        return f"{data}A{radius!r} {radius!r} 0 0 {sweep} {_pair(points[0])}Z"
    return data + f"A{radius!r} {radius!r} 0 0 {sweep} {_pair(points[-1])}"


def _ellipse(dxf: Any, mirrored: bool) -> str:
    major = complex(dxf.major_axis[0], dxf.major_axis[1])
    ratio, start, end = float(dxf.ratio), float(dxf.start_param), float(dxf.end_param)
    if not abs(major) > 0 or not ratio:
        return ""
    turn = (end - start) % math.tau or math.tau
    if turn > math.tau - 1e-9:
        turn = math.tau
    minor = major * (-1j if mirrored else 1j) * ratio
    centre = complex(dxf.center[0], dxf.center[1])
    steps = 2 if turn > math.pi else 1
    angles = [start + turn * step / steps for step in range(steps + 1)]
    points = [centre + major * math.cos(a) + minor * math.sin(a) for a in angles]
    if turn == math.tau:
        points[-1] = points[0]
    tilt = math.degrees(math.atan2(major.imag, major.real))
    sweep = 0 if mirrored == (ratio > 0) else 1
    step = f"A{abs(major)!r} {abs(major * ratio)!r} {tilt!r} 0 {sweep} "
    data = _move((points[0].real, points[0].imag)) + "".join(f"{step}{p.real!r} {p.imag!r}" for p in points[1:])
    return data + ("Z" if turn == math.tau else "")


def _polyline(points: Sequence[tuple[float, float, float]], closed: bool, mirrored: bool) -> str:
    """A polyline; the bulge of a stretch is the tangent of a quarter of the angle it turns by."""
    if len(points) < 2:
        return ""
    flip = -1.0 if mirrored else 1.0
    places = [(float(flip * x), float(y), float(flip * bulge)) for x, y, bulge in points]
    data = _move(places[0])
    for (x0, y0, bulge), (x1, y1, _) in zip(places, places[1:] + places[:1] if closed else places[1:]):
        chord = math.hypot(x1 - x0, y1 - y0)
        if not bulge or not chord:
            data += _to((x1, y1))
            continue
        radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
        data += f"A{radius!r} {radius!r} 0 {int(abs(bulge) > 1)} {int(bulge > 0)} {x1!r} {y1!r}"
    return data + ("Z" if closed else "")


def _curve(entity: Any) -> str:
    """Any curve as cubic pieces, seen from above."""
    from ezdxf import path as paths

    found = paths.make_path(entity, segments=16, level=16)
    data = _move(found.start)
    for command in found.commands():
        kind = command.type.name
        if kind == "LINE_TO":
            data += _to(command.end)
        elif kind == "CURVE3_TO":
            data += f"Q{_pair(command.ctrl)} {_pair(command.end)}"  # type: ignore[union-attr]
        elif kind == "CURVE4_TO":
            data += f"C{_pair(command.ctrl1)} {_pair(command.ctrl2)} {_pair(command.end)}"  # type: ignore[union-attr]
        else:
            data += _move(command.end)
    return data + ("Z" if found.is_closed else "")


def _pair(point: Any) -> str:
    return f"{float(point[0])!r} {float(point[1])!r}"


def _move(point: Any) -> str:
    return f"M{_pair(point)}"


def _to(point: Any) -> str:
    return f"L{_pair(point)}"


def _one_line(text: str) -> str:
    return printable(" ".join(text.split()))
