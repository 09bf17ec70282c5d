"""Panels that may not fit the bed after all, since a photo does not tell their size to the last mm."""

from __future__ import annotations

import math

import shapely

from ..model import Hide, Layout, Panel, units
from .limits import DEFAULT, LaserLimits
from .registration import lay


def tight_panels(layout: Layout, limits: LaserLimits = DEFAULT) -> list[str]:
    """In words, each panel still to be burnt that may not fit the bed, and what to do."""
    hides = {hide.id: hide for hide in layout.hides}
    waiting = [panel for panel in layout.panels if not panel.longer and not layout.is_burnt(panel)]
    found = (tight(layout, hides[panel.hide], panel, limits) for panel in waiting if layout.settings_on(panel.hide))
    return list(filter(None, found))


def tight(layout: Layout, hide: Hide, panel: Panel, limits: LaserLimits = DEFAULT) -> str:
    """The same of one panel; empty where it fits however far its trace may be off.

    What a knife cuts along a rule is as long as it is measured: only edges of the hide's own may lie elsewhere.
    """
    machine, first = layout.workshop.machine, layout.workshop.units
    corners = shapely.get_coordinates(panel.polygon.exterior)
    own = shapely.dwithin(hide.outline.exterior, shapely.points(corners), limits.near_mm)
    if hide.error is None or not own.any() or (pose := lay(panel.polygon, hide, machine)) is None:
        return ""
    off = float(hide.error.at(corners[own]).max())
    x0, y0, x1, y1 = pose.put(panel.polygon).bounds
    # the bed itself has to hold it: its margin is there for leather that is larger than it was seen
    sides = zip(("wide", "high"), (x1 - x0, y1 - y0), (room + 2 * machine.bed_margin_mm for room in machine.usable_mm))
    over = [(name, side, room) for name, side, room in sides if side + off > room]
    if not over:
        return ""
    name, side, room = over[0]
    # for the edge seen worst, so that the panels of a new plan fit as well
    worst = max(float(hide.error.at(shapely.get_coordinates(hide.outline.exterior)).max()), off)
    margin = math.ceil(5 * worst) / 10
    return (
        f"panel {panel.id} of hide {hide.id} is {units.tape_words(side, first)} {name} on a bed of "
        f"{units.tape_words(room, first)}, and may be {off:.1f} mm more than its photo shows: measure it before it is "
        f"burnt, or set the bed margin (bed_margin_mm) to {margin:g} mm and plan again"
    )
