"""The independent referee: proves a layout from the layout alone, sharing no geometry code with the engine."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from rtree import index
from shapely.geometry import Polygon

from .model import GRADES, Hide, Layout, ModelError, Panel, Placement
from .thickness import thickness_map

SLACK_MM = 0.001
"""A bound missed by less than this is held: layout files carry coordinates rounded to 1e-4 mm."""
ROUNDING_MM = 2e-4
"""How far rounding may part two edges that are drawn as one."""
CONGRUENT_MM = 0.002
CLOSED = "a simple closed line of finite points"
THICKNESS_STEP_MM = 5.0
SAID_MM, SAID_CHANCE = 0.02, 0.05
"""How far what is said of the leather under a part may be from what is found there: other places may be looked at."""
KNIFE_MM = 0.01
"""How far a knife line may end from the edge of the piece it cuts."""
SLACK_DEG = 1e-4
"""Rounding the ends of a backbone 100 mm long turns it by up to this."""


@dataclass(frozen=True)
class Finding:
    """One broken rule: its number (1 to 7), what it is about, who breaks it, the value found and the bound."""

    rule: int
    what: str
    who: str
    value: str
    bound: str

    def __str__(self):
        line = f"rule {self.rule}, {self.what}: {self.who}: {self.value}, must be {self.bound}"
        return " ".join(line.split())


def check(layout: Layout) -> list[Finding]:
    """Prove that a layout holds what must always be true.

    Rules: 1 distances between parts; 2 margins and grades; 3 thickness; 4 directions, no mirroring; 5 panels and bed;
    6 parts that must match come from one hide; 7 every ordered part is placed once or listed as unplaced.

    Parameters
    ----------
    layout : Layout

    Returns
    -------
    list of Finding
        By rule; empty when every rule holds. Broken geometry is a finding too, and only what depends on it is left
        unproved.
    """
    faults = [(placement, _broken(placement)) for placement in layout.placements]
    sound = [placement for placement, fault in faults if fault is None]
    findings = [fault for _, fault in faults if fault is not None]
    findings += [*_panels(layout), *_matches(layout), *_counts(layout), *_congruence(sound)]
    for hide in {hide.id: hide for hide in layout.hides}.values():
        here = [placement for placement in sound if placement.hide == hide.id]
        if here:
            findings += _distances(layout, here)
            findings += _edges(layout, hide, here)
            findings += _grades(layout, hide, here)
            findings += _thickness(layout, hide, here)
            findings += _directions(hide, here)
            findings += _within_panels(layout, hide, here)
            findings += _knife_margin(layout, hide, here)
    return sorted(findings, key=lambda finding: finding.rule)


def _name(placement: Placement) -> str:
    twin = " mirrored" if placement.mirrored else ""
    return f"{placement.order} {placement.product} {placement.part} {placement.piece}.{placement.copy}{twin}"


def _broken(placement: Placement) -> Finding | None:
    """The fault that leaves nothing to prove about a placement, if it has one."""
    if not all(map(math.isfinite, (placement.x, placement.y, placement.angle))):
        pose = f"lies at ({placement.x}, {placement.y}) turned by {placement.angle}"
        return Finding(1, "geometry", _name(placement), pose, "at a finite place and angle")
    areas = [("outline", placement.outline), *(("cutout", cutout) for cutout in placement.cutouts)]
    for kind, area in [*areas, *(("own zone", zone.polygon) for zone in placement.zones)]:
        if not _is_area(area):
            return Finding(1, "geometry", _name(placement), f"its {kind} is broken", CLOSED)
    if not _is_finite([*placement.stitch, *placement.engrave]):
        return Finding(1, "geometry", _name(placement), "a stitch or engraved line is broken", "of finite points")
    return None


def _is_area(shape) -> bool:
    return isinstance(shape, Polygon) and _is_finite(shape) and shape.is_valid and shape.area > 0


def _is_finite(shapes) -> bool:
    return bool(np.isfinite(shapely.get_coordinates(shapes)).all())


def _near(first, second, reach_mm: float) -> np.ndarray:
    """Index pairs, (2, n), of shapes whose boxes come within a reach of each other."""
    tree = index.Index()
    for number, shape in enumerate(second):
        tree.insert(number, shape.bounds)
    boxes = shapely.bounds(np.array(first, object)).reshape(-1, 4) + np.array([-1, -1, 1, 1]) * reach_mm
    pairs = [(i, j) for i, box in enumerate(boxes) for j in sorted(tree.intersection(box))]
    return np.array(pairs, int).reshape(-1, 2).T


def _too_near(first: np.ndarray, second: np.ndarray, bound_mm: float) -> Iterator[tuple[int, float, float]]:
    """Which areas of two arrays come nearer than a bound: position, distance in mm, and mm2 shared."""
    shapely.prepare(first)
    for n in np.flatnonzero(shapely.dwithin(first, second, max(bound_mm - SLACK_MM, 0.0))):
        distance = first[n].distance(second[n])
        common = first[n].intersection(second[n])
        # An overlap no deeper than the slack counts as a touch.
        shared = 0.0 if common.buffer(-SLACK_MM / 2).is_empty else common.area
        if shared or distance < bound_mm - SLACK_MM:
            yield n, distance, shared


def _outside(area, shapes: np.ndarray) -> Iterator[tuple[int, float]]:
    """Which shapes reach more than the slack outside an area: position, and mm2 outside."""
    shapely.prepare(area)
    leaving = np.flatnonzero(~shapely.covers(area, shapes))
    if leaving.size:
        grown = area.buffer(SLACK_MM)
        for n in leaving[~shapely.covers(grown, shapes[leaving])]:
            yield n, shapes[n].difference(area).area


def _distances(layout: Layout, here: list[Placement]) -> Iterator[Finding]:
    between = layout.workshop.margins.between_mm
    outlines = np.array([Polygon(placement.outline.exterior) for placement in here])
    first, second = _near(outlines, outlines, between)
    first, second = first[first < second], second[first < second]
    for n, distance, shared in _too_near(outlines[first], outlines[second], between):
        one, other = here[first[n]], here[second[n]]
        who, bound = f"{_name(one)} and {_name(other)}", f"at least {between:g} mm apart"
        nested = any(
            cutout.covers(inner.outline) for outer, inner in ((one, other), (other, one)) for cutout in outer.cutouts
        )
        if nested:
            yield Finding(1, "in a cutout", who, f"one lies inside a cutout of the other, {shared:.3f} mm2", bound)
        elif shared:
            yield Finding(1, "overlap", who, f"{shared:.3f} mm2 shared", bound)
        else:
            yield Finding(1, "distance", who, f"{distance:.4f} mm apart", bound)


def _edges(layout: Layout, hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    edge = layout.workshop.margins.edge_mm
    outlines = np.array([Polygon(placement.outline.exterior) for placement in here])
    outside = dict(_outside(hide.outline, outlines))
    for n, area in outside.items():
        yield Finding(2, "hide edge", _name(here[n]), f"{area:.3f} mm2 outside hide {hide.id}", "inside it")
    border = hide.outline.boundary
    shapely.prepare(border)
    for n in np.flatnonzero(shapely.dwithin(border, outlines, max(edge - SLACK_MM, 0.0))):
        distance = border.distance(outlines[n])
        if n not in outside and distance < edge - SLACK_MM:
            value = f"{distance:.4f} mm from an edge of hide {hide.id}"
            yield Finding(2, "hide edge", _name(here[n]), value, f"at least {edge:g} mm from it")


def _grades(layout: Layout, hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    flaw = layout.workshop.margins.flaw_mm
    accepted = [_accepted(placement) for placement in here]
    pairs = _near([placement.outline for placement in here], [zone.polygon for zone in hide.zones], flaw)
    rows = [
        (here[i], grade, area, hide.zones[j])
        for i, j in pairs.T
        for grade, area in accepted[i]
        if GRADES.index(hide.zones[j].grade) > GRADES.index(grade)
    ]
    areas, zones = np.array([row[2] for row in rows], object), np.array([row[3].polygon for row in rows], object)
    for n, distance, shared in _too_near(areas, zones, flaw):
        placement, grade, _, zone = rows[n]
        value = f"{shared:.3f} mm2 on it" if shared else f"{distance:.4f} mm from it"
        yield Finding(
            2, " ".join(f"grade {zone.grade} {zone.kind} zone".split()), _name(placement),
            f"an area that accepts grade {grade} lies {value}", f"at least {flaw:g} mm clear",
        )


def _accepted(placement: Placement) -> list[tuple[str, Polygon]]:
    """Areas of a part by the lowest grade they accept; where its own zones overlap the most tolerant counts."""
    areas, left = [], Polygon(placement.outline.exterior)
    for grade in sorted({zone.grade for zone in placement.zones}, reverse=True):
        own = shapely.union_all([zone.polygon for zone in placement.zones if zone.grade == grade])
        areas.append((grade, left.intersection(own)))
        # A zone drawn along the outline would leave slivers of rounding between the two.
        left = left.difference(own.buffer(ROUNDING_MM))
    return [(grade, area) for grade, area in [*areas, (placement.grade, left)] if area.area > 0]


def _thickness(layout: Layout, hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    confidence, known = layout.workshop.confidence, layout.settings_on(hide.id)
    windows = defaultdict(list)
    for placement in here:
        setting = layout.setting_of(placement)
        if placement.setting and setting is None:
            bound = f"one of {', '.join(s.name for s in known) or 'none'}"
            yield Finding(3, "setting", _name(placement), f"names setting {placement.setting!r} of hide {hide.id}", bound)
        least, greatest = placement.thickness_mm or (0.0, math.inf)
        if setting is not None:
            least, greatest = max(least, setting.thinnest_mm), min(greatest, setting.thickest_mm)
        if (least, greatest) != (0.0, math.inf) or placement.under is not None:
            windows[least, greatest].append(placement)
    try:
        estimate = thickness_map(hide, layout.workshop.thickness_spread_mm) if windows else None
    except ModelError as error:
        yield Finding(3, "thickness", f"hide {hide.id}", f"no thickness map, {error}", "known where parts lie")
        return
    for (least, greatest), placements in windows.items():
        samples = [_sample(placement.outline) for placement in placements]
        every = np.vstack(samples)
        chances_all, means_all = np.clip(estimate.inside(every, least, greatest), 0.0, 1.0), estimate.mean_sd(every)[0]
        ends = np.cumsum([len(points) for points in samples])[:-1]
        for placement, points, chances, means in zip(placements, samples, np.split(chances_all, ends), np.split(means_all, ends)):
            worst = int(np.argmin(chances))
            yield from _said(placement, float(means.min()), float(means.max()), float(chances[worst]))
            if (least, greatest) != (0.0, math.inf) and not chances[worst] >= confidence - 1e-6:
                spot = f"at ({points[worst, 0]:.0f}, {points[worst, 1]:.0f}) of hide {hide.id}"
                value = f"{least:g} to {greatest:g} mm thick with {chances[worst]:.1%} {spot}"
                yield Finding(3, "thickness", _name(placement), value, f"at least {confidence:.1%} everywhere under it")


def _said(placement: Placement, least_mm: float, greatest_mm: float, chance: float) -> Iterator[Finding]:
    """What a placement says of the leather under it, where that is not so."""
    under = placement.under
    if under is None:
        return
    apart = max(abs(under.least_mm - least_mm), abs(under.greatest_mm - greatest_mm))
    if not (apart <= SAID_MM and abs(under.confidence - chance) <= SAID_CHANCE):
        value = f"said to be {under.least_mm:.2f} to {under.greatest_mm:.2f} mm thick with {under.confidence:.1%}"
        yield Finding(3, "thickness", _name(placement), value, f"{least_mm:.2f} to {greatest_mm:.2f} mm with {chance:.1%}")


def _sample(polygon: Polygon) -> np.ndarray:
    """Points of a part about every 5 mm, inside and along its border: (n, 2)."""
    x0, y0, x1, y1 = polygon.bounds
    xs, ys = np.meshgrid(np.arange(x0, x1, THICKNESS_STEP_MM), np.arange(y0, y1, THICKNESS_STEP_MM))
    inside = shapely.contains_xy(polygon, xs.ravel(), ys.ravel())
    border = shapely.get_coordinates(polygon.exterior.segmentize(THICKNESS_STEP_MM))
    return np.vstack([np.column_stack([xs.ravel()[inside], ys.ravel()[inside]]), border])


def _directions(hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    for placement in here:
        direction = placement.direction
        if not direction.allows(placement.angle, hide.backbone_deg, SLACK_DEG):
            bound = f"{direction.kind} within {direction.tolerance_deg:g} degrees, backbone at {hide.backbone_deg:.2f}"
            bound += "" if direction.turn else ", not turned round"
            yield Finding(4, "direction", _name(placement), f"turned by {placement.angle:.3f} degrees", bound)


def _congruence(placements: list[Placement]) -> Iterator[Finding]:
    """Copies of a part must be the same drawing turned and moved, its twins the mirrored drawing."""
    models = {}
    for placement in placements:
        drawn = _drawn(placement)
        model, first = models.setdefault((placement.product, placement.part), (drawn, placement))
        for kind in sorted({*model, *drawn}):
            apart = _apart(model.get(kind, []), drawn.get(kind, []))
            if apart:
                value = f"{kind} {apart} {_name(first)} once moved back to its drawing"
                yield Finding(4, "shape", _name(placement), value, "the same drawing, mirrored only where it is a twin")


def _drawn(placement: Placement) -> dict[str, list]:
    """Lines of a part by kind, moved back to its drawing; a twin is mirrored back."""
    kinds = {"outline": [placement.outline.exterior], "stitching": placement.stitch, "engraving": placement.engrave}
    kinds["cutouts"] = [cutout.exterior for cutout in placement.cutouts]
    for zone in placement.zones:
        kinds.setdefault(f"zone of grade {zone.grade}", []).append(zone.polygon.exterior)
    cos, sin = math.cos(math.radians(placement.angle)), math.sin(math.radians(placement.angle))
    back = np.array([[cos, -sin], [sin, cos]]) * ((-1, 1) if placement.mirrored else (1, 1))
    return {
        kind: list(shapely.transform(np.array(lines), lambda points: (points - (placement.x, placement.y)) @ back))
        for kind, lines in kinds.items()
        if len(lines)
    }


def _apart(first: list, second: list) -> str:
    """How two sets of lines differ, in words; empty when they are the same."""
    (one, ones), (two, twos) = (shapely.get_coordinates(lines, return_index=True) for lines in (first, second))
    if np.array_equal(ones, twos) and (np.hypot(*(one - two).T) <= CONGRUENT_MM).all():
        return ""
    if not first or not second:
        return "are not on both it and"
    # The same line may start at another point or have more of them: each must lie in a tube around the other.
    lines, others = shapely.union_all(first), shapely.union_all(second)
    if lines.buffer(CONGRUENT_MM).covers(others) and others.buffer(CONGRUENT_MM).covers(lines):
        return ""
    return f"up to {shapely.hausdorff_distance(lines, others, densify=0.05):.4f} mm away from"


def _panels(layout: Layout) -> Iterator[Finding]:
    """The panels themselves, or whole hides when nothing is cut into panels."""
    machine = layout.workshop.machine
    bed = machine.usable_mm
    bound = f"within the usable bed, {machine.usable_words}, at some angle"
    for hide in layout.hides:
        if _whole(layout) and layout.on(hide.id) and not _fits(hide.outline, *bed):
            yield Finding(5, "bed", f"hide {hide.id}", "has no panels and is bigger than the bed", bound)
        panels = [panel for panel in layout.panels if panel.hide == hide.id]
        for name, count in Counter(panel.id for panel in panels).items():
            if count > 1:
                yield Finding(5, "panel", f"panel {name} of hide {hide.id}", f"appears {count} times", "one panel")
        broken = [panel for panel in panels if not _is_area(panel.polygon)]
        panels = [panel for panel in panels if _is_area(panel.polygon)]
        large = [panel for panel in panels if not _fits(panel.polygon, *bed)]
        yield from (Finding(5, "geometry", _panel(panel), "its outline is broken", CLOSED) for panel in broken)
        yield from (Finding(5, "bed", _panel(panel), "is bigger than the bed", bound) for panel in large)
        shapes = np.array([panel.polygon for panel in panels], object)
        for n, area in _outside(hide.outline, shapes):
            yield Finding(5, "panel", _panel(panels[n]), f"{area:.3f} mm2 outside the hide", "part of it")
        first, second = _near(shapes, shapes, 0.0)
        first, second = first[first < second], second[first < second]
        for n, _, shared in _too_near(shapes[first], shapes[second], 0.0):
            who = f"panels {panels[first[n]].id} and {panels[second[n]].id} of hide {hide.id}"
            yield Finding(5, "panel", who, f"{shared:.3f} mm2 shared", "apart")
        yield from _cut_by_knife(layout, hide, panels)


def _cut_by_knife(layout: Layout, hide: Hide, panels: list[Panel]) -> Iterator[Finding]:
    """Make the knife lines of a hide one after another: each must go right across a piece, and panels be what is left."""
    pieces = [hide.outline]
    for number, cut in enumerate((cut for cut in layout.cuts if cut.hide == hide.id), 1):
        who = f"knife line {number} of hide {hide.id}"
        if not np.isfinite([cut.start, cut.end]).all() or math.dist(cut.start, cut.end) < KNIFE_MM:
            yield Finding(5, "knife line", who, f"goes from {cut.start} to {cut.end}", "from one point to another")
            return
        ends = shapely.points([cut.start, cut.end])
        across = [n for n, piece in enumerate(pieces) if _goes_across(piece, cut.start, cut.end, ends)]
        if not across:
            yield Finding(5, "knife line", who, "does not go right across any piece", "from edge to edge of one piece")
            return
        line = shapely.linestrings([cut.start, cut.end])
        piece = pieces.pop(max(across, key=lambda n: pieces[n].intersection(line).length))
        left = _half_plane(piece, cut.start, cut.end)
        for half in (piece.intersection(left), piece.difference(left)):
            pieces += [bit for bit in shapely.get_parts(half) if isinstance(bit, Polygon) and bit.area > SLACK_MM]
    for panel in panels:
        if not any(_alike(panel.polygon, piece) for piece in pieces):
            yield Finding(5, "knife line", _panel(panel), "is not one of the pieces that the knife lines leave", "one of them")


def _goes_across(piece: Polygon, start, end, ends) -> bool:
    """Whether a line ends on the edge of a piece at both ends, and the piece has nothing on it beyond them."""
    if not shapely.dwithin(piece.exterior, ends, KNIFE_MM).all():
        return False
    reach = piece.length
    unit = (np.array(end) - start) / math.dist(start, end)
    beyond = [shapely.linestrings([np.array(end) + KNIFE_MM * unit, np.array(end) + reach * unit])]
    beyond.append(shapely.linestrings([np.array(start) - KNIFE_MM * unit, np.array(start) - reach * unit]))
    return all(piece.intersection(line).length < 2 * KNIFE_MM for line in beyond)


def _half_plane(piece: Polygon, start, end) -> Polygon:
    """All there is of the plane around a piece to the left of a line."""
    reach = 2 * (piece.length + 1.0)
    unit = (np.array(end) - start) / math.dist(start, end)
    left, first, last = np.array([-unit[1], unit[0]]), np.array(start) - reach * unit, np.array(end) + reach * unit
    return Polygon([first, last, last + reach * left, first + reach * left])


def _alike(one: Polygon, other: Polygon) -> bool:
    return one.buffer(KNIFE_MM).covers(other) and other.buffer(KNIFE_MM).covers(one)


def _knife_margin(layout: Layout, hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    """Parts keep the edge margin from knife lines too: what a knife left is an edge of the panel."""
    edge = layout.workshop.margins.edge_mm
    panels = {panel.id: panel.polygon for panel in layout.panels if panel.hide == hide.id and _is_area(panel.polygon)}
    for placement in here:
        if placement.panel in panels:
            distance = panels[placement.panel].boundary.distance(placement.outline)
            if distance < edge - SLACK_MM and placement.outline.distance(hide.outline.boundary) >= edge - SLACK_MM:
                value = f"{distance:.4f} mm from a knife line of panel {placement.panel} of hide {hide.id}"
                yield Finding(5, "knife line", _name(placement), value, f"at least {edge:g} mm from it")


def _panel(panel: Panel) -> str:
    return f"panel {panel.id} of hide {panel.hide}"


def _whole(layout: Layout) -> bool:
    """Whether hides are laid on the bed whole."""
    return not layout.panels and not any(placement.panel for placement in layout.placements)


def _within_panels(layout: Layout, hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    if _whole(layout):
        return
    panels = {panel.id: panel for panel in layout.panels if panel.hide == hide.id}
    on = defaultdict(list)
    for placement in here:
        on[placement.panel].append(placement)
    for name, placements in on.items():
        if name not in panels:
            for placement in placements:
                value, bound = f"names panel {name!r} of hide {hide.id}", f"one of {', '.join(panels) or 'none'}"
                yield Finding(5, "panel", _name(placement), value, bound)
        elif _is_area(panels[name].polygon):
            outlines = np.array([placement.outline for placement in placements])
            for n, area in _outside(panels[name].polygon, outlines):
                value = f"{area:.3f} mm2 outside {_panel(panels[name])}"
                yield Finding(5, "panel", _name(placements[n]), value, "inside it")


def _fits(shape, width: float, height: float) -> bool:
    """Whether the bed encloses a shape at some angle: any half degree, or a side of its hull along the bed."""
    corners = shapely.get_coordinates(shape.convex_hull)
    sides = np.arctan2(*np.diff(corners, axis=0).T[::-1])
    for turns in (np.radians(np.arange(0.0, 180.0, 0.5)), sides):
        cos, sin = np.cos(turns)[:, None], np.sin(turns)[:, None]
        along = np.ptp(cos * corners[:, 0] + sin * corners[:, 1], axis=1)
        across = np.ptp(cos * corners[:, 1] - sin * corners[:, 0], axis=1)
        short, long = np.minimum(along, across) - SLACK_MM, np.maximum(along, across) - SLACK_MM
        if ((short <= min(width, height)) & (long <= max(width, height))).any():
            return True
    return False


def _matches(layout: Layout) -> Iterator[Finding]:
    groups = defaultdict(set)
    for placement in layout.placements:
        if placement.match:
            groups[placement.match].add(placement.hide)
    for match, hides in groups.items():
        if len(hides) > 1:
            yield Finding(6, "match", match, f"comes from hides {', '.join(sorted(hides))}", "from one hide")


def _counts(layout: Layout) -> Iterator[Finding]:
    keys, counts = Counter(), Counter()
    for thing in (*layout.placements, *layout.unplaced):
        keys[thing.order, thing.product, thing.part, thing.piece, thing.copy, thing.mirrored] += 1
        counts[thing.order, thing.product, thing.part] += 1
    for (*names, piece, copy, mirrored), count in keys.items():
        if count > 1:
            who = f"{' '.join(names)} {piece}.{copy}{' mirrored' if mirrored else ''}"
            yield Finding(7, "count", who, f"appears {count} times", "placed or listed as unplaced once")
    for key in dict.fromkeys([*layout.wanted, *counts]):
        if counts[key] != layout.wanted.get(key, 0):
            value = f"{counts[key]} placed or listed as unplaced"
            yield Finding(7, "count", " ".join(key), value, f"{layout.wanted.get(key, 0)} as ordered")
    for unplaced in layout.unplaced:
        if not unplaced.reason.strip():
            who = f"{unplaced.order} {unplaced.product} {unplaced.part} {unplaced.piece}.{unplaced.copy}"
            yield Finding(7, "reason", who, "unplaced without a reason", "listed with the true reason")
    hides = Counter(hide.id for hide in layout.hides)
    for name, count in hides.items():
        if count > 1:
            yield Finding(7, "hide", f"hide {name}", f"appears {count} times", "one hide")
    named = [(placement.hide, _name(placement)) for placement in layout.placements]
    named += [(panel.hide, f"panel {panel.id}") for panel in layout.panels]
    named += [(cut.hide, "a knife line") for cut in layout.cuts]
    for name, who in [*named, *((name, "a setting") for name in (*layout.settings, *layout.more_settings))]:
        if name not in hides:
            yield Finding(7, "hide", who, f"is on unknown hide {name}", "on a hide of the layout")
