"""The independent referee: proves a layout from the layout alone.

It imports nothing of the packer, the planner, the knife or the regions that they plan with, and uses none of the tools
of `geometry`; what touches what it decides in whole numbers (`exact`), and shapely only measures what it tells of. One
thing it shares with the planner: the thickness
map, `leather.thickness.thickness_map`. Rule 3 therefore proves that parts lie where that map lets them, not that the
map is right; tests/published/test_kriging.py stands for the map, against scikit-learn.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import ModelError
from ..leather.thickness import thickness_map
from ..model import GRADES, Hide, Layout, Placement, Unplaced, counted
from .facts import agree
from .findings import Finding, Findings, is_area, is_finite, near, near_edge, outside, too_near
from .kept import stays
from .limits import DEFAULT, RefereeLimits
from .panels import CLOSED, knife_margin, sound_panels, within_panels
from .pieces import not_cut, not_split, of_the_kind_asked


def check(layout: Layout, limits: RefereeLimits = DEFAULT) -> Findings:
    """Prove that a layout holds what must always be true.

    Rules: 1 distances between parts; 2 margins and grades; 3 thickness; 4 directions, and mirrored only what is a twin
    or shows its flesh side; 5 panels and bed; 6 parts that must match come from one hide or one lot; 7 every ordered
    part is placed once or listed as unplaced; 8 a piece is placed whole or not at all, unless its product may be cut in
    part, or holds pinned or burnt parts; 9 parts lie on leather of the kind asked for; 10 what is pinned or burnt lies
    where it was pinned or burnt, and nothing is added to a burnt panel; 11 what is said twice agrees: settings with the
    setting book, parts with what is asked of them. What is burnt is cut already: of rules 1 to 5, 9 and 11 it has to
    keep only its distance from what is still to be cut.

    Parameters
    ----------
    layout : Layout
    limits : RefereeLimits, optional

    Returns
    -------
    Findings
        By rule, but rule 11 first: by what is untrue no other rule can judge. Empty when every rule holds. Broken
        geometry is a finding too, and only what depends on it is left unproved.
    """
    faults = [(placement, _broken(placement)) for placement in layout.placements]
    sound = [placement for placement, fault in faults if fault is None]
    uncut = [placement for placement in sound if not layout.is_burnt(placement)]
    findings = [fault for _, fault in faults if fault is not None]
    findings += [*sound_panels(layout, limits), *not_split(layout), *_counts(layout), *not_cut(layout)]
    findings += [*of_the_kind_asked(layout, uncut), *_sides(uncut), *_congruence(uncut, limits), *stays(layout, limits)]
    for hide in {hide.id: hide for hide in layout.hides}.values():
        here = [placement for placement in uncut if placement.hide == hide.id]
        findings += within_panels(layout, hide, [placement for placement in sound if placement.hide == hide.id], limits)
        if here:
            gone = [*(p for p in sound if layout.is_burnt(p)), *(p for p in layout.lost if _broken(p) is None)]
            findings += _distances(layout, here, [placement for placement in gone if placement.hide == hide.id], limits)
            findings += _edges(layout, hide, here, limits)
            findings += _doubts(layout, hide, here, limits)
            findings += _grades(layout, hide, here, limits)
            findings += _thickness(layout, hide, here, limits)
            findings += _directions(hide, here, limits)
            findings += knife_margin(layout, hide, here, limits)
    findings.sort(key=lambda finding: finding.rule)
    return Findings([*agree(layout, uncut, limits), *findings])


def _broken(placement: Placement) -> Finding | None:
    """The fault that leaves nothing to prove about a placement, if it has one."""
    if not all(map(math.isfinite, (placement.x, placement.y, placement.angle))):
        pose = f"lies at ({placement.x}, {placement.y}) turned by {placement.angle}"
        return Finding(1, "geometry", placement.name, pose, "at a finite place and angle")
    areas = [("outline", placement.outline), *(("cutout", cutout) for cutout in placement.cutouts)]
    for kind, area in [*areas, *(("own zone", zone.polygon) for zone in placement.zones)]:
        if not is_area(area):
            return Finding(1, "geometry", placement.name, f"its {kind} is broken", CLOSED)
    if not is_finite([*placement.stitch, *placement.engrave]):
        return Finding(1, "geometry", placement.name, "a stitch or engraved line is broken", "of finite points")
    return None


def _distances(
    layout: Layout, here: list[Placement], gone: list[Placement], limits: RefereeLimits
) -> Iterator[Finding]:
    """Distances of what is still to be cut from each other, and from what is gone."""
    between = layout.workshop.margins.between_mm
    every = [*here, *gone]
    outlines = np.array([Polygon(placement.outline.exterior) for placement in every])
    first, second = near(outlines[: len(here)], outlines, between)
    first, second = first[first < second], second[first < second]
    for n, distance, shared in too_near(outlines[first], outlines[second], between, limits):
        one, other = every[first[n]], every[second[n]]
        who, bound = f"{one.name} and {other.name}", f"at least {between:g} mm apart"
        nested = any(
            cutout.covers(inner.outline) for outer, inner in ((one, other), (other, one)) for cutout in outer.cutouts
        )
        if nested:
            yield Finding(1, "in a cutout", who, f"one lies inside a cutout of the other, {shared:.3f} mm2", bound)
        elif shared:
            yield Finding(1, "overlap", who, f"{shared:.3f} mm2 shared", bound)
        else:
            yield Finding(1, "distance", who, f"{distance:.4f} mm apart", bound)


def _edges(layout: Layout, hide: Hide, here: list[Placement], limits: RefereeLimits) -> Iterator[Finding]:
    edge = layout.workshop.margins.edge_mm
    outlines = np.array([Polygon(placement.outline.exterior) for placement in here])
    gone = dict(outside(hide.outline, outlines, limits))
    for n, area in gone.items():
        yield Finding(2, "hide edge", here[n].name, f"{area:.3f} mm2 outside hide {hide.id}", "inside it")
    for n in near_edge(hide.outline, outlines, edge, limits):
        if n not in gone:
            value = f"{hide.outline.boundary.distance(outlines[n]):.4f} mm from an edge of hide {hide.id}"
            yield Finding(2, "hide edge", here[n].name, value, f"at least {edge:g} mm from it")


def _doubts(layout: Layout, hide: Hide, here: list[Placement], limits: RefereeLimits) -> Iterator[Finding]:
    """Parts keep the edge margin and the error stated of that place from the edge and holes of a hide, and off what its
    trace leaves in doubt."""
    outlines = np.array([Polygon(placement.outline.exterior) for placement in here])
    i, j = near(outlines, [one.polygon for one in hide.doubts], 0.0)
    doubts = np.array([hide.doubts[number].polygon for number in j], object)
    for n, _, shared in too_near(outlines[i], doubts, 0.0, limits):
        one = hide.doubts[j[n]]
        number = f" {one.number}" if one.number else ""
        value = f"{shared:.3f} mm2 on doubt{number} {one.kind} of hide {hide.id}"
        yield Finding(2, "doubt", here[i[n]].name, value, "clear of it")
    if hide.error is None:
        return
    rings = [
        shapely.segmentize(ring, limits.error_step_mm) for ring in (hide.outline.exterior, *hide.outline.interiors)
    ]
    ends = np.concatenate([np.stack([at[:-1], at[1:]], axis=1) for at in map(shapely.get_coordinates, rings)])
    bounds = layout.workshop.margins.edge_mm + hide.error.at(ends.reshape(-1, 2)).reshape(-1, 2).min(axis=1)
    pieces = shapely.linestrings(ends)
    for placement, outline in zip(here, outlines):
        within = shapely.dwithin(pieces, outline, np.maximum(bounds - limits.error_slack_mm, 0.0))
        if within.any():
            distances = np.where(within, shapely.distance(pieces, outline) - bounds, math.inf)
            worst = int(np.argmin(distances))
            value = f"{distances[worst] + bounds[worst]:.4f} mm from an edge of hide {hide.id}"
            bound = f"at least {bounds[worst]:.2f} mm from it, margin and stated error there"
            yield Finding(2, "hide edge in doubt", placement.name, value, bound)


def _grades(layout: Layout, hide: Hide, here: list[Placement], limits: RefereeLimits) -> Iterator[Finding]:
    flaw = layout.workshop.margins.flaw_mm
    accepted = [_accepted(placement, limits) for placement in here]
    pairs = near([placement.outline for placement in here], [zone.polygon for zone in hide.zones], flaw)
    rows = [
        (here[i], grade, area, hide.zones[j])
        for i, j in pairs.T
        for grade, area in accepted[i]
        if GRADES.index(hide.zones[j].grade) > GRADES.index(grade)
    ]
    areas, zones = np.array([row[2] for row in rows], object), np.array([row[3].polygon for row in rows], object)
    for n, distance, shared in too_near(areas, zones, flaw, limits):
        placement, grade, _, zone = rows[n]
        value = f"{shared:.3f} mm2 on it" if shared else f"{distance:.4f} mm from it"
        yield Finding(
            2,
            " ".join(f"grade {zone.grade} {zone.kind} zone".split()),
            placement.name,
            f"an area that accepts grade {grade} lies {value}",
            f"at least {flaw:g} mm clear",
        )


def _accepted(placement: Placement, limits: RefereeLimits) -> list[tuple[str, BaseGeometry]]:
    """Areas of a part by the lowest grade they accept; where its own zones overlap the stricter counts."""
    areas: list[tuple[str, BaseGeometry]] = []
    left: BaseGeometry = Polygon(placement.outline.exterior)
    for grade in sorted({zone.grade for zone in placement.zones}):
        own = shapely.union_all([zone.polygon for zone in placement.zones if zone.grade == grade])
        areas.append((grade, left.intersection(own)))
        # A zone drawn along the outline would leave slivers of rounding between the two.
        left = left.difference(own.buffer(limits.rounding_mm))
    return [(grade, area) for grade, area in [*areas, (placement.grade, left)] if area.area > 0]


def _thickness(layout: Layout, hide: Hide, here: list[Placement], limits: RefereeLimits) -> Iterator[Finding]:
    """Rule 3: what lies under a part is within its limits by the thickness map, which the planner uses too.

    See the module's own words for what stands for the map.
    """
    confidence, known = layout.workshop.confidence, layout.settings_on(hide.id)
    windows: dict[tuple[float, float], list[Placement]] = defaultdict(list)
    for placement in here:
        setting = layout.setting_of(placement)
        if placement.setting and setting is None:
            bound = f"one of {', '.join(s.name for s in known) or 'none'}"
            yield Finding(3, "setting", placement.name, f"names setting {placement.setting!r} of hide {hide.id}", bound)
        least, greatest = placement.thickness_mm or (0.0, math.inf)
        if setting is not None:
            least, greatest = max(least, setting.thinnest_mm), min(greatest, setting.thickest_mm)
        if (least, greatest) != (0.0, math.inf) or placement.under is not None:
            windows[least, greatest].append(placement)
    if not windows:
        return
    try:
        estimate = thickness_map(hide, layout.workshop.thickness_spread_mm)
    except ModelError as error:
        yield Finding(3, "thickness", f"hide {hide.id}", f"no thickness map, {error}", "known where parts lie")
        return
    for (least, greatest), placements in windows.items():
        samples = [_sample(placement.outline, limits.look_mm) for placement in placements]
        every = np.vstack(samples)
        chances_all, means_all = np.clip(estimate.inside(every, least, greatest), 0.0, 1.0), estimate.mean_sd(every)[0]
        ends = np.cumsum([len(points) for points in samples])[:-1]
        for placement, points, chances, means in zip(
            placements, samples, np.split(chances_all, ends), np.split(means_all, ends)
        ):
            worst = int(np.argmin(chances))
            yield from _said(placement, float(means.min()), float(means.max()), float(chances[worst]), limits)
            if (least, greatest) != (0.0, math.inf) and not chances[worst] >= confidence - limits.chance:
                spot = f"at ({points[worst, 0]:.0f}, {points[worst, 1]:.0f}) of hide {hide.id}"
                value = f"{least:g} to {greatest:g} mm thick with {chances[worst]:.1%} {spot}"
                yield Finding(3, "thickness", placement.name, value, f"at least {confidence:.1%} everywhere under it")


def _said(
    placement: Placement, least_mm: float, greatest_mm: float, chance: float, limits: RefereeLimits
) -> Iterator[Finding]:
    """What a placement says of the leather under it, where that is not so."""
    under = placement.under
    if under is None:
        return
    apart = max(abs(under.least_mm - least_mm), abs(under.greatest_mm - greatest_mm))
    if not (apart <= limits.said_mm and abs(under.confidence - chance) <= limits.said_chance):
        value = f"said to be {under.least_mm:.2f} to {under.greatest_mm:.2f} mm thick with {under.confidence:.1%}"
        yield Finding(
            3, "thickness", placement.name, value, f"{least_mm:.2f} to {greatest_mm:.2f} mm with {chance:.1%}"
        )


def _sample(polygon: Polygon, step_mm: float) -> npt.NDArray[np.float64]:
    """Points of a part about a step apart, inside and along its border: (n, 2)."""
    x0, y0, x1, y1 = polygon.bounds
    xs, ys = np.meshgrid(np.arange(x0, x1, step_mm), np.arange(y0, y1, step_mm))
    inside = shapely.contains_xy(polygon, xs.ravel(), ys.ravel())
    border = shapely.get_coordinates(polygon.exterior.segmentize(step_mm))
    return np.vstack([np.column_stack([xs.ravel()[inside], ys.ravel()[inside]]), border])


def _directions(hide: Hide, here: list[Placement], limits: RefereeLimits) -> Iterator[Finding]:
    for placement in here:
        direction = placement.direction
        if not direction.allows(placement.angle, hide.backbone_deg, limits.backbone_deg):
            bound = f"{direction.kind} within {direction.tolerance_deg:g} degrees, backbone at {hide.backbone_deg:.2f}"
            bound += "" if direction.turn else ", not turned round"
            yield Finding(4, "direction", placement.name, f"turned by {placement.angle:.3f} degrees", bound)


def _sides(placements: list[Placement]) -> Iterator[Finding]:
    """The same side shows of all parts of a product."""
    products: dict[str, Placement] = {}
    for placement in placements:
        first = products.setdefault(placement.product, placement)
        if placement.flesh_out != first.flesh_out:
            value, bound = (f"{'flesh' if one.flesh_out else 'grain'} side out" for one in (placement, first))
            yield Finding(4, "side", placement.name, value, f"{bound} as {first.name}")


def _congruence(placements: list[Placement], limits: RefereeLimits) -> Iterator[Finding]:
    """Copies of a part must be the same drawing turned and moved; its twins, or else those with their flesh side out,
    the mirrored drawing."""
    models: dict[tuple[str, str], tuple[dict[str, list[BaseGeometry]], Placement]] = {}
    for placement in placements:
        drawn = _drawn(placement)
        model, first = models.setdefault((placement.product, placement.part), (drawn, placement))
        for kind in sorted({*model, *drawn}):
            apart = _apart(model.get(kind, []), drawn.get(kind, []), limits.congruent_mm)
            if apart:
                value = f"{kind} {apart} {first.name} once moved back to its drawing"
                bound = "the same drawing, mirrored only where it is a twin or else flesh side out"
                yield Finding(4, "shape", placement.name, value, bound)


def _drawn(placement: Placement) -> dict[str, list[BaseGeometry]]:
    """Lines of a part by kind, moved back to its drawing; what was laid mirrored is mirrored back."""
    kinds: dict[str, list[LineString]] = {"outline": [placement.outline.exterior], "stitching": [*placement.stitch]}
    hows = placement.engrave_how or ("",) * len(placement.engrave)
    for line, how in zip(placement.engrave, hows):
        kinds.setdefault(f"engraving ({how})" if how else "engraving", []).append(line)
    kinds["cutouts"] = [cutout.exterior for cutout in placement.cutouts]
    for zone in placement.zones:
        kinds.setdefault(f"zone of grade {zone.grade}", []).append(zone.polygon.exterior)
    cos, sin = math.cos(math.radians(placement.angle)), math.sin(math.radians(placement.angle))
    back = np.array([[cos, -sin], [sin, cos]]) * ((-1, 1) if placement.mirrored != placement.flesh_out else (1, 1))
    return {
        kind: list(shapely.transform(np.array(lines), lambda points: (points - (placement.x, placement.y)) @ back))
        for kind, lines in kinds.items()
        if len(lines)
    }


def _apart(first: list[BaseGeometry], second: list[BaseGeometry], congruent_mm: float) -> str:
    """How two sets of lines differ, in words; empty when they are the same."""
    (one, ones), (two, twos) = (shapely.get_coordinates(lines, return_index=True) for lines in (first, second))
    if np.array_equal(ones, twos) and (np.hypot(*(one - two).T) <= congruent_mm).all():
        return ""
    if not first or not second:
        return "are not on both it and"
    # The same line may start at another point or have more of them: each must lie in a tube around the other.
    lines, others = shapely.union_all(first), shapely.union_all(second)
    if lines.buffer(congruent_mm).covers(others) and others.buffer(congruent_mm).covers(lines):
        return ""
    return f"up to {shapely.hausdorff_distance(lines, others, densify=0.05):.4f} mm away from"


def _counts(layout: Layout) -> Iterator[Finding]:
    keys: Counter[tuple[str, str, str, int, int, bool]] = Counter()
    counts: Counter[tuple[str, str, str]] = Counter()
    numbers: dict[tuple[str, str], set[int]] = defaultdict(set)
    things: list[Placement | Unplaced] = [*layout.placements, *layout.unplaced]
    for thing in things:
        keys[thing.order, thing.product, thing.part, thing.piece, thing.copy, thing.mirrored] += 1
        counts[thing.order, thing.product, thing.part] += 1
        numbers[thing.order, thing.product].add(thing.piece)
    for (order, product, part, piece, copy, mirrored), count in keys.items():
        if count > 1:
            who = f"{order} {product} {part} {piece}.{copy}{' mirrored' if mirrored else ''}"
            yield Finding(7, "count", who, f"appears {count} times", "placed or listed as unplaced once")
    for key in dict.fromkeys([*layout.wanted, *counts]):
        if counts[key] != layout.wanted.get(key, 0):
            value = f"{counts[key]} placed or listed as unplaced"
            yield Finding(7, "count", " ".join(key), value, f"{layout.wanted.get(key, 0)} as ordered")
    for line in layout.lines:
        pieces = numbers[line.order, line.product]
        if pieces != set(range(1, line.quantity + 1)):
            numbered = f", numbered {min(pieces)} to {max(pieces)}," if pieces else ""
            value = f"{counted(len(pieces), 'piece')}{numbered} placed or listed as unplaced"
            bound = f"pieces 1 to {line.quantity} as ordered"
            yield Finding(7, "count", f"{line.order} {line.product}", value, bound)
    for unplaced in layout.unplaced:
        if not unplaced.reason.strip():
            who = f"{unplaced.order} {unplaced.product} {unplaced.part} {unplaced.piece}.{unplaced.copy}"
            yield Finding(7, "reason", who, "unplaced without a reason", "listed with the true reason")
    hides = Counter(hide.id for hide in layout.hides)
    for name, count in hides.items():
        if count > 1:
            yield Finding(7, "hide", f"hide {name}", f"appears {count} times", "one hide")
    named = [(placement.hide, placement.name) for placement in layout.placements]
    named += [(panel.hide, f"panel {panel.id}") for panel in layout.panels]
    named += [(cut.hide, "a knife line") for cut in layout.cuts]
    for name, who in [*named, *((name, "a setting") for name in (*layout.settings, *layout.more_settings))]:
        if name not in hides:
            yield Finding(7, "hide", who, f"is on unknown hide {name}", "on a hide of the layout")
