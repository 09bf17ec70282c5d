from dataclasses import replace

from planning_jobs import MACHINE, TAG, job_of, translator_of
from shapely.geometry import box

from nesting.engine import Cancel, Stop
from nesting.model import Direction, Part
from nesting.planning.clock import Clock
from nesting.planning.limits import DEFAULT, PlanLimits
from nesting.planning.ways import best_way
from nesting.workers import Crew


def cut(job, stop, limits=DEFAULT, workers=1, told=None):
    translator = translator_of(job, limits)
    ranks = {index: wish.rank for index, wish in enumerate(translator.case.wishes)}
    clock = Clock(stop, told, len(ranks), limits)
    with Crew(translator, workers) as crew:
        return best_way(translator, "h", ranks, frozenset(ranks), 1.0, clock, crew, 1), clock


def test_more_ways_find_no_worse_one_and_take_longer():
    job = job_of(box(0, 0, 760, 500), 12)
    one, short = cut(job, Stop(iterations=20))
    many, long = cut(job, Stop(iterations=2000))
    assert many.score <= one.score and long.iterations > short.iterations
    assert set(one.lies) == set(many.lies) == set(range(12))


def test_no_more_ways_are_tried_than_asked():
    job = job_of(box(0, 0, 760, 500), 12)
    patient = PlanLimits(patience=1e9)
    few, many = (cut(job, Stop(iterations=2000), replace(patient, most_ways=most))[1].iterations for most in (1, 4))
    assert 0 < few < many


def test_the_way_has_panels_long_enough_for_its_own_parts():
    strap = Part("strap", box(0, 0, 380, 28), direction=Direction("along", 3))
    machine = replace(MACHINE, bed_width_mm=400, bed_height_mm=300)
    job = job_of(box(0, 0, 800, 540), 3, (strap,), machine, backbone=((400, 20), (400, 520)))
    assert len(cut(job, Stop(iterations=1), PlanLimits(most_ways=1))[0].lies) == 3


def test_a_search_already_cancelled_cuts_the_hide_up_once():
    cancel = Cancel()
    cancel.cancel()
    found, clock = cut(job_of(box(0, 0, 760, 500), 6), Stop(iterations=5000, cancel=cancel))
    assert found.lies and clock.over and clock.iterations < 100


def test_how_the_trying_goes_on_is_told_from_within():
    told = []
    cut(job_of(box(0, 0, 760, 500), 12), Stop(iterations=200), PlanLimits(told_every_s=0.0), told=told.append)
    assert len({run.share for run in told}) > 10


def test_two_processes_try_two_ways_at_a_time():
    found, _ = cut(job_of(box(0, 0, 760, 500), 12, (TAG,)), Stop(iterations=60), workers=2)
    assert set(found.lies) == set(range(12))
