"""A search ends when it is asked to, whatever it is at."""

import threading
import time

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from nesting.engine import FREE, Cancel, Container, Item, Problem, Search, Shape, Stop
from nesting.engine.stop import Halting

QUARTERS = tuple((angle, angle) for angle in (0.0, 90.0, 180.0, 270.0))


def many(angles, count=250):
    """As many different wavy shapes of 300 points, in a strip that has hardly room for them."""
    random, turn, shapes = np.random.default_rng(1), np.linspace(0, 2 * np.pi, 300, endpoint=False), []
    for _ in range(count):
        reach = 1 + 0.2 * np.sin(random.integers(2, 6) * turn + random.uniform(0, 6))
        ring = random.uniform(20, 60) * np.column_stack([np.cos(turn), np.sin(turn)]) * reach[:, None]
        shapes.append(Shape(Polygon(ring), angles=angles))
    area = sum(shape.polygon.area for shape in shapes)
    return Problem((Container(box(0, 0, 1.3 * area / 600, 600)),), tuple(shapes), tuple(map(Item, range(count))))


@pytest.mark.parametrize("angles", [FREE, QUARTERS])
def test_a_search_among_many_fine_shapes_ends_within_a_second_of_what_was_asked(angles):
    search = Search(many(angles), 1)
    search.run(Stop(iterations=1))
    began = time.monotonic()
    search.run(Stop(seconds=search.seconds + 0.5))
    assert time.monotonic() - began < 1.5
    cancel = Cancel()
    threading.Timer(0.3, cancel.cancel).start()
    began = time.monotonic()
    search.run(Stop(cancel=cancel))
    assert 0.2 < time.monotonic() - began < 1.3


def test_kernels_are_told_of_the_end_and_no_longer_once_nobody_watches():
    halt, over = np.zeros(1, np.bool_), threading.Event()
    halting = Halting(halt, over.is_set, 0.01)
    assert not halt[0]
    over.set()
    for _ in range(200):
        if halt[0]:
            break
        time.sleep(0.01)
    assert halt[0]
    halting.end()
    assert not halt[0]
