"""The wishes and the hides of one search, and where a wish lies on them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import shapely
from shapely.geometry import Polygon

from ..geometry import Area, offset, rings
from ..leather.regions import usable, why_not
from ..model import Margins, Part, Workshop
from ..model.left_out import NO_ROOM
from .kept import NOTHING, Kept
from .limits import DEFAULT, PlanLimits
from .ready import Ready
from .wishes import Form, Ordered, Wish


class Ground(NamedTuple):
    """Leather to place on: a hide or a bit of one, packed towards its end in direction ``towards_deg``."""

    hide: str
    polygon: Polygon
    towards_deg: float = 180.0


class Lie(NamedTuple):
    """Where a wished part lies: on which ground (its index), its pose, and which of the hide's settings burns it."""

    ground: int
    x: float
    y: float
    angle_deg: float
    band: int = 0


Lies = dict[int, Lie]
"""Lies by index of the wish."""


@dataclass(frozen=True)
class Known:
    """What was found out about the empty hides of a job: whether a form could lie on one (by id) with so many of its
    settings, and the radius of a circle with room for what asks for a grade and a thickness, with one of them."""

    homes: dict[tuple[Form, str, int], bool] = field(default_factory=dict)
    circles_mm: dict[tuple[str, str, tuple[float, float] | None, int], float] = field(default_factory=dict)


def on_ground(lies: Lies, number: int) -> Lies:
    """The lies on one ground."""
    return {index: lie for index, lie in lies.items() if lie.ground == number}


@dataclass(frozen=True, eq=False)
class Case:
    """What a search is given.

    Parameters
    ----------
    workshop : Workshop
    hides : dict
        The open hides by id, each with the settings it may be burnt with.
    wishes : tuple of Wish
        Only such as fit the bed.
    partial : set of str
        Products whose pieces may be cut in part.
    limits : PlanLimits
    kept : Kept
        What lies on the hides already.
    known : Known
        Filled on the way; cases of the same job may share it.
    """

    workshop: Workshop
    hides: dict[str, Ready]
    wishes: tuple[Wish, ...]
    limits: PlanLimits = DEFAULT
    partial: frozenset[str] = frozenset()
    kept: Kept = NOTHING
    known: Known = field(default_factory=Known)

    @property
    def margins(self) -> Margins:
        """Kerf, and distances to keep."""
        return self.workshop.margins

    @property
    def bed_mm(self) -> tuple[float, float]:
        """Width and height of the usable bed, infinite along a direction leather is fed through in."""
        return self.workshop.machine.usable_mm

    @property
    def half_mm(self) -> float:
        """How far parts grow so that two that touch are kerf + gap apart."""
        return self.margins.between_mm / 2

    @property
    def most_bands(self) -> int:
        """Settings on the hide that has most of them; 1 where none has any."""
        return max([len(item.bands) for item in self.hides.values()], default=1)

    @cached_property
    def taken(self) -> dict[str, Area]:
        """Leather of each hide that something lies on already."""
        return {hide: self.kept.taken(hide, self.half_mm) for hide in self.hides}

    @cached_property
    def sizes_mm2(self) -> list[float]:
        """Area of each wished part as it is packed."""
        areas: dict[Form, float] = {}
        for wish in self.wishes:
            if wish.shape not in areas:
                areas[wish.shape] = self.packed(wish.drawn).area
        return [areas[wish.shape] for wish in self.wishes]

    @cached_property
    def homes(self) -> list[tuple[str, ...]]:
        """Hides of its kind that each wish could lie on with any of their settings, if nothing else lay there."""
        found: dict[Form, tuple[str, ...]] = {}
        for wish in self.wishes:
            if wish.shape not in found:
                found[wish.shape] = tuple(hide for hide, item in self.hides.items() if self._is_home(wish, item))
        return [found[wish.shape] for wish in self.wishes]

    @cached_property
    def ordered_ranks(self) -> int:
        """How many ranks there are of what is ordered; those of fillers come after."""
        return len({wish.rank for wish in self.wishes if not wish.product.filler})

    @cached_property
    def pieces(self) -> dict[Ordered, tuple[int, ...]]:
        """The wishes (by index) of every ordered piece, the most urgent first."""
        found: dict[Ordered, list[int]] = {}
        for index, wish in enumerate(self.wishes):
            found.setdefault(wish.ordered, []).append(index)
        return {piece: tuple(indices) for piece, indices in found.items()}

    @cached_property
    def matching(self) -> dict[str, tuple[int, ...]]:
        """The wishes (by index) of every group that has to come from one hide."""
        found: dict[str, list[int]] = {}
        for index, wish in enumerate(self.wishes):
            if wish.match:
                found.setdefault(wish.match, []).append(index)
        return {match: tuple(indices) for match, indices in found.items()}

    @cached_property
    def worth(self) -> dict[Ordered, float]:
        """What a piece counts among those of its rank: its price where all of them have one, else each counts one."""
        rank = {piece: self.wishes[indices[0]].rank for piece, indices in self.pieces.items()}
        prices = {piece: self.wishes[indices[0]].product.price for piece, indices in self.pieces.items()}
        silent = {rank[piece] for piece, price in prices.items() if not price}
        return {
            piece: 1.0 if rank[piece] in silent or price is None else float(price) for piece, price in prices.items()
        }

    def whole(self, lies: Lies) -> Lies:
        """The lies without parts of pieces that are not whole, unless their product may be cut in part."""
        kept = {
            index
            for piece, indices in self.pieces.items()
            if piece[1] in self.partial or all(index in lies for index in indices)
            for index in indices
        }
        return {index: lie for index, lie in lies.items() if index in kept}

    def unfinished(self, lies: Lies, fillers: bool = False) -> list[Ordered]:
        """The ordered pieces, or the fillers, that are not whole: the most urgent and dearest first."""
        missing = {
            piece: sum(self.sizes_mm2[index] for index in indices if index not in lies)
            for piece, indices in self.pieces.items()
            if self.wishes[indices[0]].product.filler == fillers and any(index not in lies for index in indices)
        }

        def urgency(piece: Ordered) -> tuple[float, ...]:
            return self.wishes[self.pieces[piece][0]].rank, -self.worth[piece], missing[piece]

        return sorted(missing, key=urgency)

    def packed(self, part: Part) -> Polygon:
        """Outer edge of a part as it is packed, grown by half of what two parts keep apart."""
        return Polygon(rings(offset(part.outline, self.half_mm))[0])

    def left_out(self, placed: Iterable[int]) -> bool:
        """Whether ordered parts that are no fillers are not among those placed."""
        found = set(placed)
        return any(not wish.product.filler for index, wish in enumerate(self.wishes) if index not in found)

    def shortlist(self, indices: Iterable[int], area_mm2: float) -> list[int]:
        """Of many copies of a part only as many as an area could ever hold, with room to choose."""
        room: dict[Form, float] = {}
        chosen = []
        for index in indices:
            shape = self.wishes[index].shape
            if room.setdefault(shape, self.limits.room_to_choose * area_mm2) > 0:
                room[shape] -= self.sizes_mm2[index]
                chosen.append(index)
        return chosen

    def _is_home(self, wish: Wish, item: Ready) -> bool:
        if not wish.allows(item.hide):
            return False
        key, known = (wish.shape, item.hide.id, len(item.settings)), self.known.homes
        if key not in known:
            known[key] = self._could_lie(wish.drawn, item)
        return known[key]

    def _could_lie(self, part: Part, item: Ready) -> bool:
        # a circle around the part that fits tells it at once
        radius = float(shapely.minimum_bounding_radius(part.outline))
        if any(radius <= self._circle_mm(part, item, band) for band in item.bands):
            return True
        regions = (item.good(part.thickness_mm, band, self.workshop.confidence) for band in item.bands)
        return any(why_not(part, item.hide, self.margins, region) == NO_ROOM for region in regions)

    def _circle_mm(self, part: Part, item: Ready, band: int) -> float:
        """Radius of about the largest circle on a hide that the strictest of a part's grades may lie on."""
        grade = min([part.grade, *(zone.grade for zone in part.zones)])
        key, known = (item.hide.id, grade, part.thickness_mm, band), self.known.circles_mm
        if key not in known:
            good = item.good(part.thickness_mm, band, self.workshop.confidence)
            bits = [bit for bit in shapely.get_parts(usable(item.hide, self.margins, grade, good)) if not bit.is_empty]
            circles = (shapely.maximum_inscribed_circle(bit, tolerance=self.limits.circle_mm) for bit in bits)
            known[key] = max(map(shapely.length, circles), default=0.0)
        return known[key]
