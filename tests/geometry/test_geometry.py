import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from nesting.geometry import (
    TOLERANCE_MM,
    areal,
    farthest_two,
    largest_polygon,
    offset,
    place,
    polygons,
    rings,
    true_offset,
    wide_enough,
)

BOW = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
RING = box(0, 0, 100, 100).difference(box(20, 20, 80, 80))


def star(radii, centre=(0.0, 0.0)):
    turns = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    return Polygon(np.column_stack([centre[0] + radii * np.cos(turns), centre[1] + radii * np.sin(turns)]))


stars = st.builds(
    lambda radii, x, y: star(np.array(radii), (x, y)),
    st.lists(st.floats(20, 120), min_size=3, max_size=14),
    st.floats(-200, 200),
    st.floats(-200, 200),
)
tenths = st.integers(-500, 500).map(lambda tenth: tenth / 10)
corners = st.lists(st.tuples(tenths, tenths), min_size=3, max_size=12)
scrawls = corners.map(Polygon)
"""Closed lines that cross themselves as often as not."""
shapes = st.lists(st.one_of(scrawls, corners.map(LineString), st.builds(Point, tenths, tenths)), max_size=5).map(
    GeometryCollection
)


@given(shapes, st.floats(0, 500))
def test_polygons_are_those_larger_than_asked_in_their_order(shape, above):
    found = polygons(shape, above)
    assert found == [bit for bit in shape.geoms if bit.geom_type == "Polygon" and bit.area > above]


def test_polygons_in_a_collection_within_a_collection_are_found():
    assert polygons(GeometryCollection([MultiPolygon([box(0, 0, 1, 1), box(2, 0, 4, 1)]), Point(0, 0)]), 1) == [
        box(2, 0, 4, 1)
    ]
    assert polygons(Polygon()) == polygons(Point(1, 1)) == []


@settings(max_examples=60, deadline=None)
@given(shapes)
def test_an_area_is_sound_and_has_neither_lines_nor_points(shape):
    area = areal(shape)
    assert area.is_valid and area.geom_type in ("Polygon", "MultiPolygon")
    assert all(bit.area > 0 for bit in polygons(area))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(3, 12))
def test_the_area_of_a_scrawl_is_what_is_inside_it_by_the_even_odd_rule(seed, count):
    # No two sides along each other: where they are, make_valid counts them once.
    scrawl = Polygon(np.random.default_rng(seed).uniform(-50, 50, (count, 2)))
    area = areal(scrawl)
    places = np.random.default_rng(0).uniform(-50, 50, (200, 2))
    xy = np.asarray(scrawl.exterior.coords)
    ahead = (xy[:-1, 1] > places[:, 1:]) != (xy[1:, 1] > places[:, 1:])
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (places[:, 1:] - xy[:-1, 1]) / (xy[1:, 1] - xy[:-1, 1])
        right = places[:, :1] < xy[:-1, 0] + share * (xy[1:, 0] - xy[:-1, 0])
    odd = (ahead & right).sum(axis=1) % 2 == 1
    clear = shapely.distance(scrawl.exterior, shapely.points(places)) > 1e-6
    assert (shapely.contains_xy(area, places)[clear] == odd[clear]).all()


@settings(max_examples=60, deadline=None)
@given(stars)
def test_a_sound_area_stays_as_it_is(polygon):
    assert areal(polygon) == polygon == largest_polygon(polygon) and areal(areal(polygon)) == areal(polygon)


@settings(max_examples=60, deadline=None)
@given(shapes)
def test_the_largest_polygon_is_sound_and_no_smaller_than_any_other(shape):
    largest = largest_polygon(shape)
    sound = [bit for bit in shape.geoms if bit.geom_type == "Polygon" and bit.is_valid and bit.area > 0]
    if largest is None:
        assert not sound
    else:
        assert largest.is_valid and largest.area > 0
        assert shape.is_valid is False or largest.area == max(bit.area for bit in sound)


def test_the_larger_loop_of_a_line_that_crosses_itself_is_kept():
    lopsided = Polygon([(0, 0), (10, 10), (10, 0), (0, 4)])
    assert largest_polygon(lopsided).area == pytest.approx(max(bit.area for bit in polygons(areal(lopsided))))
    assert largest_polygon(LineString([(0, 0), (1, 1)])) is None


def test_rings_are_the_outer_ring_of_each_polygon_and_then_its_holes():
    shape = MultiPolygon([RING, box(200, 0, 210, 10)])
    assert [LineString(ring).length for ring in rings(shape)] == [400, 240, 40]
    assert rings(LineString([(0, 0), (1, 1)])) == rings(Polygon()) == []


@given(st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=2, max_size=20))
def test_the_farthest_two_points_are_no_nearer_than_any_other_two(places):
    first, second = farthest_two(np.array(places))
    assert first <= second
    apart = max(math.dist(one, other) for one, other in itertools.combinations(places, 2))
    assert math.dist(places[first], places[second]) == pytest.approx(apart)


@settings(max_examples=60, deadline=None)
@given(stars, st.floats(-500, 500), st.floats(-500, 500), st.floats(-720, 720))
def test_a_placed_shape_is_the_same_shape_turned_and_moved(polygon, x, y, angle):
    placed = place(polygon, x, y, angle)
    assert placed.area == pytest.approx(polygon.area) and placed.length == pytest.approx(polygon.length)
    assert place(Point(0, 0), x, y, angle) == Point(x, y)
    (x1, y1), turn = place(Point(1, 0), 0, 0, angle).coords[0], math.radians(angle)
    assert (x1, y1) == pytest.approx((math.cos(turn), math.sin(turn)))
    assert place(place(polygon, x, y, 0), -x, -y, 0).equals_exact(polygon, 1e-9)


@settings(max_examples=40, deadline=None)
@given(stars, st.floats(1, 80))
def test_a_disc_reaches_all_that_is_wide_enough_and_nothing_of_it_is_made_up(polygon, smallest):
    bits = wide_enough(polygon, smallest)
    assert sum(bit.difference(polygon).area for bit in bits) < 1e-6
    for bit in bits:
        assert shapely.length(shapely.maximum_inscribed_circle(bit, tolerance=0.01)) >= 0.49 * smallest - 0.02
    inscribed = shapely.maximum_inscribed_circle(polygon, tolerance=0.01)
    if inscribed.length > smallest / 2 + 0.1:
        assert any(bit.covers(Point(inscribed.coords[0])) for bit in bits)


def test_a_neck_narrower_than_the_disc_parts_what_is_wide_enough():
    neck = shapely.union_all([box(0, 0, 40, 40), box(60, 0, 100, 40), box(30, 18, 70, 22)])
    assert len(wide_enough(neck, 3)) == 1 and len(wide_enough(neck, 10)) == 2 and wide_enough(neck, 41) == []


@settings(max_examples=60, deadline=None)
@given(polygon=stars, distance=st.floats(0.001, 40))
def test_a_grown_area_contains_the_true_one_and_errs_by_less_than_the_tolerance(polygon, distance):
    grown = offset(polygon, distance)
    edge = shapely.points(shapely.get_coordinates(shapely.segmentize(grown.boundary, 0.5)))
    reach = shapely.distance(edge, polygon)
    assert grown.is_valid and reach.min() >= distance and reach.max() <= distance + TOLERANCE_MM
    assert grown.covers(polygon)


@settings(max_examples=60, deadline=None)
@given(polygon=stars, distance=st.floats(0.001, 40))
def test_a_shrunk_area_lies_in_the_true_one_and_errs_by_less_than_the_tolerance(polygon, distance):
    shrunk = offset(polygon, -distance)
    assert shrunk.is_valid
    if not shrunk.is_empty:
        edge = shapely.points(shapely.get_coordinates(shapely.segmentize(shrunk.boundary, 0.5)))
        reach = shapely.distance(edge, polygon.boundary)
        assert reach.min() >= distance and reach.max() <= distance + TOLERANCE_MM
        assert polygon.covers(shrunk)


@settings(max_examples=40, deadline=None)
@given(polygon=stars, distance=st.floats(-40, 40).filter(lambda d: abs(d) > 0.01))
def test_an_offset_asked_to_err_the_other_way_does(polygon, distance):
    result = offset(polygon, distance, outward_safe=False)
    if not result.is_empty:
        edge = shapely.points(shapely.get_coordinates(shapely.segmentize(result.boundary, 0.5)))
        reach = shapely.distance(edge, polygon.boundary)
        assert abs(distance) - TOLERANCE_MM <= reach.min() and reach.max() <= abs(distance) + 1e-9


def test_an_offset_of_nothing_by_nothing_changes_nothing():
    square = box(0, 0, 10, 10)
    assert offset(square, 0) == square and offset(Polygon(), 5).is_empty and offset(square, -5.1).is_empty


def test_holes_shrink_when_an_area_grows_and_islands_in_holes_stay_apart():
    both = MultiPolygon([RING, box(40, 40, 60, 60)])
    grown = offset(both, 5)
    assert len(grown.geoms) == 2 and not grown.contains(Point(30, 50)) and grown.contains(Point(37, 50))
    assert offset(both, 12).contains(box(0, 0, 100, 100))


def test_areas_grown_into_each_other_become_one():
    assert offset(MultiPolygon([box(0, 0, 10, 10), box(11, 0, 20, 10)]), 1).geom_type == "Polygon"


def test_a_neck_that_closes_leaves_two_areas():
    neck = shapely.union_all([box(0, 0, 40, 40), box(60, 0, 100, 40), box(30, 18, 70, 22)])
    shrunk = offset(neck, -3)
    assert shrunk.geom_type == "MultiPolygon" and len(shrunk.geoms) == 2


def test_an_area_that_crosses_or_touches_itself_is_cleaned():
    touching = Polygon([(0, 0), (10, 0), (5, 5), (10, 10), (0, 10), (5, 5)])
    for shape in (BOW, touching):
        assert areal(shape).is_valid and areal(shape).area == pytest.approx(50)
        assert offset(shape, 1).is_valid and offset(shape, 1).geom_type == "Polygon"
        assert offset(shape, -1).is_valid and not offset(shape, -1).is_empty


def test_lines_and_points_are_no_area():
    mixed = GeometryCollection([box(0, 0, 1, 1), Point(5, 5), LineString([(0, 0), (9, 9)])])
    assert areal(mixed).equals(box(0, 0, 1, 1)) and areal(Point(1, 1)).is_empty


def test_a_distance_that_is_not_finite_is_refused():
    with pytest.raises(ValueError, match="not finite"):
        offset(box(0, 0, 1, 1), math.nan)


@settings(max_examples=40, deadline=None)
@given(stars, st.floats(-40, 40).filter(lambda distance: abs(distance) > 1e-6))  # buffer takes no less
def test_a_true_offset_agrees_with_shapelys_buffer(polygon, distance):
    ours, expected = true_offset(polygon, distance), polygon.buffer(distance, quad_segs=500)
    assert ours.symmetric_difference(expected).area < 0.003 * (ours.length + 1)


@settings(max_examples=40, deadline=None)
@given(stars, st.floats(-40, 40).filter(lambda distance: abs(distance) > 0.01))
def test_the_edge_of_a_true_offset_keeps_its_distance_to_three_microns(polygon, distance):
    ours = true_offset(polygon, distance)
    if not ours.is_empty:
        edge = shapely.points(shapely.get_coordinates(shapely.segmentize(ours.boundary, 0.5)))
        assert shapely.distance(edge, polygon.boundary) == pytest.approx(abs(distance), abs=0.003)


def test_a_true_offset_keeps_islands_and_bits_apart_and_drops_nothing():
    two = MultiPolygon([box(0, 0, 10, 10).difference(box(4, 4, 6, 6)), box(20, 0, 30, 10)])
    grown = true_offset(two, 0.5)
    assert len(grown.geoms) == 2 and sum(len(polygon.interiors) for polygon in grown.geoms) == 1
    assert grown.area == pytest.approx(2 * (100 + 20 + math.pi / 4) - 1, abs=0.02)
    assert true_offset(RING, 0).geoms[0].equals(RING)
    assert len(true_offset(MultiPolygon([box(0, 0, 1e-4, 1e-4), box(5, 0, 6, 1)]), 0.1).geoms) == 2
