"""Knife lines, panels and parts chosen together.

When a hide is bigger than the bed, parts are first shared out over the hides by area. Then several ways to cut a hide
up are tried, each panel after panel: as much leather as the bed holds is packed towards its far end, and the knife goes
down behind the last part, so that what a panel does not use is the next one's. The best way is packed again with more
patience; what time remains goes into rounds that empty the poorest panel into the others.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field, replace

from ..leather.knife import bed_angle, cut_up, same_leather, ways
from ..model import Cut
from ..workers import Cluster, Crew
from .case import Case, Ground, Lies
from .clock import Clock
from .cutting import full_panels
from .measures import aim, all_consumed_mm2, unplaced_mm2
from .packing import pack
from .rounds import improve
from .shares import share_out, shared
from .translate import Translator
from .ways import areas_mm2, best_way, likeliest_way, too_long_mm2
from .whole import make_whole
from .wishes import Form, Ordered


@dataclass(frozen=True)
class Arrangement:
    """Grounds, the knife lines that make them, and where the wishes lie on them."""

    grounds: tuple[Ground, ...] = ()
    cuts: tuple[Cut, ...] = ()
    lies: Lies = field(default_factory=dict)

    def aim(self, case: Case) -> tuple[float, ...]:
        """How good it is, smaller is better, with the offcuts worth keeping worked out."""
        return aim(case, self.grounds, self.lies, self.cuts)


def arrange(
    case: Case,
    clock: Clock,
    seed: int = 0,
    *,
    more: Case | None = None,
    workers: int | Cluster = 1,
    start: Arrangement | None = None,
    inner: bool = False,
) -> Arrangement:
    """Choose knife lines, panels and the places of the parts.

    Parameters
    ----------
    case : Case
    clock : Clock
        When to end, and who is told of the progress.
    seed : int
        The same seed, iterations and workers give the same arrangement.
    more : Case, optional
        The same with further settings, taken when ordered parts that are no fillers would be left out without them.
    workers : int or Cluster
        Processes or machines to search with.
    start : Arrangement, optional
        What to go on from.
    inner : bool
        Whether hides that make many panels have panels of whole leather cut out of them, and their rim left.

    Returns
    -------
    Arrangement
        Hides that fit the bed are grounds as they are.
    """
    translator = Translator(case)
    wider = None if more is None else Translator(more)
    whole = tuple(Ground(name, bit) for name, item in case.hides.items() for bit in case.kept.leather(item.hide))
    if start is not None:
        best = with_spare(case, start) if case.left_out(start.lies) else start
    elif all(bed_angle(ground.polygon, *case.room_mm(ground.hide)) is not None for ground in whole):
        best = Arrangement(
            whole, case.kept.cuts, _whole_hides(translator, whole, clock, seed, workers, more is not None)
        )
    else:
        inner = inner and not _few_panels(case)
        shares = share_out(translator, inner)
        if wider is not None and case.left_out(shared(shares)):
            other = share_out(wider, inner)
            if unplaced_mm2(wider.case, shared(other)) < unplaced_mm2(case, shared(shares)):
                translator, shares = wider, other
        with Crew(translator, workers, clock.stop.cancel) as crew:
            best = _cut_all(translator, shares, clock, crew, seed, inner)
        if case.left_out(best.lies):
            best = with_spare(translator.case, best)
    if wider is not None and case.left_out(best.lies):
        translator = wider
    first = None if clock.stop.seconds is None else case.limits.first_whole_share * clock.stop.seconds
    best = replace(best, lies=make_whole(translator, best.grounds, best.lies, clock, first, seed))
    if start is None:
        with Crew(translator, workers, clock.stop.cancel) as crew:
            best = cut_anew(translator, best, clock, crew, seed)
    return go_on(translator, best, clock, seed, workers)


def go_on(
    translator: Translator, made: Arrangement, clock: Clock, seed: int = 0, workers: int | Cluster = 1
) -> Arrangement:
    """Better places on the same grounds, until the clock is over.

    Parameters
    ----------
    translator : Translator
    made : Arrangement
    clock : Clock
    seed : int
    workers : int or Cluster

    Returns
    -------
    Arrangement
    """

    def told(lies: Lies) -> None:
        _tell(translator.case, replace(made, lies=lies), clock)

    told(made.lies)
    with Crew(translator, workers, clock.stop.cancel) as crew:
        lies = improve(translator, made.grounds, made.lies, clock, crew, seed, told)
    if lies is made.lies and clock.seconds_left == 0.0:
        # its pieces are whole already, and there is no time to make more of them so
        clock.ends()
        return made
    left = None if clock.seconds_left is None else translator.case.limits.last_whole_share * clock.seconds_left
    lies = make_whole(translator, made.grounds, lies, clock, left, seed + 1)
    told(lies)
    clock.ends()
    return replace(made, lies=lies)


def with_spare(case: Case, made: Arrangement) -> Arrangement:
    """The same with grounds of the leather that the knife lines leave beside the panels and that may hold a part: what
    is left out can go there.

    What is bigger than the bed is cut up into panels as big as can be, the way that leaves room for most of what is
    left out; a line that frees no panel in use need not be cut.
    """
    least, left = min(case.sizes_mm2), [index for index in range(len(case.wishes)) if index not in made.lies]
    grounds, cuts = list(made.grounds), list(made.cuts)
    for hide, item in case.hides.items():
        panels = [ground.polygon for ground in made.grounds if ground.hide == hide] + case.kept.gone(hide)
        out = areas_mm2(case, (index for index in left if hide in case.homes[index]))
        for bit in cut_up(item.hide, made.cuts, out=case.kept.cut_out(hide)):
            if bit.area <= least or any(same_leather(bit, panel) for panel in panels):
                continue
            if bed_angle(bit, *case.room_mm(hide)) is not None:
                grounds.append(Ground(hide, bit))
            elif out:
                way = min(ways(item.hide, case.room_mm(hide)), key=lambda way: too_long_mm2(case, way, hide, out))
                more, lines = full_panels(hide, bit, way, case.room_mm(hide))
                grounds += [Ground(hide, panel, way.along_deg + 180.0) for panel in more if panel.area > least]
                cuts += lines
    return Arrangement(tuple(grounds), tuple(cuts), made.lies)


def _whole_hides(
    translator: Translator, whole: tuple[Ground, ...], clock: Clock, seed: int, workers: int | Cluster, more: bool
) -> Lies:
    """Pack hides that fit the bed with their main settings, leaving time for further ones where there are any."""
    case = translator.case
    main = dict.fromkeys(range(len(case.wishes)), 0)

    def search(share: float, start: Lies | None = None) -> Lies:
        stop = clock.slice(share, whole=True)
        answer = pack(translator, list(whole), main, stop, seed, start=start, progress=clock.within, workers=workers)
        clock.count(answer)
        return answer.lies

    several = more or case.most_bands > 1
    lies = search(case.limits.whole_until if several else 1.0)
    if several and not case.left_out(lies) and not clock.over:
        lies = search(1.0 - clock.share, lies)
    return lies


def _cut_all(
    translator: Translator, shares: dict[str, set[int]], clock: Clock, crew: Crew[Translator], seed: int, inner: bool
) -> Arrangement:
    """Cut the hides up one after another, the fullest first, so that what finds no place can go to the others."""
    case = translator.case
    used = {hide: sum(case.sizes_mm2[index] for index in shares[hide]) for hide in shares}
    order = sorted(shares, key=lambda hide: -used[hide] / case.hides[hide].hide.outline.area)
    home = {case.wishes[index].match: hide for hide in shares for index in shares[hide]}
    done, last = Arrangement(cuts=case.kept.cuts), 1 + max((wish.rank for wish in case.wishes), default=0)
    left = deque(order)
    while left:
        # where there is no time to try several ways, several hides are cut up side by side
        batch = [left.popleft() for _ in range(min(len(left), crew.workers if clock.over else 1))]
        # the parts that later hides have room for are guests here, and come after all others
        later = set().union(*(shares[other] for other in left))
        tasks = []
        for number, hide in enumerate(batch):
            others = set().union(*(shares[other] for other in batch if other != hide))
            free = [
                index
                for index, wish in enumerate(case.wishes)
                if index not in done.lies
                and hide in case.homes[index]
                and (not wish.match or home.get(wish.match, hide) == hide)
                and (index in shares[hide] or (index not in others and _first(case, index) % len(batch) == number))
            ]
            # a hide is not begun for fillers
            if shares[hide] or not all(case.wishes[index].product.filler for index in free):
                ranks = {index: case.wishes[index].rank + (index in later) * last for index in free}
                tasks.append((hide, ranks, frozenset(free) - later))
        if len(batch) == 1:
            weight = used[batch[0]] / (sum(used[other] for other in (*batch, *left)) or 1.0)
            # a share of what is left until the hides are to be filled, whatever came before
            limits = case.limits
            until = limits.cut_inner_until if case.fills else limits.cut_until
            until = limits.cut_few_until if _few_panels(case) else until
            span = weight * max(until - clock.share, 0.0)
            found = [best_way(translator, *task, span, clock, crew, seed, inner) for task in tasks]
        else:
            some = [(*task, replace(clock.slice(0.0), iterations=None), seed) for task in tasks]
            found = crew.each(likeliest_way, some)
            found += [likeliest_way(translator, *task) for task in some[len(found) :]]
            clock.count_all(found, crew)
        for (hide, *_), best in zip(tasks, found):
            best = replace(best, lies=_together(case, best.lies, done.lies, list(left)))
            # what matches a part placed here has to come from here too; what found no place may come from another
            home = {match: where for match, where in home.items() if where != hide}
            home |= {case.wishes[index].match: hide for index in best.lies}
            lies = {index: lie._replace(ground=lie.ground + len(done.grounds)) for index, lie in best.lies.items()}
            done = Arrangement((*done.grounds, *best.grounds), (*done.cuts, *best.cuts), done.lies | lies)
        _tell(case, done, clock)
    return done


def _first(case: Case, index: int) -> int:
    """The first wish that has to come from one hide with a wish."""
    match = case.wishes[index].match
    return case.matching[match][0] if match else index


def cut_anew(translator: Translator, made: Arrangement, clock: Clock, crew: Crew[Translator], seed: int) -> Arrangement:
    """Hides cut up anew for the most urgent pieces left out and for what is as urgent there: where the knife goes down
    for parts that came first may have parted the room that such a piece needs.

    Parameters
    ----------
    translator : Translator
    made : Arrangement
    clock : Clock
    crew : Crew
        Shares ``translator``.
    seed : int

    Returns
    -------
    Arrangement
        ``made`` where that makes nothing better.
    """
    case, limits = translator.case, translator.case.limits
    until, failed = clock.share + limits.anew_share, set[tuple[Form, ...]]()
    for piece in case.unfinished(made.lies):
        indices = case.pieces[piece]
        form = tuple(case.forms[index] for index in indices)
        missing = [index for index in indices if index not in made.lies]
        if not missing or form in failed:
            continue
        failed.add(form)
        homes = set.intersection(*(set(case.homes[index]) for index in missing))
        hides = [hide for hide in case.hides if hide in homes and _to_be_cut(case, hide)]
        for hide in sorted(hides, key=lambda name: -case.hides[name].hide.outline.area)[: limits.hides_anew]:
            span = (until - clock.share) / 2
            if clock.over or span <= 0.0:
                return made
            trial = _cut_for(translator, made, piece, hide, span, clock, crew, seed)
            if aim(case, trial.grounds, trial.lies) < aim(case, made.grounds, made.lies):
                made = trial
                break
    return made


def _cut_for(
    translator: Translator,
    made: Arrangement,
    piece: Ordered,
    hide: str,
    span: float,
    clock: Clock,
    crew: Crew[Translator],
    seed: int,
) -> Arrangement:
    """One hide cut up anew for a piece and for what lies there that is as urgent; all else comes after it."""
    case = translator.case
    rank, last = case.wishes[case.pieces[piece][0]].rank, 1 + max(wish.rank for wish in case.wishes)
    here = {index for index, lie in made.lies.items() if made.grounds[lie.ground].hide == hide}
    # what has to match comes from one hide
    match = case.wishes[case.pieces[piece][0]].match
    moved = here | set(case.matching[match] if match else case.pieces[piece])
    others = {index: lie for index, lie in made.lies.items() if index not in moved}
    bound = {case.wishes[index].match for index in others} - {""}
    free = [
        index
        for index, wish in enumerate(case.wishes)
        if index not in others and hide in case.homes[index] and wish.match not in bound
    ]
    own = frozenset(i for i in free if i in moved and case.wishes[i].rank <= rank)
    ranks = {index: case.wishes[index].rank + (index not in own) * last for index in free}
    found = best_way(translator, hide, ranks, own, span, clock, crew, seed)
    numbers = [number for number, ground in enumerate(made.grounds) if ground.hide != hide]
    lies = {index: lie._replace(ground=numbers.index(lie.ground)) for index, lie in others.items()}
    lies |= {index: lie._replace(ground=lie.ground + len(numbers)) for index, lie in found.lies.items()}
    cuts = (cut for cut in made.cuts if cut.hide != hide or cut in case.kept.cuts)
    trial = Arrangement((*(made.grounds[n] for n in numbers), *found.grounds), (*cuts, *found.cuts), lies)
    trial = with_spare(case, trial) if case.left_out(trial.lies) else trial
    seconds = None if clock.stop.seconds is None else span * clock.stop.seconds
    return replace(trial, lies=make_whole(translator, trial.grounds, trial.lies, clock, seconds, seed))


def _to_be_cut(case: Case, hide: str) -> bool:
    """Whether leather of a hide is bigger than the bed."""
    return any(bed_angle(bit, *case.room_mm(hide)) is None for bit in case.kept.leather(case.hides[hide].hide))


def _few_panels(case: Case) -> bool:
    """Whether all hides together have so little leather that their panels can be packed together."""
    bed = case.bed_mm
    bed_mm2 = math.prod(bed) if all(map(math.isfinite, bed)) else min(bed) ** 2
    return sum(item.hide.outline.area for item in case.hides.values()) < case.limits.few_panels * bed_mm2


def _together(case: Case, lies: Lies, before: Lies, later: list[str]) -> Lies:
    """What lies on a hide, without parts that match others left out where a later hide may take them all."""
    torn = set[int]()
    for match in {case.wishes[index].match for index in lies} - {""}:
        mates = case.matching[match]
        whole = all(index in lies or index in before for index in mates)
        alone = case.wishes[mates[0]].product.name in case.partial
        if not (whole or alone) and any(all(hide in case.homes[index] for index in mates) for hide in later):
            torn.update(mates)
    return {index: lie for index, lie in lies.items() if index not in torn}


def _tell(case: Case, made: Arrangement, clock: Clock) -> None:
    used = sum(all_consumed_mm2(case, made.grounds, made.lies).values())
    clock.better(len(made.lies), unplaced_mm2(case, made.lies), used)
    clock.keep(case, made)
