"""The sheet that tells where templates go: the hide in its corner of two battens, and a table of measures."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import Polygon

from ..laser.corner import Corner, Lying, Spot
from ..model import units
from . import words
from .pdf_fonts import BOLD, FONT

if TYPE_CHECKING:
    # loaded where a PDF is written: it takes long
    from reportlab.pdfgen.canvas import Canvas

MAP_MM, ROW_MM, LINE_MM = 118.0, 4.2, 4.0
"""Height that the drawing of a hide may have; from row to row of the table; from line to line of the words."""
WORDS_MM, SMALL_MM, TITLE_MM = 2.7, 2.4, 4.6
"""Sizes of letters."""
NUMBERS_MM = (1.1, 3.2)
"""Least and greatest size of the number in a part."""
COLUMNS = (0.0, 0.065, 0.42, 0.64, 0.86)
INCH_COLUMNS = (0.0, 0.055, 0.27, 0.54, 0.81)
"""Where the columns of the table begin, as shares of its width; and where inches stand before the mm."""
BATTEN_MM, DOT_MM = 2.0, 0.8
LEAST_HELD = 1 / 3
"""A side that touches the batten over a smaller share of the hide's length lets it turn: the edge tells more."""


def pages_of(corner: Corner, wide: float, high: float) -> list[range]:
    """The rows of the table on each page; a page is so wide and high, mm."""
    first = max(1, int((high - _top(corner) - _map_size(corner, wide)[1] - 4 * ROW_MM) / ROW_MM))
    more, count = int((high - 3 * ROW_MM) / ROW_MM), len(corner.parts)
    starts = [0, *range(first, count, more)]
    return [range(start, min(end, count)) for start, end in zip(starts, [*starts[1:], count])]


def draw_places(
    canvas: Canvas, corner: Corner, hide: str, rows: range, size_mm: tuple[float, float], shown: str
) -> None:
    """Draw one page of it, from its lower left corner, in mm; ``shown`` are the units shown first."""
    wide, high = size_mm
    y = high
    if rows.start == 0:
        canvas.setFillGray(0)
        canvas.setFont(BOLD, TITLE_MM)
        canvas.drawString(0, y - TITLE_MM, f"Where the templates go on hide {words.plain(hide, 50)}")
        canvas.setFont(FONT, WORDS_MM)
        for number, line in enumerate(_lines(corner, shown)):
            canvas.drawString(0, y - TITLE_MM - 6 - LINE_MM * number, line)
        y -= _top(corner)
        scale, height = _map_size(corner, wide)
        canvas.saveState()
        canvas.translate((wide - scale * corner.outline.bounds[2]) / 2, y - height + BATTEN_MM + 1)
        _draw_map(canvas, corner, scale)
        canvas.restoreState()
        y -= height + ROW_MM
    _draw_table(canvas, corner.parts[rows.start : rows.stop], wide, y, shown)


def _lines(corner: Corner, shown: str) -> list[str]:
    def tape(mm: float) -> str:
        return units.tape_words(mm, shown)

    (p, _), (q, _) = corner.touches
    lines = [
        "1. Fix two straight battens to the table, square to each other. Push the leather into their corner,",
        f"    grain side up, until it touches the long one at P, {tape(p)}, and Q, {tape(q)} from the corner,",
        f"    and the short one at R, {tape(corner.side[1])} from it.",
        "2. For points a and b of each template, measure along the long batten from the corner, then square off it.",
        "3. Check how far they are from the nearest edge. More than 3 mm off: the leather lies otherwise, push again.",
        "4. Lay each template with a and b on these points, printed side up, draw around it; mark all before you cut.",
    ]
    if corner.held_mm < LEAST_HELD * corner.outline.bounds[2]:
        lines.insert(
            2,
            f"    It touches the long one over only {tape(corner.held_mm)}: turn it until the distances of step 3 fit.",
        )
    return lines


def _top(corner: Corner) -> float:
    """Height of the words above the drawing."""
    return TITLE_MM + 6 + LINE_MM * len(_lines(corner, "mm"))


def _map_size(corner: Corner, wide: float) -> tuple[float, float]:
    """Scale and height of the drawing."""
    _, _, x1, y1 = corner.outline.bounds
    scale = min((wide - 2 * BATTEN_MM - 6) / x1, MAP_MM / y1)
    return scale, scale * y1 + BATTEN_MM + 5


def _draw_map(canvas: Canvas, corner: Corner, scale: float) -> None:
    _, _, x1, y1 = corner.outline.bounds
    canvas.setFillGray(0.75)
    canvas.rect(-BATTEN_MM, -BATTEN_MM, scale * x1 + BATTEN_MM, BATTEN_MM, stroke=0, fill=1)
    canvas.rect(-BATTEN_MM, 0, BATTEN_MM, scale * y1, stroke=0, fill=1)
    canvas.setStrokeGray(0)
    canvas.setLineWidth(0.35)
    _fill(canvas, corner.outline, scale, 1.0)
    if corner.backbone is not None:
        (ax, ay), (bx, by) = corner.backbone
        canvas.setLineWidth(0.2)
        canvas.setDash(3, 1.2)
        canvas.line(scale * ax, scale * ay, scale * bx, scale * by)
        canvas.setDash()
    canvas.setLineWidth(0.2)
    for part in corner.parts:
        _fill(canvas, part.outline, scale, 0.9)
    for part in corner.parts:
        canvas.setFillGray(0)
        for spot in (part.a, part.b):
            canvas.circle(scale * spot[0], scale * spot[1], 0.35, stroke=0, fill=1)
        # a sign is about two thirds as wide as high, and the letters a and b need room beside them
        side = scale * math.sqrt(part.outline.area)
        size = min(max(min(0.3, 1.0 / len(part.number)) * side, NUMBERS_MM[0]), NUMBERS_MM[1])
        canvas.setFont(BOLD, size)
        middle = part.outline.representative_point()
        canvas.drawCentredString(scale * middle.x, scale * middle.y - 0.35 * size, part.number)
        _letters(canvas, part, scale, 0.6 * size)
    for name, spot, dx, dy in zip("PQR", (*corner.touches, corner.side), (0, 0, 2.2), (1.6, 1.6, -1.0)):
        canvas.setFillGray(0)
        canvas.circle(scale * spot[0], scale * spot[1], DOT_MM, stroke=0, fill=1)
        canvas.setFont(BOLD, 3.0)
        canvas.drawCentredString(scale * spot[0] + dx, scale * spot[1] + dy, name)


def _letters(canvas: Canvas, part: Lying, scale: float, size: float) -> None:
    """The letters a and b, within the part beside their points."""
    canvas.setFont(FONT, size)
    a, b = (scale * np.array(spot) for spot in (part.a, part.b))
    inward = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9) * size
    for name, spot in (("a", a + inward), ("b", b - inward)):
        canvas.drawCentredString(spot[0], spot[1] - 0.3 * size, name)


def _fill(canvas: Canvas, shape: Polygon, scale: float, gray: float) -> None:
    canvas.setFillGray(gray)
    path = canvas.beginPath()
    for ring in (shape.exterior, *shape.interiors):
        points = scale * np.asarray(ring.coords)[:-1, :2]
        path.moveTo(*points[0])
        for point in points[1:]:
            path.lineTo(*point)
        path.close()
    canvas.drawPath(path, fill=1, fillMode=0)


def _draw_table(canvas: Canvas, parts: tuple[Lying, ...], wide: float, top: float, shown: str) -> None:
    shares = INCH_COLUMNS if shown == "inch" else COLUMNS
    canvas.setFillGray(0)
    canvas.setFont(BOLD, SMALL_MM)
    heads = ("no.", "order, part", "a: along, then off", "b: along, then off", "a, b from the edge")
    for share, head in zip(shares, heads):
        canvas.drawString(share * wide, top - ROW_MM, head)
    canvas.setLineWidth(0.1)
    canvas.setStrokeGray(0.6)
    for row, part in enumerate(parts, 2):
        y = top - ROW_MM * row
        canvas.line(0, y + ROW_MM - 1, wide, y + ROW_MM - 1)
        placed = part.placement
        twin = " (mirrored)" if placed.mirrored else ""
        what = (
            f"{words.plain(placed.order, 20)}, {words.plain(placed.product, 30)}: {words.plain(placed.part, 30)}{twin}"
        )
        cells = (
            part.number,
            what,
            _measures(part.a, shown),
            _measures(part.b, shown),
            _measures(part.edge_mm, shown, shown == "inch"),
        )
        for number, (share, cell) in enumerate(zip(shares, cells)):
            canvas.setFont(BOLD if number == 0 else FONT, SMALL_MM)
            end = shares[number + 1] if number + 1 < len(shares) else 1.0
            canvas.drawString(share * wide, y, _cut(cell, (end - share) * wide - 1.5))


def _measures(pair: Spot, shown: str, short: bool = False) -> str:
    """Two lengths to be measured; short without the mm in brackets."""
    texts = [units.tape_words(mm, shown) for mm in pair]
    return ", ".join(text.split(" (")[0] if short else text for text in texts)


def _cut(text: str, most_mm: float) -> str:
    """As much of a text as there is room for."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    if stringWidth(text, FONT, SMALL_MM) <= most_mm:
        return text
    while text and stringWidth(text + "…", FONT, SMALL_MM) > most_mm:
        text = text[:-1]
    return text + "…"
