"""How good an arrangement is: what is left out, and the leather it takes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry import Polygon

from ..geometry import place, wide_enough
from ..leather.knife import cut_up, divide, needed, reach
from ..model import Cut
from .case import Case, Ground, Lie, Lies, by_ground


def unplaced_mm2(case: Case, placed: Iterable[int]) -> tuple[float, ...]:
    """Area of the wishes not placed, by rank, the most urgent first."""
    found, areas = set(placed), dict.fromkeys(case.ranks, 0.0)
    for index, (wish, size) in enumerate(zip(case.wishes, case.sizes_mm2)):
        if index not in found:
            areas[wish.rank] += size
    return tuple(areas.values())


def pieces_missing(case: Case, lies: Lies) -> tuple[float, ...]:
    """What the pieces that are not whole count, by rank, the most urgent first."""
    counts = dict.fromkeys(case.ranks, 0.0)
    for piece, indices in case.pieces.items():
        if any(index not in lies for index in indices):
            counts[case.wishes[indices[0]].rank] += case.worth[piece]
    return tuple(counts.values())


def aim(case: Case, grounds: Sequence[Ground], lies: Lies, cuts: tuple[Cut, ...] | None = None) -> tuple[float, ...]:
    """Smaller is better: ordered pieces that are not whole and the area of their parts left out, by rank; the money for
    leather and bed loads, as if no filler were cut; then fillers left out, and the leather consumed.

    Where the knife lines are given, only what they leave in offcuts worth keeping is no leather used, which takes
    longer to work out; else all behind the last part of every ground.
    """
    bare = without_fillers(case, lies)
    used = all_consumed_mm2(case, grounds, bare)
    missing, area = pieces_missing(case, lies), unplaced_mm2(case, lies)
    first, all_used = case.ordered_ranks, sum(used.values())
    if len(bare) < len(lies):
        all_used = sum(all_consumed_mm2(case, grounds, lies).values())
    loads = [number for number, value in used.items() if value > 0.0]
    leather = dict.fromkeys((grounds[number].hide for number in loads), 0.0)
    for number in loads:
        leather[grounds[number].hide] += used[number]
    if cuts is not None:
        leather = {hide: _used_of_hide_mm2(case, hide, grounds, bare, cuts) for hide in leather}
    money = sum(hide_money(case, hide, of_it) for hide, of_it in leather.items()) + loads_money(case, len(loads))
    return (*missing[:first], *area[:first], round(money, 2), *missing[first:], *area[first:], all_used)


def without_fillers(case: Case, lies: Lies) -> Lies:
    """The lies of what is ordered."""
    return {index: lie for index, lie in lies.items() if not case.wishes[index].product.filler}


def hide_money(case: Case, hide: str, used_mm2: float) -> float:
    """What a hide costs of which so much is used: the rest is an offcut, of whose price a share comes back; one that is
    cut into already costs no more than what is used of it now. Where no hide has a price, area stands for it."""
    priced = any(item.hide.price for item in case.hides.values())
    leather, credit = case.hides[hide].hide, case.workshop.prices.offcut_credit
    price = float(leather.price or 0) if priced else leather.outline.area
    opening = 0.0 if hide in case.kept.opened else price * (1.0 - credit)
    return opening + price * credit * min(used_mm2 / leather.outline.area, 1.0)


def loads_money(case: Case, count: int) -> float:
    """What it costs to lay so many panels on the bed and take them away: the laser waits meanwhile. Burning takes as
    long wherever a part lies."""
    return count * float(case.workshop.prices.machine_per_hour) * case.workshop.machine.load_minutes / 60.0


def opened(case: Case, grounds: Sequence[Ground], lies: Lies) -> set[str]:
    """The hides that are cut into, by these lies or already."""
    return {grounds[lie.ground].hide for lie in lies.values()} | case.kept.opened


def all_consumed_mm2(case: Case, grounds: Sequence[Ground], lies: Lies) -> dict[int, float]:
    """Leather consumed of each ground, by its number."""
    on = by_ground(lies)
    return {number: consumed_mm2(case, ground, on.get(number, {})) for number, ground in enumerate(grounds)}


def consumed_mm2(case: Case, ground: Ground, lies: Lies) -> float:
    """Leather of a ground from its packed end to the farthest part, without what is taken already."""
    if not lies:
        return 0.0
    key, known = (ground, tuple(lies.items())), case.consumed_mm2
    if key not in known:
        if len(known) >= case.limits.remembered_lies:
            known.clear()
        known[key] = _consumed_mm2(case, ground, lies)
    return known[key]


def _consumed_mm2(case: Case, ground: Ground, lies: Lies) -> float:
    away = ground.towards_deg + 180.0
    front = max(reach(outline(case, index, lie), away)[1] for index, lie in lies.items())
    bits, taken = divide(ground.polygon, away, front)[0], case.taken[ground.hide]
    return float(sum(bit.area if taken.is_empty else bit.difference(taken).area for bit in bits))


def used_up_mm2(case: Case, polygon: Polygon, lies: Lies) -> float:
    """Leather of a bit of hide that is not left in offcuts worth keeping."""
    parts = shapely.union_all([outline(case, index, lie).buffer(case.margins.kerf_mm) for index, lie in lies.items()])
    kept = wide_enough(polygon.difference(parts), case.workshop.smallest_offcut_mm)
    return float(polygon.area - sum(bit.area for bit in kept))


def _used_of_hide_mm2(case: Case, hide: str, grounds: Sequence[Ground], lies: Lies, cuts: tuple[Cut, ...]) -> float:
    """Leather of a hide that is not left in offcuts worth keeping, once it is cut up for what lies there."""
    leather, out = case.hides[hide].hide, case.kept.cut_out(hide)
    here = {index: lie for index, lie in lies.items() if grounds[lie.ground].hide == hide}
    panels = [grounds[number].polygon for number in sorted({lie.ground for lie in here.values()})]
    lines = needed(leather, tuple(cut for cut in cuts if cut.hide == hide), panels, out=out)
    numbers = list(here)
    tree = shapely.STRtree([outline(case, index, here[index]) for index in numbers])

    def near(bit: Polygon) -> Lies:
        found = tree.query(bit, predicate="dwithin", distance=case.margins.kerf_mm)
        return {numbers[number]: here[numbers[number]] for number in sorted(found)}

    return sum(used_up_mm2(case, bit, near(bit)) for bit in cut_up(leather, lines, out=out))


def outline(case: Case, index: int, lie: Lie) -> Polygon:
    """The finished edge of a wished part where it lies."""
    return place(case.wishes[index].drawn.outline, lie.x, lie.y, lie.angle_deg)
