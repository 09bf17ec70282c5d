from dataclasses import replace
from decimal import Decimal

import pytest

from nesting.app.demo import demo_folder
from nesting.app.earlier import plans
from nesting.costs.choices import compare, compare_bed, compare_settings, why_bed
from nesting.costs.figures import figures
from nesting.engine import Stop
from nesting.files.job import read_job
from nesting.files.layout import read_layout, write_layout
from nesting.planning.plan import plan
from nesting.planning.ready import ready


@pytest.fixture(scope="module")
def job():
    return read_job(demo_folder())


@pytest.fixture(scope="module")
def planned(job, tmp_path_factory):
    """A plan of the demo, as its file gives it back."""
    path = tmp_path_factory.mktemp("plan") / "layout.json"
    write_layout(path, plan(job, Stop(iterations=4)), {})
    return read_layout(path)


def test_a_plan_is_known_by_its_workshop_orders_hides_and_drawings(job, planned):
    assert plans(planned, job)
    assert not plans(planned, replace(job, orders=job.orders[1:]))
    assert not plans(planned, replace(job, hides=job.hides[1:]))
    assert not plans(planned, replace(job, workshop=replace(job.workshop, smallest_offcut_mm=61.0)))
    first = planned.placements[0]
    moved = replace(first, x=first.x + 0.01)
    assert not plans(replace(planned, placements=(moved, *planned.placements[1:])), job)


def test_the_best_choice_is_no_worse_than_a_plan_at_hand_and_no_hides_are_shown_twice(job, planned):
    choices = compare(job, 0.1, planned=planned)
    placed = sum(not placement.filler for placement in planned.placements)
    cost = Decimal(figures(planned)["total"]["cost"])
    assert (-choices[0].placed, choices[0].cost) <= (-placed, cost)
    assert len({choice.hides for choice in choices}) == len(choices)


def test_the_bed_is_set_beside_none(job):
    held, free = choices = compare_bed(job, 0.1)
    assert (held.name, free.name) == ("bed 600 mm x 400 mm", "no limit")
    # without an end to the bed nothing has to be cut up, and the plan is of this job otherwise
    assert held.layout.cuts and not free.layout.cuts
    assert held.layout.wanted == free.layout.wanted and held.layout.workshop.machine.bed_width_mm == 600
    share = {choice.name: choice.figures["total"]["yield_of_consumed"] for choice in choices}
    lost = 100 * (share["no limit"] - share["bed 600 mm x 400 mm"])
    assert (f"{lost:.1f} points" if lost > 0.05 else "no leather") in why_bed(choices)
    fewer = free.placed - held.placed
    assert (f"{fewer} ordered parts find no place on it" in why_bed(choices)) == (fewer > 0)
    assert "no place" not in why_bed([held, replace(held, name="no limit")]) and "None" in why_bed([])


def test_more_settings_never_place_less(job, monkeypatch):
    found = iter([3, 1, 2])

    def fewer(job, stop, seed, *, settings, **more):
        return plan(job, Stop(iterations=next(found)), seed, settings=1, **more)

    many = tuple(replace(item, settings=3 * item.settings[:1]) for item in ready(job))
    monkeypatch.setattr("nesting.costs.choices.ready", lambda job: many)
    monkeypatch.setattr("nesting.costs.choices.plan", fewer)
    placed = [(choice.placed, choice.leather_mm2) for choice in compare_settings(job, 0.1)]
    assert len(placed) == 3 and placed == sorted(placed)
