"""Job cards on disk: one page and one PDF of them all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from ..atomic import write_bytes, write_text
from ..laser.export import ExportResult
from ..laser.turns import turns
from ..model import Layout, OrderLine
from .card_page import cards_html
from .card_pdf import cards_pdf
from .cards import card
from .knife_cards import knife_cards
from .limits import DEFAULT, ReportLimits


def write_cards(
    layout: Layout,
    exported: ExportResult,
    folder: Path,
    orders: Sequence[OrderLine] = (),
    templates: Mapping[str, str] | None = None,
    limits: ReportLimits = DEFAULT,
) -> list[Path]:
    """Write ``cards.html`` and ``cards.pdf``, one card a bed load in the order in which to burn them, and before the
    first load of a hide that of what is cut out of it by knife; each whole or not at all.

    Parameters
    ----------
    layout : Layout
    exported : ExportResult
        The files the cards are about.
    folder : Path
    orders : sequence of OrderLine
        What is known of due dates, threads and notes; may be empty.
    templates : mapping of str to str, optional
        The name of the file of paper templates by hide.
    limits : ReportLimits, optional

    Returns
    -------
    list of Path
        Nothing when there is neither; older cards are then left alone.

    Raises
    ------
    FileError
        When a file cannot be written.
    """
    found = turns(layout, orders)
    by_load = {(turn.hide, turn.panel): (place, turn) for place, turn in enumerate(found)}
    # what is cut out of a hide by knife comes before the first load of it
    first = {turn.hide: place for place, turn in reversed(list(enumerate(found)))}
    placed = [(first[hide], made) for hide, made in knife_cards(layout, templates or {}, orders, found, limits)]
    for file in exported.loads:
        place, turn = by_load[file.load.hide, file.load.panel]
        placed.append((place, card(layout, file, orders, exported.loads, limits, turn)))
    if not placed:
        return []
    made = [one for _, one in sorted(placed, key=lambda one: one[0])]
    html, pdf = folder / "cards.html", folder / "cards.pdf"
    contents = cards_html(made), cards_pdf(made)
    write_text(html, contents[0])
    write_bytes(pdf, contents[1])
    return [html, pdf]
