"""A frame of card stock that holds a panel in its place on the bed."""

from __future__ import annotations

from itertools import pairwise
from xml.sax.saxutils import quoteattr

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box

from ..geometry import TRUE_ARC_MM, Floats, largest_polygon, true_offset
from ..model import Curve, Layout
from .dxf import commented, entities
from .limits import DEFAULT, LaserLimits
from .load import BedLoad
from .registration import BedPose
from .svg import group, marked, page, path_data

OUTWARDS = {"left": (-1, 0), "right": (1, 0), "bottom": (0, -1), "top": (0, 1)}


def thin_sides(pose: BedPose, panel: Polygon, limits: LaserLimits = DEFAULT) -> list[str]:
    """The sides of the bed at which too little card would be left; a frame open to two opposite ones falls in two."""
    x0, y0, x1, y1 = pose.put(panel).bounds
    wide, high = pose.bed_mm
    cards = {"left": x0, "right": wide - x1, "bottom": y0, "top": high - y1}
    return [side for side, card in cards.items() if card + limits.touch_mm < limits.card_mm]


def holds_together(pose: BedPose, panel: Polygon, limits: LaserLimits = DEFAULT) -> bool:
    """Whether the card around a panel stays in one."""
    thin = set(thin_sides(pose, panel, limits))
    return not ({"left", "right"} <= thin or {"bottom", "top"} <= thin)


def frame_drawing(layout: Layout, load: BedLoad, panel: Polygon, limits: LaserLimits = DEFAULT) -> str:
    """An SVG of the bed that cuts the panel's shape out of a sheet of card laid against the stops.

    Parameters
    ----------
    layout : Layout
    load : BedLoad
        With a pose.
    panel : Polygon
        In hide coordinates, mm.
    limits : LaserLimits, optional

    Returns
    -------
    str
    """
    colour, (wide, high) = layout.workshop.colours["outline"], load.laid.bed_mm
    rows = [f"<path d={quoteattr(path_data(line, high))}/>" for line in _lines(layout, load, panel, limits)]
    return page(wide, high, _title(layout, load), _about(load), [group("outline", colour, rows)], marked(layout))


def frame_dxf(layout: Layout, load: BedLoad, panel: Polygon, limits: LaserLimits = DEFAULT) -> str:
    """The same as `frame_drawing` as DXF."""
    lines = [("outline", Curve.of(line)) for line in _lines(layout, load, panel, limits)]
    return commented([f"layout {layout.mark}", _title(layout, load), "unit: mm", *_about(load)]) + entities(lines)


def _title(layout: Layout, load: BedLoad) -> str:
    return f"Card frame for hide {load.hide}, panel {load.panel}, layout {layout.mark}"


def _about(load: BedLoad) -> list[str]:
    wide, high = load.laid.bed_mm
    return [
        f"A frame for panel {load.panel} of hide {load.hide}: lay a sheet of card of {wide:g} x {high:g} mm against "
        "the stops, cut it, leave it there and lay the panel into the hole.",
        "Card needs a setting of its own: try it on a scrap. It burns easily: stay with it.",
    ]


def _lines(layout: Layout, load: BedLoad, panel: Polygon, limits: LaserLimits) -> list[LineString]:
    """What is cut of the card, on the bed."""
    pose = load.laid
    margins, (wide, high) = layout.workshop.margins, pose.bed_mm
    shrunk = limits.play_mm - margins.kerf_mm / 2
    hole = max(true_offset(Polygon(pose.put(panel).exterior), shrunk).geoms, key=lambda hole: hole.area)
    hole = Polygon(hole.exterior)
    for side in thin_sides(pose, panel, limits):
        hole = _swept(hole, np.array(OUTWARDS[side]) * (wide + high))
    card = box(0, 0, wide, high)
    lines = shapely.line_merge(hole.boundary.intersection(card.buffer(-0.01))).simplify(TRUE_ARC_MM)
    return [LineString(line.coords) for line in shapely.get_parts(lines)]


def _swept(shape: Polygon, way: Floats) -> Polygon:
    """What a shape covers when it is pushed along a way."""
    points = np.asarray(shape.exterior.coords)[:, :2]
    sides = [Polygon([a, b, b + way, a + way]).buffer(0) for a, b in pairwise(points)]
    swept = shapely.union_all([shape, *(side for side in sides if side.area > 0)])
    return largest_polygon(swept) or shape
