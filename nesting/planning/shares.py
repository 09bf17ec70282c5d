"""Which hide each wished part is for, by area alone, before any hide is cut up."""

from __future__ import annotations

from collections import Counter

from .case import Case, Ground
from .measures import hide_money, unplaced_mm2
from .translate import Translator
from .wishes import Form

Unit = tuple[list[int], frozenset[str]]
"""Wishes (by index) that have to be on one hide, and the hides they may be on."""


def share_out(translator: Translator, mixed: bool = False) -> dict[str, set[int]]:
    """Share the wishes out over the hides, most urgent first, parts with the fewest hides to go to before others.

    Hides are filled in several orders; the one that leaves out least, then costs least leather, is taken.

    Parameters
    ----------
    translator : Translator
    mixed : bool
        Whether copies of all forms take turns, so that each hide gets some of all: parts of one size alone fill many
        panels badly. Else what is larger comes first.

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
    units = _units(case, mixed)
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

    best = min(tried, key=merit)
    return _evenly(case, best, room_mm2, units) if mixed else best


def _evenly(
    case: Case, shares: dict[str, set[int]], room_mm2: dict[str, float], units: list[Unit]
) -> dict[str, set[int]]:
    """The same hides filled as far as each other, where all that is shared out finds room like that."""
    used = [hide for hide in shares if shares[hide]]
    room = sum(room_mm2[hide] for hide in used)
    need = case.limits.even_slack * sum(case.sizes_mm2[index] for index in shared(shares))
    even = {hide: room_mm2[hide] * min(need / room, 1.0) for hide in used}
    found = {hide: set[int]() for hide in shares} | _filled(case, used, even, units) if used else shares
    return found if shared(found) == shared(shares) else shares


def shared(shares: dict[str, set[int]]) -> set[int]:
    """All the wishes that are for some hide."""
    return set().union(*shares.values())


def _units(case: Case, mixed: bool) -> list[Unit]:
    """What has to be on one hide, in the order it is shared out."""
    groups: dict[str | int, list[int]] = {}
    for index, wish in enumerate(case.wishes):
        groups.setdefault(wish.match or index, []).append(index)
    homes = {form: frozenset(case.homes[index]) for index, form in enumerate(case.forms)}
    units = [
        (indices, frozenset.intersection(*(homes[case.forms[index]] for index in indices)))
        for indices in groups.values()
    ]

    forms = Counter[tuple[Form, ...]]()
    turn = dict[int, int]()
    for indices, _ in units:
        form = tuple(case.forms[index] for index in indices)
        turn[indices[0]] = forms[form]
        forms[form] += 1

    def urgency(unit: Unit) -> tuple[float, ...]:
        indices, allowed = unit
        rank = min(case.wishes[index].rank for index in indices)
        copies = forms[tuple(case.forms[index] for index in indices)]
        share = (turn[indices[0]] + 0.5) / copies if mixed else 0.0
        return rank, len(allowed), share, -sum(case.sizes_mm2[index] for index in indices), indices[0]

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
