"""The cutting guide: a hide's knife lines in the order they are cut, each end by measured distances."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from shapely.geometry import LineString

from ..laser.guide import (
    CutFirst,
    Line,
    bend_sentence,
    cut_first,
    flaw_sentence,
    from_backbone,
    knife_lines,
    mark,
    second_mark,
    sentence,
)
from ..laser.turns import turns
from ..model import Hide, Layout, units
from . import layers, words
from .canvas import TEXT_PT, Look, Sheet, map_axes, new_figure, scale_bar, shape, style, write
from .labels import fit
from .turn_words import lines_words, place_words

WIDTH_IN, MAP_HEIGHT_IN = 8.2, 7.0
"""As wide as the text of an A4 page, with room for the table below."""
MARGIN_IN, TITLE_IN, STRIP_IN, ROW_IN = 0.15, 0.79, 0.45, 0.2
COLUMNS_IN = (0.0, 0.42, 1.35, 4.65)
INCH_COLUMNS_IN, INCH_PT = (0.0, 0.42, 1.42, 4.75), 6.4
"""The same where inches stand before the mm, in smaller letters."""
"""Around all, above and below the map, a row of the table and where its columns begin: room for what is written."""
UNNAMED = "Pieces without a name hold no part: keep what the report has as an offcut; slivers are waste."
LABEL_IN, AWAY_IN = 0.2, (0.13, 0.3, 0.42)
"""Names of line ends nearer to each other than this would overlap; so far from their ends they may be put."""
PART: Look = {"facecolor": "#e6e6e6", "edgecolor": "#9a9a9a", "linewidth": 0.5, "zorder": 2}
LINE: Look = {"color": "#D55E00", "linewidth": 1.8}
NUMBER: Look = {"fontsize": 9, "fontweight": "bold", "ha": "center", "va": "center", "zorder": 8}
HALO: Look = {"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}


def draw_guide(layout: Layout, hide_id: str) -> Figure:
    """Draw where to cut a hide into panels with straightedge and knife.

    Parameters
    ----------
    layout : Layout
    hide_id : str
        A hide with knife lines, or with parts that are cut out of it first.

    Returns
    -------
    Figure
        8.2 in wide: the hide with numbered lines and the mark M, and a table of distances below.
    """
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    lines, first = knife_lines(layout, hide_id), cut_first(layout, hide_id)
    x0, y0, x1, y1 = hide.outline.bounds
    border = 0.045 * max(x1 - x0, y1 - y0)
    bounds = (x0 - border, y0 - border, x1 + border, y1 + border)
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    inch_per_mm = min((WIDTH_IN - 2 * MARGIN_IN) / width, MAP_HEIGHT_IN / height)
    map_width, map_height = width * inch_per_mm, height * inch_per_mm
    freed = _freed(layout, hide_id)
    rows = 2 * (len(first) + len(lines)) + sum(len(line.bends) + len(line.flaws) for line in lines) + len(freed)
    table = ROW_IN * (rows + 1.6)
    with style():
        figure = new_figure(WIDTH_IN, TITLE_IN + map_height + STRIP_IN + table + 2 * MARGIN_IN)
        full = figure.get_size_inches()[1]
        axes = map_axes(
            figure, (WIDTH_IN - map_width) / 2, full - MARGIN_IN - TITLE_IN - map_height, bounds, inch_per_mm
        )
        _map(axes, layout, hide, lines, first, inch_per_mm)
        inner = WIDTH_IN - 2 * MARGIN_IN
        _title(Sheet(figure, MARGIN_IN, full - MARGIN_IN - TITLE_IN, inner, TITLE_IN), layout, hide, lines, first)
        strip = Sheet(figure, MARGIN_IN, MARGIN_IN + table, inner, STRIP_IN)
        scale_bar(strip, inner, 0.25, inch_per_mm, 2.2)
        strip.text(0, 0.25, UNNAMED, fontsize=TEXT_PT, va="center")
        _table(Sheet(figure, MARGIN_IN, MARGIN_IN, inner, table), hide, lines, first, freed, layout.workshop.units)
    return figure


def _freed(layout: Layout, hide_id: str) -> list[str]:
    """Of each panel that is burnt, in the order in which to: which lines free it, and when that is."""
    return [
        f"Panel {words.plain(turn.panel, 20)}. " + " ".join(filter(None, (lines_words(turn), place_words(turn))))
        for turn in turns(layout)
        if turn.hide == hide_id and turn.number and (turn.lines or turn.of > 1)
    ]


def draw_first(layout: Layout, hide_id: str) -> Figure:
    """Draw a hide with what is cut out of it first, and the marks M and N that its ends are measured from."""
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    x0, y0, x1, y1 = hide.outline.bounds
    border = 0.06 * max(x1 - x0, y1 - y0)
    bounds = (x0 - border, y0 - border, x1 + border, y1 + border)
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    inch_per_mm = min(WIDTH_IN / width, MAP_HEIGHT_IN / height)
    with style():
        figure = new_figure(width * inch_per_mm, height * inch_per_mm)
        axes = map_axes(figure, 0.0, 0.0, bounds, inch_per_mm)
        _map(axes, layout, hide, (), cut_first(layout, hide_id), inch_per_mm)
    return figure


def guide_name(hide_id: str) -> str:
    """Name of a cutting guide's file, without its ending."""
    return f"cutting-guide-{hide_id}"


def _map(
    axes: Axes, layout: Layout, hide: Hide, lines: tuple[Line, ...], first: tuple[CutFirst, ...], inch_per_mm: float
) -> None:
    axes.add_artist(shape(hide.outline, facecolor=layers.PLAIN_LEATHER, edgecolor="black", linewidth=1.2, zorder=1))
    axes.add_artist(shape([placement.outline for placement in layout.on(hide.id)], **PART))
    if hide.backbone is not None:
        axes.plot(*np.array(hide.backbone).T, zorder=4, **layers.BACKBONE)
    for one in first:
        axes.add_artist(shape(one.panel.polygon, facecolor="none", edgecolor=LINE["color"], linewidth=1.8, zorder=5))
    for panel in (panel for panel in layout.panels if panel.hide == hide.id):
        burnt = ", burnt" if layout.is_burnt(panel) else ""
        name = words.plain(panel.id, 20) if panel.longer else f"panel {words.plain(panel.id, 20)}"
        label = fit((f"{name}{burnt}",), panel.polygon, inch_per_mm * 72)
        if label:
            write(axes, [label], inch_per_mm * 72, zorder=6, weight="bold")
    middle = np.array(hide.outline.centroid.coords[0])
    start = np.array(mark(hide))
    away = (start - middle) / max(float(np.linalg.norm(start - middle)), 1e-9)
    letter = start + away * 0.17 / inch_per_mm
    taken: list[np.ndarray] = [letter]
    if first:
        far = np.array(second_mark(hide))
        out = far - middle
        beside = far + out / max(float(np.linalg.norm(out)), 1e-9) * 0.17 / inch_per_mm
        axes.plot(*far, marker="D", markersize=6, color="#0072B2", zorder=7)
        axes.text(beside[0], beside[1], "N", color="#0072B2", bbox=HALO, **NUMBER)
        taken.append(beside)
    for one in first:
        for end in one.ends:
            axes.plot(end.x, end.y, marker="o", markersize=3.2, color="#a34700", zorder=7)
            axes.text(end.x, end.y, end.name, fontsize=7.5, ha="center", va="center", zorder=8, bbox=HALO)
    for line in lines:
        layers.draw_knife_line(axes, layout, hide, LineString(line.points), 5, LINE)
        spot = LineString(line.points).interpolate(0.36, normalized=True)
        for bend in line.bends:
            axes.plot(bend.x, bend.y, marker="o", markersize=3.2, color="#a34700", zorder=7)
            label = np.array([bend.x, bend.y]) + np.array([0.0, AWAY_IN[0] / inch_per_mm])
            taken.append(label)
            axes.text(label[0], label[1], bend.name, fontsize=7.5, ha="center", va="center", zorder=8, bbox=HALO)
        axes.text(spot.x, spot.y, str(line.number), color="#a34700", bbox=HALO, **NUMBER)
        for end, (x, y) in zip(line.ends, (line.points[1], line.points[-2])):
            out = np.array([end.x - x, end.y - y]) / max(math.dist((end.x, end.y), (x, y)), 1e-9)
            axes.plot(end.x, end.y, marker="o", markersize=3.2, color="#a34700", zorder=7)
            for away_in in AWAY_IN:
                place = np.array([end.x, end.y]) + out * away_in / inch_per_mm
                if all(np.linalg.norm(place - other) * inch_per_mm >= LABEL_IN for other in taken):
                    break
            taken.append(place)
            axes.text(place[0], place[1], end.name, fontsize=7.5, ha="center", va="center", zorder=8, bbox=HALO)
    axes.plot(*start, marker="D", markersize=6, color="#0072B2", zorder=7)
    axes.text(letter[0], letter[1], "M", color="#0072B2", bbox=HALO, **NUMBER)


def _title(sheet: Sheet, layout: Layout, hide: Hide, lines: tuple[Line, ...], first: tuple[CutFirst, ...]) -> None:
    panels = sum(panel.hide == hide.id and not panel.longer for panel in layout.panels)
    size = TEXT_PT + 0.4
    sheet.text(
        0,
        TITLE_IN,
        f"Cutting guide for hide {words.plain(hide.id, 60)}",
        fontsize=12,
        fontweight="bold",
        va="top",
        parse_math=False,
    )
    names = ", ".join(one.panel.id for one in first)
    text = f"First cut out {names}, grain side up. " if first else ""
    text += f"{words.count(len(lines), 'knife line')} for {words.count(panels, 'panel')}"
    if not first:
        usable, shown = layout.workshop.machine.usable_mm, layout.workshop.units
        inches = shown == "inch" and math.isfinite(max(usable))
        bed = units.size_words(*usable, shown) if inches else layout.workshop.machine.usable_words
        text += f"; usable bed {bed}"
    text += ". Cut in the order of the numbers, each line right across its piece" + (
        ", grain side up." * (not first) or "."
    )
    sheet.text(0, TITLE_IN - 0.25, text, fontsize=size, va="top")
    where = "the point of the hide farthest to the left"
    if hide.backbone is not None:
        where = "where the backbone meets the edge; left and right as seen from M along it"
    where += "; N: the corner farthest from M" if first else ""
    sheet.text(0, TITLE_IN - 0.42, f"M: {where}.", fontsize=size, va="top")
    text = "Measure along the edge with a soft tape; parts are grey."
    if any(line.bends for line in lines):
        text += " A line with points c and d is cut in straight strokes from a by c and d to b."
    sheet.text(0, TITLE_IN - 0.59, text, fontsize=size, va="top")


def _table(
    sheet: Sheet,
    hide: Hide,
    lines: tuple[Line, ...],
    first: tuple[CutFirst, ...],
    freed: Sequence[str],
    shown: str,
) -> None:
    top, columns, size = sheet.height, COLUMNS_IN, TEXT_PT
    if shown == "inch":
        columns, size = INCH_COLUMNS_IN, INCH_PT
    heads = (
        "line",
        "length",
        "its ends, along the edge or an earlier line",
        "from the backbone" if hide.backbone is not None else "to check",
    )
    for x, head in zip(columns, heads):
        sheet.text(x, top - 0.5 * ROW_IN, head, fontsize=size, fontweight="bold", va="center")
    y = top - 1.1 * ROW_IN
    rows = [(one.panel.id, *_first_row(one, hide, shown)) for one in first]
    for line in lines:
        ends = [(f"{end.name}  {sentence(end, shown)}", from_backbone(end, shown)) for end in line.ends]
        ends += [(f"{one.name}  {bend_sentence(one, shown)}", from_backbone(one, shown)) for one in line.bends]
        ends += [(flaw_sentence(line, flaw, shown), "") for flaw in line.flaws]
        rows.append((str(line.number), units.tape_words(line.length_mm, shown), ends))
    for number, length, ends in rows:
        sheet.line((0, sheet.width), (y, y), color="#bbbbbb", linewidth=0.5)
        sheet.text(columns[0], y - 0.5 * ROW_IN, number, fontsize=size + 0.8, fontweight="bold", va="center")
        sheet.text(columns[1], y - 0.5 * ROW_IN, length, fontsize=size, va="center")
        for row, (found, check) in enumerate(ends):
            level = y - (0.5 + row) * ROW_IN
            sheet.text(columns[2], level, found, fontsize=size, va="center")
            sheet.text(columns[3], level, check, fontsize=size, va="center")
        y -= len(ends) * ROW_IN
    sheet.line((0, sheet.width), (y, y), color="#bbbbbb", linewidth=0.5)
    for row, found in enumerate(freed):
        sheet.text(columns[0], y - (0.5 + row) * ROW_IN, found, fontsize=size, va="center", parse_math=False)


def _first_row(one: CutFirst, hide: Hide, shown: str) -> tuple[str, list[tuple[str, str]]]:
    """The length of what is cut out first, and how its ends are found and checked."""
    length = math.dist((one.ends[0].x, one.ends[0].y), (one.ends[1].x, one.ends[1].y))
    ends = []
    for end, second, edge in zip(one.ends, one.second_mm, one.edge_mm):
        found = f"{units.tape_words(end.straight_mm, shown)} straight from M, {units.tape_words(second, shown)} from N"
        nearest = f"{units.tape_words(edge, shown)} from the nearest edge"
        ends.append((f"{end.name}  {found}", nearest if hide.backbone is None else from_backbone(end, shown)))
    return units.tape_words(length, shown), ends
