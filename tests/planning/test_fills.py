import math
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
from nesting.planning.case import Ground, Lie, Spot
from nesting.planning.clock import Clock
from nesting.planning.fills import fewest, fill_of, find_fills, kind_of_panel, laid, look_for_fills, lying
from nesting.planning.limits import DEFAULT
from nesting.planning.wishes import Form
from nesting.workers import Crew

WAY = Way(0.0, 90.0, 300.0, 200.0)
A: Form = ("set", "a", False, None, None)
B: Form = ("set", "b", False, None, None)


def of(**counts):
    return tuple(Spot({"a": A, "b": B}[name], 0.0, 0.0, 0.0) for name, count in counts.items() for _ in range(count))


def test_the_fewest_panels_and_prices_are_those_worked_by_hand():
    # two of a or three of b go on a panel: four panels hold 4 a and 6 b, and one of each saves nothing
    fills = [of(a=2), of(b=3), of(a=1, b=1)]
    times, prices = fewest(fills, {A: 4, B: 6}, {A: 100.0, B: 50.0}, 200.0, DEFAULT)
    assert times == pytest.approx([2.0, 2.0, 0.0])
    assert prices == pytest.approx({A: 1 / 2, B: 1 / 3})
    # one of each and one b more does
    times, prices = fewest([*fills, of(a=1, b=2)], {A: 4, B: 6}, {A: 100.0, B: 50.0}, 200.0, DEFAULT)
    assert times == pytest.approx([0.5, 0.0, 0.0, 3.0]) and prices == pytest.approx({A: 1 / 2, B: 1 / 4})


def test_what_no_fill_holds_takes_poor_panels():
    times, prices = fewest([], {A: 6}, {A: 100.0}, 500.0, DEFAULT)
    assert times == [] and prices[A] == pytest.approx(100.0 / (DEFAULT.fill_poor * 500.0))


def test_fills_lie_on_the_panel_and_apart():
    translator = translator_of(job_of(box(0, 0, 1800, 1200), 40))
    case = translator.case
    kind = kind_of_panel(case, "h", WAY)
    pool = list(range(40))
    found = find_fills(translator, kind, pool, {case.wishes[0].shape: 0.3}, Stop(iterations=30), 1)
    assert found.fills and found.iterations >= 30
    edge = case.margins.from_knife_mm
    for fill in found.fills:
        parts = [translate(rotate(TAG.outline, s.angle_deg, origin=(0, 0)), s.x, s.y) for s in fill]
        assert all(box(edge, edge, 300 - edge, 200 - edge).buffer(1e-6).covers(part) for part in parts)
        assert all(a.distance(b) >= case.margins.between_mm - 1e-6 for a, b in combinations(parts, 2))


def test_fills_are_kept_those_worth_most_first():
    translator = translator_of(job_of(box(0, 0, 1800, 1200), 40))
    case, clock, kind = translator.case, Clock(Stop(iterations=100)), kind_of_panel(translator.case, "h", WAY)
    with Crew(translator, 1) as crew:
        few = look_for_fills(case, kind, range(40), Stop(iterations=20), 1, clock, crew)
        more = look_for_fills(case, kind, range(40), Stop(iterations=20), 2, clock, crew)
    assert 0 < len(few) < len(more) and set(few) < set(more) and case.fills[kind] == more
    assert [len(fill) for fill in more] == sorted(map(len, more), reverse=True) and clock.iterations >= 40


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0, 360),
    st.booleans(),
    st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
    st.tuples(st.floats(0, 300), st.floats(0, 200), st.floats(0, 360)),
)
def test_a_fill_laid_is_on_its_panel_and_read_off_it_again(along, across, corner, spot):
    way = Way(along, along + 90.0, *((200.0, 300.0) if across else (300.0, 200.0)))
    case = translator_of(job_of(box(0, 0, 600, 400), 1)).case
    fill = (Spot(case.wishes[0].shape, *spot),)
    ((form, x, y, angle),) = laid(fill, way, corner)
    turn = math.radians(along)
    there = x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)
    assert corner[0] - 1e-6 <= there[0] <= corner[0] + way.long_mm + 1e-6
    assert corner[1] - 1e-6 <= there[1] <= corner[1] + way.wide_mm + 1e-6
    ((again, *pose),) = fill_of(case, {0: Lie(0, x, y, angle)}, way, corner)
    assert again == form and pose == pytest.approx(spot, abs=1e-6)


def test_a_spot_on_a_flaw_or_over_the_edge_does_not_lie():
    part = Part("plate", box(0, 0, 100, 100), grade="A")
    job = job_of(box(0, 0, 600, 400), 3, (part,), zones=(Zone(box(200, 0, 300, 200), "C"),))
    translator = translator_of(job)
    form = translator.case.wishes[0].shape
    fill = tuple(Spot(form, x, 20.0, 0.0) for x in (20.0, 150.0, 380.0, 550.0))
    assert lying(translator, Ground("h", job.hides[0].outline), fill) == (True, False, True, False)


def test_panels_that_lie_alike_to_the_backbone_share_fills_where_parts_may_not_be_turned():
    free = translator_of(job_of(box(0, 0, 1800, 1200), 1)).case
    across = Way(90.0, 180.0, 200.0, 300.0)
    assert kind_of_panel(free, "h", WAY) == kind_of_panel(free, "h", across) == (300.0, 200.0, 0.0)
