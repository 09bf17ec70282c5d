"""The picture of a bed load on its card: the bed from above, the panel on it, every line and a number in each part."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import shapely
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from ..laser.load import BedLoad
from ..laser.stages import points_on_bed
from ..layout import Layout
from ..model import OPERATIONS
from .canvas import TEXT_SIZE, inch_axes, map_axes, new_figure, scale_bar, shape, style

WIDTH_IN = 7.2
MOST_HEIGHT_IN = 5.2
FOOT_IN = 0.42
WIDTHS = {"engrave": 0.5, "stitch": 0.7, "cutout": 0.9, "outline": 1.1}
STYLES = {"engrave": (0, (1, 1)), "stitch": "solid", "cutout": "solid", "outline": "solid"}


def draw_bed(layout: Layout, load: BedLoad, panel, numbers: Mapping[tuple, int]) -> Figure:
    """Draw a load as it lies on the bed.

    Parameters
    ----------
    layout : Layout
    load : BedLoad
        With a pose.
    panel : Polygon
        In hide coordinates.
    numbers : mapping of placement key to int
        What to write into each part.

    Returns
    -------
    Figure
    """
    hide = next(hide for hide in layout.hides if hide.id == load.hide)
    machine, (wide, high) = layout.workshop.machine, load.pose.bed_mm
    scale = min(WIDTH_IN / wide, MOST_HEIGHT_IN / high)
    with style():
        figure = new_figure(WIDTH_IN, high * scale + FOOT_IN)
        axes = map_axes(figure, (WIDTH_IN - wide * scale) / 2, FOOT_IN, (0, 0, wide, high), scale)
        axes.add_patch(Rectangle((0, 0), wide, high, facecolor="#E4E4E4", edgecolor="black", linewidth=0.8))
        axes.add_patch(shape(load.pose.put(panel), facecolor="#FFFFFF", edgecolor="black", linewidth=0.7))
        _stops(axes, machine, wide, high)
        for operation in OPERATIONS:
            lines = [np.asarray(load.pose.put(burn.line).coords) for burn in load.lines if burn.operation == operation]
            axes.add_collection(
                LineCollection(
                    lines, colors=layout.workshop.colours[operation], linewidths=WIDTHS[operation],
                    linestyles=[STYLES[operation]],
                )
            )  # fmt: skip
        for burn in load.lines:
            if burn.fill is not None:
                look = {"facecolor": layout.workshop.colours["engrave"], "edgecolor": "none", "alpha": 0.35}
                axes.add_patch(shape(load.pose.put(burn.fill), **look))
        for part in load.placements:
            outline = load.pose.put(part.outline)
            middle = shapely.get_point(shapely.maximum_inscribed_circle(outline, tolerance=0.5), 0)
            radius = shapely.maximum_inscribed_circle(outline, tolerance=0.5).length
            size = float(np.clip(1.1 * radius * scale * 72, 5.5, 12))
            axes.text(
                middle.x, middle.y, str(numbers[part.key]), fontsize=size, fontweight="bold", ha="center",
                va="center_baseline",
            )  # fmt: skip
        for name, point in points_on_bed(load.stage, load.pose, panel, hide).items():
            _name(axes, name, load.pose.put(shapely.Point(point)), load.pose.put(panel), scale)
        foot = inch_axes(figure, 0, 0, WIDTH_IN, FOOT_IN)
        left = (WIDTH_IN - wide * scale) / 2
        foot.text(
            left, FOOT_IN - 0.09, f"Bed {wide:g} × {high:g} mm seen from above; thick lines: the stops; A, B: points to measure; "
            "numbers: the list of pieces.", fontsize=TEXT_SIZE - 0.6, va="top",
        )  # fmt: skip
        scale_bar(foot, WIDTH_IN - max(left, 0.25), FOOT_IN - 0.2, scale, 0.9)
    return figure


def _stops(axes, machine, wide: float, high: float) -> None:
    inset = machine.bed_margin_mm
    left, right, bottom, top = inset, wide - inset, inset, high - inset
    ends = {
        "bottom": ((left, right), (bottom, bottom)), "top": ((left, right), (top, top)),
        "left": ((left, left), (bottom, top)), "right": ((right, right), (bottom, top)),
    }  # fmt: skip
    for side in machine.bed_stop.split():
        axes.plot(*ends[side], color="black", linewidth=3.2, solid_capstyle="butt", clip_on=False)


def _name(axes, name: str, point, panel, scale: float) -> None:
    away = np.array([panel.centroid.x - point.x, panel.centroid.y - point.y])
    shift = away / (np.hypot(*away) or 1.0) * 0.12 / scale
    axes.plot(point.x, point.y, marker="+", color="black", markersize=7, markeredgewidth=0.9, clip_on=False)
    axes.text(
        point.x + shift[0], point.y + shift[1], name, fontsize=8, ha="center", va="center",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
    )  # fmt: skip
