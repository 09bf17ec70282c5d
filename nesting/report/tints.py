"""The colours of orders, in the report and on the page alike; light to load."""

from __future__ import annotations

PALETTE = ("#E69F00", "#0072B2", "#009E73", "#CC79A7", "#F0E442", "#D55E00", "#56B4E9")
"""Okabe and Ito (2008), without black, which is for lines and text."""
SHARES = (0.55, 0.28)
"""Of the colour in a fill, the rest white: letters on it stay readable. Once all are used, the same again, paler."""
COUNT = len(PALETTE) * len(SHARES)
"""So many fills differ."""


def fill(index: int) -> str:
    """What the parts of an order are filled with, by its place among the orders of a layout."""
    share = SHARES[index // len(PALETTE) % len(SHARES)]
    return _mixed(index, share, 1 - share)


def edge(index: int) -> str:
    """What they are drawn around with: darker."""
    return _mixed(index, SHARES[0], 0.0)


def _mixed(index: int, share: float, white: float) -> str:
    text = PALETTE[index % len(PALETTE)]
    levels = (share * int(text[at : at + 2], 16) / 255 + white for at in (1, 3, 5))
    return "#" + "".join(f"{round(255 * level):02x}" for level in levels)
