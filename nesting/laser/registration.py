"""How a panel lies on the bed: its longest knife-straight edge against a stop, or by two measured points."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.polygon import orient

from ..errors import ModelError
from ..geometry import Floats, Shape, farthest_two, place
from ..leather.knife import bed_angle
from ..model import Hide, Machine
from .limits import DEFAULT, LaserLimits

SIDES = {"bottom": 0.0, "right": 90.0, "top": 180.0, "left": 270.0}
"""Direction in degrees in which a panel's edge runs along each side of the bed, the leather on its left."""
BY_HAND = "no knife-straight edge of it fits a stop: lay it by a frame of card, or measure two points"


@dataclass(frozen=True)
class BedPose:
    """Where a panel lies: turned counter-clockwise by ``angle_deg`` about the hide's origin, then moved by (x, y).

    Bed coordinates are mm from the bed's bottom left corner, y up; ``bed_mm`` is its width and height, longer than the
    machine's where the panel is fed through. ``how`` says in words what it lies against.
    """

    angle_deg: float
    x_mm: float
    y_mm: float
    bed_mm: tuple[float, float]
    how: str

    def put(self, shape: Shape) -> Shape:
        """A shape of the hide in bed coordinates."""
        return place(shape, self.x_mm, self.y_mm, self.angle_deg)

    def back(self, x: float, y: float) -> tuple[float, float]:
        """The point of the hide that lies at a point of the bed."""
        turn = math.radians(-self.angle_deg)
        x, y = x - self.x_mm, y - self.y_mm
        return x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)


def lay(
    panel: Polygon, hide: Hide, machine: Machine, border_mm: float = 0.0, limits: LaserLimits = DEFAULT
) -> BedPose | None:
    """Lay a panel into the corner of the bed's stops.

    The longest knife-straight edge with which the panel fits is put against the stop named first, else against the
    other one. A panel without such an edge, such as a whole small hide, goes into the corner at the least turn at
    which it fits.

    Parameters
    ----------
    panel : Polygon
        In hide coordinates, mm.
    hide : Hide
    machine : Machine
    border_mm : float
        Keep so far from both stops, for a frame of card, or as far as there is room.
    limits : LaserLimits, optional

    Returns
    -------
    BedPose or None
        None when the panel fits the bed at no angle.
    """
    stops = machine.bed_stop.split()
    for edge in knife_edges(panel, hide, limits):
        (x0, y0), (x1, y1) = edge.coords
        heading = math.degrees(math.atan2(y1 - y0, x1 - x0))
        for stop in stops:
            angle = SIDES[stop] - heading
            if _rests(panel, edge, angle, stop, limits) and _fits(panel, angle, machine, limits):
                how = f"its knife-straight edge of {edge.length:.0f} mm against the {stop} stop"
                return _in_corner(panel, angle, machine, how, border_mm, limits)
    least = bed_angle(panel, *machine.usable_mm)
    return None if least is None else _in_corner(panel, least, machine, BY_HAND, border_mm, limits)


def knife_edges(panel: Polygon, hide: Hide, limits: LaserLimits = DEFAULT) -> list[LineString]:
    """The straight edges a knife has cut, longest first, each with the leather on its left; short ones are left out."""
    ring = np.asarray(orient(panel).exterior.coords)[:, :2]
    middles = shapely.points((ring[1:] + ring[:-1]) / 2)
    own = shapely.dwithin(hide.outline.exterior, middles, limits.near_mm)
    if own.all():
        return []
    # Begun at an edge of the hide's own, so that no knife edge is parted by the ring's first corner.
    start = int(np.argmax(own))
    ring, own = np.vstack([np.roll(ring[:-1], -start, axis=0), ring[start]]), np.roll(own, -start)
    edges: list[list[Floats]] = []
    for index, cut in enumerate(~own):
        side = ring[index : index + 2]
        if not cut:
            continue
        if edges and (edges[-1][1] == side[0]).all() and _straight_on(edges[-1], side, limits.straight_deg):
            edges[-1][1] = side[1]
        else:
            edges.append([side[0], side[1]])
    found = [LineString(edge) for edge in edges if math.dist(*edge) >= limits.shortest_edge_mm]
    return sorted(found, key=lambda edge: -edge.length)


def named_points(panel: Polygon, hide: Hide, limits: LaserLimits = DEFAULT) -> dict[str, tuple[float, float]]:
    """Points of a panel that can be found again on the leather, by name, in hide coordinates.

    They are the ends of its knife-straight edges, longest first, but none nearer than 20 mm to one before; a panel with
    fewer than two has the two points of its outline that lie farthest apart.
    """
    ends: list[tuple[float, float]] = []
    for x, y in (end for edge in knife_edges(panel, hide, limits) for end in edge.coords):
        if all(math.dist((x, y), other) >= limits.shortest_edge_mm for other in ends):
            ends.append((round(x, 3), round(y, 3)))
    if len(ends) < 2:
        corners = shapely.get_coordinates(panel.convex_hull)[:-1]
        ends = [(float(corners[end][0]), float(corners[end][1])) for end in farthest_two(corners)]
    return {_letters(number): end for number, end in enumerate(ends)}


def align(
    points: Mapping[str, tuple[float, float]],
    measured: Mapping[str, tuple[float, float]],
    bed_mm: tuple[float, float],
    limits: LaserLimits = DEFAULT,
) -> BedPose:
    """Turn and move a panel to where two of its named points really lie on the bed.

    Parameters
    ----------
    points : mapping of str to (x, y)
        As `named_points` gives them.
    measured : mapping of str to (x, y)
        Two of them in bed coordinates, mm from the bed's bottom left corner.
    bed_mm : (width, height)
    limits : LaserLimits, optional

    Returns
    -------
    BedPose
        It shares what the distance between the points differs by evenly, and says how much that is.

    Raises
    ------
    ModelError
        For names the panel has not, points too near each other, or points that miss by more than 1 mm.
    """
    if len(measured) != 2:
        raise ModelError("points", ", ".join(measured) or "none", "give two points")
    for name in measured:
        if name not in points:
            raise ModelError("point", name, f"this panel has {', '.join(points)}: see its guide")
        if not all(map(math.isfinite, measured[name])):
            raise ModelError("point", name, "give finite x and y in mm")
    (first, second), true = measured, [np.array(points[name], float) for name in measured]
    seen = [np.array(measured[name], float) for name in measured]
    apart, found = (float(np.hypot(*(pair[1] - pair[0]))) for pair in (true, seen))
    if apart < limits.shortest_edge_mm or found == 0:
        raise ModelError(
            "points", f"{first} and {second}", f"give two that are at least {limits.shortest_edge_mm:g} mm apart"
        )
    miss = abs(found - apart) / 2
    lengths = f"{found:.1f} mm on the bed and {apart:.1f} mm in the layout ({found / apart - 1:+.2%})"
    stretch = f"{first} to {second} measures {lengths}"
    if miss > limits.most_miss_mm:
        raise ModelError(
            "points",
            stretch,
            f"each would miss by {miss:.1f} mm, more than {limits.most_miss_mm:g}: "
            "measure again, or trace the panel anew",
        )
    turn = math.degrees(math.atan2(*(seen[1] - seen[0])[::-1]) - math.atan2(*(true[1] - true[0])[::-1]))
    turned = np.array(place(shapely.Point((true[0] + true[1]) / 2), 0, 0, turn).coords[0])
    x, y = (seen[0] + seen[1]) / 2 - turned
    return BedPose(turn, float(x), float(y), bed_mm, f"by two points: {stretch}, so each misses by {miss:.1f} mm")


def _straight_on(edge: list[Floats], side: Floats, straight_deg: float) -> bool:
    before, after = edge[1] - edge[0], side[1] - side[0]
    turn = math.degrees(math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after)))
    return abs(turn) < straight_deg


def _rests(panel: Polygon, edge: LineString, angle: float, stop: str, limits: LaserLimits) -> bool:
    """Whether an edge, turned to a stop, is what touches it: no other leather reaches further."""
    x0, y0, x1, y1 = place(panel, 0, 0, angle).bounds
    a0, b0, a1, b1 = place(edge, 0, 0, angle).bounds
    reach = {"bottom": b0 - y0, "top": y1 - b1, "left": a0 - x0, "right": x1 - a1}[stop]
    return reach < limits.touch_mm


def _fits(panel: Polygon, angle: float, machine: Machine, limits: LaserLimits) -> bool:
    x0, y0, x1, y1 = place(panel, 0, 0, angle).bounds
    wide, high = machine.usable_mm
    return x1 - x0 <= wide + limits.touch_mm and y1 - y0 <= high + limits.touch_mm


def _in_corner(
    panel: Polygon, angle: float, machine: Machine, how: str, border_mm: float, limits: LaserLimits
) -> BedPose:
    """At the corner of the usable bed where the stops meet, or so far from it."""
    angle = (angle + 180.0) % 360.0 - 180.0
    x0, y0, x1, y1 = place(panel, 0, 0, angle).bounds
    margin = machine.bed_margin_mm
    wide = _length(x1 - x0, machine.bed_width_mm, margin, machine.feed_through == "width")
    high = _length(y1 - y0, machine.bed_height_mm, margin, machine.feed_through == "height")
    across = margin + _border(border_mm, wide - 2 * margin - (x1 - x0), limits.card_mm)
    up = margin + _border(border_mm, high - 2 * margin - (y1 - y0), limits.card_mm)
    x = across - x0 if "left" in machine.bed_stop else wide - x1 - across
    y = up - y0 if "bottom" in machine.bed_stop else high - y1 - up
    if border_mm:
        how = "the hole of its frame of card, which lies against the stops"
    return BedPose(angle, x, y, (wide, high), how)


def _border(wanted_mm: float, room_mm: float, card_mm: float) -> float:
    """Card beside the stop: half of the room at most, or all of it where two halves would be too narrow to hold."""
    room = max(0.0, room_mm)
    return min(wanted_mm, room / 2 if room >= 2 * card_mm else room)


def _length(needed_mm: float, bed_mm: float, margin_mm: float, fed: bool) -> float:
    return max(bed_mm, needed_mm + 2 * margin_mm) if fed else bed_mm


def _letters(number: int) -> str:
    """A to Z, then AA, AB and on."""
    return ("" if number < 26 else _letters(number // 26 - 1)) + chr(ord("A") + number % 26)
