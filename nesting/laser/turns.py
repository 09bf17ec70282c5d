"""In what order loads are burnt: by the day that what lies in them is due."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from ..leather.knife import freed_by
from ..model import Hide, Layout, OrderLine, Placement
from .export import refusal


@dataclass(frozen=True)
class Waiting:
    """An order that waits for a load, and the day it is due; None for stock, or where nobody said."""

    order: str
    due: date | None


@dataclass(frozen=True)
class Turn:
    """When a panel is burnt.

    ``number`` counts from 1 the panels that are burnt, ``of`` is how many there are; it is 0 for one that is cut by
    knife or that no file is written of. ``waiting`` are the orders with parts in it, the most urgent first; ``lines``
    the knife lines, by their number, that have to be cut before it is free.
    """

    hide: str
    panel: str
    number: int
    of: int
    waiting: tuple[Waiting, ...]
    lines: tuple[int, ...]


Urgency = tuple[bool, date, int]
"""Fillers come last, then what is due first comes first, then what has the higher priority."""


def turns(layout: Layout, lines: Sequence[OrderLine] = ()) -> tuple[Turn, ...]:
    """The panels that are still to be cut, in the order in which to burn them.

    The one whose most urgent part is due first comes first; of those due on one day the one of higher priority; then
    they come hide by hide, as the layout has them. What is burnt already is left out.

    Parameters
    ----------
    layout : Layout
    lines : sequence of OrderLine, optional
        What is known of due dates now; as the layout has it where there are none.

    Returns
    -------
    tuple of Turn
    """
    known = {(line.order, line.product): line for line in lines or layout.lines}
    loads: dict[tuple[str, str], list[Placement]] = {}
    for hide in layout.hides:
        for part in layout.on(hide.id):
            if not layout.is_burnt(part):
                loads.setdefault((hide.id, part.panel), []).append(part)
    safe = {hide.id for hide in layout.hides if not refusal(hide, layout)}
    freed = {hide.id: _freed(layout, hide) for hide in layout.hides if any(name == hide.id for name, _ in loads)}
    names = {panel.id: rank for rank, panel in enumerate(layout.panels)}
    hides = {hide.id: rank for rank, hide in enumerate(layout.hides)}

    def urgency(part: Placement) -> Urgency:
        line = known.get((part.order, part.product))
        return part.filler, (line and line.due) or date.max, line.priority if line else OrderLine.priority

    def rank(load: tuple[str, str]) -> tuple[Urgency, int, int]:
        return min(map(urgency, loads[load])), hides[load[0]], names.get(load[1], 0)

    ordered = sorted(loads, key=rank)
    to_burn = [load for load in ordered if load[0] in safe and not layout.by_knife_on(*load)]
    number = {load: place for place, load in enumerate(to_burn, 1)}
    return tuple(
        Turn(
            *load,
            number=number.get(load, 0),
            of=len(to_burn),
            waiting=tuple(
                dict.fromkeys(
                    Waiting(part.order, line.due if (line := known.get((part.order, part.product))) else None)
                    for part in sorted(loads[load], key=lambda part: (urgency(part), part.order))
                )
            ),
            lines=freed[load[0]].get(load[1], ()),
        )
        for load in ordered
    )


def _freed(layout: Layout, hide: Hide) -> dict[str, tuple[int, ...]]:
    """The knife lines that free each panel of a hide, without those that were cut for one burnt already."""
    if not any(cut.hide == hide.id for cut in layout.cuts):
        return {}
    bits = freed_by(hide, layout.cuts, out=layout.cut_out(hide.id))
    panels = [panel for panel in layout.panels if panel.hide == hide.id and not panel.longer]
    found = {
        panel.id: next((lines for bit, lines in bits if bit.covers(panel.polygon.representative_point())), ())
        for panel in panels
    }
    gone = {panel.id for panel in panels if layout.is_burnt(panel)}
    gone_lines = {line for name in gone for line in found[name]}
    return {name: tuple(line for line in lines if line not in gone_lines) for name, lines in found.items()}
