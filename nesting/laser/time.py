"""How long the machine burns."""

from __future__ import annotations

from ..model import Layout
from .kerf import burn_paths
from .order import burning_order, travel_mm


def machine_seconds(layout: Layout, hide_id: str) -> dict[tuple, float]:
    """Seconds of machine time for every part on a hide, by the placement's key.

    Cutting is length / speed x passes of the hide's setting, engraving is length / engraving speed, and the travel between
    lines is shared equally among the parts. A hide without a setting is not burnt: 0 seconds.
    """
    placements = layout.on(hide_id)
    setting, machine = layout.settings.get(hide_id), layout.workshop.machine
    if setting is None or not placements:
        return {placement.key: 0.0 for placement in placements}
    seconds, lines = {}, {"engrave": [], "stitch": [], "cutout": [], "outline": []}
    for placement in placements:
        paths = burn_paths(placement, layout.workshop.margins.kerf_mm)
        for operation, found in lines.items():
            found += getattr(paths, operation)
        cut = sum(line.length for line in (*paths.stitch, *paths.cutout, *paths.outline))
        engraved = sum(line.length for line in paths.engrave)
        seconds[placement.key] = cut / setting.speed_mm_s * setting.passes + engraved / machine.engrave_mm_s
    order = burning_order(lines)
    travel = sum(travel_mm(lines[operation], order[operation]) for operation in lines) / machine.travel_mm_s
    return {key: value + travel / len(placements) for key, value in seconds.items()}
