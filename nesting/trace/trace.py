"""From a photo of a hide on a floor to its outline in mm."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..files.errors import FileError
from .edge import Edge, largest_polygon, trace_edge
from .leather import Ground, find_leather
from .mend import mended
from .photo import load_photo
from .references import find_scale
from .scale import Scale

STRAIGHT_PIXELS = 2000
ROUGH_PIXELS, MEND_PIXELS = 760, 2000
"""Longest side of the photo when leather is first told from floor, and when bays and points are put right."""
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
    edge = _find_edge(photo, picture, scale, inside, outside, smallest_hole_mm)
    outline = None if edge is None else _simplified(shapely.transform(edge.outline, scale.to_mm), tolerance_mm)
    if outline is None or outline.is_empty:
        raise FileError(photo, "leather against floor", "no outline", "use a floor of another colour or brightness")
    straight, mm_per_pixel, corner = _straighten(photo, picture, scale)
    error = _expected_error(photo, scale, outline, edge, tolerance_mm)
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


def _find_edge(photo: Path, picture: np.ndarray, scale: Scale, inside, outside, smallest_hole_mm: float) -> Edge | None:
    """From rough to fine: where leather is, its bays and holes, then its edge to a part of a pixel."""
    import cv2

    sheets = []
    if scale.kind != "points":
        sheets = [shapely.segmentize(sheet.buffer(PAPER_RIM_MM, join_style="mitre"), 20.0) for sheet in scale.papers]
        sheets = [scale.to_pixels(np.asarray(sheet.exterior.coords)) for sheet in sheets]
    small, to_small = _smaller(picture, ROUGH_PIXELS)
    shape = small.shape[:2]
    leather = find_leather(
        Ground(photo, small, _seen(scale, shape, to_small), _painted(shape, sheets, to_small), _dots(shape, inside, to_small), _dots(shape, outside, to_small))
    )
    middle, to_middle = _smaller(picture, MEND_PIXELS)
    rough = to_middle / to_small
    leather = cv2.resize(leather.astype(np.float32), middle.shape[1::-1], interpolation=cv2.INTER_LINEAR) > 0.5
    cut, leather = _cut(leather, int(12 * rough) + 20)
    usable = ~_painted(middle.shape[:2], sheets, to_middle)[cut]
    mm = float(np.median(mm_a_pixel(scale, _some(leather, cut) / to_middle))) / to_middle
    whole, holes = mended(np.ascontiguousarray(middle[cut]), leather, usable, 1.8 * rough + 1, smallest_hole_mm / mm)
    back = 1 / to_middle
    (top, bottom), (left, right) = ((int(side.start * back), int(math.ceil(side.stop * back))) for side in cut)
    part = picture[top:bottom, left:right]
    size = part.shape[1::-1]
    whole = cv2.resize(whole.astype(np.float32), size, interpolation=cv2.INTER_LINEAR) > 0.5
    holes = cv2.resize(holes.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    usable = ~_painted(part.shape[:2], [sheet - (left, top) for sheet in sheets], 1.0)
    edge = trace_edge(part, whole, holes, usable, 1.8 * back / to_small * to_middle + 1, smallest_hole_mm / mm * back)
    if edge is None:
        return None
    return Edge(shapely.transform(edge.outline, lambda p: p + (left, top)), edge.places + (left, top), edge.contrast, edge.blur)


def _smaller(picture: np.ndarray, longest: int) -> tuple[np.ndarray, float]:
    """The picture at most so many pixels long, and how much smaller it became."""
    import cv2

    share = min(1.0, longest / max(picture.shape))
    if share == 1:
        return picture, 1.0
    size = tuple(max(1, round(side * share)) for side in picture.shape[1::-1])
    return cv2.resize(picture, size, interpolation=cv2.INTER_AREA), share


def _cut(mask: np.ndarray, margin: int):
    """The rows and columns that hold the mask, and the mask there."""
    (top, bottom), (left, right) = (
        (int(np.flatnonzero(mask.any(axis=axis))[0]), int(np.flatnonzero(mask.any(axis=axis))[-1]) + 1) for axis in (1, 0)
    )
    cut = np.s_[max(top - margin, 0) : bottom + margin, max(left - margin, 0) : right + margin]
    cut = tuple(slice(side.start, min(side.stop, whole)) for side, whole in zip(cut, mask.shape))
    return cut, np.ascontiguousarray(mask[cut])


def _some(mask: np.ndarray, cut) -> np.ndarray:
    rows, columns = np.nonzero(mask[::40, ::40])
    return np.c_[columns * 40 + cut[1].start, rows * 40 + cut[0].start].astype(float)


def _painted(shape, polygons, share: float) -> np.ndarray:
    """Which pixels of a picture made smaller lie in one of the polygons, given in pixels of the photo."""
    import cv2

    mask = np.zeros(shape, np.uint8)
    for polygon in polygons:
        places = np.clip((polygon + 0.5) * share - 0.5, -30_000, 30_000)
        cv2.fillPoly(mask, [np.round(places * 16).astype(np.int32)], 1, shift=4)
    return mask > 0


def _dots(shape, points: np.ndarray, share: float) -> np.ndarray:
    import cv2

    mask = np.zeros(shape, np.uint8)
    for x, y in np.round((points + 0.5) * share - 0.5).astype(int):
        cv2.circle(mask, (int(x), int(y)), 3, 1, -1)
    return mask > 0


def _seen(scale: Scale, shape, share: float) -> np.ndarray:
    """Where the smaller picture shows floor that is not many times further away than the references."""
    import cv2

    x, y = np.meshgrid(*(np.linspace(0, side - 1, cells) for side, cells in zip(shape[::-1], (81, 61))))
    fine = mm_a_pixel(scale, (np.c_[x.ravel(), y.ravel()] + 0.5) / share - 0.5)
    near = np.isfinite(fine) & (fine < FURTHEST * _nearest_mm(scale))
    return cv2.resize(near.reshape(x.shape).astype(np.float32), shape[::-1], interpolation=cv2.INTER_LINEAR) > 0.5


def _nearest_mm(scale: Scale) -> float:
    return float(np.nanmin(mm_a_pixel(scale, scale.to_pixels(np.array([sheet.centroid.coords[0] for sheet in scale.papers])))))


def _points(photo: Path, name: str, given, picture: np.ndarray) -> np.ndarray:
    try:
        pixels = np.array([tuple(point) for point in given], dtype=float).reshape(-1, 2)
    except (TypeError, ValueError):
        raise FileError(photo, name, given, "give points in pixels, each as x,y") from None
    height, width = picture.shape[:2]
    if not (np.isfinite(pixels).all() and (pixels >= -0.5).all() and (pixels <= (width - 0.5, height - 0.5)).all()):
        raise FileError(photo, name, "outside the picture", f"give pixels from 0,0 to {width - 1},{height - 1}")
    return pixels


def _straighten(photo: Path, picture: np.ndarray, scale: Scale) -> tuple[np.ndarray, float, np.ndarray]:
    """The photo as seen from above, its mm per pixel, and the mm of its first pixel."""
    import cv2

    height, width = picture.shape[:2]
    x, y = np.meshgrid(np.linspace(0, width - 1, 81), np.linspace(0, height - 1, 61))
    grid = np.c_[x.ravel(), y.ravel()]
    fine = mm_a_pixel(scale, grid)
    near = np.isfinite(fine) & (fine < FURTHEST * _nearest_mm(scale))
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
    straight[cv2.resize((~(front > 0.999)).astype(np.uint8), straight.shape[1::-1], interpolation=cv2.INTER_NEAREST) > 0] = 236
    return straight, mm_per_pixel, corner


def mm_a_pixel(scale: Scale, pixels: np.ndarray) -> np.ndarray:
    """Side of the square of the same area as a photo pixel on the floor; infinite above the horizon."""
    here, right, below = (scale.to_mm(pixels + step) for step in ((0, 0), (1, 0), (0, 1)))
    a, b = right - here, below - here
    side = np.sqrt(np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]))
    return np.where(scale.in_front(here), side, np.inf)


def _simplified(outline: Polygon, tolerance_mm: float) -> Polygon:
    return largest_polygon(outline.simplify(tolerance_mm, preserve_topology=True)) or Polygon()


def _expected_error(photo: Path, scale: Scale, outline: Polygon, edge: Edge, tolerance_mm: float) -> float:
    ring = shapely.line_interpolate_point(outline.exterior, np.linspace(0, 1, 120, endpoint=False), normalized=True)
    shape_mm = scale.shape_error_mm(scale.to_pixels(shapely.get_coordinates(ring)))
    left, low, right, high = outline.bounds
    size = math.hypot(right - left, high - low)
    if not shape_mm < WORST_SHARE * size:
        mend = "the reference is too small or seen from the side: use marker sheets, a nearer photo, or one from above"
        raise FileError(photo, "scale", f"expected error {shape_mm:.0f} mm over {size:.0f} mm", mend)
    pixel_mm = np.median(mm_a_pixel(scale, edge.places))
    return float(np.hypot(np.hypot(shape_mm, tolerance_mm), pixel_mm * (0.5 + np.median(edge.blur) ** 2 / 2)))
