"""The same orders on each hide alone and on the best combination, with one, two and three settings a hide, or with and
without the limit of the bed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from .. import engine
from ..laser.load import hide_changeovers
from ..model import MM2_PER_DM2, Job, Layout
from ..planning.plan import plan
from ..planning.prepare import Prepared, prepare
from ..referee.rules import check
from .figures import Figures, figures
from .limits import DEFAULT, CostLimits

Progress = Callable[[str], None]
"""Called with the name of each plan as it starts."""


@dataclass(frozen=True)
class Choice:
    """One way to cut the orders: which hides, what it places and what it costs."""

    name: str
    hides: tuple[str, ...]
    layout: Layout
    figures: Figures
    sound: bool

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
        """Money spent on what is placed."""
        return Decimal(self.figures["total"]["cost"])


class Choices(list[Choice]):
    """Choices that print themselves as a table."""

    def __str__(self) -> str:
        currency = self[0].layout.workshop.prices.currency if self else ""
        head = ("cut from", "parts", f"cost {currency}".strip(), "dm2 used", "of hide", "of used", "panels", "changes")
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
        f"{total['placed']} of {total['wanted']}",
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
    workers: int | None = None,
    progress: Progress | None = None,
    planned: Layout | None = None,
    limits: CostLimits = DEFAULT,
) -> Choices:
    """Plan the orders on each hide alone and on all hides together.

    Parameters
    ----------
    job : Job
    stop : engine.Stop
        When to end the search, for each hide: seconds and iterations count as many times for all hides together.
    seed : int
    workers : int, optional
        Processes to search with; as many as there are cores by default.
    progress : callable, optional
        Called with the name of each plan as it starts.
    planned : Layout, optional
        A plan of this job made before: one of the choices, so that none better than it is missed.
    limits : CostLimits, optional

    Returns
    -------
    Choices
        The best first: most ordered parts placed, then least cost. Of plans that cut the same hides only the best.
    """
    prepared = prepare(job)
    every = prepared.open
    trials = [(item.hide.id, prepared.only([item])) for item in every]
    choices = [_choice("planned", planned, limits)] if planned is not None else []
    if len(every) > 1:
        trials.append(("together", prepared.only(every)))
    for name, some in trials:
        # one hide alone is soon done; starting another process would take longer
        share = workers if len(some.hides) > 1 else 1
        choices.append(_tried(name, some, stop, seed, share, progress, limits))
    best: dict[tuple[str, ...], Choice] = {}
    for choice in sorted(choices, key=lambda choice: (-choice.placed, choice.cost)):
        if choice.sound:
            best.setdefault(choice.hides or (choice.name,), choice)
    return Choices(best.values())


def compare_settings(
    job: Job,
    stop: engine.Stop,
    seed: int = 0,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    planned: Layout | None = None,
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
    choices = Choices()
    for most in range(1, 1 + max([len(item.settings) for item in prepared.hides], default=0)):
        name = f"up to {most} setting{'s'[: most > 1]}"
        tried = [*choices[-1:], _tried(name, prepared, stop, seed, workers, progress, limits, most)]
        if planned is not None and all(len(planned.settings_on(hide.id)) <= most for hide in planned.hides):
            tried.append(_choice(name, planned, limits))
        choices += _best(name, tried)
    return choices


def compare_bed(
    job: Job,
    stop: engine.Stop,
    seed: int = 0,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    planned: Layout | None = None,
    limits: CostLimits = DEFAULT,
) -> Choices:
    """Plan the orders for the bed, and as if it had no end: two choices, the bed's first.

    The parameters are those of :func:`compare`; a plan made before stands for the bed where it is the better one.
    """
    free = with_bed(job, limits.no_bed_mm, limits.no_bed_mm)
    choices = Choices()
    for name, which in ((f"bed {job.workshop.machine.usable_words}", job), ("no limit", free)):
        prepared = prepare(which)
        tried = [_tried(name, prepared.only(prepared.open), stop, seed, workers, progress, limits)]
        if which is job and planned is not None:
            tried.append(_choice(name, planned, limits))
        choices += _best(name, tried)
    return choices


def _tried(
    name: str,
    prepared: Prepared,
    stop: engine.Stop,
    seed: int,
    workers: int | None,
    progress: Progress | None,
    limits: CostLimits,
    settings: int | None = None,
) -> Choice:
    if progress:
        progress(name)
    stop = _for_hides(stop, len(prepared.hides))
    layout = plan(prepared.job, stop, seed, prepared=prepared, settings=settings, workers=workers)
    return _choice(name, layout, limits)


def _for_hides(stop: engine.Stop, count: int) -> engine.Stop:
    return replace(
        stop,
        seconds=None if stop.seconds is None else stop.seconds * count,
        iterations=None if stop.iterations is None else stop.iterations * count,
    )


def _choice(name: str, layout: Layout, limits: CostLimits) -> Choice:
    used = tuple(hide.id for hide in layout.hides if layout.on(hide.id))
    return Choice(" + ".join(used) or name, used, layout, figures(layout, limits), not check(layout))


def _best(name: str, tried: list[Choice]) -> list[Choice]:
    """The sound choice that places most, under a name of its own; nothing when the referee finds a fault in all."""
    sound = [choice for choice in tried if choice.sound]
    return [replace(max(sound, key=lambda choice: (choice.placed, choice.leather_mm2)), name=name)] if sound else []


def with_bed(job: Job, width_mm: float, height_mm: float) -> Job:
    """The job on a machine with another bed, all of it usable."""
    machine = replace(
        job.workshop.machine, bed_width_mm=width_mm, bed_height_mm=height_mm, bed_margin_mm=0.0, feed_through="none"
    )
    return replace(job, workshop=replace(job.workshop, machine=machine))


def why_bed(choices: Sequence[Choice]) -> str:
    """What the bed costs in leather, in a sentence or two."""
    if len(choices) < 2 or not choices[1].placed:
        return "None of the ordered parts finds a place: see the reasons in the report of a plan."
    bed, free = choices
    lost = 100 * (free.figures["total"]["yield_of_consumed"] - bed.figures["total"]["yield_of_consumed"])
    # less would be written as 0.0
    text = f"The bed costs {lost:.1f} points of the leather used" if lost > 0.05 else "The bed costs no leather"
    fewer = free.placed - bed.placed
    return text + (f", and {fewer} ordered parts find no place on it." if fewer > 0 else ".")


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
        more, gain = choice.placed - first.placed, choice.leather_mm2 - first.leather_mm2
        if more <= 0 and gain <= 0:
            words.append(f"{choice.name} place no more")
        else:
            area = f"{gain / MM2_PER_DM2:+.1f} dm2 of parts, fillers too"
            words.append(f"{choice.name} place {more} more ({area}) for {choice.changeovers} change-overs")
    return f"With one setting {first.placed} ordered parts find a place; " + "; ".join(words) + "."


def why(choices: Sequence[Choice]) -> str:
    """Which hide or hides to cut, and why, in a sentence or two."""
    if not choices or not choices[0].placed:
        return "No hide takes any of the ordered parts: see the reasons in the report of a plan."
    best, rest = choices[0], choices[1:]
    fillers = sum(p.filler for p in best.layout.placements) + sum(p.filler for p in best.layout.unplaced)
    wanted = sum(best.layout.wanted.values()) - fillers
    text = f"Cut {best.name}: it takes {best.placed} of {wanted} ordered parts"
    equals = [choice for choice in rest if choice.placed == best.placed]
    if equals:
        second = equals[0]
        currency = best.layout.workshop.prices.currency
        return f"{text}, as {second.name} would, and costs {second.cost - best.cost} {currency} less."
    if rest:
        return f"{text}; the next best, {rest[0].name}, takes {rest[0].placed}."
    return f"{text}."
