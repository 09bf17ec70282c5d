"""The independent referee: proves a layout from the layout alone, sharing no geometry code with the engine."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from rtree import index
from shapely import affinity
from shapely.geometry import Polygon

from .model import GRADES, Hide, Layout, Placement
from .thickness import thickness_map

SLACK_MM = 0.001
SLACK_MM2 = 1e-3
CONGRUENT_MM = 0.002
THICKNESS_STEP_MM = 5.0


@dataclass(frozen=True)
class Finding:
    """One broken rule: its number (1 to 7), what it is about, who breaks it, the value found and the bound."""

    rule: int
    what: str
    who: str
    value: str
    bound: str

    def __str__(self):
        return f"rule {self.rule}, {self.what}: {self.who}: {self.value}, must be {self.bound}"


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
        Empty when every rule holds.
    """
    findings = [*_counts(layout), *_matches(layout)]
    sound = []
    for placement in layout.placements:
        numbers = (placement.x, placement.y, placement.angle)
        if not all(map(math.isfinite, numbers)) or not placement.outline.is_valid or placement.outline.is_empty:
            findings.append(Finding(1, "geometry", _name(placement), "broken outline or place", "a simple outline at a finite place"))
        else:
            sound.append(placement)
    for hide in layout.hides:
        here = [placement for placement in sound if placement.hide == hide.id]
        findings += _distances(layout, here)
        findings += _margins(layout, hide, here)
        findings += _thickness(layout, hide, here)
        findings += _directions(hide, here)
        findings += _panels(layout, hide, here)
    findings += _congruence(sound)
    return sorted(findings, key=lambda finding: finding.rule)


def _name(placement: Placement) -> str:
    twin = " mirrored" if placement.mirrored else ""
    return f"{placement.order} {placement.product} {placement.part} {placement.piece}.{placement.copy}{twin}"


def _pairs(first: list, second: list, reach: float) -> Iterator[tuple[int, int]]:
    """Index pairs of geometries whose boxes come within ``reach`` of each other."""
    tree = index.Index(((n, g.bounds, None) for n, g in enumerate(second))) if second else None
    for i, geometry in enumerate(first):
        x0, y0, x1, y1 = geometry.bounds
        if tree is not None:
            for j in sorted(tree.intersection((x0 - reach, y0 - reach, x1 + reach, y1 + reach))):
                yield i, j


def _distances(layout: Layout, here: list[Placement]) -> Iterator[Finding]:
    between = layout.workshop.margins.between_mm
    outlines = [placement.outline for placement in here]
    for i, j in _pairs(outlines, outlines, between):
        if j >= i:
            continue
        who = f"{_name(here[i])} and {_name(here[j])}"
        overlap = outlines[i].intersection(outlines[j]).area if outlines[i].intersects(outlines[j]) else 0.0
        if overlap > SLACK_MM2:
            yield Finding(1, "overlap", who, f"{overlap:.3f} mm2 shared", "apart")
        elif outlines[i].distance(outlines[j]) < between - SLACK_MM:
            yield Finding(1, "distance", who, f"{outlines[i].distance(outlines[j]):.4f} mm apart", f"at least {between:g} mm")


def _margins(layout: Layout, hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    margins = layout.workshop.margins
    border = hide.outline.boundary
    shapely.prepare([hide.outline, border])
    for placement in here:
        outside = placement.outline.difference(hide.outline).area
        if outside > SLACK_MM2:
            yield Finding(2, "hide edge", _name(placement), f"{outside:.3f} mm2 outside hide {hide.id}", "inside")
        elif margins.edge_mm > 0 and placement.outline.distance(border) < margins.edge_mm - SLACK_MM:
            gap = placement.outline.distance(border)
            yield Finding(2, "hide edge", _name(placement), f"{gap:.4f} mm from an edge of hide {hide.id}", f"at least {margins.edge_mm:g} mm")
    zones = [zone.polygon for zone in hide.zones]
    for i, j in _pairs([placement.outline for placement in here], zones, margins.flaw_mm):
        grade = hide.zones[j].grade
        for accepted, area in _accepted(here[i]):
            if GRADES.index(grade) <= GRADES.index(accepted) or area.is_empty:
                continue
            overlap = area.intersection(zones[j]).area
            gap = area.distance(zones[j])
            if overlap > SLACK_MM2 or gap < margins.flaw_mm - SLACK_MM:
                value = f"{overlap:.3f} mm2 on it" if overlap > SLACK_MM2 else f"{gap:.4f} mm from it"
                kind = f"{hide.zones[j].kind} zone".strip()
                yield Finding(
                    2, f"grade {grade} {kind}", _name(here[i]), f"an area that accepts {accepted} lies {value}",
                    f"at least {margins.flaw_mm:g} mm clear",
                )


def _accepted(placement: Placement) -> list[tuple[str, Polygon]]:
    """Areas of a part by the lowest grade they accept; where its own zones overlap the most tolerant counts."""
    areas, left = [], placement.outline
    for grade in sorted({zone.grade for zone in placement.zones}, reverse=True):
        own = shapely.union_all([zone.polygon for zone in placement.zones if zone.grade == grade])
        areas.append((grade, left.intersection(own)))
        left = left.difference(own)
    return [*areas, (placement.grade, left)]


def _thickness(layout: Layout, hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    setting = layout.settings.get(hide.id)
    estimate = None
    for placement in here:
        least, greatest = placement.thickness_mm or (0.0, math.inf)
        if setting is not None:
            least, greatest = max(least, setting.thinnest_mm), min(greatest, setting.thickest_mm)
        if (least, greatest) == (0.0, math.inf):
            continue
        if estimate is None:
            estimate = thickness_map(hide, layout.workshop.thickness_spread_mm)
        if greatest <= least:
            worst = 0.0
        else:
            worst = float(np.min(estimate.inside(_sample(placement.outline), least, greatest)))
        if not worst >= layout.workshop.confidence - 1e-6:
            yield Finding(
                3, "thickness", f"{_name(placement)} on hide {hide.id}", f"{least:g} to {greatest:g} mm holds with {worst:.1%}",
                f"at least {layout.workshop.confidence:.0%} everywhere under it",
            )


def _sample(polygon: Polygon) -> np.ndarray:
    """Points of a part about every 5 mm, inside and along its border: (n, 2)."""
    x0, y0, x1, y1 = polygon.bounds
    xs, ys = np.meshgrid(np.arange(x0, x1, THICKNESS_STEP_MM), np.arange(y0, y1, THICKNESS_STEP_MM))
    inside = shapely.contains_xy(polygon, xs.ravel(), ys.ravel())
    border = shapely.get_coordinates(polygon.exterior.segmentize(THICKNESS_STEP_MM))
    return np.vstack([np.column_stack([xs.ravel()[inside], ys.ravel()[inside]]), border])


def _directions(hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    for placement in here:
        if not placement.direction.allows(placement.angle, hide.backbone_deg, slack_deg=1e-4):
            limit = f"{placement.direction.kind} within {placement.direction.tolerance_deg:g} degrees of the backbone at {hide.backbone_deg:.1f}"
            yield Finding(4, "direction", _name(placement), f"turned by {placement.angle:.3f} degrees", limit)


def _congruence(placements: list[Placement]) -> Iterator[Finding]:
    """Copies of a part must be the same shape turned and moved; its twins the mirrored shape."""
    kinds = defaultdict(list)
    for placement in placements:
        kinds[placement.product, placement.part].append(placement)
    for group in kinds.values():
        first = _drawn(group[0])
        for placement in group[1:]:
            apart = first.hausdorff_distance(_drawn(placement))
            if apart > CONGRUENT_MM:
                yield Finding(4, "shape", _name(placement), f"differs by {apart:.4f} mm from {_name(group[0])}", "the same shape, not mirrored")


def _drawn(placement: Placement):
    """The part's outline moved back to its drawing; a twin is mirrored back."""
    back = affinity.rotate(affinity.translate(placement.outline.exterior, -placement.x, -placement.y), -placement.angle, origin=(0, 0))
    return affinity.scale(back, -1, 1, origin=(0, 0)) if placement.mirrored else back


def _panels(layout: Layout, hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    machine = layout.workshop.machine
    bed = (machine.bed_width_mm, machine.bed_height_mm)
    panels = {panel.id: panel for panel in layout.panels if panel.hide == hide.id}
    if not panels and here and not any(placement.panel for placement in here):
        if not _fits(hide.outline, *bed):
            yield Finding(5, "bed", f"hide {hide.id}", "no panels, and bigger than the bed", f"cut into panels that fit {bed[0]:g} x {bed[1]:g} mm")
        return
    for panel in panels.values():
        if not _fits(panel.polygon, *bed):
            yield Finding(5, "bed", f"panel {panel.id} of hide {hide.id}", "bigger than the bed", f"within {bed[0]:g} x {bed[1]:g} mm at some angle")
        if panel.polygon.difference(hide.outline).area > SLACK_MM2:
            yield Finding(5, "panel", f"panel {panel.id} of hide {hide.id}", "reaches outside the hide", "part of the hide")
    shapes = [panel.polygon for panel in panels.values()]
    for i, j in _pairs(shapes, shapes, 0.0):
        if j < i and shapes[i].intersection(shapes[j]).area > SLACK_MM2:
            names = list(panels)
            yield Finding(5, "panel", f"panels {names[i]} and {names[j]} of hide {hide.id}", "overlap", "apart")
    for placement in here:
        panel = panels.get(placement.panel)
        if panel is None:
            yield Finding(5, "panel", _name(placement), f"names panel {placement.panel!r}", f"one of {', '.join(panels) or 'none'}")
        elif placement.outline.difference(panel.polygon).area > SLACK_MM2:
            yield Finding(5, "panel", _name(placement), f"crosses the edge of panel {panel.id}", "inside it")


def _fits(polygon: Polygon, width: float, height: float) -> bool:
    """Whether a rectangle of the bed's size encloses a shape at one of many angles."""
    hull = polygon.convex_hull
    corners = shapely.get_coordinates(hull)
    sides = np.degrees(np.arctan2(*np.diff(corners, axis=0).T[::-1]))
    for angle in np.concatenate([sides, np.arange(0, 180, 0.5)]):
        x0, y0, x1, y1 = affinity.rotate(hull, -angle, origin=(0, 0)).bounds
        size = (x1 - x0, y1 - y0)
        if min(size) <= min(width, height) + SLACK_MM and max(size) <= max(width, height) + SLACK_MM:
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
    hides = {hide.id for hide in layout.hides}
    keys, counts = Counter(), Counter()
    for thing in (*layout.placements, *layout.unplaced):
        keys[thing.order, thing.product, thing.part, thing.piece, thing.copy, thing.mirrored] += 1
        counts[thing.order, thing.product, thing.part] += 1
    for key, count in keys.items():
        if count > 1:
            yield Finding(7, "count", f"{' '.join(key[:3])} {key[3]}.{key[4]}", f"appears {count} times", "once")
    for key in sorted({*counts, *layout.wanted}):
        if counts[key] != layout.wanted.get(key, 0):
            yield Finding(7, "count", " ".join(key), f"{counts[key]} placed or listed as unplaced", f"{layout.wanted.get(key, 0)} as ordered")
    for unplaced in layout.unplaced:
        if not unplaced.reason.strip():
            yield Finding(7, "reason", f"{unplaced.order} {unplaced.part}", "no reason", "the true reason")
    for placement in layout.placements:
        if placement.hide not in hides:
            yield Finding(7, "hide", _name(placement), f"lies on unknown hide {placement.hide}", "on a hide of the layout")
