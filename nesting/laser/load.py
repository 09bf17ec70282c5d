"""Bed loads: what is burnt from one panel in one go, line by line."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely.geometry import LineString

from ..model import OPERATIONS, Layout, Placement
from .kerf import burn_paths
from .order import burning_order, travel_mm


@dataclass(frozen=True)
class BurnLine:
    """One line as it is burnt, the part it belongs to, and the move that leads to it."""

    operation: str
    placement: Placement
    line: LineString
    travel_mm: float


@dataclass(frozen=True)
class BedLoad:
    """The lines of one panel in burning order, and what does not come out as drawn."""

    panel: str
    lines: tuple[BurnLine, ...]
    warnings: tuple[str, ...]


def bed_loads(layout: Layout, hide_id: str) -> tuple[BedLoad, ...]:
    """What is burnt from each panel of a hide, in the order of the panels; panels without parts are left out.

    Parameters
    ----------
    layout : Layout
    hide_id : str

    Returns
    -------
    tuple of BedLoad
        Lines in hide coordinates, mm. The head is taken to wait at the lower left of the panel.
    """
    panels = {panel.id: panel.polygon for panel in layout.panels if panel.hide == hide_id}
    loads: dict[str, list[Placement]] = {panel: [] for panel in panels}
    for placement in layout.on(hide_id):
        loads.setdefault(placement.panel, []).append(placement)
    return tuple(_load(layout, panel, panels.get(panel), parts) for panel, parts in loads.items() if parts)


def _load(layout: Layout, panel: str, polygon, parts: list[Placement]) -> BedLoad:
    lines: dict[str, list[LineString]] = {operation: [] for operation in OPERATIONS}
    owners: dict[str, list[Placement]] = {operation: [] for operation in OPERATIONS}
    warnings: list[str] = []
    for placement in parts:
        paths = burn_paths(placement, layout.workshop.margins.kerf_mm)
        warnings += paths.warnings
        for operation in OPERATIONS:
            found = getattr(paths, operation)
            lines[operation] += found
            owners[operation] += [placement] * len(found)
    corner = shapely.bounds(polygon or shapely.union_all([part.outline for part in parts]))[:2]
    start = (float(corner[0]), float(corner[1]))
    order = [(operation, *entry) for operation, entries in burning_order(lines, start).items() for entry in entries]
    moves = travel_mm([line for _, _, line in order], start)
    burnt = (
        BurnLine(operation, owners[operation][index], line, move)
        for (operation, index, line), move in zip(order, moves)
    )
    return BedLoad(panel, tuple(burnt), tuple(dict.fromkeys(warnings)))
