import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_jobs import wavy
from shapely.affinity import rotate
from shapely.geometry import Point, box

from nesting.leather.knife import Way, cut_up
from nesting.model import Hide
from nesting.planning.grid import cut_out, grid
from nesting.planning.limits import DEFAULT

WAY = Way(0.0, 90.0, 600.0, 400.0)


def rectangle(way, corner, length):
    """The panel of a length that begins at a corner, by its corners in the directions of the way."""
    turn = np.radians(way.along_deg)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    panel = box(*corner, corner[0] + length, corner[1] + way.wide_mm)
    return shapely.transform(panel, lambda points: points @ axes)


def test_a_rectangle_is_all_rows():
    found = grid(box(0, 0, 1800, 1200), WAY)
    assert found.worth == pytest.approx(9.0)
    assert found.strips == tuple((y, ((0.0, 1800.0),)) for y in (0.0, 400.0, 800.0))


def test_rows_go_around_a_hole():
    leather = box(0, 0, 1320, 400).difference(Point(660, 200).buffer(58))
    assert grid(leather, WAY).strips == ((0.0, ((0.0, 600.0), (720.0, 1320.0))),)


def test_leather_smaller_than_a_short_panel_has_none():
    assert grid(box(0, 0, 350, 1200), WAY) == grid(box(0, 0, 1200, 390), WAY) == ((), 0.0)


@settings(max_examples=40, deadline=None)
@given(st.floats(900, 2600), st.floats(900, 2600), st.integers(2, 7), st.floats(0, 360), st.integers(0, 5))
def test_rows_are_leather_and_apart_and_the_lines_free_their_panels(width, height, waves, along, seed):
    leather = wavy(width, height, waves)
    way, random = Way(along, along + 90.0, 600.0, 400.0), np.random.default_rng(seed)
    lengths = {}
    for off, stretches in grid(leather, way).strips:
        for low, high in stretches:
            row = rectangle(way, (low, off), high - low)
            # cells of the raster count where their middles are leather
            assert row.intersection(leather).area > (1 - 1 / DEFAULT.grid_whole - 0.02) * row.area
            assert high - low >= DEFAULT.row_least * way.long_mm - 1e-6
            while low + (length := random.uniform(300, 600)) <= high:
                lengths[low, off] = length
                low += length + random.choice([0.0, 30.0])
    found = cut_out("h", leather, way, lengths)
    pieces = [piece for piece, _ in found.panels] + found.rest
    assert sum(piece.area for piece in pieces) == pytest.approx(leather.area, rel=1e-6)
    again = cut_up(Hide("h", leather), tuple(found.cuts))
    assert sorted(piece.area for piece in again) == pytest.approx(sorted(piece.area for piece in pieces), abs=1.0)
    assert {corner for _, corner in found.panels} == lengths.keys()
    whole = [rectangle(way, corner, length) for corner, length in lengths.items()]
    for number, panel in enumerate(whole):
        assert all(panel.intersection(other).area < 1e-3 for other in whole[:number])
    for piece, corner in found.panels:
        panel = rectangle(way, corner, lengths[corner])
        assert piece.difference(panel.buffer(DEFAULT.least_gain_mm)).area < 1.0


def test_no_two_panels_of_a_strip_are_better_than_the_best_found_by_trying_them_all():
    leather = rotate(wavy(1500, 450, 3), 4).buffer(20)
    found = grid(leather, WAY, DEFAULT)
    low = leather.bounds[:2]
    worth = dict[tuple[float, float], float]()
    for y in np.arange(low[1], leather.bounds[3] - 400, 40.0):
        for x in np.arange(low[0], leather.bounds[2] - 600, 40.0):
            share = box(x, y, x + 600, y + 400).intersection(leather).area / 240000
            worth[x, y] = max(1 - DEFAULT.grid_whole * (1 - share), 0.0)
    pairs = [worth[a] + worth[b] for a in worth for b in worth if a[1] == b[1] and a[0] + 600 <= b[0]]
    assert found.worth >= max([*pairs, *worth.values()]) - 0.1
