"""Find flat four-sided sheets in a photo and place their edges to a fraction of a pixel."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from shapely.geometry import Polygon

from .arrays import Floats, Mask, Picture
from .limits import METHOD

QUADS = METHOD.quads
Straight: TypeAlias = tuple[Floats, Floats]
"""Direction of a line and a point on it."""

# Luma, and a little of blue and red less luma (ITU-R BT.601): JPEG stores colour at half the sharpness of brightness.
_SHARP = np.array([(0.299, 0.587, 0.114), (-0.06, -0.12, 0.18), (0.18, -0.15, -0.03)])

_LIGHT = 255 * np.where(
    np.arange(256) <= 10, np.arange(256) / 255 / 12.92, ((np.arange(256) / 255 + 0.055) / 1.055) ** 2.4
)
"""Linear light of each grey level, 0 to 255 (sRGB, IEC 61966-2-1)."""


def find_quads(picture: Picture, *, white: bool, largest: float = QUADS.largest_share) -> list[Floats]:
    """Four-sided sheets that stand out from what is around them, the most likely first.

    Parameters
    ----------
    picture : (h, w, 3) uint8 RGB
    white : bool
        Only plain sheets brighter than what is around them; otherwise any colour.
    largest : float
        Share of the picture that one may cover.

    Returns
    -------
    list of (4, 2) arrays
        Corners in pixels, clockwise as seen.
    """
    import cv2

    shrink = max(1.0, max(picture.shape[:2]) / QUADS.search_pixels)
    small = cv2.resize(picture, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    small = cv2.medianBlur(small, 3)
    rough: list[tuple[float, Floats]] = []
    for plane in _planes(small, white):
        step = QUADS.white_step if white else QUADS.coloured_step
        for level in range(QUADS.first_level, QUADS.last_level, step):
            for dark in (False,) if white else (False, True):
                rough += _four_sided((plane < level) if dark else (plane > level), small, white, largest)
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    for steep in (QUADS.gentle_edge, QUADS.steep_edge):
        # In uneven light no one level parts sheet from floor from end to end; its edges still close a field.
        soft = cv2.GaussianBlur(grey, (0, 0), QUADS.edge_blur_pixels)
        edges = cv2.Canny(soft, steep, QUADS.edge_times * steep)
        rough += _four_sided(cv2.dilate(edges, np.ones((3, 3), np.uint8)) == 0, small, white, largest)
    rough.sort(key=lambda one: -one[0])
    found: list[Floats] = []
    failed: list[Floats] = []
    for _, quad in rough[: QUADS.most_trials]:
        if len(found) == QUADS.most_found:
            break
        quad = (quad + 0.5) * shrink - 0.5
        # A level may cut a corner off: that one fails must not keep out another with the right corners.
        if any(_same(quad, other) for other in found):
            continue
        if sum(_same(quad, other, QUADS.failed_share) for other in failed) >= QUADS.most_failed:
            continue
        fitted = fit_edges(picture, quad)
        if fitted is None:
            failed.append(quad)
        elif np.hypot(*(fitted - np.roll(fitted, 1, axis=0)).T).min() >= QUADS.shortest_side_pixels:
            found.append(fitted)
    return [quad for quad in found if not any(_printed_on(quad, other) for other in [*found, *failed])]


def _planes(small: Picture, white: bool) -> list[Picture]:
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


def _four_sided(mask: Mask, small: Picture, white: bool, largest: float) -> list[tuple[float, Floats]]:
    import cv2

    height, width = mask.shape
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    found = []
    for contour in contours:
        if len(contour) < 4:
            continue
        area = cv2.contourArea(contour)
        if not QUADS.smallest_share * mask.size < area < largest * mask.size:
            continue
        hull = cv2.convexHull(contour)
        if area < QUADS.convex_share * cv2.contourArea(hull):
            continue
        quad = cv2.approxPolyDP(hull, QUADS.corner_share * cv2.arcLength(hull, True), True).reshape(-1, 2).astype(float)
        rim = QUADS.rim_pixels
        if len(quad) != 4 or (quad < rim).any() or (quad > (width - 1 - rim, height - 1 - rim)).any():
            continue
        shape = Polygon(quad)
        if abs(shape.area / area - 1) > QUADS.area_share:
            continue
        score = _stands_out(small, quad, white)
        if score > 0:
            found.append((score, quad if shape.exterior.is_ccw else quad[::-1]))
    return found


def _stands_out(small: Picture, quad: Floats, white: bool) -> float:
    """Contrast of the sheet to a rim around it, over the unevenness of the sheet (if plain) and of the rim."""
    import cv2

    grow = QUADS.around_share * np.sqrt(Polygon(quad).area)
    low = np.maximum(np.floor(quad.min(axis=0) - grow), 0).astype(int)
    high = np.ceil(quad.max(axis=0) + grow).astype(int) + 1
    cut = small[low[1] : high[1], low[0] : high[0]]
    inner, outer = np.zeros(cut.shape[:2], np.uint8), np.zeros(cut.shape[:2], np.uint8)
    middle = quad.mean(axis=0)
    for mask, factor in ((inner, QUADS.inner_times), (outer, QUADS.outer_times)):
        cv2.fillConvexPoly(mask, np.round(middle + (quad - middle) * factor - low).astype(np.int32), 1)
    # Pixels spaced evenly, enough of them to judge all by.
    every = max(1, int(np.sqrt(inner.size / QUADS.judged_pixels)))
    cut, inner, rim = cut[::every, ::every], inner[::every, ::every], outer[::every, ::every] ^ 1
    inside, around = (cut[mask > 0].astype(float) for mask in (inner, rim))
    if min(len(inside), len(around)) < QUADS.fewest_pixels:
        return 0.0
    step = np.median(inside, axis=0) - np.median(around, axis=0)
    if white:
        coloured = np.ptp(np.median(inside, axis=0))
        # The light may tint both: brighter on the whole, and darker in no colour.
        if step.mean() < QUADS.white_above or step.min() < QUADS.white_above_each:
            return 0.0
        spread = inside.std(axis=0).max()
        if spread > QUADS.white_spread or coloured > QUADS.white_tint:
            return 0.0
        return float(step.mean() / (QUADS.white_noise + spread) * np.median(inside) / 255)
    above = np.linalg.norm(step)
    spread = around.std(axis=0).max()
    return float(above / (QUADS.coloured_noise + spread)) if above > QUADS.coloured_above else 0.0


def _printed_on(small: Floats, large: Floats) -> bool:
    """Whether one rectangle is no more than print on the other."""
    inner, outer = Polygon(small), Polygon(large)
    return bool(inner.area < QUADS.print_share * outer.area and outer.contains(inner))


def _same(first: Floats, second: Floats, share: float = QUADS.alike_share) -> bool:
    if (first.max(axis=0) < second.min(axis=0)).any() or (second.max(axis=0) < first.min(axis=0)).any():
        return False
    a, b = Polygon(first), Polygon(second)
    return bool(a.is_valid and b.is_valid and a.intersection(b).area > share * max(a.area, b.area))


def fit_edges(picture: Picture, quad: Floats) -> Floats | None:
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
    first = QUADS.first_reach_share, QUADS.first_reach_pixels
    for reach, least in (first, (QUADS.reach_share, QUADS.reach_pixels)):
        edges = _edges(picture, quad, reach, least)
        if edges is None:
            return None
        lines = [_line(edge) for edge in edges]
        quad = np.array([_crossing(lines[side - 1], lines[side]) for side in range(4)])
        if not np.isfinite(quad).all():
            return None
    return quad


def fit_sides(picture: Picture, quad: Floats) -> tuple[Floats, tuple[Floats, ...]] | None:
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
    edges = _edges(picture, quad, QUADS.reach_share, QUADS.reach_pixels)
    if edges is None:
        return None
    corners = quad
    for _ in range(QUADS.tangent_rounds):
        corners = np.array(
            [_crossing(*(_tangent(edges[one], corners[side]) for one in (side - 1, side))) for side in range(4)]
        )
    return (corners, tuple(edges)) if np.isfinite(corners).all() else None


def _edges(picture: Picture, quad: Floats, reach: float, least: float) -> list[Floats] | None:
    """Points along the four sides; None when one cannot be seen."""
    found = []
    for side in range(4):
        edge = _edge_points(picture, quad, side, reach, least)
        if edge is None:
            return None
        found.append(edge)
    return found


def _tangent(edge: Floats, place: Floats) -> Straight:
    """Direction and a point, beside a place, of the parabola through an edge."""
    direction, point = _line(edge)
    across = _across(direction)
    bend = np.polyfit((edge - point) @ direction, (edge - point) @ across, 2)
    at = (place - point) @ direction
    return direction + np.polyval(np.polyder(bend), at) * across, point + at * direction + np.polyval(bend, at) * across


def _edge_points(picture: Picture, quad: Floats, side: int, reach: float, least: float) -> Floats | None:
    """Points along a side within so much of it, as a share of its length and at least so many pixels, that lie on one
    line."""
    import cv2

    start, end = quad[side], quad[(side + 1) % 4]
    length = np.hypot(*(end - start))
    if length < QUADS.shortest_edge_pixels:
        return None
    along = (end - start) / length
    inward = _across(along)
    width = max(least, reach * length)
    steps = np.arange(-width, width + 0.25, 0.5)
    clear = QUADS.corner_clear_share
    places = start + np.linspace(clear, 1 - clear, QUADS.edge_points)[:, None] * (end - start)
    grid = (places[:, None] + steps[None, :, None] * inward).astype(np.float32)
    levels = cv2.remap(picture, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    third = len(steps) // 3

    def step(colours: Floats) -> Floats:
        return np.median(colours[:, -third:], axis=(0, 1)) - np.median(colours[:, :third], axis=(0, 1))

    if np.linalg.norm(step(levels @ _SHARP.T)) < QUADS.least_step:
        return None
    # A lens blurs light: in grey levels an edge would seem to lie on the dark side of where it is.
    colours = _LIGHT[levels] @ _SHARP.T
    across = step(colours)
    profile = colours @ (across / max(float(np.linalg.norm(across)), 1e-9))
    profile = cv2.GaussianBlur(profile, (5, 1), QUADS.profile_blur)
    slope = np.gradient(profile, axis=1)
    peak = np.argmax(slope[:, 1:-1], axis=1) + 1
    rows = np.arange(len(peak))
    left, top, right = slope[rows, peak - 1], slope[rows, peak], slope[rows, peak + 1]
    bend = left - 2 * top + right
    shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, 1), 0).clip(-0.5, 0.5)
    edge = places + (steps[peak] + 0.5 * shift)[:, None] * inward
    keep = np.ones(len(edge), bool)
    for _ in range(QUADS.outlying_rounds):
        direction, point = _line(edge[keep])
        away = np.abs((edge - point) @ _across(direction))
        keep = away < max(QUADS.outlying_pixels, QUADS.outlying_times * np.median(away))
    straight: Floats = edge[keep]
    if keep.sum() > QUADS.edge_share * len(edge):
        most = QUADS.most_ragged_pixels + QUADS.most_ragged_share * length
        return straight if np.sqrt((away[keep] ** 2).mean()) < most else None
    return None


def _across(direction: Floats) -> Floats:
    return np.array([-direction[1], direction[0]])


def _line(points: Floats) -> Straight:
    middle = points.mean(axis=0)
    return np.linalg.svd(points - middle, full_matrices=False)[2][0], middle


def _crossing(first: Straight, second: Straight) -> Floats:
    (u, p), (v, q) = first, second
    turn = u[0] * v[1] - u[1] * v[0]
    if abs(turn) < 1e-3:
        return np.full(2, np.nan)
    offset = q - p
    crossing: Floats = p + u * (offset[0] * v[1] - offset[1] * v[0]) / turn
    return crossing
