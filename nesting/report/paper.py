"""Paper templates to cut by knife: every part at true size, small ones together on a sheet, large ones over several."""

from __future__ import annotations

import io
import math
import re
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from ..atomic import write_bytes
from ..geometry import Shape, place
from ..laser.corner import Corner, drawn_ends, in_corner
from ..model import Hide, Layout, Placement
from . import words
from .pdf_fonts import BOLD, FONT, register_fonts
from .places import draw_places, pages_of

if TYPE_CHECKING:
    # loaded where a PDF is written: it takes long
    from reportlab.pdfgen.canvas import Canvas

SHEET_MM = (210.0, 297.0)
"""A4 (ISO 216)."""
LETTER_MM = (215.9, 279.4)
"""US letter, 8.5 in x 11 in: taken where inches are shown first."""
EDGE_MM = 10.0
"""Most printers leave so much of a sheet white."""
FOOT_MM, CHECK_MM = 17.0, 100.0
"""Room for the words at the foot, and the line there that a ruler checks."""
OVERLAP_MM, MARK_EVERY_MM, MARK_ROOM_MM = 10.0, 60.0, 8.0
"""Sheets of one template are glued on so much, crosses so far apart tell whether they meet, and a cross with its name
takes so much to each side."""
GAP_MM = 6.0
"""Between two templates on a sheet, for the scissors."""
CLEAR_MM, LETTERS_MM, LINE_EM = 1.5, (1.4, 4.2), 1.25
"""Words keep so far from every line; their least and greatest size, and from line to line, in sizes."""
LETTER_SIZES, PLACES = 12, 41
"""Sizes of letters tried between the two, and places along each side of the template."""
LINE_MM, THIN_MM = 0.3, 0.15
"""Lines to cut along, and those that are only to be seen."""
SQUARE_IN_MM = 101.6
"""A square of 4 in, drawn about one of 100 mm."""


class Paper(NamedTuple):
    """What is printed on: width and height, mm."""

    wide: float
    high: float

    @property
    def area_mm(self) -> tuple[float, float]:
        """Room for drawing on one sheet."""
        return self.wide - 2 * EDGE_MM, self.high - 2 * EDGE_MM - FOOT_MM


A4, LETTER = Paper(*SHEET_MM), Paper(*LETTER_MM)


@dataclass(frozen=True)
class Template:
    """One shape to cut and how often, its lower left corner at (0, 0), in mm.

    ``backbone_deg`` is the direction in which the backbone runs on it, or None where it does not matter. ``names`` are
    those of its places, which a guide gives, and ``ends`` the points a and b that it is laid by; there may be none.
    ``number`` tells it from the others of its hide.
    """

    product: str
    part: str
    count: int
    orders: str
    grade: str
    backbone_deg: float | None
    outline: Polygon
    cutouts: tuple[Polygon, ...]
    stitch: tuple[LineString, ...]
    engrave: tuple[LineString, ...]
    folds: tuple[LineString, ...] = ()
    names: str = ""
    ends: tuple[Point, ...] = ()
    number: int = 1

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height."""
        _, _, x1, y1 = self.outline.bounds
        return x1, y1


@dataclass(frozen=True)
class Sheet:
    """One page: which part of which templates it shows. Each is moved by its (x, y) and clipped to the drawing area.

    One with ``places`` has these rows of the table that tells where templates go instead.
    """

    title: str
    drawn: tuple[tuple[Template, float, float], ...]
    column: int = 0
    row: int = 0
    columns: int = 1
    rows: int = 1
    places: range | None = None


def write_templates(layout: Layout, hide_id: str, folder: Path, knife_only: bool = False) -> tuple[Path, int] | None:
    """Write ``HIDE-templates.pdf``, whole or not at all, on A4, or on US letter where inches are shown first.

    Of a hide that is still in one piece it begins with where each template goes; that of parts longer than the bed,
    which alone are cut by knife from a hide to be burnt, has the cutting guide.

    Parameters
    ----------
    layout : Layout
    hide_id : str
        A hide with parts on it.
    folder : Path
    knife_only : bool
        Of a hide that may be burnt only what is cut by knife all the same; None is given where there is nothing.

    Returns
    -------
    Path
        The file.
    int
        Its pages.

    Raises
    ------
    FileError
        When the file cannot be written.
    """
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    paper = LETTER if layout.workshop.units == "inch" else A4
    pages, corner = sheets(templates(layout, hide, knife_only), paper), None
    if not pages:
        return None
    if _by_corner(layout, hide, knife_only):
        corner = in_corner(hide, _alike(layout, hide, knife_only))
        pages = [Sheet("Where the templates go", (), places=rows) for rows in pages_of(corner, *paper.area_mm)] + pages
    name = re.sub(r"[^A-Za-z0-9._-]+", "-", hide_id)[:100].lstrip(".") or "hide"
    path = folder / f"{name}-templates.pdf"
    write_bytes(path, _pdf(hide, pages, layout, paper, corner))
    return path, len(pages)


def templates(layout: Layout, hide: Hide, knife_only: bool = False) -> list[Template]:
    """The different shapes still to be cut from a hide, or cut already where that is all, the largest first."""
    by_corner = _by_corner(layout, hide, knife_only)
    return [
        _template(copies, layout, number, by_corner)
        for number, copies in enumerate(_alike(layout, hide, knife_only), 1)
    ]


def _by_corner(layout: Layout, hide: Hide, knife_only: bool) -> bool:
    """Whether templates are laid on the whole hide, pushed into a corner."""
    return not (knife_only and hide.laser_safe) and all(burnt.panel.hide != hide.id for burnt in layout.burnt)


def _alike(layout: Layout, hide: Hide, knife_only: bool) -> list[list[Placement]]:
    """What is cut by each template, the largest first."""
    alike: dict[tuple[str, str, bool], list[Placement]] = {}
    every = [p for p in layout.on(hide.id) if not (knife_only and hide.laser_safe) or layout.by_knife(p)]
    for placement in [p for p in every if not layout.is_burnt(p)] or every:
        alike.setdefault((placement.product, placement.part, placement.mirrored), []).append(placement)
    return sorted(alike.values(), key=lambda copies: -copies[0].outline.area)


def sheets(made: list[Template], paper: Paper = A4) -> list[Sheet]:
    """Lay templates out on paper: large ones over several sheets that overlap, small ones side by side.

    Before sheets to be glued together comes one to check the printer with.
    """
    large = [template for template in made if not _fits(template, paper)]
    pages = [page for template in large for page in _tiled(_turned_to_fit(template, paper), paper)]
    fitting = (_upright(template, paper) for template in made if _fits(template, paper))
    small = sorted(fitting, key=lambda each: -each.size_mm[1])
    return [Sheet("Check the printer", ())] * bool(large) + pages + _shelves(small, paper)


def _template(copies: list[Placement], layout: Layout, number: int, by_corner: bool) -> Template:
    first = copies[0]
    names = ", ".join(words.plain(copy.panel, 20) for copy in copies if layout.by_knife(copy))
    if by_corner:
        names = f"{number}.1" + (f" to {number}.{len(copies)}" if len(copies) > 1 else "")

    def back(shape: Shape) -> Shape:
        return place(place(shape, -first.x, -first.y, 0.0), 0.0, 0.0, -first.angle)

    x0, y0, _, _ = back(first.outline).bounds

    def drawn(shape: Shape) -> Shape:
        return place(back(shape), -x0, -y0, 0.0)

    counts = Counter(each.order for each in copies)
    return Template(
        product=words.plain(first.product, 60),
        part=words.plain(first.part, 60) + (" (mirrored)" if first.mirrored else ""),
        count=len(copies),
        orders=", ".join(f"{words.plain(order, 30)} × {count}" for order, count in counts.items()),
        grade=first.grade,
        backbone_deg={"along": 0.0, "fixed": 0.0, "across": 90.0}.get(first.direction.kind),
        outline=drawn(first.outline),
        cutouts=tuple(map(drawn, first.cutouts)),
        stitch=tuple(map(drawn, first.stitch)),
        engrave=tuple(map(drawn, first.engrave)),
        folds=tuple(map(drawn, first.folds)),
        names=names,
        ends=tuple(place(Point(end), -x0, -y0, 0.0) for end in drawn_ends(first)) if names else (),
        number=number,
    )


def _fits(template: Template, paper: Paper) -> bool:
    (wide, high), (w, h) = paper.area_mm, template.size_mm
    return (w <= wide and h <= high) or (h <= wide and w <= high)


def _upright(template: Template, paper: Paper) -> Template:
    """As drawn where it fits so, else turned by a quarter."""
    w, h = template.size_mm
    return template if w <= paper.area_mm[0] and h <= paper.area_mm[1] else _quarter(template)


def _turned_to_fit(template: Template, paper: Paper) -> Template:
    return min((template, _quarter(template)), key=lambda each: math.prod(_tiles(each, paper)))


def _quarter(template: Template) -> Template:
    def turn(shape: Shape) -> Shape:
        return place(shape, template.size_mm[1], 0.0, 90.0)

    return replace(
        template,
        backbone_deg=None if template.backbone_deg is None else template.backbone_deg + 90.0,
        outline=turn(template.outline),
        cutouts=tuple(map(turn, template.cutouts)),
        stitch=tuple(map(turn, template.stitch)),
        engrave=tuple(map(turn, template.engrave)),
        folds=tuple(map(turn, template.folds)),
        ends=tuple(map(turn, template.ends)),
    )


def _tiles(template: Template, paper: Paper = A4) -> tuple[int, int]:
    """Columns and rows of sheets."""
    columns, rows = (
        max(1, math.ceil((size - OVERLAP_MM) / (room - OVERLAP_MM) - 1e-9))
        for size, room in zip(template.size_mm, paper.area_mm)
    )
    return columns, rows


def _tiled(template: Template, paper: Paper) -> list[Sheet]:
    columns, rows = _tiles(template, paper)
    step = [room - OVERLAP_MM for room in paper.area_mm]
    return [
        Sheet(_title(template), ((template, -column * step[0], -row * step[1]),), column, row, columns, rows)
        for row in reversed(range(rows))
        for column in range(columns)
    ]


def _title(template: Template) -> str:
    return f"{template.product}, {template.part}" + (f", {template.names}" if template.names else "")


def _shelves(small: list[Template], paper: Paper) -> list[Sheet]:
    """Side by side from the top of a sheet, row below row, on as many sheets as it takes."""
    pages: list[list[tuple[Template, float, float]]] = []
    x = y = shelf = 0.0
    for template in small:
        w, h = template.size_mm
        if pages and x + w > paper.area_mm[0]:
            x, y = 0.0, y + shelf + GAP_MM
        if not pages or y + h > paper.area_mm[1]:
            pages.append([])
            x = y = 0.0
        shelf = h if x == 0.0 else max(shelf, h)
        pages[-1].append((template, x, paper.area_mm[1] - y - h))
        x += w + GAP_MM
    titles = (_title(page[0][0]) if len(page) == 1 else f"{len(page)} parts" for page in pages)
    return [Sheet(title, tuple(page)) for title, page in zip(titles, pages)]


def _pdf(hide: Hide, pages: list[Sheet], layout: Layout, paper: Paper, corner: Corner | None) -> bytes:
    from reportlab.lib.units import mm
    from reportlab.pdfgen.canvas import Canvas

    register_fonts()
    stream, mark = io.BytesIO(), layout.mark
    canvas = Canvas(stream, pagesize=tuple(side * mm for side in paper), invariant=1)
    canvas.setTitle(f"Templates for hide {words.plain(hide.id, 60)}, layout {mark}")
    canvas.setKeywords(f"layout {mark}")
    for number, sheet in enumerate(pages, 1):
        canvas.scale(mm, mm)
        canvas.setLineJoin(1)
        if corner is not None and sheet.places is not None:
            canvas.saveState()
            canvas.translate(EDGE_MM, EDGE_MM + FOOT_MM)
            draw_places(canvas, corner, hide.id, sheet.places, paper.area_mm, layout.workshop.units)
            canvas.restoreState()
        elif sheet.drawn:
            _draw_area(canvas, sheet, paper)
        else:
            _draw_check(canvas, paper, pages)
        _draw_foot(canvas, hide, sheet, f"layout {mark}, page {number} of {len(pages)}", paper)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _draw_area(canvas: Canvas, sheet: Sheet, paper: Paper) -> None:
    canvas.saveState()
    canvas.translate(EDGE_MM, EDGE_MM + FOOT_MM)
    clip = canvas.beginPath()
    wide, high = paper.area_mm
    clip.rect(-LINE_MM, -LINE_MM, wide + 2 * LINE_MM, high + 2 * LINE_MM)
    canvas.clipPath(clip, stroke=0)
    for template, x, y in sheet.drawn:
        canvas.saveState()
        canvas.translate(x, y)
        _draw_template(canvas, template, paper)
        canvas.restoreState()
    if sheet.columns * sheet.rows > 1:
        _draw_seams(canvas, sheet, paper)
    canvas.restoreState()


def _draw_check(canvas: Canvas, paper: Paper, pages: list[Sheet]) -> None:
    """Two squares to measure, and what to do with the sheets that follow."""
    left, top = (paper.wide - SQUARE_IN_MM) / 2, paper.high - EDGE_MM - 30.0
    canvas.setLineWidth(LINE_MM)
    canvas.setStrokeGray(0)
    inset = (SQUARE_IN_MM - CHECK_MM) / 2
    canvas.rect(left + inset, top - SQUARE_IN_MM + inset, CHECK_MM, CHECK_MM)
    canvas.setLineWidth(THIN_MM)
    canvas.setDash(2, 1.5)
    canvas.rect(left, top - SQUARE_IN_MM, SQUARE_IN_MM, SQUARE_IN_MM)
    canvas.setDash()
    canvas.setFont(BOLD, 5.0)
    canvas.drawCentredString(paper.wide / 2, top + 12, "Print at 100 %, then measure this square both ways")
    tiled = [sheet for sheet in pages if sheet.columns * sheet.rows > 1]
    whole = dict.fromkeys(sheet.title for sheet in tiled)
    guide = "the first sheet" if any(sheet.places is not None for sheet in pages) else "the cutting guide"
    lines = [
        "Solid: 100 mm. Dashed: 4 in. If they are not, turn off scaling to fit the page and print again.",
        "",
        *(
            f"{title[:70]}: {sum(sheet.title == title for sheet in tiled)} sheets, glued so that the crosses meet."
            for title in whole
        ),
        "",
        f"Lay the template on the leather grain side up, with a and b where {guide} has them."
        if any(template.ends for sheet in tiled for template, _, _ in sheet.drawn)
        else "Lay the template on the leather grain side up.",
        "Tape it down, cut along the outline with a sharp knife, and mark or punch the holes through the paper.",
    ]
    canvas.setFont(FONT, 3.6)
    for number, line in enumerate(lines):
        canvas.drawCentredString(paper.wide / 2, top - SQUARE_IN_MM - 12 - 6 * number, line)


def _draw_template(canvas: Canvas, template: Template, paper: Paper) -> None:
    canvas.setStrokeGray(0.55)
    canvas.setLineWidth(THIN_MM)
    for line in template.engrave:
        _stroke(canvas, line)
    canvas.setDash(4, 2)
    for line in template.folds:
        _stroke(canvas, line)
    canvas.setDash()
    canvas.setStrokeGray(0)
    for line in template.stitch:
        _stroke(canvas, line)
    canvas.setLineWidth(LINE_MM)
    for polygon in (template.outline, *template.cutouts):
        _stroke(canvas, polygon.exterior)
    for name, end in zip("ab", template.ends):
        _mark(canvas, end.x, end.y, name, template.outline.centroid)
    _draw_words(canvas, template, paper)


def _stroke(canvas: Canvas, line: LineString) -> None:
    points = np.asarray(line.coords)[:, :2]
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    if (points[0] == points[-1]).all():
        path.close()
    canvas.drawPath(path)


def _draw_words(canvas: Canvas, template: Template, paper: Paper) -> None:
    """Name, how many, orders, grade and the way of the backbone, where there is room for them on the part."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    texts = [
        (BOLD, f"{template.product}: {template.part}" + (f", {template.names}" if template.names else "")),
        (FONT, f"cut {template.count}, grade {template.grade} or better"),
        (FONT, template.orders),
    ]
    if template.backbone_deg is not None:
        texts.append((FONT, "↔ backbone"))
    wide = max(stringWidth(text, font, 1.0) for font, text in texts)
    x, y, turn, size = _room_for_words(template, wide, LINE_EM * len(texts), paper)
    if template.backbone_deg is not None and abs((template.backbone_deg - turn) % 180.0) >= 1.0:
        texts[-1] = (FONT, "↕ backbone")
    canvas.saveState()
    canvas.translate(x, y)
    canvas.rotate(turn)
    for number, (font, text) in enumerate(texts):
        canvas.setFont(font, size)
        canvas.drawCentredString(0, (len(texts) / 2 - number - 0.8) * LINE_EM * size, text)
    canvas.restoreState()


def _room_for_words(
    template: Template, wide: float, high: float, paper: Paper = A4
) -> tuple[float, float, float, float]:
    """Middle, direction (degrees) and size (mm) of words that are so many times their size wide and high.

    As large as they go clear of every line and seam, at least ``LETTERS_MM``; where they do not go, over lines.
    """
    solid = (
        template.outline.difference(shapely.union_all(list(template.cutouts))) if template.cutouts else template.outline
    )
    clear = solid.buffer(-CLEAR_MM).difference(
        shapely.union_all([*template.stitch, *template.engrave]).buffer(CLEAR_MM)
    )
    (columns, rows), (right, upward) = _tiles(template, paper), (side - OVERLAP_MM for side in paper.area_mm)
    seams = [shapely.box(k * right, -1e4, k * right + OVERLAP_MM, 1e4) for k in range(1, columns)]
    seams += [shapely.box(-1e4, k * upward, 1e4, k * upward + OVERLAP_MM) for k in range(1, rows)]
    along = (0.0, 90.0) if template.size_mm[0] >= template.size_mm[1] else (90.0, 0.0)
    sizes = np.geomspace(LETTERS_MM[1], LETTERS_MM[0], LETTER_SIZES)
    for room in (clear.difference(shapely.union_all(seams)), solid.difference(shapely.union_all(seams)), solid):
        if room.is_empty:
            continue
        shapely.prepare(room)
        left, low, furthest, top = room.bounds
        across, up = np.linspace(left, furthest, PLACES), np.linspace(low, top, PLACES)
        x, y = (grid.ravel() for grid in np.meshgrid(across, up))
        for size in sizes:
            for turn in along:
                w, h = (wide * size / 2, high * size / 2) if turn == 0.0 else (high * size / 2, wide * size / 2)
                fits = shapely.contains(room, shapely.box(x - w, y - h, x + w, y + h))
                if fits.any():
                    middle = template.outline.centroid
                    best = np.argmin(np.where(fits, np.hypot(x - middle.x, y - middle.y), np.inf))
                    return float(x[best]), float(y[best]), turn, float(size)
    middle = solid.representative_point()
    return middle.x, middle.y, along[0], LETTERS_MM[0]


def _draw_seams(canvas: Canvas, sheet: Sheet, paper: Paper) -> None:
    """Dashed lines where sheets overlap, and crosses that must meet on both, none of them near the end of its line."""
    wide, high = paper.area_mm
    step = wide - OVERLAP_MM, high - OVERLAP_MM
    x0, y0 = sheet.column * step[0], sheet.row * step[1]
    of = sheet.drawn[0][0].number
    canvas.setStrokeGray(0.3)
    canvas.setLineWidth(THIN_MM)
    across = [(k * step[0] + OVERLAP_MM / 2, k) for k in (sheet.column, sheet.column + 1) if 0 < k < sheet.columns]
    up = [(k * step[1] + OVERLAP_MM / 2, k) for k in (sheet.row, sheet.row + 1) if 0 < k < sheet.rows]
    for x, k in across:
        _dashed(canvas, x - x0, 0, x - x0, high)
        for n in _marks_between(y0, y0 + high):
            _mark(canvas, x - x0, n * MARK_EVERY_MM - y0, f"{of}-{k}.{n}", left=k > sheet.column)
    for y, k in up:
        _dashed(canvas, 0, y - y0, wide, y - y0)
        for n in _marks_between(x0, x0 + wide):
            _mark(canvas, n * MARK_EVERY_MM - x0, y - y0, f"{of}-{chr(ord('a') + (k - 1) % 26)}.{n}")


def _marks_between(low: float, high: float) -> range:
    """Numbers of the crosses of a line that are whole between its ends."""
    return range(math.ceil((low + MARK_ROOM_MM) / MARK_EVERY_MM), math.floor((high - MARK_ROOM_MM) / MARK_EVERY_MM) + 1)


def _dashed(canvas: Canvas, x0: float, y0: float, x1: float, y1: float) -> None:
    canvas.saveState()
    canvas.setDash(2, 1.5)
    canvas.line(x0, y0, x1, y1)
    canvas.restoreState()


def _mark(canvas: Canvas, x: float, y: float, name: str, towards: Point | None = None, left: bool = False) -> None:
    """A cross in a circle, its name above, to the right or left, or beside it towards a point."""
    canvas.line(x - 4, y, x + 4, y)
    canvas.line(x, y - 4, x, y + 4)
    canvas.circle(x, y, 2.2)
    if towards is None:
        canvas.setFont(FONT, 2.2)
        write = canvas.drawRightString if left else canvas.drawString
        write(x - 0.7 if left else x + 0.7, y + 2.5, name)
    else:
        canvas.setFont(BOLD, 3.4)
        turn = math.atan2(towards.y - y, towards.x - x)
        canvas.drawCentredString(x + 6.4 * math.cos(turn), y + 6.4 * math.sin(turn) - 1.2, name)


def _draw_foot(canvas: Canvas, hide: Hide, sheet: Sheet, page: str, paper: Paper) -> None:
    canvas.setStrokeGray(0)
    canvas.setFillGray(0)
    canvas.setLineWidth(0.2)
    canvas.line(EDGE_MM, EDGE_MM + 3, EDGE_MM + CHECK_MM, EDGE_MM + 3)
    for tick in range(11):
        x = EDGE_MM + tick * CHECK_MM / 10
        canvas.line(x, EDGE_MM + 3, x, EDGE_MM + (6 if tick in (0, 5, 10) else 4.5))
    canvas.setFont(FONT, 2.6)
    canvas.drawString(EDGE_MM + CHECK_MM + 3, EDGE_MM + 3, "100 mm: print at 100 % and measure this line first.")
    tile = ""
    if sheet.columns * sheet.rows > 1:
        tile = f": sheet {sheet.column + 1} of {sheet.columns} across, {sheet.row + 1} of {sheet.rows} up"
    canvas.setFont(BOLD, 3.2)
    canvas.drawString(EDGE_MM, EDGE_MM + 12, f"{sheet.title}{tile}"[:90])
    canvas.setFont(FONT, 2.6)
    seam = (
        "Cut one sheet along the dashed line, lay it over the other so that the crosses meet, and glue. "
        if tile
        else ""
    )
    canvas.drawString(
        EDGE_MM, EDGE_MM + 8.3, f"{seam}Hide {words.plain(hide.id, 50)}, {words.make(hide.tannage)}: cut by knife."
    )
    canvas.drawRightString(paper.wide - EDGE_MM, EDGE_MM + 12, page)
