"""Rule 10 of the referee: what is pinned lies where it was pinned, and burnt panels are as they were burnt."""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from ..model import Burnt, Layout, PartKey, Placement, Spot
from .findings import Finding, is_area
from .limits import RefereeLimits


def stays(layout: Layout, limits: RefereeLimits) -> Iterator[Finding]:
    """Rule 10: pinned parts lie at their pins; of a burnt panel the outline, the parts and their places are those it
    was burnt with, each still a placement or one of the parts lost."""
    for placement in layout.placements:
        if placement.pinned is not None and not _same(placement.spot, placement.pinned, limits):
            yield Finding(
                10, "pinned", placement.name, _lies(placement.spot), f"where it is pinned, {_at(placement.pinned)}"
            )
    panels = {(panel.hide, panel.id): panel.polygon for panel in layout.panels}
    for burnt in layout.burnt:
        who, key = f"panel {burnt.panel.id} of hide {burnt.panel.hide}", (burnt.panel.hide, burnt.panel.id)
        if key not in panels:
            yield Finding(10, "burnt", who, "is not among the panels", "there as it was burnt")
        elif not _alike(panels[key], burnt.panel.polygon, limits):
            yield Finding(10, "burnt", who, "has another outline", "the one it was burnt with")
        yield from _parts(layout, burnt, who, limits)
    named = {(burnt.panel.hide, burnt.panel.id) for burnt in layout.burnt}
    for lost in layout.lost:
        if (lost.hide, lost.panel) not in named:
            yield Finding(
                10, "lost", lost.name, f"was cut from panel {lost.panel} of hide {lost.hide}", "on a burnt panel"
            )


def _parts(layout: Layout, burnt: Burnt, who: str, limits: RefereeLimits) -> Iterator[Finding]:
    """What was cut from a burnt panel, against what lies there."""
    here: dict[PartKey, Placement] = {}
    for part in (*layout.placements, *layout.lost):
        if (part.hide, part.panel) == (burnt.panel.hide, burnt.panel.id):
            if part.key in here:
                yield Finding(10, "burnt", part.name, f"lies on {who} and is lost there", "one of both")
            here[part.key] = part
    recorded = dict(burnt.parts)
    for key, part in here.items():
        if key not in recorded:
            yield Finding(10, "burnt", part.name, f"lies on {who}, which is burnt already", "on another panel")
        elif not _same(part.spot, recorded[key], limits):
            yield Finding(10, "burnt", part.name, _lies(part.spot), f"where it was burnt, {_at(recorded[key])}")
    for order, product, part_name, piece, copy, mirrored in recorded.keys() - here.keys():
        name = f"{order} {product} {part_name} {piece}.{copy}{' mirrored' if mirrored else ''}"
        yield Finding(10, "burnt", name, f"was cut from {who} and is not there", "placed there, or listed as lost")


def _same(one: Spot, other: Spot, limits: RefereeLimits) -> bool:
    turn = abs((one.angle - other.angle + 180.0) % 360.0 - 180.0)
    apart = max(abs(one.x - other.x), abs(one.y - other.y))
    return one.hide == other.hide and apart <= limits.slack_mm and turn <= limits.pinned_deg


def _alike(one: shapely.Polygon, other: shapely.Polygon, limits: RefereeLimits) -> bool:
    sound = is_area(one) and is_area(other)
    return sound and one.buffer(limits.knife_mm).covers(other) and other.buffer(limits.knife_mm).covers(one)


def _lies(spot: Spot) -> str:
    return f"lies {_at(spot)}"


def _at(spot: Spot) -> str:
    return f"on hide {spot.hide} at ({spot.x:.3f}, {spot.y:.3f}) turned by {spot.angle:.4f} degrees"
