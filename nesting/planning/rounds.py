"""Rounds of search over a few panels at a time, which fill them better and empty the poorest."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import chain
from typing import NamedTuple

import numpy as np

from .. import engine
from ..workers import Crew
from .case import Case, Ground, Lies, by_ground
from .clock import Clock
from .measures import aim, consumed_mm2, pieces_missing, unplaced_mm2
from .packing import Answer, pack
from .translate import Translator


class Task(NamedTuple):
    """Some grounds to be packed anew: what ``pack`` is asked."""

    grounds: list[Ground]
    bands: dict[int, int]
    stop: engine.Stop
    seed: int
    start: Lies
    ranks: dict[int, int]
    bound: dict[str, str]
    told: Callable[[int], None] | None


def improve(
    translator: Translator,
    grounds: tuple[Ground, ...],
    lies: Lies,
    clock: Clock,
    crew: Crew[Translator],
    seed: int,
    told: Callable[[Lies], None],
) -> Lies:
    """Better places for the wishes on the same grounds, found until the clock is over.

    A few panels are packed anew all together. Of many, some are in each round, with what has no place yet, or, when
    everything has one, with the parts of the panels that hold least. A panel left empty need not be cut off.

    Parameters
    ----------
    translator : Translator
    grounds : tuple of Ground
    lies : Lies
    clock : Clock
    crew : Crew
        Shares ``translator``; each of its processes works on panels of its own.
    seed : int
    told : callable
        Called with better Lies.

    Returns
    -------
    Lies
    """
    random = np.random.default_rng(seed)
    few, best = len(grounds) <= translator.case.limits.few_panels, lies
    while lies and not clock.over:
        together = _for_orders if translator.case.unfinished(lies) else _all_together
        better = (together if few else _some)(translator, grounds, lies, clock, crew, random)
        if better is not lies:
            lies = better
            # a panel on its way to being emptied may cost more for a while
            if aim(translator.case, grounds, lies) < aim(translator.case, grounds, best):
                best = lies
                told(best)
    return best


def _for_orders(
    translator: Translator,
    grounds: tuple[Ground, ...],
    lies: Lies,
    clock: Clock,
    crew: Crew[Translator],
    random: np.random.Generator,
) -> Lies:
    """One search, without fillers, of the hides that pieces left out may lie on; the same Lies when it came to nothing
    better."""
    case = translator.case
    out = [index for piece in case.unfinished(lies) for index in case.pieces[piece]]
    homes = {hide for index in out for hide in case.homes[index]}
    group = [number for number, ground in enumerate(grounds) if ground.hide in homes]
    if all(translator.container(grounds[number]) is None for number in group):
        return _all_together(translator, grounds, lies, clock, crew, random)
    before = {
        index: lie._replace(ground=group.index(lie.ground))
        for index, lie in lies.items()
        if lie.ground in group and not case.wishes[index].product.filler
    }
    bands = {index: int(random.integers(case.most_bands)) for index in out}
    bands |= {index: lie.band for index, lie in before.items()}
    others = {index: lie for index, lie in lies.items() if lie.ground not in group}
    bound = {case.wishes[i].match: grounds[lie.ground].hide for i, lie in others.items() if case.wishes[i].match}
    answer = pack(
        translator,
        [grounds[number] for number in group],
        bands,
        clock.slice(min(case.limits.slice_for_orders, 1.0 - clock.share)),
        int(random.integers(2**31)),
        start=before,
        ranks=_ranks(case, lies),
        bound=bound,
        progress=lambda search: clock.passes(search.iterations),
        workers=crew.team,
    )
    clock.count(answer)
    after = {index: lie._replace(ground=group[lie.ground]) for index, lie in answer.lies.items()}
    found = case.whole(others | after)
    return found if aim(case, grounds, found) < aim(case, grounds, lies) else lies


def _all_together(
    translator: Translator,
    grounds: tuple[Ground, ...],
    lies: Lies,
    clock: Clock,
    crew: Crew[Translator],
    random: np.random.Generator,
) -> Lies:
    """One search of all grounds; the same Lies when it came to nothing better."""
    case = translator.case
    bands = {
        index: lies[index].band if index in lies else int(random.integers(case.most_bands))
        for index in range(len(case.wishes))
    }
    rest = 1.0 - clock.share
    # with several settings, what is left out is tried with another each time
    stop = clock.slice(rest if case.most_bands < 2 else min(case.limits.slice_with_settings, rest), whole=True)
    seed = int(random.integers(2**31))
    answer = pack(
        translator,
        list(grounds),
        bands,
        stop,
        seed,
        start=lies,
        ranks=_ranks(case, lies),
        progress=clock.within,
        workers=crew.team,
    )
    clock.count(answer)
    found = case.whole(answer.lies)
    return found if aim(case, grounds, found) < aim(case, grounds, lies) else lies


def _ranks(case: Case, lies: Lies) -> dict[int, int]:
    """What is placed first: of each rank pieces that are whole, then those left out, one after another, so that all
    the parts of one find a place before any of the next."""
    steps: dict[int, tuple[int, int]] = {}
    out: dict[int, int] = {}
    for indices in case.pieces.values():
        rank, whole = case.wishes[indices[0]].rank, all(index in lies for index in indices)
        if not whole and not case.wishes[indices[0]].product.filler:
            out[rank] = out.get(rank, 0) + 1
        step = (rank, 0 if whole else min(out.get(rank, 1), case.limits.most_steps))
        steps |= dict.fromkeys(indices, step)
    order = {step: number for number, step in enumerate(sorted(set(steps.values())))}
    return {index: order[step] for index, step in steps.items()}


def _some(
    translator: Translator,
    grounds: tuple[Ground, ...],
    lies: Lies,
    clock: Clock,
    crew: Crew[Translator],
    random: np.random.Generator,
) -> Lies:
    """One round of searches, each of a few grounds; the same Lies when they came to nothing better."""
    case, kept = translator.case, lies
    # an empty ground is of use only to what has no place yet
    all_placed = len(lies) == len(case.wishes)
    numbers = {lie.ground for lie in lies.values()} if all_placed else range(len(grounds))
    out = [index for index in range(len(case.wishes)) if index not in lies]
    split = {case.wishes[index].match for index in out} - {""}
    if split and random.random() < case.limits.regroup_odds:
        # what matches a part left out may all go to another hide together
        lies = {index: lie for index, lie in lies.items() if case.wishes[index].match not in split}
        out = [index for index in range(len(case.wishes)) if index not in lies]
    there = by_ground(lies)
    on = {number: there.get(number, {}) for number in numbers}
    poor = [] if out else _poorest(case, on)
    guests = _bundles(case, out or [index for number in poor for index in on[number]])
    groups = _choose(case, grounds, on, poor, crew.workers, random)
    told = clock.passes if crew.here else None
    tasks = [
        _task(case, grounds, group, on, list(chain.from_iterable(guests[n :: len(groups)])), lies, clock, random, told)
        for n, group in enumerate(groups)
    ]
    answers = crew.each(_work, tasks, clock.waits)
    clock.count_all(answers, crew)
    going = set(poor)
    for group, answer in zip(groups, answers):
        before = {index: lie for number in group for index, lie in on[number].items()}
        after = {index: lie._replace(ground=group[lie.ground]) for index, lie in answer.lies.items()}
        if poor and not before.keys() <= after.keys():
            continue
        trial = {index: lie for index, lie in lies.items() if index not in before} | after
        touched = {*group, *poor}
        # what matches may have been moved by one task and joined by another
        if _torn(case, grounds, trial, after):
            continue
        if _score(case, grounds, trial, touched, going) < _score(case, grounds, lies, touched, going):
            lies = trial
    lies = case.whole(lies)
    better = _score(case, grounds, lies, set(on), going) < _score(case, grounds, kept, set(on), going)
    return lies if better else kept


def _torn(case: Case, grounds: tuple[Ground, ...], lies: Lies, moved: Iterable[int]) -> bool:
    """Whether what has to come from one hide with some of the parts moved would come from several."""
    for match in {case.wishes[index].match for index in moved} - {""}:
        if len({grounds[lies[mate].ground].hide for mate in case.matching[match] if mate in lies}) > 1:
            return True
    return False


def _poorest(case: Case, on: dict[int, Lies]) -> list[int]:
    """The grounds that hold least, to be emptied: until they hold guests enough, and no more than the others could
    take."""
    full = _filled_mm2(case, on)
    poor: list[int] = []
    for number in sorted(on, key=lambda n: (full[n], n)):
        guests = sum(len(on[n]) for n in poor)
        if guests < case.limits.guests and case.limits.panels_to_a_poor_one * len(poor) < len(on):
            poor.append(number)
    return poor


def _bundles(case: Case, indices: list[int]) -> list[list[int]]:
    """Wishes of one piece, and such as match, together."""
    bundles: dict[object, list[int]] = {}
    for index in indices:
        bundles.setdefault(case.wishes[index].match or case.wishes[index].ordered, []).append(index)
    return list(bundles.values())


def _choose(
    case: Case,
    grounds: tuple[Ground, ...],
    on: dict[int, Lies],
    poor: list[int],
    workers: int,
    random: np.random.Generator,
) -> list[list[int]]:
    """Grounds for each of the tasks, those with more room more often, none of them twice, none of the poorest."""
    limits, full = case.limits, _filled_mm2(case, on)
    numbers = [number for number in sorted(on) if number not in poor]
    areas = [grounds[number].polygon.area for number in numbers]
    slack = np.array(
        [
            max(area - limits.leather_need * full[number], limits.least_slack * area)
            for number, area in zip(numbers, areas)
        ]
    )
    tasks = max(1, min(workers, len(numbers) // limits.panels_together))
    count = min(limits.panels_together * tasks if tasks > 1 else limits.panels_alone, len(numbers))
    chosen = random.choice(numbers, count, replace=False, p=slack / slack.sum()).tolist()
    return [chosen[n::tasks] for n in range(tasks)]


def _task(
    case: Case,
    grounds: tuple[Ground, ...],
    group: list[int],
    on: dict[int, Lies],
    guests: list[int],
    lies: Lies,
    clock: Clock,
    random: np.random.Generator,
    told: Callable[[int], None] | None,
) -> Task:
    before = {index: lie._replace(ground=group.index(n)) for n in group for index, lie in on[n].items()}
    most = max(len(case.hides[grounds[number].hide].bands) for number in group)
    room = sum(grounds[number].polygon.area for number in group)
    bands = {index: int(random.integers(most)) for index in case.shortlist(guests, room)}
    bands |= {index: lie.band for index, lie in before.items()}
    # what is there keeps its place before guests of the same rank
    steps = _ranks(case, lies)
    ranks = {index: 2 * steps[index] + (index not in before) for index in bands}
    bound = {
        case.wishes[index].match: grounds[lie.ground].hide
        for index, lie in lies.items()
        if case.wishes[index].match and index not in bands
    }
    seed = int(random.integers(2**31))
    return Task([grounds[number] for number in group], bands, _effort(clock), seed, before, ranks, bound, told)


def _effort(clock: Clock) -> engine.Stop:
    """How long a round takes."""
    limits, stop = clock.limits, clock.stop
    if stop.seconds is None:
        return engine.Stop(iterations=limits.round_iterations, cancel=stop.cancel)
    left = max(stop.seconds - clock.seconds, 0.0)
    return engine.Stop(min(max(limits.least_round_s, stop.seconds / limits.rounds), left), cancel=stop.cancel)


def _work(
    translator: Translator,
    grounds: list[Ground],
    bands: dict[int, int],
    stop: engine.Stop,
    seed: int,
    start: Lies,
    ranks: dict[int, int],
    bound: dict[str, str],
    told: Callable[[int], None] | None,
) -> Answer:
    def tell(search: engine.Progress) -> None:
        if told is not None:
            told(search.iterations)

    return pack(translator, grounds, bands, stop, seed, start=start, ranks=ranks, bound=bound, progress=tell)


def _filled_mm2(case: Case, on: dict[int, Lies]) -> dict[int, float]:
    """Area of the parts on each ground."""
    return {number: sum(case.sizes_mm2[index] for index in here) for number, here in on.items()}


def _score(case: Case, grounds: tuple[Ground, ...], lies: Lies, touched: set[int], poor: set[int]) -> tuple[float, ...]:
    """Smaller is better: pieces that are not whole, area left out, then leather; in the poorest panels what their parts
    need, for they are to go."""
    on = by_ground(lies)
    used = sum(consumed_mm2(case, grounds[number], on.get(number, {})) for number in sorted(touched - poor))
    staying = sum(case.sizes_mm2[index] for number in sorted(poor) for index in on.get(number, {}))
    return (*pieces_missing(case, lies), *unplaced_mm2(case, lies), used + case.limits.poor_weight * staying)
