"""Kernels are compiled once, beside what else goes on, those of a first layout before the others."""

import sys
import time
from dataclasses import replace

import pytest
import shapely

from nesting.engine import (
    FREE,
    Container,
    Item,
    Problem,
    Shape,
    Stop,
    begin_warming,
    half_warm,
    insert,
    solve,
    warm,
    warm_up,
)

SOLVE = sys.modules["nesting.engine.solve"]
"""The module, not the function of that name."""


def test_once_all_is_compiled_nothing_is_started_to_compile():
    warm_up()
    begin_warming()
    assert not warm._warmth.aside.channels and not half_warm()


def test_a_helper_that_compiles_and_is_killed_costs_nothing_but_time(monkeypatch):
    monkeypatch.setattr(warm, "_LAST", ("no such kernel",))
    monkeypatch.setattr(warm, "cores", lambda: 2)
    monkeypatch.setattr(warm, "_warmth", warm._Warmth())
    begin_warming()
    aside = warm._warmth.aside
    assert len(aside.channels) == len(warm._HALVES)
    for process in aside._processes.values():
        process.kill()
    warm_up(first=True)
    assert half_warm()
    warm_up()
    assert not aside.channels and not half_warm()


@pytest.mark.parametrize("angles", [FREE, ((0.0, 0.0),)])
def test_a_first_layout_asks_for_none_of_the_kernels_compiled_later(monkeypatch, angles):
    """Nor does a search end in waiting for them when its time is over by then."""
    late = {"placer": ["separate"], "separate": ["separate"], "rows": ["lay_rows", "height", "reach"]}
    for module, names in late.items():
        for name in names:
            monkeypatch.delattr(sys.modules[f"nesting.engine.{module}"], name)
    monkeypatch.setattr(warm._warmth, "stages", 1)
    monkeypatch.delattr(SOLVE, "warm_up")
    shape, strip = Shape(shapely.box(0, 0, 20, 20), angles=angles), Container(shapely.box(0, 0, 50, 30))
    problem = Problem((strip,), (shape,), (Item(0),) * 3)
    placed = solve(problem, Stop(seconds=0.0))
    assert len(placed.poses) - placed.poses.count(None) == 2
    assert insert(problem, replace(placed, poses=(placed.poses[0], None, None)), 1) is not None


def test_a_search_waits_for_the_rest_after_its_first_layout_and_counts_no_time_for_it(monkeypatch):
    told, waited = [], []

    def rest(cancel):
        waited.append(told[-1].placed)
        time.sleep(0.5)

    monkeypatch.setattr(warm._warmth, "stages", 1)
    monkeypatch.setattr(SOLVE, "warm_up", rest)
    problem = Problem((Container(shapely.box(0, 0, 50, 30)),), (Shape(shapely.box(0, 0, 20, 20)),), (Item(0),) * 2)
    found = solve(problem, Stop(seconds=0.3, iterations=3), progress=told.append)
    assert waited == [2] and found.iterations == 3 and found.seconds < 0.3
