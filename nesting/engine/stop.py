"""When a search ends."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from ..workers import Cancel
from .arrays import Bools
from .problem import Solution


@dataclass(frozen=True)
class Stop:
    """Ends a search at the first limit reached; a limit of None never ends it. Plain data, for any process.

    Parameters
    ----------
    seconds : float, optional
        Wall time since the search began.
    iterations : int, optional
        Steps of the search; only this limit gives the same answer on every machine.
    enough_mm2 : float, optional
        Ends the search as soon as every item has a place and no more than this area is consumed; with ``math.inf``, as
        soon as every item has a place.
    cancel : Cancel, optional
        Ends the search when it is cancelled.

    Raises
    ------
    ValueError
        For negative seconds or area, or less than one iteration.
    """

    seconds: float | None = None
    iterations: int | None = None
    enough_mm2: float | None = None
    cancel: Cancel | None = None

    def __post_init__(self) -> None:
        # written so that what is not a number is refused as well
        if self.seconds is not None and not self.seconds >= 0:
            raise ValueError(f"seconds is {self.seconds}: give 0 or more")
        if self.iterations is not None and not self.iterations >= 1:
            raise ValueError(f"iterations is {self.iterations}: give 1 or more")
        if self.enough_mm2 is not None and not self.enough_mm2 >= 0:
            raise ValueError(f"enough_mm2 is {self.enough_mm2}: give 0 or more")

    @property
    def cancelled(self) -> bool:
        """Whether somebody asked for the end."""
        return self.cancel is not None and self.cancel.cancelled

    def reached(self, seconds: float, iterations: int, best: Solution | None = None) -> bool:
        """Whether a search must end after so much time and so many steps, with its best layout so far."""
        return (
            (self.iterations is not None and iterations >= self.iterations)
            or (self.seconds is not None and seconds >= self.seconds)
            or self.cancelled
            or (best is not None and self._enough(best))
        )

    def share(self, seconds: float, iterations: int) -> float:
        """How much of the time or of the iterations is gone, the more of the two, from 0 to 1; 0 without either."""
        of_time = 0.0 if self.seconds is None else seconds / max(self.seconds, 1e-9)
        of_steps = 0.0 if self.iterations is None else iterations / self.iterations
        return min(max(of_time, of_steps), 1.0)

    def _enough(self, best: Solution) -> bool:
        return self.enough_mm2 is not None and best.consumed_mm2 <= self.enough_mm2 and None not in best.poses


class Halting:
    """Tells kernels, from now to its ``end``, when a search is to end: they can ask nobody.

    Parameters
    ----------
    halt : (1,) bool array
        What they look at.
    over : callable
        Says that the search is to end; another thread asks it now and then.
    every_s : float
        How often.
    """

    def __init__(self, halt: Bools, over: Callable[[], bool], every_s: float) -> None:
        self._halt, self._over, self._every_s, self._ended = halt, over, every_s, threading.Event()
        self._halt[0] = False
        self._thread = threading.Thread(target=self._watch, daemon=True, name="halting")
        self._thread.start()

    def end(self) -> None:
        """Watch no longer."""
        self._ended.set()
        self._thread.join()
        self._halt[0] = False

    def _watch(self) -> None:
        while not self._ended.wait(self._every_s):
            if self._over():
                self._halt[0] = True
                return
