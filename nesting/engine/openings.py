"""Finding poses for one item in what others leave of a container: roughly in a clearance field, then exactly."""

from __future__ import annotations

import math

import numpy as np

from .compiled import compiled, kernel_loop
from .construct import push
from .fields import look_up
from .kernels import allowed_angle, crosses_wall, farthest, shapes_touch
from .limits import COMPILED

TRIED, LEAST_STEP_MM = COMPILED.inserted_poses, COMPILED.least_insert_step_mm


@compiled()
def nearest_fits(world, c, t, values, meta, grid, angles, step, most, count):
    """The poses of a shape, of those on a grid, that come nearest to fitting, each worked in roughly.

    Parameters
    ----------
    world : World
    c, t : int
        Container and shape.
    values, meta, grid
        Clearance fields, one for each area of the shape; see ``look_up``.
    angles : (n, 2) array
        Angles tried, radians, and the row of the angle list of each.
    step : float
        How far places are apart, mm.
    most : float
        How far a pose may stick out, mm.
    count : int
        Poses wanted in the end; some times as many are given.

    Returns
    -------
    (n, 5) array
        In no order: what sticks out and how far it reaches from the packed end, in one cost; x, y, angle, row. The
        cost is infinite where there are fewer poses.
    """
    best = np.full((TRIED * count, 5), np.inf)
    np.random.seed(0)
    first, fields = world.part_off[t], meta.shape[0]
    x0, y0 = grid[0, 0], grid[0, 1]
    columns = int((meta[0, 1] - 1) / grid[0, 2] / step) + 1
    rows = int((meta[0, 2] - 1) / grid[0, 2] / step) + 1
    k0 = world.part_probe_off[first]
    bx, by, br = world.part_probes[k0, 0], world.part_probes[k0, 1], world.part_probes[k0, 2]
    reach = world.span[c, 1] - world.span[c, 0] + 1.0
    apart = 2.0 * step
    for n in range(angles.shape[0]):
        angle, row = angles[n, 0], angles[n, 1]
        cos, sin = math.cos(angle), math.sin(angle)
        # places are those of the middle of the biggest circle
        ox, oy = cos * bx - sin * by, sin * bx + cos * by
        ahead = farthest(world, c, t, -ox, -oy, cos, sin) - world.span[c, 0]
        for j in range(rows):
            for i in range(columns):
                x, y = x0 + i * step, y0 + j * step
                far = (ahead + world.away[c, 0] * x + world.away[c, 1] * y) / (10.0 * reach)
                # no pose there could be among the best
                if far >= best[TRIED * count - 1, 0]:
                    continue
                out = br - look_up(values, meta[0], grid[0], x, y)
                if out > most:
                    continue
                x, y = x - ox, y - oy
                out = _sticks_out(world, t, first, fields, values, meta, grid, x, y, cos, sin, most)
                if out > most:
                    continue
                cost = 0.1 * math.floor(10.0 * max(out, 0.0)) + far
                _keep_apart(best, TRIED * count, cost, x, y, angle, row, apart)
    for n in range(best.shape[0]):
        if best[n, 0] < np.inf:
            out = _work_in(world, c, t, first, fields, values, meta, grid, best[n], step)
            best[n, 0] = out + (best[n, 0] % 0.1)
    return best


@kernel_loop()
def _work_in(world, c, t, first, fields, values, meta, grid, pose, step):
    """Descend a pose, in place, to where it sticks out least; how far it still does, summed over its probes, is given
    back."""
    row, radius = int(pose[4]), world.radius[t]
    out = _overlap(world, t, first, fields, values, meta, grid, pose[1], pose[2], math.cos(pose[3]), math.sin(pose[3]))
    lean = world.angles[row, 1] - world.angles[row, 0]
    while step > LEAST_STEP_MM and out > 0.0:
        way = 2.0 * math.pi * np.random.random()
        far = step * np.random.random()
        turn = 0.0 if lean == 0.0 else step / radius * (2.0 * np.random.random() - 1.0)
        better = False
        for sign in (1.0, -1.0):
            x, y = pose[1] + sign * far * math.cos(way), pose[2] + sign * far * math.sin(way)
            angle = pose[3] + sign * turn
            if turn != 0.0 and not allowed_angle(world, c, row, angle):
                angle = pose[3]
            cost = _overlap(world, t, first, fields, values, meta, grid, x, y, math.cos(angle), math.sin(angle))
            if cost < out:
                out, pose[1], pose[2], pose[3] = cost, x, y, angle
                better = True
                break
        step *= 1.1 if better else 0.94
    return out


@kernel_loop()
def _overlap(world, t, first, fields, values, meta, grid, x, y, cos, sin):
    """How far the probes of a shape stick out of its clearance fields in all, mm."""
    total = 0.0
    for f in range(fields):
        for k in range(world.part_probe_off[first + f], world.part_probe_off[first + f + 1]):
            px, py = world.part_probes[k, 0], world.part_probes[k, 1]
            clear = look_up(values, meta[f], grid[f], cos * px - sin * py + x, sin * px + cos * py + y)
            total += max(world.part_probes[k, 2] - clear, 0.0)
    return total


@kernel_loop()
def _sticks_out(world, t, first, fields, values, meta, grid, x, y, cos, sin, most):
    """How far a shape sticks out of its clearance fields, mm; anything more than ``most`` as soon as it passes it."""
    out = -np.inf
    for f in range(fields):
        for k in range(world.part_probe_off[first + f], world.part_probe_off[first + f + 1]):
            px, py = world.part_probes[k, 0], world.part_probes[k, 1]
            clear = look_up(values, meta[f], grid[f], cos * px - sin * py + x, sin * px + cos * py + y)
            out = max(out, world.part_probes[k, 2] - clear)
            if out > most:
                return out
    return out


@kernel_loop()
def _keep_apart(best, count, cost, x, y, angle, row, apart):
    """Put a pose among the best ones, in place of one that is about the same."""
    place = count - 1
    if cost >= best[place, 0]:
        return
    for n in range(count):
        if best[n, 0] < np.inf and abs(best[n, 1] - x) + abs(best[n, 2] - y) < apart and abs(best[n, 3] - angle) < 0.1:
            if best[n, 0] <= cost:
                return
            place = n
            break
    while place > 0 and best[place - 1, 0] > cost:
        for k in range(5):
            best[place, k] = best[place - 1, k]
        place -= 1
    best[place, 0], best[place, 1], best[place, 2], best[place, 3], best[place, 4] = cost, x, y, angle, row


@compiled()
def settle(world, c, t, pose, state, neighbours, near, tries, pushed):
    """Shift and turn a pose (container, x, y, angle, row), in place, by up to ``near`` mm until it is exactly free, and
    push it towards the packed end where it is to be ``pushed``; gives whether that came to be."""
    x, y, angle, row = pose[1], pose[2], pose[3], int(pose[4])
    lean = world.angles[row, 1] - world.angles[row, 0]
    np.random.seed(0)
    for _ in range(tries):
        if _is_clear(world, c, t, pose[1], pose[2], math.cos(pose[3]), math.sin(pose[3]), state, neighbours):
            if pushed:
                pose[0] = np.inf
                push(world, c, t, pose, state, neighbours)
                pose[0] = c
            return True
        far, way = near * np.random.random(), 2.0 * math.pi * np.random.random()
        turn = far / world.radius[t] * (2.0 * np.random.random() - 1.0)
        pose[1], pose[2], pose[3] = x + far * math.cos(way), y + far * math.sin(way), angle
        if lean > 0.0 and allowed_angle(world, c, row, angle + turn):
            pose[3] = angle + turn
    return False


@kernel_loop()
def _is_clear(world, c, t, x, y, cos, sin, state, neighbours):
    """Whether a shape touches neither the wall nor a neighbour (exact)."""
    for other in neighbours:
        u = world.item_shape[other]
        reach = world.radius[t] + world.radius[u]
        dx, dy = state[other, 1] - x, state[other, 2] - y
        if dx * dx + dy * dy < reach * reach:
            oc, os = math.cos(state[other, 3]), math.sin(state[other, 3])
            if shapes_touch(world, t, x, y, cos, sin, u, state[other, 1], state[other, 2], oc, os):
                return False
    return not crosses_wall(world, c, t, x, y, cos, sin)
