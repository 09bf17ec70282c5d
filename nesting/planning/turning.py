"""Angles at which a part goes into a rectangle, or is short enough."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon

from .limits import DEFAULT, PlanLimits

Angles = tuple[tuple[float, float], ...]
"""Allowed angles, (least, greatest) in degrees."""


def goes_into(outline: Polygon, angles: Angles, long_mm: float, wide_mm: float, limits: PlanLimits = DEFAULT) -> bool:
    """Whether an outline goes into a rectangle, ``long_mm`` along x, at any allowed angle that is tried."""
    hull = shapely.get_coordinates(outline.convex_hull)
    turned = np.radians(np.concatenate([_tried(low, high, limits) for low, high in angles]))[:, None]
    along = np.ptp(np.cos(turned) * hull[:, 0] - np.sin(turned) * hull[:, 1], axis=1)
    across = np.ptp(np.sin(turned) * hull[:, 0] + np.cos(turned) * hull[:, 1], axis=1)
    return bool(((along <= long_mm) & (across <= wide_mm)).any())


def angles_within(
    outline: Polygon, angles: Angles, feeds_deg: Iterable[float], longest_mm: float, limits: PlanLimits = DEFAULT
) -> Angles:
    """Those of the allowed angles at which an outline is no longer than so much in any of some directions."""
    hull, kept = shapely.get_coordinates(outline.convex_hull), []
    for low, high in angles:
        tried = _tried(low, high, limits)
        turned = np.radians(tried[:, None] - np.array(sorted(feeds_deg)))[..., None]
        along = np.cos(turned) * hull[:, 0] - np.sin(turned) * hull[:, 1]
        short = (np.ptp(along, axis=-1) <= longest_mm * (1 - limits.growth_between_angles)).all(axis=1)
        ends = np.flatnonzero(np.diff(np.concatenate([[False], short, [False]])))
        kept += [
            (float(tried[start]), float(tried[end - 1]))
            for start, end in zip(ends[::2], ends[1::2])
            if end - start > 1 or low == high
        ]
    return tuple(kept)


def _tried(low: float, high: float, limits: PlanLimits) -> npt.NDArray[np.float64]:
    return np.linspace(low, high, math.ceil((high - low) / limits.angle_step_deg) + 1)
