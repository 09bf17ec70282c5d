"""From a photo of a hide on a floor to its outline in mm."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..files.errors import FileError
from .edge import largest_polygon, trace_edge
from .leather import WORK_PIXELS, Ground, find_leather
from .photo import load_photo
from .references import find_scale
from .scale import Scale

STRAIGHT_PIXELS = 2300
PAPER_RIM_MM = 4.0
WORST_SHARE = 0.05
FURTHEST = 5.0
"""The straightened photo stops where a pixel covers so many times the mm of one at the reference."""


@dataclass(frozen=True)
class Trace:
    """The outline of a hide and how it was found.

    Attributes
    ----------
    outline : Polygon
        With holes; mm, y up, the lower left corner of its bounding box at (0, 0).
    reference : str
        What gave the scale: ``markers``, ``a4``, ``card`` or ``points``.
    mm_per_pixel : float
        Of ``straight``.
    expected_error_mm : float
        In about two cases of three, 99 % of the outline is nearer to the truth than this, as far as the reference, the
        camera and the sharpness of the edge tell. A hide that does not lie flat, or sheets printed at the wrong size,
        add to it; points and bays narrower than two pixels are rounded off.
    straight : numpy.ndarray
        (h, w, 3) uint8 RGB: the photo as seen from straight above.
    origin_mm : (float, float)
        Where the centre of the upper left pixel of ``straight`` lies, in the coordinates of the outline.
    references_mm : tuple of Polygon
        The sheets, card or measured points, in the coordinates of the outline.
    """

    outline: Polygon
    reference: str
    mm_per_pixel: float
    expected_error_mm: float
    straight: np.ndarray
    origin_mm: tuple[float, float]
    references_mm: tuple[Polygon, ...]

    def to_mm(self, pixels: np.ndarray) -> np.ndarray:
        """(n, 2) pixels (column, row) of ``straight`` to (n, 2) mm."""
        return np.asarray(pixels, dtype=float) * (self.mm_per_pixel, -self.mm_per_pixel) + self.origin_mm

    def to_pixels(self, mm: np.ndarray) -> np.ndarray:
        """(n, 2) mm to (n, 2) pixels (column, row) of ``straight``."""
        return (np.asarray(mm, dtype=float) - self.origin_mm) / (self.mm_per_pixel, -self.mm_per_pixel)


def trace_photo(
    photo: str | Path,
    *,
    reference: str = "auto",
    corners=None,
    points=None,
    tolerance_mm: float = 0.5,
    smallest_hole_mm: float = 4.0,
    inside=(),
    outside=(),
) -> Trace:
    """Trace the hide in a photo.

    Parameters
    ----------
    photo : str or Path
        The hide lying flat, all of it in the picture, with floor on every side.
    reference : str
        What gives the scale: ``markers`` (the printed sheets, anywhere around the hide), ``a4``, ``card``, ``points``,
        or ``auto`` (markers, else A4; points if they are given). With a sheet or card the photo must not be cropped.
    corners : sequence of four (px, py), optional
        Corners of the sheet or card in photo pixels, in turn.
    points : sequence of ((px, py), (x, y)), optional
        Four pairs or more: photo pixel and its true place in mm, y up.
    tolerance_mm : float
        How far the outline may be simplified.
    smallest_hole_mm : float
        Diameter of the smallest hole that is kept.
    inside, outside : sequence of (px, py)
        Photo pixels known to be leather, or not.

    Returns
    -------
    Trace

    Raises
    ------
    FileError
        If the photo cannot be read, gives no scale, or does not show the leather clearly.
    """
    photo = Path(photo)
    for name, value, top in (("tolerance_mm", tolerance_mm, 20), ("smallest_hole_mm", smallest_hole_mm, 1000)):
        if not (isinstance(value, (int, float)) and 0 < value <= top):
            raise FileError(photo, name, value, f"give more than 0 and at most {top} mm")
    picture = load_photo(photo)
    inside, outside = (
        _points(photo, name, given, picture) for name, given in (("inside", inside), ("outside", outside))
    )
    scale = find_scale(photo, picture, reference, corners, points)
    straight, seen, mm_per_pixel, corner = _straighten(photo, picture, scale)

    def to_straight(mm):
        return (mm - corner) / (mm_per_pixel, -mm_per_pixel)

    paper = np.zeros(seen.shape, np.uint8)
    if scale.kind != "points":
        _paint(paper, [shapely.transform(sheet.buffer(PAPER_RIM_MM), to_straight) for sheet in scale.papers])
    inside, outside = (to_straight(scale.to_mm(given)) for given in (inside, outside))
    leather = find_leather(Ground(photo, straight, seen, paper > 0, inside, outside))
    usable = seen & (paper == 0)
    reach = 1.8 * max(1.0, max(seen.shape) / WORK_PIXELS) + 1
    shape, blur = trace_edge(straight, leather, usable, reach, smallest_hole_mm / mm_per_pixel)
    outline = (
        None
        if shape is None
        else _simplified(shapely.transform(shape, lambda p: p * (mm_per_pixel, -mm_per_pixel) + corner), tolerance_mm)
    )
    if outline is None or outline.is_empty:
        raise FileError(photo, "leather against floor", "no outline", "use a floor of another colour or brightness")
    error = _expected_error(photo, scale, outline, mm_per_pixel * (0.5 + blur**2))
    low = np.array(outline.bounds[:2])
    return Trace(
        shapely.transform(outline, lambda p: p - low),
        scale.kind,
        mm_per_pixel,
        error,
        straight,
        tuple(float(value) for value in corner - low),
        tuple(shapely.transform(sheet, lambda p: p - low) for sheet in scale.papers),
    )


def _points(photo: Path, name: str, given, picture: np.ndarray) -> np.ndarray:
    try:
        pixels = np.array([tuple(point) for point in given], dtype=float).reshape(-1, 2)
    except (TypeError, ValueError):
        raise FileError(photo, name, given, "give points in pixels, each as x,y") from None
    height, width = picture.shape[:2]
    if not (np.isfinite(pixels).all() and (pixels >= -0.5).all() and (pixels <= (width - 0.5, height - 0.5)).all()):
        raise FileError(photo, name, "outside the picture", f"give pixels from 0,0 to {width - 1},{height - 1}")
    return pixels


def _straighten(photo: Path, picture: np.ndarray, scale: Scale) -> tuple[np.ndarray, np.ndarray, float, np.ndarray]:
    """The photo as seen from above, where it reaches, its mm per pixel, and the mm of its first pixel."""
    import cv2

    height, width = picture.shape[:2]
    x, y = np.meshgrid(np.linspace(0, width - 1, 81), np.linspace(0, height - 1, 61))
    grid = np.c_[x.ravel(), y.ravel()]
    fine = _mm_a_pixel(scale, grid)
    middle = _mm_a_pixel(scale, scale.to_pixels(np.array([sheet.centroid.coords[0] for sheet in scale.papers])))
    near = np.isfinite(fine) & (fine < FURTHEST * np.nanmin(middle))
    if near.mean() < 0.3:
        raise FileError(
            photo, "reference", "the floor is seen too much from the side", "photograph the hide from above it"
        )
    places = scale.to_mm(grid[near])
    low, high = places.min(axis=0), places.max(axis=0)
    mm_per_pixel = float(max(np.median(fine[near]), (high - low).max() / STRAIGHT_PIXELS))
    columns, rows = np.ceil((high - low) / mm_per_pixel).astype(int) + 1
    corner = np.array([low[0], high[1]])
    shrink = max(1, round(mm_per_pixel / np.median(fine[near])))
    if shrink > 1:
        picture = cv2.resize(picture, (width // shrink, height // shrink), interpolation=cv2.INTER_AREA)
    # The mapping is smooth: every eighth pixel is worked out, with a cell to spare all round, the rest interpolated.
    cells = rows // 8 + 3, columns // 8 + 3
    row, column = (np.indices(cells).reshape(2, -1) - 0.5) * 8 - 0.5
    mm = np.c_[column, row] * (mm_per_pixel, -mm_per_pixel) + corner
    pixels = (scale.to_pixels(mm) + 0.5) * (picture.shape[1] / width, picture.shape[0] / height) - 0.5
    map_x, map_y, front = (
        cv2.resize(part.reshape(cells).astype(np.float32), (8 * cells[1], 8 * cells[0]))[8 : 8 + rows, 8 : 8 + columns]
        for part in (*np.clip(pixels, -1e5, 1e6).T, scale.in_front(mm))
    )
    straight = cv2.remap(
        picture, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=(236,) * 3
    )
    rim = 1.5
    seen = (map_x > rim) & (map_y > rim) & (map_x < picture.shape[1] - 1 - rim) & (map_y < picture.shape[0] - 1 - rim)
    return straight, seen & (front > 0.999), mm_per_pixel, corner


def _mm_a_pixel(scale: Scale, pixels: np.ndarray) -> np.ndarray:
    """Side of the square of the same area as a photo pixel on the floor; infinite above the horizon."""
    here, right, below = (scale.to_mm(pixels + step) for step in ((0, 0), (1, 0), (0, 1)))
    a, b = right - here, below - here
    side = np.sqrt(np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]))
    return np.where(scale.in_front(here), side, np.inf)


def _paint(mask: np.ndarray, polygons) -> None:
    import cv2

    for polygon in polygons:
        cv2.fillPoly(mask, [np.round(np.asarray(polygon.exterior.coords) * 16).astype(np.int32)], 1, shift=4)


def _simplified(outline: Polygon, tolerance_mm: float) -> Polygon:
    return largest_polygon(outline.simplify(tolerance_mm, preserve_topology=True)) or Polygon()


def _expected_error(photo: Path, scale: Scale, outline: Polygon, edge_mm: float) -> float:
    ring = shapely.line_interpolate_point(outline.exterior, np.linspace(0, 1, 120, endpoint=False), normalized=True)
    shape_mm = scale.shape_error_mm(scale.to_pixels(shapely.get_coordinates(ring)))
    left, low, right, high = outline.bounds
    size = math.hypot(right - left, high - low)
    if not shape_mm < WORST_SHARE * size:
        mend = "the reference is too small or seen from the side: use marker sheets, a nearer photo, or one from above"
        raise FileError(photo, "scale", f"expected error {shape_mm:.0f} mm over {size:.0f} mm", mend)
    return math.hypot(shape_mm, edge_mm)
