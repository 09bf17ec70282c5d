"""Hides made ready before a run: how thick they are, and the settings they may be cut with."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..geometry import Area
from ..leather.limits import DEFAULT as LEATHER
from ..leather.thickness import ThicknessMap, cuttable, thickness_map
from ..model import SAFE_TANNAGE, Hide, Setting, Workshop, rows_for, units
from .limits import DEFAULT, PlanLimits
from .settings import choose_settings


@dataclass(frozen=True)
class Ready:
    """A hide made ready to place on: its thickness map, the settings it may be cut with, and what to tell first.

    The first setting cuts most of the hide alone; each further one adds most to those before it. The number of a
    setting is its band. Nothing is placed on a hide that is not ``open``; where a setting all but covers it, ``lacks``
    says what stands in the way.
    """

    hide: Hide
    map: ThicknessMap
    settings: tuple[Setting, ...]
    warnings: tuple[str, ...]
    open: bool
    lacks: str = ""

    @property
    def setting(self) -> Setting | None:
        """The main setting; None when the hide is only nested, never burnt."""
        return self.settings[0] if self.settings else None

    @property
    def bands(self) -> range:
        """Numbers of the settings; one number where there is none, for parts that are not burnt."""
        return range(max(len(self.settings), 1))

    def window_mm(self, asked: tuple[float, float] | None, band: int) -> tuple[float, float] | None:
        """Thickness between which a setting cuts clean and a part is as thick as asked; None when nothing limits it."""
        if not self.settings:
            return asked
        least, greatest = asked or (0.0, float("inf"))
        setting = self.settings[band]
        return max(least, setting.thinnest_mm), min(greatest, setting.thickest_mm)

    def good(self, asked: tuple[float, float] | None, band: int, confidence: float) -> Area | None:
        """Region that a setting cuts clean and that is as thick as a part asks for; None: everywhere."""
        if band not in self.bands:
            return Polygon()
        window = self.window_mm(asked, band)
        if window is None:
            return None
        if window[0] >= window[1] or not self.map.known:
            return Polygon()
        return cuttable(self.map, self.hide, *window, confidence)

    def with_settings(self, most: int) -> Ready:
        """The same hide with no more than so many settings."""
        return replace(self, settings=self.settings[:most])


def ready(hide: Hide, workshop: Workshop, limits: PlanLimits = DEFAULT) -> Ready:
    """Look at a hide before a run: choose its settings, and say what stands in the way.

    A hide that is burnt but that no setting covers is not open.
    """
    warnings = [hide.smoothed_words] if hide.smoothed else []
    thickness = thickness_map(hide, workshop.thickness_spread_mm)
    settings: tuple[Setting, ...] = ()
    usable, lacks = True, ""
    if not hide.laser_safe:
        warnings.append(
            f"hide {hide.id} is {hide.tannage}, not known to be {SAFE_TANNAGE}-tanned: it is nested and costed, "
            "but no laser files will be made for it"
        )
    elif not workshop.settings:
        about = f"{thickness.mean_over(hide):.2g}" if thickness.known else ".."
        warnings.append(
            f"no settings in the workshop: hide {hide.id} is nested without regard to what the laser cuts clean, and "
            f"no file to burn can be written for it; cut a test piece (nesting swatch FOLDER --thickness {about} "
            "--speed .. --power ..), add the setting to workshop.toml (nesting swatch record) and plan again"
        )
    elif not thickness.known:
        usable = False
        warnings.append(
            f"hide {hide.id} has neither nominal_mm nor readings: no setting can be chosen, so nothing is placed on it"
        )
    else:
        settings = choose_settings(hide, thickness, workshop.settings, workshop.confidence, limits)
        if not settings:
            usable, lacks = False, _lacking(hide, thickness, workshop, limits)
            warnings.append(
                f"no tested setting covers hide {hide.id} ({thickness.source}) at {workshop.confidence:.0%} "
                f"confidence: nothing is placed on it; {lacks or 'cut a test piece and add the setting'}"
            )
    return Ready(hide, thickness, settings, tuple(warnings), usable, lacks)


def surest(hide: Hide, thickness: ThicknessMap, window_mm: tuple[float, float], limits: PlanLimits = DEFAULT) -> float:
    """The best chance at any place of a hide that it is of a thickness."""
    left, bottom, right, top = hide.outline.bounds
    step = limits.thickness_look_mm
    xs, ys = np.meshgrid(np.arange(left, right, step), np.arange(bottom, top, step))
    inside = shapely.contains_xy(hide.outline, xs, ys)
    return float(thickness.inside(np.column_stack([xs[inside], ys[inside]]), *window_mm).max(initial=0.0))


def _lacking(hide: Hide, thickness: ThicknessMap, workshop: Workshop, limits: PlanLimits) -> str:
    """What a hide lacks that a setting all but covers: how near it comes, and the mend."""
    rows = rows_for(workshop.settings, hide.leather)
    sure = {row: surest(hide, thickness, (row.thinnest_mm, row.thickest_mm), limits) for row in rows}
    nearest = max(rows, key=lambda row: sure[row], default=None)
    if nearest is None or sure[nearest] < limits.near_chance:
        return ""
    window = units.thickness_words((nearest.thinnest_mm, nearest.thickest_mm), workshop.units)
    return (
        f"{nearest.name} cuts clean from {window}, which it is {sure[nearest]:.0%} sure to be: measure it at "
        f"{LEATHER.fewest_readings:g} places or more and add the readings, or test thinner and thicker leather and "
        "widen the setting"
    )
