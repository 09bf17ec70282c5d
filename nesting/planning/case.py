"""The wishes and the hides of one search, and where a wish lies on them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple, overload

import numpy as np
import shapely
from shapely.geometry import Polygon

from .. import engine
from ..geometry import Area, offset, place, rings
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


class Spot(NamedTuple):
    """Where a part of some form lies on a panel whose corner is the origin and whose longer side lies along x."""

    form: Form
    x: float
    y: float
    angle_deg: float


Spots = tuple[Spot, ...]


class Fill(NamedTuple):
    """Parts that lie on one panel together, how much of its longer side they need, mm, and how often it was tried to
    make that less."""

    spots: Spots
    length_mm: float
    tries: int = 0


Middle = tuple[float, tuple[float, float]]
"""Radius of a circle, mm, and where its middle is."""


@dataclass(frozen=True)
class Known:
    """What was found out about the empty hides of a job: whether a form could lie on one (by id) with so many of its
    settings, and where what asks for a grade and a thickness may lie, with one of them."""

    homes: dict[tuple[Form, str, int], bool] = field(default_factory=dict)
    middles: dict[tuple[str, str, tuple[float, float] | None, int], tuple[Middle | None, Area]] = field(
        default_factory=dict
    )


def on_ground(lies: Lies, number: int) -> Lies:
    """The lies on one ground."""
    return {index: lie for index, lie in lies.items() if lie.ground == number}


def by_ground(lies: Lies) -> dict[int, Lies]:
    """The lies on each ground that has any."""
    found: dict[int, Lies] = {}
    for index, lie in lies.items():
        found.setdefault(lie.ground, {})[index] = lie
    return found


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

    def room_mm(self, hide: str) -> tuple[float, float]:
        """Width and height in which the panels of a hide must lie: the usable bed; the hide where it is not burnt."""
        leather = self.hides[hide].hide
        if not leather.never_burnt:
            return self.bed_mm
        left, bottom, right, top = leather.outline.bounds
        return (math.hypot(right - left, top - bottom),) * 2

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
    def consumed_mm2(self) -> dict[tuple[Ground, tuple[tuple[int, Lie], ...]], float]:
        """Leather that lies on a ground consume, as far as it was worked out: one round changes few grounds of many."""
        return {}

    @cached_property
    def forms(self) -> list[Form]:
        """The form of each wish: one object for all that are alike, so that they are quickly told to be."""
        known: dict[Form, Form] = {}
        return [known.setdefault(form, form) for form in (wish.shape for wish in self.wishes)]

    @cached_property
    def firsts(self) -> dict[Form, Wish]:
        """The first wish of each form."""
        return dict(zip(reversed(self.forms), reversed(self.wishes)))

    @cached_property
    def drawn(self) -> dict[Form, Part]:
        """The part of each form, as it is cut."""
        return {form: wish.drawn for form, wish in self.firsts.items()}

    @cached_property
    def fills(self) -> dict[tuple[float, float, float], tuple[Fill, ...]]:
        """Fills found so far by the kind of panel."""
        return {}

    @cached_property
    def lying(self) -> dict[tuple[Ground, Spots], tuple[bool, ...]]:
        """Which of some spots the leather of a ground allows, as far as it was asked."""
        return {}

    @cached_property
    def free(self) -> bool:
        """Whether every part may be turned at will."""
        return all(wish.drawn.direction.intervals(0.0) == engine.FREE for wish in self.wishes)

    @cached_property
    def radii_mm(self) -> dict[Form, float]:
        """Radius of the circle around each form."""
        return {form: float(shapely.minimum_bounding_radius(part.outline)) for form, part in self.drawn.items()}

    @cached_property
    def form_mm2(self) -> dict[Form, float]:
        """Area of each form as it is packed."""
        return {form: self.packed(part).area for form, part in self.drawn.items()}

    @cached_property
    def sizes_mm2(self) -> list[float]:
        """Area of each wished part as it is packed."""
        return [self.form_mm2[form] for form in self.forms]

    @cached_property
    def homes(self) -> Homes:
        """Hides of its kind that each wish could lie on with any of their settings, if nothing else lay there."""
        return Homes(self)

    @cached_property
    def ranks(self) -> tuple[int, ...]:
        """The ranks there are, the most urgent first."""
        return tuple(sorted({wish.rank for wish in self.wishes}))

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
            shape = self.forms[index]
            if room.setdefault(shape, self.limits.room_to_choose * area_mm2) > 0:
                room[shape] -= self.sizes_mm2[index]
                chosen.append(index)
        return chosen

    def is_home(self, wish: Wish, item: Ready) -> bool:
        """Whether a wish could lie on a hide, if nothing else lay there."""
        if not wish.allows(item.hide):
            return False
        key, known = (wish.shape, item.hide.id, len(item.settings)), self.known.homes
        if key not in known:
            known[key] = self._could_lie(wish.drawn, item)
        return known[key]

    def _could_lie(self, part: Part, item: Ready) -> bool:
        # one place where it does lie tells it at once
        if any(self._lies_in_the_middle(part, item, band) for band in item.bands):
            return True
        found = (item.good(part.thickness_mm, band, self.workshop.confidence) for band in item.bands)
        # all of a part lies on leather of its thickness
        regions = [region for region in found if region is None or region.area >= part.outline.area]
        return any(why_not(part, item.hide, self.margins, region) == NO_ROOM for region in regions)

    def _lies_in_the_middle(self, part: Part, item: Ready, band: int) -> bool:
        """Whether a part lies, at an allowed angle, about the middle of the largest circle on a hide that the strictest
        of its grades may lie on."""
        middle, region = self._middle(part, item, band)
        if middle is None:
            return False
        radius, (x, y) = middle
        if float(shapely.minimum_bounding_radius(part.outline)) <= radius:
            return True
        own, tries = part.outline.centroid, self.limits.turns_in_the_middle
        return any(
            region.contains(place(shapely.transform(part.outline, lambda xy: xy - (own.x, own.y)), x, y, float(angle)))
            for low, high in part.direction.intervals(item.hide.backbone_deg)
            for angle in np.linspace(low, high, tries)
        )

    def _middle(self, part: Part, item: Ready, band: int) -> tuple[Middle | None, Area]:
        """About the largest circle on a hide that the strictest of a part's grades may lie on, and all of where it
        may."""
        grade = min([part.grade, *(zone.grade for zone in part.zones)])
        key, known = (item.hide.id, grade, part.thickness_mm, band), self.known.middles
        if key not in known:
            good = item.good(part.thickness_mm, band, self.workshop.confidence)
            region = usable(item.hide, self.margins, grade, good)
            bits = [bit for bit in shapely.get_parts(region) if not bit.is_empty]
            circles = [shapely.maximum_inscribed_circle(bit, tolerance=self.limits.circle_mm) for bit in bits]
            best = max(circles, key=shapely.length, default=None)
            shapely.prepare(region)
            known[key] = (best and (float(best.length), best.coords[0]), region)
        return known[key]


class Homes(Sequence[tuple[str, ...]]):
    """The hides that each wish of a case could lie on, found out when a wish of its form is first asked for."""

    def __init__(self, case: Case) -> None:
        self._case, self._found = case, dict[Form, tuple[str, ...]]()

    def __len__(self) -> int:
        return len(self._case.wishes)

    @overload
    def __getitem__(self, index: int) -> tuple[str, ...]: ...

    @overload
    def __getitem__(self, index: slice) -> list[tuple[str, ...]]: ...

    def __getitem__(self, index: int | slice) -> tuple[str, ...] | list[tuple[str, ...]]:
        if isinstance(index, slice):
            return [self[number] for number in range(len(self))[index]]
        form = self._case.forms[index]
        if form not in self._found:
            wish, hides = self._case.wishes[index], self._case.hides.items()
            self._found[form] = tuple(hide for hide, item in hides if self._case.is_home(wish, item))
        return self._found[form]
