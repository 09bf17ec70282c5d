"""The order of burning against common practice, and its travel against the travelling salesman's known constant."""

import math

import numpy as np
from shapely.geometry import LineString

from nesting.laser.order import burning_order, travel_mm
from nesting.model import OPERATIONS


def test_holes_and_cutouts_burn_before_outlines():
    # Common practice, no published source: a part that is cut free lifts and curls.
    assert OPERATIONS == ("engrave", "stitch", "cutout", "outline") and tuple(burning_order({})) == (
        "fill",
        *OPERATIONS,
    )


def test_travel_over_many_holes_is_near_the_known_least():
    # The shortest tour of n random points in an area A tends to 0.7124 sqrt(n A) for large n (Beardwood, Halton and
    # Hammersley 1959; constant by Johnson, McGeoch and Rothberg 1996; both quoted from memory).
    random = np.random.default_rng(12)
    lines = [LineString([(x, y), (x + 1e-6, y)]) for x, y in random.uniform(0, 500, (500, 2))]
    travel = sum(travel_mm([line for _, line in burning_order({"stitch": lines})["stitch"]]))
    least = 0.7124 * math.sqrt(500 * 500**2)
    # Measured: 1.07.
    assert 0.95 * least < travel < 1.15 * least
