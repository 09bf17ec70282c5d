"""The same orders on each hide alone and on the best combination, with one, two and three settings a hide, or with and
without the limit of the bed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from .. import engine
from ..laser.load import hide_changeovers
from ..model import Job, Layout
from ..planning.plan import plan
from ..planning.ready import ready
from ..referee.rules import check
from .figures import figures

NO_LIMIT_MM = 1e5
"""A bed so long takes any hide whole."""


@dataclass(frozen=True)
class Choice:
    """One way to cut the orders: which hides, what it places and what it costs."""

    name: str
    hides: tuple[str, ...]
    layout: Layout
    figures: dict
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


def compare(
    job: Job,
    seconds: float,
    seed: int = 0,
    progress: Callable[[str], None] | None = None,
    workers: int = 1,
    planned: Layout | None = None,
) -> list[Choice]:
    """Plan the orders on each hide alone and on all hides together.

    Parameters
    ----------
    job : Job
    seconds : float
        Search time for a hide; as many times more for all hides together.
    seed : int
    progress : callable, optional
        Called with the name of each plan as it starts.
    workers : int
        Processes to search with.
    planned : Layout, optional
        A plan of this job made before: one of the choices, so that none better than it is missed.

    Returns
    -------
    list of Choice
        The best first: most ordered parts placed, then least cost. Of plans that cut the same hides only the best.
    """
    every = ready(job)
    trials = [(item.hide.id, (item,)) for item in every if item.open]
    if len(trials) > 1:
        trials.append(("together", tuple(item for item in every if item.open)))
    choices = [_choice("planned", planned)] if planned is not None else []
    for name, hides in trials:
        if progress:
            progress(name)
        # one hide alone is soon done; starting another process would take longer
        share = workers if len(hides) > 1 else 1
        layout = plan(job, engine.Stop(seconds=seconds * len(hides)), seed, hides=hides, workers=share)
        choices.append(_choice(name, layout))
    best: dict[tuple[str, ...], Choice] = {}
    for choice in sorted(
        (choice for choice in choices if choice.sound), key=lambda choice: (-choice.placed, choice.cost)
    ):
        best.setdefault(choice.hides or (choice.name,), choice)
    return list(best.values())


def _choice(name: str, layout: Layout) -> Choice:
    used = tuple(hide.id for hide in layout.hides if layout.on(hide.id))
    return Choice(" + ".join(used) or name, used, layout, figures(layout), not check(layout))


def compare_settings(
    job: Job, seconds: float, seed: int = 0, progress: Callable[[str], None] | None = None, workers: int = 1
) -> list[Choice]:
    """Plan the orders with up to one, two and three settings a hide.

    Parameters
    ----------
    job : Job
    seconds : float
        Search time for a hide, in each plan.
    seed : int
    progress : callable, optional
        Called with the name of each plan as it starts.
    workers : int
        Processes to search with.

    Returns
    -------
    list of Choice
        Fewest settings first; only as many as some hide has a use for. Where a search with more found less, the plan with
        fewer stands for it.
    """
    hides = tuple(item for item in ready(job) if item.open)
    choices: list[Choice] = []
    for most in range(1, 1 + max([len(item.settings) for item in hides], default=0)):
        name = f"up to {most} setting{'s'[: most > 1]}"
        found = [*choices[-1:], *_tried(name, job, hides, seconds, seed, progress, workers, most)]
        if found:
            choices.append(replace(max(found, key=lambda choice: (choice.placed, choice.leather_mm2)), name=name))
    return choices


def compare_bed(
    job: Job, seconds: float, seed: int = 0, progress: Callable[[str], None] | None = None, workers: int = 1
) -> list[Choice]:
    """Plan the orders for the bed, and as if it had no end: two choices, the bed's first.

    The parameters are those of :func:`compare_settings`.
    """
    free = with_bed(job, NO_LIMIT_MM, NO_LIMIT_MM)
    choices = []
    for name, which in ((f"bed {job.workshop.machine.usable_words}", job), ("no limit", free)):
        hides = tuple(item for item in ready(which) if item.open)
        choices += _tried(name, which, hides, seconds, seed, progress, workers)
    return choices


def _tried(
    name: str, job: Job, hides, seconds: float, seed: int, progress, workers: int, settings: int | None = None
) -> list[Choice]:
    """The plan of a job under a name of its own; nothing when the referee finds a fault in it."""
    if progress:
        progress(name)
    layout = plan(job, engine.Stop(seconds=seconds * len(hides)), seed, hides=hides, settings=settings, workers=workers)
    choice = replace(_choice(name, layout), name=name)
    return [choice] if choice.sound else []


def with_bed(job: Job, width_mm: float, height_mm: float) -> Job:
    """The job on a machine with another bed, all of it usable."""
    machine = replace(
        job.workshop.machine, bed_width_mm=width_mm, bed_height_mm=height_mm, bed_margin_mm=0.0, feed_through="none"
    )
    return replace(job, workshop=replace(job.workshop, machine=machine))


def why_bed(choices: list[Choice]) -> str:
    """What the bed costs in leather, in a sentence or two."""
    if len(choices) < 2 or not choices[1].placed:
        return "None of the ordered parts finds a place: see the reasons in the report of a plan."
    held, free = choices
    lost = 100 * (free.figures["total"]["yield_of_consumed"] - held.figures["total"]["yield_of_consumed"])
    text = f"The bed costs {lost:.1f} points of the leather used" if lost > 0.05 else "The bed costs no leather"
    fewer = free.placed - held.placed
    return text + (f", and {fewer} ordered parts find no place on it." if fewer > 0 else ".")


def why_settings(choices: list[Choice]) -> str:
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
            area = f"{gain / 1e4:+.1f} dm2 of parts, fillers too"
            words.append(f"{choice.name} place {more} more ({area}) for {choice.changeovers} change-overs")
    return f"With one setting {first.placed} ordered parts find a place; " + "; ".join(words) + "."


def why(choices: list[Choice]) -> str:
    """Which hide or hides to cut, and why, in a sentence or two."""
    if not choices or not choices[0].placed:
        return "No hide takes any of the ordered parts: see the reasons in the report of a plan."
    best, rest = choices[0], choices[1:]
    wanted = sum(best.layout.wanted.values()) - sum(p.filler for p in (*best.layout.placements, *best.layout.unplaced))
    text = f"Cut {best.name}: it takes {best.placed} of {wanted} ordered parts"
    equals = [choice for choice in rest if choice.placed == best.placed]
    if equals:
        second = equals[0]
        currency = best.layout.workshop.prices.currency
        return f"{text}, as {second.name} would, and costs {second.cost - best.cost} {currency} less."
    if rest:
        return f"{text}; the next best, {rest[0].name}, takes {rest[0].placed}."
    return f"{text}."
