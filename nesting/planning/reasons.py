"""Why an ordered part found no place, in one line with numbers."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from functools import cached_property

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..geometry import areal
from ..leather.regions import why_not
from ..model import MM2_PER_DM2, Asking, Hide, Kind, Part, PartKey, units
from ..model.left_out import (
    ALL_AT_ONCE,
    FILLER,
    IN_DOUBT,
    NO_COMMON_HIDE,
    NO_GRADE,
    NO_HIDE,
    NO_PLACE_KEPT,
    NO_ROOM,
    NONE_TO_BURN,
    NOT_FOUND,
    REFUSED,
    THICKNESS,
    TOO_BIG,
    TOO_BIG_FOR_BED,
    WITH_ITS_PIECE,
)
from .case import Ground, Lies, on_ground
from .long_parts import KNIFE, REFUSE, as_packed, long_and_wide, ready_for, way_of
from .measures import opened, outline
from .prepare import Prepared
from .ready import Ready, surest
from .translate import Translator
from .whole import Fitter
from .wishes import Form, Ordered, Wish


class Reasons:
    """Why parts were left out, found out when it is asked, and remembered for parts of the same form.

    Parameters
    ----------
    prepared : Prepared
    translator : Translator
        Of the case that was searched.
    grounds : sequence of Ground
    lies : Lies
        What was placed there.
    changes : callable, optional
        Gives, for a piece as a tuple of wishes, the change that would let it in, in words; empty when there is none.
    """

    def __init__(
        self,
        prepared: Prepared,
        translator: Translator,
        grounds: Sequence[Ground],
        lies: Lies,
        changes: Callable[[tuple[Wish, ...]], str] = lambda piece: "",
    ) -> None:
        self.changes, self.prepared = changes, prepared
        self.translator, self.case = translator, translator.case
        self.grounds = [ground for ground in grounds if translator.container(ground) is not None]
        numbers = {id(ground): number for number, ground in enumerate(self.grounds)}
        # fillers give way, so they are no reason
        self.lies = {
            index: lie._replace(ground=numbers[id(grounds[lie.ground])])
            for index, lie in lies.items()
            if not self.case.wishes[index].product.filler
        }
        self._barred: dict[Form, str] = {}
        self._room: dict[tuple[Form, ...], str] = {}
        self._free: dict[tuple[int, frozenset[int]], float] = {}
        self._pieces: dict[Ordered, list[Wish]] = {}
        for wish in prepared.wishes:
            self._pieces.setdefault(wish.ordered, []).append(wish)

    def why(self, wish: Wish) -> str:
        """Why a wish that was not placed was left out, and what would let it in."""
        reason = self._why(wish)
        if wish.product.filler or reason.startswith(TOO_BIG_FOR_BED):
            return reason
        alone = wish.product.name in self.case.partial
        change = self.changes((wish,) if alone else tuple(self._pieces[wish.ordered]))
        if not change and reason.startswith(NOT_FOUND):
            change = "more time may find one"
        return f"{reason}; {change}" if change else reason

    def _why(self, wish: Wish) -> str:
        own, partial = self.barred(wish), wish.product.name in self.case.partial
        if own or partial:
            return own or (self._no_place([wish]) if self._is_long(wish) else self.room((wish,)))
        piece = self._pieces[wish.ordered]
        for other in piece:
            why = self.barred(other)
            if why:
                return (
                    f"{WITH_ITS_PIECE}: {other.part.name} is {why}"
                    if why.startswith("too")
                    else (f"{WITH_ITS_PIECE}, for {other.part.name}: {why}")
                )
        if wish.ordered not in self.case.pieces:
            long = [other for other in piece if self._is_long(other)]
            return self._no_place(long) if long else NO_COMMON_HIDE
        return self.room(tuple(other for other in piece if not self._is_long(other)))

    def _is_long(self, wish: Wish) -> bool:
        """Whether a part is longer than the bed: it has a place before the search, or none."""
        return wish.key in self._long

    @cached_property
    def _long(self) -> frozenset[PartKey]:
        fitting = set(self.prepared.fitting)
        return frozenset(wish.key for index, wish in enumerate(self.prepared.wishes) if index not in fitting)

    def _no_place(self, wishes: Sequence[Wish]) -> str:
        units_first = self.prepared.job.workshop.units
        names = _listed(
            [f"{w.part.name} of {units.size_words(*long_and_wide(w.part.outline), units_first)}" for w in wishes]
        )
        return f"{NO_ROOM}: no hide has a free place for {names} in one piece, for it is longer than the bed"

    def barred(self, wish: Wish) -> str:
        """Why a part could lie nowhere, were every hide empty; empty when it is not proved that it could not."""
        if wish.shape not in self._barred:
            self._barred[wish.shape] = self._why_barred(wish)
        return self._barred[wish.shape]

    def _why_barred(self, wish: Wish) -> str:
        part, workshop = wish.drawn, self.prepared.job.workshop
        hides = [item for item in self.prepared.hides if wish.allows(item.hide)]
        if not hides:
            return no_such_leather(wish.kind, [item.hide for item in self.prepared.hides])
        answers: dict[str, list[tuple[Ready, int]]] = {}
        if any(self.case.is_home(wish, item) for item in self.case.hides.values()) and not self._is_long(wish):
            return ""
        if self._is_long(wish):
            if way_of(wish, workshop) == REFUSE:
                return NO_PLACE_KEPT if wish.product.filler else REFUSED
            # cut by knife it asks for least
            part, hides = as_packed(wish, KNIFE, workshop).part, [ready_for(item, KNIFE) for item in hides]
        for item in hides:
            for band in item.bands:
                good = item.good(part.thickness_mm, band, workshop.confidence)
                answer = why_not(part, item.hide, workshop.margins, good) if item.open else THICKNESS
                answers.setdefault(answer, []).append((item, band))
        found = next(text for text in (NO_ROOM, THICKNESS, NO_GRADE, IN_DOUBT, TOO_BIG) if text in answers)
        if found == THICKNESS:
            return min(self._thickness(part, item, band) for item, band in answers[found])[1]
        if found == NO_GRADE:
            grade = max([part.grade, *(zone.grade for zone in part.zones)])
            return f"{NO_GRADE}: {grade} or better on {_listed([item.hide.id for item, _ in answers[found]])}"
        return "" if found == NO_ROOM else found

    def _thickness(self, part: Part, item: Ready, band: int) -> tuple[float, str]:
        """How far a hide is from being of the right thickness, and that in words."""
        name, confidence = item.hide.id, self.prepared.job.workshop.confidence
        window = item.window_mm(part.thickness_mm, band)
        if not item.map.known:
            return 2.0, f"{THICKNESS}: nothing is known of {name}"
        about = f"{name} (about {item.map.mean_over(item.hide):.2f} mm)"
        if not item.open or window is None:
            lacks = f"; {item.lacks}" if item.lacks else ""
            return 1.5, f"{THICKNESS}: no tested setting covers {about}{lacks}"
        low, high = window
        asked = f"{low:.2f} mm or more" if math.isinf(high) else f"{low:.2f} to {high:.2f} mm"
        if low >= high:
            setting = item.settings[band]
            cuts = f"{setting.name} cuts {setting.thinnest_mm:.2f} to {setting.thickest_mm:.2f} mm"
            return 1.0, f"{THICKNESS}: {_range(part)} is asked, on {about} {cuts}"
        chance = surest(item.hide, item.map, window, self.prepared.limits)
        sure = f"{THICKNESS}: {asked} is {chance:.0%} sure at best on {about}, {confidence:.0%} asked"
        return 1.0 - chance, sure if chance < confidence else f"{sure}, not over all of the part"

    def room(self, wishes: tuple[Wish, ...]) -> str:
        """Which parts of a piece would fit where, as all else lies, and how large the free places are."""
        key = tuple(wish.shape for wish in wishes)
        if key not in self._room:
            self._room[key] = self._why_no_room(wishes)
        return self._room[key]

    def _why_no_room(self, wishes: tuple[Wish, ...]) -> str:
        case, index_of = self.case, {wish.key: index for index, wish in enumerate(self.case.wishes)}
        forms = {wish.shape: index_of[wish.key] for wish in wishes}
        free = {index: self._largest_free(index) for index in forms.values()}
        homes = {hide for index in forms.values() for hide in case.homes[index]}
        if wishes[0].product.filler and homes and not any(ground.hide in homes for ground in self.grounds):
            # a hide that does not fit the bed is cut up for nothing but what is ordered
            return f"{FILLER}: nothing else is cut from {_listed(sorted(homes))}"
        # a part less its narrow bits lies in a free place less those of the place
        short = [i for i in forms.values() if free[i][0] < self._broad_mm2(case.packed(case.wishes[i].drawn))]
        found = NO_ROOM if short else NOT_FOUND
        area, where = max(free[i] for i in short or free)
        largest = f"the largest free place is {area / MM2_PER_DM2:.2f} dm2"
        largest += f" on {where}, of its grade and thickness" if where else ""
        if len(self._room) >= self.prepared.limits.explained:
            return f"{found}: {largest}"
        fitter = self._fitter
        fits: dict[str, list[str]] = {}
        nowhere = []
        for form, index in forms.items():
            if fitter.put([index], range(len(self.grounds))):
                fits.setdefault(self.grounds[fitter.lies[index].ground].hide, []).append(form[1])
                fitter.lift([index])
            else:
                nowhere.append(f"{form[1]} ({case.sizes_mm2[index] / MM2_PER_DM2:.2f} dm2)")
        told = [f"{_listed(names)} would fit on {hide}" for hide, names in fits.items()]
        if nowhere:
            told.append(f"{_listed(nowhere)} nowhere")
        elif len(wishes) > 1:
            told.append(f"but not all of them {'on one hide' if wishes[0].match else 'together'}")
        elif wishes[0].product.filler and not self._cut_into & fits.keys():
            return f"{FILLER}: {told[0]}, which nothing else is cut from"
        return f"{found}: {', '.join(told)}; {largest}"

    @cached_property
    def _fitter(self) -> Fitter:
        out = [index for index in range(len(self.case.wishes)) if index not in self.lies]
        return Fitter(self.translator, self.grounds, self.lies, out)

    @property
    def _cut_into(self) -> set[str]:
        """The hides that something is cut from."""
        return opened(self.case, self.grounds, self.lies)

    def _avoids(self, index: int) -> set[frozenset[int]]:
        """What the broadest area of a part has to keep off, with each setting it may be burnt with."""
        shapes = (self.translator.shape(self.case.wishes[index], band) for band in range(self.case.most_bands))
        return {max(shape.areas, key=lambda area: area.polygon.area).avoids for shape in shapes if shape is not None}

    def _largest_free(self, index: int) -> tuple[float, str]:
        """Area of the largest free place for a part, mm2, and the hide that it is on; where there is most room first,
        for no place is larger than that."""
        homes, best = set(self.case.homes[index]), (0.0, "")
        for number in sorted(self._room_mm2, key=lambda n: (-self._room_mm2[n], n)):
            hide = self.grounds[number].hide
            if self._room_mm2[number] <= best[0]:
                break
            if hide in homes:
                best = max([best, *((self._free_mm2(number, avoids), hide) for avoids in self._avoids(index))])
        return best

    @cached_property
    def _room_mm2(self) -> dict[int, float]:
        """What the parts on each ground leave of it."""
        room = {}
        for number, ground in enumerate(self.grounds):
            container = self.translator.container(ground)
            room[number] = 0.0 if container is None else container.region.area
        for index, lie in self.lies.items():
            # less by rounding
            room[lie.ground] -= self.case.sizes_mm2[index] * (1.0 - self.prepared.limits.rounding_mm)
        return room

    def _free_mm2(self, number: int, avoids: frozenset[int]) -> float:
        """The largest connected place on a ground that nothing lies on and that is good enough, narrow bits left
        out."""
        if (number, avoids) not in self._free:
            self._free[number, avoids] = self._largest_mm2(number, avoids)
        return self._free[number, avoids]

    def _largest_mm2(self, number: int, avoids: frozenset[int]) -> float:
        container = self.translator.container(self.grounds[number])
        if container is None:
            return 0.0
        here = on_ground(self.lies, number)
        taken: list[BaseGeometry] = [
            outline(self.case, index, lie).buffer(self.case.half_mm) for index, lie in here.items()
        ]
        taken += [obstacle.polygon for obstacle in container.obstacles if obstacle.kind in avoids]
        narrow = self.prepared.limits.narrow_mm
        wide = areal(container.region.difference(shapely.union_all(taken))).buffer(-narrow)
        return max((float(bit.buffer(narrow).area) for bit in shapely.get_parts(areal(wide))), default=0.0)

    def _broad_mm2(self, shape: Polygon) -> float:
        """Area of a shape without bits narrower than those left out of a free place."""
        narrow = self.prepared.limits.narrow_mm
        return float(shape.buffer(-narrow).buffer(narrow * 0.99).area)


def no_such_leather(kind: Kind, hides: Sequence[Hide]) -> str:
    """Why none of some hides is leather of a kind, and what there is instead."""
    cold = replace(kind, burn=False)
    if like := [hide for hide in hides if cold.allows(hide)]:
        # only the tannage stands in the way
        asked = "" if cold == Kind() else f" that is {cold}"
        which = _listed([f"{hide.id} ({hide.tannage})" for hide in like])
        return f"{NONE_TO_BURN}{asked} may be: there is {which}; with burn = false it is cut by knife"
    for entry in fields(Asking):
        value = getattr(cold, entry.name)
        alone = Kind(**{entry.name: value})
        if value and not any(alone.allows(hide) for hide in hides):
            there = sorted({getattr(hide, entry.name) for hide in hides} - {""})
            among = f", there is {_listed(there)}" if there else f", for no hide says its {entry.name}"
            return f"{NO_HIDE} {alone}{among}"
    return f"{NO_HIDE} {cold} {ALL_AT_ONCE}"


def _range(part: Part) -> str:
    low, high = part.thickness_mm or (0.0, math.inf)
    return f"{low:.2f} to {high:.2f} mm"


def _listed(names: Sequence[str]) -> str:
    names = list(dict.fromkeys(names))
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
