"""Rule 11 of the referee: what a layout says twice agrees; the setting book and what is asked of a part come first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import fields

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import ModelError
from ..model import Asked, Direction, Hide, Layout, Placement, Setting, Zone, between, rows_for
from .findings import Finding
from .limits import RefereeLimits

PartOf = tuple[str, str]
"""Product and part."""
_FACTS = ("grade", "direction", "thickness_mm", "filler")
"""What every placement says of its part again."""


def agree(layout: Layout, uncut: Sequence[Placement], limits: RefereeLimits) -> Iterator[Finding]:
    """Settings are those of the setting book; copies of a part, what is left out and what is ordered are as asked.

    What is burnt was cut with the settings and drawings of its day and is not looked at. A layout that does not say
    what was asked, as those of older versions, has the first copy of each part to go by.
    """
    yield from _by_the_book(layout, uncut, limits)
    asked = {(one.product, one.part): one for one in layout.asked}
    if asked:
        yield from _as_ordered(layout, asked)
        for placement in uncut:
            yield from _as_asked(layout, placement, asked.get((placement.product, placement.part)), limits)
    else:
        yield from _as_the_first(uncut)


def _by_the_book(layout: Layout, uncut: Sequence[Placement], limits: RefereeLimits) -> Iterator[Finding]:
    hides = {hide.id: hide for hide in layout.hides}
    in_use = {(placement.hide, placement.setting) for placement in uncut}
    burnt_with = {
        (placement.hide, placement.setting)
        for placement in (*layout.placements, *layout.lost)
        if layout.is_burnt(placement) or placement in layout.lost
    }
    for name, hide in hides.items():
        for number, setting in enumerate(layout.settings_on(name)):
            names = {(name, setting.name), *([(name, "")] if number == 0 else [])}
            if not names & in_use and names & burnt_with:
                continue
            yield from _in_the_book(layout, hide, setting, limits)


def _in_the_book(layout: Layout, hide: Hide, setting: Setting, limits: RefereeLimits) -> Iterator[Finding]:
    rows = rows_for(layout.workshop.settings, hide.leather)
    if setting in rows:
        return
    who = f"setting {setting.name} of hide {hide.id}"
    own = next((row for row in rows if row.name == setting.name), None)
    if own is None:
        try:
            own = between(rows, setting.thickness_mm)
        except ModelError:
            listed = ", ".join(row.name for row in rows) or "none"
            yield Finding(11, "setting", who, "is not in the setting book", f"one of it, or between two: {listed}")
            return
    for entry in fields(Setting):
        found, bound = getattr(setting, entry.name), getattr(own, entry.name)
        numbers = isinstance(found, (int, float)) and isinstance(bound, (int, float))
        if abs(found - bound) > limits.share * abs(bound) if numbers else found != bound:
            value, bound = (f"{entry.name} {one:g}" if numbers else f"{entry.name} {one!r}" for one in (found, bound))
            yield Finding(11, "setting", who, value, f"{bound} as the setting book has it")


def _as_ordered(layout: Layout, asked: dict[PartOf, Asked]) -> Iterator[Finding]:
    """What is wanted and what is left out, against the order lines and what is asked."""
    for key, count in Counter((one.product, one.part) for one in layout.asked).items():
        if count > 1:
            yield Finding(11, "asked", " ".join(key), f"is asked {count} times", "asked once")
    lines = {(line.order, line.product): line.quantity for line in layout.lines}
    if lines:
        wanted = {
            (order, product, one.part): quantity * one.copies
            for (order, product), quantity in lines.items()
            for one in layout.asked
            if one.product == product
        }
        for wish in dict.fromkeys([*wanted, *layout.wanted]):
            found, bound = layout.wanted.get(wish, 0), wanted.get(wish, 0)
            if found != bound:
                words = f"{bound} by its order line and what a piece takes"
                yield Finding(11, "count", " ".join(wish), f"{found} wanted", words)
    for unplaced in layout.unplaced:
        facts = asked.get((unplaced.product, unplaced.part))
        who = f"{unplaced.order} {unplaced.product} {unplaced.part} {unplaced.piece}.{unplaced.copy}"
        if facts is None:
            yield Finding(11, "asked", who, "is no part that is asked", "one of them")
        elif unplaced.filler != facts.filler:
            yield Finding(11, "filler", who, _yes(unplaced.filler), f"{_yes(facts.filler)} as asked of it")


def _as_asked(layout: Layout, placement: Placement, asked: Asked | None, limits: RefereeLimits) -> Iterator[Finding]:
    if asked is None:
        yield Finding(11, "asked", placement.name, "is no part that is asked", "one of them")
        return
    line = next((one for one in layout.lines if (one.order, one.product) == (placement.order, placement.product)), None)
    if placement.copy > asked.count or (placement.mirrored and not asked.mirrored_twin):
        takes = f"{asked.count}{' and as many mirrored' if asked.mirrored_twin else ''}"
        yield Finding(11, "copy", placement.name, "is one copy too many", f"one of {takes} in a piece")
    yield from _differ(placement, _facts(placement), _facts(asked), "as asked of it")
    if layout.lines and placement.kind != asked.kind_for(line):
        yield Finding(11, "leather", placement.name, f"asks for {placement.kind}", f"{asked.kind_for(line)} as ordered")
    long = layout.long_panels.get((placement.hide, placement.panel))
    # what is too long for two loads is cut by knife
    if long is not None and asked.longer not in (long.longer, "two loads"):
        yield Finding(11, "longer", placement.name, f"cut by {long.longer}", f"{asked.longer} as asked")
    groups = asked.matches(placement.order, placement.piece)
    if placement.match not in groups:
        value = f"is of the group {placement.match or 'none'}"
        yield Finding(11, "match", placement.name, value, f"of {' or '.join(one or 'none' for one in groups)}")
    mirrored = placement.mirrored != asked.flesh_out
    for what, one, other in _shapes(placement, asked):
        if not _same_line(placement, mirrored, one, other, limits):
            yield Finding(11, "shape", placement.name, f"its {what} is not as drawn", "the drawing asked, laid there")
    if sorted(_graded(placement.zones)) != sorted(_graded(asked.zones)):
        bound = ", ".join(sorted(_graded(asked.zones))) or "none"
        yield Finding(11, "zones", placement.name, f"of {', '.join(sorted(_graded(placement.zones))) or 'none'}", bound)


def _as_the_first(uncut: Sequence[Placement]) -> Iterator[Finding]:
    first: dict[PartOf, Placement] = {}
    for placement in uncut:
        one = first.setdefault((placement.product, placement.part), placement)
        # rules 4 and 6 tell of sides and lots
        said, asked = ({name: getattr(copy, name) for name in _FACTS} for copy in (placement, one))
        yield from _differ(placement, said, asked, f"as {one.name}")


def _facts(thing: Placement | Asked) -> dict[str, object]:
    return {name: getattr(thing, name) for name in (*_FACTS, "flesh_out", "same_lot")}


def _differ(who: Placement, said: dict[str, object], asked: dict[str, object], why: str) -> Iterator[Finding]:
    for name, value in said.items():
        if value != asked[name]:
            what = {"thickness_mm": "thickness", "flesh_out": "side", "same_lot": "lot"}.get(name, name)
            yield Finding(11, what, who.name, _words(name, value), f"{_words(name, asked[name])} {why}")


def _words(name: str, value: object) -> str:
    if isinstance(value, Direction):
        turn = "" if value.turn else ", not turned round"
        return f"{value.kind}{f' within {value.tolerance_deg:g} degrees' if value.tolerance_deg else ''}{turn}"
    if isinstance(value, tuple):
        return f"{value[0]:g} to {value[1]:g} mm"
    if name == "thickness_mm":
        return "any"
    if isinstance(value, bool):
        return {"filler": _yes(value), "flesh_out": f"{'flesh' if value else 'grain'} side out"}.get(
            name, "of one lot" if value else "of any lot"
        )
    return f"{name} {value}"


def _yes(filler: bool) -> str:
    return "a filler" if filler else "no filler"


def _graded(zones: Sequence[Zone]) -> list[str]:
    return [f"grade {zone.grade}" for zone in zones]


def _shapes(placement: Placement, asked: Asked) -> Iterator[tuple[str, BaseGeometry, BaseGeometry]]:
    yield "outline", placement.outline.exterior, asked.outline.exterior
    if _graded(placement.zones) == _graded(asked.zones):
        for laid, drawn in zip(placement.zones, asked.zones):
            yield f"zone of grade {drawn.grade}", laid.polygon.exterior, drawn.polygon.exterior


def _same_line(
    placement: Placement, mirrored: bool, laid: BaseGeometry, drawn: BaseGeometry, limits: RefereeLimits
) -> bool:
    turn = np.radians(placement.angle)
    onward = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    flip = (-1, 1) if mirrored else (1, 1)
    here = (shapely.get_coordinates(drawn) * flip) @ onward + (placement.x, placement.y)
    there = shapely.get_coordinates(laid)
    if here.shape == there.shape and (np.hypot(*(here - there).T) <= limits.congruent_mm).all():
        return True
    one, other = (Polygon(ring).exterior for ring in (here, there))
    return bool(one.buffer(limits.congruent_mm).covers(other) and other.buffer(limits.congruent_mm).covers(one))
