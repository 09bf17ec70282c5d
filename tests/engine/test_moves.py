import math

import numpy as np
import pytest
import shapely
from numba import njit
from shapely import affinity

from nesting.engine import Container, Item, Problem, Shape
from nesting.engine.fixed import is_tabled, list_view, relocate_fixed, tabled_overlaps
from nesting.engine.given import Given
from nesting.engine.moves import border_cost, pair_cost, rough_overlaps
from nesting.engine.separate import drop
from nesting.engine.survey import scratch_room

SIDE, CELL, ACROSS = 9.6, 10.0, 8


def called(kernel):
    """A kernel as Python can call it."""
    return njit(lambda *given: kernel(*given))


move, view, grid, turned_grid = map(called, (relocate_fixed, list_view, tabled_overlaps, rough_overlaps))
tabled_move, depth_in_walls, depth_of_pair = map(called, (is_tabled, border_cost, pair_cost))


def tabled(problem):
    """A problem laid out with all its contact tables."""
    given = Given(problem)
    given.make_tables()
    assert given.tabled
    return given


@pytest.mark.parametrize("towards", [0.0, 90.0, 180.0, 270.0])
@pytest.mark.parametrize("turn", [0.0, 30.0])
@pytest.mark.parametrize("hole", [(0, 0), (3, 5), (7, 2)])
def test_a_survey_finds_the_only_hole(towards, turn, hole):
    """Right triangles fill all cells of a square but one; with one random place to try, only a survey finds that one.

    The triangle has no symmetry, and its drawing is turned, so that tables must be read in its own frame.
    """
    triangle = shapely.Polygon([(0, 0), (SIDE, 0), (0, SIDE), (0, 0)])
    shape = Shape(affinity.rotate(triangle, -turn, origin=(0, 0)), angles=((turn, turn), (turn + 180, turn + 180)))
    region = shapely.box(0, 0, ACROSS * CELL, ACROSS * CELL)
    cells = [(i, j) for i in range(ACROSS) for j in range(ACROSS) if (i, j) != hole]
    problem = Problem((Container(region, towards_deg=towards),), (shape,), (Item(0),) * (2 * len(cells) + 2))
    given = tabled(problem)
    centre = given.centres[0]

    def pose(i, j, flipped):
        angle = given.world.axis[0] + math.radians(turn) + (math.pi if flipped else 0.0)
        cos, sin = math.cos(angle), math.sin(angle)
        corner = np.array([(i + 1) * CELL - 0.1, (j + 1) * CELL - 0.1] if flipped else [i * CELL + 0.1, j * CELL + 0.1])
        x, y = corner + centre @ [[cos, sin], [-sin, cos]]
        return [0.0, x, y, angle, float(flipped)]

    placed = [pose(i, j, flipped) for i, j in cells for flipped in (False, True)] + [pose(*hole, False)]
    state = np.array([*placed, pose(*cells[0], True)])
    left = drop(given.alone(np.arange(len(state)), 0), np.full(1, np.inf), state, 1, 0)
    assert left == 0.0
    assert state[-1, 1:3] == pytest.approx(pose(*hole, True)[1:3], abs=0.5)


@pytest.mark.parametrize("towards", [0.0, 90.0, 225.0])
@pytest.mark.parametrize("row, other", [(0, 1), (1, 0), (0, 2), (2, 1), (3, 0), (2, 2)])
def test_the_grid_holds_the_depth_in_the_no_fit_polygon(towards, row, other):
    """Shapely's distance from the border of the Minkowski sum of two triangles (all corner sums' hull) is the
    reference."""
    corners = np.array([[0.0, 0.0], [40, 0], [8, 25]]), np.array([[0.0, 0.0], [22, 6], [5, 30]])
    shapes = tuple(Shape(shapely.Polygon(ring), angles=((0.0, 0.0), (65.0, 65.0))) for ring in corners)
    square = Container(shapely.box(0, 0, 200, 200), towards_deg=towards)
    problem = Problem((square,), shapes, (Item(row // 2), Item(other // 2)))
    world, centres = tabled(problem).world, tabled(problem).centres

    def turned(kind):
        ring = shapely.Polygon(corners[kind // 2] - centres[kind // 2])
        return np.asarray(affinity.rotate(ring, 65.0 * (kind % 2), origin=(0, 0)).exterior.coords)[:-1]

    still = np.array([[0.0, 90.0, 110.0, 0.0, row], [0.0, 100.0, 100.0, math.radians(65.0 * (other % 2)), other]])
    trig = np.column_stack([np.cos(still[:, 3]), np.sin(still[:, 3]), world.radius[world.item_shape]])
    away, step, rows, columns, scratch = world.away[0], 4.0, 31, 27, scratch_room(2)
    left = np.array([-away[1], away[0]])
    a0, b0 = np.array([100.0, 100.0]) @ away - 60, np.array([100.0, 100.0]) @ left - 52
    count = view(world, still, trig, np.ones((2, 2)), 0, row, 0, scratch)
    scratch.factors[0] = 2.0
    grid(world, 0, scratch, 0, count, a0, b0, step, step, rows, columns)
    field = scratch.field[: rows * columns]
    sums = (turned(other)[:, None] - turned(row)[None]).reshape(-1, 2) + (100.0, 100.0)
    forbidden = shapely.convex_hull(shapely.MultiPoint(sums))
    spots = (a0 + step * np.arange(rows))[:, None, None] * away + (b0 + step * np.arange(columns))[None, :, None] * left
    spots = shapely.points(spots.reshape(-1, 2))
    depth = np.where(shapely.contains(forbidden, spots), shapely.distance(forbidden.exterior, spots), 0.0)
    assert depth.max() > 5
    # a node of the table lies within 0.71 of its cell (a 72nd of the polygon's length) of any place
    cell = max(np.ptp(sums, axis=0).max(), np.ptp(sums @ [[0.7071, 0.7071], [-0.7071, 0.7071]], axis=0).max()) / 72
    assert field == pytest.approx(2 * depth, abs=2 * 1.5 * cell)


@pytest.mark.parametrize("towards", [0.0, 90.0, 225.0])
@pytest.mark.parametrize("exact", [False, True])
def test_the_cost_of_a_move_is_what_all_its_collisions_cost(towards, exact):
    """The sum over every other item and the wall, taken one by one after the move, is the reference."""
    random = np.random.default_rng(3)
    shapes = tuple(
        Shape(shapely.Polygon(ring), angles=((10.0, 10.0), (100.0, 100.0), (190.0, 190.0)))
        for ring in ([(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)], [(0, 0), (30, 5), (18, 33)])
    )
    problem = Problem((Container(shapely.box(0, 0, 150, 100), towards_deg=towards),), shapes, (Item(0), Item(1)) * 12)
    world, count = tabled(problem).world, len(problem.items)
    limits = np.array([world.span[0, 1] - 40.0])
    state = np.zeros((count, 5))
    state[:, 1:3] = random.uniform((-10, -10), (160, 110), (count, 2))
    state[:, 4] = world.angle_off[world.item_shape] + random.integers(0, 3, count)
    state[:, 3] = world.axis[0] + world.angles[state[:, 4].astype(int), 0]
    trig = np.column_stack([np.cos(state[:, 3]), np.sin(state[:, 3]), world.radius[world.item_shape]])
    weights, wall = random.uniform(1, 3, (count, count)), 2.5
    weights, weight = weights + weights.T, world.weight[world.item_shape]
    for i in range(count):
        assert tabled_move(world, state, i)
        cost = move(world, limits, state, trig, weights, wall, i, 20, exact, scratch_room(count))
        pose = [(world.item_shape[j], int(state[j, 4]), *state[j, 1:3], *trig[j, :2]) for j in range(count)]
        t, _, *place = pose[i]
        reference = depth_in_walls(world, limits, 0, t, *place, exact, np.inf) * wall * weight[i]
        for j in range(count):
            if j != i:
                depth = depth_of_pair(world, *pose[i], *pose[j], exact, np.inf)
                reference += depth * weights[i, j] * math.sqrt(weight[i] * weight[j])
        # the reference reads walls on a float32 grid first
        assert cost == pytest.approx(reference, rel=1e-6, abs=1e-3)
        assert trig[i, :2] == pytest.approx([math.cos(state[i, 3]), math.sin(state[i, 3])])


@pytest.mark.parametrize("towards", [0.0, 225.0])
@pytest.mark.parametrize("turn", [0.0, 40.0])
def test_a_grid_for_a_turned_shape_holds_how_deep_its_circles_lie_in_its_neighbours(towards, turn):
    """Shapely's distances from the outline of the neighbour are the reference; the container is not convex."""
    corner = shapely.Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])
    shapes = Shape(shapely.Polygon([(0, 0), (50, 5), (30, 40)])), Shape(corner)
    room = shapely.box(0, 0, 300, 200).difference(shapely.box(200, 0, 240, 90))
    problem = Problem((Container(room, towards_deg=towards),), shapes, (Item(0), Item(1)))
    given = Given(problem)
    world, angle = given.world, math.radians(turn)
    state = np.array([[0.0, 20, 20, 0, 0], [0, 120, 110, 0.7, 1]])
    trig = np.column_stack([np.cos(state[:, 3]), np.sin(state[:, 3]), world.radius[world.item_shape]])
    away, step, rows, columns = world.away[0], 9.0, 38, 31
    left = np.array([-away[1], away[0]])
    a0, b0 = np.array([150.0, 100.0]) @ away - 165, np.array([150.0, 100.0]) @ left - 135
    field, bar = np.empty(rows * columns), 1e4
    turned_grid(
        world,
        state,
        trig,
        1.0,
        np.array([1]),
        np.array([2.0]),
        1,
        0,
        0,
        angle,
        a0,
        b0,
        step,
        step,
        rows,
        columns,
        bar,
        field,
    )
    spots = (a0 + step * np.arange(rows))[:, None, None] * away + (b0 + step * np.arange(columns))[None, :, None] * left
    spots = spots.reshape(-1, 2)
    cos, sin = math.cos(angle), math.sin(angle)
    circles = world.circles[world.circle_off[0] : world.circle_off[1]]
    assert len(circles) > 3
    neighbour = affinity.translate(
        affinity.rotate(affinity.translate(corner, *-given.centres[1]), 0.7, (0, 0), True), 120, 110
    )
    deepest = np.zeros(len(spots))
    for x, y, radius in circles:
        points = shapely.points(spots + (cos * x - sin * y, sin * x + cos * y))
        clearance = shapely.distance(neighbour.exterior, points)
        deepest = np.maximum(deepest, radius + np.where(shapely.contains(neighbour, points), clearance, -clearance))
    whole = affinity.translate(shapes[0].polygon, *-given.centres[0])
    whole = affinity.rotate(whole, turn, (0, 0))
    inside = np.array([room.covers(affinity.translate(whole, *spot)) for spot in spots])
    assert inside.sum() > 100 and deepest[inside].max() > 5
    assert np.isinf(field[~shapely.contains(room, shapely.points(spots))]).all()
    # a node of the neighbour's field lies within 0.71 of its cell of any place
    assert field[inside] == pytest.approx(2 * deepest[inside], abs=2 * 1.5 * 60 / 72)
