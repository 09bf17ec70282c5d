"""Orders and hides to a layout: what is wanted, where it may lie, what comes of the search."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from .. import engine
from ..leather.knife import needed, same_leather
from ..model import Asked, Cut, Hide, Job, Layout, Panel, PartKey, Placement, Setting, Unplaced
from ..model.left_out import STOPPED, UNEXPLAINED
from ..workers import Cluster, cores
from .arrange import Arrangement, arrange, go_on
from .case import Case, Ground, Lie
from .changes import Changes
from .clock import Legs
from .keeping import less
from .kept import NOTHING, Kept
from .limits import DEFAULT, PlanLimits
from .lots import of_one_lot
from .measures import aim, pieces_missing
from .placements import placement_of
from .prepare import Prepared, prepare
from .ready import Ready
from .reasons import Reasons
from .reserve import reserve, without_parts
from .translate import Translator
from .wishes import Ordered, Wish


def plan(
    job: Job,
    stop: engine.Stop,
    seed: int = 0,
    *,
    workers: int | Cluster | None = None,
    progress: Callable[[engine.Progress], None] | None = None,
    settings: int | None = None,
    prepared: Prepared | None = None,
    partial: bool = False,
    explain: bool = True,
    kept: Kept | None = None,
    so_far: SoFar | None = None,
    limits: PlanLimits = DEFAULT,
) -> Layout:
    """Decide which part comes from where on which hide, and where the hides are cut to fit the bed.

    Parameters
    ----------
    job : Job
    stop : engine.Stop
        When to end; the first complete layout is always made. ``enough_mm2`` ends it when everything that fits the bed
        has a place and no more leather is consumed.
    seed : int
        The same job, seed, workers and number of iterations give the same layout.
    workers : int or Cluster, optional
        Processes to search with; as many as there are cores by default. A search of few seconds uses one. Or machines
        of a cluster, which come to the same after the same iterations as so many processes do.
    progress : callable, optional
        Called with an engine.Progress of the whole run, whenever a better layout was found and else now and then: its
        share never falls, and is 1 at the end; it counts the parts placed of all wanted.
    settings : int, optional
        How many settings a hide may be burnt with at most. Without it one, and a second only when ordered parts
        (fillers do not count) would be left out with one: a change-over costs time.
    prepared : Prepared, optional
        What ``prepare`` made of this job with these limits, for all or some of its hides; made anew without it.
    partial : bool
        Whether every piece may be cut in part; without it only those of products that say so, and of any other all
        parts are placed or none.
    explain : bool
        Whether it is found out why something is left out, which takes a second or two.
    kept : Kept, optional
        What stays of an earlier layout, as ``keep`` found it. What is loose in it moves only where pieces would be left
        out otherwise, or where nothing else is to be done.
    so_far : SoFar, optional
        Told of the best as it is found, for whoever ends the search from outside.
    limits : PlanLimits

    Returns
    -------
    Layout
        Not yet checked: pass it to ``nesting.check`` before it is shown to anyone.

    Raises
    ------
    ValueError
        When ``prepared`` is of another job or was made with other limits, or ``workers`` or ``settings`` is less than
        1.
    """
    for name, value in (("workers", workers), ("settings", settings)):
        if isinstance(value, int) and value < 1:
            raise ValueError(f"{name} is {value}: give 1 or more")
    if prepared is None:
        prepared = prepare(job, limits=limits)
    elif prepared.job is not job or prepared.limits != limits:
        raise ValueError("what is prepared is of another job, or made with other limits: prepare it anew")
    workers = cores() if workers is None else workers
    run = _Run(prepared, seed, workers, progress, settings, _may_be_cut(prepared, partial), so_far)
    found = run.resume(kept, stop) if kept and kept.loose else run.search_all(kept or NOTHING, stop)
    instead = "" if explain else UNEXPLAINED
    return _layout(prepared, found, seed, instead, None if stop.seconds is None else limits.changes_s)


def as_kept(
    prepared: Prepared,
    kept: Kept,
    *,
    seed: int = 0,
    settings: int | None = None,
    partial: bool = False,
    explain: bool = True,
) -> Layout:
    """The layout that all makes which still holds of an earlier one, with nothing searched for; not yet checked.

    The parameters are those of :func:`plan`.
    """
    still = kept.tight
    run = _Run(prepared, seed, 1, None, settings, _may_be_cut(prepared, partial))
    todo = less(prepared, still)
    case, more = run.cases(todo, still)
    found = _Found(todo, still, more or case, Arrangement(cuts=still.cuts), 0, 0.0)
    return _layout(prepared, found, seed, "" if explain else UNEXPLAINED, prepared.limits.changes_s)


def _may_be_cut(prepared: Prepared, partial: bool) -> frozenset[str]:
    """The products of which a piece may be cut in part."""
    return frozenset(product.name for product in prepared.job.products if partial or product.partial)


class SoFar:
    """The best that a search under way has found; it gives a layout at any time, to any thread.

    A further search beside what stays as before goes on from the best of the one before it.

    Parameters
    ----------
    told : callable
        Called whenever there is a better one; what it raises ends the search.
    """

    def __init__(self, told: Callable[[], None] = lambda: None) -> None:
        self.make: Callable[[], Layout] | None = None
        self.told = told
        self.beside: Kept | None = None
        self.value: tuple[float, ...] = ()

    def layout(self) -> Layout | None:
        """The best so far, all its pieces whole; None before anything has a place."""
        make = self.make
        return make() if make is not None else None


@dataclass(frozen=True)
class _Found:
    """What a search came to beside what stays, and what it took; leather of a panel ``named`` has its name."""

    todo: Prepared
    kept: Kept
    case: Case
    made: Arrangement
    iterations: int
    seconds: float
    broken_off: bool = False
    named: tuple[Panel, ...] = ()

    @property
    def panels(self) -> dict[int, Panel]:
        """The panels that hold what was placed, by number of the ground."""
        return _panels(self.made, (*self.kept.panels, *self.named))

    @property
    def placed(self) -> set[PartKey]:
        """The ordered parts that have a place."""
        return {p.key for p in self.kept.placements} | {self.case.wishes[index].key for index in self.made.lies}

    def aim(self, prepared: Prepared) -> tuple[float, ...]:
        """Smaller is better: all ordered pieces that are not whole by rank, then the aim of the search."""
        settled = self.settled(prepared)
        every = Case(prepared.job.workshop, {}, prepared.wishes, prepared.limits)
        placed = settled.placed
        lies = {index: Lie(0, 0.0, 0.0, 0.0) for index, wish in enumerate(every.wishes) if wish.key in placed}
        return (*pieces_missing(every, lies), *self.made.aim(self.case))

    def settled(self, prepared: Prepared) -> _Found:
        """The same without parts longer than the bed of pieces that are not whole; their places are left free."""
        placed = self.placed
        cut = {
            wish.ordered
            for wish in prepared.wishes
            if wish.key not in placed and wish.product.name not in self.case.partial
        }
        long = {(panel.hide, panel.id) for panel in self.kept.panels if panel.longer and not self.kept.is_burnt(panel)}
        keys = {
            p.key
            for p in self.kept.placements
            if (p.hide, p.panel) in long and p.pinned is None and (p.order, p.product, p.piece) in cut
        }
        if not keys:
            return self
        kept = without_parts(self.kept, keys)
        return replace(self, kept=kept, todo=less(prepared, kept))


@dataclass(frozen=True)
class _Run:
    """A run of one search or two."""

    prepared: Prepared
    seed: int
    workers: int | Cluster
    progress: Callable[[engine.Progress], None] | None
    settings: int | None
    partial: frozenset[str]
    so_far: SoFar | None = None

    def search_all(self, kept: Kept, stop: engine.Stop) -> _Found:
        """One search, or a few where parts longer than the bed have places kept for them: where these leave no room for
        the rest of their pieces, or for what is as urgent, it is tried with fewer."""
        begun, iterations, limits = time.monotonic(), 0, self.prepared.limits
        beside = reserve(self.prepared, kept, self.partial, self.seed, cancel=stop.cancel)
        if beside is kept:
            return self.search(kept, stop)
        found: list[_Found] = []

        def tried(beside: Kept, share: float, low: float, high: float, seed: int) -> set[Ordered]:
            nonlocal iterations
            part = _share_of(_rest(stop, iterations, time.monotonic() - begun), share)
            found.append(replace(self, seed=seed).search(beside, part, low, high, iterations))
            iterations += found[-1].iterations
            return _in_the_way(self.prepared, found[-1].settled(self.prepared), beside, kept)

        told = limits.long_share
        wrong = tried(beside, told, 0.0, told, self.seed)
        pieces = _by_urgency(self.prepared, beside, kept, wrong)
        low, high = len(pieces) - len(wrong), len(pieces)
        if not wrong and not found[-1].broken_off:
            tried(beside, 1.0, told, 1.0, self.seed + 1)
        while low < high and not found[-1].broken_off:
            # the most of them that go
            count, left = (low + high) // 2, (high - low).bit_length()
            beside = reserve(self.prepared, kept, self.partial, self.seed, pieces[count:], stop.cancel)
            after = told + (1.0 - told) / left
            fewer = not tried(beside, 1.0 / left, told, after, self.seed)
            low, high, told = (count + 1, high, after) if fewer else (low, count, after)
        best = min(found, key=lambda one: one.aim(self.prepared))
        seconds = time.monotonic() - begun
        return replace(best, iterations=iterations, seconds=seconds, broken_off=found[-1].broken_off)

    def search(self, kept: Kept, stop: engine.Stop, low: float = 0.0, high: float = 1.0, before: int = 0) -> _Found:
        """One search for all that does not lie still; the progress told goes from one share to another, the iterations
        on from those before."""
        todo, legs = self._begun(kept, stop, low, high, before)
        case, more = self.cases(todo, kept)
        made = self._best(case, more, legs) if case.wishes else Arrangement(cuts=kept.cuts)
        return _Found(todo, kept, more or case, made, legs.iterations, legs.seconds, legs.broken_off)

    def _best(self, case: Case, more: Case | None, legs: Legs, start: Arrangement | None = None) -> Arrangement:
        """The best of the arrangements that the legs of a search come to; each begins anew, or goes on from the best
        where too little time is left for that. Where time is limited panels of whole leather are cut out, until that
        leaves ordered pieces out."""
        best, widest, least = Arrangement(), more or case, tuple[float, ...]()
        inner = legs.stop.iterations is None
        for number, clock in enumerate(legs):
            crew = self.workers if (clock.seconds_left or math.inf) >= case.limits.least_crew_s else 1
            try:
                # fills go on from those that are known, so that hides cut up anew come to more than rounds do
                enough = (clock.seconds_left or 0.0) >= case.limits.least_cut_s * len(case.hides)
                if legs.anew or ((case.fills or widest.fills) and enough):
                    made = arrange(case, clock, self.seed + number, more=more, workers=crew, start=start, inner=inner)
                else:
                    made = go_on(Translator(widest), best, clock, self.seed + number, crew)
            except KeyboardInterrupt:
                if number == 0:
                    raise
                legs.interrupted = True
                break
            aimed = least if made is best else made.aim(widest)
            if number == 0 or aimed < least:
                best, least = made, aimed
            inner &= not widest.left_out(best.lies)
        return best

    def resume(self, kept: Kept, stop: engine.Stop) -> _Found:
        """What is new placed while all that holds lies still; where that leaves pieces out, or nothing is new, a search
        in which what is loose may move.

        Its answer is taken where it makes more pieces whole, or where nothing is new.
        """
        limits = self.prepared.limits
        # a new part longer than the bed may have room only where others move
        apart = _without_loose(self.prepared, kept)
        beside = {
            places: reserve(self.prepared, places, self.partial, self.seed, cancel=stop.cancel)
            for places in (kept, apart)
        }
        new = [len(found.placements) - len(places.placements) for places, found in beside.items()]
        if new[1] > new[0]:
            return self.search_all(apart, stop)
        kept = beside[kept]
        share, iterations = limits.resumed_share, stop.iterations
        if stop.seconds is iterations is None:
            iterations = limits.round_iterations
        elif iterations is not None:
            iterations = max(1, round(share * iterations))
        part = replace(stop, seconds=stop.seconds and share * stop.seconds, iterations=iterations, enough_mm2=None)
        first = self.search(kept.tight, part, 0.0, share)
        idle = not first.todo.wishes and not kept.dropped
        todo, legs = self._begun(kept.fixed, _rest(stop, first.iterations, first.seconds), share, 1.0, first.iterations)
        placed = {first.case.wishes[index].key for index in first.made.lies} | {p.key for p in kept.loose}
        touched = {wish.ordered for wish in todo.wishes if wish.key in placed}
        out = [wish for wish in todo.wishes if wish.key not in placed]
        if not idle and not any(not wish.product.filler or wish.ordered in touched for wish in out):
            return first
        most = 1 + max((self._band(placement) for placement in kept.loose), default=0)
        most = max(most, 1 + max((lie.band for lie in first.made.lies.values()), default=0))
        case, more = self.cases(todo, kept.fixed, most)
        case, more = (case, more) if more is None or not out else (more, None)
        start = self._start(case, kept, first)
        still = Arrangement(start.grounds, start.cuts, case.whole(start.lies))
        found = _Found(todo, kept.fixed, case, still, first.iterations, first.seconds, first.broken_off, kept.panels)
        if first.broken_off or not case.wishes:
            return found
        made = self._best(case, more, legs, start)
        better = pieces_missing(case, made.lies) < pieces_missing(case, still.lies)
        return replace(
            found,
            made=made if better or idle else still,
            iterations=first.iterations + legs.iterations,
            seconds=first.seconds + legs.seconds,
        )

    def _begun(self, kept: Kept, stop: engine.Stop, low: float, high: float, before: int) -> tuple[Prepared, Legs]:
        """What is to be placed beside what stays, and the legs of the search for it."""
        todo, limits, still = less(self.prepared, kept), self.prepared.limits, len(kept.placements)
        tell = self.progress

        def told(search: engine.Progress) -> None:
            if tell is not None:
                share, made = low + (high - low) * search.share, before + search.iterations
                tell(replace(search, placed=search.placed + still, share=share, iterations=made))

        legs = Legs(stop, told, len(self.prepared.wishes), limits)
        if self.so_far is not None:
            legs.keep = self._keeps(self.so_far, todo, kept, legs)
        return todo, legs

    def _keeps(self, so_far: SoFar, todo: Prepared, kept: Kept, legs: Legs) -> Callable[[Case, Arrangement], None]:
        if so_far.beside is not kept:
            so_far.beside, so_far.value = kept, ()

        def keep(case: Case, made: Arrangement) -> None:
            lies = case.whole(made.lies)
            value = aim(case, made.grounds, lies)
            if lies and (not so_far.value or value < so_far.value):
                so_far.value = value
                found = _Found(todo, kept, case, replace(made, lies=lies), legs.iterations, legs.seconds, True)
                so_far.make = lambda: _layout(self.prepared, found, self.seed, STOPPED, None)
                so_far.told()

        return keep

    def cases(self, todo: Prepared, kept: Kept, least: int = 1) -> tuple[Case, Case | None]:
        """The case of a search, and the same with a further setting where that is allowed and there is one."""
        limits, settings = self.prepared.limits, self.settings
        case, more = _case(todo, max(settings or limits.settings_at_first, least), self.partial, kept), None
        if settings is None and any(len(item.settings) > limits.settings_at_first for item in todo.hides):
            more = _case(todo, max(limits.settings_for_orders, least), self.partial, kept)
        possible = _possible(todo, more or case)
        return replace(case, wishes=possible), more and replace(more, wishes=possible)

    def _band(self, placement: Placement) -> int:
        """The number of the setting that a part of an earlier layout is burnt with."""
        settings = next(item.settings for item in self.prepared.hides if item.hide.id == placement.hide)
        return next((band for band, setting in enumerate(settings) if setting.name == placement.setting), 0)

    def _start(self, case: Case, kept: Kept, first: _Found) -> Arrangement:
        """What lies loose and what was placed beside it, as one arrangement."""
        grounds, numbers = [*first.made.grounds], dict[tuple[str, str], int]()
        for panel in (panel for panel in kept.panels if not kept.is_burnt(panel) and not panel.longer):
            same = (n for n, g in enumerate(grounds) if g.hide == panel.hide and same_leather(g.polygon, panel.polygon))
            number = numbers[panel.hide, panel.id] = next(same, len(grounds))
            if number == len(grounds):
                grounds.append(Ground(panel.hide, panel.polygon))
        lies = {first.case.wishes[index].key: lie for index, lie in first.made.lies.items()}
        lies |= {p.key: Lie(numbers[p.hide, p.panel], p.x, p.y, p.angle, self._band(p)) for p in kept.loose}
        found = {i: lies[wish.key] for i, wish in enumerate(case.wishes) if wish.key in lies}
        return Arrangement(tuple(grounds), first.made.cuts, found)


def _rest(stop: engine.Stop, iterations: int, seconds: float) -> engine.Stop:
    """What is left of the time and the iterations after so many."""
    left = None if stop.seconds is None else max(stop.seconds - seconds, 0.0)
    more = None if stop.iterations is None else max(1, stop.iterations - iterations)
    return replace(stop, seconds=left, iterations=more)


def _share_of(stop: engine.Stop, share: float) -> engine.Stop:
    """A share of the time and the iterations."""
    iterations = None if stop.iterations is None else max(1, round(share * stop.iterations))
    return replace(stop, seconds=stop.seconds and share * stop.seconds, iterations=iterations)


def _without_loose(prepared: Prepared, kept: Kept) -> Kept:
    """What lies still, with the panels and knife lines that it needs."""
    fixed = kept.fixed
    cuts = [
        line
        for hide in (*kept.hides, *(item.hide for item in prepared.hides))
        for line in _cuts(hide, Arrangement(cuts=kept.cuts), fixed.panels, fixed)
    ]
    return replace(fixed, cuts=tuple(cuts))


def _by_urgency(prepared: Prepared, beside: Kept, kept: Kept, last: Collection[Ordered]) -> list[Ordered]:
    """The pieces that have places kept for long parts, the most urgent first, but some of them last."""
    still = {placement.key for placement in beside.placements} - kept.keys
    pieces = dict.fromkeys(wish.ordered for wish in prepared.wishes if wish.key in still)
    return sorted(pieces, key=lambda piece: piece in last)


def _in_the_way(prepared: Prepared, found: _Found, beside: Kept, kept: Kept) -> set[Ordered]:
    """The pieces with long parts that are not whole, or that are less urgent than another left out, or as urgent."""
    still = {placement.key for placement in beside.placements} - kept.keys
    rank = {wish.ordered: wish.rank for wish in prepared.wishes}
    long = {wish.ordered for wish in prepared.wishes if wish.key in still}
    out = {
        wish.ordered
        for wish in prepared.wishes
        if wish.key not in found.placed and not wish.product.filler and wish.ordered in found.case.pieces
    }
    first = min((rank[piece] for piece in out - long), default=math.inf)
    return {piece for piece in long if piece in out or rank[piece] >= first}


def _case(prepared: Prepared, settings: int, partial: frozenset[str], kept: Kept = NOTHING) -> Case:
    """A search with up to so many settings a hide."""
    hides = {item.hide.id: item.with_settings(settings) for item in prepared.hides if item.open}
    wishes = tuple(prepared.wishes[index] for index in prepared.fitting)
    return Case(prepared.job.workshop, hides, wishes, prepared.limits, partial, kept, prepared.known)


def _possible(prepared: Prepared, case: Case) -> tuple[Wish, ...]:
    """The wishes of a case, with their lots chosen, without pieces of which some part could lie nowhere, were every
    hide empty."""
    wishes = of_one_lot(case)
    homes = [
        tuple(hide for hide in found if wish.hides is None or hide in wish.hides)
        for wish, found in zip(wishes, case.homes)
    ]
    wanted = Counter(wish.ordered for wish in prepared.wishes)
    kept = set[int]()
    for piece, indices in case.pieces.items():
        may = [set(homes[index]) for index in indices]
        match = wishes[indices[0]].match
        whole = len(indices) == wanted[piece] and (set.intersection(*may) if match else all(may))
        if piece[1] in case.partial or whole:
            kept.update(index for index, home in zip(indices, may) if home)
    return tuple(wish for index, wish in enumerate(wishes) if index in kept)


def _layout(prepared: Prepared, found: _Found, seed: int, instead: str, seconds: float | None) -> Layout:
    found = found.settled(prepared)
    case, made, kept = found.case, found.made, found.kept
    wishes = case.wishes
    placed = {wishes[index].key for index in made.lies}
    hides = {item.hide.id: item for item in found.todo.hides}
    by_ground = found.panels
    named = {(panel.hide, panel.id) for panel in by_ground.values()}
    panels = (*(panel for panel in kept.panels if (panel.hide, panel.id) not in named), *by_ground.values())
    placements = (
        *kept.placements,
        *(
            placement_of(wishes[index], lie, by_ground[lie.ground], hides[by_ground[lie.ground].hide])
            for index, lie in sorted(made.lies.items())
        ),
    )
    used = {(placement.hide, placement.setting) for placement in placements}
    settings = {name: _settings(item, kept, used) for name, item in hides.items()}
    changed = prepared.limits.changed()
    return Layout(
        workshop=prepared.job.workshop,
        hides=tuple(item.hide for item in hides.values()),
        panels=panels,
        settings={hide: rows[0] for hide, rows in settings.items() if rows},
        wanted=dict(Counter((wish.order, wish.product.name, wish.part.name) for wish in prepared.wishes)),
        placements=placements,
        unplaced=_unplaced(found, placed, instead, seconds),
        seed=seed,
        iterations=found.iterations,
        seconds=found.seconds,
        cuts=tuple(cut for item in hides.values() for cut in _cuts(item.hide, made, panels, kept)),
        more_settings={hide: rows[1:] for hide, rows in settings.items() if rows[1:]},
        limits={"planning": changed} if changed else {},
        lines=prepared.job.orders,
        selling_prices=prepared.job.selling_prices,
        partial=tuple(sorted(case.partial)),
        burnt=kept.burnt,
        lost=kept.lost,
        asked=_asked(prepared.job),
        made_from=prepared.job.made_from,
    )


def _asked(job: Job) -> tuple[Asked, ...]:
    """What is asked of every part ordered."""
    ordered = {line.product for line in job.orders}
    return tuple(
        Asked.of(product, part) for product in job.products if product.name in ordered for part in product.parts
    )


def _settings(item: Ready, kept: Kept, used: set[tuple[str, str]]) -> tuple[Setting, ...]:
    """The settings of a hide: the main one, and the others that parts are burnt with, or were."""
    burnt = [setting for setting in kept.settings.get(item.hide.id, ()) if setting not in item.settings]
    more = [setting for setting in (*item.settings[1:], *burnt) if (item.hide.id, setting.name) in used]
    return (*item.settings[:1], *more)


def _panels(made: Arrangement, named: tuple[Panel, ...] = ()) -> dict[int, Panel]:
    """Panels that hold parts, by number of the ground: by the name they have already, or counted from 1 on each hide in
    the order they are cut."""
    panels: dict[int, Panel] = {}
    counts = Counter[str]()
    taken = {(panel.hide, panel.id) for panel in named}
    for number in sorted({lie.ground for lie in made.lies.values()}):
        ground = made.grounds[number]
        same = (p for p in named if p.hide == ground.hide and same_leather(p.polygon, ground.polygon))
        known = next(same, None)
        if known is None:
            counts[ground.hide] += 1
            while (ground.hide, str(counts[ground.hide])) in taken:
                counts[ground.hide] += 1
            known = Panel(str(counts[ground.hide]), ground.hide, ground.polygon)
        panels[number] = known
    return panels


def _cuts(hide: Hide, made: Arrangement, panels: Sequence[Panel], kept: Kept) -> tuple[Cut, ...]:
    """The knife lines that the panels of a hide need."""
    cuts = tuple(cut for cut in made.cuts if cut.hide == hide.id)
    here = [panel.polygon for panel in panels if panel.hide == hide.id and not panel.longer]
    return needed(hide, cuts, here, out=kept.cut_out(hide.id))


def _unplaced(found: _Found, placed: set[PartKey], instead: str, seconds: float | None) -> tuple[Unplaced, ...]:
    """Every wish not placed, with the reason, or what is said instead; what would let it in is tried for so long."""
    if len(placed) == len(found.todo.wishes):
        return ()
    reasons = None
    if not instead:
        changes = Changes(found.todo, found.case, found.made, seconds)
        reasons = Reasons(found.todo, Translator(found.case), found.made.grounds, found.made.lies, changes.letting_in)
    return tuple(
        Unplaced(
            wish.order,
            wish.product.name,
            wish.part.name,
            wish.piece,
            wish.copy,
            wish.mirrored,
            instead if reasons is None else reasons.why(wish),
            wish.product.filler,
        )
        for wish in found.todo.wishes
        if wish.key not in placed
    )
