from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from nesting.costs.currency import minor_unit
from nesting.costs.figures import figures
from nesting.costs.money import Cost, costs, share
from nesting.costs.offcuts import offcuts
from nesting.laser.time import machine_seconds
from nesting.model import (
    Direction,
    ExtraCost,
    Hide,
    Layout,
    Machine,
    Margins,
    Panel,
    Placement,
    Prices,
    Setting,
    Unplaced,
    Workshop,
)

SETTING = Setting("veg 1.5", 1.5, 10, 50, 1, 1.2, 1.8)


def placement(piece: int, outline, *, hide: str = "h", panel: str = "1", order: str = "1001", cutouts=()) -> Placement:
    return Placement(
        hide=hide,
        panel=panel,
        order=order,
        product="holder",
        part="body",
        piece=piece,
        copy=1,
        grade="A",
        x=0,
        y=0,
        angle=0,
        mirrored=False,
        match="",
        direction=Direction(),
        thickness_mm=None,
        outline=outline,
        cutouts=tuple(cutouts),
    )


def layout(placements, prices: Prices, price=Decimal("50.00"), load_minutes=0.0, burnt=True) -> Layout:
    hide = Hide("h", box(0, 0, 400, 300), nominal_mm=1.5, tannage="vegetable", price=price)
    spare = replace(hide, id="spare", price=Decimal("99.00"))
    return Layout(
        Workshop(Machine("laser", 600, 400, 60, load_minutes=load_minutes), (SETTING,), Margins(), prices),
        (hide, spare),
        (Panel("1", "h", box(0, 0, 200, 300)), Panel("2", "h", box(200, 0, 400, 300))),
        {"h": SETTING} if burnt else {},
        {},
        tuple(placements),
        (),
    )


def squares(*sizes: float) -> list[Placement]:
    """Squares side by side from the lower left."""
    found, x = [], 5.0
    for piece, size in enumerate(sizes, 1):
        found.append(placement(piece, box(x, 5, x + size, 5 + size)))
        x += size + 2
    return found


def test_shares_of_a_whole_follow_the_largest_remainder():
    # 10 over 1 : 1 : 1 leaves one over, and the first of equals gets it.
    assert share(10, [1, 1, 1]) == [4, 3, 3]
    # 5 over 0.6 : 0.3 : 0.1 is 3, 1.5, 0.5: the half that comes first is rounded up.
    assert share(5, [6, 3, 1]) == [3, 2, 0]
    assert share(7, [0, 0]) == [4, 3]
    assert share(0, [2, 3]) == [0, 0]


@given(st.integers(0, 10**9), st.lists(st.floats(0, 1e7), min_size=1, max_size=60))
def test_shares_always_add_up_and_are_within_one_of_exact(total, weights):
    shares = share(total, weights)
    assert sum(shares) == total
    whole = sum(weights)
    if whole > 1e-300:
        assert all(abs(part - total * weight / whole) < 1 + 1e-6 for part, weight in zip(shares, weights))


def test_leather_costs_the_price_less_the_credit_for_offcuts():
    prices = Prices("EUR", offcut_credit=0.5)
    plan = layout(squares(100, 50), prices)
    found = costs(plan)
    left = sum(offcut.area_mm2 for offcut in offcuts(plan, "h")[0])
    credit = (Decimal(50) * Decimal("0.5") * Decimal(left / 120_000)).quantize(Decimal("0.01"))
    assert 0 < credit < 25
    assert found.paid == {"h": Decimal("50.00")} and found.credited == {"h": credit}
    assert found.total == Cost(leather=Decimal("50.00") - credit)


def test_scrap_is_shared_by_area():
    found = costs(layout(squares(100, 50), Prices("EUR", offcut_credit=0)))
    # 10000 : 2500 mm2
    assert [cost.leather for cost in found.parts.values()] == [Decimal("40.00"), Decimal("10.00")]


def test_a_cutout_makes_a_part_lighter_but_not_its_masking():
    pair = [placement(1, box(5, 5, 105, 105), cutouts=[box(30, 30, 80, 80)]), placement(2, box(110, 5, 210, 105))]
    found = list(
        costs(
            layout(pair, Prices("EUR", offcut_credit=0, masking_per_m2=Decimal(10)), price=Decimal(70))
        ).parts.values()
    )
    assert [cost.leather for cost in found] == [Decimal("30.00"), Decimal("40.00")]
    # 0.01 m2 at 10 each
    assert [cost.masking for cost in found] == [Decimal("0.10"), Decimal("0.10")]


@pytest.mark.parametrize(("colour", "burnt", "masking"), [("tan", True, 1), ("black", True, 0), ("tan", False, 0)])
def test_only_leather_that_is_burnt_and_shows_soot_is_masked(colour, burnt, masking):
    made = layout(squares(100), Prices("EUR", masking_per_m2=Decimal(100)), burnt=burnt)
    made = replace(made, hides=tuple(replace(hide, colour=colour) for hide in made.hides))
    assert costs(made).total.masking == masking


def test_labour_is_a_time_for_each_part():
    prices = Prices("EUR", labour_per_hour=Decimal(30), labour_minutes_per_part=1.5)
    found = costs(layout(squares(100, 50), prices))
    assert [cost.labour for cost in found.parts.values()] == [Decimal("0.75"), Decimal("0.75")]


def test_machine_time_is_paid_with_a_share_of_loading_each_panel():
    parts = [
        *squares(100),
        placement(2, box(210, 5, 260, 55), panel="2"),
        placement(3, box(270, 5, 320, 55), panel="2"),
    ]
    prices = Prices("EUR", machine_per_hour=Decimal(3600))
    plan = layout(parts, prices, load_minutes=1.0)
    found, burning = costs(plan), machine_seconds(plan, "h")
    # A unit of money a second: the first part bears its load alone, the other two, of equal area, share theirs.
    for part, load in zip(plan.placements, (60, 30, 30)):
        assert float(found.parts[part.key].machine) == pytest.approx(burning[part.key] + load, abs=0.011)


def test_a_hide_that_is_not_burnt_costs_no_machine_time_and_says_so():
    found = costs(layout(squares(100), Prices("EUR", machine_per_hour=Decimal(20)), load_minutes=5, burnt=False))
    assert found.total.machine == 0
    assert any("no machine time" in note for note in found.notes)


def test_a_hide_without_a_price_counts_as_nothing_and_says_so():
    found = costs(layout(squares(100), Prices("EUR"), price=None))
    assert found.total.leather == 0
    assert any("hide h has no price" in note for note in found.notes)


def test_a_price_finer_than_the_currency_is_rounded_and_says_so():
    found = costs(layout(squares(100), Prices("JPY", offcut_credit=0), price=Decimal("4999.5")))
    assert found.total.leather == 5000
    assert any("4999.5" in note and "5000 JPY" in note for note in found.notes)


def test_an_untouched_hide_costs_nothing():
    found = costs(layout(squares(100), Prices("EUR")))
    assert set(found.paid) == set(found.hides) == {"h"}
    assert costs(layout([], Prices("EUR"))).total == Cost()


def test_offcuts_are_never_credited_with_more_than_the_hide():
    plan = layout(squares(10), Prices("EUR", offcut_credit=1))
    assert costs(plan, {"h": [SimpleNamespace(area_mm2=120_000.001)]}).total.leather == 0


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(3, 60), min_size=1, max_size=12),
    st.sampled_from(["EUR", "JPY", "KWD"]),
    st.decimals(0, 5000, places=3),
    st.decimals(0, 200, places=2),
    st.decimals(0, 200, places=2),
    st.floats(0, 30),
    st.floats(0, 1),
    st.lists(st.floats(0, 130_000), max_size=4),
)
def test_parts_pieces_and_lines_always_add_up_to_the_money_spent(
    sizes, currency, price, machine, masking, minutes, credit, left
):
    prices = Prices(currency, machine, Decimal("31.70"), minutes, masking, credit)
    parts = [replace(part, order=f"10{part.piece % 3}", piece=1 + part.piece // 3) for part in squares(*sizes)]
    plan = layout(parts, prices, price=price, load_minutes=4.0)
    found = costs(plan, {"h": [SimpleNamespace(area_mm2=area) for area in left]})
    spent = found.total
    assert spent.leather == sum(found.paid.values()) - sum(found.credited.values())
    for rows in (found.parts, found.pieces, found.lines):
        assert sum(rows.values(), Cost()) == spent
    unit = minor_unit(currency)
    for cost in found.parts.values():
        assert all(
            value >= 0 and value == value.quantize(unit)
            for value in (cost.leather, cost.masking, cost.machine, cost.labour)
        )


def test_other_costs_are_those_of_whole_pieces_shared_over_their_parts():
    # by hand: a box 0.80, 12 holes 5 mm apart are 55 mm a part, 110 mm at 0.15 a metre are 0.02 (0.0165), a fee of
    # 5 % of 30.00 is 1.50: 2.32 for each of two whole pieces, nothing for the one that misses a part
    holes = [Point(20 + 5 * n, 20).buffer(0.6).exterior for n in range(12)]
    first, second, third, fourth, lone = squares(60, 20, 60, 20, 40)
    parts = [
        replace(first, piece=1, stitch=tuple(holes)),
        replace(second, piece=1, part="pocket", stitch=tuple(holes)),
        replace(third, piece=2, stitch=tuple(holes)),
        replace(fourth, piece=2, part="pocket", stitch=tuple(holes)),
        replace(lone, piece=3),
    ]
    rows = (
        ExtraCost("box", Decimal("0.80"), "piece"),
        ExtraCost("thread", Decimal("0.15"), "metre of stitching"),
        ExtraCost("fee", Decimal(5), "percent of price"),
        ExtraCost("buckle", Decimal("6.40"), "piece", "belt"),
    )
    plain = layout(parts, Prices("EUR"))
    missing = Unplaced("1001", "holder", "pocket", 3, 1, False, "no room left", False)
    plan = replace(
        plain,
        workshop=replace(plain.workshop, extras=rows),
        unplaced=(missing,),
        selling_prices={"holder": Decimal("30.00")},
    )
    found, bare = costs(plan), costs(plain)
    assert [found.pieces["1001", "holder", piece].other for piece in (1, 2, 3)] == [
        Decimal(s) for s in ("2.32", "2.32", "0")
    ]
    assert found.total.other == Decimal("4.64") and found.total.total == bare.total.total + Decimal("4.64")
    big, small = (found.parts[part.key].other for part in parts[:2])
    # 3600 and 400 mm2
    assert (big, small) == (Decimal("2.09"), Decimal("0.23"))
    made = figures(plan)["costs"]
    assert made["other"] == "4.64" and Decimal(made["sold"]["cost"]) == sum(
        found.pieces["1001", "holder", piece].total for piece in (1, 2)
    )
