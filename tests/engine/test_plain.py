"""Outlines of fewer points: always on the safe side, never farther than asked, and few points left as they are."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from nesting import geometry
from nesting.engine.limits import LIMITS
from nesting.engine.plain import coarser, outer, plainer, tolerance_of
from nesting.engine.world import profile


@st.composite
def fine_areas(draw):
    """Rings of many points: wavy, of teeth, or with spikes, some of them with a hole; their points a little off."""
    count, size = draw(st.integers(90, 3000)), draw(st.floats(2.0, 3000.0))
    waves, depth = draw(st.integers(0, 40)), draw(st.floats(0.0, 0.3))
    teeth, noise = draw(st.sampled_from([0.0, 1e-5, 1e-3, 0.05])), draw(st.sampled_from([0.0, 1e-6, 1e-4]))
    turn = np.linspace(0, 2 * math.pi, count, endpoint=False)
    reach = 1 + depth * np.sin(waves * turn) + teeth * (np.arange(count) % 2)
    reach += np.random.default_rng(count).uniform(-noise, noise, count)
    spikes = draw(st.lists(st.integers(0, count - 1), max_size=3))
    reach[spikes] *= draw(st.floats(0.7, 1.6))
    ring = size / 2 * np.column_stack([np.cos(turn), np.sin(turn)]) * reach[:, None]
    area = Polygon(ring)
    if draw(st.booleans()):
        area = Polygon(ring, [0.3 * ring])
    return area if area.is_valid else area.buffer(0)


@settings(max_examples=80, deadline=None)
@given(fine_areas(), st.sampled_from([0.002, 0.02, 0.2, 2.0]), st.booleans())
def test_a_plainer_area_errs_to_the_asked_side_and_by_no_more_than_asked(area, within, outward):
    plain = plainer(area, within, outward)
    assert plain.is_valid and shapely.get_num_coordinates(plain) <= shapely.get_num_coordinates(area)
    assert plain.covers(area) if outward else area.covers(plain)
    # each is covered by the other once that has moved by the tolerance; chords of the buffer take 0.01 % of it
    if outward:
        assert area.buffer(1.0002 * within, quad_segs=64).covers(plain)
    else:
        grown = plain.buffer(1.0002 * within, quad_segs=64)
        # what is narrower than twice the tolerance may be lost altogether
        assert area.buffer(-within).buffer(0.999 * within).difference(grown).area < 1e-9 * area.area


@settings(max_examples=60, deadline=None)
@given(fine_areas(), st.sampled_from([0.02, 0.2, 2.0]), st.booleans())
def test_a_plainer_polygon_of_a_drawing_errs_to_the_asked_side(area, within, outward):
    area = max(shapely.get_parts(area), key=shapely.area)
    plain = geometry.plainer(area, within, outward)
    assert plain.covers(area) if outward else area.covers(plain)
    if outward:
        assert area.buffer(1.0002 * within, quad_segs=64).covers(plain)


@settings(max_examples=25, deadline=None)
@given(fine_areas(), st.floats(0.1, 3), st.sampled_from([1, -1]), st.booleans())
def test_offsets_of_many_points_err_to_the_asked_side_by_a_hundredth_of_a_mm(area, distance, way, safe):
    area = geometry.areal(area)
    made = geometry.offset(area, way * distance, safe)
    if made.is_empty:
        return
    edge = area.boundary
    apart = shapely.distance(edge, shapely.points(shapely.get_coordinates(made)))
    if safe:
        assert edge.distance(made.boundary) >= distance
        assert apart.max() <= distance + geometry.TOLERANCE_MM
    else:
        assert apart.max() <= distance


def test_a_tolerance_is_that_of_usual_sizes_and_grows_and_shrinks_beyond_them():
    sizes = (4.0, 40.0, 300.0, 3000.0)
    found = [tolerance_of(shapely.box(0, 0, size, size / 2), 0.02) for size in sizes]
    assert found == pytest.approx([0.002, 0.02, 0.02, 0.2])


def test_an_outline_of_few_points_is_left_as_it_is():
    ring = Point(0, 0).buffer(50, quad_segs=16)
    assert len(ring.exterior.coords) <= LIMITS.plain_points
    assert plainer(ring, 5.0, True) is ring


def test_a_circle_of_many_points_gets_as_few_as_its_tolerance_allows():
    # chords within a slack e of a circle of radius r turn by 2 acos(1 - e / r) at most (sagitta of a circular arc)
    ring, within = Point(0, 0).buffer(50, quad_segs=2000), 0.02
    least = math.pi / math.acos(1 - within / 50)
    assert least <= len(plainer(ring, within, True).exterior.coords) < 3 * least


@settings(max_examples=30, deadline=None)
@given(fine_areas(), st.sampled_from([40, 100, 200]))
def test_a_stand_in_has_no_more_points_than_asked_and_contains_the_shape(area, most):
    whole = outer(max(shapely.get_parts(area), key=shapely.area))
    stand_in = coarser(whole, most)
    if stand_in is not None:
        assert stand_in.covers(whole) and len(stand_in.exterior.coords) <= most + 1


@settings(max_examples=30, deadline=None)
@given(fine_areas(), st.floats(0, 360), st.floats(0, 1))
def test_the_profile_of_a_region_is_its_area_before_a_line(area, towards, share):
    away = math.cos(math.radians(towards)), math.sin(math.radians(towards))
    cuts, before = profile(area, away, 40)
    cut = cuts[round(40 * share)]
    far = 1e4 * np.array([[-1, -1], [0, -1], [0, 1], [-1, 1]]) @ np.array([away, (-away[1], away[0])])
    reference = area.intersection(Polygon(far + cut * np.array(away))).area
    assert before[round(40 * share)] == pytest.approx(reference, abs=1e-6 * area.area)
    assert before[-1] == pytest.approx(area.area)
