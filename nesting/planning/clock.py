"""What is left of the time or the iterations of a run, and who is told how they pass."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
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
    """A stopping rule for a whole run of many searches.

    Parameters
    ----------
    stop : engine.Stop
        ``enough_mm2`` is held against the whole arrangement.
    progress : callable, optional
        Called with an engine.Progress of the whole run: its share never falls, and is 1 at the end.
    of : int
        Parts wanted in all, to be told.
    limits : PlanLimits
    kept_s : float
        Time that the search leaves for what comes after it.
    """

    def __init__(
        self,
        stop: engine.Stop,
        progress: Callable[[engine.Progress], None] | None = None,
        of: int = 0,
        limits: PlanLimits = DEFAULT,
        kept_s: float = 0.0,
    ) -> None:
        self.kept_s = kept_s
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
        return self.broken_off or self.share >= 1 or self._enough

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
        """Tell of a better arrangement."""
        self._best = replace(self._best, placed=placed, unplaced_mm2=unplaced_mm2, consumed_mm2=consumed_mm2)
        self._tell(0)

    def within(self, search: engine.Progress) -> None:
        """Tell of a search of the whole arrangement that is under way."""
        figures = search.placed, search.unplaced_mm2, search.consumed_mm2
        news = figures != (self._best.placed, self._best.unplaced_mm2, self._best.consumed_mm2)
        self._best = replace(self._best, placed=figures[0], unplaced_mm2=figures[1], consumed_mm2=figures[2])
        if news:
            self._tell(search.iterations)
        else:
            self.passes(search.iterations)

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
    def _enough(self) -> bool:
        enough, best = self.stop.enough_mm2, self._best
        return enough is not None and best.placed > 0 and not any(best.unplaced_mm2) and best.consumed_mm2 <= enough

    def _tell(self, more: int) -> None:
        iterations = max(self.iterations + more, self._best.iterations)
        gone = min(self.stop.share(self.seconds, iterations), self.limits.told_before_end)
        share = max(gone, self._best.share)
        self._best = replace(self._best, seconds=self.seconds, iterations=iterations, share=share)
        self._told_at = time.monotonic()
        if self._progress is not None:
            self._progress(self._best)
