"""Marks on the leather that may be flaws, for a person to accept or throw out."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..model import Suggestion
from .colours import lab, nearest

LEAST_UNLIKE = 5.0
"""Distance of a mark from the leather around it, in standard deviations of that leather."""
SURE = 4 * LEAST_UNLIKE
SMALLEST_MM2, MOST = 12.0, 60
EDGE_MM = 6.0
"""Nothing is suggested so near to the outline, where floor shows through blur."""
MARGIN_MM = 1.0
STEP = 6
LONG, LARGE_MM2 = 4.0, 300.0


def suggest_flaws(straight: np.ndarray, outline: Polygon, to_pixels, mm: float, lines=()) -> tuple[Suggestion, ...]:
    """Places that differ from the leather around them, with a sharp edge, the surest first.

    Gleams and shadows fade slowly and are passed over. What a mark means for the grade nobody can tell from a photo
    alone: the grades are a first guess.

    Parameters
    ----------
    straight : (h, w, 3) uint8 RGB
        The photo as seen from straight above.
    outline : Polygon
        The leather, mm.
    to_pixels : callable
        (n, 2) mm to pixels (column, row) of ``straight``.
    mm : float
        Of a pixel.
    lines : sequence of LineString
        Marks, in mm, that are known to be such, as strong as slits.
    """
    import cv2

    shapes = [_upon(outline, line.buffer(MARGIN_MM)) for line in lines]
    known = [_named(shape, False, SURE) for shape in shapes if shape is not None]

    inner = outline.buffer(-EDGE_MM)
    mask = np.zeros(straight.shape[:2], np.uint8)
    for part in shapely.get_parts(inner):
        for ring, value in ((part.exterior, 1), *((hole, 0) for hole in part.interiors)):
            cv2.fillPoly(mask, [np.round(to_pixels(np.asarray(ring.coords))).astype(np.int32)], value)
    if mask.sum() < 400:
        return tuple(known)
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    cut = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    mask = mask[cut] > 0
    colours = cv2.GaussianBlur(lab(np.ascontiguousarray(straight[cut])), (0, 0), 1.3)
    away = colours - _around(colours, mask)
    spread = 1.4826 * np.median(np.abs(away[mask][::7]), axis=0) + 0.6
    unlike = np.sqrt(((away / spread) ** 2).sum(axis=-1))
    marks = ((unlike > LEAST_UNLIKE) & mask).astype(np.uint8)
    marks = cv2.morphologyEx(marks, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    _, labels, facts, _ = cv2.connectedComponentsWithStats(marks, connectivity=8)
    found = []
    origin = np.array([cut[1].start, cut[0].start])
    for label in np.argsort(-facts[:, cv2.CC_STAT_AREA])[:400]:
        x, y, width, height, area = facts[label]
        if label == 0 or area * mm * mm < SMALLEST_MM2:
            continue
        near = np.s_[max(y - 5, 0) : y + height + 5, max(x - 5, 0) : x + width + 5]
        own = (labels[near] == label).astype(np.uint8)
        steep = _steepness(away[near] / spread, own, mask[near])
        if steep < 0.6 * LEAST_UNLIKE:
            continue
        corner = origin + (near[1].start, near[0].start)
        shape = _outline(own, corner, mm, to_pixels, outline)
        if shape is not None and not any(shape.intersects(one.polygon) for one in known):
            lighter = float(away[near][own > 0][:, 0].mean()) > 0
            strength = float(np.median(unlike[near][own > 0]))
            found.append(_named(shape, lighter, min(strength, 2 * steep)))
    return tuple(sorted(known + found, key=lambda one: -one.confidence)[:MOST])


def _around(colours: np.ndarray, mask: np.ndarray) -> np.ndarray:
    """Median colour of the leather some 5 cm around each pixel, which marks do not sway."""
    import cv2

    size = tuple(max(1, side // STEP) for side in mask.shape[::-1])
    few = np.clip(cv2.resize(colours, size, interpolation=cv2.INTER_AREA) * (2.5, 2, 2) + (0, 128, 128), 0, 255).astype(
        np.uint8
    )
    sure = cv2.resize(mask.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.98
    if not sure.any():
        return colours
    few = cv2.medianBlur(nearest(few, sure), 19).astype(np.float32)
    few = (cv2.GaussianBlur(few, (0, 0), 2) - (0, 128, 128)) / (2.5, 2, 2)
    return cv2.resize(few.astype(np.float32), mask.shape[::-1], interpolation=cv2.INTER_LINEAR)


def _steepness(away: np.ndarray, own: np.ndarray, leather: np.ndarray) -> float:
    """Step in colour across the edge of a mark, from 2 pixels inside it to 4 outside."""
    import cv2

    inside = (own > 0) & (cv2.distanceTransform(own, cv2.DIST_L2, 3) <= 3)
    wide = cv2.dilate(own, np.ones((9, 9), np.uint8)) > cv2.dilate(own, np.ones((5, 5), np.uint8))
    outside = wide & leather
    if not outside.any():
        return 0.0
    return float(np.linalg.norm(np.median(away[inside], axis=0) - np.median(away[outside], axis=0)))


def _outline(own: np.ndarray, corner: np.ndarray, mm: float, to_pixels, outline: Polygon) -> Polygon | None:
    import cv2

    contours, _ = cv2.findContours(own, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    points = max(contours, key=cv2.contourArea).reshape(-1, 2) + corner
    start = to_pixels(np.zeros((1, 2)))[0]
    places = (points - start) * (mm, -mm)
    shape = (
        (Polygon(places) if len(places) > 2 else shapely.MultiPoint(places)).buffer(MARGIN_MM + mm / 2).simplify(0.4)
    )
    return _upon(outline, shape)


def _upon(outline: Polygon, shape) -> Polygon | None:
    """The largest part of a shape that lies on the leather."""
    parts = [part for part in shapely.get_parts(shape.intersection(outline)) if isinstance(part, Polygon)]
    return Polygon(max(parts, key=lambda part: part.area).exterior) if parts else None


def _named(shape: Polygon, lighter: bool, strength: float) -> Suggestion:
    box = shapely.oriented_envelope(shape)
    sides = shapely.length(
        shapely.linestrings(np.asarray(box.exterior.coords)[:3].repeat(2, axis=0)[1:-1].reshape(2, 2, 2))
    )
    long = sides.max() > LONG * max(sides.min() - 2 * MARGIN_MM, 0.5)
    if long:
        kind, grade = ("scar", "C") if lighter or sides.max() < 60 else ("fold or crease", "D")
    elif lighter:
        kind, grade = "light mark", "C"
    else:
        kind, grade = ("brand or stain", "D") if shape.area > LARGE_MM2 else ("dark mark", "C")
    return Suggestion(shape, grade, kind, round(min(0.95, 1 - math.exp(-strength / (2 * LEAST_UNLIKE))), 2))
