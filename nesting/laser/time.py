"""How long the machine runs."""

from __future__ import annotations

from ..model import Layout
from .load import bed_loads


def machine_seconds(layout: Layout, hide_id: str) -> dict[tuple[str, str, str, int, int, bool], float]:
    """Seconds of machine time for every part on a hide, by the placement's key.

    A line takes its length / speed x passes of the hide's setting, engraving its length / the engraving speed, and the
    move to it its length / the travel speed, once: a line gets all its passes before the head moves on. Moves are
    shared by charging each to the part it leads to. Speeding up and slowing down are not counted, nor is loading.

    Parameters
    ----------
    layout : Layout
    hide_id : str

    Returns
    -------
    dict of float
        All 0 when the hide has no setting: it is not burnt.
    """
    seconds = {placement.key: 0.0 for placement in layout.on(hide_id)}
    setting, machine = layout.settings.get(hide_id), layout.workshop.machine
    if setting is None:
        return seconds
    for load in bed_loads(layout, hide_id):
        for burn in load.lines:
            length = burn.line.length
            if burn.operation == "engrave":
                burning = length / machine.engrave_mm_s
            else:
                burning = length / setting.speed_mm_s * setting.passes
            seconds[burn.placement.key] += burning + burn.travel_mm / machine.travel_mm_s
    return seconds
