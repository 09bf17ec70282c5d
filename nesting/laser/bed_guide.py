"""The guide of a bed load, in a file of its own: how the leather lies, its lettered points, and which part is which."""

from __future__ import annotations

import math
from xml.sax.saxutils import quoteattr

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from ..geometry import areal
from ..model import Layout, Machine, Placement
from .lettering import size_to_fit
from .limits import DEFAULT, LaserLimits
from .load import BedLoad
from .stages import points_on_bed
from .svg import LINE_MM, Sheet, curve_data, group, holdable, marked, page, path_data, title, words

GUIDE_MM = 0.3
STOP_MM = 1.5
TEXT_MM = (0.8, 5.0)
CROSS_MM = 4.0
ABOUT = "A guide to lay the leather by and to tell the parts by: not for burning."


def guide_drawing(layout: Layout, load: BedLoad, panel: Polygon, limits: LaserLimits = DEFAULT) -> str:
    """An SVG of the bed in mm at true size with the panel, the stops, the points to measure by and the parts' names.

    Parameters
    ----------
    layout : Layout
    load : BedLoad
        With a pose.
    panel : Polygon
        The leather on the bed, in hide coordinates.
    limits : LaserLimits, optional

    Returns
    -------
    str
        It lies exactly over the file to burn.
    """
    hide = next(hide for hide in layout.hides if hide.id == load.hide)
    sheet, colour, machine = Sheet(load), layout.workshop.colours["guide"], layout.workshop.machine
    parts = [
        f"<path d={quoteattr(curve_data(sheet.put(part.curves.outline), sheet.top, limits))}/>"
        for part in load.placements
    ]
    rows: list[str] = []
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
    names = [_part_name(placement, sheet) for placement in load.placements]
    look = f' data-burn="no" color={quoteattr(holdable(colour))}'
    groups = [
        group("panel", colour, rows, look, GUIDE_MM),
        group("parts", colour, parts, ' data-burn="no"', LINE_MM),
        *_inside(load, sheet, colour, limits),
        group("names", colour, names, look, LINE_MM),
    ]
    wide, high = sheet.pose.bed_mm
    return page(wide, high, f"Guide (not for burning): {title(layout, load)}", [ABOUT], groups, marked(layout))


def _inside(load: BedLoad, sheet: Sheet, colour: str, limits: LaserLimits) -> list[str]:
    """What the parts are told from each other by, lightly: cutouts and engraving as a path a part, stitch holes as
    dots."""
    lines, dots, sizes = list[str](), list[str](), list[float]()
    for part in load.placements:
        drawn = [*(hole.exterior for hole in part.cutouts), *part.engrave]
        for stitch in part.stitch:
            x0, y0, x1, y1 = stitch.bounds
            across = max(x1 - x0, y1 - y0)
            if stitch.is_closed and across <= limits.spot_mm:
                spot = sheet.pose.put(shapely.Point((x0 + x1) / 2, (y0 + y1) / 2))
                dots.append(f"M{_tenth(spot.x)},{_tenth(sheet.top - spot.y)}h0")
                sizes.append(across)
            else:
                drawn.append(stitch)
        data = "".join(_plainly(sheet.pose.put(line), sheet.top, limits.hinted_mm) for line in drawn)
        lines += [f"<path d={quoteattr(data)}/>"] if data else []
    look = ' data-burn="no" stroke-opacity="0.55"'
    found = [group("inside", colour, lines, look, LINE_MM)] if lines else []
    if dots:
        holes = [f"<path d={quoteattr(''.join(dots))}/>"]
        found.append(group("stitch-holes", colour, holes, f'{look} stroke-linecap="round"', round(max(sizes), 2)))
    return found


def _plainly(line: LineString, top: float, near_mm: float) -> str:
    """Path data as short as what is only looked at may be."""
    found = [f"{_tenth(x)},{_tenth(top - y)}" for x, y in shapely.get_coordinates(line.simplify(near_mm))]
    return f"M{' '.join(found[:-1])}z" if line.is_closed else f"M{' '.join(found)}"


def _tenth(value: float) -> str:
    return f"{round(value, 1):g}"


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
