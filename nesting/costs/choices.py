"""The same orders on each hide alone and on sets of them, with one, two and three settings a hide, or with another bed,
gap or drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from time import monotonic
from typing import NamedTuple

from .. import engine
from ..laser.load import hide_changeovers
from ..model import MM2_PER_DM2, Job, Layout, Panel, counted
from ..planning.kept import Kept
from ..planning.plan import plan
from ..planning.prepare import Prepared, prepare
from ..referee.rules import check
from ..workers import Cluster, Crew
from .currency import minor_unit
from .figures import Figures, figures_and_costs
from .limits import DEFAULT, CostLimits
from .merit import Merit, merit
from .money import Cost, Key, of_orders
from .sets import HideSet, Sets

Progress = Callable[[str], None]
"""Called with the name of each plan as it starts."""


@dataclass(frozen=True)
class Choice:
    """One way to cut the orders: which hides, what it makes and what that costs.

    ``merit`` is the worth of its whole ordered pieces, by rank; ``spent`` the money spent on what is ordered, as if no
    filler were cut. ``each`` is what a whole piece costs by product, on average, fillers left out. ``planned`` tells
    the plan made before.
    """

    name: str
    hides: HideSet
    layout: Layout
    figures: Figures
    sound: bool
    merit: Merit
    spent: Cost
    planned: bool = False
    each: dict[str, Fraction] = field(default_factory=dict)

    @property
    def wanted(self) -> int:
        """Ordered pieces, fillers not counted."""
        return int(self.figures["total"]["pieces_wanted"])

    @property
    def whole(self) -> int:
        """Ordered pieces with all their parts placed, fillers not counted."""
        return int(self.figures["total"]["pieces_whole"])

    @property
    def placed(self) -> int:
        """Ordered parts placed, fillers not counted."""
        return sum(not placement.filler for placement in self.layout.placements)

    @property
    def leather_mm2(self) -> float:
        """Leather in all parts placed, fillers too."""
        return sum(placement.area_mm2 for placement in self.layout.placements)

    @property
    def changeovers(self) -> int:
        """How often a setting is changed while the panels are burnt, engraving and cutting."""
        return sum(
            hide_changeovers(self.layout, hide.id) for hide in self.layout.hides if hide.id in self.layout.settings
        )

    @property
    def cost(self) -> Decimal:
        """Money spent on what is ordered, as if no filler were cut."""
        return self.spent.total.quantize(minor_unit(self.layout.workshop.prices.currency))

    @property
    def place(self) -> tuple[tuple[object, ...], Decimal]:
        """Smaller is better: whole pieces of the most urgent rank first, then money."""
        return tuple(-worth for worth in self.merit), self.cost


class Choices(list[Choice]):
    """Choices that print themselves as a table; ``untried`` sets of hides could be better and had no turn in the time
    given."""

    untried: int = 0

    def __str__(self) -> str:
        currency = self[0].layout.workshop.prices.currency if self else ""
        head = ("cut from", "pieces", f"cost {currency}".strip(), "dm2 used", "of hide", "of used", "panels", "changes")
        rows = [head, *map(_cells, self)]
        widths = [max(map(len, column)) for column in zip(*rows)]
        return "\n".join(
            "  ".join([row[0].ljust(widths[0]), *(cell.rjust(width) for cell, width in zip(row[1:], widths[1:]))])
            for row in rows
        )


def _cells(choice: Choice) -> tuple[str, ...]:
    total = choice.figures["total"]
    return (
        choice.name,
        f"{choice.whole} of {choice.wanted}",
        str(choice.cost),
        f"{total['consumed_mm2'] / MM2_PER_DM2:.1f}",
        f"{total['yield_of_hide']:.1%}",
        f"{total['yield_of_consumed']:.1%}",
        str(len(choice.layout.panels)),
        str(choice.changeovers),
    )


def compare(
    job: Job,
    stop: engine.Stop,
    seed: int = 0,
    *,
    workers: int | Cluster | None = None,
    progress: Progress | None = None,
    planned: Layout | None = None,
    prepared: Prepared | None = None,
    kept: Kept | None = None,
    limits: CostLimits = DEFAULT,
) -> Choices:
    """Plan the orders on each hide alone, on all hides together and on sets of hides that could be better.

    Of many hides those are planned alone that promise most.

    Parameters
    ----------
    job : Job
    stop : engine.Stop
        The seconds are for all of it. Iterations are of each hide tried alone, and as many times for all sets of hides
        together.
    seed : int
    workers : int or Cluster, optional
        Processes to search with; as many as there are cores by default. Or machines of a cluster, on which hides are
        planned alone side by side.
    progress : callable, optional
        Called with the name of each plan as it starts.
    planned : Layout, optional
        A plan of this job made before: one of the choices, so that none better than it is missed.
    prepared : Prepared, optional
        What ``prepare`` made of this job; made anew without it.
    kept : Kept, optional
        What stays of that plan in every choice; the hides that it lies on are cut in each.
    limits : CostLimits, optional

    Returns
    -------
    Choices
        The best first: most whole ordered pieces of the most urgent rank, and so on down the ranks, then least money
        for what is ordered. Of plans that cut the same hides only the best, and the one made before.
    """
    prepared = prepared or prepare(job)
    alone = {item.hide.id: item for item in prepared.open}
    tried = [] if planned is None else [_at_hand(planned, job, limits)]
    cut = set(alone) & (kept.opened if kept else frozenset())

    def some(names: Iterable[str]) -> Prepared:
        also = cut.union(names)
        return prepared.only(item for name, item in alone.items() if name in also)

    def try_out(names: Iterable[str], name: str, stop: engine.Stop) -> None:
        tried.append(_tried(name, some(names), stop, seed, workers, progress, limits, kept=kept))

    sets = Sets(prepared, limits)
    likely = sets.alone()
    time = _Time(stop, len(likely))
    share = limits.alone_share if len(alone) > 1 else 1.0
    # one hide alone is soon done; starting another process would take longer
    elsewhere = workers if isinstance(workers, Cluster) else None
    given = _Alone(seed, workers if cut and elsewhere is None else 1, limits, kept)
    with Crew(given, elsewhere or 1, stop.cancel) as crew:
        for first in range(0, len(likely), crew.workers):
            names = likely[first : first + crew.workers]
            if progress:
                for name in names:
                    progress(name)
            part = time.next(share * len(names) / len(likely), 1.0)
            tried += crew.each(_planned_alone, [(name, some([name]), part) for name in names])
            if crew.interrupted and not stop.cancelled:
                raise KeyboardInterrupt
    untried = _try_sets(sets, tried, try_out, time, limits) if len(alone) > 1 else 0
    best: dict[tuple[HideSet, bool], Choice] = {}
    for choice in _sound(tried):
        hides = choice.hides or (choice.name,)
        if choice.planned or (hides, True) not in best or choice.place < best[hides, True].place:
            best.setdefault((hides, choice.planned), choice)
    choices = Choices(best.values())
    choices.untried = untried
    return choices


class _Alone(NamedTuple):
    """What plans of one hide alone have in common."""

    seed: int
    workers: int | Cluster | None
    limits: CostLimits
    kept: Kept | None


def _planned_alone(given: _Alone, name: str, prepared: Prepared, stop: engine.Stop) -> Choice:
    return _tried(name, prepared, stop, given.seed, given.workers, None, given.limits, kept=given.kept)


def _try_sets(
    sets: Sets,
    tried: list[Choice],
    try_out: Callable[[Iterable[str], str, engine.Stop], None],
    time: _Time,
    limits: CostLimits,
) -> int:
    """Try all hides together, then every set that could be better than the best so far, the cheapest leather first.

    A plan may take longer than it is given, so that not all sets may have their turn until the time is over: gives how
    many have not.
    """

    def tries(names: HideSet, name: str, share: float) -> None:
        try_out(names, name, time.next((1.0 - limits.alone_share) * share, time.plans * share))

    others = [names for names in sets.candidates() if names != sets.all]
    together = limits.all_hides_share if others else 1.0
    tries(sets.all, "together", together)
    again = (1.0 - together) * limits.again_share
    left, begun = 1.0 - together - again, [sets.all]
    while not time.over and (others := _promising(sets, others, tried)):
        names = others.pop(0)
        share = left * len(names) / (len(names) + sum(map(len, others)))
        left -= share
        begun.append(names)
        tries(names, " + ".join(names), share)
    # the set that came nearest to the best may only have lacked time
    ranked = [choice.hides for choice in _sound(tried)]
    nearest = [hides for hides in ranked if hides in begun and hides != ranked[0]]
    likely = _promising(sets, nearest, tried, sets.full)
    for names in [*likely, *_promising(sets, nearest, tried)][: not time.over]:
        tries(names, " + ".join(names), again + left)
    return len(_promising(sets, others, tried))


def _promising(sets: Sets, some: Iterable[HideSet], tried: Sequence[Choice], full: float = 1.0) -> list[HideSet]:
    """The sets that could be better than the best choice, filled up to a share: make more, or as much of cheaper
    leather. Work costs about the same on any hides, so that leather decides."""
    best = next(iter(_sound(tried)), None)
    if best is None:
        return list(some)
    bounds = {names: sets.bound(names, full) for names in some}
    return [
        names
        for names, bound in bounds.items()
        if bound.merit > best.merit or (bound.merit == best.merit and bound.leather < best.spent.leather)
    ]


def _sound(tried: Iterable[Choice]) -> list[Choice]:
    """Those without a fault, the best first."""
    return sorted((choice for choice in tried if choice.sound), key=lambda choice: choice.place)


def compare_settings(
    job: Job,
    stop: engine.Stop,
    seed: int = 0,
    *,
    workers: int | Cluster | None = None,
    progress: Progress | None = None,
    planned: Layout | None = None,
    kept: Kept | None = None,
    limits: CostLimits = DEFAULT,
) -> Choices:
    """Plan the orders with up to one, two and three settings a hide.

    The parameters are those of :func:`compare`; a plan made before stands for a search with as many settings as it has.

    Returns
    -------
    Choices
        Fewest settings first; only as many as some hide has a use for. Where a search with more found less, the plan
        with fewer stands for it.
    """
    prepared = prepare(job)
    prepared = prepared.only(prepared.open)
    ways, choices = max([len(item.settings) for item in prepared.hides], default=0), Choices()
    time = _Time(stop, len(prepared.open))
    for most in range(1, 1 + ways):
        name = f"up to {most} setting{'s'[: most > 1]}"
        part = time.next(1.0 / ways, time.plans)
        tried = [*choices[-1:], _tried(name, prepared, part, seed, workers, progress, limits, most, kept)]
        if planned is not None and all(len(planned.settings_on(hide.id)) <= most for hide in planned.hides):
            tried.append(_choice(name, _of_job(planned, job), limits))
        choices += _best(name, tried)
    return choices


def compare_bed(
    job: Job,
    stop: engine.Stop,
    seed: int = 0,
    *,
    workers: int | Cluster | None = None,
    progress: Progress | None = None,
    planned: Layout | None = None,
    limits: CostLimits = DEFAULT,
) -> Choices:
    """Plan the orders for the bed, and as if it had no end: two choices, the bed's first.

    The parameters are those of :func:`compare`; a plan made before stands for the bed where it is the better one. What
    lies on the bed lies on one without end too: where that search found less, its hides are cut so, whole.
    """
    free, name = with_bed(job, limits.no_bed_mm, limits.no_bed_mm), "no limit"
    ways = ((f"bed {job.workshop.machine.usable_words}", job), (name, free))
    found = compare_ways(ways, stop, seed, workers=workers, progress=progress, planned=planned, limits=limits)
    bed, endless = ([choice for choice in found if choice.name == way] for way, _ in ways)
    endless += [_choice(name, _in_one(replace(one.layout, workshop=free.workshop)), limits) for one in bed]
    return Choices([*bed, *_best(name, endless)])


def _in_one(layout: Layout) -> Layout:
    """The same parts on the same places of hides that are not cut up into panels."""
    panels = tuple(Panel("1", hide.id, hide.outline) for hide in layout.hides if layout.on(hide.id))
    placements = tuple(replace(placement, panel="1") for placement in layout.placements)
    return replace(layout, panels=panels, cuts=(), placements=placements)


def compare_ways(
    ways: Sequence[tuple[str, Job]],
    stop: engine.Stop,
    seed: int = 0,
    *,
    workers: int | Cluster | None = None,
    progress: Progress | None = None,
    planned: Layout | None = None,
    shared: bool = False,
    limits: CostLimits = DEFAULT,
) -> Choices:
    """Plan the same orders as several jobs say, which differ in a bed, a margin or a drawing.

    The parameters are those of :func:`compare`, save for:

    Parameters
    ----------
    ways : sequence of (str, Job)
        Each with its name; a plan made before stands for the first where it is the better one.
    shared : bool
        Whether a layout found one way stands for another where it breaks no rule there and is better: for jobs that
        differ in the workshop alone.

    Returns
    -------
    Choices
        One for each way, in their order.
    """
    time = _Time(stop, len(ways[0][1].hides))
    tried: list[list[Choice]] = []
    for name, job in ways:
        prepared = prepare(job)
        part = time.next(1.0 / len(ways), len(prepared.open))
        tried.append([_tried(name, prepared.only(prepared.open), part, seed, workers, progress, limits)])
    if planned is not None:
        tried[0].append(_choice(ways[0][0], _of_job(planned, ways[0][1]), limits))
    found = [[choice.layout for choice in own] for own in tried] if shared else []
    for number, others in enumerate(found):
        for (name, job), own in (pair for n, pair in enumerate(zip(ways, tried)) if n != number):
            own += [_choice(name, replace(layout, workshop=job.workshop), limits) for layout in others]
    return Choices(choice for (name, _), own in zip(ways, tried) for choice in _best(name, own))


def _tried(
    name: str,
    prepared: Prepared,
    stop: engine.Stop,
    seed: int,
    workers: int | Cluster | None,
    progress: Progress | None,
    limits: CostLimits,
    settings: int | None = None,
    kept: Kept | None = None,
) -> Choice:
    if progress:
        progress(name)
    layout = plan(
        prepared.job, stop, seed, prepared=prepared, settings=settings, workers=workers, explain=False, kept=kept
    )
    return _choice(name, layout, limits)


class _Time:
    """The time of a comparison, handed out plan by plan; a plan that takes longer than it was given shortens the next.

    Parameters
    ----------
    stop : engine.Stop
        Seconds of all plans together, and the iterations of one.
    plans : int
        How many times the iterations of one the time is.
    """

    def __init__(self, stop: engine.Stop, plans: int) -> None:
        self.plans, self._stop, self._begun, self._end = plans, stop, monotonic(), 0.0

    @property
    def over(self) -> bool:
        """Whether the seconds are gone, or somebody asked for the end."""
        seconds = self._stop.seconds
        return self._stop.cancelled or (seconds is not None and monotonic() - self._begun > seconds)

    def next(self, share: float, times: float) -> engine.Stop:
        """A stopping rule for a plan: a share of the seconds, and so many times the iterations."""
        stop, self._end = self._stop, self._end + share
        seconds = None if stop.seconds is None else self._end * stop.seconds - (monotonic() - self._begun)
        return replace(
            stop,
            seconds=None if seconds is None else max(seconds, 0.0),
            iterations=None if stop.iterations is None else max(1, round(stop.iterations * times)),
        )


def _choice(name: str, layout: Layout, limits: CostLimits) -> Choice:
    used = tuple(hide.id for hide in layout.hides if layout.on(hide.id))
    numbers, money = figures_and_costs(layout, limits)
    orders = of_orders(layout, money, limits)
    each, sound = _each(layout, orders.parts), not check(layout)
    return Choice(" + ".join(used) or name, used, layout, numbers, sound, merit(layout), orders.total, each=each)


def _each(layout: Layout, shares: Mapping[Key, Cost]) -> dict[str, Fraction]:
    """The mean cost of the whole pieces of each product, fillers left out."""
    sums: dict[tuple[str, str, int], Fraction] = {}
    for (order, product, _, piece, _, _), cost in shares.items():
        sums[order, product, piece] = sums.get((order, product, piece), Fraction(0)) + Fraction(cost.total)
    of_product: dict[str, list[Fraction]] = {}
    for one in layout.pieces():
        if one.whole and not one.filler:
            of_product.setdefault(one.product, []).append(sums[one.order, one.product, one.piece])
    return {name: sum(pieces, Fraction(0)) / len(pieces) for name, pieces in of_product.items()}


def _at_hand(planned: Layout, job: Job, limits: CostLimits) -> Choice:
    choice = _choice("nothing", _of_job(planned, job), limits)
    return replace(choice, name=f"{choice.name} (the plan at hand)", planned=True)


def _of_job(planned: Layout, job: Job) -> Layout:
    """A plan made before with the due dates and prices of the job as it stands."""
    if (planned.lines, planned.selling_prices) == (job.orders, job.selling_prices):
        return planned
    return replace(planned, lines=job.orders, selling_prices=job.selling_prices)


def _best(name: str, tried: list[Choice]) -> list[Choice]:
    """The sound choice that makes most, under a name of its own; nothing when the referee finds a fault in all."""
    sound = [choice for choice in tried if choice.sound]

    def worth(choice: Choice) -> tuple[Merit, float, Decimal]:
        # the same parts turned otherwise have the same area but for rounding
        return choice.merit, round(choice.leather_mm2), -choice.cost

    return [replace(max(sound, key=worth), name=name)] if sound else []


def with_bed(job: Job, width_mm: float, height_mm: float) -> Job:
    """The job on a machine with another bed, all of it usable."""
    machine = replace(
        job.workshop.machine, bed_width_mm=width_mm, bed_height_mm=height_mm, bed_margin_mm=0.0, feed_through="none"
    )
    return replace(job, workshop=replace(job.workshop, machine=machine))


def with_gap(job: Job, gap_mm: float) -> Job:
    """The job with another gap between two cuts."""
    margins = replace(job.workshop.margins, gap_mm=gap_mm)
    return replace(job, workshop=replace(job.workshop, margins=margins))


def why_bed(choices: Sequence[Choice]) -> str:
    """What the bed costs in leather, in a sentence or two."""
    if len(choices) < 2 or not choices[1].placed:
        return "None of the ordered pieces can be made: see the reasons in the report of a plan."
    bed, free = choices
    fewer = free.whole - bed.whole
    if fewer <= 0 and free.merit > bed.merit:
        though = f", though {counted(-fewer, 'ordered piece')} fewer in all" if fewer else ""
        return f"The bed costs urgent pieces: without its end more of these are made{though}."
    if fewer < 0:
        return (
            f"What the bed costs cannot be told: without its end {counted(-fewer, 'ordered piece')} fewer were found, "
            "for the search was too short; --seconds gives more."
        )
    on_bed, endless = (choice.figures["total"]["yield_of_consumed"] for choice in (bed, free))
    lost = 100 * (endless - on_bed)
    text = "The bed costs no leather"
    # less would be written as 0.0
    if lost > 0.05:
        text = (
            f"The bed costs leather: parts fill {on_bed:.1%} of what is used of it on the bed and {endless:.1%} on one "
            f"without end, {lost:.1f} points more"
        )
    return text + (f", and {counted(fewer, 'ordered piece')} fewer can be made on it." if fewer > 0 else ".")


def why_settings(choices: Sequence[Choice]) -> str:
    """What further settings gain and what they ask of the maker, in a sentence or two; whether that is worth it is the
    maker's choice."""
    if not choices:
        return "No setting cuts any of the hides: cut test pieces first."
    first = choices[0]
    if len(choices) == 1:
        return "One setting a hide is enough: no other cuts a hundredth more of any hide."
    words = []
    for choice in choices[1:]:
        more, gain = choice.whole - first.whole, choice.leather_mm2 - first.leather_mm2
        if choice.merit <= first.merit and gain <= 0:
            words.append(f"{choice.name} make no more")
        else:
            area = f"{gain / MM2_PER_DM2:+.1f} dm2 of parts, fillers too"
            number = "as many" if more == 0 else f"{abs(more)} {'more' if more > 0 else 'fewer'}"
            words.append(f"{choice.name} make {number} ({area}) for {choice.changeovers} change-overs")
    return f"With one setting {first.whole} of {first.wanted} ordered pieces are made; " + "; ".join(words) + "."


def why(choices: Sequence[Choice]) -> str:
    """Which hide or hides to cut, and why, in a sentence or two."""
    if not choices or not choices[0].whole:
        return "No hide holds any ordered piece whole: see the reasons in the report of a plan."
    best, currency = choices[0], choices[0].layout.workshop.prices.currency
    text = f"Cut {best.name}: that makes {best.whole} of {best.wanted} ordered pieces for {best.cost} {currency}"
    if len(choices) == 1:
        return f"{text}."
    second = choices[1]
    dearer = second.cost - best.cost
    if second.merit == best.merit:
        if second.hides == best.hides:
            return f"{text}; that {_saves(dearer, currency)} against the plan at hand."
        return f"{text}; {_instead(best.hides, second.hides)} {_saves(dearer, currency)}."
    number = str(second.whole) if second.whole < best.whole else f"{second.whole}, fewer of the urgent ones,"
    compared = f"{abs(dearer)} {currency} {'more' if dearer > 0 else 'less'}" if dearer else "as much"
    return f"{text}; the next best, {second.name}, makes {number} and costs {compared}."


def _instead(chosen: HideSet, other: HideSet) -> str:
    """How one set of hides differs from another, to begin a sentence."""
    new = " and ".join(name for name in chosen if name not in other)
    gone = " and ".join(name for name in other if name not in chosen)
    return f"{new} instead of {gone}" if new and gone else f"cutting {new} too" if new else f"leaving {gone} uncut"


def _saves(money: Decimal, currency: str) -> str:
    return f"saves {money} {currency}" if money else "costs the same"
