"""The drawing of one hide's bed loads as SVG text."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape, quoteattr

import numpy as np
import shapely
import shapely.ops
from shapely.geometry import LineString, Polygon

from ..model import OPERATIONS, Hide, Layout, Placement
from .cautions import CAUTIONS
from .load import BedLoad, BurnLine

BORDER_MM = 5.0
LINE_MM = 0.1
GUIDE_MM = 0.3
TEXT_MM = (1.5, 6.0)
LETTER = 0.6
"""Width of a letter over its height, about, in a plain sans-serif."""


def drawing(layout: Layout, hide: Hide, loads: Sequence[BedLoad], turns: Mapping[str, float | None]) -> str:
    """An SVG in mm at true size: a group an operation in burning order, then a guide that is not for burning.

    Parameters
    ----------
    layout : Layout
    hide : Hide
        Must have a setting in the layout.
    loads : sequence of BedLoad
        Within each group the loads follow one another.
    turns : mapping of str to float or None
        For each panel, the angle in degrees that makes it fit the bed, if any does.

    Returns
    -------
    str
        The burning groups hold plain paths only. y points down, as SVG has it; nothing is mirrored.
    """
    x0, y0, x1, y1 = shapely.bounds(hide.outline) + np.array([-1, -1, 1, 1]) * BORDER_MM
    sheet = _Sheet(x0, y1)
    several = len(turns) > 1
    groups = []
    for operation in OPERATIONS:
        burnt = [(load, line) for load in loads for line in load.lines if line.operation == operation]
        paths = [
            f"<path id={quoteattr(_id(number, load, line, several))} d={quoteattr(sheet.path(line.line))}/>"
            for number, (load, line) in enumerate(burnt, 1)
        ]
        colour = quoteattr(_text(layout.workshop.colours[operation]))
        groups.append(_group(f'id="{operation}" fill="none" stroke={colour} stroke-width="{LINE_MM}"', paths))
    guide = _guide(layout, hide, turns, sheet)
    about = "\n".join(_about(layout, hide, turns))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{x1 - x0:.4f}mm" height="{y1 - y0:.4f}mm" '
        f'viewBox="0 0 {x1 - x0:.4f} {y1 - y0:.4f}">\n'
        f"<title>{_escaped(f'Hide {hide.id}')}</title>\n<desc>\n{_escaped(about)}\n</desc>\n"
        + "\n".join([*groups, guide, "</svg>\n"])
    )


class _Sheet:
    """From hide coordinates to those of the drawing."""

    def __init__(self, left: float, top: float):
        self.left, self.top = left, top

    def point(self, x: float, y: float) -> str:
        return f"{x - self.left:.4f},{self.top - y:.4f}"

    def path(self, line: LineString) -> str:
        closed = line.is_closed and len(line.coords) > 3
        points = [self.point(x, y) for x, y, *_ in (line.coords[:-1] if closed else line.coords)]
        return "M" + " L".join(points) + (" Z" if closed else "")


def _about(layout: Layout, hide: Hide, turns: Mapping[str, float | None]) -> list[str]:
    setting, machine, kerf = layout.settings[hide.id], layout.workshop.machine, layout.workshop.margins.kerf_mm
    lines = [
        f"Setting {setting.name} for stitch, cutout and outline: speed {setting.speed_mm_s:g} mm/s, "
        f"power {setting.power_percent:g} % of {machine.rated_w:g} W, passes {setting.passes}; tested at "
        f"{setting.thickness_mm:g} mm, cuts clean from {setting.thinnest_mm:g} to {setting.thickest_mm:g} mm; "
        f"machine {machine.name}.",
        f"Lines are moved by half the kerf of {kerf:g} mm, so that finished parts are true to size.",
        f"Burn the groups in this order: {', '.join(OPERATIONS)}.",
        "The last group is a guide and not for burning: hide or delete it.",
    ]
    if any(placement.engrave for placement in layout.on(hide.id)):
        lines.append(
            f"The setting is not for engraving, which is timed at {machine.engrave_mm_s:g} mm/s: "
            "find its power on a scrap first."
        )
    if len(turns) > 1:
        lines.append(
            f"The hide is cut along the knife lines into the panels {', '.join(turns)}: "
            "burn one at a time, its lines moved to the bed."
        )
    turned = [f"Panel {panel} fits the bed turned by {angle:g} degrees." for panel, angle in turns.items() if angle]
    return [*lines, *turned, *CAUTIONS]


def _guide(layout: Layout, hide: Hide, turns: Mapping[str, float | None], sheet: _Sheet) -> str:
    edges = [LineString(ring.coords) for ring in (hide.outline.exterior, *hide.outline.interiors)]
    panels = [panel for panel in layout.panels if panel.hide == hide.id]
    rows = ["<title>Guide (not for burning)</title>"]
    rows += [f"<path d={quoteattr(sheet.path(edge))}/>" for edge in edges]
    colour = _text(layout.workshop.colours["guide"])
    if len(panels) > 1:
        knives = _knife_lines(hide, [panel.polygon for panel in panels])
        rows += [f'<path stroke-dasharray="6 3" d={quoteattr(sheet.path(line))}/>' for line in knives]
        rows += [_panel_name(panel.id, turns.get(panel.id), panel.polygon, sheet) for panel in panels]
    rows += [_part_name(placement, sheet) for placement in layout.on(hide.id)]
    return _group(
        f'id="guide-not-for-burning" data-burn="no" fill="none" stroke={quoteattr(colour)} stroke-width="{GUIDE_MM}" '
        f'color={quoteattr(colour)} font-family="sans-serif" text-anchor="middle"',
        rows,
    )


def _knife_lines(hide: Hide, panels: list[Polygon]) -> list[LineString]:
    """The borders between panels, each once: what of their edges is not the edge of the hide."""
    near = hide.outline.boundary.buffer(0.01)
    lines = shapely.union_all([panel.boundary for panel in panels], grid_size=0.001).difference(near)
    merged = shapely.get_parts(shapely.line_merge(lines))
    return [line for line in merged if line.geom_type == "LineString" and line.length > 0.1]


def _part_name(placement: Placement, sheet: _Sheet) -> str:
    """Order and part, along the part's longer side and as large as fits."""
    corners = np.asarray(placement.outline.minimum_rotated_rectangle.exterior.coords)
    sides = np.diff(corners, axis=0)[:2]
    lengths = np.hypot(*sides.T)
    along = sides[int(np.argmax(lengths))]
    turn = (math.degrees(math.atan2(along[1], along[0])) + 90.0) % 180.0 - 90.0
    middle = shapely.get_point(shapely.maximum_inscribed_circle(placement.outline, tolerance=0.5), 0)
    spot = np.array(middle.coords[0])
    chords = shapely.get_parts(LineString([spot - along, spot + along]).intersection(placement.outline))
    chord = min(chords, key=middle.distance)
    size = min(TEXT_MM[1], 0.5 * lengths.min(), 0.9 * chord.length / (LETTER * max(1, len(placement.label))))
    x, y = chord.interpolate(0.5, normalized=True).coords[0]
    return _name(placement.label, x, y, max(size, TEXT_MM[0]), turn, sheet)


def _panel_name(panel: str, turn: float | None, polygon: Polygon, sheet: _Sheet) -> str:
    x0, _, _, y1 = polygon.bounds
    inner = polygon.buffer(-5 * TEXT_MM[1])
    if inner.is_empty:
        spot = polygon.representative_point()
    else:
        spot = shapely.ops.nearest_points(inner, shapely.Point(x0, y1))[0]
    text = f"panel {panel}" + (f", turn {turn:g}°" if turn else "")
    return _name(text, spot.x, spot.y, TEXT_MM[1], 0.0, sheet)


def _name(text: str, x: float, y: float, size: float, turn: float, sheet: _Sheet) -> str:
    turned = f"translate({sheet.point(x, y)}) rotate({0.0 - round(turn, 2):.2f})"
    return (
        f'<text transform="{turned}" y="{0.35 * size:.2f}" font-size="{size:.2f}" fill="currentColor" stroke="none">'
        f"{_escaped(text)}</text>"
    )


def _group(attributes: str, rows: list[str]) -> str:
    return f"<g {attributes}>\n" + "".join(f"  {row}\n" for row in rows) + "</g>"


def _id(number: int, load: BedLoad, burnt: BurnLine, several: bool) -> str:
    part = burnt.placement
    panel = [f"panel-{load.panel}"] if several else []
    twin = ["mirrored"] if part.mirrored else []
    words = [burnt.operation, number, *panel, part.order, part.part, part.piece, part.copy, *twin]
    return re.sub(r"[^A-Za-z0-9_-]+", "-", "-".join(map(str, words)))[:200]


def _escaped(text: str) -> str:
    return escape(_text(text))


def _text(text: str) -> str:
    """Without the characters that XML cannot hold."""
    return re.sub("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "", text)
