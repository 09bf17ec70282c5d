"""Pictures that show whether a trace is right, and where one was in doubt that was refused."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import Polygon, box

from ..atomic import write_bytes
from ..geometry import rings
from ..leather.regions import gains
from ..model import MM2_PER_DM2, Doubt, Hide, Suggestion
from .arrays import Floats
from .limits import METHOD
from .photo import load_photo
from .references import NAMES
from .tracer import Trace

if TYPE_CHECKING:
    from matplotlib.axes import Axes

OUTLINE, HOLE, REFERENCE, SUGGESTION, MISS = "#D55E00", "#CC79A7", "#56B4E9", "#E69F00", "#009E73"
"""From the colour-blind-safe palette of Okabe and Ito (2008)."""
GRID_MM, MOST_TIMES = 100.0, 200.0
DOUBT = "#0072B2"
MOST_CALLED = 12
"""Doubts, and flaws, to which lines lead: those that cost most, and those that are surest."""
REACH, ENLARGED, IN_A_ROW, MOST_PLACES = 80, 3, 2, 24
"""Pixels of the photo shown to every side of a place of doubt, how many times enlarged, how many in a row and how many
at most."""


def draw_check(
    trace: Trace,
    path: str | Path,
    suggestions: Sequence[Suggestion] = (),
    doubts: Sequence[Doubt] | None = None,
    next_step: str = "",
) -> None:
    """Draw the outline, holes, references, suggested flaws and doubts over the straightened photo, with grid and scale
    bar.

    Doubts are hatched; lines lead to those that cost most and to the flaws, with their numbers. Holes that may be
    stains bear the pixel of the photo by which ``--leather`` names them. Small arrows at the references show by how
    much, many times enlarged, each of their points lies off.

    Parameters
    ----------
    trace : Trace
    path : str or Path
        PNG file to write.
    suggestions : sequence of Suggestion
        Drawn dashed, numbered from 1.
    doubts : sequence of Doubt, optional
        With the numbers by which they are answered; those of the trace by default.
    next_step : str
        What to do next, in one sentence.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.patheffects import withStroke
    from matplotlib.ticker import MultipleLocator

    left, low, right, high = _shown(trace)
    width = 11.0
    shown = trace.doubts if doubts is None else doubts
    said = [_wrapped(note) for note in (*trace.notes, *([f"next: {next_step}"] if next_step else []))]
    inch_mm, height = (right - left) / width, (width - 0.7) * (high - low) / (right - left) + 1.8 + 0.3 * len(said)
    figure = Figure(dpi=130, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    rows, columns = trace.straight.shape[:2]
    step, (x, y) = trace.mm_per_pixel, trace.origin_mm
    extent = (x - step / 2, x + (columns - 0.5) * step, y - (rows - 0.5) * step, y + step / 2)
    axes.imshow(trace.straight, extent=extent, interpolation="antialiased")
    edge = [withStroke(linewidth=3.2, foreground="white", alpha=0.8)]
    for number, sheet in enumerate(trace.references_mm):
        axes.plot(
            *sheet.exterior.xy, color=REFERENCE, linewidth=1.8, path_effects=edge, label="" if number else "reference"
        )
    axes.plot(*trace.outline.exterior.xy, color=OUTLINE, linewidth=1.6, path_effects=edge, label="outline")
    for number, ring in enumerate(trace.outline.interiors):
        axes.plot(*ring.xy, color=HOLE, linewidth=1.4, path_effects=edge, label="" if number else "hole")
    for number, hole in enumerate(() if shown else trace.unsure):
        axes.plot(
            *hole.exterior.xy,
            color="black",
            linewidth=1.4,
            linestyle=(0, (2, 2)),
            label="" if number else "may be a stain, at pixel",
        )
    for number, one in enumerate(suggestions, start=1):
        axes.plot(
            *one.polygon.exterior.xy, color=SUGGESTION, linewidth=1.2, linestyle=(0, (3, 1.5)), path_effects=edge[:1],
            label="suggested flaw" if number == 1 else "",
        )  # fmt: skip
    if trace.unsure and trace.doubt is not None and not shown:
        names = [f"stain? {x:.0f},{y:.0f}" for _, (x, y) in trace.doubt.unsure]
        sizes = [(0.065 * len(name) * inch_mm, 0.11 * inch_mm) for name in names]
        for name, (x, y) in zip(names, _free_corners(trace.unsure, sizes)):
            axes.text(x, y, name, fontsize=7, va="bottom", path_effects=[withStroke(linewidth=2, foreground="white")])
    won = gains(Hide("checked", trace.outline, error=trace.error, doubts=tuple(shown))) if shown else {}
    for unsure in shown:
        axes.fill(*unsure.polygon.exterior.xy, facecolor="none", edgecolor=DOUBT, hatch="////", linewidth=0.8)
    axes.fill([], [], facecolor="none", edgecolor=DOUBT, hatch="////", label="in doubt, kept out" if shown else "")
    called = [
        (one.polygon, f"{one.number}: {one.kind}, {won[one.number] / MM2_PER_DM2:.2f} dm²", DOUBT)
        for one in sorted(shown, key=lambda one: -won[one.number])[:MOST_CALLED]
    ]
    flaws = sorted(enumerate(suggestions, start=1), key=lambda one: -one[1].confidence)[:MOST_CALLED]
    called += [(one.polygon, f"flaw {number}: {one.kind or 'mark'}, {one.grade}", SUGGESTION) for number, one in flaws]
    before, beyond = _call_out(axes, called, (left, low, right, high), inch_mm)
    figure.set_size_inches(width + (before + beyond) / inch_mm, height)
    grown = _draw_misses(axes, trace.misses_mm, (right - left) / 40)
    axes.set(xlim=(left - before, right + beyond), ylim=(low, high), xlabel="mm", aspect="equal")
    every = GRID_MM * np.ceil((right - left) / GRID_MM / 14)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(MultipleLocator(every))
        axis.set_minor_locator(MultipleLocator(GRID_MM))
    axes.grid(which="both", color="white", linewidth=0.5, alpha=0.55)
    axes.tick_params(which="both", labelsize=8, length=2)
    _scale_bar(axes, left, low, right, high)
    figure.legend(loc="outside lower right", ncols=5, frameon=False, fontsize=9)
    x_min, y_min, x_max, y_max = trace.outline.bounds
    holes = len(trace.outline.interiors)
    axes.set_title(
        f"{x_max - x_min:.0f} x {y_max - y_min:.0f} mm, {trace.outline.area / 1e4:.1f} dm²"
        f" ({trace.outline.area / 92_903.04:.2f} sq ft), {holes} {'hole' if holes == 1 else 'holes'}\n"
        f"expected error {trace.expected_error_mm:.1f} mm; scale from {NAMES[trace.reference]},"
        f" off by {trace.residual_pixels:.2f} pixels (arrows x {grown:.0f})" + "".join(f"\n{text}" for text in said),
        fontsize=12,
    )
    content = BytesIO()
    figure.savefig(content, format="png", pil_kwargs={"compress_level": 2})
    write_bytes(Path(path), content.getvalue())


def draw_places(
    photo: str | Path,
    places: Sequence[tuple[float, float]],
    outline: Polygon,
    path: str | Path,
    names: Sequence[str] = (),
) -> None:
    """Draw what a photo shows around some of its pixels, enlarged: with a ring around what may be found correct, and
    with an outline.

    Parameters
    ----------
    photo : str or Path
    places : sequence of (px, py)
        The first 24 are drawn.
    outline : Polygon
        In pixels.
    path : str or Path
        PNG file to write.
    names : sequence of str, optional
        What is asked about each place.
    """
    from PIL import Image, ImageDraw, ImageFont

    picture = Image.fromarray(load_photo(Path(photo)))
    side, caption, gap = 2 * REACH * ENLARGED, 34, 8
    places = list(places)[:MOST_PLACES]
    columns = min(len(places), IN_A_ROW)
    rows = -(-len(places) // columns)
    sheet = Image.new("RGB", (columns * (2 * side + 2 * gap) + gap, rows * (side + caption + gap) + gap), "white")
    pen, font = ImageDraw.Draw(sheet), ImageFont.load_default(22)
    for number, (x, y) in enumerate(places):
        left, top = gap + number % columns * (2 * side + 2 * gap), gap + number // columns * (side + caption + gap)
        corner = np.array([round(x) - REACH, round(y) - REACH])
        plain = picture.crop((*corner, *(corner + 2 * REACH))).resize((side, side), Image.Resampling.BICUBIC)
        traced = plain.copy()
        for ring in rings(outline):
            line = [tuple(point) for point in (np.asarray(ring.coords) - corner + 0.5) * ENLARGED]
            for width, colour in ((5, "white"), (2, OUTLINE)):
                ImageDraw.Draw(traced).line(line, fill=colour, width=width)
        pen.text(
            (left, top + 4),
            f"{f'{names[number]} ' if names else ''}pixel {x:.0f},{y:.0f}, and as traced",
            fill="black",
            font=font,
        )
        sheet.paste(plain, (left, top + caption))
        sheet.paste(traced, (left + side, top + caption))
        middle = left + side / 2, top + caption + side / 2
        for radius, width, colour in (
            (METHOD.edge.around_pixels * ENLARGED + 2, 7, "white"),
            (METHOD.edge.around_pixels * ENLARGED, 3, REFERENCE),
        ):
            pen.ellipse(
                (middle[0] - radius, middle[1] - radius, middle[0] + radius, middle[1] + radius),
                outline=colour,
                width=width,
            )
    content = BytesIO()
    sheet.save(content, format="png")
    write_bytes(Path(path), content.getvalue())


def _call_out(
    axes: Axes, called: Sequence[tuple[Polygon, str, str]], view: tuple[float, float, float, float], inch_mm: float
) -> list[float]:
    """Names beside the view, left or right, from each a line to what it names; how broad they are each side, mm."""
    left, low, right, high = view
    line, letter = 0.16 * inch_mm, 0.065 * inch_mm
    broad = []
    for side in (-1, 1):
        here = [
            (shape.representative_point(), name, colour)
            for shape, name, colour in called
            if (shape.centroid.x > (left + right) / 2) == (side > 0)
        ]
        broad.append(letter * (max(len(name) for _, name, _ in here) + 2) if here else 0.0)
        here.sort(key=lambda one: -one[0].y)
        # as high as what they name, but one line apart, and none beyond the picture
        heights: list[float] = []
        for spot, _, _ in here:
            heights.append(min(spot.y, heights[-1] - line if heights else high - line))
        for at in reversed(range(len(heights))):
            least = low + line * (len(heights) - at)
            heights[at] = max(heights[at], min(least, high - line * (at + 1)))
        for (spot, name, colour), height in zip(here, heights):
            x = (left - 0.1 * inch_mm) if side < 0 else (right + 0.1 * inch_mm)
            axes.plot((x, spot.x), (height, spot.y), color=colour, linewidth=0.8, zorder=5)
            axes.plot(spot.x, spot.y, ".", color=colour, markersize=4, zorder=5)
            align = "right" if side < 0 else "left"
            axes.text(x + side * 0.05 * inch_mm, height, name, fontsize=8, ha=align, va="center")
    return broad


def _wrapped(text: str) -> str:
    return fill(text, 110)


def _free_corners(shapes: Sequence[Polygon], sizes: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Lower left corners of labels, each at that corner of its shape where it covers least of the labels before it, all
    in mm."""
    taken: list[Polygon] = []
    for shape, (wide, high) in zip(shapes, sizes):
        x0, y0, x1, y1 = shape.bounds
        corners = ((x1, y1), (x0 - wide, y1), (x1, y0 - high), (x0 - wide, y0 - high))
        labels = [box(x, y, x + wide, y + high) for x, y in corners]
        taken.append(min(labels, key=lambda label: sum(label.intersection(other).area for other in taken)))
    return [(label.bounds[0], label.bounds[1]) for label in taken]


def _draw_misses(axes: Axes, misses_mm: Floats, longest: float) -> float:
    """Arrows for how far the points of the references lie off, the longest of a given length; how many times
    enlarged."""
    size = float(np.hypot(*misses_mm[:, 2:].T).max(initial=0))
    if size < 1e-6:
        return 1.0
    times = float(10.0 ** np.floor(np.log10(longest / size)))
    times = min(times * max(step for step in (1, 2, 5) if step * times * size <= longest), MOST_TIMES)
    x, y, dx, dy = misses_mm.T
    axes.quiver(
        x,
        y,
        times * dx,
        times * dy,
        angles="xy",
        scale_units="xy",
        scale=1,
        color=MISS,
        width=0.0016,
        headwidth=4,
        zorder=4,
    )
    return times


def _shown(trace: Trace) -> tuple[float, float, float, float]:
    """What the straightened photo shows."""
    rows, columns = trace.straight.shape[:2]
    (left, top), (right, low) = trace.to_mm(np.array([(0, 0), (columns - 1, rows - 1)]))
    return left, low, right, top


def _scale_bar(axes: Axes, left: float, low: float, right: float, high: float) -> None:
    from matplotlib.patches import Rectangle

    length = max(size for size in (20, 50, 100, 200, 500) if size == 20 or size < 0.2 * (right - left))
    unit = 0.005 * (right - left)
    x, y = left + 5 * unit, low + 5 * unit
    axes.add_patch(
        Rectangle(
            (x - 2 * unit, y - 2 * unit),
            length + 4 * unit,
            8.5 * unit,
            facecolor="white",
            alpha=0.85,
            linewidth=0,
            zorder=4,
        )
    )
    axes.add_patch(Rectangle((x, y), length / 2, unit, facecolor="black", zorder=5))
    axes.add_patch(
        Rectangle((x + length / 2, y), length / 2, unit, facecolor="white", edgecolor="black", linewidth=0.8, zorder=5)
    )
    axes.text(x + length / 2, y + 1.8 * unit, f"{length} mm", ha="center", va="bottom", fontsize=9, zorder=5)
