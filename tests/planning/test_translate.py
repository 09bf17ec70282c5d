import math
from dataclasses import replace

import numpy as np
import pytest
from planning_jobs import MACHINE, SLOPE, TAG, THICK, THIN, bits_of, job_of, translator_of
from shapely.geometry import box

from nesting.engine import Stop
from nesting.model import Direction, Part, Zone
from nesting.planning.case import Ground, Lie
from nesting.planning.limits import PlanLimits
from nesting.planning.packing import Answer, pack

OUTLINE = box(0, 0, 600, 400)
WHOLE = Ground("h", OUTLINE)


def test_parts_become_items_and_grounds_containers():
    translator = translator_of(job_of(OUTLINE, 3))
    question = translator.question([WHOLE], {0: 0, 2: 0}, {2: 7}, {})
    assert question.grounds == (0,) and question.wishes == (0, 2)
    (container,), (shape,), items = question.problem.containers, question.problem.shapes, question.problem.items
    assert [(item.rank, item.group, item.containers) for item in items] == [(0, None, None), (7, None, None)]
    # two parts that touch are kerf and gap apart, and both keep their margin from the edge
    margins = translator.case.margins
    assert shape.polygon.covers(TAG.outline.buffer(margins.between_mm / 2 - 0.02))
    inset = margins.edge_mm - margins.between_mm / 2
    assert container.region.bounds == pytest.approx((inset, inset, 600 - inset, 400 - inset), abs=0.02)


def test_an_answer_goes_back_to_the_wishes_it_came_from():
    translator = translator_of(job_of(hides=bits_of(3, 310.0), quantity=3))
    grounds = [Ground("gone", OUTLINE), *(Ground(f"h{n}", box(0, 0, 310, 100)) for n in range(3))]
    question = translator.question(grounds, {1: 0, 2: 0}, {}, {})
    assert question.grounds == (1, 2, 3)
    lies = {2: Lie(3, 20.0, 10.0, 0.0)}
    solution = question.solution(lies)
    assert solution.poses[0] is None and solution.poses[1].container == 2 and solution.consumed_mm2 == math.inf
    assert question.lies(solution, {1: 0, 2: 5}) == {2: Lie(3, 20.0, 10.0, 0.0, 5)}


def test_where_there_is_no_ground_or_no_wish_there_is_no_question():
    translator = translator_of(job_of(OUTLINE, 2))
    assert translator.question([], {0: 0}, {}, {}) is None and translator.question([WHOLE], {}, {}, {}) is None
    assert translator.question([Ground("h", box(0, 0, 50, 3))], {0: 0}, {}, {}) is None
    assert pack(translator, [], {0: 0}, Stop(iterations=1), 0) == Answer()


def test_what_matches_is_one_group_and_bound_to_the_hide_of_the_rest():
    job = job_of(hides=bits_of(2, 310.0), quantity=1, parts=(replace(TAG, count=2),), same_hide="piece")
    translator = translator_of(job)
    grounds = [Ground(f"h{n}", box(0, 0, 310, 100)) for n in range(2)]
    free = translator.question(grounds, {0: 0}, {}, {}).problem.items[0]
    assert free.group == "A-1/set/1" and free.containers is None
    assert translator.question(grounds, {0: 0}, {}, {"A-1/set/1": "h1"}).problem.items[0].containers == (1,)
    assert translator.question(grounds[:1], {0: 0}, {}, {"A-1/set/1": "h1"}) is None


def test_flaws_and_settings_are_kinds_of_obstacles():
    zones = (Zone(box(0, 0, 200, 400), "D"),)
    folded = Part("folded", box(0, 0, 60, 100), zones=(Zone(box(0, 0, 60, 50), "E"),))
    job = job_of(OUTLINE, 1, (TAG, folded), rows=(THIN, THICK), readings=SLOPE, nominal_mm=None, zones=zones)
    translator = translator_of(job, settings=2)
    question = translator.question([WHOLE], {0: 0, 1: 1}, {}, {})
    kinds = {obstacle.kind for obstacle in question.problem.containers[0].obstacles}
    tag, other = question.problem.shapes
    (avoids,) = {area.avoids for area in tag.areas}
    # the grade of the part, and what its setting does not cut
    assert 0 in avoids and len(avoids) == 2 and avoids <= kinds
    assert len(other.areas) == 2 and other.areas[0].avoids != other.areas[1].avoids
    assert {max(area.avoids) for area in other.areas} != {max(avoids)}
    burnt = translator.question([WHOLE], {0: 0, 1: 0}, {}, {}).problem.containers[0].region
    assert burnt.area < OUTLINE.area


def test_long_parts_keep_off_leather_fed_through_the_wrong_way():
    machine = replace(MACHINE, feed_through="width")
    strap = Part("strap", box(0, 0, 590, 120))
    translator = translator_of(job_of(box(0, 0, 1400, 390), 1, (strap,), machine))
    long, short = Ground("h", box(0, 0, 1400, 390)), Ground("h", box(0, 0, 590, 390))
    angles = translator.question([long], {0: 0}, {}, {}).problem.shapes[0].angles
    assert translator.question([short], {0: 0}, {}, {}).problem.shapes[0].angles == ((0.0, 360.0),)
    # at the other angles its diagonal is longer than a stage
    assert 590**2 + 120**2 > 600**2 and len(angles) > 1
    for angle in np.radians(angles).flat:
        assert 590 * abs(math.cos(angle)) + 120 * abs(math.sin(angle)) <= 600


def test_a_part_whole_at_no_angle_of_the_feed_lies_on_leather_that_is_not_fed():
    machine = replace(MACHINE, feed_through="width", bed_height_mm=700)
    slab = Part("slab", box(0, 0, 650, 580), direction=Direction("fixed", turn=False))
    translator = translator_of(job_of(box(0, 0, 1400, 690), 1, (slab,), machine))
    long, short = Ground("h", box(0, 0, 1400, 690)), Ground("h", box(0, 0, 690, 597))
    assert translator.question([long, short], {0: 0}, {}, {}).problem.items[0].containers == (1,)
    assert translator.question([long], {0: 0}, {}, {}) is None


def test_containers_are_remembered_but_not_for_ever():
    translator = translator_of(job_of(OUTLINE, 1), PlanLimits(remembered_grounds=2))
    first = translator.container(WHOLE)
    assert translator.container(Ground("h", OUTLINE)) is first
    for width in (500, 400, 300):
        translator.container(Ground("h", box(0, 0, width, 400)))
    again = translator.container(WHOLE)
    assert again is not first and again.region.equals(first.region)


def test_a_search_goes_on_from_where_parts_lie_and_tells_what_it_cost():
    translator = translator_of(job_of(hides=bits_of(1, 310.0), quantity=2))
    ground, told = Ground("h0", box(0, 0, 310, 100)), []
    start = {1: Lie(0, 20.0, 8.0, 0.0)}
    answer = pack(translator, [ground], {0: 0, 1: 0}, Stop(iterations=8), 1, start=start, progress=told.append)
    assert set(answer.lies) == {0, 1} and answer.iterations == 8 and not answer.interrupted
    assert told[-1].placed == 2
