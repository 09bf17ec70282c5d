"""What remains of a hide as hides of their own, and what tells one piece of leather from another."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace
from decimal import Decimal

import numpy as np
import shapely
from shapely.geometry import Point, Polygon

from ..files.limits import DEFAULT as DEFAULT_FILES
from ..geometry import areal, polygons
from ..model import Hide, Suggestion, Zone
from .limits import DEFAULT, BookLimits

_GRID_MM = 1e-4
"""As a hide's file rounds."""
_LEAST_MM2 = 1.0
"""Crumbs of zones below this are left out: a pinhead."""
_SAME_MM2, _SAME_MM = 5.0, 0.05
"""Panels whose areas and middles differ by no more are the same: what rounding in files moves them by, over the longest
edge of a hide."""


def on_grid(polygon: Polygon) -> Polygon:
    """The largest polygon that is left when corners are rounded as a hide's file rounds them."""
    rounded = polygons(shapely.set_precision(polygon, _GRID_MM))
    return max(rounded, key=lambda one: one.area, default=polygon)


def remaining(hide: Hide, outline: Polygon, name: str, price: Decimal | None, limits: BookLimits = DEFAULT) -> Hide:
    """A piece that is left of a hide, as a hide of its own in the same coordinates.

    It has the zones and doubts that lie in it, and the backbone of the whole. It keeps all readings of the whole, those
    beside it marked as of leather that was cut off: it is as thick as before, and as surely known. With few readings in
    it, and where the whole has enough, its nominal thickness is what those of the whole tell of its middle.

    Parameters
    ----------
    hide : Hide
    outline : Polygon
        Within that of the hide, mm.
    name : str
    price : Decimal, optional
    limits : BookLimits, optional

    Returns
    -------
    Hide
    """
    shapely.prepare(outline)
    farthest = DEFAULT_FILES.farthest_cut_off_mm - DEFAULT_FILES.reading_slack_mm
    readings = tuple(
        replace(r, cut_off=not outline.covers(Point(r.x, r.y)))
        for r in hide.readings
        if outline.distance(Point(r.x, r.y)) <= farthest
    )
    nominal = hide.nominal_mm
    if sum(not r.cut_off for r in readings) < limits.estimated_below <= len(hide.readings):
        nominal = round(_thickness_mm(hide, outline.representative_point(), limits), 2)
    return replace(
        hide,
        id=name,
        outline=outline,
        price=price,
        zones=tuple(Zone(bit, one.grade, one.kind) for one in hide.zones for bit in _clipped(one.polygon, outline)),
        suggestions=tuple(
            Suggestion(bit, one.grade, one.kind, one.confidence)
            for one in hide.suggestions
            for bit in _clipped(one.polygon, outline)
        ),
        doubts=tuple(
            replace(one, polygon=bit, number=0 if number else one.number)
            for one in hide.doubts
            for number, bit in enumerate(_clipped(one.polygon, outline))
        ),
        readings=readings,
        nominal_mm=nominal,
    )


def _thickness_mm(hide: Hide, place: Point, limits: BookLimits) -> float:
    """What the readings of a hide tell of one place: a plane through them, of which near ones count for more.

    Locally weighted regression: Cleveland (1979), here with weights by the inverse square of the distance. It is no
    more than the readings tell: the planner's own map is made of the hide's file.
    """
    xy = np.array([(r.x - place.x, r.y - place.y) for r in hide.readings])
    values = np.array([r.mm for r in hide.readings])
    weights = 1 / np.hypot(np.hypot(*xy.T), limits.near_mm)
    plane = np.column_stack([np.ones(len(xy)), xy]) * weights[:, None]
    level = float(np.linalg.lstsq(plane, values * weights, rcond=None)[0][0])
    return min(max(level, float(values.min())), float(values.max()))


def _clipped(polygon: Polygon, outline: Polygon) -> list[Polygon]:
    bits = polygons(areal(shapely.set_precision(polygon.intersection(outline), _GRID_MM)))
    return [Polygon(bit.exterior) for bit in bits if bit.area >= _LEAST_MM2]


def fingerprint(panel: Polygon) -> str:
    """What tells a panel from any other: its area and its middle, mm2 and mm."""
    return f"{panel.area:.3f} {panel.centroid.x:.3f} {panel.centroid.y:.3f}"


def same(one: str, other: str) -> bool:
    """Whether two fingerprints are of the same leather."""
    (area, x, y), (area_too, x_too, y_too) = (map(float, text.split()) for text in (one, other))
    return abs(area - area_too) <= _SAME_MM2 and math.hypot(x - x_too, y - y_too) <= _SAME_MM


def known(print_: str, prints: Collection[str]) -> bool:
    """Whether a fingerprint is among some."""
    return any(same(print_, other) for other in prints)
