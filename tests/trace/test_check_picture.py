import numpy as np
import pytest
from PIL import Image, ImageColor
from shapely.geometry import Point, Polygon, box

from nesting.model import Suggestion
from nesting.trace import Trace, draw_check, draw_places
from nesting.trace.check_picture import ENLARGED, HOLE, MISS, OUTLINE, REACH, REFERENCE, SUGGESTION


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


@pytest.mark.parametrize("count", [1, 2, 5, 9])
def test_places_of_doubt_are_shown_enlarged_with_the_pixel_in_the_middle_of_a_ring(tmp_path, count):
    photo = np.full((600, 2200, 3), 100, np.uint8)
    places = [(40 + 200 * number, 300) for number in range(count)]
    for x, y in places:
        photo[y, x] = (0, 0, 255)
    Image.fromarray(photo).save(tmp_path / "photo.png")
    draw_places(tmp_path / "photo.png", places, tmp_path / "doubt.png")
    with Image.open(tmp_path / "doubt.png") as drawn:
        seen = np.asarray(drawn.convert("RGB")).astype(int)
    side = 2 * REACH * ENLARGED
    shown, columns = min(count, 6), min(count, 3)
    assert columns * side < seen.shape[1] < columns * (side + 20)
    assert -(-shown // 3) * side < seen.shape[0] < -(-shown // 3) * (side + 60)
    ring = np.abs(seen - ImageColor.getrgb(OUTLINE)).max(axis=2) < 12
    # the column of the blue dot of the first place is where its ring is widest
    rows, across = np.nonzero((seen[..., 2] > seen[..., 0] + 60)[:, : side + 16])
    first = ring[:, : side + 16]
    low, high = np.flatnonzero(first.any(axis=0))[[0, -1]]
    assert abs(np.median(across) - (low + high) / 2) < 3
    assert len(rows) > 0
