"""Doubts of made outlines, in pixels of 1 mm."""

import numpy as np
from shapely.geometry import Polygon, box

from nesting.model import StatedError
from nesting.tracing.doubt import Judgement
from nesting.tracing.doubts import UNDER, find_doubts
from nesting.tracing.edge import Edge
from nesting.tracing.hints import Hints
from nesting.tracing.limits import TraceLimits

WHOLE = box(0, 0, 1000, 800)


class Still:
    """Draws an outline again as it was."""

    def again(self, tile):
        return WHOLE


def doubted(*covered: Polygon):
    edge = Edge(WHOLE, np.array([(0.0, 0.0)]), 0.5, 1.0, [], Still())
    error = StatedError((0.0, 1000.0), (0.0, 800.0), ((10.0, 10.0), (10.0, 10.0)))
    told = Hints().checked("photo.jpg", np.zeros((900, 1100, 3), np.uint8))
    return find_doubts(edge, Judgement(20.0, 0.0), lambda at: at, 1.0, told, TraceLimits(), error, covered)[0]


def test_a_place_that_the_stated_error_keeps_out_in_any_case_is_not_asked_about():
    # grown by the 10 mm that it may be off, the first reaches 10 mm into the leather, the second 30 mm
    (only,) = doubted(box(400, -12, 440, 0), box(600, -20, 650, 20))
    assert only.kind == UNDER and only.number == 1 and 600 <= only.pixel[0] <= 650
