"""How good an arrangement is: what is left out, and the leather it takes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry import Polygon

from ..geometry import place, wide_enough
from ..leather.knife import divide, reach
from .case import Case, Ground, Lie, Lies, on_ground


def unplaced_mm2(case: Case, placed: Iterable[int]) -> tuple[float, ...]:
    """Area of the wishes not placed, by rank, the most urgent first."""
    found, areas = set(placed), {wish.rank: 0.0 for wish in case.wishes}
    for index, (wish, size) in enumerate(zip(case.wishes, case.sizes_mm2)):
        if index not in found:
            areas[wish.rank] += size
    return tuple(areas[rank] for rank in sorted(areas))


def pieces_missing(case: Case, lies: Lies) -> tuple[float, ...]:
    """What the pieces that are not whole count, by rank, the most urgent first."""
    counts = {wish.rank: 0.0 for wish in case.wishes}
    for piece, indices in case.pieces.items():
        if any(index not in lies for index in indices):
            counts[case.wishes[indices[0]].rank] += case.worth[piece]
    return tuple(counts[rank] for rank in sorted(counts))


def aim(case: Case, grounds: Sequence[Ground], lies: Lies) -> tuple[float, ...]:
    """Smaller is better: ordered pieces that are not whole and the area of their parts left out, by rank; the money for
    leather, as if no filler were cut; then fillers left out, and the leather consumed."""
    bare = without_fillers(case, lies)
    used = [consumed_mm2(case, ground, on_ground(bare, number)) for number, ground in enumerate(grounds)]
    missing, area = pieces_missing(case, lies), unplaced_mm2(case, lies)
    first, all_used = case.ordered_ranks, sum(used)
    if len(bare) < len(lies):
        all_used = sum(consumed_mm2(case, ground, on_ground(lies, number)) for number, ground in enumerate(grounds))
    money = leather_money(case, grounds, used)
    return (*missing[:first], *area[:first], round(money, 2), *missing[first:], *area[first:], all_used)


def without_fillers(case: Case, lies: Lies) -> Lies:
    """The lies of what is ordered."""
    return {index: lie for index, lie in lies.items() if not case.wishes[index].product.filler}


def leather_money(case: Case, grounds: Sequence[Ground], used_mm2: Sequence[float]) -> float:
    """What the leather costs of which so much of each ground is used: the rest of a hide that is cut into is an offcut,
    of whose price a share comes back. Where no hide has a price, area stands for it."""
    cut: dict[str, float] = {}
    for ground, used in zip(grounds, used_mm2):
        if used > 0.0:
            cut[ground.hide] = cut.get(ground.hide, 0.0) + used
    return sum(hide_money(case, hide, used) for hide, used in cut.items())


def hide_money(case: Case, hide: str, used_mm2: float) -> float:
    """The same for one hide; one that is cut into already costs no more than what is used of it now."""
    priced = any(item.hide.price for item in case.hides.values())
    leather, credit = case.hides[hide].hide, case.workshop.prices.offcut_credit
    price = float(leather.price or 0) if priced else leather.outline.area
    opening = 0.0 if hide in case.kept.opened else price * (1.0 - credit)
    return opening + price * credit * min(used_mm2 / leather.outline.area, 1.0)


def opened(case: Case, grounds: Sequence[Ground], lies: Lies) -> set[str]:
    """The hides that are cut into, by these lies or already."""
    return {grounds[lie.ground].hide for lie in lies.values()} | case.kept.opened


def consumed_mm2(case: Case, ground: Ground, lies: Lies) -> float:
    """Leather of a ground from its packed end to the farthest part, without what is taken already."""
    if not lies:
        return 0.0
    away = ground.towards_deg + 180.0
    front = max(reach(outline(case, index, lie), away)[1] for index, lie in lies.items())
    bits, taken = divide(ground.polygon, away, front)[0], case.taken[ground.hide]
    return float(sum(bit.area if taken.is_empty else bit.difference(taken).area for bit in bits))


def used_up_mm2(case: Case, polygon: Polygon, lies: Lies) -> float:
    """Leather of a bit of hide that is not left in offcuts worth keeping."""
    parts = shapely.union_all([outline(case, index, lie).buffer(case.margins.kerf_mm) for index, lie in lies.items()])
    kept = wide_enough(polygon.difference(parts), case.workshop.smallest_offcut_mm)
    return float(polygon.area - sum(bit.area for bit in kept))


def outline(case: Case, index: int, lie: Lie) -> Polygon:
    """The finished edge of a wished part where it lies."""
    return place(case.wishes[index].drawn.outline, lie.x, lie.y, lie.angle_deg)
