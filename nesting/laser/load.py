"""Bed loads: what is burnt from one panel with one setting in one go, line by line."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import LinearRing, LineString, Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import ModelError
from ..geometry import polygons
from ..geometry import rings as edges_of
from ..model import Curve, Hide, Layout, Placement, Setting, between, rows_for
from .entry import begun_near, is_ring
from .halves import half_of
from .kerf import burn_paths
from .limits import DEFAULT, LaserLimits
from .order import STEPS, HeatSpread, burning_order, travel_mm
from .registration import BedPose, lay
from .runs import Run, changeovers, inside, runs
from .stages import Seam, Stage, machine_of, stages

SPACING_MEND = (
    "give that row its line spacing, in the setting book under Workshop on the page (line_spacing_mm in "
    "workshop.toml), and plan again"
)


@dataclass(frozen=True)
class BurnLine:
    """One line as it is burnt, in hide coordinates, the part it belongs to, and the move that leads to it.

    ``fill`` is the area to engrave line by line, ``edges`` its edge and those of its holes, of which ``curve`` is the
    first; None and empty where the line is followed.
    """

    operation: str
    placement: Placement
    curve: Curve
    travel_mm: float
    fill: Polygon | None = None
    edges: tuple[Curve, ...] = ()

    @cached_property
    def line(self) -> LineString:
        """Chords that stand for the line."""
        return self.curve.flattened(DEFAULT.shown_mm)


@dataclass(frozen=True)
class BedLoad:
    """The lines of one panel in burning order, what they are burnt with, how the panel lies, and what to know.

    ``pose`` is None for a panel that fits the bed at no angle; ``engraving`` is None when no tested row covers it.
    ``stage`` is None unless the panel is fed through; ``run`` counts from 1 the loads between which the leather stays
    where it lies. ``settings`` are what the machine is set to in turn, ``placements`` the parts that come free.
    ``fault`` says why it cannot be burnt: a part is longer than the bed the way leather is fed.
    """

    hide: str
    panel: str
    setting: Setting | None
    engraving: Setting | None
    pose: BedPose | None
    lines: tuple[BurnLine, ...]
    warnings: tuple[str, ...]
    stage: Stage | None = None
    run: int = 1
    settings: tuple[Setting | None, ...] = ()
    placements: tuple[Placement, ...] = ()
    fault: str = ""

    @property
    def laid(self) -> BedPose:
        """How the panel lies, of a load that fits the bed."""
        if self.pose is None:
            raise ValueError(f"panel {self.panel} of hide {self.hide} fits the bed at no angle")
        return self.pose


def bed_loads(
    layout: Layout,
    hide_id: str,
    *,
    spread_heat: bool = False,
    poses: Mapping[str, BedPose] | None = None,
    limits: LaserLimits = DEFAULT,
) -> tuple[BedLoad, ...]:
    """What is burnt from each panel of a hide, in the order of the panels; panels without parts are left out.

    Parameters
    ----------
    layout : Layout
    hide_id : str
    spread_heat : bool
        Burn no part straight after its neighbour if it can be helped; the head travels further.
    poses : mapping of str to BedPose, optional
        How panels lie that were measured on the bed, or a stage of one by the panel's name, a slash and the stage's
        number; the others are laid against the stops.
    limits : LaserLimits, optional

    Returns
    -------
    tuple of BedLoad
        In the order in which they are burnt, with as few change-overs on each panel as can be. Lines in hide
        coordinates, mm. The head is taken to wait at the bed's bottom left corner.
    """
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    loads = []
    for panel, polygon, parts in _on_panels(layout, hide):
        found, fault = panel_runs(layout, hide, polygon, parts, (poses or {}).get(panel), limits)
        for stage, pose, number, run in found:
            if stage is not None:
                pose = (poses or {}).get(f"{panel}/{stage.number}") or pose
            load = _load(layout, hide, panel, polygon, pose, stage, number, run, spread_heat, limits)
            loads.append(replace(load, fault=fault))
    return tuple(loads)


def panel_runs(
    layout: Layout,
    hide: Hide,
    polygon: Polygon,
    parts: Sequence[Placement],
    pose: BedPose | None = None,
    limits: LaserLimits = DEFAULT,
) -> tuple[list[tuple[Stage | None, BedPose | None, int, Run]], str]:
    """The runs of one panel in order, and why it cannot be burnt in stages, where it would have to be.

    Of each run the stage, how the panel lies then, the number of the run there, and the run.
    """
    workshop, fault = layout.workshop, ""
    name = parts[0].panel if parts else ""
    machine, long = machine_of(layout, hide.id, name), (hide.id, name) in layout.long_panels
    pose = pose or lay(polygon, hide, machine, limits=limits)
    made_in: list[tuple[Stage | None, BedPose | None, list[Placement]]]
    try:
        made_in = stages(pose, polygon, parts, machine, workshop.margins.kerf_mm, limits, long)
    except ModelError as error:
        made_in, fault = [(None, pose, list(parts))], str(error)
    found: list[tuple[Stage | None, BedPose | None, int, Run]] = []
    last: Setting | None = None
    for stage, laid, here in made_in:
        made = runs(here, layout.setting_of, lambda setting: engraving_setting(layout, hide, setting)[0], last)
        found += [(stage, laid, number, run) for number, run in enumerate(made, 1)]
        last = made[-1].setting
    return found, fault


def stages_of(
    layout: Layout, hide: Hide, limits: LaserLimits = DEFAULT
) -> dict[str, tuple[Polygon, list[tuple[Stage, BedPose]]]]:
    """The leather of each panel of a hide that is fed through, with its stages and how it lies then."""
    found: dict[str, tuple[Polygon, list[tuple[Stage, BedPose]]]] = {}
    long = any(hide_id == hide.id for hide_id, _ in layout.long_panels)
    if not long and layout.workshop.machine.feed_through == "none":
        return found
    for panel, polygon, parts in _on_panels(layout, hide):
        made, _ = panel_runs(layout, hide, polygon, parts, limits=limits)
        stages = {stage.number: (stage, pose) for stage, pose, *_ in made if stage is not None and pose is not None}
        if stages:
            found[panel] = polygon, list(stages.values())
    return found


def hide_changeovers(layout: Layout, hide_id: str, limits: LaserLimits = DEFAULT) -> int:
    """How often the setting is changed while the panels of a hide are burnt; the first of each panel is not counted."""
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    count = 0
    for _, polygon, parts in _on_panels(layout, hide):
        found, _ = panel_runs(layout, hide, polygon, parts, limits=limits)
        count += changeovers([each for *_, run in found for each in run.settings])
    return count


def _on_panels(layout: Layout, hide: Hide) -> list[tuple[str, Polygon, list[Placement]]]:
    """The panels of a hide that hold parts to burn, in their order: name, leather, parts."""
    panels = {panel.id: panel.polygon for panel in layout.panels if panel.hide == hide.id}
    parts: dict[str, list[Placement]] = {panel: [] for panel in panels}
    for placement in layout.on(hide.id):
        parts.setdefault(placement.panel, []).append(placement)
    return [
        (panel, panels.get(panel) or hull_of(here), here)
        for panel, here in parts.items()
        if here and not layout.by_knife_on(hide.id, panel)
    ]


def hull_of(parts: Sequence[Placement]) -> Polygon:
    """What stands for a panel where a layout has none: the convex hull of its parts."""
    return Polygon(shapely.get_coordinates(shapely.union_all([part.outline for part in parts]).convex_hull))


def engraving_setting(layout: Layout, hide: Hide, setting: Setting | None) -> tuple[Setting | None, str]:
    """What a load is engraved with, at the thickness its cutting setting is for; None and the reason when nothing is.

    Beyond the tested thicknesses a row still holds within its own window.
    """
    workshop = layout.workshop
    operation = f"engrave {workshop.engraving_depth}"
    rows = rows_for(workshop.engravings, hide.leather, operation)
    if setting is None or not rows:
        thickness = ".." if setting is None else f"{setting.thickness_mm:g}"
        command = f"nesting swatch FOLDER --thickness {thickness} --operation '{operation}' --speed .. --power .."
        return None, f"no tested setting to {operation}: find its power on a scrap first ({command})"
    try:
        return between(rows, setting.thickness_mm), ""
    except ModelError as error:
        holding = [row for row in rows if row.thinnest_mm <= setting.thickness_mm <= row.thickest_mm]
        nearest = min(holding, key=lambda row: abs(row.thickness_mm - setting.thickness_mm), default=None)
        return nearest, "" if nearest else str(error)


def unfilled(layout: Layout) -> list[str]:
    """In words, each setting row with which engraving that asks to be filled would only be followed, and what to do."""
    hides = {hide.id: hide for hide in layout.hides}
    parts: dict[str, list[Placement]] = {}
    rows: dict[tuple[str, Setting | None], Setting | None] = {}
    for placement in layout.placements:
        if "fill" not in placement.engrave_how or layout.is_burnt(placement):
            continue
        key = (placement.hide, layout.setting_of(placement))
        if key not in rows:
            rows[key], _ = engraving_setting(layout, hides[placement.hide], key[1])
        row = rows[key]
        if row is not None and not row.line_spacing_mm:
            parts.setdefault(row.name, []).append(placement)
    return [
        f"the engraving of {len(found)} part(s) asks to be filled, but setting {name} has no line spacing: "
        f"only its edges would be burnt; {SPACING_MEND}"
        for name, found in parts.items()
    ]


def _load(
    layout: Layout,
    hide: Hide,
    panel: str,
    polygon: Polygon,
    pose: BedPose | None,
    stage: Stage | None,
    number: int,
    run: Run,
    spread_heat: bool,
    limits: LaserLimits,
) -> BedLoad:
    engraving, reason = engraving_setting(layout, hide, run.setting)
    parts = list(dict.fromkeys((*run.cut, *run.engraved)))
    curves: dict[str, list[Curve]] = {step: [] for step in STEPS}
    owners: dict[str, list[int]] = {step: [] for step in STEPS}
    fills: list[tuple[Polygon, tuple[Curve, ...]]] = []
    warnings: list[str] = []
    around = inside(parts)
    for owner, placement in enumerate(parts):
        paths = burn_paths(placement, layout.workshop.margins.kerf_mm, limits)
        found: dict[str, tuple[Curve, ...]] = dict.fromkeys(STEPS, ())
        if placement in run.engraved:
            areas, found["engrave"], faults = engraved(placement, engraving)
            if stage is not None and stage.seam is not None:
                areas = _areas_here(areas, stage.seam)
            found["fill"] = tuple(edges[0] for _, edges in areas)
            fills += areas
            warnings += faults
        if placement in run.cut:
            warnings += paths.warnings
            # A cutout with another part in it is burnt with the outlines, where what lies inside comes first.
            inner = [parts[other].outline for other in around[owner]]
            holding = [curve for curve in paths.cutout if _holds(curve, inner, limits)]
            found["stitch"] = paths.stitch
            found["cutout"] = tuple(curve for curve in paths.cutout if curve not in holding)
            found["outline"] = (*holding, *paths.outline)
        if stage is not None and stage.seam is not None:
            halves = {step: _this_half(some, stage.seam) for step, some in found.items() if step != "fill"}
            found |= halves
        for step in STEPS:
            curves[step] += found[step]
            owners[step] += [owner] * len(found[step])
    if reason and run.engraved:
        warnings.append(f"engraving: {reason}")
    later = len(set(run.engraved) - set(run.cut))
    if later:
        warnings.append(f"{later} part(s) engraved here are cut in a later run: leave the leather where it lies")
    start = pose.back(0.0, 0.0) if pose else (float(polygon.bounds[0]), float(polygon.bounds[1]))
    spread = HeatSpread(owners, _neighbours(parts, limits.neighbour_mm)) if spread_heat else None
    turn = math.radians(pose.angle_deg) if pose else 0.0
    lines = {step: [_chords(curve, turn, limits) for curve in some] for step, some in curves.items()}
    circles = {step: {n for n, curve in enumerate(some) if curve.circle} for step, some in curves.items()}
    ordered = burning_order(lines, start, spread, limits, circles)
    order = [(step, *entry) for step, entries in ordered.items() for entry in entries]
    moves = travel_mm([line for _, _, line in order], start)
    burnt = []
    for (step, index, line), move in zip(order, moves):
        curve = _as_burnt(curves[step][index], line, limits)
        operation, (fill, edges) = ("engrave", fills[index]) if step == "fill" else (step, (None, ()))
        burnt.append(BurnLine(operation, parts[owners[step][index]], curve, move, fill, edges))
    return BedLoad(
        hide.id, panel, run.setting, engraving, pose, tuple(burnt), tuple(dict.fromkeys(warnings)),
        stage, number, run.settings, run.cut,
    )  # fmt: skip


def _this_half(curves: Sequence[Curve], seam: Seam) -> tuple[Curve, ...]:
    """What of some lines is burnt on this side of a seam."""
    return tuple(half for curve in curves for half in half_of(curve, seam.way, seam.most_mm))


def _areas_here(
    areas: Sequence[tuple[Polygon, tuple[Curve, ...]]], seam: Seam
) -> list[tuple[Polygon, tuple[Curve, ...]]]:
    """What of areas to fill is burnt on this side of a seam."""
    found: list[tuple[Polygon, tuple[Curve, ...]]] = []
    for area, edges in areas:
        x0, y0, x1, y1 = area.bounds
        reach = math.hypot(x1, y1) + math.hypot(x0, y0) + abs(seam.most_mm) + 1.0
        side = [seam.most_mm + reach * 1j, seam.most_mm - reach * 1j, -reach - reach * 1j, -reach + reach * 1j]
        near = Polygon([((corner * seam.way).real, (corner * seam.way).imag) for corner in side])
        if near.contains(area):
            found.append((area, edges))
        else:
            found += [(bit, tuple(map(Curve.of, edges_of(bit)))) for bit in polygons(area.intersection(near))]
    return found


def engraved(
    placement: Placement, engraving: Setting | None
) -> tuple[list[tuple[Polygon, tuple[Curve, ...]]], tuple[Curve, ...], list[str]]:
    """The areas of a part's engraving that are filled with rows, each with its edges, the lines followed, and what to
    know.

    Each shape is filled or followed as its pattern says; where that is silent, closed shapes are filled when the
    setting has a line spacing. A ring within a ring to fill is left open.
    """
    faults: list[str] = []
    spacing = bool(engraving and engraving.line_spacing_mm)
    hows = placement.engrave_how or ("",) * len(placement.engrave)
    rings: list[Polygon] = []
    drawn: list[Curve] = []
    followed: list[Curve] = []
    for line, curve, how in zip(placement.engrave, placement.curves.engrave, hows):
        fill = how == "fill" or (not how and spacing)
        ring = Polygon(line) if fill and is_ring(line) else None
        if ring is not None and ring.is_valid and spacing:
            rings.append(ring)
            drawn.append(curve)
        else:
            followed.append(curve)
    if engraving and not spacing and "fill" in hows:
        faults.append(
            f"{placement.label}: its engraving asks to be filled, but setting {engraving.name} has no line_spacing_mm: "
            f"its edges are followed; {SPACING_MEND}"
        )
    area: BaseGeometry = Polygon()
    for ring in rings:
        area = area.symmetric_difference(ring)
    areas = [(bit, tuple(_edge(edge, rings, drawn) for edge in edges_of(bit))) for bit in polygons(area)]
    return areas, tuple(followed), faults


def _edge(edge: LinearRing, rings: Sequence[Polygon], drawn: Sequence[Curve]) -> Curve:
    """The line drawn that an edge of a filled area follows; the edge itself where several make it."""
    same = (curve for ring, curve in zip(rings, drawn) if ring.exterior.equals(edge))
    return next(same, None) or Curve.of(edge)


def _chords(curve: Curve, turn: float, limits: LaserLimits) -> LineString:
    """A line in chords; a circle is begun where machines begin one, to the right of its centre on the bed."""
    if circle := curve.circle:
        x, y = circle.radius * math.cos(-turn), circle.radius * math.sin(-turn)
        bulge = 1.0 if circle.left else -1.0
        curve = Curve(((circle.x + x, circle.y + y, bulge), (circle.x - x, circle.y - y, bulge)), True)
    return curve.flattened(limits.shown_mm)


def _as_burnt(curve: Curve, line: LineString, limits: LaserLimits) -> Curve:
    """A line begun where the order begins it, and run through as it says."""
    first = np.asarray(line.coords[0])
    if curve.closed:
        return curve if curve.circle else begun_near(curve, first, limits)
    ends = curve.nodes[0][:2], curve.nodes[-1][:2]
    return curve if math.dist(first, ends[0]) <= math.dist(first, ends[1]) else curve.backwards


def _holds(curve: Curve, outlines: Sequence[Polygon], limits: LaserLimits) -> bool:
    if not curve.closed or not outlines:
        return False
    area = Polygon(curve.flattened(limits.shown_mm))
    return any(area.contains(outline) for outline in outlines)


def _neighbours(parts: Sequence[Placement], near_mm: float) -> dict[int, frozenset[int]]:
    """The parts that warm each part: itself and those near it."""
    outlines = [part.outline for part in parts]
    found = shapely.STRtree(outlines).query(outlines, predicate="dwithin", distance=near_mm)
    near: dict[int, set[int]] = {number: {number} for number in range(len(parts))}
    for one, other in found.T:
        near[int(one)].add(int(other))
    return {number: frozenset(others) for number, others in near.items()}
