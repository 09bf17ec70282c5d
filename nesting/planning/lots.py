"""Which lot each group of wishes comes from that has to be of one."""

from __future__ import annotations

from dataclasses import replace

from .case import Case
from .wishes import Wish


def of_one_lot(case: Case) -> tuple[Wish, ...]:
    """The wishes of a case, those of a group that has to come from one lot bound to the hides of it.

    The most urgent group chooses first: of the lots on which each of its parts could lie the smallest with room enough,
    or else the largest. What is bound already stays so.
    """
    groups: dict[str, list[int]] = {}
    for index, wish in enumerate(case.wishes):
        if wish.lot and wish.hides is None:
            groups.setdefault(wish.lot, []).append(index)
    lots: dict[str, set[str]] = {}
    for name, item in case.hides.items():
        lots.setdefault(item.hide.lot_key, set()).add(name)
    left = {
        lot: sum(case.hides[name].hide.outline.area - case.taken[name].area for name in names)
        for lot, names in lots.items()
    }
    chosen: dict[str, frozenset[str]] = {}
    for group, indices in groups.items():
        # a lot on which all of them could lie, or as many as can be
        count = {lot: sum(bool(names & set(case.homes[i])) for i in indices) for lot, names in lots.items()}
        able = [lot for lot in lots if count[lot] == max(count.values())]
        if not able:
            continue
        need = sum(case.sizes_mm2[index] for index in indices)
        room = [lot for lot in able if left[lot] >= case.limits.lot_room * need]
        lot = min(room, key=lambda lot: left[lot]) if room else max(able, key=lambda lot: left[lot])
        left[lot] -= case.limits.leather_need * need
        chosen[group] = frozenset(lots[lot])
    return tuple(replace(wish, hides=chosen[wish.lot]) if wish.lot in chosen else wish for wish in case.wishes)
