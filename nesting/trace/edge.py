"""Place the edge of the leather, and of the holes in it, to a fraction of a pixel."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from .colours import Colours, disc, even_light, grown, lab, nearest

FLOOR_LIKE = 16.0
UNLIKE = 16.0
"""Squared distances in variances; 16 keeps 99.9 % of a normal colour (chi-square, three degrees of freedom)."""
MIXED, CLOSE, SMALL = 0.08, 0.03, 5.0
"""Share of the distance from leather to floor at which a pixel may be floor blurred, and at which the middle of a hole
of so many pixels' radius still is floor."""
ROUGH, SMOOTH = 3.0, 0.35
"""Standard deviation of L* over a few pixels from which a floor is rough, and the share of it a hole must show."""


def trace_edge(
    picture: np.ndarray, leather: np.ndarray, usable: np.ndarray, reach: float, smallest_hole: float
) -> tuple[Polygon | None, float]:
    """Outline of a region with the holes through which the floor shows.

    Along the rough outline each pixel is judged by Fisher's linear discriminant (1936) between the leather and the
    floor near by, so that a pixel half covered counts as half; the outline is where the smoothed judgement passes the
    middle.

    Parameters
    ----------
    picture : (h, w, 3) uint8 RGB
    leather : (h, w) bool
        The hide, known to within ``reach`` pixels, holes filled.
    usable : (h, w) bool
        Where floor and leather may be learnt: in the photo, not on a reference.
    reach : float
        Pixels.
    smallest_hole : float
        Diameter in pixels of the smallest hole to be found.

    Returns
    -------
    outline : Polygon or None
        In pixels (column, row), pixel centres at whole numbers; None if no region is left.
    blur : float
        Standard deviation in pixels of the smoothing that was needed.
    """
    import cv2

    colours = lab(even_light(picture, usable & ~leather))
    whole, holes = _mended(cv2.GaussianBlur(colours, (0, 0), 0.8), leather, usable, reach, smallest_hole)
    cover, apart = _cover(colours, whole, usable)
    blur = float(np.clip(6 / apart, 0.5, 4.0))
    into, out = (cv2.distanceTransform(side.astype(np.uint8), cv2.DIST_L2, 5) for side in (whole, ~whole))
    away = into - out
    # Far from the rough edge the region decides, near it the colours do.
    field = np.where((np.abs(away) > reach) | ~usable, np.sign(away), np.clip(2 * cover - 1, -1, 1)).astype(np.float32)
    field = cv2.GaussianBlur(field, (0, 0), blur)
    return _largest(field, holes, smallest_hole), blur


def _mended(
    colours: np.ndarray, leather: np.ndarray, usable: np.ndarray, reach: float, smallest: float
) -> tuple[np.ndarray, np.ndarray]:
    """The region with narrow bays and points put right, and its holes.

    A bay or a hole looks like floor and unlike the leather around it: a dark spot alone is neither.
    """
    import cv2

    middle, spread = _leather_near(colours, leather & usable)
    unlike = ((colours - middle) ** 2 / spread).sum(axis=-1)
    # A point of leather that the region missed must not pass for floor.
    clear = usable & ~grown(leather, 2 * reach) & (unlike > UNLIKE)
    sample = colours[::2, ::2][clear[::2, ::2]]
    if len(sample) < 50:
        return leather, np.zeros_like(leather)
    floor = Colours(sample)
    spots = leather & usable & (unlike > UNLIKE)
    strange = np.full(leather.shape, np.inf, np.float32)
    strange[spots] = floor.distances(colours[spots]).min(axis=-1)
    spots &= strange < np.maximum(np.minimum(FLOOR_LIKE, unlike), MIXED * unlike)
    points = ~leather & usable & (unlike < UNLIKE) & grown(leather, 4 * reach)
    points[points] = floor.distances(colours[points]).min(axis=-1) > UNLIKE
    spots = cv2.morphologyEx(spots.astype(np.uint8), cv2.MORPH_CLOSE, disc(1))
    keep = _floor_at_heart(spots, strange, unlike, _grain(colours[..., 0], clear), smallest)
    spots = grown(keep, 1)
    points = cv2.morphologyEx((points | leather).astype(np.uint8), cv2.MORPH_CLOSE, disc(1)) > 0
    whole = (points | leather) & ~spots
    return whole, spots


def _leather_near(colours: np.ndarray, leather: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Median colour of the leather near each pixel, which holes do not sway, and the variance of pixels about it."""
    import cv2

    step = 8
    size = tuple(max(1, side // step) for side in leather.shape[::-1])
    few = cv2.resize(colours, size, interpolation=cv2.INTER_AREA)
    few = np.clip(few + (0, 128, 128), 0, 255).astype(np.uint8)
    sure = cv2.resize(leather.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.98
    if not sure.any():
        sure = cv2.resize(leather.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.5
    few = cv2.medianBlur(nearest(few, sure), 21).astype(np.float32) - np.float32([0, 128, 128])
    middle = cv2.resize(few, leather.shape[::-1], interpolation=cv2.INTER_LINEAR)
    away = np.abs(colours[::4, ::4] - middle[::4, ::4])[leather[::4, ::4]]
    spread = (1.4826 * np.median(away, axis=0)) ** 2 if len(away) else np.ones(3)
    return middle, (spread + 1.0).astype(np.float32)


def _floor_at_heart(
    spots, strange: np.ndarray, unlike: np.ndarray, grain: np.ndarray | None, smallest: float
) -> np.ndarray:
    """The spots that are large enough and, away from their rim, of the floor's own colour and grain.

    In a small hole JPEG mixes the colour of the leather with that of the floor, so there it is enough to be near it.
    """
    import cv2

    # Half-covered pixels at the rim look like neither, so a hole shows smaller than it is.
    least = np.pi / 4 * max(smallest - 2.0, 1.5) ** 2
    depth = cv2.distanceTransform(spots, cv2.DIST_L2, 3)
    _, labels, facts, _ = cv2.connectedComponentsWithStats(spots, connectivity=4)
    keep = np.zeros(len(facts), bool)
    for label, (x, y, width, height, area) in enumerate(facts[1:], start=1):
        if area < least:
            continue
        cut = np.s_[y : y + height, x : x + width]
        inner = np.where(labels[cut] == label, depth[cut], 0)
        heart = inner >= 0.7 * inner.max()
        floor = np.median(strange[cut][heart])
        wide = inner >= max(1.5, 0.4 * inner.max())
        if grain is not None and wide.sum() > 25 and np.std(grain[cut][wide]) < SMOOTH:
            continue
        keep[label] = floor < FLOOR_LIKE or (inner.max() < SMALL and floor < CLOSE * np.median(unlike[cut][heart]))
    return keep[labels]


def _grain(bright: np.ndarray, floor: np.ndarray) -> np.ndarray | None:
    """Brightness in units of how much it varies over a few pixels of floor; None if the floor is smooth."""
    import cv2

    rough = cv2.blur(bright * bright, (7, 7)) - cv2.blur(bright, (7, 7)) ** 2
    usual = float(np.sqrt(max(np.median(rough[floor]), 0))) if floor.any() else 0.0
    return bright / usual if usual > ROUGH else None


def _near(colours: np.ndarray, where: np.ndarray, reach: float) -> np.ndarray:
    """Mean colour of the pixels ``where``, near each pixel; worked out on one pixel in two each way."""
    import cv2

    mask = where[::2, ::2].astype(np.float32)
    values = colours[::2, ::2] * mask[..., None]
    # A wide, faint second blur reaches where the first finds nothing.
    weight = cv2.GaussianBlur(mask, (0, 0), reach / 2) + 1e-3 * _wide(mask, reach / 2) + 1e-9
    mean = (cv2.GaussianBlur(values, (0, 0), reach / 2) + 1e-3 * _wide(values, reach / 2)) / weight[..., None]
    return cv2.resize(mean, where.shape[::-1], interpolation=cv2.INTER_LINEAR)


def _wide(values: np.ndarray, sigma: float) -> np.ndarray:
    import cv2

    step = 8
    size = tuple(max(1, side // step) for side in values.shape[1::-1])
    small = cv2.resize(values, size, interpolation=cv2.INTER_AREA)
    return cv2.resize(cv2.GaussianBlur(small, (0, 0), sigma), values.shape[1::-1], interpolation=cv2.INTER_LINEAR)


def _cover(colours: np.ndarray, leather: np.ndarray, usable: np.ndarray) -> tuple[np.ndarray, float]:
    """Share of each pixel covered by leather, and the distance of leather to floor in standard deviations."""
    import cv2

    deep = [cv2.distanceTransform(side.astype(np.uint8), cv2.DIST_L2, 3) > 2.0 for side in (leather, ~leather)]
    sides = [side & usable for side in deep]
    inner, outer = (_near(colours, side, 14.0) for side in sides)
    edge = grown(leather, 1) != ~grown(~leather, 1)
    band = grown(edge, 8)
    within = np.vstack([(colours[band & side] - mean[band & side]) for mean, side in zip((inner, outer), sides)])
    if len(within) < 50:
        return leather.astype(np.float32), 1.0
    inverse = np.linalg.inv(np.cov(within.T) + 0.5 * np.eye(3)).astype(np.float32)
    step = inner - outer
    weights = step @ inverse
    apart = np.maximum((weights * step).sum(axis=-1), 1e-3)
    cover = ((colours - outer) * weights).sum(axis=-1) / apart
    return cover, float(np.sqrt(np.median(apart[edge & usable]))) if (edge & usable).any() else 1.0


def _largest(field: np.ndarray, holes: np.ndarray, smallest: float) -> Polygon | None:
    """The largest area above zero, less its holes that were seen to be holes."""
    from contourpy import contour_generator

    areas = contour_generator(z=np.pad(field, 1, constant_values=-1), fill_type="OuterOffset").filled(0, np.inf)
    best = None
    for points, offsets in zip(*areas):
        rings = [points[start:end] - 1 for start, end in zip(offsets[:-1], offsets[1:]) if end - start > 3]
        if rings and (best is None or Polygon(rings[0]).area > Polygon(best[0]).area):
            best = rings
    if best is None:
        return None
    kept = [ring for ring in best[1:] if Polygon(ring).area >= np.pi / 4 * smallest**2 and _marked(ring, holes)]
    return largest_polygon(Polygon(best[0], kept))


def largest_polygon(shape) -> Polygon | None:
    """The largest simple polygon of a shape that may cross itself."""
    parts = shapely.get_parts(shapely.get_parts(shape if shape.is_valid else shapely.make_valid(shape)))
    return max((part for part in parts if isinstance(part, Polygon)), key=lambda part: part.area, default=None)


def _marked(ring: np.ndarray, holes: np.ndarray) -> bool:
    low, high = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0), np.ceil(ring.max(axis=0)).astype(int) + 1
    return bool(holes[low[1] : high[1], low[0] : high[0]].any())
