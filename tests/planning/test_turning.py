import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import box

from nesting.planning.limits import PlanLimits
from nesting.planning.turning import angles_within, goes_into


def test_the_angles_at_which_a_strip_is_short_enough_are_those_of_its_diagonals():
    """A strip of length l and width w at an angle a is l cos a + w sin a long."""
    strip, most = box(0, 0, 500, 40), 300.0
    for low, high in angles_within(strip, ((0.0, 360.0), (75.0, 75.0), (10.0, 10.0)), (0.0,), most):
        for angle in np.radians([low, high]):
            assert 500 * abs(math.cos(angle)) + 40 * abs(math.sin(angle)) <= most
    kept = angles_within(strip, ((0.0, 180.0), (75.0, 75.0), (10.0, 10.0)), (0.0,), most)
    edge = next(
        angle
        for angle in np.arange(0, 90, 0.01)
        if 500 * math.cos(math.radians(angle)) + 40 * math.sin(math.radians(angle)) <= most
    )
    assert kept[0] == pytest.approx((edge, 180 - edge), abs=1.0) and kept[1:] == ((75.0, 75.0),)
    assert angles_within(strip, ((0.0, 360.0),), (0.0, 90.0), most) == ()
    finer = angles_within(strip, ((0.0, 180.0),), (0.0,), most, PlanLimits(angle_step_deg=0.1))
    assert finer[0] == pytest.approx((edge, 180 - edge), abs=0.1)


@given(st.floats(50, 400), st.floats(10, 200), st.floats(0, 180), st.floats(0, 30))
def test_a_rectangle_goes_into_one_as_big_as_itself_turned_and_into_none_narrower(long, wide, turn, span):
    outline = affinity.rotate(box(0, 0, long, wide), -turn, origin=(0, 0))
    small, big = sorted((long, wide))
    assert goes_into(outline, ((turn, turn + span),), long + 1e-6, wide + 1e-6)
    assert not goes_into(outline, ((0, 360),), 2 * big, small * 0.99)
