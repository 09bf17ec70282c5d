import numpy as np
import pytest
from covers import SIZE, seen, traced
from shapely.geometry import LineString, Point, Polygon, box

from nesting.tracing.needles import followed

BODY, REST = box(60, 200, 250, 280), box(20, 20, 280, 200)


def needle(bend, wide=9.0, long=120.0):
    """A needle that leaves the body upwards, bent aside, and ever thinner, as a hide's torn edge is drawn out."""
    along = np.linspace(0, 1, 60)
    middle = np.c_[155 + bend * along**2, 205 - long * along]
    half = np.c_[wide / 2 * (1 - along) ** 1.6, np.zeros_like(along)]
    return Polygon([*(middle + half), *(middle - half)[::-1]]).buffer(0), middle[-1]


def outline(cover):
    return Polygon(traced(cover))


@pytest.mark.parametrize("bend", [0, 15, -30])
def test_a_spike_is_followed_where_it_is_thinner_than_the_blur(bend):
    shape, end = needle(bend)
    cover = seen(BODY.union(shape))
    before, after = outline(cover), followed(outline(cover), cover)
    tip = Point(end)
    assert before.distance(tip) > 20
    assert after.distance(tip) < 0.7 * before.distance(tip)
    # nothing is added beside it
    assert after.difference(BODY.union(shape).buffer(2)).area < 2


def test_a_bay_is_followed_the_same_way():
    shape, end = needle(15)
    leather = REST.difference(shape)
    cover = seen(leather)
    before, after = outline(cover), followed(outline(cover), cover)
    assert after.exterior.distance(Point(end)) < 0.7 * before.exterior.distance(Point(end))


def test_a_line_on_the_floor_is_not_followed():
    shape, _ = needle(0, long=100)
    cover = np.maximum(
        seen(BODY.union(shape), noise=0), 0.25 * seen(LineString([(155, 0), (155, 190)]).buffer(1.5), noise=0)
    )
    before = outline(cover)
    assert followed(before, cover).area - before.area < 6


def test_a_seam_that_a_tip_touches_is_not_followed_aside():
    shape = Polygon([(148, 205), (162, 205), (155, 165)])
    seam = LineString([(155, 169), (183, 141)])
    seam = Polygon([*(seam.offset_curve(0.9).coords), *(seam.offset_curve(-0.2).coords)[::-1]])
    cover = np.maximum(seen(BODY.union(shape)), 0.6 * seen(seam, noise=0))
    before = outline(cover)
    assert followed(before, cover).difference(before).area < 10


def test_nothing_is_followed_into_a_rough_floor():
    shape, _ = needle(0, wide=14, long=40)
    rough = np.random.default_rng(2).normal(0, 0.35, (SIZE, SIZE)).astype(np.float32)
    rough[200:] = 0
    cover = seen(BODY.union(shape)) + rough * (1 - seen(BODY.union(shape), noise=0))
    before = outline(cover)
    assert followed(before, cover).symmetric_difference(before).area < 5


def test_a_blunt_end_and_a_round_shape_stay_as_they_are():
    for shape in (BODY.union(box(150, 100, 156, 205)), Point(150, 150).buffer(90)):
        cover = seen(shape)
        assert followed(outline(cover), cover).symmetric_difference(outline(cover)).area < 3


def test_a_slit_in_a_narrow_tongue_is_followed_though_floor_lies_close_on_both_sides():
    slit = Polygon([(151, 90), (159, 90), (155.2, 150), (154.8, 150)])
    leather = BODY.union(box(146, 100, 164, 205)).difference(slit)
    cover = seen(leather)
    before, after = outline(cover), followed(outline(cover), cover)
    end = Point(155, 150)
    assert before.exterior.distance(end) > 8 > 2 * after.exterior.distance(end)


@pytest.mark.parametrize("wall", [box(166, 60, 250, 205), box(60, 60, 144, 205)])
def test_a_spike_is_followed_though_leather_lies_close_on_one_side(wall):
    shape, end = needle(0)
    cover = seen(BODY.union(wall).union(shape))
    before, after = (
        found.difference(wall.buffer(5)).distance(Point(end))
        for found in (outline(cover), followed(outline(cover), cover))
    )
    assert before > 20 and after < 0.7 * before


def test_a_hair_that_a_blunt_tip_touches_is_not_followed():
    hair = LineString([(155, 175), (155, 146)]).buffer(0.45)
    cover = np.maximum(seen(BODY.union(Polygon([(135, 205), (175, 205), (155, 170)]))), seen(hair, noise=0))
    before = outline(cover)
    assert followed(before, cover).difference(before).area < 3
