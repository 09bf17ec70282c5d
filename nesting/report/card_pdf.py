"""Job cards as one PDF, A4, readable when printed grey."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from . import words
from .cards import Card
from .pdf_fonts import BOLD, FONT, register_fonts

if TYPE_CHECKING:
    # loaded where a PDF is written: it takes long
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import BaseDocTemplate, Flowable, Frame, Paragraph, Table

    Page = Callable[[Canvas, BaseDocTemplate], None]

MARGIN_MM, WIDTH_MM = 13.0, 184.0
"""Of an A4 page: wide enough for any printer, and what is left between the margins."""
STEP_COLUMNS_MM = (7, 31, 36, 56, 14, 18, 22)
PART_COLUMNS_MM = (9, 22, 28, 29, 14, 21, 24, 37)
FACT_COLUMNS_MM = (18, 166)
HALVES_MM = (78, 106)
"""Columns of the tables: as wide as what stands in them, the page's width in all."""
PICTURE_MM = (108.0, 94.0, 80.0, 66.0)
"""Heights tried for the picture until the card fits its page."""
PARTS_PT = 60.0
"""Of a card that does not fit its page, so much of the table of parts at least is to begin on it."""


def cards_pdf(cards: Sequence[Card]) -> bytes:
    """The bytes of the PDF; each card begins on a page of its own, and every page names its card.

    What does not fit on that page are rows of parts, which go on under the card's name on the next.
    """
    from reportlab.lib.pagesizes import A4
    from reportlab.lib.units import mm
    from reportlab.platypus import BaseDocTemplate, Frame, NextPageTemplate, PageBreak, PageTemplate

    register_fonts()
    stream = io.BytesIO()
    mark = f"layout {cards[0].mark}" if cards else ""
    document = BaseDocTemplate(
        stream, pagesize=A4, title=f"Job cards, {mark}", author="", keywords=mark, invariant=1, pageCompression=1
    )
    frame, lower = (
        Frame(MARGIN_MM * mm, 14 * mm, A4[0] - 2 * MARGIN_MM * mm, A4[1] - top * mm, 0, 0, 0, 0) for top in (24, 34)
    )
    story: list[Flowable] = []
    for number, card in enumerate(cards):
        name = f"card-{number}"
        document.addPageTemplates(PageTemplate(name, [frame], onPage=_foot(card)))
        document.addPageTemplates(PageTemplate(f"{name}-on", [lower], onPage=_foot(card, goes_on=True)))
        # The first template is in force from the start; the others come with the page break before their card.
        story += [NextPageTemplate(name), PageBreak()] if number else []
        story += [NextPageTemplate(f"{name}-on"), *_fitted(card, frame)]
    document.build(story)
    return stream.getvalue()


def _foot(card: Card, goes_on: bool = False) -> Page:
    from reportlab.lib.units import mm

    def draw(canvas: Canvas, document: BaseDocTemplate) -> None:
        if goes_on:
            canvas.setFont(BOLD, 12)
            canvas.drawString(MARGIN_MM * mm, document.pagesize[1] - 14 * mm, f"{card.title}, continued")
        canvas.setFont(FONT, 7.5)
        canvas.drawString(
            MARGIN_MM * mm, 8 * mm, ", ".join(filter(None, (card.title, card.file, f"layout {card.mark}")))
        )
        canvas.drawRightString(document.pagesize[0] - MARGIN_MM * mm, 8 * mm, f"page {document.page}")

    return draw


def _fitted(card: Card, frame: Frame) -> list[Flowable]:
    """With the largest picture that leaves the card on one page; of a card too long for that, all but some parts."""
    for most in (0, 1):
        for high in PICTURE_MM:
            story = _card(card, high)
            heights = [part.wrap(frame._width, 1e6)[1] for part in story]
            if sum(heights[: len(heights) - most]) + 8 + most * PARTS_PT < frame._height:
                return _card(card, high)
    return _card(card, PICTURE_MM[-1])


def _card(card: Card, picture_mm: float) -> list[Flowable]:
    from reportlab.lib.units import mm
    from reportlab.platypus import HRFlowable, Image, Spacer

    text, small = _style(8.3), _style(7.6)
    image = Image(io.BytesIO(card.picture))
    share = min(WIDTH_MM * mm / image.imageWidth, picture_mm * mm / image.imageHeight)
    image.drawWidth, image.drawHeight = image.imageWidth * share, image.imageHeight * share
    named = f"file <b>{escape(card.file)}</b> · " if card.file else ""
    head = f"{escape(card.leather)} · {named}{escape(card.time)}"
    cut_with = f"<b>{escape(card.setting)}</b><br/>{escape(card.why)}"
    facts = [("Turn", escape(card.turn))] if card.turn else []
    facts += [("Lay", escape(card.lay))]
    facts += [("Points", escape(card.points))] if card.points else []
    facts += [("Mask", escape(card.masking)), ("Cut with", cut_with)]
    facts += [("Settings", escape(card.changes))] if card.changes else []
    rows = [[_words(f"<b>{name}</b>", text), _words(value, text)] for name, value in facts]
    story = [
        _words(f"<b>{escape(card.title)}</b>", _style(15, lead=1.25)), _words(head, text),
        HRFlowable(width="100%", thickness=1.6, color="black", spaceBefore=2, spaceAfter=4), image, Spacer(1, 2 * mm),
        _table(rows, FACT_COLUMNS_MM, head=False), Spacer(1, 2 * mm),
        *((_steps(card, text), Spacer(1, 2 * mm)) if card.steps else ()),
    ]  # fmt: skip
    if card.warnings:
        story += [
            _box([_words("<b>Watch out</b>", text), *(_words(f"• {escape(w)}", text) for w in card.warnings)], 1.8),
            Spacer(1, 2 * mm),
        ]
    after = [_words("<b>Afterwards</b>", text)]
    after += [_words(f"{number}. {escape(line)}", text) for number, line in enumerate(card.aftercare, 1)]
    does = "burn" if card.steps else "cut"
    before = [
        _words(f"<b>Before you {does}</b>", small),
        *(_words(f"• {escape(line)}", small) for line in card.cautions),
    ]
    return [*story, _beside(after, before), Spacer(1, 2 * mm), _parts(card, text)]


def _steps(card: Card, text: ParagraphStyle) -> Table:
    rows = [
        [
            _words(f"<b>{name}</b>", text)
            for name in ("", "Burn in this order", "Colour in the file", "Setting", "Lines", "Length", "Time")
        ]
    ]
    for step in card.steps:
        cells = (
            str(step.number),
            step.operation,
            f'<font backColor="{step.colour}" color="{step.colour}">MMM</font> {step.colour}',
            escape(step.setting),
            str(step.lines),
            step.length_words,
            words.duration(step.seconds),
        )
        rows.append([_words(cell, text) for cell in cells])
    return _table(rows, STEP_COLUMNS_MM)


def _parts(card: Card, text: ParagraphStyle) -> Table:
    names = ("No.", "Order", "Product", "Part", "Parts", "Due", "Thread", "Note")
    rows = [[_words(f"<b>{name}</b>", text) for name in names]]
    for part in card.parts:
        cells = (part.number, part.order, part.product, part.part, part.count, part.due, part.thread, part.note)
        rows.append([_words(escape(str(cell)), text) for cell in cells])
    return _table(rows, PART_COLUMNS_MM)


def _table(rows: list[list[Paragraph]], widths_mm: Sequence[float], head: bool = True) -> Table:
    from reportlab.lib.units import mm
    from reportlab.platypus import Table, TableStyle

    look = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.4, "#AAAAAA"),
        ("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
        ("LEFTPADDING", (0, 0), (-1, -1), 2), ("RIGHTPADDING", (0, 0), (-1, -1), 2),
    ]  # fmt: skip
    if head:
        look.append(("LINEBELOW", (0, 0), (-1, 0), 1.0, "black"))
    return Table(rows, [width * mm for width in widths_mm], repeatRows=int(head), style=TableStyle(look), hAlign="LEFT")


def _box(rows: list[Paragraph], line: float) -> Table:
    from reportlab.lib.units import mm
    from reportlab.platypus import Table, TableStyle

    look = TableStyle(
        [
            ("BOX", (0, 0), (-1, -1), line, "black"),
            ("TOPPADDING", (0, 0), (-1, -1), 1),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
        ]
    )
    return Table([[row] for row in rows], [WIDTH_MM * mm], style=look, hAlign="LEFT")


def _beside(left: list[Paragraph], right: list[Paragraph]) -> Table:
    """What comes afterwards beside what comes before, the cautions in a box."""
    from reportlab.lib.units import mm
    from reportlab.platypus import Table, TableStyle

    look = TableStyle(
        [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, 0), 2), ("BOX", (1, 0), (1, 0), 0.8, "black")]
    )
    return Table([[left, right]], [width * mm for width in HALVES_MM], style=look, hAlign="LEFT")


def _words(text: str, style: ParagraphStyle) -> Paragraph:
    from reportlab.platypus import Paragraph

    return Paragraph(text, style)


def _style(size: float, lead: float = 1.3) -> ParagraphStyle:
    from reportlab.lib.styles import ParagraphStyle

    return ParagraphStyle("s", fontName=FONT, fontSize=size, leading=lead * size, splitLongWords=1)
