"""Rule 5 of the referee: panels come of the knife lines and fit the bed, and parts keep within them."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from ..model import Cut, Hide, Layout, Panel, Placement, Point
from .findings import Finding, is_area, near, near_edge, outside, too_near
from .limits import RefereeLimits

CLOSED = "a simple closed line of finite points"


def sound_panels(layout: Layout, limits: RefereeLimits) -> Iterator[Finding]:
    """The panels themselves, or whole hides when nothing is cut into panels."""
    machine = layout.workshop.machine
    bound = f"within the usable bed, {machine.usable_words}, at some angle"
    for hide in layout.hides:
        # leather that is not burnt need not lie on the bed
        bed = (math.inf, math.inf) if hide.never_burnt else machine.usable_mm
        if _whole(layout) and layout.on(hide.id) and not fits_bed(hide.outline, *bed, limits):
            yield Finding(5, "bed", f"hide {hide.id}", "has no panels and is bigger than the bed", bound)
        panels = [panel for panel in layout.panels if panel.hide == hide.id]
        for name, count in Counter(panel.id for panel in panels).items():
            if count > 1:
                yield Finding(5, "panel", f"panel {name} of hide {hide.id}", f"appears {count} times", "one panel")
        broken = [panel for panel in panels if not is_area(panel.polygon)]
        panels = [panel for panel in panels if is_area(panel.polygon)]
        uncut = [panel for panel in panels if not layout.is_burnt(panel)]
        large = [panel for panel in uncut if not panel.longer and not fits_bed(panel.polygon, *bed, limits)]
        yield from (Finding(5, "geometry", _panel(panel), "its outline is broken", CLOSED) for panel in broken)
        yield from (Finding(5, "bed", _panel(panel), "is bigger than the bed", bound) for panel in large)
        shapes = np.array([panel.polygon for panel in panels], object)
        for n, area in outside(hide.outline, shapes, limits):
            yield Finding(5, "panel", _panel(panels[n]), f"{area:.3f} mm2 outside the hide", "part of it")
        first, second = near(shapes, shapes, 0.0)
        first, second = first[first < second], second[first < second]
        for n, _, shared in too_near(shapes[first], shapes[second], 0.0, limits):
            who = f"panels {panels[first[n]].id} and {panels[second[n]].id} of hide {hide.id}"
            yield Finding(5, "panel", who, f"{shared:.3f} mm2 shared", "apart")
        for panel in uncut:
            if panel.longer:
                yield from _long(layout, panel, limits)
        yield from _cut_by_knife(layout, hide, panels, limits)


def _long(layout: Layout, panel: Panel, limits: RefereeLimits) -> Iterator[Finding]:
    """A panel that may be longer than the bed is there for one part that is, and is no more than that needs."""
    machine, edge = layout.workshop.machine, layout.workshop.margins.from_knife_mm
    here = [p for p in layout.placements if (p.hide, p.panel) == (panel.hide, panel.id)]
    if len(here) != 1 or not is_area(here[0].outline):
        yield Finding(5, "long part", _panel(panel), f"holds {len(here)} parts", "one, longer than the bed")
        return
    part, (wide, high) = here[0], (side - 2 * edge - limits.knife_mm for side in machine.window_mm)
    if min(wide, high) > 0 and fits_bed(part.outline, wide, high, limits):
        yield Finding(5, "long part", part.name, "fits the bed", "longer than it, or on a panel as all others")
    if panel.longer == "knife":
        if not _alike(panel.polygon, Polygon(part.outline.exterior), limits.knife_mm):
            value = f"does not follow the outline of {part.name}"
            yield Finding(5, "long part", _panel(panel), value, "the part, cut by knife")
        return
    wide, high = machine.window_mm
    fed = machine.feed_through
    over = machine.overhang_mm if fed != "none" and machine.overhang_mm else math.inf
    # one bed after the other, along the side that leather is fed through, no further over its ends than there is room
    rooms = {"width": (wide + min(wide, over), high), "height": (wide, high + min(high, over))}
    if not any(fits_bed(panel.polygon, *room, limits) for along, room in rooms.items() if fed in ("none", along)):
        value = (
            "is bigger than two beds end to end" if fed == "none" else f"cannot be fed through along the bed's {fed}"
        )
        yield Finding(5, "bed", _panel(panel), value, "burnt in two loads")


def _cut_by_knife(layout: Layout, hide: Hide, panels: list[Panel], limits: RefereeLimits) -> Iterator[Finding]:
    """Make the knife lines of a hide one after another.

    Each must go right across one bit of it, and the panels be among what is left.
    """
    out = [panel.polygon for panel in panels if panel.longer]
    left_over = hide.outline.difference(shapely.union_all(out)) if out else hide.outline
    bits = [bit for bit in shapely.get_parts(left_over) if isinstance(bit, Polygon)]
    for number, cut in enumerate((cut for cut in layout.cuts if cut.hide == hide.id), 1):
        who = f"knife line {number} of hide {hide.id}"
        strokes = list(pairwise(cut.points))
        if not np.isfinite(cut.points).all() or any(math.dist(*stroke) < limits.knife_mm for stroke in strokes):
            yield Finding(5, "knife line", who, f"goes from {cut.start} to {cut.end}", "from one point to another")
            return
        if len(strokes) > limits.most_strokes or not _goes_on(cut):
            value = f"has {len(strokes)} strokes" if _goes_on(cut) else "turns back"
            bound = f"at most {limits.most_strokes} that all go on from its start to its end"
            yield Finding(5, "knife line", who, value, bound)
            return
        across = [n for n, bit in enumerate(bits) if _goes_across(bit, cut, limits.knife_mm)]
        if not across:
            yield Finding(5, "knife line", who, "does not go right across any piece", "from edge to edge of one piece")
            return
        line = shapely.linestrings(cut.points)
        bit = bits.pop(max(across, key=lambda n: bits[n].intersection(line).length))
        left = _half_plane(bit, cut)
        for half in (bit.intersection(left), bit.difference(left)):
            # not geometry's filter of polygons, with which the planner cuts
            bits += [one for one in shapely.get_parts(half) if isinstance(one, Polygon) and one.area > limits.slack_mm]
    for panel in panels:
        if not panel.longer and not any(_alike(panel.polygon, bit, limits.knife_mm) for bit in bits):
            yield Finding(
                5, "knife line", _panel(panel), "is not one of the pieces that the knife lines leave", "one of them"
            )


def _goes_across(polygon: Polygon, cut: Cut, knife_mm: float) -> bool:
    """Whether a line ends on the edge of a polygon at both ends, and there is nothing of it on the line beyond them."""
    if not shapely.dwithin(polygon.exterior, shapely.points([cut.start, cut.end]), knife_mm).all():
        return False
    far = ((cut.start, _on(cut.points[1], cut.start)), (cut.end, _on(cut.points[-2], cut.end)))
    beyond = [LineString([np.array(end) + knife_mm * unit, np.array(end) + polygon.length * unit]) for end, unit in far]
    return all(polygon.intersection(line).length < 2 * knife_mm for line in beyond)


def _goes_on(cut: Cut) -> bool:
    """Whether no stroke of a line turns back from the way that its ends lie apart."""
    along = np.diff(cut.points, axis=0) @ _on(cut.start, cut.end)
    return bool((along > 0).all())


def _half_plane(polygon: Polygon, cut: Cut) -> Polygon:
    """All there is of the plane around a polygon to the left of a line."""
    reach, unit = 2 * (polygon.length + 1.0), _on(cut.start, cut.end)
    first = np.array(cut.start) + reach * _on(cut.points[1], cut.start)
    last = np.array(cut.end) + reach * _on(cut.points[-2], cut.end)
    left = 3 * reach * np.array([-unit[1], unit[0]])
    return Polygon(np.array([first, *cut.via, last, last + left, first + left]))


def _on(start: Point, end: Point) -> np.ndarray:
    """The way from a point to another, of length 1."""
    return (np.array(end) - start) / math.dist(start, end)


def _alike(one: Polygon, other: Polygon, knife_mm: float) -> bool:
    return one.buffer(knife_mm).covers(other) and other.buffer(knife_mm).covers(one)


def knife_margin(layout: Layout, hide: Hide, here: list[Placement], limits: RefereeLimits) -> Iterator[Finding]:
    """Parts keep a margin from knife lines too: what a knife left is an edge of the panel."""
    edge = layout.workshop.margins.from_knife_mm
    panels = {panel.id: panel.polygon for panel in layout.panels if panel.hide == hide.id and is_area(panel.polygon)}
    # what is cut by knife as a part has no leather around it
    panels = {name: polygon for name, polygon in panels.items() if not layout.by_knife_on(hide.id, name)}
    for placement in here:
        if placement.panel in panels:
            panel, outline = panels[placement.panel], np.array([placement.outline], object)
            near = any(True for _ in near_edge(panel, outline, edge, limits))
            if near and not any(True for _ in near_edge(hide.outline, outline, edge, limits)):
                distance = panel.boundary.distance(placement.outline)
                value = f"{distance:.4f} mm from a knife line of panel {placement.panel} of hide {hide.id}"
                yield Finding(5, "knife line", placement.name, value, f"at least {edge:g} mm from it")


def _panel(panel: Panel) -> str:
    return f"panel {panel.id} of hide {panel.hide}"


def _whole(layout: Layout) -> bool:
    """Whether hides are laid on the bed whole."""
    return not layout.panels and not any(placement.panel for placement in layout.placements)


def within_panels(layout: Layout, hide: Hide, here: list[Placement], limits: RefereeLimits) -> Iterator[Finding]:
    """Parts lie within the panel they name, and each is whole on the bed."""
    machine = layout.workshop.machine
    if machine.feed_through != "none" and not hide.never_burnt:
        # however long the leather is, a part is burnt whole at one stage
        bed = machine.window_mm
        for placement in here:
            long = (hide.id, placement.panel) in layout.long_panels
            if not long and not layout.is_burnt(placement) and not fits_bed(placement.outline, *bed, limits):
                yield Finding(
                    5,
                    "bed",
                    placement.name,
                    "is bigger than the bed",
                    f"within {bed[0]:g} x {bed[1]:g} mm at some angle",
                )
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
                yield Finding(5, "panel", placement.name, value, bound)
        elif is_area(panels[name].polygon):
            outlines = np.array([placement.outline for placement in placements])
            for n, area in outside(panels[name].polygon, outlines, limits):
                value = f"{area:.3f} mm2 outside {_panel(panels[name])}"
                yield Finding(5, "panel", placements[n].name, value, "inside it")


def fits_bed(shape: Polygon, width: float, height: float, limits: RefereeLimits) -> bool:
    """Whether the bed encloses a shape at some angle: any half degree, or a side of its hull along the bed."""
    corners = shapely.get_coordinates(shape.convex_hull)
    sides = np.arctan2(*np.diff(corners, axis=0).T[::-1])
    for turns in (np.radians(np.arange(0.0, 180.0, limits.bed_turn_deg)), sides):
        cos, sin = np.cos(turns)[:, None], np.sin(turns)[:, None]
        along = np.ptp(cos * corners[:, 0] + sin * corners[:, 1], axis=1)
        across = np.ptp(cos * corners[:, 1] - sin * corners[:, 0], axis=1)
        short, long = np.minimum(along, across) - limits.slack_mm, np.maximum(along, across) - limits.slack_mm
        if ((short <= min(width, height)) & (long <= max(width, height))).any():
            return True
    return False
