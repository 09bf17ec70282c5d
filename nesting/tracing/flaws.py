"""Marks on the leather that may be flaws, for a person to accept or throw out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TypeAlias, cast

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from ..geometry import largest_polygon
from ..model import Suggestion
from .arrays import Floats, Mask, Picture, Whole
from .colours import lab, nearest
from .limits import METHOD, TraceLimits

FLAWS = METHOD.flaws
ToPixels: TypeAlias = Callable[[Floats], Floats]
"""(n, 2) mm to pixels (column, row)."""


def suggest_flaws(
    straight: Picture,
    outline: Polygon,
    to_pixels: ToPixels,
    mm: float,
    lines: Sequence[LineString] = (),
    limits: TraceLimits | None = None,
) -> tuple[Suggestion, ...]:
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
    limits : TraceLimits, optional
        How unlike leather a mark must be, how large, and how many are suggested.

    Returns
    -------
    tuple of Suggestion
    """
    import cv2

    limits = limits or TraceLimits()
    usual = limits.flaw_unlike

    shapes = [_upon(outline, line.buffer(FLAWS.margin_mm)) for line in lines]
    known = [_named(shape, False, FLAWS.sure_times * usual, usual) for shape in shapes if shape is not None]

    inner = outline.buffer(-FLAWS.edge_mm)
    mask = np.zeros(straight.shape[:2], np.uint8)
    for area in shapely.get_parts(inner):
        for ring, value in ((area.exterior, 1), *((hole, 0) for hole in area.interiors)):
            cv2.fillPoly(mask, [np.round(to_pixels(np.asarray(ring.coords))).astype(np.int32)], value)
    if mask.sum() < FLAWS.fewest_pixels:
        return tuple(known)
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    cut = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    leather = mask[cut] > 0
    colours = cv2.GaussianBlur(lab(np.ascontiguousarray(straight[cut])), (0, 0), FLAWS.smooth_pixels)
    away = colours - _around(colours, leather)
    spread = 1.4826 * np.median(np.abs(away[leather][::7]), axis=0) + FLAWS.least_spread
    unlike = np.sqrt(((away / spread) ** 2).sum(axis=-1))
    marks = ((unlike > usual) & leather).astype(np.uint8)
    marks = cv2.morphologyEx(marks, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    _, labels, facts, _ = cv2.connectedComponentsWithStats(marks, connectivity=8)
    found = []
    origin = np.array([cut[1].start, cut[0].start])
    for label in np.argsort(-facts[:, cv2.CC_STAT_AREA])[: FLAWS.most_marks]:
        x, y, width, height, size = facts[label]
        if label == 0 or size * mm * mm < limits.flaw_mm2:
            continue
        around = FLAWS.around_pixels
        near = np.s_[max(y - around, 0) : y + height + around, max(x - around, 0) : x + width + around]
        own = (labels[near] == label).astype(np.uint8)
        steep = _steepness(away[near] / spread, own, leather[near])
        if steep < FLAWS.steep_share * usual:
            continue
        corner = origin + (near[1].start, near[0].start)
        shape = _outline(own, corner, mm, to_pixels, outline)
        if shape is not None and not any(shape.intersects(one.polygon) for one in known):
            lighter = float(away[near][own > 0][:, 0].mean()) > 0
            strength = float(np.median(unlike[near][own > 0]))
            found.append(_named(shape, lighter, min(strength, 2 * steep), usual))
    return tuple(sorted(known + found, key=lambda one: -one.confidence)[: limits.most_flaws])


def _around(colours: Floats, mask: Mask) -> Floats:
    """Median colour of the leather some 5 cm around each pixel, which marks do not sway."""
    import cv2

    size = tuple(max(1, side // FLAWS.step) for side in mask.shape[::-1])
    few = np.clip(cv2.resize(colours, size, interpolation=cv2.INTER_AREA) * (2.5, 2, 2) + (0, 128, 128), 0, 255).astype(
        np.uint8
    )
    sure = cv2.resize(mask.astype(np.float32), size, interpolation=cv2.INTER_AREA) > FLAWS.sure_share
    if not sure.any():
        return colours
    few = cv2.medianBlur(nearest(few, sure), FLAWS.window).astype(np.float32)
    few = (cv2.GaussianBlur(few, (0, 0), 2) - (0, 128, 128)) / (2.5, 2, 2)
    around: Floats = cv2.resize(few.astype(np.float32), mask.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return around


def _steepness(away: Floats, own: Picture, leather: Mask) -> float:
    """Step in colour across the edge of a mark, from 2 pixels inside it to 4 outside."""
    import cv2

    inside = (own > 0) & (cv2.distanceTransform(own, cv2.DIST_L2, 3) <= 3)
    wide = cv2.dilate(own, np.ones((9, 9), np.uint8)) > cv2.dilate(own, np.ones((5, 5), np.uint8))
    outside = wide & leather
    if not outside.any():
        return 0.0
    return float(np.linalg.norm(np.median(away[inside], axis=0) - np.median(away[outside], axis=0)))


def _outline(own: Picture, corner: Whole, mm: float, to_pixels: ToPixels, outline: Polygon) -> Polygon | None:
    import cv2

    contours, _ = cv2.findContours(own, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    points = max(contours, key=cv2.contourArea).reshape(-1, 2) + corner
    start = to_pixels(np.zeros((1, 2)))[0]
    places = (points - start) * (mm, -mm)
    shape = (
        (Polygon(places) if len(places) > 2 else shapely.MultiPoint(places))
        .buffer(FLAWS.margin_mm + mm / 2)
        .simplify(FLAWS.simplified_mm)
    )
    return _upon(outline, shape)


def _upon(outline: Polygon, shape: BaseGeometry) -> Polygon | None:
    """The largest area of a shape that lies on the leather."""
    largest = largest_polygon(shape.intersection(outline))
    return None if largest is None else Polygon(largest.exterior)


def _named(shape: Polygon, lighter: bool, strength: float, usual: float) -> Suggestion:
    around = cast(Polygon, shapely.oriented_envelope(shape))
    sides = shapely.length(
        shapely.linestrings(np.asarray(around.exterior.coords)[:3].repeat(2, axis=0)[1:-1].reshape(2, 2, 2))
    )
    long = sides.max() > FLAWS.long_times * max(sides.min() - 2 * FLAWS.margin_mm, 0.5)
    if long:
        kind, grade = ("scar", "C") if lighter or sides.max() < FLAWS.fold_mm else ("fold or crease", "D")
    elif lighter:
        kind, grade = "light mark", "C"
    else:
        kind, grade = ("brand or stain", "D") if shape.area > FLAWS.large_mm2 else ("dark mark", "C")
    confidence = min(FLAWS.most_confidence, 1 - math.exp(-strength / (2 * usual)))
    return Suggestion(shape, grade, kind, round(confidence, 2))
