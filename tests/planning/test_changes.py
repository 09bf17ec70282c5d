from dataclasses import replace

import pytest
from planning_jobs import TAG, job_of, translator_of
from shapely.geometry import box

from nesting.model import Direction, Hide, Part, Zone
from nesting.planning.arrange import Arrangement
from nesting.planning.case import Ground, Lie
from nesting.planning.changes import Changes
from nesting.planning.limits import PlanLimits
from nesting.planning.prepare import prepare

HIDE = Hide("h", box(0, 0, 500, 200), nominal_mm=1.5, tannage="vegetable", colour="black")
LIMITS = PlanLimits()
TALL = Part("tall", box(0, 0, 60, 300), direction=Direction("fixed", turn=False))


def letting_in(part, *hides, only=None, limits=LIMITS):
    """What would let one piece of a part in, on empty hides."""
    job = job_of(parts=(part,), hides=hides, quantity=1)
    prepared = prepare(job, only, limits)
    grounds = tuple(Ground(item.hide.id, item.hide.outline) for item in prepared.hides)
    case = replace(translator_of(job).case, hides={item.hide.id: item for item in prepared.hides}, limits=limits)
    return Changes(prepared, case, Arrangement(grounds)).letting_in(prepared.wishes[:1])


@pytest.mark.parametrize(
    "part, hide, change",
    [
        (TALL, HIDE, "it fits turned freely"),
        (TAG, replace(HIDE, zones=(Zone(box(-1, -1, 501, 201), "C"),)), "it fits on h if grade C will do"),
        (replace(TAG, colour="red"), HIDE, "it fits on h if that leather will do"),
        (replace(TAG, thickness_mm=(2.0, 3.0)), HIDE, "it fits on h if any thickness will do"),
        (Part("slab", box(0, 0, 496, 196)), HIDE, "it fits with an edge margin of 1.5 mm instead of 3"),
        (Part("slab", box(0, 0, 600, 300)), HIDE, ""),
    ],
)
def test_the_one_change_that_lets_a_piece_in_is_found_by_trying(part, hide, change):
    assert letting_in(part, hide) == change


def test_no_lower_grade_is_told_than_helps_nor_for_more_parts():
    flawed = replace(HIDE, zones=(Zone(box(-1, -1, 501, 201), "B"),))
    parts = (TAG, replace(TAG, name="pocket", grade="C"))
    job = job_of(parts=parts, hides=(flawed,), quantity=1)
    prepared = prepare(job)
    changes = Changes(prepared, translator_of(job).case, Arrangement((Ground("h", HIDE.outline),)))
    assert changes.letting_in(prepared.wishes) == "it fits on h if grade B will do for tag"


def test_a_hide_that_the_plan_leaves_aside_is_named():
    wide = replace(HIDE, id="wide", outline=box(0, 0, 500, 340))
    assert letting_in(TALL, replace(HIDE, outline=box(0, 0, 50, 50)), wide, only=["h"]) == (
        "it fits on wide, which this plan leaves aside"
    )


def test_only_so_many_pieces_are_looked_into():
    assert letting_in(TALL, HIDE, limits=PlanLimits(changes_tried=1)) == "it fits turned freely"
    job = job_of(parts=(TALL, replace(TALL, name="other")), hides=(HIDE,), quantity=1)
    prepared = prepare(job, None, PlanLimits(changes_tried=1))
    changes = Changes(prepared, translator_of(job).case, Arrangement((Ground("h", HIDE.outline),)))
    assert changes.letting_in(prepared.wishes[:1]) and not changes.letting_in(prepared.wishes[1:])


def test_a_piece_that_would_have_to_stay_out_is_named():
    job = job_of(parts=(Part("slab", box(0, 0, 490, 120)),), hides=(HIDE,), quantity=2)
    prepared = prepare(job)
    case, grounds = translator_of(job).case, (Ground("h", HIDE.outline),)
    first, second = case.wishes
    changes = Changes(prepared, case, Arrangement(grounds, lies={0: Lie(0, 5.0, 40.0, 0.0)}))
    assert changes.letting_in((second,)) == f"it fits if set {first.piece} of A-1 is left out"
