"""The same orders on each hide alone and on the best combination, or with one, two and three settings a hide."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from collections.abc import Callable

from . import engine
from .check import check
from .layout import Layout
from .workshop import Job
from .plan import plan, ready
from .report.figures import figures


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
        """How often a setting is changed within a bed load."""
        used = {(p.hide, p.panel, p.setting) for p in self.layout.placements}
        return len(used) - len({(hide, panel) for hide, panel, _ in used})

    @property
    def cost(self) -> Decimal:
        """Money spent on what is placed."""
        return Decimal(self.figures["total"]["cost"])


def compare(
    job: Job, seconds: float, seed: int = 0, progress: Callable[[str], None] | None = None, workers: int = 1
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

    Returns
    -------
    list of Choice
        The best first: most ordered parts placed, then least cost a part.
    """
    every = ready(job)
    trials = [(item.hide.id, (item,)) for item in every if item.open]
    if len(trials) > 1:
        trials.append(("together", tuple(item for item in every if item.open)))
    choices = []
    for name, hides in trials:
        if progress:
            progress(name)
        # one hide alone is soon done; starting another process would take longer
        share = workers if len(hides) > 1 else 1
        layout = plan(job, engine.Stop(seconds=seconds * len(hides)), seed, hides=hides, workers=share)
        used = tuple(item.hide.id for item in hides if layout.on(item.hide.id))
        if name == "together" and len(used) < 2:
            continue
        choices.append(Choice(" + ".join(used) or name, used, layout, figures(layout), not check(layout)))
    sound = [choice for choice in choices if choice.sound]
    return sorted(sound, key=lambda choice: (-choice.placed, choice.cost))


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
        Fewest settings first; only as many as some hide has a use for.
    """
    hides = tuple(item for item in ready(job) if item.open)
    choices = []
    for most in range(1, 1 + max([len(item.settings) for item in hides], default=0)):
        name = f"up to {most} setting{'s'[: most > 1]}"
        if progress:
            progress(name)
        layout = plan(job, engine.Stop(seconds=seconds * len(hides)), seed, hides=hides, settings=most, workers=workers)
        used = tuple(item.hide.id for item in hides if layout.on(item.hide.id))
        choices.append(Choice(name, used, layout, figures(layout), not check(layout)))
    return [choice for choice in choices if choice.sound]


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
            words.append(f"{choice.name} place {more} more ({gain / 1e4:+.1f} dm2 of parts, fillers too) for {choice.changeovers} change-overs within bed loads")
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
