"""A hide as an SVG drawing over its straightened photo, to be put right in any vector editor and read back."""

from __future__ import annotations

import base64
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from xml.sax.saxutils import quoteattr, unescape

import numpy as np
from shapely.geometry import LinearRing, Polygon

from ..atomic import write_text
from ..errors import FileError
from ..geometry import Floats
from ..model import Doubt, Hide, Point, Reading, Suggestion, Zone
from .drawn import Drawn, Node
from .hides import hide_from_dict, hide_to_dict
from .limits import DEFAULT
from .rings import pair
from .schema import at
from .source import printable
from .svg import read_svg

COLOURS = {
    "outline": "#D55E00",
    "hole": "#CC79A7",
    "zone": "#0072B2",
    "suggestion": "#E69F00",
    "reading": "#009E73",
    "backbone": "#56B4E9",
    "doubt": "#000000",
}
"""From the colour-blind-safe palette of Okabe and Ito (2008)."""
_FRAME = re.compile(r"frame (-?\d+(?:\.\d+)?) (-?\d+(?:\.\d+)?) (\d+(?:\.\d+)?) (\d+(?:\.\d+)?)")
_ZONE = re.compile(r"zone ([A-Ea-e])(?: (.+))?")
_SUGGESTION = re.compile(r"suggestion ([A-Ea-e])(?: (.*?))?(?: (\d+) ?%)?")
_DOUBT = re.compile(r"doubt (\d{1,5})(?: (.+))?")
_READING = re.compile(r"reading (\d+(?:[.,]\d+)?)(?: ?mm)?")
_LABELS = (
    "label it outline, hole, zone C (and what it is), suggestion C, doubt 1, reading 1.4, backbone, or put it in the"
    " group notes"
)


def write_hide_svg(
    path: Path, hide: Hide, photo: bytes | None = None, place: tuple[float, float, float, float] | None = None
) -> None:
    """Draw a hide: 1 mm is 1 mm, each shape labelled with what it is.

    Parameters
    ----------
    path : Path
    hide : Hide
    photo : bytes, optional
        The straightened photo as JPEG, drawn below.
    place : (left, low, right, high), optional
        Where the photo lies, mm; without it no photo is drawn.

    Raises
    ------
    FileError
        When the file cannot be written.
    """
    bounds = np.array(hide.outline.bounds)
    low, high = bounds[:2] - 20, bounds[2:] + 20
    if photo is not None and place is not None:
        low, high = np.minimum(low, place[:2]), np.maximum(high, place[2:])
    width, height = high - low
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
        f'width="{width:.3f}mm" height="{height:.3f}mm" viewBox="{low[0]:.3f} {-high[1]:.3f} {width:.3f} {height:.3f}" '
        'fill="none" stroke-width="1.2">'
    ]
    if photo is not None and place is not None:
        left, bottom, right, top = place
        data = base64.b64encode(photo).decode("ascii")
        lines.append(
            f'<g inkscape:label="photo"><image x="{left:.3f}" y="{-top:.3f}" width="{right - left:.3f}" '
            f'height="{top - bottom:.3f}" preserveAspectRatio="none" xlink:href="data:image/jpeg;base64,{data}"/></g>'
        )
    lines.append(_group("frame", [_frame(bounds)]))
    lines.append(
        _group(
            "leather",
            [
                _ring("outline", "outline", hide.outline.exterior),
                *(_ring("hole", "hole", ring) for ring in hide.outline.interiors),
            ],
        )
    )
    lines.append(
        _group(
            "suggestions",
            [
                _ring("suggestion", _words("suggestion", one) + f" {100 * one.confidence:.0f} %", one.polygon.exterior)
                for one in hide.suggestions
            ],
        )
    )
    lines.append(
        _group(
            "doubts", [_ring("doubt", f"doubt {one.number} {one.kind}", one.polygon.exterior) for one in hide.doubts]
        )
    )
    lines.append(_group("zones", [_ring("zone", _words("zone", one), one.polygon.exterior) for one in hide.zones]))
    if hide.backbone:
        (x0, y0), (x1, y1) = hide.backbone
        lines.append(
            f'<path inkscape:label="backbone" stroke="{COLOURS["backbone"]}" '
            f'd="M{x0:.4f},{-y0:.4f} L{x1:.4f},{-y1:.4f}"/>'
        )
    readings = [one for one in hide.readings if not one.cut_off]
    lines.append(_group("readings", list(map(_dot, readings))))
    lines.append(_group("notes", list(map(_text, readings))))
    write_text(path, _with_ids("\n".join([*filter(None, lines), "</svg>", ""])))


def _with_ids(text: str) -> str:
    """Beside every label an id that says the same, for editors that show ids: once each, blanks as _x0020_."""
    counts: Counter[str] = Counter()

    def named(found: re.Match[str]) -> str:
        label = unescape(found[1], {"&quot;": '"'})
        plain = re.sub(r"[^A-Za-z0-9.-]", lambda letter: f"_x{ord(letter[0]):04X}_", label)
        counts[plain] += 1
        return f'{found[0]} id="{plain}{f"-{counts[plain]}" if counts[plain] > 1 else ""}"'

    return re.sub(r'inkscape:label="([^"]*)"', named, text)


def read_hide_svg(path: Path, hide: Hide) -> Hide:
    """The hide as the drawing shows it; what no drawing shows (price, tannage, scale, readings of leather that was cut
    off) stays as it was.

    The drawing's rectangle ``frame`` tells where it lies and how an editor may have scaled it.

    Parameters
    ----------
    path : Path
    hide : Hide
        The hide the drawing was made of.

    Raises
    ------
    FileError
        For the first thing that cannot be right, named by its label.
    """
    items = [(_name(drawn), drawn) for drawn in read_svg(path, DEFAULT.chord_mm, ignored=_is_ignored)]
    to_mm = _mapping(path, [(said, drawn) for name, drawn in items if (said := _FRAME.fullmatch(name))])
    outlines: list[Polygon] = []
    holes: list[Polygon] = []
    zones: list[Zone] = []
    suggestions: list[Suggestion] = []
    doubts: list[Doubt] = []
    known = {one.number: one for one in hide.doubts if one.number}
    readings = [one for one in hide.readings if one.cut_off]
    backbones: list[tuple[Point, Point]] = []
    for name, drawn in items:
        if _FRAME.fullmatch(name):
            continue
        shown = printable(name[:60])
        if drawn.fault:
            raise FileError(path, shown, printable(str(drawn.fault.value)), drawn.fault.mend)
        lines = [to_mm(line.points) for line in drawn.lines]
        if not lines:
            raise FileError(path, shown or "a shape without label", "draws nothing", "delete it, or draw it again")
        with at(path, shown):
            if name == "outline":
                outlines += [_closed(path, shown, line) for line in lines]
            elif name == "hole":
                holes += [_closed(path, shown, line) for line in lines]
            elif found := _ZONE.fullmatch(name):
                zones += [Zone(_closed(path, shown, line), found[1].upper(), found[2] or "") for line in lines]
            elif found := _SUGGESTION.fullmatch(name):
                sure = 0.5 if found[3] is None else min(int(found[3]), 100) / 100
                suggestions += [
                    Suggestion(_closed(path, shown, line), found[1].upper(), found[2] or "", sure) for line in lines
                ]
            elif found := _DOUBT.fullmatch(name):
                shapes = [_closed(path, shown, line) for line in lines]
                one = known.get(int(found[1]))
                # a number stands for one doubt: what else is drawn under it bears none
                doubts += [
                    Doubt(shape, found[2] or "doubt") if one is None or index else replace(one, polygon=shape)
                    for index, shape in enumerate(shapes)
                ]
                known.pop(int(found[1]), None)
            elif found := _READING.fullmatch(name):
                x, y = _middle(lines)
                readings.append(Reading(x, y, float(found[1].replace(",", "."))))
            elif name == "backbone":
                backbones += [(pair(line[0].tolist()), pair(line[-1].tolist())) for line in lines]
            else:
                raise FileError(path, shown or "a shape without label", "unknown label", _LABELS)
    return _put_together(path, hide, outlines, holes, zones, suggestions, doubts, readings, backbones)


def _put_together(
    path: Path,
    hide: Hide,
    outlines: list[Polygon],
    holes: list[Polygon],
    zones: list[Zone],
    suggestions: list[Suggestion],
    doubts: list[Doubt],
    readings: list[Reading],
    backbones: list[tuple[Point, Point]],
) -> Hide:
    outlines = sorted(outlines, key=lambda ring: -ring.area)
    if not outlines:
        raise FileError(path, "outline", "missing", "keep one closed path labelled outline")
    # Inner loops of a compound path are holes.
    outer, *inner = outlines
    for ring in inner:
        if not outer.contains(ring):
            raise FileError(path, "outline", "a second outline beside the first", "keep one outline in a drawing")
    if len(backbones) > 1:
        raise FileError(path, "backbone", f"{len(backbones)} lines", "keep one line labelled backbone")
    shape = Polygon(outer.exterior, [ring.exterior for ring in (*inner, *holes)])
    if not shape.is_valid:
        raise FileError(
            path, "hole", "touches or leaves the outline, or another hole", "move it inside, or cut it into the outline"
        )
    changed = replace(
        hide, outline=shape, zones=tuple(zones), suggestions=tuple(suggestions), readings=tuple(readings),
        doubts=tuple(doubts), backbone=backbones[0] if backbones else None,
    )  # fmt: skip
    return hide_from_dict(hide_to_dict(changed), path, "")


def _mapping(path: Path, frames: list[tuple[re.Match[str], Drawn]]) -> Callable[[Floats], Floats]:
    """From mm on the page to mm of the hide."""
    if len(frames) != 1 or not frames[0][1].lines:
        value = "missing" if not frames else f"{len(frames)} of them"
        raise FileError(
            path,
            "frame",
            value,
            "keep the rectangle labelled 'frame ...' that nesting hide to-svg drew, or draw the hide anew with it",
        )
    (said, drawn), *_ = frames
    left, low, width, height = map(float, said.groups())
    points = np.vstack([line.points for line in drawn.lines])
    corner, size = points.min(axis=0), np.ptp(points, axis=0)
    scale = np.array([width, height]) / np.maximum(size, 1e-9)
    if not np.isfinite(scale).all() or abs(scale[0] / scale[1] - 1) > DEFAULT.frame_slack_share:
        raise FileError(
            path,
            "frame",
            f"{size[0]:.1f} x {size[1]:.1f} mm for {width:g} x {height:g}",
            "undo what stretched or turned the drawing",
        )
    # Scales within the rounding of the page are taken as true size.
    scale = 1.0 if np.abs(scale - 1).max() < DEFAULT.true_size_share else scale.mean()
    return lambda page: (page - corner) * scale + (left, low)


def _name(drawn: Drawn) -> str:
    for node in reversed(drawn.trail):
        # an id has a number behind it where it would stand there twice
        words = node.label or re.sub(r"(?<=.)-\d+$", "", node.id)
        low = words.lower()
        if low in ("outline", "hole", "backbone") or any(
            one.fullmatch(words) for one in (_FRAME, _ZONE, _SUGGESTION, _DOUBT, _READING)
        ):
            return low if low in ("outline", "hole", "backbone") else words
    return drawn.trail[-1].name or drawn.trail[-1].tag


def _is_ignored(node: Node) -> bool:
    return node.name.lower() in ("photo", "notes", "guide")


def _closed(path: Path, name: str, points: Floats) -> Polygon:
    ring = Polygon(points) if len(points) > 2 else Polygon()
    if ring.is_empty or not ring.is_valid:
        x, y = points[0]
        raise FileError(
            path,
            name,
            f"the path at ({x:.0f}, {y:.0f}) crosses itself or encloses nothing",
            "redraw it as one closed loop",
        )
    return ring


def _middle(lines: list[Floats]) -> Point:
    points = np.vstack(lines)
    x, y = (points.min(axis=0) + points.max(axis=0)) / 2
    return float(x), float(y)


def _words(what: str, zone: Zone | Suggestion) -> str:
    return " ".join(filter(None, (what, zone.grade, zone.kind)))


def _group(label: str, shapes: list[str]) -> str:
    return f'<g inkscape:label="{label}">\n' + "\n".join(shapes) + "\n</g>" if shapes else ""


def _ring(kind: str, label: str, ring: LinearRing) -> str:
    points = " L".join(f"{x:.4f},{-y:.4f}" for x, y in np.asarray(ring.coords)[:-1])
    dashes = ' stroke-dasharray="4 3"' if kind in ("suggestion", "doubt") else ""
    return f'<path inkscape:label={quoteattr(label)} stroke="{COLOURS[kind]}"{dashes} d="M{points} Z"/>'


def _frame(bounds: Floats) -> str:
    left, low = np.floor(bounds[:2] - 10)
    width, height = np.ceil(bounds[2:] + 10) - (left, low)
    label = f"frame {left:g} {low:g} {width:g} {height:g}"
    return (
        f'<rect inkscape:label="{label}" stroke="#999999" stroke-width="0.5" x="{left:g}" y="{-low - height:g}" '
        f'width="{width:g}" height="{height:g}"/>'
    )


def _dot(reading: Reading) -> str:
    return (
        f'<circle inkscape:label="reading {reading.mm:g}" stroke="{COLOURS["reading"]}" cx="{reading.x:.4f}" '
        f'cy="{-reading.y:.4f}" r="4"/>'
    )


def _text(reading: Reading) -> str:
    return (
        f'<text x="{reading.x + 6:.2f}" y="{-reading.y + 4:.2f}" font-size="11" font-family="sans-serif" '
        f'fill="{COLOURS["reading"]}">{reading.mm:g} mm</text>'
    )
