"""Hides with too few thickness readings for a map: what that does, and both ways to mend it."""

from __future__ import annotations

import re

from ..model import Hide, Layout
from ..model.left_out import THICKNESS
from ..model.values import counted
from .limits import DEFAULT, LeatherLimits


def few_readings(hide: Hide, spread_mm: float, limits: LeatherLimits = DEFAULT) -> str:
    """What to do where a hide refuses parts for its thickness since it has fewer readings than a map takes; empty where
    it has enough.

    Parameters
    ----------
    hide : Hide
    spread_mm : float
        How much the workshop says that leather varies where nobody measured.
    limits : LeatherLimits, optional

    Returns
    -------
    str
    """
    count = len(hide.readings)
    if count >= limits.fewest_readings:
        return ""
    readings, least = counted(count, "thickness reading"), limits.fewest_readings
    return (
        f"hide {hide.id} has {readings}, and fewer than {least} make no map: all of it is taken to vary by "
        f"{spread_mm:g} mm; where that keeps parts out, either measure it at {least} places or more (the thickness "
        "tool under Leather on the page, or readings in its file), or, if you know it to be more even, lower the "
        "spread (under Workshop on the page, or spread_mm under thickness in workshop.toml)"
    )


def refused_for_few(layout: Layout, limits: LeatherLimits = DEFAULT) -> list[str]:
    """The same of every hide of a layout with few readings that parts were left out of for its thickness."""
    reasons = {one.reason for one in layout.unplaced if f"{THICKNESS}: " in one.reason}
    return [
        told
        for hide in layout.hides
        if (told := few_readings(hide, layout.workshop.thickness_spread_mm, limits))
        and any(re.search(rf"(?<![\w.-]){re.escape(hide.id)}(?![\w.-])", reason) for reason in reasons)
    ]
