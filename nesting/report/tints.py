"""The colours of orders, in the report and on the page alike; light to load."""

from __future__ import annotations

PALETTE = ("#f1b045", "#8cc5ff", "#7d978e", "#a27cba", "#ffe2b0", "#d17042", "#bdc5c7", "#f1ffff")
"""From the hues of Okabe and Ito (2008), made soft and moved apart until eyes that see no red, no green or no blue tell
every two of them apart, and dark letters can be read on each."""
FURTHER = "#b9b0a2"
"""Once all are used, half way from each to this."""
COUNT = 2 * len(PALETTE)
"""So many fills differ."""


def fill(index: int) -> str:
    """What the parts of an order are filled with, by its place among the orders of a layout."""
    colour = PALETTE[index % len(PALETTE)]
    return colour if index // len(PALETTE) % 2 == 0 else _between(colour, FURTHER, 0.5)


def edge(index: int) -> str:
    """What they are drawn around with: darker."""
    return _between(PALETTE[index % len(PALETTE)], "#000000", 0.5)


def _between(one: str, other: str, share: float) -> str:
    levels = ((1 - share) * int(one[at : at + 2], 16) + share * int(other[at : at + 2], 16) for at in (1, 3, 5))
    return "#" + "".join(f"{round(level):02x}" for level in levels)
