"""Hides made ready before a run: how thick they are, and the settings they may be cut with."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from ..leather.thickness import ThicknessMap, cuttable, thickness_map
from ..model import SAFE_TANNAGE, Hide, Job, Setting
from .settings import choose_settings


@dataclass(frozen=True)
class Ready:
    """A hide made ready to place on: its thickness map, the settings it may be cut with, and what to tell first.

    The first setting cuts most of the hide alone; each further one adds most to those before it.
    """

    hide: Hide
    map: ThicknessMap
    settings: tuple[Setting, ...]
    warnings: tuple[str, ...]
    open: bool

    @property
    def setting(self) -> Setting | None:
        """The main setting; None when the hide is only nested, never burnt."""
        return self.settings[0] if self.settings else None


def holds(item: Ready, limit: tuple[float, float] | None, band: int, confidence: float):
    """Region of a hide that one of its settings cuts clean and that is as thick as a part asks for; None: everywhere."""
    if band >= max(len(item.settings), 1):
        return Polygon()
    setting = item.settings[band] if item.settings else None
    window = limit
    if setting is not None:
        least, greatest = limit or (0.0, float("inf"))
        window = max(least, setting.thinnest_mm), min(greatest, setting.thickest_mm)
    if window is None:
        return None
    if window[0] >= window[1] or not item.map.known:
        return Polygon()
    return cuttable(item.map, item.hide, *window, confidence)


def main_only(hides: tuple[Ready, ...], most: int) -> tuple[Ready, ...]:
    """The same hides with no more than so many settings each."""
    return tuple(replace(item, settings=item.settings[:most]) for item in hides)


def ready(job: Job, hides: tuple[str, ...] | None = None) -> tuple[Ready, ...]:
    """Look at every hide before a run: choose its settings, and say what stands in the way.

    Parameters
    ----------
    job : Job
    hides : tuple of str, optional
        Ids of the hides to use; all of the job's by default.

    Returns
    -------
    tuple of Ready
        A hide that is burnt but that no setting covers is not open: nothing is placed on it.
    """
    return tuple(_ready(hide, job) for hide in job.hides if hides is None or hide.id in hides)


def _ready(hide: Hide, job: Job) -> Ready:
    workshop, warnings = job.workshop, []
    thickness = thickness_map(hide, workshop.thickness_spread_mm)
    settings, usable = (), True
    if not hide.laser_safe:
        warnings.append(
            f"hide {hide.id} is {hide.tannage}, not known to be {SAFE_TANNAGE}-tanned: it is nested and costed, "
            "but no laser files will be made for it"
        )
    elif not workshop.settings:
        warnings.append(
            f"no settings in the workshop: hide {hide.id} is nested without regard to what the laser cuts clean"
        )
    elif not thickness.known:
        usable = False
        warnings.append(
            f"hide {hide.id} has neither nominal_mm nor readings: no setting can be chosen, so nothing is placed on it"
        )
    else:
        settings = choose_settings(hide, thickness, workshop.settings, workshop.confidence)
        if not settings:
            usable = False
            warnings.append(
                f"no tested setting covers hide {hide.id} ({thickness.source}) at {workshop.confidence:.0%} confidence: "
                "nothing is placed on it; cut a test piece and add the setting"
            )
    return Ready(hide, thickness, settings, tuple(warnings), usable)
