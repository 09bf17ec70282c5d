"""Bed loads: what is burnt from one panel with one setting in one go, line by line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import shapely
from shapely.geometry import LineString, Polygon

from ..layout import Layout, Placement
from ..model import OPERATIONS, Hide, ModelError
from ..workshop import Setting
from .entry import is_ring
from .kerf import burn_paths
from .order import HeatSpread, burning_order, travel_mm
from .registration import BedPose, lay
from .settings import between, rows_for

NEIGHBOUR_MM = 10.0
"""Parts nearer to each other than this warm each other."""


@dataclass(frozen=True)
class BurnLine:
    """One line as it is burnt, in hide coordinates, the part it belongs to, and the move that leads to it.

    ``fill`` is the area to engrave line by line, of which ``line`` is the outer edge; None where the line is followed.
    """

    operation: str
    placement: Placement
    line: LineString
    travel_mm: float
    fill: Polygon | None = None


@dataclass(frozen=True)
class BedLoad:
    """The lines of one panel in burning order, what they are burnt with, how the panel lies, and what to know.

    ``pose`` is None for a panel that fits the bed at no angle; ``engraving`` is None when no tested row covers it.
    """

    hide: str
    panel: str
    setting: Setting | None
    engraving: Setting | None
    pose: BedPose | None
    lines: tuple[BurnLine, ...]
    warnings: tuple[str, ...]

    @property
    def placements(self) -> tuple[Placement, ...]:
        """The parts of this load, each once, in the order in which their first line is burnt."""
        return tuple({line.placement.key: line.placement for line in self.lines}.values())


def bed_loads(
    layout: Layout, hide_id: str, *, spread_heat: bool = False, poses: Mapping[str, BedPose] | None = None
) -> tuple[BedLoad, ...]:
    """What is burnt from each panel of a hide, in the order of the panels; panels without parts are left out.

    Parameters
    ----------
    layout : Layout
    hide_id : str
    spread_heat : bool
        Burn no part straight after its neighbour if it can be helped; the head travels further.
    poses : mapping of str to BedPose, optional
        How panels lie that were measured on the bed; the others are laid against the stops.

    Returns
    -------
    tuple of BedLoad
        Lines in hide coordinates, mm. The head is taken to wait at the bed's bottom left corner.
    """
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    panels = {panel.id: panel.polygon for panel in layout.panels if panel.hide == hide_id}
    parts: dict[str, list[Placement]] = {panel: [] for panel in panels}
    for placement in layout.on(hide_id):
        parts.setdefault(placement.panel, []).append(placement)
    loads = []
    for panel, placements in parts.items():
        if not placements:
            continue
        polygon = panels.get(panel) or shapely.union_all([part.outline for part in placements]).convex_hull
        pose = (poses or {}).get(panel) or lay(polygon, hide, layout.workshop.machine)
        for setting, group in _by_setting(layout, placements):
            loads.append(_load(layout, hide, panel, polygon, setting, pose, group, spread_heat))
    return tuple(loads)


def engraving_setting(layout: Layout, hide: Hide, setting: Setting | None) -> tuple[Setting | None, str]:
    """What a load is engraved with, at the thickness its cutting setting is for; None and the reason when nothing is.

    Beyond the tested thicknesses a row still holds within its own window.
    """
    workshop = layout.workshop
    operation = f"engrave {workshop.engraving_depth}"
    rows = rows_for(workshop.engravings, hide.leather, operation)
    if setting is None or not rows:
        return None, f"no tested setting to {operation}: find its power on a scrap first (nesting swatch)"
    try:
        return between(rows, setting.thickness_mm), ""
    except ModelError as error:
        holding = [row for row in rows if row.thinnest_mm <= setting.thickness_mm <= row.thickest_mm]
        nearest = min(holding, key=lambda row: abs(row.thickness_mm - setting.thickness_mm), default=None)
        return nearest, "" if nearest else str(error)


def _by_setting(layout: Layout, placements: Sequence[Placement]) -> list[tuple[Setting | None, list[Placement]]]:
    """The parts of a panel by the setting they are burnt with, those in the cutouts of others first where it can be."""
    groups: dict[Setting | None, list[Placement]] = {}
    for placement in placements:
        groups.setdefault(layout.setting_of(placement), []).append(placement)
    around = _surrounding(placements)
    outlines = [outline for inside in around.values() for outline in inside]
    inner = {placement.key for placement in placements if any(placement.outline is each for each in outlines)}
    return sorted(groups.items(), key=lambda entry: -sum(placement.key in inner for placement in entry[1]))


def _load(
    layout: Layout,
    hide: Hide,
    panel: str,
    polygon: Polygon,
    setting: Setting | None,
    pose: BedPose | None,
    parts: Sequence[Placement],
    spread_heat: bool,
) -> BedLoad:
    engraving, reason = engraving_setting(layout, hide, setting)
    lines: dict[str, list[LineString]] = {operation: [] for operation in OPERATIONS}
    owners: dict[str, list[int]] = {operation: [] for operation in OPERATIONS}
    fills: list[Polygon | None] = []
    warnings: list[str] = []
    surrounding = _surrounding(parts)
    for number, placement in enumerate(parts):
        paths = burn_paths(placement, layout.workshop.margins.kerf_mm)
        warnings += paths.warnings
        engraved = _filled(paths.engrave) if engraving and engraving.line_spacing_mm else [(p, None) for p in paths.engrave]
        fills += [fill for _, fill in engraved]
        found = {operation: getattr(paths, operation) for operation in OPERATIONS}
        found["engrave"] = tuple(line for line, _ in engraved)
        if number in surrounding:
            # A cutout with another part in it is burnt with the outlines, where what lies inside comes first.
            around = [line for line in paths.cutout if _holds(line, surrounding[number])]
            found["cutout"] = tuple(line for line in paths.cutout if line not in around)
            found["outline"] = (*around, *paths.outline)
        for operation in OPERATIONS:
            lines[operation] += found[operation]
            owners[operation] += [number] * len(found[operation])
    if reason and lines["engrave"]:
        warnings.append(f"engraving: {reason}")
    start = pose.back(0.0, 0.0) if pose else (float(polygon.bounds[0]), float(polygon.bounds[1]))
    spread = HeatSpread(owners, _neighbours(parts)) if spread_heat else None
    ordered = burning_order(lines, start, spread)
    order = [(operation, *entry) for operation, entries in ordered.items() for entry in entries]
    moves = travel_mm([line for _, _, line in order], start)
    burnt = (
        BurnLine(
            operation, parts[owners[operation][index]], line, move, fills[index] if operation == "engrave" else None
        )
        for (operation, index, line), move in zip(order, moves)
    )
    return BedLoad(hide.id, panel, setting, engraving, pose, tuple(burnt), tuple(dict.fromkeys(warnings)))


def _filled(engrave: Sequence[LineString]) -> list[tuple[LineString, Polygon | None]]:
    """Closed engraving as areas to fill, a ring within a ring left open; open engraving as lines to follow."""
    rings = [Polygon(line) for line in engrave if is_ring(line)]
    sound = [ring for ring in rings if ring.is_valid]
    followed = [line for line in engrave if not (is_ring(line) and Polygon(line).is_valid)]
    area = reduce(lambda a, b: a.symmetric_difference(b), sound, Polygon())
    fills = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon" and part.area > 0]
    return [(LineString(fill.exterior.coords), fill) for fill in fills] + [(line, None) for line in followed]


def _surrounding(parts: Sequence[Placement]) -> dict[int, list[Polygon]]:
    """For each part, by number, the outlines of other parts that lie inside one of its cutouts."""
    outlines = [part.outline for part in parts]
    cutouts = [(number, cutout) for number, part in enumerate(parts) for cutout in part.cutouts]
    inside: dict[int, list[Polygon]] = {}
    if cutouts:
        found = shapely.STRtree(outlines).query([cutout for _, cutout in cutouts], predicate="contains")
        for cutout, outline in found.T:
            inside.setdefault(cutouts[cutout][0], []).append(outlines[outline])
    return inside


def _holds(line: LineString, outlines: Sequence[Polygon]) -> bool:
    return is_ring(line) and any(Polygon(line).contains(outline) for outline in outlines)


def _neighbours(parts: Sequence[Placement]) -> dict[int, frozenset[int]]:
    """The parts that warm each part: itself and those near it."""
    outlines = [part.outline for part in parts]
    found = shapely.STRtree(outlines).query(outlines, predicate="dwithin", distance=NEIGHBOUR_MM)
    near: dict[int, set[int]] = {number: {number} for number in range(len(parts))}
    for one, other in found.T:
        near[int(one)].add(int(other))
    return {number: frozenset(others) for number, others in near.items()}
