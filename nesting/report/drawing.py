"""Pictures of a layout: a hide with its parts, an offcut, a comparison; and how they are saved."""

from __future__ import annotations

import io
import struct
import textwrap
import zlib
from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.cm import ScalarMappable
from matplotlib.figure import Figure
from numpy.typing import ArrayLike, NDArray

from ..atomic import write_bytes
from ..costs.figures import Figures, hide_figures, thickness_of, windows
from ..costs.offcuts import Offcut, Remains, offcuts
from ..model import MM_PER_OZ, Hide, Layout
from . import layers, words
from .canvas import (
    DPI,
    TEXT_PT,
    Entry,
    Look,
    Sheet,
    draw_legend,
    legend_height,
    map_axes,
    new_figure,
    scale_bar,
    shape,
    style,
    write,
)
from .labels import fit, quiet

if TYPE_CHECKING:
    # loading it would load the engine too
    from ..costs.choices import Choice

WIDTH_IN, MAP_HEIGHT_IN, SIDE_IN = 8.2, 7.4, 2.4
"""The picture is as wide as the text of an A4 page, and leaves room below it; so wide is a legend beside it."""
MARGIN_IN, TITLE_IN, STRIP_IN, COLUMNS = 0.15, 0.62, 0.66, 4
"""Around all, above and below the map: room for what is written there; columns of a legend below."""
SMALL_IN = 2.3
"""Width of an offcut's picture: three beside each other in a table on A4."""
NAMES_IN, NAME_LETTERS, NAME_LINES = 1.75, 22, 8
"""Room for the names beside the bars of a comparison, and letters that go into it."""
BEST, OTHER = "#0072B2", "#a9c4d6"


def plot(layout: Layout, hide_id: str | None = None) -> Figure:
    """Draw one hide of a layout, in a notebook for instance; see :func:`draw_hide`.

    Parameters
    ----------
    layout : Layout
    hide_id : str, optional
        The hide that holds most parts by default.

    Returns
    -------
    Figure
    """
    known = [hide.id for hide in layout.hides]
    if hide_id is not None and hide_id not in known:
        raise ValueError(f"hide {hide_id} is not in the layout: give one of {', '.join(known)}")
    return draw_hide(layout, hide_id or max((hide.id for hide in layout.hides), key=lambda name: len(layout.on(name))))


def hide_name(hide_id: str) -> str:
    """Name of a hide's picture file, without its ending."""
    return f"hide-{hide_id}"


def draw_hide(layout: Layout, hide_id: str, numbers: Figures | None = None, remains: Remains | None = None) -> Figure:
    """Draw a hide: its leather, zones, parts, offcuts, knife lines and backbone, with a legend beside the drawing.

    Parameters
    ----------
    layout : Layout
    hide_id : str
    numbers : dict, optional
        The hide's figures as `figures.hide_figures` gives them, when they are known already.
    remains : list of Offcut and scrap, optional
        What `offcuts.offcuts` gives for this hide, when it is known already.

    Returns
    -------
    Figure
        8.2 in wide, of a height that suits the hide.
    """
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    placements, panels = layout.on(hide_id), [panel for panel in layout.panels if panel.hide == hide_id]
    remains = remains or offcuts(layout, hide_id)
    numbers = numbers or hide_figures(layout, hide_id, remains)
    kept = remains[0]
    x0, y0, x1, y1 = hide.outline.bounds
    border = 0.015 * max(x1 - x0, y1 - y0)
    bounds = (x0 - border, y0 - border, x1 + border, y1 + border)
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    tall = height > 1.1 * width
    room = WIDTH_IN - 2 * MARGIN_IN - (SIDE_IN + MARGIN_IN if tall else 0)
    inch_per_mm = min(room / width, MAP_HEIGHT_IN / height)
    map_width, map_height = width * inch_per_mm, height * inch_per_mm
    with style():
        # The legend's size is known only once the labels are fitted, so the drawing is made on a stage first.
        figure = new_figure(WIDTH_IN, 1)
        axes = map_axes(figure, 0, 0, bounds, inch_per_mm)
        thickness = thickness_of(layout, hide)
        shading = layers.draw_leather(axes, hide, thickness)
        layers.draw_zones(axes, hide)
        layers.draw_parts(axes, layout, placements)
        layers.draw_offcuts(axes, kept)
        lines = layers.draw_lines(axes, layout, hide, windows(layout, hide), layout.workshop.confidence, thickness)
        lines += layers.draw_doubts(axes, hide)
        lines += layers.draw_settled(axes, layout, hide)
        key = layers.label_all(axes, hide, placements, kept, panels, inch_per_mm * 72, layout.workshop.units)
        meaning = _meaning(layout, hide, bool(kept), lines)
        numbered = {"Numbers on small parts": key}
        beside, below = (meaning, numbered) if tall else ({}, meaning | numbered)
        side, foot = legend_height(beside, 1), legend_height(below, COLUMNS)
        middle = max(map_height, side)
        full = TITLE_IN + middle + STRIP_IN + foot + 2 * MARGIN_IN
        figure.set_size_inches(WIDTH_IN, full)
        top, inner = full - MARGIN_IN - TITLE_IN, WIDTH_IN - 2 * MARGIN_IN
        left = MARGIN_IN if tall else (WIDTH_IN - map_width) / 2
        axes.set_position((left / WIDTH_IN, (top - map_height) / full, map_width / WIDTH_IN, map_height / full))
        _title(Sheet(figure, MARGIN_IN, top, inner, TITLE_IN), hide, numbers, layout.workshop.units)
        strip = Sheet(figure, MARGIN_IN, top - middle - STRIP_IN, inner, STRIP_IN)
        _strip(figure, strip, shading, thickness.source, inch_per_mm)
        if side:
            draw_legend(
                Sheet(figure, 2 * MARGIN_IN + map_width, top - side, inner - map_width - MARGIN_IN, side), beside, 1
            )
        if foot:
            draw_legend(Sheet(figure, MARGIN_IN, MARGIN_IN, inner, foot), below, COLUMNS)
    return figure


def draw_offcut(offcut: Offcut, first: str = "mm") -> Figure:
    """Draw an offcut with its inscribed rectangle, its size and a scale bar: small, for a table.

    Parameters
    ----------
    offcut : Offcut

    Returns
    -------
    Figure
    """
    x0, y0, x1, y1 = offcut.polygon.bounds
    border = 0.03 * max(x1 - x0, y1 - y0)
    bounds = (x0 - border, y0 - border, x1 + border, y1 + border)
    inch_per_mm = (SMALL_IN - 0.1) / max(bounds[2] - bounds[0], bounds[3] - bounds[1])
    height = (bounds[3] - bounds[1]) * inch_per_mm
    width = (bounds[2] - bounds[0]) * inch_per_mm
    with style():
        figure = new_figure(SMALL_IN, height + 0.4)
        axes = map_axes(figure, (SMALL_IN - width) / 2, 0.38, bounds, inch_per_mm)
        axes.add_artist(shape(offcut.polygon, facecolor=layers.PLAIN_LEATHER, edgecolor="black", linewidth=1.0))
        axes.add_artist(shape(offcut.rectangle, **(layers.RECTANGLE | {"linewidth": 0.9})))
        text = words.size_in(offcut.width_mm, offcut.height_mm, first)
        label = fit((text, text.replace(" × ", " ×\n")), offcut.rectangle, inch_per_mm * 72)
        if label:
            write(axes, [label], inch_per_mm * 72)
        scale_bar(Sheet(figure, 0, 0, SMALL_IN, 0.38), SMALL_IN - 0.2, 0.22, inch_per_mm, 1.2)
    return figure


def _two_lines(mm2: float, first: str) -> str:
    return "\n".join(f"{value} {unit}" for value, unit in zip(words.areas(mm2, first), words.area_units(first)))


def draw_compare(choices: Sequence[Choice], best: Choice | None = None, saved: Sequence[Decimal | None] = ()) -> Figure:
    """Draw a comparison of ways to cut the same orders as bars.

    Parameters
    ----------
    choices : sequence of Choice
    best : Choice, optional
        Dark and marked.
    saved : sequence of Decimal or None, optional
        Money that each would save a year, told where any saves some.

    Returns
    -------
    Figure
    """
    totals = [choice.figures["total"] for choice in choices]
    counts = [(choice.whole, choice.wanted) for choice in choices]
    areas = [total["consumed_mm2"] for total in totals]
    yields = [total["yield_of_consumed"] for total in totals]
    costs = [float(choice.cost) for choice in choices]
    currency = words.plain(choices[0].layout.workshop.prices.currency, 3) if choices else ""
    bars: list[tuple[str, list[float], float | None, list[str]]] = [
        (
            "ordered pieces whole",
            [float(whole) for whole, _ in counts],
            max((wanted for _, wanted in counts), default=0),
            [f"{whole} of {wanted}" for whole, wanted in counts],
        ),
        ("yield of leather consumed", yields, 1.0, [words.share(value) for value in yields]),
        ("leather consumed", areas, None, [_two_lines(area, choices[0].layout.workshop.units) for area in areas]),
        (f"cost, {currency}", costs, None, [words.plain(str(choice.cost), 20) for choice in choices]),
    ]
    if any(saved):
        told = ["" if one is None else f"{one:+}" if one else "0" for one in saved]
        bars.append((f"saved a year, {currency}", [float(one or 0) for one in saved], None, told))
    marks = [choice is best for choice in choices]
    names = [_wrapped(("▶ " if mark else "") + words.plain(choice.name)) for choice, mark in zip(choices, marks)]
    row = max(0.42, *(0.15 * (1 + name.count("\n")) for name in ("", *names)))
    # with a fifth column names of columns take two lines
    head, letters = (0.43, 40) if len(bars) < 5 else (0.58, 18)
    height = 0.32 + head + row * max(len(choices), 1)
    with style():
        figure = new_figure(WIDTH_IN, height)
        each = (WIDTH_IN - NAMES_IN - 2 * MARGIN_IN) / len(bars)
        for index, (title, values, most, texts) in enumerate(bars):
            left = (MARGIN_IN + NAMES_IN + index * each) / WIDTH_IN
            axes = figure.add_axes((left, 0.12 / height, (each - 0.12) / WIDTH_IN, (height - 0.12 - head) / height))
            _bars(
                axes, textwrap.fill(title, letters), values, most or max(map(abs, values), default=0) or 1, texts, marks
            )
            if index == 0:
                axes.set_yticks(range(len(names)), names, fontsize=TEXT_PT + 0.5)
                for tick, mark in zip(axes.get_yticklabels(), marks):
                    tick.set(fontweight="bold" if mark else "normal", parse_math=False)
        title = "The same orders, cut from (▶ the best choice)" if any(marks) else "The same orders"
        figure.text(MARGIN_IN / WIDTH_IN, 1 - 0.1 / height, title, fontsize=9.5, fontweight="bold", va="top")
    return figure


class Drawn:
    """A figure, and the files made of it: each is made once, when it is first asked for."""

    def __init__(self, figure: Figure) -> None:
        self.figure = figure

    @cached_property
    def png(self) -> bytes:
        """The bytes of a PNG file."""
        return picture(self.figure, "png")

    @cached_property
    def svg(self) -> bytes:
        """The bytes of an SVG file."""
        return picture(self.figure, "svg")

    def coarser(self, dpi: int) -> bytes:
        """A PNG of so many dots per inch."""
        return self.png if dpi == DPI else picture(self.figure, "png", dpi)


def save(figure: Figure | Drawn, stem: str | Path) -> list[Path]:
    """Write a figure as PNG and SVG, whole or not at all.

    Parameters
    ----------
    figure : Figure or Drawn
    stem : str or Path
        Path without its ending.

    Returns
    -------
    list of Path
        The PNG, then the SVG.

    Raises
    ------
    FileError
        When a file cannot be written.
    """
    drawn = figure if isinstance(figure, Drawn) else Drawn(figure)
    paths = [Path(f"{stem}.png"), Path(f"{stem}.svg")]
    for path, content in zip(paths, (drawn.png, drawn.svg)):
        write_bytes(path, content)
    return paths


def picture(figure: Figure, kind: str, dpi: int = DPI) -> bytes:
    """A figure as the bytes of a ``png`` or ``svg`` file; the same figure gives the same bytes."""
    with style(), quiet():
        if kind == "png":
            return _png(figure, dpi)
        stream = io.BytesIO()
        figure.savefig(stream, format=kind, dpi=dpi, metadata={"Date": None})
    return stream.getvalue()


def _png(figure: Figure, dpi: int) -> bytes:
    """A PNG file (ISO/IEC 15948) whose rows are not filtered.

    Pictures of flat colours come out a tenth smaller so than with the filters that Pillow tries on every row, and in a
    fifth of the time.
    """
    before, canvas = figure.dpi, cast(Any, FigureCanvasAgg(figure))
    figure.set_dpi(dpi)
    canvas.draw()
    figure.set_dpi(before)
    pixels = np.asarray(canvas.buffer_rgba())[..., :3]
    height, width = pixels.shape[:2]
    rows = np.zeros((height, 1 + 3 * width), np.uint8)
    rows[:, 1:] = pixels.reshape(height, -1)
    per_m = round(dpi / 0.0254)
    chunks = (
        (b"IHDR", struct.pack(">2I5B", width, height, 8, 2, 0, 0, 0)),
        (b"pHYs", struct.pack(">2IB", per_m, per_m, 1)),
        (b"IDAT", zlib.compress(rows.tobytes(), 3)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in chunks
    )


def _title(sheet: Sheet, hide: Hide, numbers: Figures, first: str) -> None:
    parts = f"{words.count(numbers['placed'], 'part')} with {words.area(numbers['parts_mm2'], first)} of leather"
    about = f"from a hide of {words.area(numbers['hide_mm2'], first)}, {words.make(hide.tannage)}"
    shares = {whole: words.share(numbers[f"yield_of_{whole}"]) for whole in ("hide", "usable", "consumed")}
    yields = (
        f"Yield: {shares['hide']} of the whole hide, {shares['usable']} of its usable area (grade "
        f"{numbers['usable_grade']} or better), {shares['consumed']} of the leather consumed (hide less offcuts)"
    )
    name, size = f"Hide {words.plain(hide.id, 70)}", TEXT_PT + 0.4
    sheet.text(0, TITLE_IN, name, fontsize=12, fontweight="bold", va="top", parse_math=False)
    sheet.text(0, TITLE_IN - 0.25, f"{parts}, {about}", fontsize=size, va="top")
    sheet.text(0, TITLE_IN - 0.42, yields if numbers["cut"] else "Nothing is cut from it.", fontsize=size, va="top")


def _strip(figure: Figure, sheet: Sheet, shading: ScalarMappable | None, source: str, inch_per_mm: float) -> None:
    """Below the map: what the shading means, and the scale."""
    scale_bar(sheet, sheet.width, STRIP_IN - 0.3, inch_per_mm, 2.2)
    sheet.text(0, STRIP_IN - 0.1, f"Thickness: {words.plain(source)}", fontsize=TEXT_PT, va="top", parse_math=False)
    if shading is None:
        return
    full_width, full_height = figure.get_size_inches()
    left, bottom = (sheet.left + 0.3) / full_width, (sheet.bottom + 0.2) / full_height
    bar_axes = figure.add_axes((left, bottom, 3.4 / full_width, 0.1 / full_height))
    bar = figure.colorbar(shading, cax=bar_axes, orientation="horizontal")
    bar.outline.set_linewidth(0.5)
    bar_axes.tick_params(labelsize=6.5, length=2, pad=1.5)
    ounces = bar_axes.secondary_xaxis("top", functions=(_ounces, _mm))
    ounces.tick_params(labelsize=6.5, length=2, pad=1)
    for text, y in (("oz", 0.33), ("mm", 0.13)):
        sheet.text(3.4 + 0.5, y, text, fontsize=6.5, va="center")


def _ounces(mm: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(mm, float) / MM_PER_OZ


def _mm(ounces: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(ounces, float) * MM_PER_OZ


def _meaning(layout: Layout, hide: Hide, kept: bool, lines: list[Entry]) -> dict[str, list[Entry]]:
    orders = Counter(placement.order for placement in layout.on(hide.id))
    known = [order for order in dict.fromkeys(name[0] for name in layout.wanted) if order in orders]
    grades = sorted({zone.grade for zone in hide.zones})
    remains = [Entry("offcut worth keeping", patch=layers.OFFCUT), Entry("rectangle inside it", patch=layers.RECTANGLE)]
    zones = [Entry(f"zone of grade {grade}", patch=layers.zone_look(grade)) for grade in grades]
    parts = [
        Entry(f"{words.plain(order, 60)} ({orders[order]})", patch=layers.order_look(layout, order)) for order in known
    ]
    return {"Orders (parts on this hide)": parts, "Leather and lines": [*zones, *lines, *(remains if kept else ())]}


def _bars(axes: Axes, title: str, values: list[float], most: float, texts: list[str], best: list[bool]) -> None:
    axes.barh(
        range(len(values)),
        values,
        height=0.62,
        color=[BEST if mark else OTHER for mark in best],
        edgecolor="black",
        linewidth=0.5,
    )
    least = min(0.0, *values, 0.0)
    # what lies below 0 is told to the right of it
    span = most if least == 0 else max(*values, -0.5 * least) - least
    for index, (value, text) in enumerate(zip(values, texts)):
        inside = value > 0.55 * span
        look: Look = {"ha": "right", "color": "white" if best[index] else "black"} if inside else {"ha": "left"}
        x = max(value, 0.0) + (-0.02 if inside else 0.02) * span
        axes.text(x, index, text, fontsize=TEXT_PT - 0.4, linespacing=0.95, va="center", **look)
    axes.set(xlim=(1.02 * least, 1.02 * (span + least)), ylim=(max(len(values), 1) - 0.5, -0.5), xticks=[], yticks=[])
    axes.set_title(title, fontsize=TEXT_PT + 0.3, loc="left", pad=3)
    axes.spines[["top", "right", "bottom"]].set_visible(False)
    axes.tick_params(length=0)


def _wrapped(name: str) -> str:
    return "\n".join(textwrap.wrap(name, NAME_LETTERS, max_lines=NAME_LINES, placeholder="…", break_on_hyphens=False))
