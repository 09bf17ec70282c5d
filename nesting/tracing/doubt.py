"""Where a traced outline may be wrong: floor that looks like leather beside it, or leather that looks like floor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from .sides import Sides

REACH_MM = 40.0
RIM = 3.0
FAINT, LEAST_DEPTH = 0.35, 5.0
"""What looks as much as this like the other side and begins at the outline is followed from there; nearer than so many pixels it
is the blur of the outline itself."""
NECKS, LEAST_LUMP, STOUTER = (6.0, 4.0, 9.0), 4.5, 1.35
"""What hangs on the outline by less than so many pixels may be a leaf or a crumb beside it, sought with each in turn; square pixels
that it has at least, half a neck within its edge; and how many times as wide as its neck it is at least: a slit about as wide all
along is none. Neither passes for the ragged end of a spike (measured on rendered photos)."""


Reach = tuple[float, tuple[float, float]]
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
        Holes that may as well be stains, for all that their colour tells: the diameter of a circle as large, and a place in each.
    unsteady_mm : float
        How far some end of the outline moves, on average, when the photo is given a little more noise.
    """

    contrast: float
    astray: float
    deep: tuple[Reach, ...] = ()
    pinched: tuple[Reach, ...] = ()
    unsure: tuple[Reach, ...] = ()
    unsteady_mm: float = 0.0


def doubt(
    picture: np.ndarray, whole: np.ndarray, usable: np.ndarray, mm: float, correct: np.ndarray | None = None
) -> Doubt:
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

    sides = Sides(picture, whole, usable, RIM, window=REACH_MM / mm / 2, step=3, hue_astray=0.0)
    into, out = (cv2.distanceTransform(side.astype(np.uint8), cv2.DIST_L2, 5) for side in (whole, ~whole))
    away = into + out
    near = usable & (away < REACH_MM / mm)
    rows, columns = np.nonzero(near)
    _, way, _, contrast, _ = sides.judged(picture, rows, columns)
    cover = whole.astype(np.float32)
    cover[rows, columns] = np.clip(way, -0.5, 1.5)
    cover = cv2.GaussianBlur(cover, (0, 0), 1.0)
    edge = away[rows, columns] <= 1.5
    unlike = np.where(whole, 1 - cover, cover)
    # A bay or a point narrower than this blur never looks quite like the other side.
    strange = near & (unlike > FAINT) & (away > RIM / 2)
    count, labels = cv2.connectedComponents(strange.astype(np.uint8), connectivity=8)
    begins = np.zeros(count, bool)
    begins[np.unique(labels[away < RIM])] = True
    begins[0] = False
    passed = np.zeros(count, bool)
    if correct is not None:
        passed[np.unique(labels[correct])] = True
    wrong, clear = near & (unlike > 0.5) & (away > RIM / 2) & ~passed[labels], near & (away > RIM)
    rows, columns = np.nonzero((begins & ~passed)[labels] & (away >= LEAST_DEPTH))
    furthest = np.argsort(-away[rows, columns], kind="stable")
    first = furthest[np.sort(np.unique(labels[rows, columns][furthest], return_index=True)[1])]
    return Doubt(
        float(np.quantile(contrast[edge], 0.1)) if edge.any() else 0.0,
        float((wrong & clear).sum() / max(clear.sum(), 1)),
        tuple((float(away[rows[at], columns[at]] * mm), (float(columns[at]), float(rows[at]))) for at in first),
    )


def pinched(outline: Polygon) -> list[Reach]:
    """What hangs on an outline (pixels) by a neck, be it leather or floor, and how far it reaches, in pixels too; furthest first."""
    within = Polygon(outline.exterior).simplify(0.1)
    found = []
    for side in (within, shapely.box(*within.bounds).buffer(4 * NECKS[0]).difference(within)):
        known = Polygon()
        for neck in NECKS:
            lumps = [(lump, *reach) for lump, *reach in _lumps(side, neck) if not lump.intersects(known)]
            found += [(away, place) for _, away, place in lumps]
            known = shapely.union_all([known, *(lump for lump, *_ in lumps)])
    return sorted(found, reverse=True)


def _lumps(side: Polygon, neck: float):
    """What hangs on the rest of a side by less than a neck: without its rim, how far it reaches from there, and where."""
    bits = shapely.get_parts(side.buffer(-neck / 2))
    *lumps, rest = sorted((bit for bit in bits if bit.area > LEAST_LUMP), key=lambda bit: bit.area) or (None,)
    shapely.prepare(rest)
    for lump in lumps:
        corners = shapely.get_coordinates(lump)
        away = shapely.distance(shapely.points(corners), rest)
        half = (neck / 2 + shapely.maximum_inscribed_circle(lump).length) / STOUTER
        around = shapely.box(*lump.bounds).buffer(float(away.max()) + 2 * neck)
        if half >= neck / 2 or not any(
            bit.intersects(lump) and rest.intersects(bit)
            for bit in shapely.get_parts(side.intersection(around).buffer(-half))
        ):
            yield lump, float(away.max()), tuple(corners[np.argmax(away)])
