"""Places for parts longer than the bed: chosen before all others, and kept out of every panel.

A part that is cut by knife is cut out of the hide first, by a paper template; one that is burnt in two loads is cut out
as a rectangle that is laid on the bed twice. What is left of the hide is then cut up as any other.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from .. import engine
from ..geometry import wide_enough
from ..leather.knife import cut_up, same_leather
from ..model import Hide, PartKey, Workshop
from .case import Case, Ground, Lie
from .keeping import less
from .kept import Kept
from .long_parts import KNIFE, NAME, REFUSE, TWO_LOADS, as_packed, in_two_loads, long_panel, ready_for, way_of
from .packing import pack
from .placements import placement_of
from .prepare import Prepared
from .ready import Ready
from .translate import Translator
from .whole import Fitter
from .wishes import Ordered, Wish


def reserve(
    prepared: Prepared,
    kept: Kept,
    partial: Collection[str] = (),
    seed: int = 0,
    without: Collection[Ordered] = (),
    cancel: engine.Cancel | None = None,
) -> Kept:
    """What is kept, and with it places for the parts that are longer than the bed.

    Parameters
    ----------
    prepared : Prepared
    kept : Kept
        What lies on the hides already; its panels are left alone.
    partial : collection of str
        Products whose pieces may be cut in part.
    seed : int
    without : collection of Ordered
        Pieces that get no place.
    cancel : engine.Cancel, optional

    Returns
    -------
    Kept
        The same where there is nothing to place, or no room.
    """
    todo = less(prepared, kept)
    wishes = [wish for wish in _bound(todo, kept, partial) if wish.ordered not in without]
    for how in (TWO_LOADS, KNIFE):
        left = [wish for wish in wishes if wish.key not in kept.keys]
        may = [wish for wish in left if how == KNIFE or in_two_loads(wish, prepared.job.workshop)]
        if may:
            kept = _placed(prepared, kept, may, how, seed, cancel)
    return _whole(kept, wishes, todo, partial)


def _bound(todo: Prepared, kept: Kept, partial: Collection[str]) -> list[Wish]:
    """The long parts to place, bound to hides on which the rest of their piece can lie; those of pieces that could not
    be whole are left out, and so are fillers, which take no leather from anything."""
    fitting = set(todo.fitting)
    wanted = [
        (index, wish)
        for index, wish in enumerate(todo.wishes)
        if index not in fitting and way_of(wish, todo.job.workshop) != REFUSE
    ]
    if not wanted:
        return []
    pieces = {wish.ordered for _, wish in wanted}
    lots = {wish.lot for _, wish in wanted} - {""}
    mates = [i for i in todo.fitting if todo.wishes[i].ordered in pieces or todo.wishes[i].lot in lots]
    hides = {item.hide.id: item for item in todo.hides if item.open}
    case = Case(
        todo.job.workshop, hides, tuple(todo.wishes[i] for i in mates), todo.limits, kept=kept, known=todo.known
    )
    homes = [set(found) for found in case.homes]
    barred = {wish.ordered for wish, home in zip(case.wishes, homes) if not home and wish.product.name not in partial}
    matching: dict[str, set[str]] = {}
    for wish, home in zip(case.wishes, homes):
        if wish.match:
            matching[wish.match] = matching.get(wish.match, home) & home
    of_lot = _lots(todo, [wish for _, wish in wanted], case.wishes, homes)
    found = []
    for _, wish in wanted:
        may = [matching.get(wish.match), of_lot.get(wish.lot)]
        sites = [set(may_be) for may_be in (*may, wish.hides) if may_be is not None]
        if wish.ordered not in barred:
            found.append(replace(wish, hides=frozenset(set.intersection(*sites))) if sites else wish)
    return found


def _lots(
    todo: Prepared, wishes: Sequence[Wish], mates: Sequence[Wish], homes: Sequence[set[str]]
) -> dict[str, set[str]]:
    """For each group that has to come from one lot the hides of the largest on which all of it may lie."""
    lots: dict[str, set[str]] = {}
    for item in todo.hides:
        lots.setdefault(item.hide.lot_key, set()).add(item.hide.id)
    area = {item.hide.id: item.hide.outline.area for item in todo.hides}
    chosen: dict[str, set[str]] = {}
    for group in {wish.lot for wish in wishes if wish.lot and wish.hides is None}:
        need = [{item.hide.id for item in todo.hides if w.allows(item.hide)} for w in wishes if w.lot == group]
        need += [home for wish, home in zip(mates, homes) if wish.lot == group]
        able = [names for names in lots.values() if all(names & home for home in need)]
        if able:
            chosen[group] = max(able, key=lambda names: (sum(area[name] for name in names), sorted(names)))
    return chosen


def _placed(
    prepared: Prepared,
    kept: Kept,
    wishes: Sequence[Wish],
    how: str,
    seed: int,
    cancel: engine.Cancel | None,
) -> Kept:
    """What is kept with places for some long parts: of several searches, towards either side of the hides, the one that
    leaves the others most leather in one."""
    job, limits = prepared.job, prepared.limits
    workshop = replace(job.workshop, machine=replace(job.workshop.machine, feed_through="none"))
    items = {
        item.hide.id: ready_for(item, how) for item in prepared.hides if how == KNIFE or (item.open and item.settings)
    }
    packed = tuple(as_packed(wish, how, workshop) for wish in wishes)
    case = Case(workshop, items, packed, limits, kept=kept)
    bound = {p.match: p.hide for p in kept.placements if p.match}
    stop = engine.Stop(iterations=limits.long_iterations, enough_mm2=math.inf, cancel=cancel)
    best, most = kept, (0, 0.0)
    every, translator = range(len(wishes)), Translator(case)
    for number, side in enumerate((90.0, -90.0) * limits.long_tries):
        grounds = [
            Ground(name, bit, (_along_deg(bit) + side) % 360.0)
            for name, item in _cheapest_first(items, kept)
            for bit in free_leather(item.hide, kept)
        ]
        lies = pack(translator, grounds, dict.fromkeys(every, 0), stop, seed + number, bound=bound).lies
        fitter = Fitter(translator, grounds, lies, every)
        for index in every:
            # a search draws angles at random, and in a narrow strip few will do
            may = [n for n, ground in enumerate(grounds) if bound.get(wishes[index].match, ground.hide) == ground.hide]
            if index not in lies:
                fitter.put([index], may)
        lies = fitter.lies
        found = _with(
            kept, wishes, {i: (grounds[lie.ground].hide, lie) for i, lie in lies.items()}, how, items, job.workshop
        )
        # what parts that nearly fill the bed find room in
        broad = limits.long_broad * min(workshop.machine.window_mm)
        left = sum(
            bit.area
            for item in items.values()
            for free in free_leather(item.hide, found)
            for bit in wide_enough(free, broad)
        )
        if lies and (len(lies), left) > most:
            best, most = found, (len(lies), left)
    return best


def free_leather(hide: Hide, kept: Kept) -> list[Polygon]:
    """The bits of a hide that are no panel of what is kept."""
    panels = [panel.polygon for panel in kept.panels if panel.hide == hide.id and not panel.longer]
    bits = cut_up(hide, kept.cuts, out=kept.cut_out(hide.id))
    return [bit for bit in bits if not any(same_leather(panel, bit) for panel in panels)]


def _with(
    kept: Kept,
    wishes: Sequence[Wish],
    lies: Mapping[int, tuple[str, Lie]],
    how: str,
    items: Mapping[str, Ready],
    workshop: Workshop,
) -> Kept:
    """What is kept, with some long parts where they lie, each on a panel of its own."""
    placements, panels = list(kept.placements), list(kept.panels)
    for index, (hide, lie) in sorted(lies.items()):
        taken = {panel.id for panel in panels if panel.hide == hide}
        name = next(name for n in range(1, len(panels) + 2) if (name := NAME.format(n)) not in taken)
        panel = long_panel(name, hide, wishes[index], how, lie.x, lie.y, lie.angle_deg, workshop)
        panels.append(panel)
        placements.append(placement_of(wishes[index], lie, panel, items[hide]))
    return replace(kept, placements=tuple(placements), panels=tuple(panels))


def _along_deg(leather: Polygon) -> float:
    """The direction in which leather is longest."""
    corners = shapely.get_coordinates(leather.minimum_rotated_rectangle)
    x, y = max(np.diff(corners[:3], axis=0).tolist(), key=lambda side: math.hypot(*side))
    return math.degrees(math.atan2(y, x))


def _cheapest_first(items: Mapping[str, Ready], kept: Kept) -> list[tuple[str, Ready]]:
    """Hides in the order in which they are to be cut into."""

    def cost(entry: tuple[str, Ready]) -> tuple[bool, float, float]:
        hide = entry[1].hide
        return hide.id not in kept.opened, float(hide.price or 0), hide.outline.area

    return sorted(items.items(), key=cost)


def _whole(kept: Kept, wishes: Sequence[Wish], todo: Prepared, partial: Collection[str]) -> Kept:
    """What is kept without the places of pieces of which another long part found none."""
    missing = {wish.ordered for wish in wishes if wish.key not in kept.keys} - {
        wish.ordered for wish in wishes if wish.product.name in partial
    }
    return without_parts(kept, {wish.key for wish in todo.wishes if wish.ordered in missing})


def without_parts(kept: Kept, keys: Collection[PartKey]) -> Kept:
    """What is kept without the places of some long parts."""
    gone = {(p.hide, p.panel) for p in kept.placements if p.key in keys}
    if not gone:
        return kept
    return replace(
        kept,
        placements=tuple(p for p in kept.placements if p.key not in keys),
        panels=tuple(panel for panel in kept.panels if (panel.hide, panel.id) not in gone),
    )
