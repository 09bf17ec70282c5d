import math
from dataclasses import dataclass

import pytest

from nesting.engine import Cancel, Progress, Stop
from nesting.planning import clock as module
from nesting.planning.clock import Clock, Legs
from nesting.planning.limits import PlanLimits
from nesting.workers import Crew


@dataclass
class Cost:
    iterations: int
    interrupted: bool = False


@pytest.fixture
def now(monkeypatch):
    """A time that passes when told to."""

    class Time:
        at = 100.0

        def monotonic(self):
            return self.at

    time = Time()
    monkeypatch.setattr(module, "time", time)
    return time


def inner(iterations, placed=3, consumed=500.0):
    return Progress(1.0, iterations, 0.9, placed, 4, (0.0,), consumed)


def test_the_share_gone_is_that_of_the_time_or_of_the_iterations_whichever_is_more(now):
    clock = Clock(Stop(seconds=10.0, iterations=100))
    now.at += 2.0
    assert clock.share == pytest.approx(0.2) and clock.seconds == pytest.approx(2.0)
    clock.count(Cost(50))
    assert clock.share == 0.5 and not clock.over
    clock.count(Cost(50))
    assert clock.over


def test_a_slice_is_a_share_of_the_whole(now):
    cancel = Cancel()
    stop = Stop(seconds=10.0, iterations=50, enough_mm2=7.0, cancel=cancel)
    assert Clock(stop).slice(0.5) == Stop(5.0, 25, None, cancel)
    assert Clock(stop).slice(0.001) == Stop(0.01, 1, None, cancel)
    assert Clock(stop).slice(0.5, whole=True) == Stop(5.0, 25, 7.0, cancel)
    # what never ends is searched a round at a time
    assert Clock(Stop(), limits=PlanLimits(round_iterations=9)).slice(0.5) == Stop(iterations=9)


def test_searches_side_by_side_count_once(now):
    clock = Clock(Stop(iterations=100))
    with Crew(None, 1) as crew:
        clock.count_all([Cost(10), Cost(30), Cost(20)], crew)
        assert clock.iterations == 30 and not clock.over
        clock.count_all([], crew)
        clock.count_all([Cost(1), Cost(1, True)], crew)
    assert clock.iterations == 31 and clock.over


def test_it_is_over_when_cancelled_interrupted_or_enough_is_reached(now):
    cancel = Cancel()
    clock = Clock(Stop(cancel=cancel))
    assert not clock.over
    cancel.cancel()
    assert clock.over
    clock = Clock(Stop())
    clock.count(Cost(1, True))
    assert clock.over
    clock = Clock(Stop(enough_mm2=400.0))
    for placed, unplaced, consumed, over in ((0, (), 0.0, False), (3, (9.0,), 1.0, False), (4, (0.0,), 401.0, False)):
        clock.better(placed, unplaced, consumed)
        assert clock.over is over
    clock.better(4, (0.0,), 400.0)
    assert clock.over


def test_what_is_told_is_of_the_whole_run_and_its_share_never_falls(now):
    told = []
    clock = Clock(Stop(iterations=100), told.append, of=9)
    clock.within(inner(10))
    clock.count(Cost(20))
    clock.within(inner(5, placed=4))
    # told late, and of a search that counts as much less
    clock.within(inner(0, placed=5))
    assert [(run.share, run.iterations, run.placed, run.of) for run in told] == [
        (0.10, 10, 3, 9),
        (0.25, 25, 4, 9),
        (0.25, 25, 5, 9),
    ]
    clock.ends()
    assert (told[-1].share, told[-1].placed, told[-1].consumed_mm2) == (1.0, 5, 500.0)


def test_that_time_passes_is_told_now_and_then(now):
    told = []
    clock = Clock(Stop(seconds=10.0), told.append, limits=PlanLimits(told_every_s=1.0))
    for _ in range(20):
        now.at += 0.25
        assert clock.waits() is False
        clock.within(inner(0, placed=0, consumed=0.0))
    assert len(told) == 6
    assert [run.share for run in told] == sorted(run.share for run in told)
    now.at += 10.0
    assert clock.waits() is True and told[-1].share == 0.99


def test_nobody_has_to_be_told(now):
    clock = Clock(Stop(enough_mm2=math.inf))
    clock.within(inner(3))
    clock.ends()
    assert clock.over


def legs_of(now, seconds, overrun=0.0, **limits):
    """Length of each leg, and whether it begins anew, when each takes all of its time and some more."""
    legs, found = Legs(Stop(seconds=seconds), limits=PlanLimits(**limits)), []
    for clock in legs:
        found.append((round(clock.seconds_left, 3), legs.anew))
        now.at += clock.seconds_left + overrun
    return found


def test_a_longer_run_begins_with_the_legs_of_a_shorter_one(now):
    facts = dict(first_leg_s=5.0, leg_growth=4.0, least_leg_s=2.0, reasons_share=1e-9)
    assert legs_of(now, 5.0, **facts) == [(5.0, True)]
    assert legs_of(now, 6.0, **facts) == [(6.0, True)]
    assert legs_of(now, 9.0, **facts) == [(5.0, True), (4.0, False)]
    assert legs_of(now, 20.0, **facts) == [(5.0, True), (15.0, True)]
    assert legs_of(now, 40.0, onward=0.05, **facts) == [(5.0, True), (15.0, True), (20.0, False)]
    assert legs_of(now, 60.0, onward=0.05, **facts) == [(5.0, True), (15.0, True), (40.0, True)]


@pytest.mark.parametrize(
    "seconds, legs",
    [
        (5.0, [(5.0, True)]),
        (20.0, [(5.0, True), (10.0, True), (5.0, False)]),
        (30.0, [(5.0, True), (10.0, True), (5.0, False), (10.0, False)]),
        (60.0, [(5.0, True), (10.0, True), (5.0, False), (25.0, True), (15.0, False)]),
    ],
)
def test_a_run_of_four_thirds_of_a_leg_is_the_beginning_of_every_longer_one(now, seconds, legs):
    facts = dict(first_leg_s=5.0, leg_growth=3.0, least_leg_s=2.0, least_anew=0.5, onward=1 / 3, reasons_share=1e-9)
    assert legs_of(now, seconds, **facts) == legs


def test_legs_whose_time_is_over_are_left_out_and_the_first_always_runs(now):
    facts = dict(first_leg_s=5.0, leg_growth=4.0, least_leg_s=2.0, reasons_share=1e-9)
    assert legs_of(now, 60.0, overrun=30.0, **facts) == [(5.0, True), (25.0, False)]
    assert legs_of(now, 6.0, overrun=30.0, **facts) == [(6.0, True)]
    assert len(legs_of(now, 0.0)) == 1


def test_time_is_kept_for_reasons_while_something_is_left_out(now):
    facts = dict(first_leg_s=5.0, leg_growth=4.0, least_leg_s=2.0, reasons_share=0.1, changes_s=1.2)
    assert legs_of(now, 6.0, **facts) == [(5.4, True)]
    assert legs_of(now, 20.0, **facts)[-1] == (13.8, True)
    told = []
    for clock in Legs(Stop(seconds=20.0), told.append, 4, PlanLimits(**facts)):
        clock.better(4, (0.0,), 100.0)
        now.at += clock.seconds_left
    assert clock.seconds == pytest.approx(15.0) and told[-1].share == 1.0


def test_the_progress_of_a_run_shows_the_best_of_its_legs_and_its_share_never_falls(now):
    told = []
    for number, clock in enumerate(Legs(Stop(seconds=20.0), told.append, 4)):
        clock.better(4, (0.0,), 100.0 if number == 0 else 150.0)
        now.at += 3.0
        clock.ends()
        now.at += max(clock.seconds_left, 0.0)
    assert {run.consumed_mm2 for run in told[1:]} == {100.0}
    shares = [run.share for run in told]
    assert shares == sorted(shares) and shares[-1] == 1.0


def test_where_iterations_are_counted_or_nothing_is_there_is_one_leg():
    for stop in (Stop(iterations=50), Stop(), Stop(seconds=100.0, iterations=5)):
        legs = Legs(stop)
        assert [(clock.stop.iterations, legs.anew) for clock in legs] == [(stop.iterations, True)]
