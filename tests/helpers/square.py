"""A square of leather in a small picture, and how much of each pixel a shape covers there."""

import cv2
import numpy as np
from shapely.geometry import box

BODY = box(50, 50, 150, 150)


def painted(shape, size=220):
    mask = np.zeros((size, size), np.uint8)
    cv2.fillPoly(mask, [np.round(np.asarray(shape.exterior.coords)).astype(np.int32)], 1)
    return mask > 0


def cover_of(shape, strength=1.0):
    return cv2.GaussianBlur(strength * painted(shape).astype(np.float32), (0, 0), 1.0)
