from dataclasses import replace
from datetime import date

from small_job import small_job

from nesting.app.earlier import plans
from nesting.engine import Stop
from nesting.files.layout import read_layout, write_layout
from nesting.planning.plan import plan


def test_a_plan_is_known_by_its_workshop_orders_hides_and_drawings(tmp_path):
    job = small_job()
    write_layout(tmp_path / "layout.json", plan(job, Stop(iterations=1), workers=1), {})
    planned = read_layout(tmp_path / "layout.json")
    assert plans(planned, job)
    assert not plans(planned, replace(job, orders=job.orders[1:]))
    assert not plans(planned, replace(job, hides=job.hides[1:]))
    assert not plans(planned, replace(job, workshop=replace(job.workshop, smallest_offcut_mm=61.0)))
    for asked in ({"colour": "black"}, {"same_lot": True}):
        products = (replace(job.products[0], **asked), *job.products[1:])
        assert not plans(planned, replace(job, products=products))
    # a day put off changes how a plan is judged, not the plan
    assert plans(planned, replace(job, orders=(replace(job.orders[0], due=date(2026, 4, 1)), *job.orders[1:])))
    first = planned.placements[0]
    moved = replace(first, x=first.x + 0.01)
    assert not plans(replace(planned, placements=(moved, *planned.placements[1:])), job)
