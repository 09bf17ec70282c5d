"""What one layout has over another counts in this order: pieces, ordered parts, money, fillers, leather."""

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from nesting.costs.figures import figures
from nesting.costs.gain import Worth

FILLERS = Counter({("charm", "charm"): 3})
BEFORE = Worth(
    (Fraction(2), Fraction(3)), 5, 50_000, Decimal("12.00"), lambda: Decimal("10.00"), FILLERS, 9_000, 80_000, "EUR"
)


def other(fillers_mm2, spent, cost=12):
    """What is cut with other fillers."""
    return {
        "fillers": Counter({("fob", "fob"): 1}),
        "fillers_mm2": fillers_mm2,
        "spent": lambda: Decimal(spent),
        "cost": Decimal(cost),
    }


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, ""),
        ({"merit": (Fraction(3), Fraction(3)), "whole": 6, "cost": Decimal(99)}, "1 more ordered piece"),
        ({"merit": (Fraction(3), Fraction(1)), "whole": 4}, "more of the urgent pieces"),
        ({"merit": (Fraction(1), Fraction(9)), "whole": 10, "cost": Decimal(1)}, ""),
        ({"ordered_mm2": 50_001, "cost": Decimal(13)}, "more ordered parts"),
        ({"ordered_mm2": 49_999, "cost": Decimal(1)}, ""),
        ({"cost": Decimal("11.50"), "consumed_mm2": 90_000}, "the orders cost 0.50 EUR less"),
        ({"cost": Decimal("12.01"), "consumed_mm2": 10}, ""),
        (other(100, "9.75", 13), "the orders cost 0.25 EUR less"),
        (other(99_000, "10.01", 11), ""),
        (other(9_001, "10.00") | {"consumed_mm2": 81_000}, "more fillers"),
        (other(8_999, "10.00") | {"consumed_mm2": 10}, ""),
        (other(9_000, "10.00") | {"consumed_mm2": 79_900}, "0.01 dm2 less leather"),
        ({"consumed_mm2": 76_000}, "0.40 dm2 less leather"),
        ({"consumed_mm2": 80_001}, ""),
    ],
)
def test_what_counts_first_decides(change, words):
    assert replace(BEFORE, **change).over(BEFORE) == words


def test_the_worth_of_a_layout_tells_the_money_for_its_fillers_from_that_for_orders(layout):
    worth, numbers = Worth.of(layout), figures(layout)
    total = numbers["total"]
    assert worth.figures == numbers and worth.whole == total["pieces_whole"] and str(worth.cost) == total["cost"]
    fobs = tuple(replace(part, filler=part.filler or part.product == "key fob") for part in layout.placements)
    bare = replace(layout, placements=tuple(part for part in fobs if not part.filler))
    filled = Worth.of(replace(layout, placements=fobs))
    assert filled.spent() == Decimal(figures(bare)["total"]["cost"]) < worth.spent() < worth.cost
    assert filled.fillers_mm2 > worth.fillers_mm2 and filled.ordered_mm2 < worth.ordered_mm2


def test_looked_at_quickly_only_the_time_of_burning_is_left_out(layout):
    worth, quick = Worth.of(layout), Worth.of(layout, quick=True)
    assert quick.cost < worth.cost and quick.figures == {} and quick.spent() < worth.spent()
    assert replace(quick, cost=worth.cost, spent=worth.spent, figures=worth.figures) == worth
    free = replace(layout.workshop, prices=replace(layout.workshop.prices, machine_per_hour=Decimal(0)))
    unpaid = replace(layout, workshop=free)
    assert Worth.of(unpaid, quick=True).cost == Worth.of(unpaid).cost
