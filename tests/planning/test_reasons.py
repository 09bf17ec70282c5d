from dataclasses import replace

import pytest
from planning_jobs import TAG, job_of
from shapely.geometry import box

from nesting.model import Hide, Part, Zone
from nesting.planning.prepare import prepare
from nesting.planning.reasons import reason

HIDE = Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, tannage="vegetable")


def told(part, hides):
    prepared = prepare(job_of(parts=(part,), hides=hides, quantity=1))
    return reason(part, prepared.hides, prepared.job.workshop, bool(prepared.fitting))


@pytest.mark.parametrize(
    "part, hide, text",
    [
        (Part("slab", box(0, 0, 700, 20)), HIDE, "too big for any hide"),
        (Part("slab", box(0, 0, 450, 450)), replace(HIDE, outline=box(0, 0, 900, 900)), "too big for the bed"),
        (TAG, replace(HIDE, zones=(Zone(box(-1, -1, 501, 301), "C"),)), "no region of its grade"),
        (replace(TAG, thickness_mm=(2.0, 3.0)), HIDE, "thickness"),
        (TAG, replace(HIDE, nominal_mm=4.0), "thickness"),
        (TAG, HIDE, "no room left"),
    ],
)
def test_the_reason_for_leaving_a_part_out_is_the_true_one(part, hide, text):
    assert told(part, (hide,)) == text


def test_of_several_hides_the_one_where_the_part_comes_nearest_to_fitting_counts():
    thick, flawed = replace(HIDE, id="thick", nominal_mm=4.0), replace(HIDE, zones=(Zone(HIDE.outline, "C"),))
    assert told(TAG, (flawed, thick)) == "thickness"
    assert told(TAG, (flawed, thick, replace(HIDE, id="good"))) == "no room left"
