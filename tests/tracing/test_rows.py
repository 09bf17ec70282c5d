"""Stitch holes are told from other holes by standing in a row."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.tracing.rows import Row, lined_up, rows_of


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


def seen(places):
    return Row(tuple(map(tuple, np.asarray(places).tolist())), 1.2, 4.0)


def farthest(one, other):
    return np.hypot(*(np.array(one) - np.array(other)).T).max()


@given(st.integers(0, 999), st.floats(-180, 180), st.floats(2.5, 8), st.integers(4, 40))
def test_holes_of_a_straight_row_come_to_lie_on_it_at_one_pitch_and_nearer_to_the_truth(seed, turn, pitch, count):
    way = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    true = np.arange(count)[:, None] * pitch * way
    noisy = true + np.random.default_rng(seed).uniform(-0.06, 0.06, true.shape)
    row = lined_up(seen(noisy), 0.25)
    steps = np.diff(row.places, axis=0)
    assert row.lined == count and np.ptp(steps, axis=0).max() < 1e-9
    assert farthest(row.places, noisy) == pytest.approx(row.moved_mm, abs=1e-12) and row.moved_mm <= 0.25
    # least squares is a projection, and the truth lies where it projects to
    assert ((np.array(row.places) - true) ** 2).sum() <= ((noisy - true) ** 2).sum() + 1e-12


@given(st.integers(0, 999), st.floats(0.01, 0.4), st.integers(3, 30))
def test_no_hole_is_moved_farther_than_it_may_be_off(seed, most, count):
    chance = np.random.default_rng(seed)
    places = np.cumsum(chance.normal((3, 0), (0.3, 0.6), (count, 2)), axis=0)
    row = lined_up(seen(places), most)
    assert len(row.places) == count and farthest(row.places, places) <= most + 1e-12


def test_a_row_around_an_arc_is_put_on_it():
    turn = np.radians(np.arange(0, 120, 6.0))
    true = 40 * np.column_stack([np.cos(turn), np.sin(turn)])
    row = lined_up(seen(true + np.random.default_rng(1).normal(0, 0.04, true.shape)), 0.25)
    assert row.lined == 20 and np.ptp(np.hypot(*np.diff(row.places, axis=0).T)) < 1e-6
    assert farthest(row.places, true) < 0.06


def test_a_hole_that_was_missed_leaves_a_gap_of_two_pitches():
    row = lined_up(seen([(4.0 * at, 0.05 * (-1) ** at) for at in range(12) if at != 5]), 0.2)
    steps = np.hypot(*np.diff(row.places, axis=0).T)
    assert row.lined == 11 and sorted(steps / steps.min())[-1] == pytest.approx(2)


def test_a_row_around_a_corner_keeps_its_corner():
    places = [*[(4.0 * at, 0.0) for at in range(6)], *[(20.0, 4.0 * at) for at in range(1, 6)]]
    row = lined_up(seen(places), 0.2)
    assert row.lined >= 10 and farthest(row.places, places) < 1e-9


def test_holes_on_no_line_stay_where_they_are():
    places = [(0, 0), (4, 1), (8, -1), (12, 1.5), (15, 0)]
    row = lined_up(seen(places), 0.2)
    assert row.lined == 0 and row.moved_mm == 0 and farthest(row.places, places) == 0
