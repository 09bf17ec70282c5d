"""Where a traced outline may be wrong: floor that looks like leather beside it, or leather that looks like floor."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..geometry import areal, polygons
from .arrays import Floats, Mask, Picture, Whole
from .colours import disc
from .limits import METHOD
from .sides import Sides

DOUBT = METHOD.doubt


Reach: TypeAlias = tuple[float, tuple[float, float]]
"""How far something reaches, in mm, and its furthest place, in pixels of the photo."""


@dataclass(frozen=True)
class Judgement:
    """How sure an outline is.

    Attributes
    ----------
    contrast : float
        Distance of leather to floor in standard deviations of a small pixel, at the faintest tenth of the outline.
    astray : float
        Share of what lies near the outline and looks like the other side of it.
    deep : tuple of Reach
        Such places that begin at the outline, and how far from it they reach.
    pinched : tuple of Reach
        Leather that hangs on by a narrow neck, or bays all but closed by one, and how far they reach from the rest.
    unsure : tuple of Reach
        Holes that may as well be stains, for all that their colour tells: the diameter of a circle as large, and a
        place in each.
    unsteady_mm : float
        How far some end of the outline moves, on average, when the photo is given a little more noise.
    deep_areas, pinched_areas : tuple of Polygon
        What ``deep`` and ``pinched`` are about, in the same order.
    stray : tuple of Polygon
        What lies near the outline, looks like the other side of it, and does not begin there.
    lost : tuple of Polygon
        Around holes that were seen from afar and could not be drawn.
    faint : tuple of Polygon
        Around the stretches of the outline where leather and floor differ too little, broader the less they do.
    """

    contrast: float
    astray: float
    deep: tuple[Reach, ...] = ()
    pinched: tuple[Reach, ...] = ()
    unsure: tuple[Reach, ...] = ()
    unsteady_mm: float = 0.0
    deep_areas: tuple[Polygon, ...] = ()
    pinched_areas: tuple[Polygon, ...] = ()
    stray: tuple[Polygon, ...] = ()
    lost: tuple[Polygon, ...] = ()
    faint: tuple[Polygon, ...] = ()


def doubt(
    picture: Picture,
    whole: Mask,
    usable: Mask,
    mm: float,
    correct: Mask | None = None,
    least_contrast: float = 0.0,
) -> Judgement:
    """Judge every pixel near an outline anew, by colour alone; places are in pixels of this picture.

    Parameters
    ----------
    picture : (h, w, 3) uint8 RGB
    whole : (h, w) bool
        The region that the outline encloses.
    usable : (h, w) bool
        Where floor and leather show.
    mm : float
        Of a pixel.
    correct : (h, w) bool, optional
        What reaches there was found to be traced correctly.
    least_contrast : float
        Distance of leather to floor below which a stretch of the outline is faint.
    """
    import cv2

    sides = Sides(
        picture, whole, usable, DOUBT.rim_pixels, window=DOUBT.reach_mm / mm / 2, step=DOUBT.step, hue_astray=0.0
    )
    into, out = (cv2.distanceTransform(side.astype(np.uint8), cv2.DIST_L2, 5) for side in (whole, ~whole))
    away = into + out
    near = usable & (away < DOUBT.reach_mm / mm)
    rows, columns = np.nonzero(near)
    _, way, _, contrast, _ = sides.judged(picture, rows, columns)
    cover = whole.astype(np.float32)
    cover[rows, columns] = np.clip(way, -0.5, 1.5)
    cover = cv2.GaussianBlur(cover, (0, 0), DOUBT.smooth_pixels)
    edge = away[rows, columns] <= DOUBT.edge_pixels
    edge_rows, edge_columns, faintness = rows[edge], columns[edge], contrast[edge]
    unlike = np.where(whole, 1 - cover, cover)
    # A bay or a point narrower than this blur never looks quite like the other side.
    strange = near & (unlike > DOUBT.faint) & (away > DOUBT.rim_pixels / 2)
    count, labels = cv2.connectedComponents(strange.astype(np.uint8), connectivity=8)
    begins = np.zeros(count, bool)
    begins[np.unique(labels[away < DOUBT.rim_pixels])] = True
    begins[0] = False
    passed = np.zeros(count, bool)
    if correct is not None:
        passed[np.unique(labels[correct])] = True
    wrong = near & (unlike > 0.5) & (away > DOUBT.rim_pixels / 2) & ~passed[labels]
    clear = near & (away > DOUBT.rim_pixels)
    rows, columns = np.nonzero((begins & ~passed)[labels] & (away >= DOUBT.least_depth_pixels))
    furthest = np.argsort(-away[rows, columns], kind="stable")
    first = furthest[np.sort(np.unique(labels[rows, columns][furthest], return_index=True)[1])]
    stray = wrong & clear & ~begins[labels]
    return Judgement(
        float(np.quantile(contrast[edge], DOUBT.faintest_quantile)) if edge.any() else 0.0,
        float((wrong & clear).sum() / max(clear.sum(), 1)),
        tuple((float(away[rows[at], columns[at]] * mm), (float(columns[at]), float(rows[at]))) for at in first),
        deep_areas=tuple(around(labels == labels[rows[at], columns[at]], DOUBT.grown_pixels)[0] for at in first),
        stray=tuple(around(stray, DOUBT.grown_pixels)),
        faint=tuple(_faint(edge_rows, edge_columns, faintness, whole.shape, mm, least_contrast)),
    )


def _faint(
    rows: Whole, columns: Whole, contrast: Floats, shape: tuple[int, ...], mm: float, least: float
) -> list[Polygon]:
    """Areas around the places of an outline where it is fainter than the least contrast: as broad as that is times the
    contrast there."""
    import cv2

    found = np.zeros(shape, bool)
    for level in least * np.array(DOUBT.faint_levels):
        mask = np.zeros(shape, np.uint8)
        some = contrast < level
        mask[rows[some], columns[some]] = 1
        # a few pixels by themselves are the noise of the judgement
        mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, disc(DOUBT.faint_gap_pixels))
        count, labels, facts, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
        long = np.hypot(facts[:, 2], facts[:, 3]) > DOUBT.faint_long_mm / mm
        long[0] = False
        if count > 1 and long.any():
            away = cv2.distanceTransform((~long[labels]).astype(np.uint8), cv2.DIST_L2, 5)
            found |= away < DOUBT.faint_mm * least / level / mm
    # a strip all around the hide has no outline of its own, a stretch of it has
    tile = max(1, round(DOUBT.faint_tile_mm / mm))
    areas: list[Polygon] = []
    for top in range(0, shape[0], tile):
        for left in range(0, shape[1], tile):
            part = around(found[top : top + tile, left : left + tile], 0)
            areas += [affinity.translate(area, left, top) for area in part]
    return areas


def around(mask: Mask, grow: int) -> list[Polygon]:
    """The areas of a mask, grown by so many pixels, their holes filled, the largest first."""
    import cv2

    if not mask.any():
        return []
    pad = grow + 1
    mask = np.pad(mask.astype(np.uint8), pad)
    if grow:
        mask = cv2.dilate(mask, disc(grow))
    found, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_TC89_L1)
    rings = [ring[:, 0].astype(float) - pad for ring in found]
    shapes = [areal(Polygon(ring).buffer(0.5)) for ring in rings if len(ring) > 2]
    return sorted((part for shape in shapes for part in polygons(shape)), key=lambda one: -one.area)


def pinched(outline: Polygon) -> list[tuple[Reach, Polygon]]:
    """What hangs on an outline (pixels) by a neck, be it leather or floor, and how far it reaches, in pixels too, with
    what lies around it; furthest first."""
    within = Polygon(outline.exterior).simplify(DOUBT.lump_tolerance_pixels)
    found: list[tuple[Reach, Polygon]] = []
    for side in (within, shapely.box(*within.bounds).buffer(4 * DOUBT.necks_pixels[0]).difference(within)):
        known: BaseGeometry = Polygon()
        for neck in DOUBT.necks_pixels:
            lumps = [(lump, reach) for lump, reach in _lumps(side, neck) if not lump.intersects(known)]
            found += [(reach, lump.buffer(neck / 2 + DOUBT.grown_pixels)) for lump, reach in lumps]
            known = shapely.union_all([known, *(lump for lump, _ in lumps)])
    return sorted(found, key=lambda one: one[0], reverse=True)


def _lumps(side: BaseGeometry, neck: float) -> Iterator[tuple[Polygon, Reach]]:
    """What hangs on the rest of a side by less than a neck: without its rim, how far it reaches from there, and
    where."""
    bits = shapely.get_parts(side.buffer(-neck / 2))
    lumps = sorted((bit for bit in bits if bit.area > DOUBT.least_lump_pixels2), key=lambda bit: bit.area)
    if not lumps:
        return
    rest = lumps.pop()
    shapely.prepare(rest)
    for lump in lumps:
        ring = shapely.get_coordinates(lump)
        away = shapely.distance(shapely.points(ring), rest)
        half = (neck / 2 + shapely.maximum_inscribed_circle(lump).length) / DOUBT.stouter_times
        around = shapely.box(*lump.bounds).buffer(float(away.max()) + 2 * neck)
        if half >= neck / 2 or not any(
            bit.intersects(lump) and rest.intersects(bit)
            for bit in shapely.get_parts(side.intersection(around).buffer(-half))
        ):
            x, y = ring[np.argmax(away)]
            yield lump, (float(away.max()), (x, y))
