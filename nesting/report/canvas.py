"""What every picture is made of: a canvas measured in inches, shapes with holes, a scale bar, a legend."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.patheffects import withStroke
from shapely.geometry import Polygon

from ..geometry import rings
from .labels import FONT, Label, shortened

Look = dict[str, Any]
"""How something is drawn: names and values as matplotlib has them."""
DPI = 150
"""Sharp on paper at the size of the picture, and no heavier than a page can bear."""
TEXT_PT, ROW_IN = 7.2, 0.165
"""Size of plain text and from line to line: small, and readable on paper."""
STYLE: Look = {
    "font.family": [FONT],
    "hatch.linewidth": 0.45,
    "svg.fonttype": "path",
    "svg.hashsalt": "nesting",
    "axes.linewidth": 0.6,
    "axes.unicode_minus": False,
}


@dataclass(frozen=True)
class Entry:
    """A line of a legend: a patch, a line or a number, and what it means."""

    text: str
    patch: Look = field(default_factory=dict)
    line: Look = field(default_factory=dict)
    number: str = ""


def style() -> AbstractContextManager[None]:
    """The drawing defaults, as a context; pyplot and its state are not used."""
    return rc_context(STYLE)  # type: ignore[arg-type]  # its names are listed there one by one


def new_figure(width_in: float, height_in: float) -> Figure:
    """An empty white figure."""
    figure = Figure(figsize=(width_in, height_in), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def map_axes(
    figure: Figure, left: float, bottom: float, bounds: tuple[float, float, float, float], inch_per_mm: float
) -> Axes:
    """Axes at a place in inches that show hide coordinates to scale, without ticks or frame."""
    x0, y0, x1, y1 = bounds
    axes = inch_axes(figure, left, bottom, (x1 - x0) * inch_per_mm, (y1 - y0) * inch_per_mm)
    axes.set(xlim=(x0, x1), ylim=(y0, y1))
    return axes


def inch_axes(figure: Figure, left: float, bottom: float, width: float, height: float) -> Axes:
    """Axes at a place in inches, whose coordinates are inches too, without ticks or frame."""
    full_width, full_height = figure.get_size_inches()
    axes = figure.add_axes((left / full_width, bottom / full_height, width / full_width, height / full_height))
    axes.set(xlim=(0, width), ylim=(0, height))
    axes.set_axis_off()
    return axes


def shape(polygon: Polygon, **look: Any) -> PathPatch:
    """A patch of a polygon; its holes stay open."""
    paths = [Path(np.asarray(ring.coords)[:, :2], closed=True) for ring in rings(polygon)]
    return PathPatch(Path.make_compound_path(*paths), **look)


def write(axes: Axes, label: Label, **look: Any) -> None:
    """Draw a label that was fitted into an area, with a light halo to stand out from lines and hatching."""
    axes.text(
        label.x, label.y, label.text, fontsize=label.size, rotation=label.angle, rotation_mode="anchor", ha="center",
        va="center_baseline" if "\n" not in label.text else "center", linespacing=1.05, parse_math=False,
        path_effects=[withStroke(linewidth=label.size / 4, foreground="white", alpha=0.85)], **look,
    )  # fmt: skip


def scale_bar(axes: Axes, right: float, y: float, inch_per_mm: float, most_in: float) -> None:
    """A two-tone bar of a round length, its right end at (right, y) inches."""
    length = max((n for n in (5, 10, 20, 50, 100, 200, 500, 1000, 2000) if n * inch_per_mm <= most_in), default=5)
    width = length * inch_per_mm
    for start, colour in ((0, "black"), (width / 2, "white")):
        axes.add_patch(
            Rectangle(
                (right - width + start, y),
                width / 2,
                0.06,
                facecolor=colour,
                edgecolor="black",
                linewidth=0.6,
                clip_on=False,
            )
        )
    words = f"{length} mm ({length / 25.4:.1f} in)"
    # words wider than the bar end where it ends
    wide = len(words) * 0.6 * TEXT_PT / 72 > width
    middle = right if wide else right - width / 2
    axes.text(middle, y - 0.04, words, ha="right" if wide else "center", va="top", fontsize=TEXT_PT)


def legend_height(sections: dict[str, list[Entry]], columns: int) -> float:
    """Height in inches of a legend."""
    return sum(ROW_IN * (1.35 + -(-len(entries) // columns)) for entries in sections.values() if entries)


def draw_legend(axes: Axes, sections: dict[str, list[Entry]], columns: int) -> None:
    """Write the sections of a legend from the top of axes in inches, each entry shortened to its column."""
    width, y = axes.get_xlim()[1] / columns, axes.get_ylim()[1]
    for heading, entries in sections.items():
        if not entries:
            continue
        axes.text(0, y - ROW_IN * 0.55, heading, fontsize=TEXT_PT, fontweight="bold", va="center")
        y -= ROW_IN * 1.15
        rows = -(-len(entries) // columns)
        for index, entry in enumerate(entries):
            left, middle = width * (index // rows), y - ROW_IN * (index % rows + 0.5)
            _swatch(axes, entry, left, middle)
            text = shortened(entry.text, TEXT_PT, (width - 0.45) * 72)
            axes.text(left + 0.36, middle, text, fontsize=TEXT_PT, va="center_baseline", parse_math=False)
        y -= ROW_IN * (rows + 0.2)


def _swatch(axes: Axes, entry: Entry, left: float, middle: float) -> None:
    if entry.patch:
        axes.add_patch(Rectangle((left, middle - 0.05), 0.29, 0.1, **entry.patch))
    if entry.line:
        ends = (left + 0.145,) if "marker" in entry.line else (left, left + 0.29)
        axes.add_line(Line2D(ends, (middle,) * len(ends), **entry.line))
    if entry.number:
        axes.text(
            left + 0.29, middle, entry.number, fontsize=TEXT_PT, fontweight="bold", ha="right", va="center_baseline"
        )
