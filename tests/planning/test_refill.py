from planning_jobs import TAG, job_of, translator_of
from shapely.geometry import box

from nesting.engine import Stop, overlaps
from nesting.model import Part, Zone
from nesting.planning.case import Ground, Lie
from nesting.planning.clock import Clock
from nesting.planning.fills import look_for_fills
from nesting.planning.refill import cells, movable, refilled
from nesting.workers import Crew

GROUNDS = tuple(Ground("h", box(300 * n, 0, 300 * (n + 1), 200)) for n in range(6))


def refill(job, lies, grounds=GROUNDS):
    translator = translator_of(job)
    case = translator.case
    kind, some = cells(case, grounds)
    some, free = movable(case, grounds, lies, some)
    with Crew(translator, 1) as crew:
        fills = look_for_fills(case, kind, free, Stop(iterations=60), 1, Clock(Stop(iterations=100)), crew)
    after = refilled(translator, grounds, lies, some, fills, 1)
    if after is not None:
        question = translator.question(list(grounds), dict.fromkeys(after, 0), {}, {})
        assert overlaps(question.problem, question.solution(after)) == []
    return after


def spread(count, each):
    """Parts side by side, so many on each ground."""
    return {n: Lie(n // each, 300.0 * (n // each) + 5 + 140 * (n % each), 5.0, 0.0) for n in range(count)}


def test_parts_spread_over_panels_come_together_on_few():
    lies = spread(12, 2)
    after = refill(job_of(box(0, 0, 1800, 200), 12), lies)
    assert after.keys() == lies.keys()
    assert len({lie.ground for lie in after.values()}) <= 4 < len({lie.ground for lie in lies.values()})


def test_panels_as_full_as_can_be_stay():
    part = Part("plate", box(0, 0, 280, 180))
    assert refill(job_of(box(0, 0, 1800, 200), 6, (part,)), spread(6, 1)) is None


def test_what_a_flaw_is_in_the_way_of_finds_another_place():
    part = Part("tag", TAG.outline, grade="A")
    job = job_of(box(0, 0, 1800, 200), 12, (part,), zones=(Zone(box(20, 100, 590, 195), "C"),))
    after = refill(job, spread(12, 2))
    assert after is None or len(after) == 12


def test_only_panels_of_whole_leather_are_cells_and_few_are_none():
    case = translator_of(job_of(box(0, 0, 1800, 200), 1)).case
    bitten = (GROUNDS[0]._replace(polygon=GROUNDS[0].polygon.difference(box(0, 0, 60, 60))), *GROUNDS[1:])
    assert [cell.ground for cell in cells(case, bitten)[1]] == [1, 2, 3, 4, 5]
    assert cells(case, GROUNDS[:3]) is None


def test_parts_that_must_match_or_have_another_setting_stay_where_they_lie():
    lies = spread(12, 2)
    lies[0] = lies[0]._replace(band=1)
    case = translator_of(job_of(box(0, 0, 1800, 200), 12)).case
    some, free = movable(case, GROUNDS, lies, cells(case, GROUNDS)[1])
    assert [cell.ground for cell in some] == [1, 2, 3, 4, 5] and 0 not in free and len(free) == 11
    matched = translator_of(job_of(box(0, 0, 1800, 200), 12, same_hide="piece")).case
    assert movable(matched, GROUNDS, spread(12, 2), cells(matched, GROUNDS)[1])[1] == []
