"""The poses of a solution and the state that the kernels work on, each made from the other, and how far a state
reaches."""

from __future__ import annotations

import math

import numpy as np

from .arrays import Bools, Floats, Ints, State
from .kernels import farthest
from .problem import Pose, Problem, Solution
from .world import World


def state_of(problem: Problem, world: World, centres: Floats, solution: Solution) -> State:
    """Container (-1 for none), x, y, angle (radians) and row of the angle list of every item: (items, 5).

    A pose of the state puts the shape's centre at (x, y), one of a solution the origin of its given coordinates.
    """
    state = np.full((len(problem.items), 5), -1.0)
    for number, pose in enumerate(solution.poses):
        if pose is not None:
            shape, angle = problem.items[number].shape, math.radians(pose.angle_deg)
            (cx, cy), cos, sin = centres[shape], math.cos(angle), math.sin(angle)
            state[number] = (
                pose.container,
                pose.x + cos * cx - sin * cy,
                pose.y + sin * cx + cos * cy,
                angle,
                _row(world, shape, pose),
            )
    return state


def poses_of(problem: Problem, centres: Floats, state: State) -> tuple[Pose | None, ...]:
    """Pose of every item of a state, None for what has no place."""
    poses: list[Pose | None] = []
    for item, (container, x, y, angle, _) in zip(problem.items, state):
        (cx, cy), cos, sin = centres[item.shape], math.cos(angle), math.sin(angle)
        place = float(x - cos * cx + sin * cy), float(y - sin * cx - cos * cy)
        poses.append(Pose(int(container), *place, math.degrees(angle) % 360.0) if container >= 0 else None)
    return tuple(poses)


def reach_of(world: World, c: int, item: int, pose: Floats) -> float:
    """How far an item at a pose of the state reaches along the axis of container ``c``, mm."""
    return float(farthest(world, c, world.item_shape[item], pose[1], pose[2], math.cos(pose[3]), math.sin(pose[3])))


def front_of(world: World, state: State, c: int) -> float:
    """How far the items of a container reach along its axis, mm."""
    here = np.nonzero(state[:, 0] == c)[0]
    return max(reach_of(world, c, int(item), pose) for item, pose in zip(here, state[here]))


def pull_in(world: World, trial: State, here: Ints, c: int, limit: float, pinned: Bools) -> None:
    """Shift the items ``here`` of a container, at poses ``trial``, that reach beyond a limit back to it; pinned ones
    stay."""
    for pose, item in zip(trial, here):
        over = reach_of(world, c, item, pose) - limit
        if over > 0 and not pinned[item]:
            pose[1:3] -= over * world.away[c]


def _row(world: World, shape: int, pose: Pose) -> int:
    """The row of the angle list that a pose keeps to."""
    turn = math.radians(pose.angle_deg) - world.axis[pose.container]
    rows = range(world.angle_off[shape], world.angle_off[shape + 1])
    return min(
        rows, key=lambda row: max(0.0, (turn - world.angles[row, 0] + 1e-9) % (2 * math.pi) - np.ptp(world.angles[row]))
    )
