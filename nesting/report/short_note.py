"""A note to a supplier about a hide that is smaller than it was sold, with the check picture."""

from __future__ import annotations

import io
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Image, Paragraph, SimpleDocTemplate, Spacer

from ..atomic import write_bytes
from ..model import units
from .pdf_fonts import BOLD, FONT, register_fonts

_WIDE, _HIGH = 170.0, 140.0
"""Room for the picture, mm."""


@dataclass(frozen=True)
class Short:
    """What the note says: areas in mm2, money in ``currency``."""

    name: str
    supplier: str
    since: str
    bought_mm2: float
    traced_mm2: float
    uncertain_mm2: float
    paid: Decimal | None
    worth: Decimal | None
    currency: str
    traced: str
    picture: Path | None


def write_note(short: Short, file: Path) -> Path:
    """Write the note as a PDF, whole or not at all; gives the file."""
    register_fonts()
    plain = ParagraphStyle("plain", fontName=FONT, fontSize=10.5, leading=15, spaceAfter=8)
    head = ParagraphStyle("head", parent=plain, fontName=BOLD, fontSize=14, leading=20)
    lacking = short.bought_mm2 - short.traced_mm2
    lines = [
        f"To {_safe(short.supplier or 'our supplier of leather')}",
        f"we measured hide {_safe(short.name)}, which came to us on {short.since}.",
        f"Sold as: {units.area_words(short.bought_mm2)}.<br/>"
        f"Measured: {units.area_words(short.traced_mm2)}, give or take {units.area_words(short.uncertain_mm2)}"
        f"{f' (by photo, {_safe(short.traced)})' if short.traced else ''}.<br/>"
        f"Lacking: {units.area_words(lacking)}, {lacking / short.bought_mm2:.1%} of what was sold.",
    ]
    if short.worth is not None:
        lines.append(
            f"At the {short.paid} {short.currency} paid for it, what is lacking is worth "
            f"{short.worth} {short.currency}. Please tell us how you would like to settle this."
        )
    story = [Paragraph("Short measure", head), *(Paragraph(line, plain) for line in lines)]
    if short.picture is not None:
        wide, high = ImageReader(str(short.picture)).getSize()
        scale = min(_WIDE * mm / wide, _HIGH * mm / high)
        story += [Paragraph("The outline measured, over the straightened photo:", plain)]
        story += [Spacer(1, 2 * mm), Image(str(short.picture), wide * scale, high * scale)]
    stream = io.BytesIO()
    SimpleDocTemplate(stream, pagesize=A4, title="Short measure", invariant=1).build(story)
    write_bytes(file, stream.getvalue())
    return file


def _safe(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
