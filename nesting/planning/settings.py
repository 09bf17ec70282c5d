"""Which settings to cut a hide with."""

from __future__ import annotations

import shapely

from ..errors import ModelError
from ..geometry import areal
from ..leather.thickness import ThicknessMap, cuttable
from ..model import Hide, Setting, between, rows_for

MOST_SETTINGS = 3
"""A change-over to a fourth is not worth the maker's time on one hide (working assumption)."""
STEP_MM = 0.05
"""Settings between tested rows are looked at for thicknesses this far apart."""
GAIN = 0.01
"""Share of the hide that a setting between rows must cut more than a tested one, and a further setting more than those
before it, to be chosen."""


def choose_settings(
    hide: Hide, thickness: ThicknessMap, settings: tuple[Setting, ...], confidence: float, most: int = MOST_SETTINGS
) -> tuple[Setting, ...]:
    """The settings that together cut most of a hide clean: first the one that cuts most alone, then what adds most.

    Tested rows come before settings worked out between them, which must cut a hundredth of the hide more to be taken.

    Parameters
    ----------
    hide : Hide
    thickness : ThicknessMap
    settings : tuple of Setting
        The setting book; rows for the hide's leather and for cutting are looked up in it.
    confidence : float
        From 0.5 to below 1.
    most : int

    Returns
    -------
    tuple of Setting
        Settings that cut the same tenth of a per cent are told apart by how near to the hide's mean thickness they were
        tested. Empty when no setting cuts anything.
    """
    rows = rows_for(settings, hide.leather)
    if not thickness.known or not rows:
        return ()
    mean = thickness.mean_over(hide)
    candidates = [(row, _cut(row, thickness, hide, confidence)) for row in rows]
    tested = {row.thickness_mm for row in rows}
    for thousandths in range(round(1000 * min(tested)), round(1000 * max(tested)), round(1000 * STEP_MM)):
        if thousandths / 1000 not in tested:
            try:
                row = between(rows, thousandths / 1000)
            except ModelError:
                break
            candidates.append((row, _cut(row, thickness, hide, confidence)))
    chosen, covered = [], shapely.Polygon()
    while len(chosen) < most:

        def merit(candidate) -> tuple[float, float]:
            row, region = candidate
            gain = region.difference(covered).area / hide.outline.area - GAIN * (row.thickness_mm not in tested)
            return round(1000 * gain), -abs(row.thickness_mm - mean)

        best = max(candidates, key=merit)
        if merit(best)[0] < (1000 * GAIN if chosen else 1):
            break
        chosen.append(best[0])
        covered = areal(shapely.union_all([covered, best[1]]))
    return tuple(chosen)


def coverage(hide: Hide, thickness: ThicknessMap, settings: tuple[Setting, ...], confidence: float) -> float:
    """Share of a hide (0 to 1) that at least one of some settings cuts clean."""
    regions = [_cut(row, thickness, hide, confidence) for row in settings]
    return float(shapely.union_all(regions).area / hide.outline.area) if regions else 0.0


def _cut(row: Setting, thickness: ThicknessMap, hide: Hide, confidence: float):
    return cuttable(thickness, hide, row.thinnest_mm, row.thickest_mm, confidence)
