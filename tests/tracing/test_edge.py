import io
from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from square import BODY, cover_of, painted

from nesting.tracing import edge as edge_module
from nesting.tracing.edge import EDGE, Edge, _blurred, _largest, _without_lines, trace_edge, unsteady


class Drawn:
    """Draws the same outline whatever the noise."""

    def __init__(self, outline):
        self.outline = outline

    def again(self, tile):
        return self.outline


@pytest.mark.parametrize("half", [1.2, 3.0])
@pytest.mark.parametrize("aside", [0, 6])
def test_a_seam_that_goes_on_beyond_the_outline_is_cut_off(half, aside):
    seam = LineString([(100, 160), (100, 172), (100 + aside, 219)]).buffer(half + 0.3)
    leaked = BODY.union(LineString([(100, 140), (100, 170)]).buffer(half))
    cover = np.maximum(cover_of(BODY), cover_of(seam, 0.6))
    # all but a corner at its root, no higher than it was wide
    assert 150 <= _without_lines(leaked, cover).bounds[3] < 150 + 1.2 * half


@pytest.mark.parametrize("sigma", [0.8, 1.5, 3.0])
def test_the_blur_across_an_outline_is_that_of_the_picture(sigma):
    round_hide = Point(110, 110).buffer(70)
    cover = cv2.GaussianBlur(painted(round_hide).astype(np.float32), (0, 0), sigma)

    def unlike(places):
        x, y = np.moveaxis(places.reshape(len(places), -1, 2).astype(np.float32), -1, 0)
        return 1 - cv2.remap(cover, x, y, cv2.INTER_LINEAR).reshape(places.shape[:-1])

    # a pixel is as wide as it is, and so are the steps of a mask
    assert _blurred(np.asarray(round_hide.exterior.coords), unlike) == pytest.approx(np.hypot(sigma, 0.5), rel=0.12)


def test_a_thin_spike_of_leather_stays():
    spiked = BODY.union(LineString([(100, 140), (100, 170)]).buffer(1.8))
    assert _without_lines(spiked, cover_of(spiked)).equals(spiked)


@pytest.mark.parametrize(
    ("across", "leather", "floor", "pebble"),
    [(144.5, (45, 30, 25), (120, 110, 120), (200, 190, 150)), (155.5, (150, 110, 70), (200, 200, 200), (40, 35, 30))],
)
def test_a_pebble_at_the_edge_is_neither_a_bay_nor_a_point(across, leather, floor, pebble):
    circle = Point(across, 100).buffer(5)
    cover, stone = cover_of(BODY)[..., None], cover_of(circle)[..., None]
    picture = stone * pebble + (1 - stone) * (cover * leather + (1 - cover) * floor)
    picture = np.clip(picture + np.random.default_rng(0).normal(0, 3, picture.shape), 0, 255).astype(np.uint8)
    rough = painted(BODY) ^ painted(circle.buffer(4))
    edge = trace_edge(picture, rough, np.zeros_like(rough), np.ones_like(rough), 12.0, 4.0)
    assert edge.outline.hausdorff_distance(BODY) < 2.0


@pytest.mark.parametrize(("leather", "floor"), [((38, 63, 80), (225, 195, 205)), ((110, 60, 40), (150, 160, 165))])
def test_a_soft_shadow_of_its_own_beside_leather_of_another_hue_is_floor(leather, floor):
    shifted = affinity.translate(BODY, 8, 6)
    cover, shade = cover_of(BODY)[..., None], cv2.GaussianBlur(cover_of(shifted), (0, 0), 2.5)[..., None]
    picture = cover * leather + (1 - cover) * floor * (1 - 0.45 * shade)
    picture = np.clip(picture + np.random.default_rng(0).normal(0, 3, picture.shape), 0, 255).astype(np.uint8)
    rough = painted(BODY.union(shifted))
    edge = trace_edge(picture, rough, np.zeros_like(rough), np.ones_like(rough), 12.0, 4.0)
    # the shadow is 8 pixels wide
    assert edge.outline.hausdorff_distance(BODY) < 4.0


@pytest.mark.parametrize(("apart", "half", "steady"), [(100, 4, True), (8, 2.5, False)])
def test_a_spike_that_hardly_shows_is_unsteady(apart, half, steady):
    spiked = BODY.union(Polygon([(100 - half, 145), (100 + half, 145), (100, 205)]))
    cover = cover_of(spiked)[..., None]
    picture = 90 + apart * cover + np.random.default_rng(0).normal(0, 3, (*cover.shape[:2], 3))
    edge = trace_edge(
        picture.astype(np.uint8), painted(spiked), np.zeros((220, 220), bool), np.ones((220, 220), bool), 12.0, 4.0
    )
    moved, ends = unsteady(edge, 0.7, 2.8)
    assert (moved < 2.8) == steady == (not ends)
    if not steady:
        (where,) = ends
        assert Point(where).distance(Point(100, 190)) < 20
        moved, ends = unsteady(edge, 0.7, 2.8, correct=[where])
        assert moved < 2.8 and not ends


def test_a_dark_hair_on_a_pale_uneven_floor_is_kept_though_jpeg_takes_its_hue():
    hair = LineString([(100, 145), (103, 178)]).buffer(1.3)
    cover = cv2.GaussianBlur(cover_of(BODY.union(hair)), (0, 0), 0.7)[..., None]
    folds = cv2.GaussianBlur(np.random.default_rng(3).normal(0, 1, (*cover.shape[:2], 1)), (0, 0), 5)[..., None]
    floor = np.array([150, 156, 170]) + 20 * folds / folds.std()
    picture = floor + cover * (np.array([62, 46, 40]) - floor)
    kept = io.BytesIO()
    Image.fromarray(picture.clip(0, 255).astype(np.uint8)).save(kept, "jpeg", quality=70)
    picture = np.asarray(Image.open(kept))
    edge = trace_edge(picture, painted(BODY), np.zeros((220, 220), bool), np.ones((220, 220), bool), 12.0, 4.0)
    assert edge.outline.distance(Point(103, 178)) < 3


def test_a_spike_that_shows_by_its_hue_alone_is_less_steady_since_jpeg_blurs_hue(monkeypatch):
    spiked = BODY.union(Polygon([(96, 145), (104, 145), (100, 205)]))
    cover = cover_of(spiked)[..., None]
    # 12 grey levels of Cr: as bright on leather as on floor (ITU-R BT.601)
    picture = (
        90 + 12 * np.array([1.402, -0.714, 0]) * cover + np.random.default_rng(0).normal(0, 3, (*cover.shape[:2], 3))
    )
    edge = trace_edge(
        picture.astype(np.uint8), painted(spiked), np.zeros((220, 220), bool), np.ones((220, 220), bool), 12.0, 4.0
    )
    moved = unsteady(edge, 0.7, 2.8)[0]
    monkeypatch.setattr(edge_module, "EDGE", replace(EDGE, hue_noise=1e-6))
    assert moved > 1.5 * unsteady(edge, 0.7, 2.8)[0]


def test_an_outline_that_noise_wipes_out_is_unsteady_by_a_finite_length():
    edge = Edge(BODY, np.zeros((1, 2)), 0.0, 1.0, [], Drawn(None))
    moved, ends = unsteady(edge, 0.7, 2.8)
    assert moved == pytest.approx(0.7 * BODY.length) and np.isfinite(ends).all()
    assert unsteady(edge, 0.7, 2.8, correct=ends[:1])[0] == moved


def test_every_end_that_noise_moves_is_told_at_once_and_no_other():
    short, long, steady = (
        BODY.union(box(at - 1, 145, at + 1, 151 + reach)) for at, reach in ((60, 20), (140, 30), (100, 3))
    )
    edge = Edge(short.union(long).union(steady), np.zeros((1, 2)), 0.0, 1.0, [], Drawn(BODY))
    moved, ends = unsteady(edge, 0.7, 2.8)
    assert moved == pytest.approx(0.7 * 30, abs=1) and ends == [
        pytest.approx((140, 181), abs=1.5),
        pytest.approx((60, 171), abs=1.5),
    ]
    assert not unsteady(edge, 0.7, 2.8, correct=ends)[1]


@pytest.mark.parametrize(("leather", "floor"), [(40, 125), (190, 90)])
def test_a_small_hole_far_from_the_outer_edge_is_judged_by_the_floor_there_is(leather, floor):
    hide = box(40, 40, 1060, 1060).difference(Point(550, 550).buffer(8))
    hole = painted(Point(550, 550).buffer(8), 1100)
    whole = painted(hide, 1100) & ~hole
    cover = cv2.GaussianBlur(whole.astype(np.float32), (0, 0), 1.0)[..., None]
    picture = floor + (leather - floor) * cover + np.random.default_rng(0).normal(0, 3, (1100, 1100, 3))
    edge = trace_edge(picture.astype(np.uint8), whole, hole, np.ones((1100, 1100), bool), 10.0, 4.0)
    (ring,) = edge.outline.interiors
    assert Polygon(ring).area == pytest.approx(np.pi * 8**2, rel=0.15)


def test_a_field_that_is_nowhere_above_zero_holds_no_leather():
    assert _largest(np.full((20, 20), -0.5), np.zeros((20, 20), bool), 4.0) is None
