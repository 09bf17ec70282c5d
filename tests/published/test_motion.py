"""Times of moves against the equations of uniform acceleration, integrated step by step."""

import pytest
from scipy.integrate import solve_ivp

from nesting.laser.time import moving_seconds


@pytest.mark.parametrize(
    "length, speed, acceleration", [(100, 200, 2000), (3, 200, 2000), (250, 14, 1500), (0.4, 11, 1000)]
)
def test_a_move_takes_as_long_as_its_motion_integrated(length, speed, acceleration):
    # By symmetry half the way takes half the time: from rest, speeding up to the full speed and keeping it (kinematics
    # of uniform acceleration, any textbook of mechanics), until half the length is done.
    def motion(_, state):
        return [state[1], acceleration if state[1] < speed else 0.0]

    def half_way(_, state):
        return state[0] - length / 2

    half_way.terminal = True
    limit = 10 * (length / speed + speed / acceleration)
    steps = (length / speed + speed / acceleration) / 20_000
    done = solve_ivp(motion, (0, limit), [0.0, 0.0], events=half_way, max_step=steps, rtol=1e-6)
    assert moving_seconds(length, speed, acceleration) == pytest.approx(2 * done.t_events[0][0], rel=2e-3)
