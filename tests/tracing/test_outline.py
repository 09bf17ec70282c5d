import numpy as np
import pytest
import shapely

from nesting.tracing.outline import _unsure


def test_a_hole_that_falls_apart_without_its_rim_is_named_by_a_place_in_it():
    hole = (
        shapely.Point(100, 100)
        .buffer(40)
        .union(shapely.Point(220, 100).buffer(30))
        .union(shapely.box(100, 90, 220, 110))
    )
    outline = shapely.box(0, 0, 300, 200).difference(hole)
    ((wide, place),) = _unsure(outline, np.ones((200, 300), bool), lambda pixels: np.round(pixels).astype(int))
    assert wide == pytest.approx(2 * (hole.area / np.pi) ** 0.5) and hole.buffer(-19).intersects(shapely.Point(place))
