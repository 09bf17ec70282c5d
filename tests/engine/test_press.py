import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from nesting.engine import Container, Item, Problem, Search, Shape, Stop, overlaps, solve
from nesting.engine.press import convex_parts

HOOK = Polygon([(0, 0), (90, 0), (90, 20), (20, 20), (20, 70), (60, 70), (60, 90), (0, 90)])
FIXED = ((0.0, 0.0), (180.0, 180.0))


def star(seed: int) -> Polygon:
    random = np.random.default_rng(seed)
    angles = np.linspace(0, 2 * np.pi, 11)[:-1]
    return Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * random.uniform(20, 90, (10, 1)))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_convex_parts_are_convex_and_make_up_the_shape(seed):
    whole, parts = star(seed), [Polygon(part) for part in convex_parts(star(seed))]
    assert shapely.union_all(parts).symmetric_difference(whole).area < 1e-9 * whole.area
    assert sum(part.area for part in parts) == pytest.approx(whole.area)
    for part in parts:
        assert part.exterior.is_ccw and part.convex_hull.area == pytest.approx(part.area)


def loose(problem: Problem) -> Search:
    search = Search(problem, seed=1)
    search.run(Stop(iterations=1))
    return search


def test_pressing_shortens_and_never_leaves_an_overlap():
    shapes = (Shape(HOOK, angles=FIXED), Shape(star(3), angles=FIXED))
    problem = Problem(
        (Container(box(0, 0, 3000, 300)),), shapes, tuple(Item(n % 2) for n in range(16)), tolerance_mm=0.0
    )
    search = loose(problem)
    spread = search.best_state.copy()
    spread[:, 1] *= 1.04
    pressed = search.given.solution(search.given.press(spread))
    assert pressed.consumed_mm2 < min(search.given.solution(spread).consumed_mm2, search.best.consumed_mm2 * 1.001)
    assert overlaps(problem, pressed) == []


def test_what_overlaps_too_much_to_be_parted_is_refused():
    problem = Problem(
        (Container(box(0, 0, 100, 50)),), (Shape(box(0, 0, 40, 40), angles=FIXED),), (Item(0),) * 2, tolerance_mm=0.0
    )
    search = loose(problem)
    stacked = search.best_state.copy()
    stacked[1, 1:3] = stacked[0, 1:3]
    assert search.given.press(stacked) is None


def test_shapes_that_fit_each_other_exactly_are_put_together():
    """A bay 20 wide takes a bar 20 wide: no freedom at all, yet it has to be found. The optimum is by eye."""
    bay = Polygon([(0, 0), (60, 0), (60, 60), (40, 60), (40, 20), (20, 20), (20, 60), (0, 60)])
    shapes = (Shape(bay, angles=((0.0, 0.0),)), Shape(box(0, 0, 20, 40), angles=((0.0, 0.0),)))
    problem = Problem((Container(box(0, 0, 400, 65)),), shapes, (Item(0), Item(1)) * 2, tolerance_mm=0.0)
    solution = solve(problem, Stop(iterations=200, enough_mm2=120.001 * 65), seed=1)
    assert all(solution.poses)
    assert solution.consumed_mm2 == pytest.approx(120 * 65, rel=1e-6)
    assert overlaps(problem, solution) == []


def test_a_first_layout_is_kept_when_it_cannot_be_pressed(monkeypatch):
    problem = Problem(
        (Container(box(0, 0, 300, 50)),), (Shape(box(0, 0, 40, 40), angles=FIXED),), (Item(0),) * 3, tolerance_mm=0.0
    )
    monkeypatch.setattr("nesting.engine.given.press", lambda *_: None)
    solution = Search(problem, seed=1).run(Stop(iterations=5))
    assert all(solution.poses) and overlaps(problem, solution) == []
