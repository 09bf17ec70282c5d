"""Labels for hides on the shelf: eight on a sheet of A4, each with a code to find it by."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import shapely
from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from shapely.geometry import Polygon

from ..atomic import write_bytes
from ..model import units
from .pdf_fonts import BOLD, FONT, register_fonts

_WIDE, _HIGH, _ACROSS, _DOWN = 95.0, 68.0, 2, 4
"""Size of a label and how many stand on a sheet, mm: A4 with 10 mm at its sides, 12.5 mm above and below."""
_SHAPE = 28.0
"""Side of the square in which its shape is drawn, mm."""


@dataclass(frozen=True)
class Label:
    """What a label says: lengths mm, areas mm2; ``largest_mm`` the sides of the largest rectangle known in it."""

    name: str
    code: str
    kind: str
    thickness_mm: float | None
    area_mm2: float
    largest_mm: tuple[float, float]
    since: str
    outline: Polygon
    left_of: str = ""


def write_labels(labels: Sequence[Label], file: Path) -> Path:
    """Write labels as a PDF, whole or not at all; gives the file.

    Parameters
    ----------
    labels : sequence of Label
    file : Path
    """
    register_fonts()
    stream = io.BytesIO()
    page = Canvas(stream, pagesize=A4, invariant=1)
    page.setTitle("Labels for the shelf")
    left, top = (A4[0] / mm - _ACROSS * _WIDE) / 2, (A4[1] / mm + _DOWN * _HIGH) / 2
    for number, label in enumerate(labels):
        row, column = divmod(number % (_ACROSS * _DOWN), _ACROSS)
        if number and not row and not column:
            page.showPage()
        _draw(page, label, left + column * _WIDE, top - (row + 1) * _HIGH)
    page.save()
    write_bytes(file, stream.getvalue())
    return file


def _draw(page: Canvas, label: Label, x: float, y: float) -> None:
    page.setLineWidth(0.2)
    page.setStrokeGray(0.6)
    page.rect(x * mm, y * mm, _WIDE * mm, _HIGH * mm)
    page.setFillGray(0)
    page.setFont(BOLD, 28)
    page.drawString((x + 6) * mm, (y + 53) * mm, label.code)
    code = Code128(label.code, barWidth=0.4 * mm, barHeight=10 * mm, quiet=False)
    code.drawOn(page, (x + 50) * mm, (y + 52.5) * mm)
    size = " x ".join(f"{side:.0f}" for side in label.largest_mm)
    thick = "" if label.thickness_mm is None else units.thickness_words(label.thickness_mm)
    lines = [
        label.kind,
        ", ".join(filter(None, (thick, units.area_words(label.area_mm2)))),
        f"{'largest rectangle' if label.left_of else 'reaches'} {size} mm",
        f"left of {label.left_of}" if label.left_of else "",
        f"since {label.since}",
    ]
    room = (_WIDE - _SHAPE - 14) * mm
    page.setFont(BOLD, _fitting(page, label.name, BOLD, 12, (_WIDE - 12) * mm))
    page.drawString((x + 6) * mm, (y + 43) * mm, label.name)
    for number, line in enumerate(filter(None, lines)):
        page.setFont(FONT, _fitting(page, line, FONT, 9.5, room))
        page.drawString((x + 6) * mm, (y + 35 - 6.5 * number) * mm, line)
    _shape(page, label.outline, x + _WIDE - _SHAPE - 5, y + 6)


def _fitting(page: Canvas, text: str, font: str, size: float, room: float) -> float:
    """The size at which a line fits its room."""
    wide = page.stringWidth(text, font, size)
    return float(size if wide <= room else size * room / wide)


def _shape(page: Canvas, outline: Polygon, x: float, y: float) -> None:
    left, low, right, high = outline.bounds
    scale = _SHAPE / max(right - left, high - low)
    path = page.beginPath()
    for ring in (outline.exterior, *outline.interiors):
        points = (shapely.get_coordinates(ring) - (left, low)) * scale + (x, y)
        path.moveTo(*(points[0] * mm))
        for point in points[1:]:
            path.lineTo(*(point * mm))
        path.close()
    page.setFillGray(0.88)
    page.setStrokeGray(0)
    page.setLineWidth(0.5)
    page.drawPath(path, fill=1, stroke=1, fillMode=0)
    page.setFillGray(0)
