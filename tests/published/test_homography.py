"""Homographies against OpenCV."""

import cv2
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.trace.scale import homography

SQUARE = np.array([(0, 0), (210, 0), (210, 297), (0, 297)], float)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-40, 40), min_size=8, max_size=8))
def test_four_points_give_opencvs_perspective_transform(shifts):
    target = SQUARE * 3 + np.array(shifts).reshape(4, 2) + 500
    ours = homography(SQUARE, target)
    theirs = cv2.getPerspectiveTransform(SQUARE.astype(np.float32), target.astype(np.float32))
    spots = np.array([(x, y, 1) for x in (0, 70, 210) for y in (0, 150, 297)], float).T
    mapped = [m @ spots for m in (ours, theirs)]
    assert np.abs(mapped[0][:2] / mapped[0][2] - mapped[1][:2] / mapped[1][2]).max() < 1e-3  # OpenCV takes single floats


def test_many_points_give_opencvs_least_squares():
    random = np.random.default_rng(3)
    source = random.uniform(0, 1000, (30, 2))
    true = np.array([[1.1, 0.1, 40], [-0.05, 0.9, 60], [1e-4, -5e-5, 1]])
    full = np.column_stack([source, np.ones(30)]) @ true.T
    target = full[:, :2] / full[:, 2:] + random.normal(0, 0.3, (30, 2))
    ours, theirs = homography(source, target), cv2.findHomography(source, target, 0)[0]

    def misfit(matrix):
        seen = np.column_stack([source, np.ones(30)]) @ matrix.T
        return np.sqrt(((seen[:, :2] / seen[:, 2:] - target) ** 2).sum(axis=1).mean())

    assert misfit(ours) < 1.02 * misfit(theirs)
