from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest
from planning_jobs import MACHINE, TAG, bits_of, job_of, sound, translator_of
from shapely.geometry import box

from nesting.engine import Cancel, Stop
from nesting.planning import rounds
from nesting.planning.case import Case, Ground, Lie, on_ground
from nesting.planning.clock import Clock
from nesting.planning.limits import PlanLimits
from nesting.planning.measures import consumed_mm2, outline, unplaced_mm2
from nesting.planning.packing import Answer
from nesting.planning.rounds import improve
from nesting.workers import Crew

BITS = 14
LIMITS = PlanLimits(round_iterations=4)
"""Rounds so short that several fit into a test."""
STOP = Stop(iterations=40)


def bits_job(quantity, parts=(TAG,), width=310.0, **facts):
    """Bits of leather for two tags side by side, more of them than are packed all together."""
    return job_of(hides=bits_of(BITS, width, 95.0), quantity=quantity, parts=parts, **facts)


def spread(count):
    """One tag on each of the first bits."""
    return {index: Lie(index, 5.0, 5.0, 0.0) for index in range(count)}


class Improved(NamedTuple):
    case: Case
    grounds: tuple
    lies: dict
    told: list


def improved(job, lies, seed=1, workers=1, limits=LIMITS, stop=STOP):
    translator = translator_of(job, limits)
    grounds = tuple(Ground(hide.id, hide.outline) for hide in job.hides)
    told = []
    with Crew(translator, workers) as crew:
        after = improve(translator, grounds, lies, Clock(stop, limits=limits), crew, seed, told.append)
    assert (told[-1] if told else lies) is after
    assert_apart(translator.case, grounds, after)
    return Improved(translator.case, grounds, after, told)


def assert_apart(case, grounds, lies):
    for number, ground in enumerate(grounds):
        laid = [outline(case, index, lie) for index, lie in on_ground(lies, number).items()]
        assert all(ground.polygon.buffer(-3.0 + 0.02).contains(part) for part in laid)
        for n, one in enumerate(laid):
            assert all(one.distance(other) >= case.margins.between_mm - 0.02 for other in laid[:n])


def score(case, grounds, lies):
    used = sum(consumed_mm2(case, ground, on_ground(lies, number)) for number, ground in enumerate(grounds))
    return (*unplaced_mm2(case, lies), used)


@pytest.fixture(scope="module")
def emptied():
    return improved(bits_job(BITS), spread(BITS))


def test_of_many_panels_the_poorest_are_emptied_into_others_and_nothing_is_lost(emptied):
    assert len(emptied.grounds) > LIMITS.few_panels
    assert all(set(step) == set(range(BITS)) for step in emptied.told)
    in_use = [len({lie.ground for lie in step.values()}) for step in emptied.told]
    assert in_use == sorted(in_use, reverse=True) and in_use[-1] < BITS


def test_rounds_of_the_same_seed_come_to_the_same(emptied):
    assert improved(bits_job(BITS), spread(BITS)).lies == emptied.lies


def test_what_has_no_place_is_placed_where_there_is_room():
    run = improved(bits_job(20), spread(BITS))
    assert set(range(BITS)) <= set(run.lies) and len(run.lies) > BITS
    areas = [unplaced_mm2(run.case, step) for step in (spread(BITS), *run.told)]
    assert areas == sorted(areas, reverse=True)


def test_what_matches_stays_on_one_hide_and_comes_together():
    pair = replace(TAG, count=2)
    job = bits_job(BITS, (pair,), same_hide="piece")
    # both parts of the first ten pieces have a place, of each later piece none
    start = {2 * n: Lie(n, 5.0, 5.0, 0.0) for n in range(10)} | {2 * n + 1: Lie(n, 150.0, 5.0, 0.0) for n in range(10)}
    case, grounds, lies, _ = improved(job, start, limits=replace(LIMITS, regroup_odds=1.0))
    assert unplaced_mm2(case, lies) < unplaced_mm2(case, start)
    hides = {}
    for index, lie in lies.items():
        hides.setdefault(case.wishes[index].match, set()).add(grounds[lie.ground].hide)
    assert all(len(where) == 1 for where in hides.values())


def test_parts_that_match_one_left_out_are_taken_up_and_go_elsewhere_together():
    pair = replace(TAG, count=2)
    job = bits_job(BITS - 1, (pair,), same_hide="piece")
    hides = (replace(job.hides[0], outline=box(0, 0, 150, 95)), *job.hides[1:])
    # the first bit has room for one part only of the piece that lies there
    start = {0: Lie(0, 5.0, 5.0, 0.0)}
    start |= {2 * n: Lie(n, 5.0, 5.0, 0.0) for n in range(1, BITS - 1)}
    start |= {2 * n + 1: Lie(n, 150.0, 5.0, 0.0) for n in range(1, BITS - 1)}
    job = replace(job, hides=hides)
    kept, run = (improved(job, start, limits=replace(LIMITS, regroup_odds=odds)) for odds in (0.0, 1.0))
    assert 1 not in kept.lies and len(run.lies) == 2 * (BITS - 1)
    assert {run.grounds[run.lies[index].ground].hide for index in (0, 1)} == {"h13"}


def test_two_processes_work_on_panels_of_their_own():
    lies = improved(bits_job(20), spread(BITS), workers=2, stop=Stop(iterations=8)).lies
    assert set(range(BITS)) <= set(lies) and len(lies) > BITS


def test_a_round_takes_its_share_of_the_time():
    case, grounds, lies, _ = improved(bits_job(20), spread(BITS), stop=Stop(seconds=0.5))
    assert score(case, grounds, lies) <= score(case, grounds, spread(BITS))


def test_nothing_is_tried_when_nothing_is_placed_or_there_is_no_time():
    cancel = Cancel()
    cancel.cancel()
    assert improved(bits_job(2), {}).lies == {}
    assert improved(bits_job(2), spread(1), stop=Stop(cancel=cancel)).lies == spread(1)


def test_few_panels_are_packed_all_together():
    limits = replace(LIMITS, few_panels=BITS)
    run = improved(bits_job(BITS), spread(BITS), limits=limits, stop=Stop(iterations=20))
    assert set(run.lies) == set(range(BITS)) and run.told
    assert score(run.case, run.grounds, run.lies) < score(run.case, run.grounds, spread(BITS))


def test_a_plan_whose_panels_are_improved_a_few_at_a_time_is_sound_and_can_be_repeated():
    pair = replace(TAG, count=2)
    job = job_of(box(0, 0, 900, 300), 10, (pair,), same_hide="piece", machine=replace(MACHINE, bed_width_mm=330))
    limits = PlanLimits(few_panels=1, round_iterations=4)
    one, other = (sound(job, Stop(iterations=40), seed=2, limits=limits) for _ in range(2))
    assert len(one.panels) > 1 and one.placements == other.placements and one.cuts == other.cuts


class Said:
    """Workers that come to answers known before."""

    workers, here = 2, False

    def __init__(self, *answers):
        self.answers, self.interrupted = [Answer(lies) for lies in answers], False

    def each(self, work, tasks, waits):
        return self.answers


def test_what_matches_is_not_moved_by_one_task_and_joined_by_another(monkeypatch):
    job = bits_job(1, (replace(TAG, count=3),), width=650.0, same_hide="piece")
    translator = translator_of(job, LIMITS)
    grounds = (Ground("h0", box(0, 0, 310, 95)), Ground("h1", box(0, 0, 310, 95)), Ground("h0", box(320, 0, 640, 95)))
    start = {0: Lie(0, 5.0, 5.0, 0.0), 1: Lie(0, 200.0, 5.0, 0.0)}
    monkeypatch.setattr(rounds, "_choose", lambda *a: [[0, 1], [2]])
    clock, random = Clock(STOP, limits=replace(LIMITS, regroup_odds=0.0)), np.random.default_rng(0)
    # they take less leather there
    moved = {0: Lie(1, 5.0, 5.0, 0.0), 1: Lie(1, 150.0, 5.0, 0.0)}
    third = {2: Lie(0, 325.0, 5.0, 0.0)}
    assert rounds._some(translator, grounds, start, clock, Said(moved, third), random) is start
    assert rounds._some(translator, grounds, start, clock, Said(start, third), random).keys() == {0, 1, 2}
