"""The colours of orders, in the report and on the page alike; light to load."""

from __future__ import annotations

PALETTE = ("#E69F00", "#0072B2", "#009E73", "#CC79A7", "#F0E442", "#D55E00", "#56B4E9")
"""Okabe and Ito (2008), without black, which is for lines and text."""
SHARE = 0.55
"""Of the colour in a fill, the rest white or grey: letters on it stay readable, and it stays apart from leather."""


def fill(index: int) -> str:
    """What the parts of an order are filled with, by its place among the orders of a layout."""
    return _mixed(index, 1 - SHARE)


def edge(index: int) -> str:
    """What they are drawn around with: darker."""
    return _mixed(index, 0.0)


def _mixed(index: int, light: float) -> str:
    text = PALETTE[index % len(PALETTE)]
    levels = (SHARE * int(text[at : at + 2], 16) / 255 + light for at in (1, 3, 5))
    return "#" + "".join(f"{round(255 * level):02x}" for level in levels)
