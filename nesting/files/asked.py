"""Closed lines of another colour in an outline: only a person can say what they are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from ..model import Curve, counted
from .labels import Item


@dataclass(frozen=True)
class Asked:
    """A closed line in an outline of another colour, of which nobody said what it is.

    ``part`` is the number of its part in the drawing, ``number`` that of the cutout it is taken for; None where it
    lies in another such line and is left out.
    """

    part: int
    colour: str
    curve: Curve
    number: int | None


def is_asked(item: Item, outline: Item) -> bool:
    """Whether it is a line of another colour than the outline around it, of which nobody said what it is."""
    own, around = item.drawn.colour, outline.drawn.colour
    return item.asked and bool(own and around) and own != around


def colours(asked: Sequence[Asked]) -> dict[str, int]:
    """How many lines there are of each colour that is asked about."""
    return dict(Counter(one.colour for one in asked))


def questions(asked: Sequence[Asked]) -> tuple[str, ...]:
    """What is asked, and how to answer, in words."""
    return tuple(
        f"{counted(count, 'closed line')} of {colour} in an outline of another colour: cut out, engraved or "
        f'stitched? taken to be cut out until workshop.toml says what that colour is: [drawings] "{colour}" = '
        '"engrave" (or stitch, fold, cutout)'
        for colour, count in colours(asked).items()
    )


def without(asked: Sequence[Asked], part: int, cutouts: Collection[int]) -> tuple[Asked, ...]:
    """What is still asked when some cutouts of a part are none any more: those after them move up."""
    return tuple(
        replace(one, number=one.number - sum(number < one.number for number in cutouts))
        if one.part == part and one.number is not None
        else one
        for one in asked
        if one.part != part or one.number is None or one.number not in cutouts
    )
