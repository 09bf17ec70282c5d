import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon

from nesting.files.svg_curves import Pen
from nesting.files.svg_units import Fault, numbers


def draw(data, matrix=None, tolerance_mm=0.05):
    return Pen(tolerance_mm, 500_000).draw(data, np.eye(3) if matrix is None else matrix)


def points(data):
    (line,) = draw(data)
    return line.points.tolist()


@pytest.mark.parametrize(
    "data, expected",
    [
        ("M1 2L3 4", [[1, 2], [3, 4]]),
        ("M1,2,3,4 5 6", [[1, 2], [3, 4], [5, 6]]),
        ("m1 2 3 4", [[1, 2], [4, 6]]),
        ("M1 2l3 4-1-1", [[1, 2], [4, 6], [3, 5]]),
        ("M1 2H5V6h-1v-1", [[1, 2], [5, 2], [5, 6], [4, 6], [4, 5]]),
        ("M1 2h1 2v1 2", [[1, 2], [2, 2], [4, 2], [4, 3], [4, 5]]),
        ("M.5.5L1.5.5e1", [[0.5, 0.5], [1.5, 5]]),
        ("M1.2.L3. 4", None),
        ("M1. 2.L+3e0-4E-1", [[1, 2], [3, -0.4]]),
        (" M 1 \n 2 \t L 3,4 ", [[1, 2], [3, 4]]),
        ("M0 0M1 2L3 4M9 9", [[1, 2], [3, 4]]),
        ("M1 2L3 4 3 4 5 6", [[1, 2], [3, 4], [5, 6]]),
    ],
)
def test_path_data_is_read_as_the_grammar_has_it(data, expected):
    if expected is None:
        with pytest.raises(Fault):
            draw(data)
    else:
        assert points(data) == pytest.approx(np.array(expected))


def test_after_a_close_the_pen_is_back_at_the_start():
    first, second, third = draw("M1 1h2v2zl0-1 m5 5 h1")
    assert (first.closed, second.closed, third.closed) == (True, False, False)
    assert second.points.tolist() == [[1, 1], [1, 0]]
    assert third.points.tolist() == [[6, 5], [7, 5]]


def test_a_closed_line_does_not_repeat_its_first_point():
    assert len(draw("M0 0H1V1H0V0z")[0].points) == 4


def test_smooth_commands_reflect_only_a_curve_of_their_own_kind():
    assert points("M0 0C0 3 3 3 3 0S6-3 6 0") == pytest.approx(np.array(points("M0 0C0 3 3 3 3 0C3-3 6-3 6 0")))
    assert points("M0 0Q2 4 4 0T8 0") == pytest.approx(np.array(points("M0 0Q2 4 4 0Q6-4 8 0")))
    assert points("M0 0C0 3 3 3 3 0T6 0") == pytest.approx(np.array(points("M0 0C0 3 3 3 3 0Q3 0 6 0")))
    assert points("M0 0Q2 4 4 0S6 3 8 0") == pytest.approx(np.array(points("M0 0Q2 4 4 0C4 0 6 3 8 0")))


@pytest.mark.parametrize("relative", ["m1 1c0 3 3 3 3 0s3-3 3 0", "m1 1q2 4 4 0t4 0", "m1 1a2 3 30 0 1 3 3"])
def test_relative_curves_are_as_the_absolute_ones_moved(relative):
    (moved,), (still,) = draw(relative), draw(relative.replace("m1 1", "m0 0"))
    assert moved.points == pytest.approx(still.points + 1)


def test_arc_flags_may_stand_without_anything_between():
    assert points("M0 0a5 5 0 1010 0") == pytest.approx(np.array(points("M0 0a5 5 0 1 0 10 0")))
    assert points("M0 0a5,5,0,01.5.5") == pytest.approx(np.array(points("M0 0 a 5 5 0 0 1 .5 .5")))


@pytest.mark.parametrize(
    "data",
    [
        "L1 1",
        "1 1",
        "M",
        "M1",
        "M1 1L",
        "M1 1L2",
        "M1 1 Z2",
        "M1 1,",
        "M1 1,,2 2",
        "M1 1X2 2",
        "M1 1C1 1 2 2 3",
        "M0 0A1 1 0 2 0 1 1",
        "M0 0A1 1 0 0 0 1",
        "M0 0Lnan 1",
        "M0 0L1e999 1",
        "M0 0L1e9.5 1",
        "M0 0L-inf 0",
        "M0 0L1 1\u00a02 2",
        "M0 0L\u0661 1",
        "\x00",
        "M0 0L2000000000 1",
        "M0 0L" + "1" * 101 + " 1",
    ],
)
def test_path_data_that_breaks_off_is_refused(data):
    with pytest.raises(Fault):
        draw(data)


@pytest.mark.parametrize("data", ["", "  ", "none", "M1 1", "M1 1Z", "M1 1m2 2z"])
def test_a_path_without_a_line_draws_nothing(data):
    assert draw(data) == ()


def chord_errors(ring, curve):
    """Greatest distance of the dense points of a curve from the polyline."""
    return shapely.distance(shapely.points(curve), ring).max()


matrices = st.tuples(*[st.floats(-8, 8).map(lambda v: round(v, 2))] * 4).filter(
    lambda m: abs(m[0] * m[3] - m[1] * m[2]) > 0.05
)


@settings(max_examples=40, deadline=None)
@given(matrices, st.floats(0.1, 200), st.sampled_from([0.01, 0.05, 0.5]))
def test_a_circle_keeps_the_tolerance_after_any_transform(entries, radius, tolerance):
    matrix = np.array([[entries[0], entries[1], 3], [entries[2], entries[3], 4], [0, 0, 1]])
    (line,) = draw(
        f"M{radius} 0A{radius} {radius} 0 0 1 {-radius} 0A{radius} {radius} 0 0 1 {radius} 0z", matrix, tolerance
    )
    angles = np.linspace(0, 2 * np.pi, 4001)
    curve = radius * np.column_stack([np.cos(angles), np.sin(angles)]) @ matrix[:2, :2].T + matrix[:2, 2]
    assert chord_errors(Polygon(line.points).exterior, curve) <= tolerance * (1 + 1e-9) + 1e-9


@settings(max_examples=40, deadline=None)
@given(st.tuples(*[st.floats(-100, 100).map(lambda v: round(v, 3))] * 8), matrices, st.sampled_from([0.01, 0.05, 0.5]))
def test_a_cubic_keeps_the_tolerance_after_any_transform(control, entries, tolerance):
    matrix = np.array([[entries[0], entries[1], 3], [entries[2], entries[3], 4], [0, 0, 1]])
    x0, y0, x1, y1, x2, y2, x3, y3 = control
    if (x0, y0) == (x3, y3):
        return
    (line,) = draw(f"M{x0} {y0}C{x1} {y1} {x2} {y2} {x3} {y3}", matrix, tolerance)
    t = np.linspace(0, 1, 2001)[:, None]
    p = np.array(control).reshape(4, 2)
    curve = (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]
    assert (
        chord_errors(LineString(line.points), curve @ matrix[:2, :2].T + matrix[:2, 2]) <= tolerance * (1 + 1e-9) + 1e-9
    )


def test_a_circle_has_no_more_points_than_its_chord_error_asks_for():
    # n chords of a circle are r (1 - cos(pi/n)) off; the least n for r = 100 and 0.05 mm is 100, four quarters of 25.
    (line,) = draw("M100 0A100 100 0 0 1 0 100A100 100 0 0 1-100 0A100 100 0 0 1 0-100A100 100 0 0 1 100 0z")
    assert len(line.points) == math.ceil(math.pi / math.acos(1 - 0.05 / 100) / 4) * 4 == 100


def test_a_straight_curve_is_one_line():
    assert points("M0 0C10 0 20 0 500 0") == [[0, 0], [500, 0]]


def test_a_small_round_hole_stays_round():
    (line,) = draw("M.3 0A.3.3 0 0 1-.3 0A.3.3 0 0 1 .3 0z")
    assert Polygon(line.points).area == pytest.approx(math.pi * 0.09, rel=0.03)


def test_an_arc_that_nearly_returns_to_its_start_is_nearly_a_full_turn():
    (line,) = draw("M10 0A10 10 0 1 1 10-1e-8z")
    assert Polygon(line.points).area == pytest.approx(math.pi * 100, rel=0.02)


@pytest.mark.parametrize("data", ["M0 0A0 5 0 0 1 9 9", "M0 0A5 0 0 0 1 9 9"])
def test_an_arc_without_a_radius_is_a_straight_line(data):
    assert points(data) == [[0, 0], [9, 9]]


def test_an_arc_to_its_own_start_draws_no_turn():
    (line,) = draw("M5 5A5 5 0 1 1 5 5")
    assert len(line.points) == 1


@pytest.mark.parametrize("radius", ["1e-8", "1e9"])
def test_arcs_of_absurd_radii_end_where_they_should(radius):
    (line,) = draw(f"M0 0A{radius} {radius} 0 0 1 9 9")
    assert line.points[-1].tolist() == [9, 9]
    assert np.isfinite(line.points).all()


def test_an_arc_too_small_to_follow_is_refused():
    with pytest.raises(Fault):
        draw("M0 0A1e-300 1 0 0 1 9 9")


@pytest.mark.parametrize(
    "text", [" " * 200_000 + "x", "1," * 200_000 + "x", "1" * 200_000, "-" * 200_000, "1e" * 200_000]
)
def test_hostile_lists_of_numbers_are_refused(text):
    with pytest.raises(Fault):
        numbers(text)
