"""Which hide each wished part is for, by area alone, before any hide is cut up."""

from __future__ import annotations

from .packing import Packing, Piece

FULL = 0.72
"""Share of a hide's usable leather that parts are taken to fill (working assumption: what the search reaches)."""
MOST_ORDERS = 6


def allot(packing: Packing) -> dict[str, set[int]]:
    """Share the wishes out over the hides, most urgent first, parts with the fewest hides to go to before others.

    Hides are filled in several orders; the one that leaves out least, then cuts into least leather, is taken.

    Parameters
    ----------
    packing : Packing

    Returns
    -------
    dict
        Wishes (by index) for each hide, the hides in the order they are to be filled. What fits nowhere is in none.
    """
    room, area = {}, {hide: item.hide.outline.area for hide, item in packing.hides.items()}
    for hide, item in packing.hides.items():
        container = packing.container(Piece(hide, item.hide.outline))
        room[hide] = FULL * container.region.area if container else 0.0
    units = _units(packing)
    given, small = list(room), sorted(room, key=lambda hide: (area[hide], hide))
    orders = [
        given,
        small,
        small[::-1],
        *([hide, *(other for other in small if other != hide)] for hide in small[:MOST_ORDERS]),
    ]
    tried = [_filled(packing, order, room, units) for order in orders]

    def merit(own: dict[str, set[int]]) -> tuple:
        return (*packing.unplaced(set().union(*own.values())), sum(area[hide] for hide in own if own[hide]))

    return min(tried, key=merit) if tried else {}


def _units(packing: Packing) -> list[tuple[list[int], list[str]]]:
    """What has to be on one hide, and the hides it may be on, in the order it is shared out."""
    groups = {}
    for index, wish in enumerate(packing.wishes):
        groups.setdefault(wish.match or index, []).append(index)
    units = []
    for indices in groups.values():
        allowed = [hide for hide in packing.hides if all(hide in packing.homes[i] for i in indices)]
        units.append((indices, allowed))

    def urgency(unit) -> tuple:
        indices, allowed = unit
        return (
            min(packing.wishes[i].rank for i in indices),
            len(allowed),
            -sum(packing.sizes[i] for i in indices),
            indices[0],
        )

    return sorted(units, key=urgency)


def _filled(packing: Packing, order: list[str], room: dict[str, float], units) -> dict[str, set[int]]:
    own, left = {hide: set() for hide in order}, dict(room)
    for indices, allowed in units:
        need = sum(packing.sizes[i] for i in indices)
        for hide in order:
            if hide in allowed and left[hide] >= need:
                left[hide] -= need
                own[hide].update(indices)
                break
    return own
