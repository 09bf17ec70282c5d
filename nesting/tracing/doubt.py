"""Where a traced outline may be wrong: floor that looks like leather beside it, or leather that looks like floor."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from .arrays import Mask, Picture
from .limits import METHOD
from .sides import Sides

DOUBT = METHOD.doubt


Reach: TypeAlias = tuple[float, tuple[float, float]]
"""How far something reaches, in mm, and its furthest place, in pixels of the photo."""


@dataclass(frozen=True)
class Doubt:
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
    """

    contrast: float
    astray: float
    deep: tuple[Reach, ...] = ()
    pinched: tuple[Reach, ...] = ()
    unsure: tuple[Reach, ...] = ()
    unsteady_mm: float = 0.0


def doubt(picture: Picture, whole: Mask, usable: Mask, mm: float, correct: Mask | None = None) -> Doubt:
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
    return Doubt(
        float(np.quantile(contrast[edge], DOUBT.faintest_quantile)) if edge.any() else 0.0,
        float((wrong & clear).sum() / max(clear.sum(), 1)),
        tuple((float(away[rows[at], columns[at]] * mm), (float(columns[at]), float(rows[at]))) for at in first),
    )


def pinched(outline: Polygon) -> list[Reach]:
    """What hangs on an outline (pixels) by a neck, be it leather or floor, and how far it reaches, in pixels too;
    furthest first."""
    within = Polygon(outline.exterior).simplify(DOUBT.lump_tolerance_pixels)
    found: list[Reach] = []
    for side in (within, shapely.box(*within.bounds).buffer(4 * DOUBT.necks_pixels[0]).difference(within)):
        known: BaseGeometry = Polygon()
        for neck in DOUBT.necks_pixels:
            lumps = [(lump, reach) for lump, reach in _lumps(side, neck) if not lump.intersects(known)]
            found += [reach for _, reach in lumps]
            known = shapely.union_all([known, *(lump for lump, _ in lumps)])
    return sorted(found, reverse=True)


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
