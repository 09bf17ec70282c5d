"""The picture of a bed load on its card: the bed from above, the panel on it, every line and a number in each part."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from shapely.geometry import Polygon

from ..costs.money import Key
from ..laser.load import BedLoad
from ..laser.registration import BedPose
from ..laser.stages import points_on_bed
from ..model import OPERATIONS, Layout, Machine, Point
from .canvas import TEXT_PT, Look, Sheet, map_axes, new_figure, scale_bar, shape, style

WIDTH_IN, MOST_HEIGHT_IN = 7.2, 3.85
"""So that the picture is printed at its own size, and its letters too."""
FOOT_IN = 0.42
"""Room for a line of words and the scale bar."""
NUMBER_PT = (5.5, 12.0)
"""Least and greatest size of the numbers in the parts."""
AWAY_IN, ROOM_IN = 0.13, 0.25
"""A name stands so far from its cross; so far from what else is written it is clear of it."""
INSET_IN = 0.08
"""A name's middle keeps so far from the end of the bed."""
WIDTHS = {"engrave": 0.5, "stitch": 0.7, "cutout": 0.9, "outline": 1.1}
SAME_MM = 2.0
"""Points nearer to each other than this are one place for who lays leather by hand."""
FOLD = "#CC79A7"
"""Reddish purple of Okabe and Ito (2008), which no operation has by default."""
STOP: Look = {"linewidth": 3.2, "solid_capstyle": "butt"}
PASSED: Look = {"linewidth": 1.2, "linestyle": (0, (4, 2))}
STYLES: dict[str, Any] = {"engrave": (0, (1, 1)), "stitch": "solid", "cutout": "solid", "outline": "solid"}


def draw_bed(layout: Layout, load: BedLoad, pose: BedPose, panel: Polygon, numbers: Mapping[Key, int]) -> Figure:
    """Draw a load as it lies on the bed.

    Parameters
    ----------
    layout : Layout
    load : BedLoad
    pose : BedPose
        How it lies.
    panel : Polygon
        In hide coordinates.
    numbers : mapping of placement key to int
        What to write into each part.

    Returns
    -------
    Figure
    """
    hide = next(hide for hide in layout.hides if hide.id == load.hide)
    machine, (wide, high) = layout.workshop.machine, pose.bed_mm
    scale = min(WIDTH_IN / wide, MOST_HEIGHT_IN / high)
    with style():
        figure = new_figure(WIDTH_IN, high * scale + FOOT_IN)
        axes = map_axes(figure, (WIDTH_IN - wide * scale) / 2, FOOT_IN, (0, 0, wide, high), scale)
        axes.add_patch(Rectangle((0, 0), wide, high, facecolor="#E4E4E4", edgecolor="black", linewidth=0.8))
        axes.add_patch(shape(pose.put(panel), facecolor="#FFFFFF", edgecolor="black", linewidth=0.7))
        # what other stages burn: holes by then, or parts to come
        others = (part for part in layout.on(hide.id) if part.panel == load.panel and load.stage is not None)
        for part in others:
            if part not in load.placements:
                axes.add_patch(shape(pose.put(part.outline), facecolor="#EFEFEF", edgecolor="#9A9A9A", linewidth=0.5))
        _stops(axes, machine, load, wide, high)
        for operation in OPERATIONS:
            lines = [np.asarray(pose.put(burn.line).coords) for burn in load.lines if burn.operation == operation]
            axes.add_collection(
                LineCollection(
                    lines, colors=layout.workshop.colours[operation], linewidths=WIDTHS[operation],
                    linestyles=[STYLES[operation]],
                )
            )  # fmt: skip
        folds = [np.asarray(pose.put(fold).coords) for part in load.placements for fold in part.folds]
        axes.add_collection(LineCollection(folds, colors=FOLD, linewidths=0.8, linestyles=[(0, (5, 3))]))
        for burn in load.lines:
            if burn.fill is not None:
                look: Look = {"facecolor": layout.workshop.colours["engrave"], "edgecolor": "none", "alpha": 0.35}
                axes.add_patch(shape(pose.put(burn.fill), **look))
        taken: list[Point] = []
        for part in load.placements:
            outline = pose.put(part.outline)
            circle = shapely.maximum_inscribed_circle(outline, tolerance=0.5)
            middle = shapely.Point(circle.coords[0])
            size = float(np.clip(1.1 * circle.length * scale * 72, *NUMBER_PT))
            taken.append((middle.x, middle.y))
            axes.text(
                middle.x, middle.y, str(numbers[part.key]), fontsize=size, fontweight="bold", ha="center",
                va="center_baseline",
            )  # fmt: skip
        for name, point in _together(points_on_bed(load.stage, pose, panel, hide)).items():
            _name(axes, name, pose.put(shapely.Point(point)), pose.put(panel), scale, (wide, high), taken)
        foot = Sheet(figure, 0, 0, WIDTH_IN, FOOT_IN)
        foot.text(
            WIDTH_IN / 2, FOOT_IN - 0.09,
            f"Bed {wide:g} × {high:g} mm from above; thick lines: stops; A, B: points to measure; "
            f"numbers: parts{'; dashed: folds' if folds else ''}{'; grey: other stages' if load.stage else ''}.",
            fontsize=TEXT_PT - 0.6, va="top", ha="center",
        )  # fmt: skip
        scale_bar(foot, WIDTH_IN - 0.3, FOOT_IN - 0.2, scale, 0.9)
    return figure


def _together(points: Mapping[str, Point]) -> dict[str, Point]:
    """Points by name, those at one place under all of their names."""
    found: dict[str, Point] = {}
    for name, point in points.items():
        same = next((other for other, there in found.items() if np.hypot(*np.subtract(point, there)) < SAME_MM), None)
        if same is None:
            found[name] = point
        else:
            found[f"{same}, {name}"] = found.pop(same)
    return found


def _stops(axes: Axes, machine: Machine, load: BedLoad, wide: float, high: float) -> None:
    """The stops; where leather is fed on past one, the end of the usable bed instead."""
    inset = machine.bed_margin_mm
    left, right, bottom, top = inset, wide - inset, inset, high - inset
    ends = {
        "bottom": ((left, right), (bottom, bottom)), "top": ((left, right), (top, top)),
        "left": ((left, left), (bottom, top)), "right": ((right, right), (bottom, top)),
    }  # fmt: skip
    for side in machine.bed_stop.split():
        passed = load.stage is not None and load.stage.fed_mm and side == load.stage.towards
        axes.plot(*ends[side], color="black", clip_on=False, **(PASSED if passed else STOP))


def _name(
    axes: Axes, name: str, point: shapely.Point, panel: Polygon, scale: float, bed: Point, taken: list[Point]
) -> None:
    """Beside its cross, on the bed, where it is farthest from what is written; of equals towards the panel's middle."""
    away = np.array([panel.centroid.x - point.x, panel.centroid.y - point.y])
    turns = np.arctan2(away[1], away[0]) + np.radians([0, 45, -45, 90, -90, 135, -135, 180])
    spots = [(point.x + c, point.y + s) for c, s in AWAY_IN / scale * np.column_stack([np.cos(turns), np.sin(turns)])]
    inset = INSET_IN / scale
    on = [s for s in spots if inset < s[0] < bed[0] - inset and inset < s[1] < bed[1] - inset]
    spots = on or spots[:1]
    clear = [min([np.hypot(*np.subtract(spot, other)) for other in taken] or [np.inf]) for spot in spots]
    x, y = spots[int(np.argmax(np.minimum(clear, ROOM_IN / scale)))]
    taken.append((x, y))
    axes.plot(point.x, point.y, marker="+", color="black", markersize=7, markeredgewidth=0.9, clip_on=False)
    axes.text(
        x, y, name, fontsize=8, ha="center", va="center",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
    )  # fmt: skip
