"""A picture that shows what was read off a photo of patterns."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np

from ..atomic import write_bytes
from ..model import Curve
from .cards import TracedCards

if TYPE_CHECKING:
    from matplotlib.axes import Axes

STRAIGHT, BENT, CUTOUT, STITCH = "#D55E00", "#0072B2", "#CC79A7", "#009E73"
"""From the colour-blind-safe palette of Okabe and Ito (2008)."""
WIDTH_IN, MOST_HEIGHT_IN = 11.0, 10.0
NOTE_LETTERS, MOST_LINES = 112, 10
"""In a line of notes above a picture, and lines."""


def draw_cards(traced: TracedCards, path: Path) -> None:
    """Draw every part over the straightened photo: straight sides, arcs and where they meet, cutouts, stitch holes.

    Parameters
    ----------
    traced : TracedCards
    path : Path
        PNG file to write.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.patheffects import withStroke

    boxes = np.array([part.outline.bounds for part in traced.lying])
    (corner_x, corner_y), (right, high) = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    left, low = corner_x, corner_y
    margin = 0.06 * max(right - left, high - low) + 4
    left, low, right, high = left - margin, low - 1.6 * margin, right + margin, high + margin
    said = shown_notes(traced.notes)
    height = min(MOST_HEIGHT_IN, (WIDTH_IN - 1) * (high - low) / (right - left)) + 1.4 + 0.22 * len(said)
    figure = Figure(figsize=(WIDTH_IN, height), dpi=130, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    rows, columns = traced.straight.shape[:2]
    step, (x, y) = traced.mm_per_pixel, traced.origin_mm
    extent = (x - step / 2, x + (columns - 0.5) * step, y - (rows - 0.5) * step, y + step / 2)
    axes.imshow(traced.straight, extent=extent, interpolation="antialiased")
    for part in traced.lying:
        if part.curves is None:
            continue
        _follow(axes, part.curves.outline)
        for curves, colour in ((part.curves.cutouts, CUTOUT), (part.curves.stitch, STITCH)):
            for curve in curves:
                axes.plot(*curve.flattened(0.02).xy, color=colour, linewidth=1.0)
        x0, y0, x1, _ = part.outline.bounds
        axes.text(
            (x0 + x1) / 2, y0 - 0.2 * margin, part.name, fontsize=9, ha="center", va="top", parse_math=False,
            path_effects=[withStroke(linewidth=2.5, foreground="white")],
        )  # fmt: skip
    for name, colour in (("straight", STRAIGHT), ("arc", BENT), ("cutout", CUTOUT), ("stitch hole", STITCH)):
        axes.plot([], [], color=colour, label=name)
    axes.set(xlim=(left, right), ylim=(low, high), xlabel="mm", aspect="equal")
    for axis, corner, far in ((axes.xaxis, corner_x, right), (axes.yaxis, corner_y, high)):
        axis.set_ticks(*from_corner(corner, far))
    axes.grid(color="white", linewidth=0.5, alpha=0.4)
    figure.legend(loc="outside lower right", ncols=4, frameon=False, fontsize=9)
    axes.set_title(
        f"outlines within {traced.error_mm:.2f} mm, lengths within {traced.scale_percent:.2f} %,"
        f" widths within {traced.width_mm:.1f} mm" + "".join(f"\n{text}" for text in said),
        fontsize=10,
        parse_math=False,
    )
    content = BytesIO()
    figure.savefig(content, format="png", pil_kwargs={"compress_level": 2})
    write_bytes(path, content.getvalue())


def from_corner(corner: float, far: float) -> tuple[list[float], list[str]]:
    """Places along an axis up to ``far``, and what stands at each: mm from the lower left corner of the patterns."""
    from matplotlib.ticker import MaxNLocator

    values = [float(value) for value in MaxNLocator(nbins=9).tick_values(0.0, far - corner) if value <= far - corner]
    return [corner + value for value in values], [f"{value:g}" for value in values]


def shown_notes(notes: Sequence[str]) -> list[str]:
    """Notes in lines as wide as a picture, and no more than it has room for."""
    lines = [line for note in notes for line in wrap(note, NOTE_LETTERS)]
    if len(lines) <= MOST_LINES:
        return lines
    return [*lines[: MOST_LINES - 1], "more stands in the terminal ..."]


def _follow(axes: Axes, outline: Curve) -> None:
    """Draw an outline piece by piece, with a dot where pieces meet."""
    for start, end, bulge in outline.stretches():
        piece = Curve(((start.real, start.imag, bulge), (end.real, end.imag, 0.0))).flattened(0.02)
        axes.plot(*piece.xy, color=BENT if bulge else STRAIGHT, linewidth=1.2)
    nodes = np.array(outline.nodes)
    axes.plot(nodes[:, 0], nodes[:, 1], ".", color="black", markersize=3)
