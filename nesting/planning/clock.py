"""What is left of the time or the iterations of a run and of its legs, and who is told how they pass."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any, Protocol

from .. import engine
from ..workers import Crew
from .limits import DEFAULT, PlanLimits


class Cost(Protocol):
    """An answer that tells what it cost."""

    @property
    def iterations(self) -> int:
        """Iterations made for it."""

    @property
    def interrupted(self) -> bool:
        """Whether Ctrl-C or a cancel broke it off."""


class Clock:
    """A stopping rule for a leg of many searches.

    Parameters
    ----------
    stop : engine.Stop
        ``enough_mm2`` is held against the whole arrangement.
    progress : callable, optional
        Called with an engine.Progress of the leg: its share never falls, and is 1 at the end.
    of : int
        Parts wanted in all, to be told.
    limits : PlanLimits
    kept_s : float
        Time that the search leaves for what comes after it.
    keep : callable
        Called with the case and the arrangement whenever one is told of.
    """

    def __init__(
        self,
        stop: engine.Stop,
        progress: Callable[[engine.Progress], None] | None = None,
        of: int = 0,
        limits: PlanLimits = DEFAULT,
        kept_s: float = 0.0,
        keep: Callable[[Any, Any], None] = lambda case, made: None,
    ) -> None:
        self.kept_s, self.keep = kept_s, keep
        if stop.seconds is not None:
            stop = replace(stop, seconds=max(stop.seconds - kept_s, 0.0))
        self.stop, self.limits, self.iterations, self.interrupted = stop, limits, 0, False
        self._began, self._progress = time.monotonic(), progress
        self._best = engine.Progress(0.0, 0, 0.0, 0, of, (), 0.0)
        self._told_at = -float("inf")

    @property
    def seconds(self) -> float:
        """Wall time since the start."""
        return time.monotonic() - self._began

    @property
    def share(self) -> float:
        """How much of the time or of the iterations is gone, from 0 to 1; without what a search under way has made."""
        return self.stop.share(self.seconds, self.iterations)

    @property
    def over(self) -> bool:
        """Whether the search is to end."""
        return self.broken_off or self.share >= 1 or self.enough

    @property
    def broken_off(self) -> bool:
        """Whether somebody asked for the end."""
        return self.interrupted or self.stop.cancelled

    @property
    def seconds_left(self) -> float | None:
        """Until all of the time is gone, what is kept for the end included; None where no time is set."""
        return None if self.stop.seconds is None else max(self.stop.seconds + self.kept_s - self.seconds, 0.0)

    def slice(self, share: float, whole: bool = False) -> engine.Stop:
        """A stopping rule for a share of the run; ``whole`` when the search is of the whole arrangement."""
        seconds = None if self.stop.seconds is None else share * self.stop.seconds
        iterations = None if self.stop.iterations is None else max(1, round(share * self.stop.iterations))
        if seconds is iterations is None:
            iterations = self.limits.round_iterations
        return engine.Stop(seconds, iterations, self.stop.enough_mm2 if whole else None, self.stop.cancel)

    def count(self, answer: Cost) -> None:
        """Take note of what a search cost."""
        self.iterations += answer.iterations
        self.interrupted |= answer.interrupted

    def count_all(self, answers: Iterable[Cost], crew: Crew[Any]) -> None:
        """Take note of searches made side by side."""
        answers = list(answers)
        self.iterations += max((answer.iterations for answer in answers), default=0)
        self.interrupted |= crew.interrupted or any(answer.interrupted for answer in answers)

    def better(self, placed: int, unplaced_mm2: tuple[float, ...], consumed_mm2: float) -> None:
        """Tell of an arrangement, which is better or the same."""
        self._takes((placed, unplaced_mm2, consumed_mm2), 0)

    def within(self, search: engine.Progress) -> None:
        """Tell of a search of the whole arrangement that is under way."""
        self._takes((search.placed, search.unplaced_mm2, search.consumed_mm2), search.iterations)

    def passes(self, iterations: int = 0) -> None:
        """Tell how the run goes on, though not too often, with so many iterations not counted yet."""
        if time.monotonic() - self._told_at >= self.limits.told_every_s:
            self._tell(iterations)

    def waits(self) -> bool:
        """Tell how time passes while others work; gives whether the run is over."""
        self.passes()
        return self.over

    def ends(self) -> None:
        """Tell that the run is at its end."""
        self._best = replace(self._best, share=1.0)
        self._tell(0)

    @property
    def enough(self) -> bool:
        """Whether everything has a place and no more leather is consumed than was asked."""
        enough, best = self.stop.enough_mm2, self._best
        return enough is not None and best.placed > 0 and not any(best.unplaced_mm2) and best.consumed_mm2 <= enough

    def _takes(self, figures: tuple[int, tuple[float, ...], float], more: int) -> None:
        news = figures != (self._best.placed, self._best.unplaced_mm2, self._best.consumed_mm2)
        self._best = replace(self._best, placed=figures[0], unplaced_mm2=figures[1], consumed_mm2=figures[2])
        if news:
            self._tell(more)
        else:
            self.passes(more)

    def _tell(self, more: int) -> None:
        iterations = max(self.iterations + more, self._best.iterations)
        gone = min(self.stop.share(self.seconds, iterations), self.limits.told_before_end)
        share = max(gone, self._best.share)
        self._best = replace(self._best, seconds=self.seconds, iterations=iterations, share=share)
        self._told_at = time.monotonic()
        if self._progress is not None:
            self._progress(self._best)


class Legs:
    """The legs of a search: each is a search of its own, several times as long as all before it together.

    Legs are as long whatever the whole time is, so that a longer run begins as a shorter one does, and comes to no
    less. Where iterations are counted there is one leg.

    Parameters
    ----------
    stop : engine.Stop
    progress : callable, optional
        Called with an engine.Progress of the whole run: its share never falls, and is 1 at the end.
    of : int
        Parts wanted in all, to be told.
    limits : PlanLimits
    keep : callable
        As of a clock.

    Attributes
    ----------
    anew : bool
        Whether the present leg has time to begin anew, instead of going on from the best.
    iterations : int
        Of the legs that are over.
    interrupted : bool
    """

    def __init__(
        self,
        stop: engine.Stop,
        progress: Callable[[engine.Progress], None] | None = None,
        of: int = 0,
        limits: PlanLimits = DEFAULT,
        keep: Callable[[Any, Any], None] = lambda case, made: None,
    ) -> None:
        self.keep = keep
        self.stop, self.limits, self.anew, self.iterations, self.interrupted = stop, limits, True, 0, False
        self._progress, self._of, self._began = progress, of, time.monotonic()
        self._none = engine.Progress(0.0, 0, 0.0, 0, of, (), 0.0)
        self._best = self._last = self._none
        self._share = 0.0

    @property
    def seconds(self) -> float:
        """Wall time since the start."""
        return time.monotonic() - self._began

    @property
    def broken_off(self) -> bool:
        """Whether somebody asked for the end."""
        return self.interrupted or self.stop.cancelled

    def __iter__(self) -> Iterator[Clock]:
        """A clock for each leg, the next when the one before is over."""
        first = True
        for end in self._ends():
            begun = self.seconds
            if end is not None and begun >= end > self.limits.first_leg_s:
                continue
            seconds = None if end is None else max(end - begun - self._after(end), 0.0)
            nominal = (self.limits.leg_growth - 1.0) * begun
            self.anew = first or seconds is None or seconds >= self.limits.least_anew * nominal
            kept_s = min(self.limits.whole_share * (seconds or 0.0), self.limits.most_whole_s)
            clock = Clock(
                replace(self.stop, seconds=seconds), self._tells(begun), self._of, self.limits, kept_s, self.keep
            )
            yield clock
            self.iterations += clock.iterations
            self.interrupted |= clock.interrupted
            self._best, self._last, first = self._shown, self._none, False
            if clock.broken_off or clock.enough:
                break
        self._tell(replace(self._shown, share=1.0))

    def _ends(self) -> list[float | None]:
        """When the legs end; what remains after the last is added to it where it is short."""
        whole, ends = self.stop.seconds, list[float | None]()
        if whole is not None and self.stop.iterations is None:
            end = self.limits.first_leg_s
            while end <= whole - self.limits.least_leg_s:
                ends.append(end)
                # short legs that go on from the best lie at the same times in every run
                onward = (1.0 + self.limits.onward) * end
                if self.limits.least_leg_s <= onward - end and onward <= whole - self.limits.least_leg_s:
                    ends.append(onward)
                end *= self.limits.leg_growth
        return [*ends, whole]

    def _after(self, end: float) -> float:
        """Time kept after the last leg to find out why something was left out, unless nothing was so far."""
        if end != self.stop.seconds or (self._best.unplaced_mm2 and not any(self._best.unplaced_mm2)):
            return 0.0
        return min(self.limits.reasons_share * end, self.limits.changes_s)

    @property
    def _shown(self) -> engine.Progress:
        """The last told of the leg under way, or of the best one before, whichever is better."""
        told = [self._best, self._last] if self._last.unplaced_mm2 else [self._best]
        return min(told, key=lambda leg: (leg.unplaced_mm2 or (float("inf"),), leg.consumed_mm2))

    def _tells(self, begun: float) -> Callable[[engine.Progress], None]:
        def tell(told: engine.Progress) -> None:
            self._last = told
            share = self.stop.share(begun + told.seconds, self.iterations + told.iterations)
            self._tell(replace(self._shown, share=min(share, self.limits.told_before_end)))

        return tell

    def _tell(self, told: engine.Progress) -> None:
        share = max(told.share, self._share)
        self._share = share
        if self._progress is not None:
            iterations = self.iterations + self._last.iterations
            self._progress(replace(told, share=share, seconds=self.seconds, iterations=iterations))
