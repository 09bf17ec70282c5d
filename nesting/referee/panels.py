"""Rule 5 of the referee: panels come of the knife lines and fit the bed, and parts keep within them."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..model import Hide, Layout, Panel, Placement
from .findings import SLACK_MM, Finding, is_area, near, outside, too_near

CLOSED = "a simple closed line of finite points"
KNIFE_MM = 0.01
"""How far a knife line may end from the edge of the piece it cuts."""


def sound_panels(layout: Layout) -> Iterator[Finding]:
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
        broken = [panel for panel in panels if not is_area(panel.polygon)]
        panels = [panel for panel in panels if is_area(panel.polygon)]
        large = [panel for panel in panels if not _fits(panel.polygon, *bed)]
        yield from (Finding(5, "geometry", _panel(panel), "its outline is broken", CLOSED) for panel in broken)
        yield from (Finding(5, "bed", _panel(panel), "is bigger than the bed", bound) for panel in large)
        shapes = np.array([panel.polygon for panel in panels], object)
        for n, area in outside(hide.outline, shapes):
            yield Finding(5, "panel", _panel(panels[n]), f"{area:.3f} mm2 outside the hide", "part of it")
        first, second = near(shapes, shapes, 0.0)
        first, second = first[first < second], second[first < second]
        for n, _, shared in too_near(shapes[first], shapes[second], 0.0):
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
            yield Finding(
                5, "knife line", _panel(panel), "is not one of the pieces that the knife lines leave", "one of them"
            )


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


def knife_margin(layout: Layout, hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    """Parts keep the edge margin from knife lines too: what a knife left is an edge of the panel."""
    edge = layout.workshop.margins.edge_mm
    panels = {panel.id: panel.polygon for panel in layout.panels if panel.hide == hide.id and is_area(panel.polygon)}
    for placement in here:
        if placement.panel in panels:
            distance = panels[placement.panel].boundary.distance(placement.outline)
            if distance < edge - SLACK_MM and placement.outline.distance(hide.outline.boundary) >= edge - SLACK_MM:
                value = f"{distance:.4f} mm from a knife line of panel {placement.panel} of hide {hide.id}"
                yield Finding(5, "knife line", placement.name, value, f"at least {edge:g} mm from it")


def _panel(panel: Panel) -> str:
    return f"panel {panel.id} of hide {panel.hide}"


def _whole(layout: Layout) -> bool:
    """Whether hides are laid on the bed whole."""
    return not layout.panels and not any(placement.panel for placement in layout.placements)


def within_panels(layout: Layout, hide: Hide, here: list[Placement]) -> Iterator[Finding]:
    machine = layout.workshop.machine
    if machine.feed_through != "none":
        # however long the leather is, a part is burnt whole at one stage
        bed = machine.window_mm
        for placement in here:
            if not _fits(placement.outline, *bed):
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
            for n, area in outside(panels[name].polygon, outlines):
                value = f"{area:.3f} mm2 outside {_panel(panels[name])}"
                yield Finding(5, "panel", placements[n].name, value, "inside it")


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
