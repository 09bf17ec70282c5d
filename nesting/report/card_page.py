"""Job cards as one self-contained HTML page: no scripts, nothing fetched, each card on its own A4 sheet."""

from __future__ import annotations

import base64
from collections.abc import Sequence

from . import words
from .cards import Card
from .filled import filled


def cards_html(cards: Sequence[Card]) -> str:
    """The text of the page."""
    filters = {
        "duration": words.duration,
        "inline": lambda png: f"data:image/png;base64,{base64.b64encode(png).decode('ascii')}",
    }
    return filled("cards.html", filters, cards=cards, mark=cards[0].mark if cards else "")
