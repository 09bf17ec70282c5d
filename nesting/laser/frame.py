"""A frame of card stock that holds a panel in its place on the bed."""

from __future__ import annotations

from xml.sax.saxutils import quoteattr

import shapely
from shapely.geometry import Polygon, box

from ..model import Layout
from .kerf import moved
from .load import BedLoad
from .svg import NOT_BURNT, group, page, path_data

BORDER_MM = 20.0
"""Card left between the hole and the stops, where the bed has room for it."""
PLAY_MM = 0.3
"""The hole is larger all round by this, so that leather drops into it."""
THIN_MM = 8.0
"""Where less card than this would be left beside the bed's edge, the hole is open to that side."""


def frame_drawing(layout: Layout, load: BedLoad, panel: Polygon) -> str:
    """An SVG of the bed that cuts the panel's shape out of a sheet of card laid against the stops.

    Parameters
    ----------
    layout : Layout
    load : BedLoad
        With a pose.
    panel : Polygon
        In hide coordinates, mm.

    Returns
    -------
    str
    """
    margins, (wide, high) = layout.workshop.margins, load.pose.bed_mm
    hole = moved(Polygon(load.pose.put(panel).exterior), PLAY_MM - margins.kerf_mm / 2)
    x0, y0, x1, y1 = hole.bounds
    opened = hole
    for near, side in (
        (x0, (0, y0, x0 + THIN_MM, y1)), (wide - x1, (x1 - THIN_MM, y0, wide, y1)),
        (y0, (x0, 0, x1, y0 + THIN_MM)), (high - y1, (x0, y1 - THIN_MM, x1, high)),
    ):  # fmt: skip
        if near < THIN_MM:
            opened = opened.union(box(*side))
    card = box(0, 0, wide, high)
    lines = shapely.line_merge(opened.boundary.intersection(card.buffer(-0.01)))
    colours = layout.workshop.colours
    about = [
        f"A frame for panel {load.panel} of hide {load.hide}: lay a sheet of card of {wide:g} x {high:g} mm against the "
        "stops, cut it, leave it there and lay the panel into the hole.",
        "Card needs a setting of its own: try it on a scrap. It burns easily: stay with it.",
    ]
    cut = group("outline", colours["outline"], [f"<path d={quoteattr(path_data(lines, high))}/>"])
    edge = f"<path d={quoteattr(path_data(card.exterior, high))}/>"
    guide = group(NOT_BURNT, colours["guide"], ["<title>Guide (not for burning)</title>", edge], ' data-burn="no"')
    return page(wide, high, f"Card frame for hide {load.hide}, panel {load.panel}", about, [cut, guide])
