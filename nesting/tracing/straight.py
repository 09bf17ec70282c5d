"""The photo as seen from straight above."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from shapely.geometry import Polygon

from ..errors import FileError
from .arrays import Floats, Picture
from .limits import METHOD, TraceLimits
from .scale import Scale

OUTLINE = METHOD.outline


def straighten(
    photo: Path, picture: Picture, scale: Scale, view: Polygon, limits: TraceLimits
) -> tuple[Picture, float, Floats]:
    """The photo as seen from above, as far as it shows a view (a box in mm), its mm per pixel, and the mm of its first
    pixel."""
    import cv2

    height, width = picture.shape[:2]
    x, y = np.meshgrid(np.linspace(0, width - 1, OUTLINE.view_columns), np.linspace(0, height - 1, OUTLINE.view_rows))
    grid = np.c_[x.ravel(), y.ravel()]
    fine = mm_a_pixel(scale, grid)
    near = np.isfinite(fine) & (fine < OUTLINE.furthest_times * nearest_mm(scale))
    if near.mean() < limits.near_share:
        raise FileError(
            photo, "reference", "the floor is seen too much from the side", "photograph the hide from above it"
        )
    places = scale.to_mm(grid[near])
    low, high = np.maximum(places.min(axis=0), view.bounds[:2]), np.minimum(places.max(axis=0), view.bounds[2:])
    seen = fine[near][((places >= low) & (places <= high)).all(axis=1)]
    mm_per_pixel = float(max(np.median(seen), (high - low).max() / OUTLINE.straight_pixels))
    columns, rows = np.ceil((high - low) / mm_per_pixel).astype(int) + 1
    corner = np.array([low[0], high[1]])
    shrink = max(1, round(mm_per_pixel / np.median(seen)))
    if shrink > 1:
        picture = cv2.resize(picture, (width // shrink, height // shrink), interpolation=cv2.INTER_AREA)
    # The mapping is smooth: one pixel in some is worked out, with a cell to spare all round, the rest interpolated.
    step = OUTLINE.straight_step
    cells = rows // step + 3, columns // step + 3
    row, column = (np.indices(cells).reshape(2, -1) - 0.5) * step - 0.5
    mm = np.c_[column, row] * (mm_per_pixel, -mm_per_pixel) + corner
    pixels = (scale.to_pixels(mm) + 0.5) * (picture.shape[1] / width, picture.shape[0] / height) - 0.5
    map_x, map_y, front = (
        cv2.resize(each.reshape(cells).astype(np.float32), (step * cells[1], step * cells[0]))[
            step : step + rows, step : step + columns
        ]
        for each in (*np.clip(pixels, -1e5, 1e6).T, scale.in_front(mm))
    )
    straight: Picture = cv2.remap(
        picture, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=(236,) * 3
    )
    straight[
        cv2.resize((~(front > 0.999)).astype(np.uint8), straight.shape[1::-1], interpolation=cv2.INTER_NEAREST) > 0
    ] = 236
    return straight, mm_per_pixel, corner


def mm_a_pixel(scale: Scale, pixels: Floats) -> Floats:
    """Side of the square of the same area as a photo pixel on the floor; infinite above the horizon."""
    here, right, below = (scale.to_mm(pixels + step) for step in ((0, 0), (1, 0), (0, 1)))
    a, b = right - here, below - here
    side = np.sqrt(np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]))
    return np.where(scale.in_front(here), side, np.inf)


def nearest_mm(scale: Scale) -> float:
    """Of a photo pixel at the nearest reference."""
    return float(
        np.nanmin(mm_a_pixel(scale, scale.to_pixels(np.array([sheet.centroid.coords[0] for sheet in scale.papers]))))
    )
