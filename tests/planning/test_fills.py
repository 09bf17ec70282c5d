import math
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_jobs import TAG, job_of, translator_of
from shapely.affinity import rotate, translate
from shapely.geometry import box

from nesting.engine import Stop
from nesting.leather.knife import Way
from nesting.model import Part, Zone
from nesting.planning.case import Fill, Ground, Spot
from nesting.planning.clock import Clock
from nesting.planning.fills import (
    choose_fills,
    find_fills,
    kind_of_panel,
    laid,
    least_leather,
    look_for_fills,
    lying,
)
from nesting.planning.limits import DEFAULT
from nesting.planning.wishes import Form
from nesting.workers import Crew

WAY = Way(0.0, 90.0, 300.0, 200.0)
A: Form = ("set", "a", False, None, None)
B: Form = ("set", "b", False, None, None)


def of(length=300.0, **counts):
    spots = (Spot({"a": A, "b": B}[name], 0.0, 0.0, 0.0) for name, count in counts.items() for _ in range(count))
    return Fill(tuple(spots), length)


def test_the_least_leather_and_prices_are_those_worked_by_hand():
    # two of a or three of b go on a panel: four panels hold 4 a and 6 b, and one of each saves nothing
    fills = [of(a=2), of(b=3), of(a=1, b=1)]
    times, prices = least_leather(fills, {A: 4, B: 6}, {A: 100.0, B: 50.0}, 0.5, DEFAULT)
    assert times == pytest.approx([2.0, 2.0, 0.0])
    assert prices == pytest.approx({A: 150.0, B: 100.0})
    # on a shorter panel it does: 4 of them and 2 b left take 4 x 240 + 200 mm, not 1200
    times, prices = least_leather([*fills, of(240.0, a=1, b=1)], {A: 4, B: 6}, {A: 100.0, B: 50.0}, 0.5, DEFAULT)
    assert times == pytest.approx([0.0, 2 / 3, 0.0, 4.0]) and prices == pytest.approx({A: 140.0, B: 100.0})


def test_what_no_fill_holds_takes_poor_panels():
    times, prices = least_leather([], {A: 6}, {A: 100.0}, 5.0, DEFAULT)
    assert times == [] and prices[A] == pytest.approx(100.0 / (DEFAULT.fill_poor * 5.0))


def test_the_fills_chosen_use_least_leather_in_the_room_there_is():
    sizes, long, short = {A: 200.0 * DEFAULT.fill_value}, of(280.0, a=2), of(130.0, a=1)
    # a part takes 200 mm of leather elsewhere
    assert choose_fills([long, short], {A: 2}, sizes, 1.0, 1000.0, DEFAULT) == [short, short]
    assert choose_fills([long, short], {A: 3}, sizes, 1.0, 270.0, DEFAULT) == [short, short]
    assert choose_fills([of(210.0, a=1)], {A: 3}, sizes, 1.0, 1000.0, DEFAULT) == []
    assert choose_fills([], {A: 3}, sizes, 1.0, 1000.0, DEFAULT) == []


def test_fills_lie_on_as_much_of_the_panel_as_they_say_and_apart():
    translator = translator_of(job_of(box(0, 0, 1800, 1200), 40))
    case = translator.case
    kind = kind_of_panel(case, "h", WAY)
    found = find_fills(translator, kind, list(range(40)), (), Stop(iterations=25), 1)
    assert found.fills and found.iterations >= 25
    edge = case.margins.from_knife_mm
    for fill in found.fills:
        assert fill.length_mm <= 300
        parts = [translate(rotate(TAG.outline, s.angle_deg, origin=(0, 0)), s.x, s.y) for s in fill.spots]
        assert all(box(edge, edge, fill.length_mm - edge, 200 - edge).buffer(1e-6).covers(part) for part in parts)
        assert all(a.distance(b) >= case.margins.between_mm - 1e-6 for a, b in combinations(parts, 2))
        assert max(part.bounds[2] for part in parts) > fill.length_mm - edge - 0.2
        moved = tuple(spot._replace(x=spot.x + 300, y=spot.y + 300) for spot in fill.spots)
        assert all(lying(translator, Ground("h", box(300, 300, 300 + fill.length_mm, 500)), moved))


def test_a_fill_that_is_known_becomes_shorter_and_its_tries_are_counted():
    limits = replace(DEFAULT, press_odds=1.0)
    translator = translator_of(job_of(box(0, 0, 1800, 1200), 40), limits)
    kind, form = kind_of_panel(translator.case, "h", WAY), translator.case.wishes[0].shape
    loose = Fill((Spot(form, 10.0, 10.0, 0.0), Spot(form, 150.0, 105.0, 0.0)), 290.0)
    (fill,) = find_fills(translator, kind, list(range(40)), (loose,), Stop(iterations=24), 3).fills
    assert len(fill.spots) == 2 and fill.length_mm < 210 and fill.tries == 2


def test_fills_are_kept_those_that_save_most_first():
    translator = translator_of(job_of(box(0, 0, 1800, 1200), 40))
    case, clock, kind = translator.case, Clock(Stop(iterations=100)), kind_of_panel(translator.case, "h", WAY)
    with Crew(translator, 1) as crew:
        few = look_for_fills(case, kind, range(40), Stop(iterations=10), 1, clock, crew)
        more = look_for_fills(case, kind, range(40), Stop(iterations=12), 2, clock, crew)
    assert few and more and case.fills[kind] == more and clock.iterations >= 22
    each = [fill.length_mm / len(fill.spots) for fill in more]
    assert each == sorted(each) and each[0] <= min(fill.length_mm / len(fill.spots) for fill in few)
    assert len({len(fill.spots) for fill in more}) == len(more)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0, 360),
    st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
    st.tuples(st.floats(0, 300), st.floats(0, 200), st.floats(0, 360)),
)
def test_a_fill_laid_is_where_it_was_on_its_panel(along, corner, spot):
    ((form, x, y, angle),) = laid((Spot(A, *spot),), Way(along, along + 90.0, 300.0, 200.0), corner)
    turn = math.radians(along)
    there = x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)
    assert there == pytest.approx((corner[0] + spot[0], corner[1] + spot[1]), abs=1e-6)
    assert form == A and angle == pytest.approx(spot[2] + along)


def test_a_spot_on_a_flaw_or_over_the_edge_does_not_lie():
    part = Part("plate", box(0, 0, 100, 100), grade="A")
    job = job_of(box(0, 0, 600, 400), 3, (part,), zones=(Zone(box(200, 0, 300, 200), "C"),))
    translator = translator_of(job)
    form = translator.case.wishes[0].shape
    spots = tuple(Spot(form, x, 20.0, 0.0) for x in (20.0, 150.0, 380.0, 550.0))
    assert lying(translator, Ground("h", job.hides[0].outline), spots) == (True, False, True, False)


def test_panels_share_fills_whichever_way_they_lie_where_parts_may_be_turned():
    free = translator_of(job_of(box(0, 0, 1800, 1200), 1)).case
    across = Way(90.0, 180.0, 300.0, 200.0)
    assert kind_of_panel(free, "h", WAY) == kind_of_panel(free, "h", across) == (300.0, 200.0, 0.0)
