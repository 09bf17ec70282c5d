"""A picture of a drawing as it is understood: every part with its lines by kind, its size in mm and inches."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from matplotlib.text import Text
from shapely.geometry import LineString

from ..files.pattern_svg import COLOURS
from ..files.patterns import Drawing
from ..model import Part, counted, units
from .canvas import TEXT_PT, Entry, Look, Sheet, draw_legend, legend_height, map_axes, new_figure, scale_bar, shape
from .canvas import style as drawn_style
from .drawing import save

WIDTH_IN, MOST_HEIGHT_IN, EDGE_IN, FOOT_IN = 8.2, 9.0, 0.35, 0.5
WORDS = {
    "outline": "outline: cut last",
    "cutout": "cutout: cut out",
    "stitch": "stitch holes: burnt through",
    "engrave": "engraving",
    "fold": "fold line: shown, never burnt",
    "zone": "zone that accepts a lower grade",
}


def part_words(part: Part, first: str = "mm") -> str:
    """A part in a line: its name, size in both units, and how many lines of each kind it has."""
    left, low, right, high = part.outline.bounds
    counts = {
        "cutout": len(part.cutouts),
        "stitch hole": len(part.stitch),
        "engraved line": len(part.engrave),
        "fold line": len(part.folds),
        "zone": len(part.zones),
    }
    said = ", ".join(counted(count, name) for name, count in counts.items() if count)
    return f"{part.name}: {units.size_words(right - left, high - low, first)}; {said or 'an outline alone'}"


def draw_parts(drawing: Drawing, title: str, first: str = "mm") -> Figure:
    """Draw the parts of a drawing where they stand in it, with a legend below.

    Parameters
    ----------
    drawing : Drawing
        With at least one part.
    title : str
    first : str
        Units to show first, one of `model.UNITS`.

    Returns
    -------
    Figure
    """
    boxes = np.array([part.outline.bounds for part in drawing.parts])
    left, low = (float(value) for value in boxes[:, :2].min(axis=0))
    right, high = (float(value) for value in boxes[:, 2:].max(axis=0))
    inch_per_mm = (WIDTH_IN - 2 * EDGE_IN) / (right - left)
    inch_per_mm = min(inch_per_mm, MOST_HEIGHT_IN / (high - low), 1 / 25.4 * 4)
    line_mm = 2 * TEXT_PT / 72 / inch_per_mm
    bounds = (left, low - 1.6 * line_mm, right, high + 0.2 * line_mm)
    sections = {"lines as understood": [Entry(WORDS[kind], line=_look(kind)) for kind in _kinds(drawing)]}
    legend_in = legend_height(sections, 2)
    map_in = (bounds[3] - bounds[1]) * inch_per_mm
    with drawn_style():
        figure = new_figure(WIDTH_IN, EDGE_IN + map_in + legend_in + FOOT_IN + 0.1)
        top = figure.get_size_inches()[1]
        heading = Sheet(figure, EDGE_IN, top - 0.4, WIDTH_IN - 2 * EDGE_IN, 0.4)
        heading.text(0, 0.15, title, fontsize=10, fontweight="bold", parse_math=False)
        axes = map_axes(figure, EDGE_IN, legend_in + FOOT_IN, bounds, inch_per_mm)
        for part in drawing.parts:
            axes.add_patch(shape(part.outline, facecolor="#f6efe4", edgecolor="none", clip_on=False))
            for zone in part.zones:
                axes.add_patch(shape(zone.polygon, facecolor=COLOURS["zone"], alpha=0.35, linewidth=0))
            for kind, lines in _lines(part).items():
                for line in lines:
                    xy = np.asarray(line.coords)
                    axes.plot(xy[:, 0], xy[:, 1], clip_on=False, **_look(kind))
            x0, y0, x1, y1 = part.outline.bounds
            words = f"{part.name}\n{units.size_words(x1 - x0, y1 - y0, first)}"
            name = axes.text(x0, y0 - 0.15 * line_mm, words, fontsize=TEXT_PT, va="top", parse_math=False)
            _keep_on_page(figure, name)
        for note in drawing.notes:
            axes.text(note.x, note.y, note.text, fontsize=TEXT_PT, color="#666666", style="italic", parse_math=False)
        foot = Sheet(figure, EDGE_IN, 0, WIDTH_IN - 2 * EDGE_IN, legend_in + FOOT_IN - 0.25)
        draw_legend(foot, sections, 2)
        scale_bar(foot, WIDTH_IN - 2 * EDGE_IN, 0.25, inch_per_mm, 2.0)
    return figure


def _keep_on_page(figure: Figure, words: Text) -> None:
    """Move words to the left that would leave the page at its right."""
    over = words.get_window_extent().x1 - (figure.bbox.x1 - EDGE_IN * figure.dpi)
    if over > 0:
        x, y = words.get_transform().transform(words.get_position())
        x, y = words.get_transform().inverted().transform((x - over, y)).tolist()
        words.set_position((x, y))


def write_parts_picture(path: Path, drawing: Drawing, title: str, first: str = "mm") -> Path:
    """Draw the parts of a drawing and save them as PNG; where."""
    return save(draw_parts(drawing, title, first), path.with_suffix(""))[0]


def _lines(part: Part) -> dict[str, list[LineString]]:
    return {
        "outline": [LineString(part.outline.exterior.coords)],
        "cutout": [LineString(cutout.exterior.coords) for cutout in part.cutouts],
        "stitch": list(part.stitch),
        "engrave": list(part.engrave),
        "fold": list(part.folds),
    }


def _kinds(drawing: Drawing) -> list[str]:
    """The kinds of line there are."""
    found = [kind for kind in WORDS if kind != "zone" and any(_lines(part)[kind] for part in drawing.parts)]
    return found + (["zone"] if any(part.zones for part in drawing.parts) else [])


def _look(kind: str) -> Look:
    width = 3.0 if kind == "zone" else 1.0
    return {"color": COLOURS[kind], "linewidth": width, "linestyle": (0, (4, 2)) if kind == "fold" else "-"}
