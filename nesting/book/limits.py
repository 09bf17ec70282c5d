"""The numbers of this room, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class BookLimits:
    """What a stock book rests on."""

    busy_s: float = 20.0
    """How long a step waits for another program that is writing into the same book: its longest step, taking in 50,000
    order lines, takes a quarter of that."""
    wholly_checked_bytes: int = 32 * 1024 * 1024
    """Books up to so large are checked whole whenever they are opened: a tenth of a second."""
    most_content_bytes: int = 64 * 1024 * 1024
    """Of a plain file whose content is kept for going back: no larger one is read anywhere else either."""
    most_list_bytes: int = 512 * 1024 * 1024
    """Of a list that was taken out of a book: a shop's lifetime."""
    area_digits: int = 3
    """Decimals of mm2 of an area: sums of thousands of them stay true to 1 mm2."""
    pose_digits: int = 4
    """Decimals of mm and degrees by which a part that was cut is known again, as in a layout's file."""
    code_letters: str = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
    """Of the code on a label: no I, O, 0 or 1, which are taken for each other."""
    code_length: int = 4
    """Of such a code: a million of them."""
    longest_name: int = 60
    """Letters of an offcut's name made of its hide's; beyond, it is named by its code."""
    fewest_yields: int = 5
    """Hides cut before what they yielded tells of what others will."""
    assumed_yields: tuple[float, float, float] = (0.4, 0.55, 0.7)
    """Low, middle and high share of the leather consumed that is in parts, until then (working assumption)."""
    most_made: int = 60
    """Pieces tried of one product on offcuts: more is no search of seconds."""
    most_explained: int = 3
    """Products of which it is told why no piece goes on an offcut, and that is tried: more are no answer to read."""
    explained_s: float = 0.1
    """For the search of one piece on one offcut, when none of many was found."""
    estimated_below: int = 4
    """An offcut with fewer readings in it is told to be as thick as those of the hide it is of say of its middle: that
    many a map needs (see leather/limits.py)."""
    near_mm: float = 50.0
    """Readings nearer than this count no more for being nearer still: thickness hardly changes over a hand's width
    (working assumption)."""


DEFAULT = BookLimits()
