"""Which settings to cut a hide with."""

from __future__ import annotations

import shapely
from shapely.geometry import Polygon

from ..errors import ModelError
from ..geometry import Area, areal
from ..leather.thickness import ThicknessMap, cuttable
from ..model import Hide, Setting, between, rows_for
from .limits import DEFAULT, PlanLimits

MICRONS = 1000
"""In a mm."""


def choose_settings(
    hide: Hide,
    thickness: ThicknessMap,
    settings: tuple[Setting, ...],
    confidence: float,
    limits: PlanLimits = DEFAULT,
) -> tuple[Setting, ...]:
    """The settings that together cut most of a hide clean: first the one that cuts most alone, then what adds most.

    Tested rows come before settings worked out between them, which must cut ``limits.settings_gain`` more to be taken.

    Parameters
    ----------
    hide : Hide
    thickness : ThicknessMap
    settings : tuple of Setting
        The setting book; rows for the hide's leather and for cutting are looked up in it.
    confidence : float
        From 0.5 to below 1.
    limits : PlanLimits

    Returns
    -------
    tuple of Setting
        No more than ``limits.most_settings``. Settings that cut about the same share are told apart by how near to the
        hide's mean thickness they were tested. Empty when no setting cuts anything.
    """
    rows = rows_for(settings, hide.leather)
    if not thickness.known or not rows:
        return ()
    mean = thickness.mean_over(hide)
    tested = {row.thickness_mm for row in rows}
    candidates = [(row, _cut(row, thickness, hide, confidence)) for row in (*rows, *_between(rows, tested, limits))]
    chosen: list[Setting] = []
    covered: Area = Polygon()
    steps = 1 / limits.settings_alike

    def merit(candidate: tuple[Setting, Area]) -> tuple[int, float]:
        row, region = candidate
        gain = region.difference(covered).area / hide.outline.area
        gain -= limits.settings_gain * (row.thickness_mm not in tested)
        return round(steps * gain), -abs(row.thickness_mm - mean)

    while len(chosen) < limits.most_settings:
        best = max(candidates, key=merit)
        if merit(best)[0] < (steps * limits.settings_gain if chosen else 1):
            break
        chosen.append(best[0])
        covered = areal(shapely.union_all([covered, best[1]]))
    return tuple(chosen)


def coverage(hide: Hide, thickness: ThicknessMap, settings: tuple[Setting, ...], confidence: float) -> float:
    """Share of a hide (0 to 1) that at least one of some settings cuts clean."""
    regions = [_cut(row, thickness, hide, confidence) for row in settings]
    return float(shapely.union_all(regions).area / hide.outline.area) if regions else 0.0


def _between(rows: tuple[Setting, ...], tested: set[float], limits: PlanLimits) -> list[Setting]:
    """Settings worked out between tested rows; none when the rows contradict each other."""
    found = []
    first, last, step = (round(MICRONS * mm) for mm in (min(tested), max(tested), limits.setting_step_mm))
    for microns in range(first, last, step):
        if microns / MICRONS not in tested:
            try:
                found.append(between(rows, microns / MICRONS))
            except ModelError:
                break
    return found


def _cut(row: Setting, thickness: ThicknessMap, hide: Hide, confidence: float) -> Area:
    return cuttable(thickness, hide, row.thinnest_mm, row.thickest_mm, confidence)
