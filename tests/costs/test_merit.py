from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from nesting.costs.merit import merit, worths
from nesting.model import OrderLine

DUE, LATER = date(2026, 9, 14), date(2026, 9, 18)
LINES = (
    OrderLine("1004", "sleeve", 5, DUE, 2),
    OrderLine("1002 Håkon & Søn", "belt", 3, LATER, 1),
    OrderLine("1005", "satchel", 2, DUE, 1),
    OrderLine("1001", "card holder", 4, LATER, 1),
    OrderLine("1003", "key fob", 6, LATER, 2),
    OrderLine("spare", "charm", 9, DUE, 1),
)


def test_whole_pieces_count_by_priority_and_due_date_and_fillers_for_nothing(layout):
    # no satchel, two belts and four card holders, five sleeves, six fobs
    assert merit(replace(layout, lines=LINES)) == (0, 6, 5, 6)
    fewer = replace(layout, lines=LINES, placements=tuple(p for p in layout.placements if p.product != "charm"))
    assert merit(fewer) == (0, 6, 5, 6)


def test_a_piece_with_a_part_left_out_counts_for_nothing(layout):
    pocket = next(p for p in layout.placements if p.part == "pocket")
    left = tuple(p for p in layout.placements if p is not pocket)
    unplaced = type(layout.unplaced[0])(*pocket.key[:3], pocket.piece, pocket.copy, False, "no room left")
    assert merit(replace(layout, lines=LINES, placements=left, unplaced=(*layout.unplaced, unplaced)))[1] == 5


def test_a_layout_that_does_not_say_what_is_due_has_one_rank(layout):
    assert merit(layout) == (17,)


@pytest.mark.parametrize(
    ("prices", "each"),
    [
        ({"belt": "30", "card holder": "45.50"}, {"belt": Decimal(30), "card holder": Decimal("45.5")}),
        ({"belt": "30"}, {"belt": 1, "card holder": 1}),
        ({"belt": "30", "card holder": "0"}, {"belt": 1, "card holder": 1}),
    ],
)
def test_pieces_count_their_price_where_all_of_their_rank_have_one(prices, each):
    found = worths(LINES, {name: Decimal(price) for name, price in prices.items()})
    assert {product: worth for (_, product), (_, worth) in found.items() if product in each} == each
    assert found["1004", "sleeve"] == (2, 1)
