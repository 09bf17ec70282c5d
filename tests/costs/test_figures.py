import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
import shapely

from nesting.costs.figures import figures, hide_figures, left_out, lowest_grade, under_all
from nesting.costs.limits import CostLimits
from nesting.costs.offcuts import offcuts
from nesting.model import OrderLine, Under, Unplaced


@pytest.fixture(scope="module")
def numbers(layout) -> dict:
    return figures(layout)


def test_the_layout_of_these_tests_is_sound(layout):
    from nesting.referee.rules import check

    assert check(layout) == []


def test_figures_are_ready_for_json(numbers):
    assert json.loads(json.dumps(numbers, allow_nan=False)) == numbers


def test_areas_add_up_to_the_hide(layout, numbers):
    row, hide = numbers["hides"][0], layout.hides[0]
    assert row["hide_mm2"] == pytest.approx(hide.outline.area)
    assert row["parts_mm2"] + row["scrap_mm2"] + row["kerf_mm2"] == pytest.approx(row["consumed_mm2"])
    assert row["consumed_mm2"] + row["offcuts_mm2"] == pytest.approx(row["hide_mm2"])
    assert sum(item["area_mm2"] for item in row["offcuts"]) == pytest.approx(row["offcuts_mm2"])
    # What the beam burns away lies within a kerf of the outlines.
    length = sum(placement.outline.length for placement in layout.on(hide.id))
    assert 0 < row["kerf_mm2"] <= 1.02 * length * layout.workshop.margins.kerf_mm


def test_parts_count_without_their_cutouts(layout, numbers):
    pieces = [shapely.difference(p.outline, shapely.union_all(p.cutouts)).area for p in layout.placements]
    assert numbers["hides"][0]["parts_mm2"] == pytest.approx(sum(pieces))


def test_each_yield_is_a_share_of_what_its_name_says(numbers):
    for row in (numbers["hides"][0], numbers["total"]):
        for whole in ("hide", "usable", "consumed"):
            assert row[f"yield_of_{whole}"] == pytest.approx(row["parts_mm2"] / row[f"{whole}_mm2"])
        assert 0 < row["yield_of_hide"] < row["yield_of_usable"] < row["yield_of_consumed"] < 1


def test_the_usable_area_is_that_of_the_most_tolerant_part(layout, numbers):
    assert numbers["hides"][0]["usable_grade"] == lowest_grade(layout) == "D"
    fussy = replace(layout, placements=tuple(replace(p, grade="A", zones=()) for p in layout.placements))
    assert hide_figures(fussy, "shoulder-7")["usable_mm2"] < numbers["hides"][0]["usable_mm2"]


def test_thickness_limits_the_usable_area(layout, numbers):
    unburnt = replace(layout, settings={})
    assert hide_figures(unburnt, "shoulder-7")["usable_mm2"] > numbers["hides"][0]["usable_mm2"]


def test_an_untouched_hide_is_not_in_the_totals(layout, numbers):
    cut, untouched = numbers["hides"]
    assert (untouched["hide"], untouched["cut"], untouched["consumed_mm2"], untouched["offcuts"]) == (
        "side-2",
        False,
        0.0,
        [],
    )
    assert "cost" not in untouched
    assert (numbers["total"]["hides_cut"], numbers["total"]["hides_untouched"]) == (1, 1)
    assert numbers["total"]["hide_mm2"] == cut["hide_mm2"]


def test_counts_are_those_of_the_layout(layout, numbers):
    total = numbers["total"]
    assert total["placed"] == len(layout.placements) and total["unplaced"] == len(layout.unplaced)
    assert total["placed"] + total["unplaced"] == total["wanted"]


def test_offcuts_are_listed_with_area_and_rectangle(layout, numbers):
    kept = offcuts(layout, "shoulder-7")[0]
    assert kept
    assert numbers["hides"][0]["offcuts"] == [
        {"id": one.id, "area_mm2": one.area_mm2, "rectangle_mm": [one.width_mm, one.height_mm]} for one in kept
    ]


def test_money_adds_up_by_line_by_piece_and_by_kind(numbers):
    costs = numbers["costs"]
    for kind in ("leather", "masking", "machine", "labour", "total"):
        for rows in (costs["lines"], costs["pieces"]):
            assert sum(Decimal(row[kind]) for row in rows) == Decimal(costs[kind])
    assert Decimal(costs["paid"]) - Decimal(costs["credited"]) == Decimal(costs["leather"])
    assert costs["total"] == numbers["total"]["cost"] == numbers["hides"][0]["cost"]
    assert all(Decimal(costs[kind]) > 0 for kind in ("leather", "masking", "machine", "labour"))


def test_an_order_line_says_how_many_of_its_pieces_are_complete(numbers):
    lines = {row["order"]: row for row in numbers["costs"]["lines"]}
    belt, satchel = lines["1002 Håkon & Søn"], lines["1005"]
    assert (belt["complete"], belt["pieces"]) == (2, 3)
    assert Decimal(belt["each"]) == pytest.approx(Decimal(belt["total"]) / 2, abs=Decimal("0.01"))
    assert (satchel["complete"], satchel["pieces"], satchel["each"], satchel["total"]) == (0, 2, None, "0.00")


def test_a_layout_with_nothing_placed_has_figures_too(layout):
    numbers = figures(replace(layout, placements=()))
    assert numbers["total"]["yield_of_consumed"] == 0.0
    assert numbers["total"]["cost"] == "0.00"


def test_pieces_and_orders_are_counted_without_fillers(numbers):
    total = numbers["total"]
    assert (total["pieces_whole"], total["pieces_wanted"]) == (17, 20)
    assert (total["orders_complete"], total["orders_wanted"]) == (3, 5)


def test_every_piece_that_is_not_whole_is_left_out_with_its_reason_and_day(layout, numbers):
    assert [tuple(row.values()) for row in numbers["left_out"]] == [
        ("1002 Håkon & Søn", "belt", 3, False, 0, 1, "no region of its grade", None),
        ("1005", "satchel", 1, False, 0, 1, "too big for any hide", None),
        ("1005", "satchel", 2, False, 0, 1, "too big for any hide", None),
    ]
    assert list(numbers["left_out"][0]) == ["order", "product", "piece", "filler", "placed", "parts", "reason", "due"]
    dated = replace(layout, lines=(OrderLine("1005", "satchel", 2, date(2026, 9, 18)),))
    assert [row["due"] for row in left_out(dated)] == [None, "2026-09-18", "2026-09-18"]


def test_a_piece_has_one_row_whatever_its_parts_lack_and_fillers_come_last(layout):
    lacks = [("front", 1, "too thin"), ("back", 1, "no room left"), ("back", 2, "no room left")]
    parts = [Unplaced("1006", "case", part, 1, copy, False, reason) for part, copy, reason in lacks]
    parts.append(Unplaced("1006", "case", "flap", 1, 1, False, "left out with its piece: front is too thin"))
    filler = Unplaced("spare", "charm", "charm", 10, 1, False, "no room left", True)
    rows = left_out(replace(layout, unplaced=(filler, *parts)))
    assert [(row["order"], row["parts"], row["reason"]) for row in rows] == [
        ("1006", 4, "front: too thin; back: no room left"),
        ("spare", 1, "no room left"),
    ]


def test_margins_are_the_price_of_whole_pieces_less_their_cost(layout):
    prices = {"belt": Decimal("30"), "satchel": Decimal("90"), "card holder": Decimal("4")}
    costs = figures(replace(layout, selling_prices=prices))["costs"]
    rows = {row["order"]: row for row in costs["margins"]}
    # no satchel is whole, and of three belts two
    assert sorted(rows) == ["1001", "1002 Håkon & Søn"] and rows["1002 Håkon & Søn"]["pieces"] == 2
    for line in costs["lines"]:
        if line["order"] in rows:
            row = rows[line["order"]]
            assert Decimal(row["price"]) == prices[line["product"]] * row["pieces"]
            assert Decimal(row["margin"]) == Decimal(row["price"]) - Decimal(line["total"])
            assert row["share"] == pytest.approx(float(Decimal(row["margin"]) / Decimal(row["price"])))
    assert Decimal(rows["1001"]["margin"]) < 0
    each = [Decimal(row["margin"]) for row in costs["pieces"] if row["margin"] is not None]
    assert len(each) == 6 == costs["sold"]["pieces"] and sum(each) == Decimal(costs["sold"]["margin"])
    assert figures(layout)["costs"]["sold"] is None and figures(layout)["costs"]["margins"] == []


def test_the_leather_under_parts_is_that_of_the_worst_spots(layout):
    known = (Under(1.4, 1.6, 0.9), Under(1.3, 1.5, 0.95))
    first, second, third = layout.placements[:3]
    parts = [replace(first, under=known[0]), replace(second, under=known[1]), replace(third, under=None)]
    assert under_all(parts) == Under(1.3, 1.6, 0.9)
    assert under_all(parts[2:]) is None and under_all([]) is None


def test_other_limits_reach_the_rectangles_in_the_offcuts(layout):
    def rectangles(numbers):
        return [item["rectangle_mm"] for row in numbers["hides"] for item in row["offcuts"]]

    coarse = CostLimits(raster_cells=3, most_grown=1, finest_step_share=1.0, turn_step_deg=45.0)
    rough = rectangles(figures(layout, coarse))
    assert rough == rectangles({"hides": [hide_figures(layout, hide.id, limits=coarse) for hide in layout.hides]})
    assert rough != rectangles(figures(layout))
