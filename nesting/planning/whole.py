"""Pieces made whole: what misses parts gets them wherever they go, or is given up, and the room goes to others."""

from __future__ import annotations

import itertools
import time
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from typing import NamedTuple

import numpy as np
import shapely

from .. import engine
from .case import Ground, Lie, Lies, by_ground, on_ground
from .clock import Clock
from .measures import aim, hide_money, opened, outline, without_fillers
from .packing import pack
from .translate import Translator
from .wishes import Form, Ordered

Failed = tuple[object, ...]
"""Forms of parts that found no place together on some grounds."""


def make_whole(
    translator: Translator,
    grounds: Sequence[Ground],
    lies: Lies,
    clock: Clock,
    seconds: float | None,
    seed: int,
) -> Lies:
    """Make as many pieces whole as can be, the most urgent first, and take the parts of all others off.

    First the missing parts are tried wherever they may lie, all else lying still, the fillers taken away; then by
    force, on a few grounds packed anew. Then fillers go where they find room.

    Parameters
    ----------
    translator : Translator
    grounds : sequence of Ground
    lies : Lies
    clock : Clock
        Counts the iterations; when the run was broken off only what is quick is done.
    seconds : float, optional
        How long it may take; None where iterations are counted.
    seed : int

    Returns
    -------
    Lies
        No worse than the given lies without the parts of pieces that are not whole.
    """
    maker = _Maker(translator, list(grounds), clock, seconds, seed)
    return maker.made(lies)


class Fitter:
    """Parts put one after another among what lies still.

    Parameters
    ----------
    translator : Translator
    grounds : list of Ground
        In the order in which they are tried.
    lies : Lies
        What lies there.
    wanted : iterable of int
        Wishes that may be put, by index.
    """

    def __init__(self, translator: Translator, grounds: list[Ground], lies: Lies, wanted: Iterable[int]) -> None:
        self.translator, self.case, self.grounds, self.lies = translator, translator.case, grounds, dict(lies)
        self._wanted, self._failed = list(wanted), dict[Failed, frozenset[int]]()
        self._sites: dict[str, _Site | None] = {}

    def put(self, indices: Iterable[int], order: Iterable[int]) -> bool:
        """Put all of some parts on grounds tried in an order (by number), the biggest first, or none of them."""
        forms, numbers = self.case.forms, list(order)
        ordered = sorted(indices, key=lambda index: (-self.case.sizes_mm2[index], index))
        signature: Failed = (*(forms[index] for index in ordered), *numbers)
        if signature in self._failed:
            return False
        done: list[int] = []
        for index in ordered:
            if not self._put(index, numbers):
                # all is as it was, and what failed then still does
                failed = dict(self._failed)
                for other in reversed(done):
                    self._take_back(other)
                self._failed = failed
                # what matches parts that lie is held to their hide
                if not any(mate in self.lies for index in ordered for mate in self._mates(index)):
                    self._failed[signature] = frozenset(numbers)
                return False
            done.append(index)
        return True

    def lift(self, indices: Iterable[int]) -> None:
        """Take parts off."""
        for index in indices:
            site = self._site(self.grounds[self.lies[index].ground].hide)
            lie = self.lies.pop(index)
            if site is not None:
                site.insertion.remove(site.given_back(self.case.forms[index], index, lie.band))
            self._failed = {one: numbers for one, numbers in self._failed.items() if lie.ground not in numbers}

    def _take_back(self, index: int) -> None:
        """Take off the part put last."""
        lie = self.lies.pop(index)
        site = self._site(self.grounds[lie.ground].hide)
        if site is not None:
            site.insertion.take_back(site.given_back(self.case.forms[index], index, lie.band))

    def _mates(self, index: int) -> tuple[int, ...]:
        match = self.case.wishes[index].match
        return self.case.matching[match] if match else ()

    def restore(self, index: int, lie: Lie) -> None:
        """Put a part where it is known to fit."""
        site = self._site(self.grounds[lie.ground].hide)
        if site is not None:
            pose = engine.Pose(site.containers[lie.ground], lie.x, lie.y, lie.angle_deg)
            site.insertion.place(site.taken(self.case.forms[index], index, lie.band), pose)
        self.lies[index] = lie

    def _put(self, index: int, numbers: list[int]) -> bool:
        homes = self._homes(index)
        for number in numbers:
            hide = self.grounds[number].hide
            site = self._site(hide) if hide in homes else None
            if site is None or number not in site.containers:
                continue
            for band in range(self.case.most_bands):
                free = site.free.get((self.case.forms[index], band))
                pose = site.insertion.insert(free[-1], [site.containers[number]]) if free else None
                if pose is not None:
                    site.taken(self.case.forms[index], index, band)
                    self.lies[index] = Lie(number, pose.x, pose.y, pose.angle_deg, band)
                    return True
        return False

    def _homes(self, index: int) -> Collection[str]:
        """Hides that a part may lie on, with what it has to match where it lies."""
        homes, match = self.case.homes[index], self.case.wishes[index].match
        if not match:
            return frozenset(homes)
        bound = {self.grounds[self.lies[mate].ground].hide for mate in self.case.matching[match] if mate in self.lies}
        return bound.intersection(homes) if bound else homes

    def _site(self, hide: str) -> _Site | None:
        """A hide as it lies now, made when it is first asked for; None when nothing can lie there."""
        if hide not in self._sites:
            numbers = [number for number, ground in enumerate(self.grounds) if ground.hide == hide]
            here = {index: lie for index, lie in self.lies.items() if lie.ground in numbers}
            self._sites[hide] = _site(self.translator, self.grounds, numbers, here, self._wanted)
        return self._sites[hide]


class _Site(NamedTuple):
    """A hide with its grounds: the engine's items of what lies there, by wish and setting; items that have no place, by
    form and setting, no more than could go on it; containers of grounds."""

    insertion: engine.Insertion
    items: dict[tuple[int, int], int]
    free: dict[tuple[Form, int], list[int]]
    containers: dict[int, int]

    def taken(self, form: Form, index: int, band: int) -> int:
        """An item for a wish that is put."""
        self.items[index, band] = self.free[form, band].pop()
        return self.items[index, band]

    def given_back(self, form: Form, index: int, band: int) -> int:
        """The item of a wish that is taken off."""
        item = self.items.pop((index, band))
        self.free.setdefault((form, band), []).append(item)
        return item


def _site(
    translator: Translator, grounds: list[Ground], numbers: list[int], lies: Lies, wanted: Iterable[int]
) -> _Site | None:
    """Some grounds of one hide, with what lies there and what may be put."""
    case, hide = translator.case, grounds[numbers[0]].hide
    room = sum(grounds[number].polygon.area for number in numbers)
    counts = Counter[Form]()
    few: list[int] = []
    asked = dict.fromkeys(wanted)
    for index in asked:
        form = case.forms[index]
        if index not in lies and counts[form] * case.sizes_mm2[index] <= room and hide in case.homes[index]:
            counts[form] += 1
            few.append(index)
    bands = range(case.most_bands)
    lying = [(index, lie.band) for index, lie in lies.items()]
    # what lies may be asked for again, with another setting
    every = [(index, band) for index in (*few, *(index for index in lies if index in asked)) for band in bands]
    choices = list(dict.fromkeys([*lying, *every]))
    question = translator.question_of([grounds[number] for number in numbers], choices, {}, {})
    if question is None:
        return None
    # an index without any container to lie in has no item
    settings: dict[int, list[int]] = {}
    for index, band in choices:
        settings.setdefault(index, []).append(band)
    items = {(index, settings[index].pop(0)): item for item, index in enumerate(question.wishes)}
    containers = {numbers[ground]: container for container, ground in enumerate(question.grounds)}
    poses: list[engine.Pose | None] = [None] * len(items)
    for index, lie in lies.items():
        poses[items[index, lie.band]] = engine.Pose(containers[lie.ground], lie.x, lie.y, lie.angle_deg)
    insertion = engine.Insertion(question.problem, engine.Solution(tuple(poses), (), 0.0))
    free: dict[tuple[Form, int], list[int]] = {}
    for (index, band), item in items.items():
        if poses[item] is None:
            free.setdefault((case.forms[index], band), []).append(item)
    return _Site(insertion, {key: items[key] for key in lying}, free, containers)


class _Maker:
    def __init__(
        self,
        translator: Translator,
        grounds: list[Ground],
        clock: Clock,
        seconds: float | None,
        seed: int,
    ) -> None:
        self.translator, self.case, self.grounds, self.clock = translator, translator.case, grounds, clock
        self.limits, self.random = self.case.limits, np.random.default_rng(seed)
        if clock.broken_off:
            seconds = self.limits.interrupted_whole_s
        now, share = time.monotonic(), 1.0 - self.limits.filling_share
        self.until = None if seconds is None else now + share * seconds
        self.ends = None if seconds is None else now + seconds

    def made(self, lies: Lies) -> Lies:
        lies = self.left_over(lies)
        best = self.case.whole(lies)
        bare = without_fillers(self.case, lies)
        if self.case.unfinished(lies):
            bare = self.regrouped(self.vacated(bare))
            yielded = self.yielded(bare)
            starts = [bare, self.case.whole(bare)] if yielded is bare else [yielded, bare, self.case.whole(bare)]
            cut = [piece for piece in self.case.unfinished(bare) if any(i in bare for i in self.case.pieces[piece])]
            starts += [
                {i: lie for i, lie in bare.items() if i not in self.case.pieces[piece]}
                for piece in (cut[::-1][: self.limits.given_up] if len(cut) > 1 else ())
            ]
            # what is less urgent makes room, then what is as urgent, and all come again the most urgent first
            ranks = sorted({self.case.wishes[self.case.pieces[piece][0]].rank for piece in self.case.unfinished(bare)})
            for rank in (ranks[0] + 1, ranks[0]):
                first = {i: lie for i, lie in self.case.whole(bare).items() if self.case.wishes[i].rank < rank}
                few = len(self.case.wishes) - len(first) <= self.limits.parts_anew
                starts += [first] if few and first not in starts else []
            done = list[Lies]()
            for start in starts:
                if not done or not self.over():
                    done.append(self.completed(start))
                if not self.case.unfinished(done[-1]):
                    break
            # what fits is placed
            bare = self.completed(self.forced(min(done, key=self.aim)), whatever_the_time=True)
        else:
            bare = self.case.whole(bare)
        bare = self.cheaper(bare)
        self.until = self.ends
        filled = self.filled(bare, lies)
        return min(best, filled, key=self.aim)

    def left_over(self, lies: Lies) -> Lies:
        """The lies without fillers on hides that nothing else is cut from; all of them where there is nothing else."""
        cut_into = opened(self.case, self.grounds, without_fillers(self.case, lies))
        return {
            index: lie
            for index, lie in lies.items()
            if not cut_into or not self.case.wishes[index].product.filler or self.grounds[lie.ground].hide in cut_into
        }

    def over(self) -> bool:
        """Whether only what is quick may still be done."""
        return self.until is not None and time.monotonic() >= self.until

    def aim(self, lies: Lies) -> tuple[float, ...]:
        return aim(self.case, self.grounds, lies)

    def completed(self, lies: Lies, whatever_the_time: bool = False) -> Lies:
        """The lies with every piece that goes made whole, all else lying still."""
        unfinished = self.case.unfinished(lies)
        wanted = [index for piece in unfinished for index in self.case.pieces[piece]]
        fitter = Fitter(self.translator, self.grounds, lies, wanted)
        for piece in unfinished:
            if self.clock.broken_off if whatever_the_time else self.over():
                break
            self.complete(fitter, piece, self.order(fitter.lies))
        return self.case.whole(fitter.lies)

    def regrouped(self, lies: Lies) -> Lies:
        """The lies with parts of one form exchanged between pieces that are not whole, so that some of them are."""
        wishes, forms = self.case.wishes, self.case.forms
        pieces = [self.case.pieces[piece] for piece in self.case.unfinished(lies)]
        pieces = [indices for indices in pieces if not any(wishes[index].match for index in indices)]
        places: dict[Form, list[Lie]] = {}
        for index in itertools.chain(*pieces):
            if index in lies:
                places.setdefault(forms[index], []).append(lies[index])
        needs = [Counter(forms[index] for index in indices) for indices in pieces]
        found = {index: lie for index, lie in lies.items() if index not in set(itertools.chain(*pieces))}
        rest: list[int] = []
        for indices, need in zip(pieces, needs):
            if all(len(places.get(form, ())) >= count for form, count in need.items()):
                found |= {index: places[forms[index]].pop(0) for index in indices}
            else:
                rest += indices
        return found | {index: places[form].pop(0) for index in rest if places.get(form := forms[index])}

    def vacated(self, lies: Lies) -> Lies:
        """The lies with parts moved off the hides that a piece left out needs, where they find room on others."""
        case = self.case
        needed = {
            frozenset(case.homes[index])
            for piece in case.unfinished(lies)
            for index in case.pieces[piece]
            if index not in lies
        }
        movable = [
            index
            for index, lie in lies.items()
            if not case.wishes[index].match
            and any(self.grounds[lie.ground].hide in homes and set(case.homes[index]) - homes for homes in needed)
        ]
        # what takes most room first
        movable.sort(key=lambda index: (-case.sizes_mm2[index], index))
        if not movable:
            return lies
        cut_into = opened(self.case, self.grounds, lies)
        fitter = Fitter(self.translator, self.grounds, lies, movable)
        order = self.order(lies)
        for index in movable:
            here = lies[index]
            free = [
                number
                for number in order
                if self.grounds[number].hide in cut_into
                and not any({self.grounds[number].hide, self.grounds[here.ground].hide} <= homes for homes in needed)
            ]
            if self.over():
                break
            fitter.lift([index])
            if not fitter.put([index], free):
                fitter.restore(index, here)
        return fitter.lies

    def yielded(self, lies: Lies) -> Lies:
        """The lies with the most urgent pieces left out put where what is less urgent lay; all that is not in their way
        lies still."""
        case = self.case
        for piece in case.unfinished(lies)[: self.limits.given_up]:
            indices = case.pieces[piece]
            rank, homes = case.wishes[indices[0]].rank, {hide for index in indices for hide in case.homes[index]}
            later = {
                index: lie
                for index, lie in lies.items()
                if case.wishes[index].rank > rank and self.grounds[lie.ground].hide in homes
            }
            if self.over() or not later:
                continue
            fitter = Fitter(
                self.translator, self.grounds, {i: lie for i, lie in lies.items() if i not in later}, indices
            )
            if self.complete(fitter, piece, self.order(lies)):
                lies = fitter.lies | self.clear_of(fitter.lies, later)
        return lies

    def complete(self, fitter: Fitter, piece: Ordered, order: list[int]) -> bool:
        """Put the missing parts of a piece, or, when they do not go, all of it anew; else it is taken off."""
        indices = self.case.pieces[piece]
        placed = {index: fitter.lies[index] for index in indices if index in fitter.lies}
        missing = [index for index in indices if index not in placed]
        if piece[1] in self.case.partial:
            return [fitter.put([index], order) for index in missing].count(False) == 0
        if fitter.put(missing, order):
            return True
        fitter.lift(placed)
        if not any(self.case.wishes[index].match for index in indices):
            return bool(placed) and fitter.put(indices, order)
        # what has to match goes to one hide after another
        hides: dict[str, list[int]] = {}
        for number in order:
            hides.setdefault(self.grounds[number].hide, []).append(number)
        return any(fitter.put(indices, numbers) for numbers in hides.values())

    def cheaper(self, lies: Lies) -> Lies:
        """The lies with hides emptied into others, cut into already or cheaper, where that costs less in all."""
        case = self.case
        on: dict[str, list[int]] = {}
        for index, lie in lies.items():
            on.setdefault(self.grounds[lie.ground].hide, []).append(index)
        # the least leather to move first
        for hide in sorted(on, key=lambda name: (sum(case.sizes_mm2[index] for index in on[name]), name)):
            if self.over():
                break
            trial = self.emptied(lies, hide)
            if trial is not None and self.aim(trial) < self.aim(lies):
                lies = trial
        return lies

    def emptied(self, lies: Lies, hide: str) -> Lies | None:
        """The lies with all that lies on a hide put on others; None when that does not go."""
        case, wishes = self.case, self.case.wishes
        moving = {index for index, lie in lies.items() if self.grounds[lie.ground].hide == hide}
        # what matches these parts comes along
        groups = {wishes[index].match for index in moving} - {""}
        moved = [index for index in lies if index in moving or wishes[index].match in groups]
        kept = {index: lie for index, lie in lies.items() if index not in moving and wishes[index].match not in groups}
        cut_into = opened(case, self.grounds, kept)
        opening = hide_money(case, hide, 0.0)
        homes = {name for name in case.hides if name in cut_into or hide_money(case, name, 0.0) < opening} - {hide}
        order = [number for number in self.order(kept) if self.grounds[number].hide in homes]
        full = sum(case.sizes_mm2[index] for index, lie in kept.items() if lie.ground in order)
        need = sum(case.sizes_mm2[index] for index in moved)
        if need + full > sum(self.grounds[number].polygon.area for number in order):
            return None
        if not all(homes.intersection(case.homes[index]) for index in moved):
            return None
        fitter = Fitter(self.translator, self.grounds, kept, moved)
        bundles: dict[str | int, list[int]] = {}
        for index in moved:
            bundles.setdefault(wishes[index].match or index, []).append(index)
        for bundle in sorted(bundles.values(), key=lambda some: -sum(case.sizes_mm2[index] for index in some)):
            # what has to match goes to one hide or another
            sites = [homes] if not wishes[bundle[0]].match else [{self.grounds[number].hide} for number in order]
            ways = dict.fromkeys(tuple(n for n in order if self.grounds[n].hide in site) for site in sites)
            if self.over() or not any(fitter.put(bundle, numbers) for numbers in ways):
                return None
        return fitter.lies

    def order(self, lies: Lies) -> list[int]:
        """Grounds in the order in which they are to be used: cut into already, then the cheapest hide first."""
        used = {lie.ground for lie in lies.values()}
        cut_into = opened(self.case, self.grounds, lies)
        price = {name: self.price(name) for name in self.case.hides}
        return sorted(
            range(len(self.grounds)),
            key=lambda number: (
                number not in used,
                self.grounds[number].hide not in cut_into,
                price[self.grounds[number].hide],
                number,
            ),
        )

    def price(self, name: str) -> tuple[float, float]:
        hide = self.case.hides[name].hide
        return float(hide.price or 0), hide.outline.area

    def forced(self, lies: Lies) -> Lies:
        """The lies with pieces left out forced in: a few grounds are packed anew with all of a piece as guests."""
        left = self.limits.forced_pieces * self.limits.force_tries
        case, failed, tried = self.case, set[tuple[object, ...]](), False
        for piece in case.unfinished(lies):
            form = tuple(case.forms[index] for index in case.pieces[piece])
            if form in failed:
                continue
            for attempt in range(self.limits.force_tries):
                if self.clock.broken_off or (tried and self.over()) or (self.until is None and left <= 0):
                    return lies
                if all(index in lies for index in self.case.pieces[piece]):
                    break
                left, tried = left - 1, True
                # by turns less urgent ones make way, and come again afterwards
                trial = self.force(piece, lies, attempt % 2 == 0)
                if trial is not None and self.aim(trial) < self.aim(lies):
                    lies = trial
            if any(index not in lies for index in case.pieces[piece]):
                failed.add(form)
        return lies

    def force(self, piece: Ordered, lies: Lies, alone: bool) -> Lies | None:
        """The lies with a piece packed anew with what lies on a few grounds; ``alone``, with what is as urgent."""
        indices, rank = self.case.pieces[piece], self.case.wishes[self.case.pieces[piece][0]].rank
        numbers = self.chosen(indices, lies)
        if not numbers:
            return None
        on = {number: on_ground(lies, number) for number in numbers}
        others = {index: lie for index, lie in lies.items() if lie.ground not in on}
        before = {
            i: lie._replace(ground=numbers.index(n))
            for n in numbers
            for i, lie in on[n].items()
            if not alone or self.case.wishes[i].rank <= rank
        }
        guests = [index for index in indices if index not in lies]
        bands = {index: int(self.random.integers(self.case.most_bands)) for index in guests}
        bands |= {index: lie.band for index, lie in before.items()}
        ranks = {index: 2 * self.case.wishes[index].rank + (index not in before) for index in bands}
        bound = {
            self.case.wishes[index].match: self.grounds[lie.ground].hide
            for index, lie in others.items()
            if self.case.wishes[index].match
        }
        after = self.packed(numbers, bands, ranks, bound, None if alone else before, self.limits.force_s)
        if not all(index in after or index in others for index in indices):
            return None
        back = [index for index in lies if index not in others and index not in before]
        if back:
            start = {i: lie._replace(ground=numbers.index(lie.ground)) for i, lie in after.items()}
            bands |= {index: lies[index].band for index in back}
            ranks |= {index: 2 * self.case.wishes[index].rank for index in back}
            after = self.packed(numbers, bands, ranks, bound, start, self.limits.least_force_s)
        trial = self.case.whole(others | after)
        # what made room may go elsewhere
        return self.completed(trial) if len(trial) < len(lies) + len(guests) else trial

    def packed(
        self,
        numbers: list[int],
        bands: dict[int, int],
        ranks: dict[int, int],
        bound: dict[str, str],
        start: Lies | None,
        seconds: float,
    ) -> Lies:
        """One search on a few grounds, for some seconds at most or some iterations."""
        cancel = self.clock.stop.cancel
        stop = engine.Stop(iterations=self.limits.force_iterations, enough_mm2=float("inf"), cancel=cancel)
        if self.until is not None:
            left = max(self.until - time.monotonic(), self.limits.least_force_s)
            stop = engine.Stop(min(seconds, left), enough_mm2=float("inf"), cancel=cancel)
        grounds = [self.grounds[number] for number in numbers]
        seed = int(self.random.integers(2**31))
        answer = pack(self.translator, grounds, bands, stop, seed, start=start, ranks=ranks, bound=bound)
        self.clock.count(answer)
        return {index: lie._replace(ground=numbers[lie.ground]) for index, lie in answer.lies.items()}

    def chosen(self, indices: Iterable[int], lies: Lies) -> list[int]:
        """A few grounds that a piece may lie on, those with more room more often; of one hide where it must match."""
        case, wishes = self.case, [self.case.wishes[index] for index in indices]
        homes = [set(case.homes[index]) for index in indices]
        may = set.intersection(*homes) if wishes[0].match else set().union(*homes)
        if wishes[0].match and may:
            may = {str(self.random.choice(sorted(may)))}
        numbers = [
            number
            for number, ground in enumerate(self.grounds)
            if ground.hide in may and self.translator.container(ground) is not None
        ]
        if not numbers:
            return []
        on = by_ground(lies)
        full = {number: sum(case.sizes_mm2[index] for index in on.get(number, {})) for number in numbers}
        area = {number: self.grounds[number].polygon.area for number in numbers}
        slack = np.array([max(area[n] - full[n], self.limits.least_slack * area[n]) for n in numbers])
        count = min(self.limits.panels_alone, len(numbers))
        return [int(n) for n in self.random.choice(numbers, count, replace=False, p=slack / slack.sum())]

    def filled(self, lies: Lies, before: Lies) -> Lies:
        """The lies with fillers: where they were before, then wherever they go, though never on fresh leather."""
        case = self.case
        kept = self.clear_of(lies, {i: lie for i, lie in before.items() if case.wishes[i].product.filler})
        lies = case.whole(self.left_over(lies | kept))
        unfinished = case.unfinished(lies, fillers=True)
        cut_into = opened(self.case, self.grounds, lies)
        if not unfinished or not cut_into or self.clock.broken_off:
            return case.whole(lies)
        if self.until is not None:
            self.until = max(self.until, time.monotonic() + self.limits.least_filling_s)
        fitter = Fitter(self.translator, self.grounds, lies, [i for piece in unfinished for i in case.pieces[piece]])
        for piece in unfinished:
            if self.over():
                break
            order = [number for number in self.order(fitter.lies) if self.grounds[number].hide in cut_into]
            self.complete(fitter, piece, order)
        return case.whole(fitter.lies)

    def clear_of(self, lies: Lies, others: Lies) -> Lies:
        """Those of the others that lie clear of all lies."""
        kept: Lies = {}
        lying = by_ground(lies)
        for number, here in by_ground(others).items():
            there = [self.grown(index, lie) for index, lie in lying.get(number, {}).items()]
            grown = [self.grown(index, lie) for index, lie in here.items()]
            hit = set(shapely.STRtree(there).query(grown, predicate="intersects")[0].tolist()) if there else set()
            kept |= {index: lie for n, (index, lie) in enumerate(here.items()) if n not in hit}
        return kept

    def grown(self, index: int, lie: Lie) -> shapely.Polygon:
        slack = self.limits.rounding_mm
        return outline(self.case, index, lie).buffer(max(self.case.half_mm - slack, 0.0))
