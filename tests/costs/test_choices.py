from dataclasses import replace
from decimal import Decimal

import pytest
from small_job import small_job

from nesting.costs import choices as module
from nesting.costs.choices import Choices, compare, compare_bed, compare_settings, why, why_bed, why_settings
from nesting.costs.figures import figures
from nesting.costs.limits import CostLimits
from nesting.engine import Stop
from nesting.planning.plan import plan
from nesting.planning.prepare import prepare

STOP = Stop(iterations=2)


@pytest.fixture(scope="module")
def job():
    return small_job()


@pytest.fixture(scope="module")
def planned(job):
    return plan(job, STOP, workers=1)


@pytest.fixture(scope="module")
def choices(job, planned):
    return compare(job, STOP, workers=1, planned=planned)


def test_the_best_choice_is_no_worse_than_a_plan_at_hand_and_no_hides_are_shown_twice(choices, planned):
    placed = sum(not placement.filler for placement in planned.placements)
    cost = Decimal(figures(planned)["total"]["cost"])
    assert (-choices[0].placed, choices[0].cost) <= (-placed, cost)
    assert len({choice.hides for choice in choices}) == len(choices) > 1


def test_choices_come_by_parts_placed_and_then_by_cost(choices):
    assert [(-choice.placed, choice.cost) for choice in choices] == sorted((-c.placed, c.cost) for c in choices)
    assert why(choices).startswith(f"Cut {choices[0].name}: it takes {choices[0].placed} of 6 ordered parts")


def test_a_plan_at_hand_stands_for_its_hides_when_it_is_better(job, planned, monkeypatch):
    def nothing(job, stop, seed, **more):
        empty = plan(job, Stop(iterations=1), seed, **more)
        return replace(empty, placements=(), panels=(), cuts=())

    monkeypatch.setattr(module, "plan", nothing)
    monkeypatch.setattr(module, "check", lambda layout: [])
    assert compare(job, STOP, workers=1, planned=planned)[0].layout is planned
    bed, free = compare_bed(job, STOP, workers=1, planned=planned)
    assert bed.layout is planned and bed.name == "bed 200 mm x 200 mm" and free.placed == 0
    assert [choice.layout is planned for choice in compare_settings(job, STOP, workers=1, planned=planned)] == [True]


def test_the_search_ends_for_each_hide(job, monkeypatch):
    asked, told = [], []

    def noted(job, stop, seed, *, prepared, workers, **more):
        asked.append((len(prepared.hides), stop.seconds, stop.iterations, workers, seed))
        return plan(job, Stop(iterations=1), seed, prepared=prepared, workers=1, **more)

    monkeypatch.setattr(module, "plan", noted)
    compare(job, Stop(seconds=5, iterations=3), 7, workers=2, progress=told.append)
    # a hide alone is not worth a second process
    assert asked == [(1, 5, 3, 1, 7), (1, 5, 3, 1, 7), (2, 10, 6, 2, 7)]
    assert told == ["small", "wide", "together"]
    compare_bed(job, Stop(iterations=3), workers=2)
    assert asked[3:] == [(2, None, 6, 2, 0)] * 2
    compare_settings(job, Stop(seconds=5))
    assert asked[5:] == [(2, 10, None, None, 0)]


def test_choices_print_themselves_as_a_table(choices):
    head, *rows = str(choices).splitlines()
    assert head.split() == "cut from parts cost EUR dm2 used of hide of used panels changes".split()
    assert len(rows) == len(choices) and len({len(row) for row in (head, *rows)}) == 1
    best = choices[0]
    placed = len(best.layout.placements)
    assert rows[0].startswith(best.name) and f"{placed} of 8  " in rows[0] and f"  {best.cost}  " in rows[0]
    assert str(Choices()).split() == "cut from parts cost dm2 used of hide of used panels changes".split()


def test_the_bed_is_set_beside_none(job):
    bed, free = choices = compare_bed(job, STOP, workers=1)
    assert (bed.name, free.name) == ("bed 200 mm x 200 mm", "no limit")
    # without an end to the bed nothing has to be cut up, and the plan is of this job otherwise
    assert bed.layout.cuts and not free.layout.cuts
    assert bed.layout.wanted == free.layout.wanted and bed.layout.workshop.machine.bed_width_mm == 200
    share = {choice.name: choice.figures["total"]["yield_of_consumed"] for choice in choices}
    lost = 100 * (share["no limit"] - share["bed 200 mm x 200 mm"])
    assert (f"{lost:.1f} points" if lost > 0.05 else "no leather") in why_bed(choices)
    fewer = free.placed - bed.placed
    assert (f"{fewer} ordered parts find no place on it" in why_bed(choices)) == (fewer > 0)
    assert "no place" not in why_bed([bed, replace(bed, name="no limit")]) and "None" in why_bed([])


def test_how_long_a_bed_without_end_is_may_be_said(job):
    assert (
        compare_bed(job, STOP, workers=1, limits=CostLimits(no_bed_mm=900))[1].layout.workshop.machine.bed_width_mm
        == 900
    )


def test_more_settings_never_place_less(job, monkeypatch):
    found = iter([3, 1, 2])

    def fewer(job, stop, seed, *, settings, **more):
        layout = plan(job, STOP, seed, settings=1, **more)
        return replace(layout, placements=layout.placements[: next(found)])

    prepared = prepare(job)
    many = prepared.only(replace(item, settings=3 * item.settings[:1]) for item in prepared.hides)
    monkeypatch.setattr(module, "prepare", lambda job: many)
    monkeypatch.setattr(module, "plan", fewer)
    monkeypatch.setattr(module, "check", lambda layout: [])
    choices = compare_settings(job, STOP, workers=1)
    placed = [(choice.placed, choice.leather_mm2) for choice in choices]
    assert len(placed) == 3 and placed == sorted(placed) and placed[0] == placed[2]
    assert [choice.name for choice in choices] == [f"up to {n} setting{'s'[: n > 1]}" for n in (1, 2, 3)]
    assert "up to 3 settings place no more" in why_settings(choices)


def test_what_the_referee_faults_is_no_choice(job, monkeypatch):
    monkeypatch.setattr(module, "check", lambda layout: ["a fault"])
    for each in (compare, compare_bed, compare_settings):
        assert each(job, STOP, workers=1) == []
    assert "No hide takes any" in why([]) and "No setting cuts any" in why_settings([])
