"""What one layout has over another counts in this order: pieces, ordered parts, money, fillers, leather."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from nesting.costs.figures import figures
from nesting.costs.gain import Worth

BEFORE = Worth((Fraction(2), Fraction(3)), 50_000, Decimal("12.00"), 9_000, 80_000, 5, "EUR", {})


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, ""),
        ({"merit": (Fraction(3), Fraction(3)), "whole": 6, "cost": Decimal(99)}, "1 more ordered piece"),
        ({"merit": (Fraction(3), Fraction(1)), "whole": 4}, "more of the urgent pieces"),
        ({"merit": (Fraction(1), Fraction(9)), "whole": 10, "cost": Decimal(1)}, ""),
        ({"ordered_mm2": 50_001, "cost": Decimal(13)}, "more ordered parts"),
        ({"ordered_mm2": 49_999, "cost": Decimal(1)}, ""),
        ({"cost": Decimal("11.50"), "fillers_mm2": 0, "consumed_mm2": 90_000}, "the orders cost 0.50 EUR less"),
        ({"cost": Decimal("12.01"), "consumed_mm2": 10}, ""),
        ({"fillers_mm2": 9_001, "consumed_mm2": 81_000}, "more fillers"),
        ({"consumed_mm2": 76_000}, "0.40 dm2 less leather"),
        ({"consumed_mm2": 80_001}, ""),
    ],
)
def test_what_counts_first_decides(change, words):
    assert replace(BEFORE, **change).over(BEFORE) == words


def test_the_worth_of_a_layout_leaves_the_money_for_its_fillers_out(layout):
    worth, numbers = Worth.of(layout), figures(layout)
    assert worth.figures == numbers and worth.whole == numbers["total"]["pieces_whole"]
    fobs = replace(
        layout, placements=tuple(replace(p, filler=p.filler or p.product == "key fob") for p in layout.placements)
    )
    bare = replace(fobs, placements=tuple(part for part in fobs.placements if not part.filler))
    assert Worth.of(fobs).cost == Decimal(figures(bare)["total"]["cost"]) < worth.cost
    assert Worth.of(fobs).fillers_mm2 > worth.fillers_mm2 and Worth.of(fobs).ordered_mm2 < worth.ordered_mm2
