"""Find flat four-sided sheets in a photo and place their edges to a fraction of a pixel."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

SEARCH_PIXELS = 1600
SMALLEST_SHARE, LARGEST_SHARE = 0.0003, 0.2
MOST_TRIALS, MOST_FOUND = 300, 24
SHORTEST_SIDE = 28
JUDGED = 2500
# Luma, and a little of blue and red less luma (ITU-R BT.601): JPEG stores colour at half the sharpness of brightness.
_SHARP = np.array([(0.299, 0.587, 0.114), (-0.06, -0.12, 0.18), (0.18, -0.15, -0.03)])

_LIGHT = 255 * np.where(
    np.arange(256) <= 10, np.arange(256) / 255 / 12.92, ((np.arange(256) / 255 + 0.055) / 1.055) ** 2.4
)
"""Linear light of each grey level, 0 to 255 (sRGB, IEC 61966-2-1)."""


def find_quads(picture: np.ndarray, *, white: bool) -> list[np.ndarray]:
    """Four-sided sheets that stand out from what is around them, the most likely first.

    Parameters
    ----------
    picture : (h, w, 3) uint8 RGB
    white : bool
        Only plain sheets brighter than what is around them; otherwise any colour.

    Returns
    -------
    list of (4, 2) arrays
        Corners in pixels, clockwise as seen.
    """
    import cv2

    shrink = max(1.0, max(picture.shape[:2]) / SEARCH_PIXELS)
    small = cv2.resize(picture, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    small = cv2.medianBlur(small, 3)
    rough: list[tuple[float, np.ndarray]] = []
    for plane in _planes(small, white):
        for level in range(24, 252, 6 if white else 8):
            for dark in (False,) if white else (False, True):
                rough += _four_sided((plane < level) if dark else (plane > level), small, white)
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    for steep in (20, 50):
        # In uneven light no one level parts sheet from floor from end to end; its edges still close a field.
        edges = cv2.dilate(
            cv2.Canny(cv2.GaussianBlur(grey, (0, 0), 1.2), steep, 2.5 * steep), np.ones((3, 3), np.uint8)
        )
        rough += _four_sided(edges == 0, small, white)
    rough.sort(key=lambda one: -one[0])
    found: list[np.ndarray] = []
    failed: list[np.ndarray] = []
    for _, quad in rough[:MOST_TRIALS]:
        if len(found) == MOST_FOUND:
            break
        quad = (quad + 0.5) * shrink - 0.5
        # A level may cut a corner off: that one fails must not keep out another with the right corners.
        if any(_same(quad, other) for other in found) or sum(_same(quad, other, 0.95) for other in failed) >= 3:
            continue
        fitted = fit_edges(picture, quad)
        if fitted is None:
            failed.append(quad)
        elif np.hypot(*(fitted - np.roll(fitted, 1, axis=0)).T).min() >= SHORTEST_SIDE:
            found.append(fitted)
    return [quad for quad in found if not any(_printed_on(quad, other) for other in [*found, *failed])]


def _planes(small: np.ndarray, white: bool) -> list[np.ndarray]:
    import cv2

    if white:
        red, green, blue = cv2.split(small)
        return [cv2.min(cv2.min(red, green), blue), cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)]
    lab = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)
    # Colour spreads over far fewer levels than brightness.
    return [
        lab[..., 0],
        *(np.clip((lab[..., plane].astype(np.int16) - 128) * 2 + 128, 0, 255).astype(np.uint8) for plane in (1, 2)),
    ]


def _four_sided(mask: np.ndarray, small: np.ndarray, white: bool) -> list[tuple[float, np.ndarray]]:
    import cv2

    height, width = mask.shape
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    found = []
    for contour in contours:
        if len(contour) < 4:
            continue
        area = cv2.contourArea(contour)
        if not SMALLEST_SHARE * mask.size < area < LARGEST_SHARE * mask.size:
            continue
        hull = cv2.convexHull(contour)
        if area < 0.93 * cv2.contourArea(hull):
            continue
        quad = cv2.approxPolyDP(hull, 0.04 * cv2.arcLength(hull, True), True).reshape(-1, 2).astype(float)
        if len(quad) != 4 or (quad < 2).any() or (quad > (width - 3, height - 3)).any():
            continue
        shape = Polygon(quad)
        if abs(shape.area / area - 1) > 0.12:
            continue
        score = _stands_out(small, quad, white)
        if score > 0:
            found.append((score, quad if shape.exterior.is_ccw else quad[::-1]))
    return found


def _stands_out(small: np.ndarray, quad: np.ndarray, white: bool) -> float:
    """Contrast of the sheet to a rim around it, over the unevenness of the sheet (if plain) and of the rim."""
    import cv2

    grow = 0.2 * np.sqrt(Polygon(quad).area)
    low = np.maximum(np.floor(quad.min(axis=0) - grow), 0).astype(int)
    high = np.ceil(quad.max(axis=0) + grow).astype(int) + 1
    cut = small[low[1] : high[1], low[0] : high[0]]
    inner, outer = np.zeros(cut.shape[:2], np.uint8), np.zeros(cut.shape[:2], np.uint8)
    middle = quad.mean(axis=0)
    for mask, factor in ((inner, 0.86), (outer, 1.12)):
        cv2.fillConvexPoly(mask, np.round(middle + (quad - middle) * factor - low).astype(np.int32), 1)
    # Pixels spaced evenly, enough of them to judge all by.
    step = max(1, int(np.sqrt(inner.size / JUDGED)))
    cut, inner, rim = cut[::step, ::step], inner[::step, ::step], outer[::step, ::step] ^ 1
    inside, around = (cut[mask > 0].astype(float) for mask in (inner, rim))
    if len(inside) < 20 or len(around) < 20:
        return 0.0
    step = np.median(inside, axis=0) - np.median(around, axis=0)
    if white:
        coloured = np.ptp(np.median(inside, axis=0))
        # The light may tint both: brighter on the whole, and darker in no colour.
        if step.mean() < 12 or step.min() < 3 or inside.std(axis=0).max() > 25 or coloured > 60:
            return 0.0
        return float(step.mean() / (6 + inside.std(axis=0).max()) * np.median(inside) / 255)
    return float(np.linalg.norm(step) / (12 + around.std(axis=0).max())) if np.linalg.norm(step) > 15 else 0.0


def _printed_on(small: np.ndarray, large: np.ndarray) -> bool:
    """Whether one rectangle is no more than print on the other."""
    inner, outer = Polygon(small), Polygon(large)
    return inner.area < 0.1 * outer.area and outer.contains(inner)


def _same(first: np.ndarray, second: np.ndarray, share: float = 0.5) -> bool:
    if (first.max(axis=0) < second.min(axis=0)).any() or (second.max(axis=0) < first.min(axis=0)).any():
        return False
    a, b = Polygon(first), Polygon(second)
    return a.is_valid and b.is_valid and a.intersection(b).area > share * max(a.area, b.area)


def fit_edges(picture: np.ndarray, quad: np.ndarray) -> np.ndarray | None:
    """Corners of a sheet as the crossings of lines fitted to its edges, so that rounded corners do no harm.

    Parameters
    ----------
    picture : (h, w, 3) uint8 RGB
    quad : (4, 2) pixels
        The corners, known to a few pixels.

    Returns
    -------
    (4, 2) array or None
        None when an edge cannot be seen.
    """
    for reach, least in ((0.04, 4.0), (0.015, 2.5)):
        lines = [_edge_line(picture, quad, side, reach, least) for side in range(4)]
        if any(line is None for line in lines):
            return None
        quad = np.array([_crossing(lines[side - 1], lines[side]) for side in range(4)])
        if not np.isfinite(quad).all():
            return None
    return quad


def fit_sides(picture: np.ndarray, quad: np.ndarray) -> tuple[np.ndarray, tuple[np.ndarray, ...]] | None:
    """Corners of a large sheet as the crossings of parabolas, since a lens bends its edges; and points along each edge.

    Parameters
    ----------
    picture : (h, w, 3) uint8 RGB
    quad : (4, 2) pixels
        The corners as :func:`fit_edges` gives them.

    Returns
    -------
    (4, 2) array and four (n, 2) arrays, or None
        None when an edge cannot be seen.
    """
    edges = [_edge_points(picture, quad, side, 0.015, 2.5) for side in range(4)]
    if any(edge is None for edge in edges):
        return None
    corners = quad
    for _ in range(3):
        corners = np.array(
            [_crossing(*(_tangent(edges[one], corners[side]) for one in (side - 1, side))) for side in range(4)]
        )
    return (corners, tuple(edges)) if np.isfinite(corners).all() else None


def _edge_line(picture: np.ndarray, quad: np.ndarray, side: int, reach: float, least: float):
    edge = _edge_points(picture, quad, side, reach, least)
    return None if edge is None else _line(edge)


def _tangent(edge: np.ndarray, place: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Direction and a point, beside a place, of the parabola through an edge."""
    direction, point = _line(edge)
    across = _across(direction)
    bend = np.polyfit((edge - point) @ direction, (edge - point) @ across, 2)
    at = (place - point) @ direction
    return direction + np.polyval(np.polyder(bend), at) * across, point + at * direction + np.polyval(bend, at) * across


def _edge_points(picture: np.ndarray, quad: np.ndarray, side: int, reach: float, least: float) -> np.ndarray | None:
    """Points along a side within so much of it, as a share of its length and at least so many pixels, that lie on one line."""
    import cv2

    start, end = quad[side], quad[(side + 1) % 4]
    length = np.hypot(*(end - start))
    if length < 8:
        return None
    along = (end - start) / length
    inward = _across(along)
    width = max(least, reach * length)
    steps = np.arange(-width, width + 0.25, 0.5)
    places = start + np.linspace(0.12, 0.88, 90)[:, None] * (end - start)
    grid = (places[:, None] + steps[None, :, None] * inward).astype(np.float32)
    levels = cv2.remap(picture, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    third = len(steps) // 3

    def step(colours):
        return np.median(colours[:, -third:], axis=(0, 1)) - np.median(colours[:, :third], axis=(0, 1))

    if np.linalg.norm(step(levels @ _SHARP.T)) < 8:
        return None
    # A lens blurs light: in grey levels an edge would seem to lie on the dark side of where it is.
    colours = _LIGHT[levels] @ _SHARP.T
    profile = colours @ (step(colours) / max(np.linalg.norm(step(colours)), 1e-9))
    profile = cv2.GaussianBlur(profile, (5, 1), 1.0)
    slope = np.gradient(profile, axis=1)
    peak = np.argmax(slope[:, 1:-1], axis=1) + 1
    rows = np.arange(len(peak))
    left, top, right = slope[rows, peak - 1], slope[rows, peak], slope[rows, peak + 1]
    bend = left - 2 * top + right
    shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, 1), 0).clip(-0.5, 0.5)
    edge = places + (steps[peak] + 0.5 * shift)[:, None] * inward
    keep = np.ones(len(edge), bool)
    for _ in range(4):
        direction, point = _line(edge[keep])
        away = np.abs((edge - point) @ _across(direction))
        keep = away < max(0.6, 2.5 * np.median(away))
    return (
        edge[keep]
        if keep.sum() > 0.5 * len(edge) and np.sqrt((away[keep] ** 2).mean()) < 1.0 + 0.002 * length
        else None
    )


def _across(direction: np.ndarray) -> np.ndarray:
    return np.array([-direction[1], direction[0]])


def _line(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    middle = points.mean(axis=0)
    return np.linalg.svd(points - middle, full_matrices=False)[2][0], middle


def _crossing(first, second) -> np.ndarray:
    (u, p), (v, q) = first, second
    turn = u[0] * v[1] - u[1] * v[0]
    if abs(turn) < 1e-3:
        return np.full(2, np.nan)
    offset = q - p
    return p + u * (offset[0] * v[1] - offset[1] * v[0]) / turn
