import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from square import BODY, cover_of, painted

from nesting.tracing.doubt import doubt, pinched


@pytest.mark.parametrize(("wide", "seen"), [(0, False), (3, True), (8, True)])
def test_a_bay_that_the_outline_missed_is_noticed_however_narrow(wide, seen):
    hide = BODY.difference(box(100 - wide / 2, 110, 100 + wide / 2, 151)) if wide else BODY
    cover = cover_of(hide)[..., None]
    picture = (cover * (150, 90, 50) + (1 - cover) * (190, 190, 190)).astype(np.uint8)
    noise = np.random.default_rng(0).normal(0, 3, picture.shape)
    picture = np.clip(picture + noise, 0, 255).astype(np.uint8)
    usable = np.ones(picture.shape[:2], bool)
    deep = doubt(picture, painted(BODY), usable, 1.0).deep
    assert any(reach > 20 for reach, _ in deep) == seen
    # the furthest place of each, none of which counts where somebody looked
    looked = np.zeros_like(usable)
    for _, (x, y) in deep:
        assert abs(x - 100) <= wide / 2 + 2 and 105 < y < 150
        looked[int(y), int(x)] = True
    assert not doubt(picture, painted(BODY), usable, 1.0, looked).deep


def test_what_hangs_on_the_outline_by_a_neck_is_told():
    assert not pinched(BODY)
    assert not pinched(BODY.union(Point(155, 100).buffer(8)))
    leaf = Point(162, 100).buffer(8).union(LineString([(149, 100), (156, 100)]).buffer(2))
    other = affinity.rotate(leaf, 180, (100, 100))
    ((furthest, place), around), ((second, _), _) = pinched(BODY.union(leaf).union(affinity.translate(other, -1)))
    assert (second, furthest) == pytest.approx((20, 21), abs=1) and Point(place).distance(Point(29, 100)) < 4
    assert around.contains(affinity.translate(other, -1).intersection(box(0, 0, 45, 200)))


def test_a_speck_at_the_tip_of_a_bay_is_told_though_it_is_no_wider_than_a_neck():
    bay = Polygon([(151, 92), (151, 108), (118, 101), (118, 99)])
    assert not pinched(BODY.difference(bay))
    speck = box(109, 97.2, 119, 102.8)
    (((reach, place), _),) = pinched(BODY.difference(bay.union(speck)))
    assert reach > 6 and Point(place).distance(Point(111, 100)) < 3


def test_a_round_speck_at_the_blunt_end_of_a_bay_is_told():
    bay = Polygon([(151, 88), (151, 112), (118, 104), (118, 96)])
    assert not pinched(BODY.difference(bay))
    (((reach, place), _),) = pinched(BODY.difference(bay.union(Point(115, 101).buffer(6.5))))
    assert reach > 4 and Point(place).distance(Point(109, 101)) < 5


def test_a_slit_about_as_wide_as_a_neck_all_along_is_no_lump_on_one():
    widths = 6 + 0.9 * np.sin(np.linspace(0, 9, 60))
    down = np.linspace(151, 90, 60)
    slit = Polygon([*np.c_[100 - widths / 2, down], *np.c_[100 + widths / 2, down][::-1]])
    assert not pinched(BODY.difference(slit))


def test_a_bay_all_but_closed_by_a_neck_is_told_and_a_spike_is_none():
    bay = Point(135, 100).buffer(10).union(LineString([(130, 100), (151, 100)]).buffer(2))
    assert pinched(BODY.difference(bay))[0][0][0] > 15
    spike = Polygon([(149, 96), (149, 104), (190, 100)])
    assert not pinched(BODY.union(spike)) and not pinched(BODY.difference(affinity.translate(spike, -40)))
