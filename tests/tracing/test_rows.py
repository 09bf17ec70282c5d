"""Stitch holes are told from other holes by standing in a row."""

import numpy as np
import pytest

from nesting.tracing.rows import rows_of


def row(count, pitch, radius=0.7, x=0.0, y=0.0):
    return [(x + pitch * at, y, radius) for at in range(count)]


def test_equal_small_holes_in_a_line_are_a_row_with_its_pitch():
    rows, others = rows_of(np.array([*row(12, 4.0), (30.0, 40.0, 3.0)]))
    assert [len(one.places) for one in rows] == [12] and others == [(30.0, 40.0, 3.0)]
    assert rows[0].pitch_mm == pytest.approx(4.0) and rows[0].diameter_mm == pytest.approx(1.4)


def test_a_row_is_told_from_end_to_end_whatever_order_its_holes_came_in():
    holes = np.array(row(9, 5.0))[np.random.default_rng(1).permutation(9)]
    xs = [x for x, _ in rows_of(holes)[0][0].places]
    assert xs in ([5.0 * at for at in range(9)], [5.0 * at for at in reversed(range(9))])


def test_two_rows_far_apart_are_two_with_their_own_pitch():
    rows, _ = rows_of(np.array([*row(6, 4.0), *row(8, 5.0, y=40.0)]))
    assert sorted((len(one.places), round(one.pitch_mm, 2)) for one in rows) == [(6, 4.0), (8, 5.0)]


def test_a_row_may_go_around_a_corner():
    corner = [*row(6, 4.0), *[(20.0, 4.0 * at, 0.7) for at in range(1, 6)]]
    rows, _ = rows_of(np.array(corner))
    assert [len(one.places) for one in rows] == [11] and rows[0].pitch_mm == pytest.approx(4.0)


@pytest.mark.parametrize(
    "holes",
    [
        row(2, 4.0),
        row(6, 25.0, radius=0.7),
        row(6, 8.0, radius=2.2),
        [(0, 0, 0.4), (4, 0, 1.2), (8, 0, 0.4), (12, 0, 1.2)],
        row(4, 1.5, radius=0.7),
    ],
)
def test_two_holes_and_those_far_apart_too_near_too_wide_or_unequal_are_no_row(holes):
    rows, others = rows_of(np.array(holes, dtype=float))
    assert rows == [] and len(others) == len(holes)


def test_the_pitch_is_surer_than_the_places_of_the_holes():
    places = np.array(row(12, 4.0))
    places[:, 0] += np.random.default_rng(3).normal(0, 0.08, 12)
    assert rows_of(places)[0][0].pitch_mm == pytest.approx(4.0, abs=0.025)


def test_no_holes_are_no_rows():
    assert rows_of(np.empty((0, 3))) == ([], [])
