"""What every picture is made of: a canvas measured in inches, shapes with holes, a scale bar, a legend."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import shapely
from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Affine2D, Transform
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from ..geometry import Floats, rings
from .labels import FONT, Label, quiet, shortened

Look = dict[str, Any]
"""How something is drawn: names and values as matplotlib has them."""
DPI = 150
"""Sharp on paper at the size of the picture, and no heavier than a page can bear."""
TEXT_PT, ROW_IN = 7.2, 0.165
"""Size of plain text and from line to line: small, and readable on paper."""
LINE = 1.05
"""From line to line of a label, over its size."""
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
    full_width, full_height = figure.get_size_inches()
    width, height = (x1 - x0) * inch_per_mm, (y1 - y0) * inch_per_mm
    axes = figure.add_axes((left / full_width, bottom / full_height, width / full_width, height / full_height))
    axes.set(xlim=(x0, x1), ylim=(y0, y1))
    axes.set_axis_off()
    return axes


@dataclass(frozen=True)
class Sheet:
    """A rectangle of a figure to write and draw on, measured in inches from its bottom left corner.

    Matplotlib's axes do that too, with ticks, frame and scales that take longer to make than all that stands on them.
    """

    figure: Figure
    left: float
    bottom: float
    width: float
    height: float

    @property
    def _place(self) -> Transform:
        return Affine2D().translate(self.left, self.bottom) + self.figure.dpi_scale_trans

    def text(self, x: float, y: float, text: str, **look: Any) -> None:
        """Write something."""
        self.figure.text(x, y, text, transform=self._place, **look)

    def add(self, artist: Artist) -> None:
        """Draw something."""
        artist.set_transform(self._place)
        self.figure.add_artist(artist)

    def line(self, xs: Sequence[float], ys: Sequence[float], **look: Any) -> None:
        """Draw a line, or a marker at each place."""
        self.add(Line2D(xs, ys, **look))


def shape(area: BaseGeometry | Sequence[BaseGeometry], **look: Any) -> PathPatch:
    """One patch of a polygon, or of many that look alike and do not overlap; their holes stay open."""
    edges = [ring for one in (area if isinstance(area, Sequence) else (area,)) for ring in rings(one)]
    points, first, last = _joined(edges)
    codes = np.full(len(points), Path.LINETO, Path.code_type)
    codes[first], codes[last] = Path.MOVETO, Path.CLOSEPOLY
    return PathPatch(Path(points, codes), **look)


def strokes(lines: Sequence[LineString], **look: Any) -> PathPatch:
    """One patch of many lines that look alike."""
    points, first, _ = _joined(lines)
    codes = np.full(len(points), Path.LINETO, Path.code_type)
    codes[first] = Path.MOVETO
    path = Path(points, codes)
    path.should_simplify = False
    return PathPatch(path, facecolor="none", joinstyle="round", **look)


def _joined(lines: Sequence[BaseGeometry]) -> tuple[Floats, npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """The points of lines one after another, and where each begins and ends."""
    points, owner = shapely.get_coordinates(list(lines), return_index=True)
    turns = np.flatnonzero(np.diff(owner))
    return points, np.r_[0, turns + 1][: len(points)], np.r_[turns, len(points) - 1][: len(points)]


def write(axes: Axes, labels: Sequence[Label], points_per_mm: float, zorder: float = 8.0, **look: Any) -> None:
    """Draw labels that were fitted into areas, each with a light halo to stand out from lines and hatching."""
    halos: dict[float, list[Path]] = {}
    for label in labels:
        turn = Affine2D().scale(label.size / points_per_mm).rotate_deg(label.angle).translate(label.x, label.y)
        path = _glyphs(label.text, **look).transformed(turn)
        halos.setdefault(label.size, []).append(path)
        axes.add_artist(PathPatch(path, facecolor="black", linewidth=0, zorder=zorder, label=label.text))
    for size, paths in halos.items():
        halo: Look = {"linewidth": size / 4, "edgecolor": "white", "alpha": 0.85, "joinstyle": "round"}
        under = Path.make_compound_path(*paths)
        axes.add_artist(PathPatch(under, facecolor="none", zorder=zorder - 0.01, **halo))


@lru_cache(maxsize=1024)
def _glyphs(text: str, weight: str = "normal", style: Literal["normal", "italic"] = "normal") -> Path:
    """Outlines of a text one point high, its middle at (0, 0)."""
    font = FontProperties(family=FONT, weight=weight, style=style, size=100)
    paths, lines = [], text.split("\n")
    with quiet():
        for number, line in enumerate(lines):
            width, height, descent = text_to_path.get_text_width_height_descent(line, font, ismath=False)
            # one line is set half way between its middle and that of its letters above the baseline
            low = (2 * descent - height) / 2 + LINE * 100 * ((len(lines) - 1) / 2 - number)
            if len(lines) == 1:
                low = (2 * descent - height - LINE * 100) / 4
            points, codes = text_to_path.get_text_path(font, line, ismath=False)
            paths.append(Path((np.reshape(points, (-1, 2)) + (-width / 2, low)) / 100, codes))
    return Path.make_compound_path(*paths)


def scale_bar(sheet: Sheet, right: float, y: float, inch_per_mm: float, most_in: float) -> None:
    """A two-tone bar of a round length, its right end at (right, y) inches."""
    length = max((n for n in (5, 10, 20, 50, 100, 200, 500, 1000, 2000) if n * inch_per_mm <= most_in), default=5)
    width = length * inch_per_mm
    for start, colour in ((0, "black"), (width / 2, "white")):
        bar = Rectangle((right - width + start, y), width / 2, 0.06, facecolor=colour, edgecolor="black", linewidth=0.6)
        sheet.add(bar)
    words = f"{length} mm ({length / 25.4:.1f} in)"
    # words wider than the bar end where it ends
    wide = len(words) * 0.6 * TEXT_PT / 72 > width
    middle = right if wide else right - width / 2
    sheet.text(middle, y - 0.04, words, ha="right" if wide else "center", va="top", fontsize=TEXT_PT)


def legend_height(sections: dict[str, list[Entry]], columns: int) -> float:
    """Height in inches of a legend."""
    return sum(ROW_IN * (1.35 + -(-len(entries) // columns)) for entries in sections.values() if entries)


def draw_legend(sheet: Sheet, sections: dict[str, list[Entry]], columns: int) -> None:
    """Write the sections of a legend from the top of a sheet, each entry shortened to its column."""
    width, y = sheet.width / columns, sheet.height
    for heading, entries in sections.items():
        if not entries:
            continue
        sheet.text(0, y - ROW_IN * 0.55, heading, fontsize=TEXT_PT, fontweight="bold", va="center")
        y -= ROW_IN * 1.15
        rows = -(-len(entries) // columns)
        for index, entry in enumerate(entries):
            left, middle = width * (index // rows), y - ROW_IN * (index % rows + 0.5)
            _swatch(sheet, entry, left, middle)
            text = shortened(entry.text, TEXT_PT, (width - 0.45) * 72)
            sheet.text(left + 0.36, middle, text, fontsize=TEXT_PT, va="center_baseline", parse_math=False)
        y -= ROW_IN * (rows + 0.2)


def _swatch(sheet: Sheet, entry: Entry, left: float, middle: float) -> None:
    if entry.patch:
        sheet.add(Rectangle((left, middle - 0.05), 0.29, 0.1, **entry.patch))
    if entry.line:
        ends = (left + 0.145,) if "marker" in entry.line else (left, left + 0.29)
        sheet.line(ends, (middle,) * len(ends), **entry.line)
    if entry.number:
        sheet.text(
            left + 0.29, middle, entry.number, fontsize=TEXT_PT, fontweight="bold", ha="right", va="center_baseline"
        )
