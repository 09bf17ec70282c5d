"""Closed lines as straight stretches and arcs: what is drawn with ruler and compasses comes back."""

import math

import numpy as np
import pytest
import shapely
from flat_things import pattern, rounded
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from nesting.tracing.pieces import fit_circle, fit_pieces


def seen(shape, seed=0, noise_mm=0.03, pixel_mm=0.2, blur_mm=0.15):
    """The outline of a shape as a photo shows it: a point a pixel, its corners blurred, with some noise."""
    count = max(64, round(shape.exterior.length / pixel_mm))
    at = np.linspace(0, 1, count, endpoint=False)
    points = shapely.get_coordinates(shapely.line_interpolate_point(shape.exterior, at, normalized=True))
    noise = np.random.default_rng(seed).standard_normal(points.shape)
    turns = np.fft.fftfreq(count)[:, None] * count / shape.exterior.length
    points = np.fft.ifft(np.fft.fft(points, axis=0) * np.exp(-2 * (math.pi * turns * blur_mm) ** 2), axis=0).real
    noise = np.fft.ifft(np.fft.fft(noise, axis=0) * np.exp(-2 * (math.pi * turns * 0.3) ** 2), axis=0).real
    points += noise * noise_mm / noise.std()
    return np.vstack([points, points[:1]])


def off(curve, shape):
    """Distances between a curve and the outline of a shape, both ways."""
    line = curve.flattened(0.002)
    there = shapely.distance(shapely.points(shapely.get_coordinates(shapely.segmentize(line, 0.5))), shape.exterior)
    back = shapely.points(shapely.get_coordinates(shapely.segmentize(shape.exterior, 0.5)))
    return np.concatenate([there, shapely.distance(back, line)])


def radii(curve):
    return sorted(
        round(abs(end - start) * (1 + bulge**2) / (4 * abs(bulge)), 1)
        for start, end, bulge in curve.stretches()
        if bulge
    )


def fitted(shape, **how):
    return fit_pieces(seen(affinity.rotate(shape, 17), **how), 0.03, 0.3), affinity.rotate(shape, 17)


def test_a_rectangle_is_four_straight_sides_with_sharp_corners():
    curve, true = fitted(box(0, 0, 100, 60))
    assert len(curve.nodes) == 4 and not any(bulge for *_, bulge in curve.nodes)
    corners = shapely.points(np.array(curve.nodes)[:, :2])
    assert shapely.distance(corners, shapely.MultiPoint(true.exterior.coords)).max() < 0.1


@pytest.mark.parametrize("radius", [5.0, 8.0, 15.0])
def test_round_corners_are_arcs_of_their_radius(radius):
    curve, true = fitted(rounded(110, 80, radius))
    assert len(curve.nodes) == 8 and radii(curve) == pytest.approx([radius] * 4, abs=0.06 * radius)
    assert off(curve, true).max() < 0.15


def test_arcs_go_on_into_straight_sides_in_one_direction():
    curve, _ = fitted(rounded(110, 80, 10))
    pieces = list(curve.stretches())
    for (a, b, first), (c, d, second) in zip(pieces, pieces[1:] + pieces[:1]):
        into = np.angle(b - a) + 2 * math.atan(first)
        out = np.angle(d - c) - 2 * math.atan(second)
        assert abs(math.degrees(math.remainder(out - into, 2 * math.pi))) < 1.0


def test_a_circle_is_one():
    curve, true = fitted(Point(40, 30).buffer(25, quad_segs=90))
    assert curve.circle is not None and curve.circle.radius == pytest.approx(25, abs=0.05)
    assert off(curve, true).max() < 0.1


def test_a_pointed_strap_keeps_its_point():
    strap = Polygon([(0, 0), (100, 0), (116, 11), (100, 22), (0, 22)])
    curve, true = fitted(strap)
    assert len(curve.nodes) == 5 and off(curve, true).max() < 0.2


def test_a_bevelled_corner_is_no_arc():
    curve, _ = fitted(Polygon([(0, 0), (90, 0), (100, 10), (100, 60), (0, 60)]))
    assert len(curve.nodes) == 5 and radii(curve) == []


def test_a_speck_on_the_edge_does_not_turn_a_side():
    points = seen(box(0, 0, 120, 60))
    near = np.hypot(*(points - (60, 0)).T) < 0.8
    points[near] -= (0, 1.0)
    curve = fit_pieces(points, 0.05, 0.3)
    away = off(curve, box(0, 0, 120, 60))
    assert np.quantile(away, 0.95) < 0.1


def test_a_free_curve_is_arcs_that_stay_near():
    true = affinity.scale(pattern("curve", np.random.default_rng(4)), 0.6, 0.6)
    curve = fit_pieces(seen(true), 0.03, 0.3)
    assert len(curve.nodes) < 24 and np.quantile(off(curve, true), 0.95) < 0.15


@settings(max_examples=15, deadline=None)
@given(
    st.floats(60, 250), st.floats(40, 180), st.floats(0, 360), st.floats(-400, 400), st.sampled_from([0.0, 6.0, 12.0])
)
def test_wherever_it_lies_and_however_it_is_turned_a_rectangle_comes_back(wide, high, turn, away, radius):
    true = affinity.translate(affinity.rotate(rounded(wide, high, radius), turn), away, -away)
    curve = fit_pieces(seen(true, seed=int(wide)), 0.03, 0.3)
    assert Polygon(curve.flattened(0.01)).is_valid
    assert np.quantile(off(curve, true), 0.95) < 0.15 and off(curve, true).max() < 0.5


def test_the_circle_through_points_is_the_true_one_where_they_lie_on_half_of_it_only():
    angles = np.linspace(0, math.pi, 40)
    points = np.column_stack([3 + 7 * np.cos(angles), -2 + 7 * np.sin(angles)])
    assert fit_circle(points) == pytest.approx((3, -2, 7, 0), abs=1e-6)
