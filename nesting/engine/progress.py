"""What is told of a search while it goes on."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from .problem import Solution
from .stop import Stop


@dataclass(frozen=True)
class Progress:
    """How far a search has come, and its best layout so far in figures.

    Parameters
    ----------
    seconds : float
        Wall time since the search began.
    iterations : int
    share : float
        What is gone of the time or the iterations that the stop gives, from 0 to 1.
    placed, of : int
        Items that have a place, and all items.
    unplaced_mm2 : tuple of float
        Area of the items without a place, by rank.
    consumed_mm2 : float
        Area of the containers from their packed end to the farthest item.
    """

    seconds: float
    iterations: int
    share: float
    placed: int
    of: int
    unplaced_mm2: tuple[float, ...]
    consumed_mm2: float


class Teller:
    """Calls a ``progress`` callable, if there is one, whenever there is a better layout, and else now and then."""

    def __init__(self, progress: Callable[[Progress], None] | None, between_s: float) -> None:
        self._progress, self._between_s, self._told = progress, between_s, 0.0

    def tell(self, stop: Stop, best: Solution, seconds: float, iterations: int, always: bool = True) -> None:
        """Tell of the best layout after so much time and so many steps; unless ``always``, perhaps not."""
        now = time.monotonic()
        if self._progress is None or not (always or now - self._told >= self._between_s):
            return
        self._told = now
        placed = sum(pose is not None for pose in best.poses)
        self._progress(
            Progress(
                seconds,
                iterations,
                stop.share(seconds, iterations),
                placed,
                len(best.poses),
                best.unplaced_mm2,
                best.consumed_mm2,
            )
        )
