from dataclasses import replace
from datetime import date

import pytest
from laser_samples import hide, layout_of, placement
from shapely.geometry import box

from nesting.laser.turns import Waiting, turns
from nesting.model import Cut, Hide, OrderLine, Panel
from nesting.planning.hands import burnt

DAYS = [date(2026, 9, day) for day in range(14, 20)]
WIDE = Hide("h1", box(0, 0, 1000, 300), tannage="vegetable", nominal_mm=1.5)
CUTS = (Cut("h1", (300, 0), (300, 300)), Cut("h1", (600, 0), (600, 300)), Cut("h1", (600, 150), (1000, 150)))
"""Each line goes across what the one before it has left at its right."""
PANELS = (
    Panel("1", "h1", box(0, 0, 300, 300)),
    Panel("2", "h1", box(300, 0, 600, 300)),
    Panel("3", "h1", box(600, 0, 1000, 150)),
    Panel("4", "h1", box(600, 150, 1000, 300)),
)
SPOTS = {"1": (20, 20), "2": (320, 20), "3": (620, 20), "4": (620, 170)}


def line(order, due=None, priority=3):
    return OrderLine(order, "tag", 1, due, priority)


def laid(panels, lines=(), **others):
    """A layout of a hide in four panels: of each its name and the orders with a part in it."""
    parts = []
    for name, orders in panels:
        x, y = SPOTS[name]
        parts += [placement(1, x + 70 * n, y, order=order, panel=name) for n, order in enumerate(orders)]
    layout = layout_of(parts, hides=[WIDE], panels=PANELS, **others)
    return replace(layout, cuts=CUTS, lines=tuple(lines))


def test_what_is_due_first_is_burnt_first_and_the_orders_that_wait_are_told_with_their_days():
    lines = [line("a", DAYS[3]), line("b", DAYS[1]), line("c", DAYS[0]), line("d")]
    found = turns(laid([("1", "ad"), ("2", "b"), ("3", "dc")], lines))
    assert [(turn.panel, turn.number, turn.of) for turn in found] == [("3", 1, 3), ("2", 2, 3), ("1", 3, 3)]
    assert found[0].waiting == (Waiting("c", DAYS[0]), Waiting("d", None))
    assert found[2].waiting == (Waiting("a", DAYS[3]), Waiting("d", None))


def test_of_what_is_due_on_one_day_the_higher_priority_is_burnt_first_then_the_panels_as_they_come():
    lines = [line("a", DAYS[0], 3), line("b", DAYS[0], 1), line("c", DAYS[0], 3)]
    found = turns(laid([("1", "c"), ("2", "a"), ("4", "b")], lines))
    assert [turn.panel for turn in found] == ["4", "1", "2"]


def test_a_filler_makes_no_load_urgent():
    layout = laid([("1", "a"), ("2", "b")], [line("a", DAYS[0]), line("b", DAYS[5])])
    stall, other = layout.placements
    found = turns(replace(layout, placements=(replace(stall, filler=True), other)))
    assert [turn.panel for turn in found] == ["2", "1"]


def test_a_panel_is_free_once_every_line_that_parts_it_from_the_rest_is_cut():
    found = turns(laid([(name, "a") for name in "1234"], [line("a", DAYS[0])]))
    assert {turn.panel: turn.lines for turn in found} == {"1": (1,), "2": (1, 2), "3": (1, 2, 3), "4": (1, 2, 3)}


def test_what_is_burnt_has_no_turn_and_its_lines_are_cut():
    layout = laid([("1", "a"), ("2", "a"), ("3", "a")], [line("a", DAYS[0])])
    found = turns(burnt(layout, [("h1", "2")]))
    assert [(turn.panel, turn.number, turn.lines) for turn in found] == [("1", 1, ()), ("3", 2, (3,))]


@pytest.mark.parametrize("tannage, longer", [("chrome", ""), ("vegetable", "knife")])
def test_what_is_cut_by_knife_has_orders_that_wait_and_no_turn_among_the_loads(tannage, longer):
    leather = hide("h2", tannage)
    panels = (Panel("1", "h1", box(0, 0, 500, 300)), Panel("1", "h2", leather.outline, longer))
    parts = [placement(1, order="a"), placement(2, order="b", hide="h2")]
    layout = layout_of(parts, hides=[hide(), leather], panels=panels)
    found = turns(layout, [line("a", DAYS[3]), line("b", DAYS[0])])
    assert [(turn.hide, turn.number, turn.of) for turn in found] == [("h2", 0, 1), ("h1", 1, 1)]
    assert found[0].waiting == (Waiting("b", DAYS[0]),)


def test_the_days_given_count_before_those_of_the_layout():
    layout = laid([("1", "a"), ("2", "b")], [line("a", DAYS[0]), line("b", DAYS[1])])
    found = turns(layout, [line("a", DAYS[1]), line("b", DAYS[0])])
    assert [turn.panel for turn in found] == ["2", "1"]
