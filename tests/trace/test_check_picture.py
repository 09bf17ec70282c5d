import numpy as np
import pytest
from PIL import Image, ImageColor
from shapely.geometry import Point, Polygon, box

from nesting.model import Suggestion
from nesting.trace import Trace, draw_check
from nesting.trace.check_picture import HOLE, MISS, OUTLINE, REFERENCE, SUGGESTION


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    hide = box(0, 0, 800, 500)
    outline = Polygon(hide.exterior, [Point(400, 250).buffer(40).exterior])
    sheet = box(-150, 50, 60 - 90, 347)
    misses = np.array([(-150, 50, 0.4, 0.3), (-30, 347, -0.5, 0.1)])
    trace = Trace(
        outline, "a4", 2.0, 3.4, np.full((400, 600, 3), 160, np.uint8), (-200, 650), (sheet,), misses, 0.25, None
    )
    path = tmp_path_factory.mktemp("check") / "check.png"
    draw_check(trace, path, [Suggestion(box(100, 100, 160, 140), "C", "scar", 0.8)])
    with Image.open(path) as drawn:
        assert drawn.format == "PNG"
        return np.asarray(drawn.convert("RGB")).astype(int)


@pytest.mark.parametrize("colour", [OUTLINE, HOLE, REFERENCE])
def test_outline_holes_and_reference_are_drawn_in_their_colours(picture, colour):
    near = np.abs(picture - ImageColor.getrgb(colour)).max(axis=2) < 12
    assert near.sum() > 150


def test_suggested_flaws_and_misses_at_the_references_are_drawn_in_their_colours(picture):
    for colour in (SUGGESTION, MISS):
        assert (np.abs(picture - ImageColor.getrgb(colour)).max(axis=2) < 40).sum() > 60


def test_the_picture_is_large_enough_to_judge_by(picture):
    assert picture.shape[1] > 1200 and picture.shape[0] > 600


def test_the_photo_itself_is_under_the_lines(picture):
    assert (np.abs(picture - 160).max(axis=2) < 3).mean() > 0.4
