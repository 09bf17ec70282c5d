"""The letters of every PDF: those that come with matplotlib, so that they are the same everywhere."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

FONT, BOLD = "NestingSans", "NestingSans-Bold"


@lru_cache(maxsize=1)
def register_fonts() -> None:
    """Make the letters known to the PDF writer."""
    import matplotlib
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    pdfmetrics.registerFont(TTFont(FONT, str(folder / "DejaVuSans.ttf")))
    pdfmetrics.registerFont(TTFont(BOLD, str(folder / "DejaVuSans-Bold.ttf")))
    pdfmetrics.registerFontFamily(FONT, normal=FONT, bold=BOLD, italic=FONT, boldItalic=BOLD)
