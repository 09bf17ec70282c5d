"""What ways to cut the same orders would save a year, at the rate at which pieces are ordered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from ..model import counted
from .choices import Choice
from .currency import minor_unit

WEEKS_A_YEAR = 52


@dataclass(frozen=True)
class Rate:
    """Pieces ordered a week by product, and over how many past weeks of the stock book that is known; where there is
    none, a list of orders stands for those of a week."""

    pieces: Mapping[str, Fraction]
    weeks: int | None = None

    def __str__(self) -> str:
        if self.weeks is None:
            return "if every week brought the orders of orders.csv"
        return f"as ordered in the last {counted(self.weeks, 'week')} of the stock book"


def saved_a_year(choice: Choice, base: Choice, rate: Rate) -> Decimal | None:
    """Money that a year's pieces would cost less than as ``base`` cuts them, below 0 where more; of the products that
    both make whole pieces of. None where there is no such product among those ordered, or fewer pieces are made: what
    is not made is no saving.

    Parameters
    ----------
    choice, base : Choice
    rate : Rate

    Returns
    -------
    Decimal or None
        In the currency of the layouts, rounded to the minor unit, halves up.
    """
    both = [name for name in choice.each if name in base.each and rate.pieces.get(name)]
    if not both or choice.whole < base.whole:
        return None
    less = sum((WEEKS_A_YEAR * rate.pieces[name] * (base.each[name] - choice.each[name]) for name in both), Fraction(0))
    unit = minor_unit(choice.layout.workshop.prices.currency)
    return (Decimal(less.numerator) / Decimal(less.denominator)).quantize(unit, ROUND_HALF_UP)


def why_ways(choices: Sequence[Choice], rate: Rate) -> str:
    """What ways would save against the first, in a sentence or two for each."""
    if not choices or not choices[0].whole:
        return "None of the ordered pieces can be made as things are: see the reasons in the report of a plan."
    first, currency = choices[0], choices[0].layout.workshop.prices.currency
    words = []
    for choice in choices[1:]:
        saved, more = saved_a_year(choice, first, rate), choice.whole - first.whole
        pieces = f", and makes {more} more of the ordered pieces" if more > 0 else ""
        if more < 0:
            words.append(f"{choice.name} makes {-more} fewer of the ordered pieces, which is no saving")
        elif saved is None:
            words.append(f"{choice.name} makes nothing that could be compared{pieces}")
        elif not saved:
            words.append(f"{choice.name} costs the same{pieces}")
        else:
            verb = "saves" if saved > 0 else "costs"
            more_words = "" if saved > 0 else " more"
            words.append(f"{choice.name} {verb} {abs(saved)} {currency}{more_words} a year{pieces}")
    return f"Against {first.name}, {rate}: {'; '.join(words)}." if words else f"{first.name}: nothing to compare with."
