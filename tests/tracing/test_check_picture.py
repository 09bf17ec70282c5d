from itertools import combinations

import numpy as np
import pytest
from PIL import Image, ImageColor
from shapely.geometry import Point, Polygon, box

from nesting.model import Suggestion
from nesting.tracing import Trace, draw_check, draw_places
from nesting.tracing.check_picture import ENLARGED, HOLE, MISS, OUTLINE, REACH, REFERENCE, SUGGESTION, _free_corners
from nesting.tracing.doubt import Judgement


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


def test_holes_that_may_be_stains_are_drawn_over_in_black(tmp_path):
    hole = Point(400, 250).buffer(100)
    doubt = Judgement(20.0, 0.0, unsure=((200.0, (321.0, 123.0)),))
    black = []
    for unsure in ((), (hole,)):
        trace = Trace(
            box(0, 0, 800, 500).difference(hole),
            "a4",
            2.0,
            3.4,
            np.full((400, 600, 3), 160, np.uint8),
            (-200, 650),
            (),
            np.zeros((1, 4)),
            0.25,
            doubt,
            unsure=unsure,
        )
        draw_check(trace, tmp_path / "check.png")
        with Image.open(tmp_path / "check.png") as drawn:
            black.append((np.asarray(drawn.convert("L"))[300:-300] < 60).sum())
    assert black[1] > black[0] + 500


def test_the_picture_is_large_enough_to_judge_by(picture):
    assert picture.shape[1] > 1200 and picture.shape[0] > 600


def test_the_photo_itself_is_under_the_lines(picture):
    assert (np.abs(picture - 160).max(axis=2) < 3).mean() > 0.4


def test_names_of_flaws_side_by_side_do_not_cover_each_other():
    flaws = [box(100, 100, 110, 110), box(105, 104, 113, 112), box(108, 95, 116, 108), box(400, 100, 410, 110)]
    corners = _free_corners(flaws, [(30, 10)] * 4)
    names = [box(x, y, x + 30, y + 10) for x, y in corners]
    assert not any(one.intersection(other).area for one, other in combinations(names, 2))
    assert corners[0] == (110, 110) and corners[3] == (410, 110)


@pytest.mark.parametrize("count", [1, 5, 26])
def test_places_of_doubt_are_shown_enlarged_within_a_ring_and_beside_it_as_traced(tmp_path, count):
    photo = np.full((600, 5400, 3), 100, np.uint8)
    places = [(100 + 200 * number, 300) for number in range(count)]
    for x, y in places:
        photo[y, x] = (255, 0, 255)
    Image.fromarray(photo).save(tmp_path / "photo.png")
    draw_places(tmp_path / "photo.png", places, box(110, 100, 5300, 400), tmp_path / "doubt.png")
    with Image.open(tmp_path / "doubt.png") as drawn:
        seen = np.asarray(drawn.convert("RGB"), np.int16)
    side = 2 * REACH * ENLARGED
    shown, columns = min(count, 24), min(count, 2)
    rows = -(-shown // columns)
    assert columns * 2 * side < seen.shape[1] < columns * 2 * (side + 20)
    assert rows * side < seen.shape[0] < rows * (side + 60)
    plain, traced = seen[:, : side + 8], seen[:, side + 8 : 2 * side + 8]
    low, high = np.flatnonzero((np.abs(plain - ImageColor.getrgb(REFERENCE)).max(axis=2) < 12).any(axis=0))[[0, -1]]
    dot = np.flatnonzero((plain[..., 0] > plain[..., 1] + 60).any(axis=0))
    assert abs(dot.mean() - (low + high) / 2) < 2
    # the outline's left side lies ten pixels right of the first place
    line = np.abs(traced - ImageColor.getrgb(OUTLINE)).max(axis=2) < 12
    assert not (np.abs(plain - ImageColor.getrgb(OUTLINE)).max(axis=2) < 12).any()
    assert np.median(np.nonzero(line)[1]) == pytest.approx((REACH + 10.5) * ENLARGED, abs=2)


def test_a_place_at_the_corner_of_the_photo_is_shown(tmp_path):
    Image.new("RGB", (300, 200), "tan").save(tmp_path / "photo.png")
    draw_places(tmp_path / "photo.png", [(0.0, 199.0)], Polygon(), tmp_path / "doubt.png")
    assert (tmp_path / "doubt.png").stat().st_size > 1000
