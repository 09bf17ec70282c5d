"""Job cards on disk: one page and one PDF of them all."""

from __future__ import annotations

from pathlib import Path

from ..atomic import write_bytes, write_text
from ..laser.export import ExportResult
from ..model import Layout, OrderLine
from .card_page import cards_html
from .card_pdf import cards_pdf
from .cards import card


def write_cards(layout: Layout, exported: ExportResult, folder: Path, orders: tuple[OrderLine, ...] = ()) -> list[Path]:
    """Write ``cards.html`` and ``cards.pdf``, one card a bed load, each whole or not at all.

    Parameters
    ----------
    layout : Layout
    exported : ExportResult
        The files the cards are about.
    folder : Path
    orders : tuple of OrderLine
        What is known of due dates, threads and notes; may be empty.

    Returns
    -------
    list of Path
        Nothing when there is no load; older cards are then left alone.

    Raises
    ------
    FileError
        When a file cannot be written.
    """
    if not exported.loads:
        return []
    made = [card(layout, file, orders, exported.loads) for file in exported.loads]
    html, pdf = folder / "cards.html", folder / "cards.pdf"
    contents = cards_html(made), cards_pdf(made)
    write_text(html, contents[0])
    write_bytes(pdf, contents[1])
    return [html, pdf]
