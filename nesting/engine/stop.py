"""When a search ends."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Stop:
    """Ends a search at the first limit reached; a limit of None never ends it.

    Parameters
    ----------
    seconds : float, optional
        Wall time since the search began.
    iterations : int, optional
        Steps of the search; only this limit gives the same answer on every machine.
    target : callable, optional
        Called with the best solution; true ends the search.
    when : callable, optional
        Called without arguments; true ends the search (a button, a signal).
    """

    seconds: float | None = None
    iterations: int | None = None
    target: Callable | None = None
    when: Callable[[], bool] | None = None

    def reached(self, started: float, iterations: int, best=None) -> bool:
        """Whether a search begun at ``started`` (time.monotonic) after ``iterations`` steps must end."""
        return (
            (self.iterations is not None and iterations >= self.iterations)
            or (self.seconds is not None and time.monotonic() - started >= self.seconds)
            or (self.when is not None and self.when())
            or (self.target is not None and best is not None and self.target(best))
        )
