"""One hide cut up one way, panel after panel, with as many of the wanted parts as will go."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from shapely.affinity import rotate
from shapely.geometry import LineString, Polygon, box

from .. import engine
from ..geometry import polygons
from ..leather.knife import (
    Way,
    bed_angle,
    cut_across,
    cut_along,
    cut_up,
    divide,
    divide_along,
    goes_across,
    reach,
    straight_line,
)
from ..model import Cut
from .case import Fill, Ground, Lie, Lies, Spot, Spots
from .fills import choose_fills, laid, lying
from .grid import Corner, cut_out, grid
from .measures import consumed_mm2, outline, used_up_mm2
from .packing import Answer, pack
from .strokes import strokes
from .translate import Translator
from .wishes import Form, Ordered


@dataclass(frozen=True)
class CutHide:
    """A hide cut up: grounds that hold parts, the lines that free them, where parts lie, and how good that is (smaller
    is better): pieces of which some of the hide's own parts are left out, most urgent first, the area of those, then
    leather and loads."""

    way: Way
    grounds: tuple[Ground, ...]
    cuts: tuple[Cut, ...]
    lies: Lies
    score: tuple[float, ...]
    iterations: int
    interrupted: bool


def cut_one_way(
    translator: Translator,
    hide: str,
    way: Way,
    ranks: dict[int, int],
    own: frozenset[int],
    effort: engine.Stop,
    patient: bool,
    seed: int,
    told: Callable[[int], None] | None = None,
    fills: Sequence[Fill] = (),
) -> CutHide:
    """Cut a hide up one way and place wishes on it.

    Parameters
    ----------
    translator : Translator
    hide : str
    way : Way
    ranks : dict
        The wishes that may be placed (by index), and which come first.
    own : set of int
        The wishes this hide is cut up for; others fill gaps, and are worth no cut of their own.
    effort : Stop
        For the whole hide; its time and iterations are shared out over the panels.
    patient : bool
        Whether each panel is packed by as many searches as the effort allows, or by one short one that takes no longer.
    seed : int
    told : callable, optional
        Called now and then with the iterations made so far.
    fills : sequence of Fill, optional
        Ways to fill a panel of whole leather.

    Returns
    -------
    CutHide
    """
    cutting = _Cutting(translator, hide, way, ranks, own, effort, patient, seed, told, fills)
    # the smallest first: what goes only on the largest finds it free, and what is left is in one piece
    bits = sorted(translator.case.kept.leather(cutting.hide), key=lambda bit: bit.area)
    cuts = [cut for bit in bits for cut in (cutting.inner if way.inner else cutting.strips)(bit)]
    return CutHide(
        way,
        tuple(cutting.grounds),
        tuple(cuts),
        cutting.lies,
        cutting.score(cuts),
        cutting.iterations,
        cutting.interrupted,
    )


def full_panels(hide: str, leather: Polygon, way: Way, bed_mm: tuple[float, float]) -> tuple[list[Polygon], list[Cut]]:
    """Leather cut up one way into panels as big as can be, and the knife lines in the order they are made."""
    if bed_angle(leather, *bed_mm) is not None:
        return [leather], []
    towards, size = way.off_deg, way.wide_mm
    low, high = reach(leather, towards)
    if high - low <= size * (1 + 1e-9):
        towards, size = way.along_deg, way.long_mm
        low, high = reach(leather, towards)
    if high - low <= size:
        # no longer than the bed either way, and yet it does not go on it
        return [], []
    panels: list[Polygon] = []
    cuts = [cut_across(hide, leather, towards, low + size)]
    for bit in (bit for side in divide(leather, towards, low + size) for bit in side):
        more, lines = full_panels(hide, bit, way, bed_mm)
        panels += more
        cuts += lines
    return panels, cuts


class _Panel(NamedTuple):
    """A fill on a panel: how long that is, the spots in the hide's own coordinates, which of them the leather allows,
    and the area of the others as a share of the panel."""

    length_mm: float
    spots: Spots
    allowed: tuple[bool, ...]
    missing: float


class _Cutting:
    def __init__(
        self,
        translator: Translator,
        hide: str,
        way: Way,
        ranks: dict[int, int],
        own: frozenset[int],
        effort: engine.Stop,
        patient: bool,
        seed: int,
        told: Callable[[int], None] | None,
        fills: Sequence[Fill] = (),
    ) -> None:
        self.fills = fills
        self.translator, self.case, self.item = translator, translator.case, translator.case.hides[hide]
        self.limits, self.bed, self.hide, self.way = self.case.limits, self.case.room_mm(hide), self.item.hide, way
        self.ranks, self.own, self.effort, self.patient, self.told = ranks, own, effort, patient, told
        self.pool = sorted(ranks, key=lambda index: (ranks[index], index))
        self.grounds: list[Ground] = []
        self.lies: Lies = {}
        self.iterations, self.interrupted, self.began = 0, False, time.monotonic()
        self.random = np.random.default_rng(seed)

    def score(self, cuts: list[Cut]) -> tuple[float, ...]:
        """See ``CutHide``; leather used is the hide less what is left of it in offcuts worth keeping."""
        left: dict[int, float] = {}
        cut: dict[int, set[Ordered]] = {}
        for index in self.own:
            wish = self.case.wishes[index]
            left[wish.rank] = left.get(wish.rank, 0.0) + (index not in self.lies) * self.case.sizes_mm2[index]
            cut.setdefault(wish.rank, set()).update([wish.ordered] if index not in self.lies else [])
        missing = [sum(self.case.worth[piece] for piece in sorted(cut[rank])) for rank in sorted(cut)]
        guests = sum(self.case.sizes_mm2[index] for index in self.lies if index not in self.own)
        bed = math.prod(self.bed) if math.isfinite(math.prod(self.bed)) else min(self.bed) ** 2
        used = sum(used_up_mm2(self.case, bit, self.lies) for bit in self.bits(cuts))
        loads = self.limits.panel_cost * bed * len(self.grounds)
        return (*missing, *(left[rank] for rank in sorted(left)), used - self.limits.leather_need * guests + loads)

    def bits(self, cuts: list[Cut]) -> list[Polygon]:
        """What these knife lines leave of the hide; where panels of whole leather are cut out, only what holds parts:
        many of the other lines need not be cut."""
        if self.way.inner:
            return [ground.polygon for ground in self.grounds]
        kept = self.case.kept
        return cut_up(self.hide, (*kept.cuts, *cuts), out=kept.cut_out(self.hide.id))

    def inner(self, leather: Polygon) -> list[Cut]:
        """Cut panels of whole leather out, each as long as the fill that it gets, and fill them before the rest; gives
        the lines."""
        fills = self._rows(leather)
        lengths = {corner: panel.length_mm for corner, panel in fills.items()}
        panels, rest, cuts = cut_out(self.hide.id, leather, self.way, lengths, self.limits)
        # what is packed where a fill does not lie as it is may be no part that another fill needs
        for panel, corner in sorted(panels, key=lambda panel: fills[panel[1]].missing):
            if self._goes_on():
                self._keep([panel], self._packed(panel, fills[corner].spots))
        return cuts + [cut for bit in sorted(rest, key=lambda bit: -bit.area) for cut in self.strips(bit)]

    def _rows(self, leather: Polygon) -> dict[Corner, _Panel]:
        """The fills that use least leather on the stretches of whole leather, by the corners of their panels.

        The longest stretches are filled first, and first with such panels as the leather allows all of; then what is
        left of them with others that it allows most of.
        """
        case, limits, found = self.case, self.limits, dict[Corner, _Panel]()
        rows = [(off, *ends) for off, stretches in grid(leather, self.way, limits).strips for ends in stretches]
        wanted = Counter(case.forms[index] for index in self.pool if index in self.own)
        for share in (0.0, limits.row_missing):
            rows.sort(key=lambda row: row[1] - row[2])
            left, gaps = sum(high - low for _, low, high in rows), []
            for off, low, high in rows:
                some = choose_fills(self.fills, wanted, case.form_mm2, self.way.wide_mm, left, limits)
                some.sort(key=lambda fill: -fill.length_mm)
                left, begun = left - (high - low), low
                while some and low + some[-1].length_mm <= high:
                    for fill in dict.fromkeys(fill for fill in some if low + fill.length_mm <= high):
                        panel = self._laid(leather, fill, (low, off))
                        if panel.missing <= share:
                            found[low, off] = panel
                            wanted -= Counter(spot.form for spot, allows in zip(panel.spots, panel.allowed) if allows)
                            some.remove(fill)
                            gaps.append((off, begun, low))
                            low = begun = low + fill.length_mm
                            break
                    else:
                        low += limits.row_step_mm
                gaps.append((off, begun, high))
            rows = gaps
        return found

    def _laid(self, leather: Polygon, fill: Fill, corner: Corner) -> _Panel:
        """A fill on the panel that begins at a corner, as it is or the other way round where more of it lies so."""
        (along, off), long, wide = corner, fill.length_mm, self.way.wide_mm
        panel = rotate(box(along, off, along + long, off + wide), self.way.along_deg, origin=(0, 0))
        bits = polygons(panel.intersection(leather))
        if not bits:
            return _Panel(long, (), (), 1.0)
        ground = self._ground(max(bits, key=lambda bit: bit.area))
        tried = [fill.spots]
        if self.case.free:
            tried.append(tuple(Spot(s.form, long - s.x, wide - s.y, s.angle_deg + 180.0) for s in fill.spots))
        found = list[_Panel]()
        for some in tried:
            spots = laid(some, self.way, corner)
            allowed = lying(self.translator, ground, spots)
            missing = sum(self.case.form_mm2[spot.form] for spot, allows in zip(spots, allowed) if not allows)
            found.append(_Panel(long, spots, allowed, missing / (long * wide)))
            if all(allowed):
                break
        return min(found, key=lambda one: one.missing)

    def _filled(self, ground: Ground, spots: Spots) -> tuple[Lies, bool]:
        """Parts of the pool laid on these spots, with the main setting, and whether all of them lie."""
        pool = dict[Form, list[int]]()
        for index in self.pool:
            pool.setdefault(self.case.forms[index], []).append(index)
        allowed = lying(self.translator, ground, spots)
        here = (spot for spot, allows in zip(spots, allowed) if allows)
        lies = {pool[spot.form].pop(0): Lie(0, spot.x, spot.y, spot.angle_deg) for spot in here if pool.get(spot.form)}
        return lies, len(lies) == len(spots)

    def strips(self, leather: Polygon) -> list[Cut]:
        """Take strips off leather; gives the lines that are needed, those of a strip after the one that frees it."""
        if not self._goes_on():
            return []
        if bed_angle(leather, *self.bed) is not None:
            self._keep([leather], self._packed(leather))
            return []
        low, high = reach(leather, self.way.off_deg)
        if high - low <= self.way.wide_mm + self.limits.rounding_mm:
            return self.panels(leather)
        place, before = low + self.way.wide_mm, len(self.lies)
        strips, rest = divide(leather, self.way.off_deg, place)
        cuts = [cut for strip in strips for cut in self.panels(strip)]
        cuts += [cut for bit in rest for cut in self.strips(bit)]
        return [cut_across(self.hide.id, leather, self.way.off_deg, place), *cuts] if len(self.lies) > before else []

    def panels(self, strip: Polygon) -> list[Cut]:
        """Take panels off a strip, the knife going down behind the last part of each."""
        if not self._goes_on():
            return []
        if bed_angle(strip, *self.bed) is not None:
            self._keep([strip], self._packed(strip))
            return []
        low, high = reach(strip, self.way.along_deg)
        place, before = low + self.way.long_mm, len(self.lies)
        # moved back no further than leaves the rest for as many panels as before
        least = high - self.way.long_mm * math.ceil((high - place) / self.way.long_mm)
        found: Lies = {}
        for bit in divide(strip, self.way.along_deg, place)[0]:
            found |= self._packed(bit)
        if found:
            line = self._behind(strip, found, place, least)
        else:
            line = straight_line(strip, self.way.along_deg, low + self.limits.step_over * self.way.long_mm)
        cut_off, rest = divide_along(strip, line, self.way.along_deg)
        self._keep(cut_off, found)
        cuts = [cut for bit in rest for cut in self.panels(bit)]
        return [cut_along(self.hide.id, strip, line), *cuts] if len(self.lies) > before else []

    def _behind(self, strip: Polygon, found: Lies, place: float, least: float) -> LineString:
        """The knife line behind parts, no farther back than ``least`` and no farther on than ``place``."""
        towards, clear = self.way.along_deg, max(self.case.margins.from_knife_mm, self.case.half_mm)
        parts = [outline(self.case, index, lie) for index, lie in found.items()]
        behind = max(reach(part, towards)[1] for part in parts) + clear + self.limits.behind_part_mm
        place = max(behind, least) if behind < place - self.limits.least_gain_mm else place
        straight = straight_line(strip, towards, place)
        bent = strokes(straight, parts, towards, clear, least, self.way.strokes, self.limits)
        return bent if bent is not None and goes_across(strip, cut_along(self.hide.id, strip, bent)) else straight

    def _goes_on(self) -> bool:
        return any(index in self.own for index in self.pool)

    def _packed(self, polygon: Polygon, spots: Spots = ()) -> Lies:
        """Pack some leather with what is left of the pool, the main setting first, and take that out of the pool."""
        lies: Lies = {}
        for band in self.item.bands:
            full = False
            if spots and band == 0:
                lies, full = self._filled(self._ground(polygon), spots)
                self.pool = [index for index in self.pool if index not in lies]
            if not full:
                lies = self._best_start(self._ground(polygon), lies, band)
            self.pool = [index for index in self.pool if index not in lies]
        return lies

    def _best_start(self, ground: Ground, lies: Lies, band: int) -> Lies:
        """The fullest of many short searches, each offered another mixture of parts: a search that is offered
        everything takes the biggest, and soon comes to no more."""
        matches = {self.case.wishes[index].match for index in self.lies}
        bound = {match: self.hide.id for match in matches if match}
        area = ground.polygon.area
        # of a fill; what is burnt with another setting is not counted
        held = sum(self.case.sizes_mm2[index] for index in lies) if band == 0 else 0.0
        stop, began, used, best = self._slice(area / (1 + band)), time.monotonic(), 0, None
        idle = 0
        while best is None or self._time_for_more(stop, began, used):
            mixed = self.random.random() < self.limits.mixture_odds
            offered = self._mixture(area, held) if mixed else self.case.shortlist(self.pool, area)
            bands = dict.fromkeys(offered, band) | {i: lie.band for i, lie in lies.items()}
            if len(bands) == len(lies):
                break
            short = replace(stop, iterations=self.limits.start_iterations)
            answer = self._searched(ground, bands, short, lies, bound, used)
            used += answer.iterations
            # where nothing can lie no search makes a step, and iterations would never run out
            idle = 0 if answer.iterations else idle + 1
            if best is None or self._worth(ground, answer.lies) > self._worth(ground, best):
                best = answer.lies
            if len(best) == len(self.pool) + len(lies) or idle == self.limits.most_idle:
                break
        self.iterations += used
        seconds = time.monotonic() - began if self.patient else stop.seconds
        return self._squeezed(ground, best, used, seconds) if best else lies

    def _squeezed(self, ground: Ground, lies: Lies, iterations: int, seconds: float | None) -> Lies:
        """The same parts closer to the packed end: while others are offered, a search only tries to get more in."""
        if self.interrupted:
            return lies
        least, share = self.limits.least_squeeze_iterations, self.limits.squeeze
        stop = engine.Stop(iterations=max(least, round(share * iterations)), cancel=self.effort.cancel)
        if self.effort.seconds is not None and seconds is not None:
            stop = replace(stop, iterations=None if self.patient else stop.iterations, seconds=share * seconds)
        bands = {index: lie.band for index, lie in lies.items()}
        answer = self._searched(ground, bands, stop, lies, {}, 0)
        self.iterations += answer.iterations
        return answer.lies if len(answer.lies) == len(lies) else lies

    def _searched(
        self, ground: Ground, bands: dict[int, int], stop: engine.Stop, start: Lies, bound: dict[str, str], used: int
    ) -> Answer:
        def tell(search: engine.Progress) -> None:
            if self.told is not None:
                self.told(self.iterations + used + search.iterations)

        seed = int(self.random.integers(2**31))
        answer = pack(
            self.translator, [ground], bands, stop, seed, start=start, ranks=self.ranks, bound=bound, progress=tell
        )
        self.interrupted |= answer.interrupted
        return answer

    def _mixture(self, area_mm2: float, held_mm2: float) -> list[int]:
        """Wishes for a little more than an area, of which so much is held already, drawn at random, the most urgent
        first."""
        order = self.random.permutation(len(self.pool))
        urgent, taken, mixture = sorted(order, key=lambda number: self.ranks[self.pool[number]]), held_mm2, []
        for number in urgent:
            if taken > self.limits.mixture_area * area_mm2:
                break
            mixture.append(self.pool[number])
            taken += self.case.sizes_mm2[self.pool[number]]
        return mixture

    def _worth(self, ground: Ground, lies: Lies) -> tuple[float, ...]:
        """Area placed by rank, most urgent first, less what the leather it takes is worth."""
        areas = dict.fromkeys(sorted(set(self.ranks.values())), 0.0)
        for index in lies:
            areas[self.ranks[index]] += self.case.sizes_mm2[index]
        *urgent, last = areas.values()
        return *urgent, last - consumed_mm2(self.case, ground, lies) / self.limits.leather_need

    def _slice(self, area_mm2: float) -> engine.Stop:
        own = sum(self.case.sizes_mm2[index] for index in self.pool if index in self.own)
        share, effort = min(area_mm2 / max(self.limits.leather_need * own, 1.0), 1.0), self.effort
        seconds, iterations = effort.seconds, effort.iterations
        if seconds:
            seconds = share * max(seconds - (time.monotonic() - self.began), 0.0)
        if iterations:
            iterations = max(1, round(share * (iterations - self.iterations)))
        return replace(effort, seconds=seconds, iterations=iterations)

    def _time_for_more(self, stop: engine.Stop, began: float, used: int) -> bool:
        return self.patient and not self.interrupted and not stop.reached(time.monotonic() - began, used)

    def _keep(self, polygons: list[Polygon], lies: Lies) -> None:
        """Make grounds of the leather that holds parts."""
        for polygon in polygons:
            here = {
                index: lie
                for index, lie in lies.items()
                if polygon.contains(outline(self.case, index, lie).representative_point())
            }
            if here:
                self.lies |= {index: lie._replace(ground=len(self.grounds)) for index, lie in here.items()}
                self.grounds.append(self._ground(polygon))

    def _ground(self, polygon: Polygon) -> Ground:
        return Ground(self.hide.id, polygon, self.way.along_deg + 180.0)
