"""The lines to burn: moved by half the kerf so that finished parts are true to size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyclipper
from shapely.geometry import LineString, Polygon

from ..model import Placement

SCALE = 1e5
"""pyclipper counts in whole numbers: this many to a mm."""
ARC_TOLERANCE_MM = 0.002
DOT_MM = 0.05


@dataclass(frozen=True)
class BurnPaths:
    """What to burn for one part, as lines in mm by operation, and what had to be changed to burn it."""

    engrave: tuple[LineString, ...]
    stitch: tuple[LineString, ...]
    cutout: tuple[LineString, ...]
    outline: tuple[LineString, ...]
    warnings: tuple[str, ...]


def burn_paths(placement: Placement, kerf_mm: float) -> BurnPaths:
    """Lines that leave the part true to size: the outline out by half the kerf, cutouts and round stitch holes in by half.

    Parameters
    ----------
    placement : Placement
    kerf_mm : float
        Width of leather the beam removes.

    Returns
    -------
    BurnPaths
        A hole no wider than the kerf becomes a dot in its middle and is listed; one that the kerf splits is kept as
        its pieces and listed. Open slits and engraving stay as drawn.
    """
    half, warnings = kerf_mm / 2, []
    outline = _lines(moved(placement.outline, half))
    cutouts, stitches = [], []
    for number, cutout in enumerate(placement.cutouts, 1):
        cutouts += _hole(cutout, half, f"{placement.label} cutout {number}", warnings)
    for number, line in enumerate(placement.stitch, 1):
        ring = _ring(line)
        stitches += [line] if ring is None else _hole(ring, half, f"{placement.label} stitch hole {number}", warnings)
    return BurnPaths(placement.engrave, tuple(stitches), tuple(cutouts), tuple(outline), tuple(warnings))


def moved(polygon: Polygon, distance_mm: float) -> list[Polygon]:
    """A polygon's outer ring grown (or shrunk) with round corners, as the polygons that remain."""
    if distance_mm == 0:
        return [Polygon(polygon.exterior)]
    path = np.rint(np.asarray(polygon.exterior.coords)[:-1] * SCALE).astype(np.int64).tolist()
    offset = pyclipper.PyclipperOffset(2.0, ARC_TOLERANCE_MM * SCALE)
    offset.AddPath(path, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    rings = [np.array(ring) / SCALE for ring in offset.Execute(distance_mm * SCALE)]
    return [Polygon(ring) for ring in rings if len(ring) >= 3 and Polygon(ring).exterior.is_ccw]


def _hole(hole: Polygon, half: float, name: str, warnings: list[str]) -> list[LineString]:
    left = moved(hole, -half)
    if not left:
        warnings.append(f"{name} is no wider than the kerf of {2 * half:g} mm: it is burnt as a dot")
        spot = hole.representative_point()
        return [LineString([(spot.x - DOT_MM / 2, spot.y), (spot.x + DOT_MM / 2, spot.y)])]
    if len(left) > 1:
        warnings.append(f"{name} is narrower than the kerf in places: it is burnt as {len(left)} pieces")
    return _lines(left)


def _ring(line: LineString) -> Polygon | None:
    """The hole a closed stitch line draws; None for an open slit."""
    if line.is_closed and len(line.coords) > 3:
        polygon = Polygon(line)
        if polygon.is_valid and polygon.area > 0:
            return polygon
    return None


def _lines(polygons: list[Polygon]) -> list[LineString]:
    return [LineString(polygon.exterior.coords) for polygon in polygons]
