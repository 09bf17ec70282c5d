"""A hide cut into panels that fit the bed, by straight knife lines."""

from __future__ import annotations

import itertools
import math
import operator

import numpy as np
import shapely
import shapely.ops
from shapely.geometry import LineString, Polygon

from ..model import Hide, Panel

SLACK_MM = 1e-6
KNIFE_MM = 1.0
"""Strips are cut from a hide's side this much narrower than the bed: a knife along a straightedge is no truer."""
KNIFE_LINE_MM = 25.0
"""Knife lines that differ in length by less are as good as each other."""
DIRECTIONS_DEG = tuple(range(0, 180, 30))


def split(hide: Hide, bed_width_mm: float, bed_height_mm: float, edge_mm: float) -> tuple[Panel, ...]:
    """Cut a hide by straight lines, each right across the piece it cuts, into panels that fit the bed.

    The hide is cut into strips, and each strip that does not fit across into pieces. Strips along the axes, along the
    backbone, along the hide's smallest rectangle and in steps of 30 degrees are tried, each as many equal ones and as
    bed-sized ones from either side; the fewest panels win, then the least knife line.

    Parameters
    ----------
    hide : Hide
    bed_width_mm, bed_height_mm : float
        The machine's working area; a panel may lie on it at any angle.
    edge_mm : float
        A piece nowhere wider than twice this holds no part. It does not count when the best way of cutting is chosen,
        but is a panel of its own, so that every bit of hide is in exactly one.

    Returns
    -------
    tuple of Panel
        Numbered "1", "2", ... in cutting order. A hide that fits as it is, at some angle, is one panel.
    """
    bed = bed_width_mm, bed_height_mm
    if bed_angle(hide.outline, *bed) is not None:
        return (Panel("1", hide.id, hide.outline),)
    # Each rectangle across the other way is one of the directions too.
    ways = itertools.product(_directions(hide), (bed, bed[::-1]), _SPACINGS)
    best = _cheapest((_strips(hide.outline, *way, bed, edge_mm) for way in ways), edge_mm)
    return tuple(Panel(str(number), hide.id, piece) for number, piece in enumerate(best, 1))


def bed_angle(polygon: Polygon, bed_width_mm: float, bed_height_mm: float) -> float | None:
    """The least angle to turn a piece by so that it fits the bed.

    Parameters
    ----------
    polygon : Polygon
    bed_width_mm, bed_height_mm : float
        Extent of the bed along x and y.

    Returns
    -------
    float or None
        Degrees in (-90, 90], as it lies and a quarter turn before any other; None when it fits at no angle tried: those
        with an edge of its hull along a side of the bed, and every half degree.
    """
    hull = np.asarray(polygon.convex_hull.exterior.coords)
    edges = np.degrees(np.arctan2(*np.diff(hull, axis=0).T[::-1]))
    angles = np.concatenate([[0.0, 90.0], -edges, 90.0 - edges, np.arange(0.0, 180.0, 0.5)])
    angles = 90.0 - (90.0 - angles) % 180.0
    turns = np.radians(angles)
    wide = np.ptp(np.outer(np.cos(turns), hull[:, 0]) - np.outer(np.sin(turns), hull[:, 1]), axis=1)
    high = np.ptp(np.outer(np.sin(turns), hull[:, 0]) + np.outer(np.cos(turns), hull[:, 1]), axis=1)
    fits = angles[(wide <= bed_width_mm + SLACK_MM) & (high <= bed_height_mm + SLACK_MM)]
    if not fits.size:
        return None
    return float(next((angle for angle in (0.0, 90.0) if angle in fits), fits[np.argmin(np.abs(fits))])) + 0.0


def _directions(hide: Hide) -> list[float]:
    corners = np.asarray(hide.outline.minimum_rotated_rectangle.exterior.coords)
    tilt = math.degrees(math.atan2(*(corners[1] - corners[0])[::-1]))
    own = (hide.backbone_deg, hide.backbone_deg + 90.0, tilt, tilt + 90.0)
    return list(dict.fromkeys(round(angle % 180.0, 9) for angle in (*DIRECTIONS_DEG, *own)))


def _cheapest(cuttings, edge_mm: float) -> list[Polygon]:
    """The way of cutting with the fewest panels worth loading, then the fewest pieces, then the least knife line."""

    def cost(pieces: list[Polygon]) -> tuple[int, int, int]:
        # Each mm of knife line adds two of edge. Rounded, so that of ways about as good the one tried first is taken:
        # along the axes before aslant, in equal panels before ones that fill the bed to the brim.
        edge = round(sum(piece.length for piece in pieces) / (2 * KNIFE_LINE_MM))
        return sum(not piece.buffer(-edge_mm).is_empty for piece in pieces), len(pieces), edge

    return min(cuttings, key=cost)


def _strips(outline: Polygon, angle_deg: float, size, spacing, bed, edge_mm: float) -> list[Polygon]:
    """Strips along an angle, no wider than ``size[1]``, cut across into pieces no longer than ``size[0]``."""
    long, wide = size
    pieces = []
    for strip in _slice(outline, angle_deg + 90.0, wide, spacing):
        if bed_angle(strip, *bed) is not None:
            pieces.append(strip)
        else:
            pieces += _cheapest((_slice(strip, angle_deg, long, across) for across in _SPACINGS), edge_mm)
    return pieces


def _equal(low: float, high: float, most: float) -> np.ndarray:
    return np.linspace(low, high, max(1, math.ceil((high - low) / most - 1e-9)) + 1)[1:-1]


def _from_low(low: float, high: float, most: float) -> np.ndarray:
    step = most - min(KNIFE_MM, 0.01 * most)
    return low + step * np.arange(1, math.ceil((high - low) / step - 1e-9))


def _from_high(low: float, high: float, most: float) -> np.ndarray:
    return np.sort(high + low - _from_low(low, high, most))


_SPACINGS = (_equal, _from_low, _from_high)


def _slice(piece: Polygon, towards_deg: float, most: float, spacing) -> list[Polygon]:
    """Connected pieces between lines square to a direction and no further apart than ``most``."""
    along = np.array([math.cos(math.radians(towards_deg)), math.sin(math.radians(towards_deg))])
    across = np.array([-along[1], along[0]])
    corners = np.asarray(piece.exterior.coords)
    reach = corners @ along
    side = np.array([(corners @ across).min() - 1.0, (corners @ across).max() + 1.0])
    done, left = [], [piece]
    for place in spacing(reach.min(), reach.max(), most):
        knife = LineString(place * along + side[:, None] * across)
        cut = [bit for part in left for bit in _halves(part, knife)]
        beyond = [float(bit.representative_point().coords[0] @ along) > place for bit in cut]
        done += itertools.compress(cut, map(operator.not_, beyond))
        left = list(itertools.compress(cut, beyond))
    return done + left


def _halves(piece: Polygon, knife: LineString) -> list[Polygon]:
    if not piece.intersects(knife):
        return [piece]
    return [bit for bit in shapely.ops.split(piece, knife).geoms if bit.geom_type == "Polygon" and bit.area > 1e-9]
