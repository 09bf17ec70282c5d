"""Which hide each wished part is for, by area alone, before any hide is cut up."""

from __future__ import annotations

from .case import Case, Ground
from .measures import hide_money, unplaced_mm2
from .translate import Translator

Unit = tuple[list[int], frozenset[str]]
"""Wishes (by index) that have to be on one hide, and the hides they may be on."""


def share_out(translator: Translator) -> dict[str, set[int]]:
    """Share the wishes out over the hides, most urgent first, parts with the fewest hides to go to before others.

    Hides are filled in several orders; the one that leaves out least, then costs least leather, is taken.

    Parameters
    ----------
    translator : Translator

    Returns
    -------
    dict
        Wishes (by index) for each hide, the hides in the order they are to be filled. What fits nowhere is in none.
    """
    case = translator.case
    area_mm2 = {hide: item.hide.outline.area for hide, item in case.hides.items()}
    room_mm2 = {}
    for hide, item in case.hides.items():
        container = translator.container(Ground(hide, item.hide.outline))
        room_mm2[hide] = case.limits.full * container.region.area if container else 0.0
    units = _units(case)
    given, small = list(room_mm2), sorted(room_mm2, key=lambda hide: (area_mm2[hide], hide))
    cheap = sorted(small, key=lambda hide: hide_money(case, hide, area_mm2[hide]) / area_mm2[hide])
    orders = [
        given,
        small,
        small[::-1],
        cheap,
        *([hide, *(other for other in small if other != hide)] for hide in small[: case.limits.most_orders]),
    ]
    tried = [_filled(case, order, room_mm2, units) for order in orders]

    def merit(shares: dict[str, set[int]]) -> tuple[float, ...]:
        used_mm2 = {hide: sum(case.sizes_mm2[index] for index in shares[hide]) for hide in shares}
        money = sum(hide_money(case, hide, used) for hide, used in used_mm2.items() if used)
        return (*unplaced_mm2(case, shared(shares)), money)

    return min(tried, key=merit)


def shared(shares: dict[str, set[int]]) -> set[int]:
    """All the wishes that are for some hide."""
    return set().union(*shares.values())


def _units(case: Case) -> list[Unit]:
    """What has to be on one hide, in the order it is shared out."""
    groups: dict[str | int, list[int]] = {}
    for index, wish in enumerate(case.wishes):
        groups.setdefault(wish.match or index, []).append(index)
    homes = {form: frozenset(case.homes[index]) for index, form in enumerate(case.forms)}
    units = [
        (indices, frozenset.intersection(*(homes[case.forms[index]] for index in indices)))
        for indices in groups.values()
    ]

    def urgency(unit: Unit) -> tuple[int, int, float, int]:
        indices, allowed = unit
        rank = min(case.wishes[index].rank for index in indices)
        return rank, len(allowed), -sum(case.sizes_mm2[index] for index in indices), indices[0]

    return sorted(units, key=urgency)


def _filled(case: Case, order: list[str], room_mm2: dict[str, float], units: list[Unit]) -> dict[str, set[int]]:
    shares: dict[str, set[int]] = {hide: set() for hide in order}
    left_mm2 = dict(room_mm2)
    for indices, allowed in units:
        need_mm2 = sum(case.sizes_mm2[index] for index in indices)
        for hide in order:
            if hide in allowed and left_mm2[hide] >= need_mm2:
                left_mm2[hide] -= need_mm2
                shares[hide].update(indices)
                break
    return shares
