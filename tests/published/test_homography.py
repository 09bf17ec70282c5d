"""Homographies and marker codes against OpenCV and scikit-image, general reference libraries."""

import cv2
import numpy as np
import pytest
from skimage.transform import ProjectiveTransform

from nesting.tracing.markers import dictionary
from nesting.tracing.scale import Seen, homography, solve_scale

SHEET = np.array([(0, 297), (210, 297), (210, 0), (0, 0)], dtype=float)
QUADS = [
    [(812.3, 74.1), (997.6, 96.0), (982.4, 358.7), (811.9, 334.5)],
    [(100.0, 100.0), (1900.0, 200.0), (1700.0, 1400.0), (300.0, 1200.0)],
    [(50.5, 60.25), (70.0, 61.0), (69.5, 95.0), (49.0, 92.5)],
]


@pytest.mark.parametrize("quad", QUADS)
def test_four_points_give_the_homography_of_opencv(quad):
    theirs = cv2.getPerspectiveTransform(SHEET.astype(np.float32), np.float32(quad))
    ours = homography(SHEET, np.float32(quad).astype(float))
    assert np.abs((ours - theirs) / np.abs(theirs).max(axis=1, keepdims=True)).max() < 1e-6


@pytest.mark.parametrize("quad", QUADS)
def test_four_points_give_the_homography_of_scikit_image(quad):
    theirs = ProjectiveTransform.from_estimate(SHEET, np.array(quad))(np.array([(105.0, 148.5), (20.0, 250.0)]))
    moved = np.array([(105, 148.5, 1), (20, 250, 1)]) @ homography(SHEET, np.array(quad)).T
    assert moved[:, :2] / moved[:, 2:] == pytest.approx(theirs, abs=1e-6)


def test_many_points_give_the_homography_of_opencv():
    chance = np.random.default_rng(3)
    matrix = np.array([[1.2, 0.1, 300], [-0.2, -1.1, 900], [2e-5, -4e-5, 1]])
    mm = chance.uniform(-800, 800, (40, 2))
    moved = np.c_[mm, np.ones(40)] @ matrix.T
    pixels = moved[:, :2] / moved[:, 2:]
    theirs, _ = cv2.findHomography(mm, pixels, 0)
    # OpenCV works on single-precision points, hence relative to the size of each row.
    assert np.abs((homography(mm, pixels) - theirs) / np.abs(theirs).max(axis=1, keepdims=True)).max() < 1e-6


def test_measured_points_are_fitted_to_the_least_squares_homography_of_opencv():
    chance = np.random.default_rng(4)
    matrix = np.array([[0.9, 0.1, 1000], [0.05, -0.95, 700], [1e-5, -3e-5, 1]])
    mm = chance.uniform(-700, 700, (12, 2))
    moved = np.c_[mm, np.ones(12)] @ matrix.T
    pixels = moved[:, :2] / moved[:, 2:] + chance.normal(0, 0.05, (12, 2))
    theirs, _ = cv2.findHomography(mm, pixels, 0)
    ours = solve_scale("points", [Seen(mm, pixels, None)], (2000, 1500), sigma_pixels=1.5, upright=False)
    places = np.c_[mm, np.ones(12)] @ theirs.T
    # The lens is left nearly free to bend here, so the two may differ by less than the noise, not by rounding alone.
    assert np.abs(ours.to_pixels(mm) - places[:, :2] / places[:, 2:]).max() < 0.05


def test_every_marker_of_the_sheets_is_decoded_by_opencv():
    detector = cv2.aruco.ArucoDetector(dictionary(), cv2.aruco.DetectorParameters())
    for marker in range(32):
        cells = dictionary().generateImageMarker(marker, 7, np.empty((7, 7), np.uint8), 1)
        picture = np.full((130, 130), 255, np.uint8)
        picture[30:100, 30:100] = np.kron(cells, np.ones((10, 10), np.uint8))
        _, ids, _ = detector.detectMarkers(picture)
        assert ids is not None and ids.ravel().tolist() == [marker]
