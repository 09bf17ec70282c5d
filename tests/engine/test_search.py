import math
import multiprocessing
import pickle
import signal
from dataclasses import asdict

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from nesting.engine import (
    FREE,
    Area,
    Cancel,
    Container,
    Item,
    Obstacle,
    Pose,
    Problem,
    Search,
    SearchLimits,
    Shape,
    Solution,
    Stop,
    overlaps,
    solve,
)

RIGHT_ANGLES = ((0.0, 0.0), (90.0, 90.0))
SQUARE, TRIANGLE = box(0, 0, 40, 40), Polygon([(0, 0), (60, 0), (10, 50)])
BLOB = Point(0, 0).buffer(300, quad_segs=6).difference(Point(60, 40).buffer(35))


def placed(problem, solution):
    """The items of a solution in container coordinates, by item number."""
    out = {}
    for number, pose in enumerate(solution.poses):
        if pose:
            turned = shapely.affinity.rotate(
                problem.shapes[problem.items[number].shape].polygon, pose.angle_deg, origin=(0, 0)
            )
            out[number] = shapely.affinity.translate(turned, pose.x, pose.y)
    return out


def assert_sound(problem, solution):
    shapes = placed(problem, solution)
    for number, polygon in shapes.items():
        assert problem.containers[solution.poses[number].container].region.buffer(1e-6).contains(polygon)
        for other, second in shapes.items():
            if other < number and solution.poses[other].container == solution.poses[number].container:
                assert polygon.intersection(second).area < 1e-6
    assert overlaps(problem, solution) == []


def mixed(count=24, angles=FREE):
    shapes = (Shape(SQUARE, angles=angles), Shape(TRIANGLE, angles=angles))
    return Problem((Container(BLOB),), shapes, tuple(Item(n % 2) for n in range(count)))


@pytest.mark.parametrize("angles", [FREE, ((0.0, 0.0), (90.0, 90.0)), ((-10.0, 10.0),)])
def test_everything_lies_inside_and_nothing_overlaps(angles):
    problem = mixed(angles=angles)
    solution = solve(problem, Stop(iterations=6))
    assert all(solution.poses)
    assert_sound(problem, solution)
    for pose in solution.poses:
        assert any((pose.angle_deg - low + 1e-9) % 360 <= high - low + 2e-9 for low, high in angles)


def test_the_same_seed_and_iterations_give_the_same_layout():
    first, second = (solve(mixed(), Stop(iterations=5), seed=3) for _ in range(2))
    assert first.poses == second.poses


def test_more_iterations_never_make_it_worse():
    search = Search(mixed(40), seed=1)
    scores = [search.run(Stop(iterations=n)).score for n in (1, 5, 15)]
    assert scores == sorted(scores, reverse=True)


def test_better_layouts_are_told_as_they_come():
    told = []
    solution = solve(mixed(), Stop(iterations=10), progress=told.append)
    assert told and (*told[-1].unplaced_mm2, told[-1].consumed_mm2) == solution.score


def test_an_area_keeps_off_the_obstacles_of_its_class_only():
    wall = Obstacle(box(0, 0, 200, 400), 7)
    container = Container(box(0, 0, 400, 400), (wall,))
    picky = Shape(SQUARE, (Area(SQUARE, frozenset({7})),))
    half = Shape(SQUARE, (Area(box(20, 0, 40, 40), frozenset({7})),), ((0.0, 0.0),))
    problem = Problem((container,), (picky, half, Shape(SQUARE)), tuple(Item(n // 4) for n in range(12)))
    solution = solve(problem, Stop(iterations=3))
    shapes = placed(problem, solution)
    assert len(shapes) == 12
    assert all(not shapes[n].intersects(wall.polygon) for n in range(4))
    assert all(shapes[n].bounds[2] - 20 >= 200 for n in range(4, 8))
    assert any(shapes[n].intersects(wall.polygon) for n in range(8, 12))


def test_items_of_a_group_share_a_site():
    containers = tuple(Container(box(0, 0, 100, 45), site=site) for site in ("a", "a", "b", "b"))
    problem = Problem(containers, (Shape(SQUARE),), tuple(Item(0, group=n // 4) for n in range(8)))
    solution = solve(problem, Stop(iterations=4))
    assert all(solution.poses)
    for group in range(2):
        assert len({containers[pose.container].site for pose in solution.poses[4 * group : 4 * group + 4]}) == 1


def test_a_group_moves_to_another_site_when_one_has_no_room_for_all_of_it():
    small, big = Container(box(0, 0, 85, 45), site="a"), Container(box(0, 0, 170, 45), site="b")
    problem = Problem((small, big), (Shape(SQUARE),), tuple(Item(0, group=n // 3) for n in range(3)))
    assert {pose.container for pose in solve(problem, Stop(iterations=40)).poses} == {1}


def test_urgent_items_come_before_big_ones():
    problem = Problem(
        (Container(box(0, 0, 62, 62)),),
        (Shape(box(0, 0, 60, 60)), Shape(box(0, 0, 20, 20))),
        (Item(0, rank=1), Item(1, rank=0)),
    )
    solution = solve(problem, Stop(iterations=5))
    assert solution.poses[0] is None and solution.poses[1] is not None


def test_small_items_are_traded_for_a_big_one_that_fills_more():
    # all small squares lie in a row at first, and no single one leaves the big one room: 3 * 20 * 20 < 50 * 30
    small, big = Shape(box(0, 0, 20, 20), angles=((0, 0),)), Shape(box(0, 0, 50, 30), angles=((0, 0),))
    problem = Problem((Container(box(0, 0, 61, 31)),), (small, big), (*[Item(0)] * 3, Item(1)))
    start = Solution((*(Pose(0, 20.0 * n, 0.0, 0.0) for n in range(3)), None), (1500.0,), 0.0)
    solution = Search(problem, seed=1, start=start).run(Stop(iterations=60))
    assert [bool(pose) for pose in solution.poses] == [False, False, False, True]
    assert_sound(problem, solution)
    kept = Search(problem, seed=1, start=start, pinned=(1,)).run(Stop(iterations=60))
    assert kept.poses[1] == start.poses[1] and kept.poses[3] is None


def test_a_search_that_stalled_goes_on_when_everything_has_a_place():
    problem = mixed(6)
    search = Search(problem, seed=2)
    best = search.run(Stop(iterations=15))
    search.forcer.failures = 99
    assert all(best.poses) and search.run(Stop(iterations=35)).score <= best.score


def test_pinned_items_keep_their_place():
    problem = mixed(12)
    start = solve(problem, Stop(iterations=1))
    search = Search(problem, start=start, pinned=[0, 5])
    end = search.run(Stop(iterations=12))
    for number in (0, 5):
        for name in ("container", "x", "y", "angle_deg"):
            assert getattr(end.poses[number], name) == pytest.approx(getattr(start.poses[number], name))
    assert_sound(problem, end)


@pytest.fixture
def heard():
    """An interrupt is heard, also where whoever began the tests has it passed over."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def test_an_interrupt_keeps_the_best_so_far(heard):
    told = []

    def interrupt(progress):
        told.append(progress)
        if len(told) == 3:
            signal.raise_signal(signal.SIGINT)

    solution = solve(mixed(40), Stop(), progress=interrupt)
    assert solution.interrupted and solution.poses.count(None) == told[-1].of - told[-1].placed
    assert 1 <= solution.iterations == told[-1].iterations


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("limits", [{"iterations": 10_000}, {}])
def test_a_cancel_ends_a_search(workers, limits):
    cancel = Cancel()
    solution = solve(
        mixed(),
        Stop(**limits, cancel=cancel),
        workers=workers,
        progress=lambda told: told.iterations < 3 or cancel.cancel(),
    )
    assert solution.interrupted and all(solution.poses)
    assert 3 <= solution.iterations < 100 and not multiprocessing.active_children()


def test_a_search_that_comes_to_its_end_was_not_interrupted():
    assert not solve(mixed(), Stop(iterations=3, cancel=Cancel())).interrupted


def test_once_interrupted_a_search_may_go_on():
    cancel, search = Cancel(), Search(mixed(), seed=1)
    cancel.cancel()
    assert search.run(Stop(cancel=cancel)).interrupted
    assert not search.run(Stop(iterations=3)).interrupted


@pytest.mark.parametrize("workers", [1, 2])
def test_progress_never_goes_back_and_ends_with_the_iterations(workers):
    told = []
    solution = solve(mixed(8, RIGHT_ANGLES), Stop(iterations=30), seed=1, progress=told.append, workers=workers)
    for name in ("seconds", "iterations", "share", "placed"):
        values = [getattr(progress, name) for progress in told]
        assert values == sorted(values)
    assert told[-1].share == 1 and told[-1].iterations == 30
    assert (*told[-1].unplaced_mm2, told[-1].consumed_mm2) == solution.score
    assert {progress.of for progress in told} == {8}


def test_the_share_of_the_time_is_told_while_it_passes():
    told = []
    search = Search(mixed(), progress=told.append)
    search.run(Stop(iterations=1))
    told.clear()
    end = search.seconds + 1.0
    search.run(Stop(seconds=end))
    assert len(told) >= 2 and told[0].share < told[-1].share == 1
    assert all(progress.share == pytest.approx(min(progress.seconds / end, 1)) for progress in told)


def test_a_search_ends_when_it_is_good_enough():
    first = solve(mixed(), Stop(iterations=1))
    assert solve(mixed(), Stop(iterations=40, enough_mm2=math.inf)).iterations == 1
    enough = solve(mixed(), Stop(iterations=400, enough_mm2=0.98 * first.consumed_mm2))
    assert 1 < enough.iterations < 400 and enough.consumed_mm2 <= 0.98 * first.consumed_mm2
    full = Problem((Container(box(0, 0, 30, 30)),), (Shape(SQUARE),), (Item(0),))
    assert solve(full, Stop(iterations=3, enough_mm2=math.inf)).iterations == 3


@pytest.mark.parametrize("limits", [{"iterations": 30}, {"seconds": 3.0}])
def test_a_helper_that_is_killed_does_not_lose_the_run(limits):
    def kill(progress):
        for process in multiprocessing.active_children()[:1]:
            process.kill()
            killed.append(process)

    killed = []
    solution = solve(mixed(8, RIGHT_ANGLES), Stop(**limits), seed=1, workers=3, progress=kill)
    assert killed and not solution.interrupted
    assert_sound(mixed(8, RIGHT_ANGLES), solution)
    assert not multiprocessing.active_children()


def test_every_number_of_the_search_may_be_given():
    limits = SearchLimits(
        **{
            name: value + type(value)(1) if isinstance(value, int) else 1.01 * value
            for name, value in asdict(SearchLimits()).items()
            if isinstance(value, (int, float)) and name not in ("first_poses", "most_passes")
        }
    )
    problem = mixed(8, RIGHT_ANGLES)
    solution = solve(problem, Stop(iterations=15), seed=1, limits=limits)
    assert_sound(problem, solution)
    assert solution.poses != solve(problem, Stop(iterations=15), seed=1).poses


@pytest.mark.parametrize("workers", [1, 2])
def test_the_limits_given_are_handed_on(workers):
    few = SearchLimits(first_poses=1)
    first = solve(mixed(40), Stop(iterations=1), limits=few, workers=workers)
    assert first.consumed_mm2 > 1.5 * solve(mixed(40), Stop(iterations=1)).consumed_mm2


def test_a_search_has_no_best_layout_before_it_ran():
    with pytest.raises(ValueError, match="run it first"):
        _ = Search(mixed()).best


def test_what_is_asked_and_answered_tells_itself():
    problem = mixed()
    needed, room = sum(problem.shapes[item.shape].polygon.area for item in problem.items), BLOB.area
    assert str(problem) == f"24 items of 2 shapes, {needed / 1e4:.1f} dm2, into 1 container, {room / 1e4:.1f} dm2"
    solution = Solution((None, Pose(0, 0.0, 0.0, 0.0)), (1.0,), 12_345.0, 7, 1.25, interrupted=True)
    assert str(solution) == "1 of 2 placed, 1.2 dm2 consumed, 7 iterations in 1.2 s, interrupted"


def test_stop_progress_and_solution_go_to_other_processes():
    told = []
    solution = solve(mixed(), Stop(iterations=2), progress=told.append)
    for value in (solution, told[-1], Stop(1.0, 2, 3.0)):
        assert pickle.loads(pickle.dumps(value)) == value
    cancel = Cancel()
    cancel.cancel()
    copy = pickle.loads(pickle.dumps(Stop(iterations=5, cancel=cancel)))
    assert copy.cancelled and copy.reached(0.0, 0) and copy.iterations == 5


@pytest.mark.parametrize("wrong", [{"seconds": -1.0}, {"seconds": math.nan}, {"iterations": 0}, {"enough_mm2": -1.0}])
def test_a_stop_that_makes_no_sense_is_refused(wrong):
    with pytest.raises(ValueError):
        Stop(**wrong)


def test_a_long_search_over_several_containers_stays_sound():
    containers = tuple(Container(box(0, 0, 190, 130), site=n // 2) for n in range(4))
    problem = Problem(containers, (Shape(SQUARE), Shape(TRIANGLE)), tuple(Item(n % 2, rank=n // 30) for n in range(60)))
    solution = solve(problem, Stop(iterations=50), seed=2)
    assert_sound(problem, solution)
    assert solution.unplaced_mm2[0] == 0


def test_workers_share_the_best_and_repeat_themselves():
    problem = mixed(8, RIGHT_ANGLES)
    first, second = (solve(problem, Stop(iterations=25), seed=1, workers=2) for _ in range(2))
    assert first.poses == second.poses
    assert_sound(problem, first)
    assert first.score <= solve(problem, Stop(iterations=1), seed=1).score


def test_what_does_not_fit_is_left_out():
    problem = Problem((Container(box(0, 0, 30, 30)),), (Shape(SQUARE),), (Item(0),))
    assert solve(problem, Stop(iterations=3)).poses == (None,)


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 10_000))
def test_random_problems_end_sound(seed):
    random = np.random.default_rng(seed)
    shapes = []
    for _ in range(3):
        corners = random.integers(4, 9)
        angles = np.sort(random.uniform(0, 2 * math.pi, corners))
        polygon = Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * random.uniform(15, 60, (corners, 1)))
        if polygon.is_valid and polygon.area > 200:
            shapes.append(Shape(polygon, angles=FREE if random.random() < 0.5 else ((0.0, 0.0), (180.0, 180.0))))
    if shapes:
        problem = Problem(
            (Container(BLOB),), tuple(shapes), tuple(Item(int(random.integers(len(shapes)))) for _ in range(25))
        )
        assert_sound(problem, solve(problem, Stop(iterations=4), seed=seed))
