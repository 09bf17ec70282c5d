from dataclasses import replace
from decimal import Decimal

import pytest
from layouts import layout, put
from shapely.geometry import box

from nesting.costs.doubt import doubt_note, second_sheet
from nesting.costs.limits import CostLimits
from nesting.costs.money import costs
from nesting.model import Doubt, Hide, Smoothed, StatedError


def of(mm=0.0, doubts=(), price=None):
    error = StatedError((0.0, 1000.0), (0.0, 1000.0), ((mm, mm), (mm, mm)))
    return Hide("h", box(0, 0, 1000, 1000), nominal_mm=1.5, price=price, error=error, doubts=doubts)


def test_the_note_says_what_doubt_costs_in_leather_and_money_and_what_wins_it_back():
    hide = of(13, (Doubt(box(400, 400, 500, 500), "spot", number=1),), Decimal("100.00"))
    # the margin of 3 mm leaves 994 mm each way, with the error 968 less 1 %: 5.2 dm2, and 1 dm2 more for the spot
    assert doubt_note(layout(put(), hide=hide), hide) == (
        "hide h: what its photo leaves in doubt keeps out 6.2 dm2, worth 6.17 EUR: a second sheet on the other side of"
        " it frees 4.4 dm2; looking at 1 place 1.0 dm2"
    )


def test_a_hide_without_doubt_or_with_next_to_none_is_not_spoken_of():
    for hide in (Hide("h", box(0, 0, 1000, 1000)), of(0.05)):
        assert doubt_note(layout(put(), hide=hide), hide) == ""


def test_a_second_sheet_wins_nothing_where_the_error_is_small_already():
    limits = CostLimits()
    assert second_sheet(of(1.5), 3).error_mm2 == pytest.approx(994**2 - 991**2, rel=0.04)
    assert second_sheet(of(9), 3).error_mm2 == pytest.approx(
        994**2 - (994 - 4000 * limits.two_sheets_share / 2) ** 2, rel=0.05
    )
    assert "second sheet" not in doubt_note(layout(put(), hide=of(1.5)), of(1.5))


def test_the_note_stands_among_those_of_the_costs():
    hide = of(8)
    (note,) = [note for note in costs(layout(put(x=100, y=100), hide=hide)).notes if "doubt" in note]
    assert note == doubt_note(layout(put(), hide=hide), hide)


def test_what_smoothing_took_off_an_edge_is_among_the_notes():
    hide = replace(of(0), smoothed=Smoothed(6.0, 12_300.0))
    notes = costs(layout(put(x=100, y=100), hide=hide)).notes
    assert any("up to 6 mm inside, which costs 1.23 dm2" in note for note in notes)
