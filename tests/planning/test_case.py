import pickle
from dataclasses import replace

import pytest
from planning_jobs import MACHINE, TAG, bits_of, case_of, job_of
from shapely.geometry import box

from nesting.model import Part
from nesting.planning.case import Ground, Lie, by_ground, on_ground
from nesting.planning.limits import PlanLimits
from nesting.planning.measures import consumed_mm2, outline, unplaced_mm2


def test_a_part_is_packed_with_half_of_what_two_keep_apart():
    case = case_of(job_of(box(0, 0, 600, 400), 2, (Part("plate", box(0, 0, 100, 50)),)))
    half = case.half_mm
    assert case.sizes_mm2 == pytest.approx([100 * 50 + 300 * half + 3.14159 * half**2] * 2, rel=1e-3)


def test_a_wish_is_at_home_where_it_could_lie_on_an_empty_hide():
    stout = replace(TAG, name="stout", thickness_mm=(1.7, 2.5))
    thin, thick, small = bits_of(3, 200.0, 120.0)
    hides = (thin, replace(thick, nominal_mm=2.0), replace(small, outline=box(0, 0, 100, 50)))
    case = case_of(job_of(hides=hides, quantity=1, parts=(TAG, stout), rows=()))
    assert list(case.homes) == [("h0", "h1"), ("h1",)]


def test_only_ordered_parts_that_are_no_fillers_are_left_out():
    case = case_of(job_of(box(0, 0, 600, 400), 2))
    assert case.left_out([0]) and not case.left_out([0, 1])
    assert not case_of(job_of(box(0, 0, 600, 400), 2, filler=True)).left_out([])


def test_of_many_copies_a_few_more_than_go_in_are_offered():
    case = case_of(job_of(box(0, 0, 600, 400), 50, (TAG, replace(TAG, name="other"))))
    area = 3 * case.sizes_mm2[0]
    chosen = case.shortlist(range(100), area)
    names = [case.wishes[index].part.name for index in chosen]
    assert names.count("tag") == names.count("other") == 6
    wider = case_of(job_of(box(0, 0, 600, 400), 50), PlanLimits(room_to_choose=4.0))
    assert len(wider.shortlist(range(50), area)) == 12


def test_what_is_left_out_is_measured_by_rank():
    case = case_of(job_of(box(0, 0, 600, 400), 3))
    size = case.sizes_mm2[0]
    assert unplaced_mm2(case, {0: None, 2: None}) == pytest.approx((size,)) and unplaced_mm2(case, range(3)) == (0.0,)


def test_a_part_lies_where_its_lie_says():
    case = case_of(job_of(box(0, 0, 600, 400), 1))
    assert outline(case, 0, Lie(0, 200.0, 100.0, 90.0)).bounds == pytest.approx((115.0, 100.0, 200.0, 230.0))
    assert on_ground({0: Lie(0, 1, 1, 0), 1: Lie(1, 1, 1, 0)}, 1) == {1: Lie(1, 1, 1, 0)}


def test_another_process_gets_all_of_it():
    case = case_of(job_of(box(0, 0, 600, 400), 2))
    sizes = case.sizes_mm2
    assert pickle.loads(pickle.dumps(case)).sizes_mm2 == sizes


def test_a_bed_leather_is_fed_through_has_no_end_that_way():
    case = case_of(job_of(box(0, 0, 1400, 390), 1, machine=replace(MACHINE, feed_through="width")))
    assert case.bed_mm == (float("inf"), 400) and case.most_bands == 1


@pytest.mark.parametrize("width, height", [(210, 130), (210, 88), (136, 300), (90, 210), (139, 90), (120, 120)])
def test_the_look_at_the_middle_of_a_hide_spares_a_closer_one_and_says_the_same(width, height):
    quick, slow = (job_of(box(0, 0, width, height), 1, (TAG, replace(TAG, name="b"))) for _ in range(2))
    case, other = case_of(quick), case_of(slow)
    # without it
    object.__setattr__(other, "_lies_in_the_middle", lambda *given: False)
    assert list(case.homes) == list(other.homes)


def test_the_lies_on_each_ground_are_those_found_one_by_one():
    lies = {index: Lie(index % 3, 1.0, 1.0, 0.0) for index in range(8)}
    assert by_ground(lies) == {number: on_ground(lies, number) for number in range(3)}


def test_leather_consumed_is_remembered_for_these_very_places():
    case = case_of(job_of(box(0, 0, 600, 400), 2), PlanLimits(remembered_lies=1))
    ground = Ground("h", box(0, 0, 600, 400))
    near, far = {0: Lie(0, 10.0, 10.0, 0.0)}, {0: Lie(0, 210.0, 10.0, 0.0)}
    first = consumed_mm2(case, ground, near)
    assert consumed_mm2(case, ground, near) == first == pytest.approx(140 * 400)
    assert consumed_mm2(case, ground, far) == pytest.approx(340 * 400) and len(case.consumed_mm2) == 1
