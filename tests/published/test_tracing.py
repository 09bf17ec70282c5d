"""Tracing against general reference libraries, photographs that scikit-image carries, and published sizes."""

import cv2
import numpy as np
import pytest
import shapely
import skimage.data
from shapely.geometry import Polygon, box
from skimage.measure import label, regionprops

from nesting.tracing.camera import _calibrated
from nesting.tracing.edge import trace_edge
from nesting.tracing.markers import MARKER_MM, marker_place
from nesting.tracing.references import LETTER_MM
from nesting.tracing.scale import Seen, solve_scale

SIZE = (2000, 1500)


def photographed(focal, k1, k2, poses, points):
    """Pixels about the middle of the picture of flat sheets before a pinhole with a lens, by OpenCV's projection."""
    radius = np.hypot(SIZE[0] - 1, SIZE[1] - 1) / 2
    # OpenCV's radial terms are in focal lengths, ours in half diagonals.
    terms = np.array([k1 * (focal / radius) ** 2, k2 * (focal / radius) ** 4, 0, 0])
    matrix = np.array([[focal, 0, 0], [0, focal, 0], [0, 0, 1.0]])
    flat = np.c_[points, np.zeros(len(points))].astype(np.float64)
    return [
        cv2.projectPoints(flat, np.array(turn), np.array(shift), matrix, terms)[0].reshape(-1, 2)
        for turn, shift in poses
    ]


POSES = [
    ((2.7, 0.4, 0.1), (-300.0, 200.0, 1500.0)),
    ((-2.6, 0.3, 0.6), (250.0, -150.0, 1400.0)),
    ((3.0, -0.5, 0.2), (0.0, 300.0, 1700.0)),
    ((2.5, 0.1, -0.7), (500.0, 350.0, 1800.0)),
    ((2.9, 0.6, -0.2), (-500.0, -300.0, 1600.0)),
]
CORNERS = np.vstack([marker_place(marker)[1] for marker in range(4)]) - (105, 148.5)


def test_the_calibration_agrees_with_that_of_opencv():
    # Reference: OpenCV's calibrateCamera, focal length and two radial terms free, axis in the middle, square pixels.
    chance = np.random.default_rng(5)
    seen = [one + chance.normal(0, 0.1, one.shape) for one in photographed(1700.0, 0.02, -0.005, POSES, CORNERS)]
    ours, _, _ = _calibrated(
        [(CORNERS, one, np.zeros_like(CORNERS)) for one in seen], max(SIZE), np.hypot(SIZE[0] - 1, SIZE[1] - 1) / 2
    )
    flags = (
        cv2.CALIB_FIX_ASPECT_RATIO
        | cv2.CALIB_FIX_PRINCIPAL_POINT
        | cv2.CALIB_ZERO_TANGENT_DIST
        | cv2.CALIB_FIX_K3
        | cv2.CALIB_USE_INTRINSIC_GUESS
    )
    middle = (np.array(SIZE) - 1) / 2
    guess = np.array([[1500.0, 0, middle[0]], [0, 1500.0, middle[1]], [0, 0, 1]])
    flat = np.c_[CORNERS, np.zeros(len(CORNERS))].astype(np.float32)
    _, matrix, terms, _, _ = cv2.calibrateCamera(
        [flat] * 5, [(one + middle).astype(np.float32) for one in seen], SIZE, guess, np.zeros(5), flags=flags
    )
    assert np.exp(ours[0]) * max(SIZE) == pytest.approx(matrix[0, 0], rel=2e-3)
    radius = np.hypot(SIZE[0] - 1, SIZE[1] - 1) / 2
    theirs = np.ravel(terms)[0] * (radius / matrix[0, 0]) ** 2 + np.ravel(terms)[1] * (radius / matrix[0, 0]) ** 4
    assert ours[1] + ours[2] == pytest.approx(theirs, abs=2e-3)


def test_a_lens_bent_by_opencv_is_straightened():
    poses = [(POSES[0][0], shift) for shift in ((-300.0, 200.0, 1500.0),)]
    middle = (np.array(SIZE) - 1) / 2
    floor = np.array([(-500, -300), (400, -350), (450, 300), (-400, 320)], dtype=float)
    sheets = [CORNERS * 0.9 + place for place in floor]
    pixels = [photographed(1700.0, 0.02, -0.005, poses, sheet)[0] + middle for sheet in sheets]
    scale = solve_scale("markers", [Seen(CORNERS * 0.9, one, None) for one in pixels], SIZE, sigma_pixels=0.1)
    hide = np.array([(-450, 0), (0, -300), (420, 20), (30, 280), (200, -200)], dtype=float)
    found = scale.to_mm(photographed(1700.0, 0.02, -0.005, poses, hide)[0] + middle)
    apart = [np.hypot(*(p[:, None] - p[None]).transpose(2, 0, 1)) for p in (hide, found)]
    # Points between the sheets, 400 to 900 mm apart, to 0.2 mm.
    assert np.abs(apart[0] - apart[1]).max() < 0.2


def test_letter_paper_is_eight_and_a_half_by_eleven_inches():
    # ANSI/ASME Y14.1 size A, quoted from memory: 8.5 in x 11 in; 1 in = 25.4 mm exactly.
    assert LETTER_MM == pytest.approx((8.5 * 25.4, 11 * 25.4))


def traced_silhouette(inside, blur=1.0):
    """The outline of a silhouette, drawn as leather on floor, by the fine stage of tracing."""
    cover = cv2.GaussianBlur(inside.astype(np.float32), (0, 0), blur)[..., None]
    chance = np.random.default_rng(1)
    picture = cover * (150, 90, 50) + (1 - cover) * (190, 190, 185) + chance.normal(0, 3, (*inside.shape, 3))
    whole = inside.astype(bool)
    return trace_edge(np.clip(picture, 0, 255).astype(np.uint8), whole, ~whole, np.ones_like(whole), 6.0, 6.0).outline


def test_the_horse_has_the_area_that_scikit_image_measures():
    # scikit-image's horse silhouette; its regionprops as the reference for the area.
    horse = np.pad(~skimage.data.horse().astype(bool), 20)
    horse = cv2.resize(horse.astype(np.uint8), None, fx=3, fy=3, interpolation=cv2.INTER_NEAREST) > 0
    region = max(regionprops(label(horse)), key=lambda one: one.area)
    outline = traced_silhouette(label(horse) == region.label)
    assert outline.area == pytest.approx(region.area, rel=0.005)
    assert outline.bounds == pytest.approx((region.bbox[1], region.bbox[0], region.bbox[3], region.bbox[2]), abs=3)


def test_every_coin_is_traced_with_the_area_that_scikit_image_measures():
    # scikit-image's photograph of 24 coins, parted from their ground by its own threshold and labels.
    from skimage.filters import threshold_otsu
    from skimage.morphology import closing, footprint_rectangle
    from skimage.segmentation import clear_border

    coins = skimage.data.coins()
    filled = closing(coins > threshold_otsu(coins), footprint_rectangle((3, 3)))
    regions = [one for one in regionprops(label(clear_border(filled))) if one.area > 500]
    assert 15 <= len(regions) <= 24
    for region in regions:
        coin = np.pad(region.image_filled, 20)
        coin = cv2.resize(coin.astype(np.uint8), None, fx=4, fy=4, interpolation=cv2.INTER_NEAREST) > 0
        assert traced_silhouette(coin).area == pytest.approx(coin.sum(), rel=0.01)


def test_a_shape_printed_on_the_marker_sheet_has_its_area():
    # A printed marker is a square of known side; seen at 35 degrees it is measured back through the other markers.
    poses = [((2.55, 0.3, 0.1), (-100.0, 150.0, 900.0))]
    middle = (np.array(SIZE) - 1) / 2
    pixels = photographed(1700.0, 0.0, 0.0, poses, CORNERS)[0] + middle
    scale = solve_scale("markers", [Seen(CORNERS[:12], pixels[:12], None)], SIZE, sigma_pixels=0.1)
    square = Polygon(scale.to_mm(pixels[12:16]))
    assert square.area == pytest.approx(MARKER_MM**2, rel=1e-3)
    assert shapely.minimum_rotated_rectangle(square).area == pytest.approx(
        box(0, 0, MARKER_MM, MARKER_MM).area, rel=2e-3
    )
