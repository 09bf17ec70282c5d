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


def rectangle(way, corner):
    """The panel that begins at a corner, by its corners in the directions of the way."""
    turn = np.radians(way.along_deg)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    panel = box(*corner, corner[0] + way.long_mm, corner[1] + way.wide_mm)
    return shapely.transform(panel, lambda points: points @ axes)


def test_a_rectangle_is_all_panels():
    found = grid(box(0, 0, 1800, 1200), WAY)
    assert found.worth == pytest.approx(9.0)
    assert found.strips == tuple((y, (0.0, 600.0, 1200.0)) for y in (0.0, 400.0, 800.0))


def test_panels_go_around_a_hole():
    leather = box(0, 0, 1320, 400).difference(Point(660, 200).buffer(58))
    assert grid(leather, WAY).strips == ((0.0, (0.0, 720.0)),)


def test_leather_smaller_than_a_panel_has_none():
    assert grid(box(0, 0, 590, 1200), WAY) == ((), 0.0)


@settings(max_examples=40, deadline=None)
@given(st.floats(900, 2600), st.floats(900, 2600), st.integers(2, 7), st.floats(0, 360), st.booleans())
def test_panels_are_leather_and_apart_and_the_lines_free_them(width, height, waves, along, across):
    leather = wavy(width, height, waves)
    way = Way(along, along + 90.0, *((400.0, 600.0) if across else (600.0, 400.0)))
    found = cut_out("h", leather, way)
    pieces = [piece for piece, _ in found.panels] + found.rest
    assert sum(piece.area for piece in pieces) == pytest.approx(leather.area, rel=1e-6)
    again = cut_up(Hide("h", leather), tuple(found.cuts))
    assert sorted(piece.area for piece in again) == pytest.approx(sorted(piece.area for piece in pieces), abs=1.0)
    whole = [rectangle(way, corner) for corner in dict.fromkeys(corner for _, corner in found.panels)]
    for number, panel in enumerate(whole):
        # cells of the raster count where their middles are leather
        assert panel.intersection(leather).area > (1 - 1 / DEFAULT.grid_whole - 0.02) * panel.area
        assert all(panel.intersection(other).area < 1e-3 for other in whole[:number])
    for piece, corner in found.panels:
        assert piece.difference(rectangle(way, corner).buffer(DEFAULT.least_gain_mm)).area < 1.0


def test_no_row_of_panels_is_better_than_the_best_found_by_trying_them_all():
    leather = rotate(wavy(1500, 450, 3), 4).buffer(20)
    found = grid(leather, WAY, DEFAULT)
    low = leather.bounds[:2]
    worth = {}
    for y in np.arange(low[1], leather.bounds[3] - 400, 40.0):
        for x in np.arange(low[0], leather.bounds[2] - 600, 40.0):
            share = box(x, y, x + 600, y + 400).intersection(leather).area / 240000
            worth[x, y] = max(1 - DEFAULT.grid_whole * (1 - share), 0.0)
    pairs = [worth[a] + worth[b] for a in worth for b in worth if a[1] == b[1] and a[0] + 600 <= b[0]]
    assert found.worth >= max([*pairs, *worth.values()]) - 0.1
