import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from nesting.laser.panels import fits_bed, split
from nesting.model import Hide


def wavy(width, height, waves):
    angles = np.linspace(0, 2 * math.pi, 90, endpoint=False)
    radii = 1 + 0.12 * np.sin(waves * angles)
    return Polygon(np.column_stack([width / 2 * radii * np.cos(angles), height / 2 * radii * np.sin(angles)]))


@settings(max_examples=20, deadline=None)
@given(st.floats(300, 1500), st.floats(300, 1200), st.integers(2, 7))
def test_panels_add_up_to_the_hide_and_fit_the_bed(width, height, waves):
    hide = Hide("h", wavy(width, height, waves).difference(Point(30, 20).buffer(25)))
    panels = split(hide, 600, 400, 3)
    assert shapely.union_all([p.polygon for p in panels]).symmetric_difference(hide.outline).area < 1e-3
    assert sum(p.polygon.area for p in panels) == pytest.approx(hide.outline.area)
    assert all(fits_bed(p.polygon, 600, 400) for p in panels)
    assert [p.id for p in panels] == [str(n) for n in range(1, len(panels) + 1)]


def test_a_hide_that_fits_turned_stays_whole():
    tilted = shapely.affinity.rotate(box(0, 0, 590, 390), 30)
    assert len(split(Hide("h", tilted), 600, 400, 3)) == 1


def test_a_square_metre_takes_six_panels_of_a_600_by_400_bed():
    assert len(split(Hide("h", box(0, 0, 1000, 1000)), 600, 400, 3)) == 6


def test_a_piece_a_hair_too_long_does_not_fit():
    assert not fits_bed(box(0, 0, 601, 399.9), 600, 400)
