"""How much of each pixel a shape covers, as a photo shows it, and the line traced through it."""

import cv2
import numpy as np

from nesting.tracing.limits import METHOD

SIZE = 300
BLUR = METHOD.edge.least_blur_pixels
"""Of the smoothing that the line is traced after."""


def seen(shape, blur=1.2, noise=0.03):
    """The share of each pixel that the shape covers, through a blurred photo with noise."""
    fine = np.zeros((SIZE * 8, SIZE * 8), np.uint8)
    cv2.fillPoly(fine, [np.round((np.asarray(shape.exterior.coords) + 0.5) * 8 - 0.5).astype(np.int32)], 255)
    cover = cv2.resize(fine, (SIZE, SIZE), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    cover = cv2.GaussianBlur(cover, (0, 0), blur)
    return cover + np.random.default_rng(0).normal(0, noise, cover.shape).astype(np.float32)


def traced(cover):
    from contourpy import contour_generator

    rings = contour_generator(z=np.pad(cv2.GaussianBlur(cover, (0, 0), BLUR), 1)).lines(0.5)
    return max(rings, key=len) - 1
