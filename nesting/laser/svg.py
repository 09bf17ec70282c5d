"""The drawing of one bed load as SVG text, in the coordinates of the bed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape, quoteattr

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from ..geometry import areal, rings
from ..model import OPERATIONS, Hide, Layout, Machine, Placement, Setting
from .cautions import CAUTIONS
from .entry import is_ring
from .lettering import lettered, size_to_fit
from .limits import DEFAULT, LaserLimits
from .load import BedLoad, BurnLine
from .stages import points_on_bed

LINE_MM = 0.1
GUIDE_MM = 0.3
STOP_MM = 1.5
TEXT_MM = (0.8, 5.0)
CROSS_MM = 4.0
NOT_BURNT = "guide-not-for-burning"


def drawing(layout: Layout, load: BedLoad, panel: Polygon, limits: LaserLimits = DEFAULT) -> str:
    """An SVG of the bed in mm at true size: a group an operation in burning order, then a guide not for burning.

    Parameters
    ----------
    layout : Layout
    load : BedLoad
        With a setting and a pose.
    panel : Polygon
        The leather on the bed, in hide coordinates.
    limits : LaserLimits, optional

    Returns
    -------
    str
        Plain paths only. The page is the bed seen from above, y down as SVG has it; nothing is mirrored.
    """
    hide = next(hide for hide in layout.hides if hide.id == load.hide)
    sheet = Sheet(load)
    colours = layout.workshop.colours
    groups = []
    for operation in OPERATIONS:
        burnt = [line for line in load.lines if line.operation == operation]
        rows = [_burnt(number, line, sheet, colours[operation]) for number, line in enumerate(burnt, 1)]
        groups.append(group(operation, colours[operation], rows))
    groups.append(_guide(layout, hide, load, panel, sheet, limits))
    title = f"Hide {hide.id}, panel {load.panel}"
    if load.stage:
        title += f", stage {load.stage.number} of {load.stage.of}"
    wide, high = sheet.pose.bed_mm
    return page(wide, high, f"{title}, layout {layout.mark}", _about(layout, load), groups, marked(layout))


class Sheet:
    """From hide coordinates to those of a page that is the bed."""

    def __init__(self, load: BedLoad) -> None:
        self.pose, self.top = load.laid, load.laid.bed_mm[1]

    def path(self, shape: BaseGeometry) -> str:
        """The path data of a line, of lines, or of a polygon with its holes."""
        return path_data(self.pose.put(shape), self.top)


def page(
    width_mm: float, height_mm: float, title: str, about: Iterable[str], groups: Iterable[str], others: str = ""
) -> str:
    """A whole SVG in mm at true size; ``others`` are more attributes of its root."""
    wide, high = f"{width_mm:.4f}", f"{height_mm:.4f}"
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{wide}mm" height="{high}mm" '
        f'viewBox="0 0 {wide} {high}"{others}>\n'
        f"<title>{escaped(title)}</title>\n<desc>\n{escaped(chr(10).join(about))}\n</desc>\n"
        + "\n".join([*groups, "</svg>\n"])
    )


def marked(layout: Layout) -> str:
    """The attribute of a drawing's root that tells which layout it is of."""
    return f' data-layout="{layout.mark}"'


def group(id: str, colour: str, rows: Sequence[str], others: str = "", width_mm: float = LINE_MM) -> str:
    """A group of paths of one colour."""
    head = f'<g id="{id}" fill="none" stroke={quoteattr(holdable(colour))} stroke-width="{width_mm}"{others}>\n'
    return head + "".join(f"  {row}\n" for row in rows) + "</g>"


def path_data(shape: BaseGeometry, top: float) -> str:
    """SVG path data of lines and polygons given with y up, for a page whose top lies at ``top``."""
    texts = []
    for line in (line for bit in shapely.get_parts(shape) for line in rings(bit) or [bit]):
        points = np.asarray(line.coords)[:, :2]
        closed = is_ring(line)
        corners = [f"{x:.4f},{y:.4f}" for x, y in np.column_stack([points[:, 0], top - points[:, 1]]) + 0.0]
        texts.append("M" + " L".join(corners[:-1] if closed else corners) + (" Z" if closed else ""))
    return " ".join(texts)


def words(text: str, x: float, y: float, size: float, top: float, turn: float = 0.0, anchor: str = "middle") -> str:
    """Filled letters as one path, with the words as its title."""
    lines = lettered(holdable(text), x, y, size, turn, anchor)
    return (
        f'<path fill="currentColor" fill-rule="evenodd" stroke="none" d={quoteattr(path_data(lines, top))}>'
        f"<title>{escaped(text)}</title></path>"
    )


def escaped(text: str) -> str:
    """Text as XML can hold it."""
    return escape(holdable(text))


def setting_words(setting: Setting, rated_w: float) -> str:
    """A setting in one line."""
    fill = f", rows {setting.line_spacing_mm:g} mm apart" if setting.line_spacing_mm else ""
    return (
        f"{setting.name}: speed {setting.speed_mm_s:.4g} mm/s, power {setting.power_percent:.3g} % of {rated_w:g} W, "
        f"passes {setting.passes}{fill}"
    )


def _burnt(number: int, burnt: BurnLine, sheet: Sheet, colour: str) -> str:
    name = quoteattr(_id(number, burnt))
    if burnt.fill is not None:
        look = f' fill={quoteattr(holdable(colour))} fill-rule="evenodd" stroke="none"'
        return f"<path id={name}{look} d={quoteattr(sheet.path(burnt.fill))}/>"
    return f"<path id={name} d={quoteattr(sheet.path(burnt.line))}/>"


def _about(layout: Layout, load: BedLoad) -> list[str]:
    machine, kerf, setting = layout.workshop.machine, layout.workshop.margins.kerf_mm, load.setting
    if setting is None:
        raise ValueError(f"panel {load.panel} of hide {load.hide} has no setting to burn it with")
    present = {line.operation for line in load.lines}
    lines = [
        f"Lay the panel by {load.laid.how}."
        if load.laid.how.startswith("its")
        else f"Laying the panel: {load.laid.how}.",
        f"Setting for stitch, cutout and outline: {setting_words(setting, machine.rated_w)}; {setting.basis}; "
        f"{setting.thickness_mm:g} mm, cuts clean from {setting.thinnest_mm:.3g} to {setting.thickest_mm:.3g} mm; "
        f"machine {machine.name}.",
        f"Lines are moved by half the kerf of {kerf:g} mm, so that finished parts are true to size.",
        f"Burn the groups in this order: {', '.join(OPERATIONS)}.",
        "The last group is a guide and not for burning: hide or delete it.",
    ]
    if "engrave" in present:
        if load.engraving:
            lines.insert(
                2, f"Setting for engrave: {setting_words(load.engraving, machine.rated_w)}; {load.engraving.basis}."
            )
        else:
            lines.insert(2, "There is no tested setting for engraving: find its power on a scrap first.")
    return [*lines, *CAUTIONS]


def _guide(layout: Layout, hide: Hide, load: BedLoad, panel: Polygon, sheet: Sheet, limits: LaserLimits) -> str:
    colour, machine = layout.workshop.colours["guide"], layout.workshop.machine
    rows = ["<title>Guide (not for burning)</title>"]
    if load.stage is not None:
        # only what lies on the bed
        bed = shapely.box(0, 0, *sheet.pose.bed_mm)
        shown = areal(sheet.pose.put(panel).intersection(bed))
        rows.append(f'<path id="panel-outline" d={quoteattr(path_data(shown, sheet.top))}/>')
    else:
        rows.append(f'<path id="panel-outline" d={quoteattr(sheet.path(panel))}/>')
    for side, d in _stops(machine, load):
        # leather that is fed on goes past the stop: what is left of it is the end of the usable bed
        passed = load.stage is not None and load.stage.fed_mm and side == load.stage.towards
        name, width = (f"{side}-end", GUIDE_MM) if passed else (f"{side}-stop", STOP_MM)
        rows.append(f'<path id="{name}" stroke-width="{width}" d={quoteattr(d)}/>')
    for name, point in points_on_bed(load.stage, sheet.pose, panel, hide, limits).items():
        x, y = sheet.pose.put(shapely.Point(point)).coords[0]
        rows.append(_cross(x, y, sheet.top))
        rows.append(_point_name(name, x, y, sheet.top, sheet.pose.put(panel)))
    rows += [_part_name(placement, sheet) for placement in load.placements]
    others = f' data-burn="no" color={quoteattr(holdable(colour))}'
    return group(NOT_BURNT, colour, rows, others, GUIDE_MM)


def _stops(machine: Machine, load: BedLoad) -> list[tuple[str, str]]:
    """The edges of the usable bed against which leather is laid, drawn on their outer side where there is room."""
    wide, high = load.laid.bed_mm
    inset = max(STOP_MM / 2, machine.bed_margin_mm - STOP_MM / 2)
    left, right, bottom, top = inset, wide - inset, inset, high - inset
    sides = {
        "bottom": LineString([(left, bottom), (right, bottom)]), "top": LineString([(left, top), (right, top)]),
        "left": LineString([(left, bottom), (left, top)]), "right": LineString([(right, bottom), (right, top)]),
    }  # fmt: skip
    return [(side, path_data(sides[side], high)) for side in machine.bed_stop.split()]


def _cross(x: float, y: float, top: float) -> str:
    half = CROSS_MM / 2
    arms = shapely.MultiLineString([[(x - half, y), (x + half, y)], [(x, y - half), (x, y + half)]])
    return f"<path d={quoteattr(path_data(arms, top))}/>"


def _point_name(name: str, x: float, y: float, top: float, panel: Polygon) -> str:
    """Beside its cross, on the bed and towards the panel's middle."""
    middle = panel.centroid
    away = math.hypot(middle.x - x, middle.y - y) or 1.0
    x, y = x + 6.0 * (middle.x - x) / away, y + 6.0 * (middle.y - y) / away
    return words(name, x, y, 4.0, top)


def _part_name(placement: Placement, sheet: Sheet) -> str:
    """Order and part, along the part's longer side and as large as fits."""
    outline = sheet.pose.put(placement.outline)
    corners = shapely.get_coordinates(outline.minimum_rotated_rectangle)
    sides = np.diff(corners, axis=0)[:2]
    lengths = np.hypot(*sides.T)
    along = sides[int(np.argmax(lengths))]
    turn = (math.degrees(math.atan2(along[1], along[0])) + 90.0) % 180.0 - 90.0
    middle = shapely.get_point(shapely.maximum_inscribed_circle(outline, tolerance=0.5), 0)
    spot = np.array(middle.coords[0])
    chords = shapely.get_parts(LineString([spot - along, spot + along]).intersection(outline))
    chord = min(chords, key=middle.distance)
    size = max(
        size_to_fit(holdable(placement.label), 0.9 * chord.length, min(TEXT_MM[1], 0.4 * lengths.min())), TEXT_MM[0]
    )
    x, y = chord.interpolate(0.5, normalized=True).coords[0]
    return words(placement.label, x, y, size, sheet.top, turn)


def _id(number: int, burnt: BurnLine) -> str:
    part = burnt.placement
    twin = ["mirrored"] if part.mirrored else []
    name = [burnt.operation, number, part.order, part.part, part.piece, part.copy, *twin]
    return re.sub(r"[^A-Za-z0-9_-]+", "-", "-".join(map(str, name)))[:200]


def holdable(text: str) -> str:
    """Without the characters that XML cannot hold."""
    return re.sub("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "", text)
