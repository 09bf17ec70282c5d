"""Readings that contradict others; expected values by simple reasoning about made hides."""

import numpy as np
import pytest
from shapely.geometry import box

from nesting.leather.doubtful import doubtful_readings
from nesting.model import Hide, Reading


def hide(*readings, nominal=None):
    return Hide("h", box(0, 0, 800, 600), readings=tuple(Reading(*one) for one in readings), nominal_mm=nominal)


def smooth(count, seed=0, noise=0.03):
    """Readings of leather that thins evenly along the hide, as a gauge would take them."""
    chance = np.random.default_rng(seed)
    places = chance.uniform((20, 20), (780, 580), (count, 2))
    return [(x, y, 2.0 - x / 2000 + chance.normal(0, noise)) for x, y in places.tolist()]


@pytest.mark.parametrize(("count", "seeds"), [(2, 5), (3, 5), (5, 5), (12, 3), (40, 1)])
def test_readings_that_agree_are_not_named(count, seeds):
    assert all(doubtful_readings(hide(*smooth(count, seed)), 0.15) == () for seed in range(seeds))


@pytest.mark.parametrize("count", [2, 12])
def test_two_readings_of_one_point_that_differ_are_both_named(count):
    contradicting = [(400, 300, 2.17), (400, 300, 3.5)]
    found = doubtful_readings(hide(*smooth(count), *contradicting), 0.15)
    assert sorted(one.reading.mm for one in found[:2]) == [2.17, 3.5]
    assert {one.other.mm for one in found[:2]} == {2.17, 3.5} and len(found) == 2


@pytest.mark.parametrize("wrong", [19.5, 3.5, 0.6])
@pytest.mark.parametrize("count", [4, 12])
def test_a_reading_far_from_its_neighbours_is_named_with_what_they_say(count, wrong):
    (one,) = doubtful_readings(hide(*smooth(count), (400, 300, wrong)), 0.15)
    assert one.reading.mm == wrong and one.other is None
    assert one.expected_mm == pytest.approx(1.8, abs=0.15) and one.error_mm < 0.4


def test_two_that_are_far_off_do_not_hide_each_other():
    found = doubtful_readings(hide(*smooth(20), (400, 300, 19.5), (200, 100, 8.0)), 0.15)
    assert [one.reading.mm for one in found] == [19.5, 8.0]


def test_few_readings_are_held_against_the_nominal_thickness():
    (one,) = doubtful_readings(hide((100, 100, 2.0), (700, 500, 19.5), nominal=2.0), 0.15)
    assert one.reading.mm == 19.5 and one.expected_mm == 2.0
