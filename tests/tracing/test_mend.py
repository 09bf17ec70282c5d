import cv2
import numpy as np
import pytest

from nesting.tracing.mend import mended, thin_places

SIZE = 400


def rows_of_bricks():
    """Smooth faces 14 pixels wide between bright joints of 6."""
    floor = np.full((SIZE, SIZE), 130.0)
    for start in range(0, SIZE, 20):
        floor[start : start + 6] = floor[:, start : start + 6] = 185
    return floor


def grass():
    rough = cv2.GaussianBlur(np.random.default_rng(1).normal(0, 1, (SIZE, SIZE)), (0, 0), 1.5)
    return 130 + 35 * rough / rough.std()


def mended_on(floor, spot, leather_colour=(230, 230, 230), radius=6):
    """Leather from 100 to 300 on a floor, grey unless it has colours, with a round spot in it: whether that is a hole,
    and whether that is unsure."""
    picture = cv2.GaussianBlur(floor if floor.ndim == 3 else np.repeat(floor[..., None], 3, axis=2), (0, 0), 0.8)
    leather = np.zeros((SIZE, SIZE), bool)
    leather[100:300, 100:300] = True
    picture[leather] = leather_colour
    round_spot = cv2.circle(np.zeros((SIZE, SIZE), np.uint8), (213, 213), radius, 1, -1) > 0
    picture[round_spot] = spot if isinstance(spot, tuple) else spot[round_spot, None]
    picture += np.random.default_rng(0).normal(0, 1, (SIZE, SIZE, 1))
    whole, holes, unsure, *_ = mended(
        np.clip(picture, 0, 255).astype(np.uint8), leather, np.ones_like(leather), 4.0, 4.0
    )
    assert whole[213, 213] != holes[213, 213]
    return holes[213, 213], unsure[213, 213]


FLAT = np.full((SIZE, SIZE), 130.0)


@pytest.mark.parametrize(("floor", "unsure"), [(rows_of_bricks, True), (grass, False)])
def test_a_hole_through_which_the_floor_shows_is_found(floor, unsure):
    # over bricks it shows nothing but the smooth face of one; grass tells itself by its grain
    assert mended_on(floor(), floor()) == (True, unsure)


@pytest.mark.parametrize(("spot", "seen"), [(60.0, True), (190.0, False)])
@pytest.mark.parametrize("axes", [(3, 1), (2, 2)])
def test_a_hole_that_blur_all_but_fills_is_in_doubt_and_a_mark_as_small_is_not(axes, spot, seen):
    chance = np.random.default_rng(3)
    picture = np.repeat(60 + 6 * chance.standard_normal((SIZE, SIZE, 1)), 3, axis=2)
    leather = np.zeros((SIZE, SIZE), bool)
    leather[100:300, 100:300] = True
    picture[leather] = (235, 215, 185)
    hole = cv2.ellipse(np.zeros((SIZE, SIZE), np.uint8), (213, 213), axes, 0, 0, 360, 1, -1) > 0
    picture[hole] = spot
    picture = cv2.GaussianBlur(picture, (0, 0), 1.0) + chance.normal(0, 1, (SIZE, SIZE, 1))
    _, holes, _, perhaps, _ = mended(
        np.clip(picture, 0, 255).astype(np.uint8), leather, np.ones_like(leather), 4.0, 4.0
    )
    found = holes | perhaps
    assert found[hole].all() == seen and found[leather].sum() <= 40 * seen


def test_a_smooth_spot_of_the_colour_of_rough_grass_is_a_stain():
    assert mended_on(grass(), FLAT) == (False, False)


@pytest.mark.parametrize(("leather", "unsure"), [((230, 230, 230), True), ((230, 190, 130), False)])
def test_a_hole_is_unsure_where_leather_so_dark_would_have_the_colour_of_the_floor(leather, unsure):
    assert mended_on(FLAT, FLAT, leather) == (True, unsure)


def test_a_hue_that_much_of_the_floor_has_tells_no_stain():
    tan, brown, grey = (230, 190, 126), (128, 105, 72), (112, 103, 92)
    boards = np.tile(np.repeat(np.float64([brown, grey]), 20, axis=0)[None], (SIZE, SIZE // 40, 1))
    assert mended_on(boards, brown, tan) == (True, True)
    assert mended_on(np.full((SIZE, SIZE, 3), np.mean([brown, grey], axis=0)), brown, tan) == (False, False)


@pytest.mark.parametrize(("leather", "spot", "hole"), [
    ((140, 60, 50), (70, 70, 70), True),  # the grey floor in shade
    ((140, 60, 50), (100, 100, 100), False),  # brighter than leather: dirt, or floor in less shade
    ((140, 60, 50), (70, 30, 25), False),  # leather as dark
    ((140, 60, 50), (85, 70, 40), False),  # something else
    ((140, 140, 140), (70, 70, 70), False),  # which of both cannot be told
])  # fmt: skip
def test_a_dark_spot_is_a_hole_where_it_has_the_hue_of_floor_in_shade(leather, spot, hole):
    assert mended_on(FLAT, spot, leather)[0] == hole


@pytest.mark.parametrize(
    ("spot", "unsure"), [((130, 130, 130), False), ((137, 129, 116), True), ((140, 140, 140), True)]
)
def test_a_large_spot_of_a_hue_between_stained_leather_and_floor_or_of_unusual_brightness_is_unsure(spot, unsure):
    assert mended_on(FLAT, spot, (230, 190, 130), radius=10) == (True, unsure)
    assert mended_on(FLAT, spot, (230, 190, 130)) == (True, False)


@pytest.mark.parametrize(("leather", "floor"), [((24, 46, 34), (160, 155, 148)), ((190, 150, 105), (90, 90, 95))])
def test_a_finger_of_leather_that_is_all_blur_is_found(leather, floor):
    # 2.8 pixels wide, drawn at ten times the size
    large = np.zeros((400, 5000), np.uint8)
    large[:, :1000] = large[186:214, :1240] = 1
    cover = np.zeros((500, 500), np.float32)
    cover[200:300, :100] = 1
    cover[230:270] = cv2.resize(large.astype(np.float32), (500, 40), interpolation=cv2.INTER_AREA)
    cover = cv2.GaussianBlur(cover, (0, 0), 0.6)[..., None]
    picture = cover * leather + (1 - cover) * floor + np.random.default_rng(0).normal(0, 2, (500, 500, 3))
    region = np.zeros((500, 500), bool)
    region[200:300, :100] = True
    whole, *_ = mended(picture.astype(np.uint8), region, np.ones_like(region), 5.7, 4.0)
    assert whole[249:251, 100:122].all()
    assert not whole[:, 126:].any() and not whole[:195].any() and (whole ^ region)[:, 105:].sum() < 90


def test_thin_places_are_those_in_lines_that_are_unlike_leather():
    unlike = np.ones((SIZE, SIZE), np.float32)
    leather = np.zeros((SIZE, SIZE), bool)
    leather[50:350, 50:350] = True
    for start, end, wide in (
        ((100, 100), (160, 130), 2),
        ((250, 80), (250, 85), 1),
        ((48, 200), (80, 200), 2),
        ((200, 300), (300, 300), 14),
    ):
        cv2.line(unlike, start, end, 60, wide)
    cv2.circle(unlike, (300, 200), 12, 60, -1)
    ((column, row, *way), other) = thin_places(unlike, leather)
    assert (column, row) == pytest.approx((130, 115), abs=3) and abs(np.dot(way, (2, 1))) == pytest.approx(
        5**0.5, rel=0.01
    )
    # the third begins at the edge: only what lies deeper counts
    assert tuple(other[:2]) == pytest.approx((67, 200), abs=3)
    assert thin_places(unlike, leather & (np.indices((SIZE, SIZE))[0] > 210)).shape == (0, 4)
