from dataclasses import replace
from decimal import Decimal

import pytest

from nesting.compare import compare, plans
from nesting.demo import demo_folder
from nesting.engine import Stop
from nesting.files.job import read_job
from nesting.files.layout import read_layout, write_layout
from nesting.plan import plan
from nesting.report.figures import figures


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
