"""A drawing as it was understood, written as an SVG pattern: 1 mm is 1 mm, and every line has its label."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from ..atomic import write_text
from ..model import Curve, Curves, Part
from ..model.curves import arc
from .asked import Asked
from .limits import DEFAULT
from .patterns import Drawing, read_pattern

COLOURS = {
    "outline": "#D55E00",
    "cutout": "#E69F00",
    "stitch": "#009E73",
    "engrave": "#0072B2",
    "fold": "#CC79A7",
    "zone": "#56B4E9",
}
"""From the colour-blind-safe palette of Okabe and Ito (2008)."""
_DASHES = {"fold": ' stroke-dasharray="4 2"'}
_EDGE_MM = 10.0
"""Blank page around the parts."""


def write_pattern(path: Path, drawing: Drawing) -> None:
    """Write the parts of a drawing, each in a group of its name with its lines labelled, and its notes.

    Editors show the labels: each stands as ``inkscape:label`` and, as far as ids may hold it, as ``id``.

    Raises
    ------
    FileError
        When the file cannot be written, or does not read back.
    """
    boxes = [part.outline.bounds for part in drawing.parts]
    left, low = min(box[0] for box in boxes) - _EDGE_MM, min(box[1] for box in boxes) - _EDGE_MM
    right, high = max(box[2] for box in boxes) + _EDGE_MM, max(box[3] for box in boxes) + _EDGE_MM
    width, height = right - left, high - low
    ids = _Ids()
    lines = [
        '<svg xmlns="http://www.w3.org/2000/svg" '
        'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
        f'width="{width:.3f}mm" height="{height:.3f}mm" viewBox="{left:.3f} {-high:.3f} {width:.3f} {height:.3f}" '
        'fill="none" stroke-width="0.3">'
    ]
    for number, part in enumerate(drawing.parts):
        asked = [one for one in drawing.asked if one.part == number]
        lines += [f"  <g {ids.named(part.name)}>", *_part(part, asked, ids), "  </g>"]
    if drawing.notes:
        lines += [f'  <g {ids.named("notes")} fill="#000000">']
        lines += [
            f'    <text x="{note.x:.2f}" y="{-note.y:.2f}" font-size="4">{escape(note.text)}</text>'
            for note in drawing.notes
        ]
        lines += ["  </g>"]
    write_text(path, "\n".join([*lines, "</svg>", ""]))
    read_pattern(path)


def _part(part: Part, asked: Sequence[Asked], ids: _Ids) -> Iterator[str]:
    curves = part.curves or Curves(
        Curve.of(part.outline), *(tuple(map(Curve.of, more)) for more in (part.cutouts, part.stitch, part.engrave))
    )
    yield from _lines("outline", "outline", [curves.outline], ids)
    for zone in part.zones:
        yield from _lines("zone", f"zone {zone.grade}", [Curve.of(zone.polygon)], ids)
    unsure = {one.number for one in asked}
    yield from _lines("cutout", "cutout", [c for number, c in enumerate(curves.cutouts) if number not in unsure], ids)
    for colour in dict.fromkeys(one.colour for one in asked):
        for label, taken in (("cutout?", True), ("notes?", False)):
            same = [one.curve for one in asked if one.colour == colour and (one.number is not None) == taken]
            yield from _lines("cutout", label, same, ids, colour)
    yield from _lines("stitch", "stitch", curves.stitch, ids)
    for how in ("", "fill", "line"):
        hows = part.engrave_how or ("",) * len(curves.engrave)
        same = [curve for curve, each in zip(curves.engrave, hows) if each == how]
        yield from _lines("engrave", f"engrave {how}".strip(), same, ids)
    yield from _lines("fold", "fold", [Curve.of(fold) for fold in part.folds], ids)


def _lines(kind: str, label: str, curves: Sequence[Curve], ids: _Ids, colour: str = "") -> Iterator[str]:
    """Lines of one label; many of them in a group that gives it to them. What is asked about keeps its colour."""
    look = f'stroke="{colour or COLOURS[kind]}"{_DASHES.get(kind, "")}'
    if len(curves) == 1:
        yield f"    {_shape(curves[0], f'{ids.named(label)} {look}')}"
    elif curves:
        yield f"    <g {ids.named(label)} {look}>"
        yield from (f"      {_shape(curve, '')}" for curve in curves)
        yield "    </g>"


def _shape(curve: Curve, marks: str) -> str:
    marks = f" {marks}" if marks else ""
    if (circle := curve.circle) is not None:
        return f'<circle{marks} cx="{_mm(circle.x)}" cy="{_mm(-circle.y)}" r="{_mm(circle.radius)}"/>'
    x, y, _ = curve.nodes[0]
    data = [f"M{_mm(x)},{_mm(-y)}"]
    for start, end, bulge in curve.stretches():
        to = f"{_mm(end.real)},{_mm(-end.imag)}"
        if not bulge:
            data.append(f"L{to}")
            continue
        radius = _mm(arc(start, end, bulge).radius)
        data.append(f"A{radius} {radius} 0 {int(abs(bulge) > 1)} {int(bulge < 0)} {to}")
    return f'<path{marks} d="{" ".join(data)}{"Z" if curve.closed else ""}"/>'


def _mm(value: float) -> str:
    return f"{round(value, DEFAULT.coordinate_digits) + 0.0:.10g}"


class _Ids:
    """Ids that stand in the file once each."""

    def __init__(self) -> None:
        self.counts: dict[str, int] = {}

    def named(self, label: str) -> str:
        """The id and the label as attributes."""
        plain = re.sub(r"[^A-Za-z0-9_-]+", "-", label).strip("-") or "part"
        plain = plain if plain[0].isalpha() else f"part-{plain}"
        count = self.counts[plain] = self.counts.get(plain, 0) + 1
        return f'id="{plain}{f"-{count}" if count > 1 else ""}" inkscape:label={quoteattr(label)}'
