"""Layouts worked on aside from the best one: begun another way, they are worse at first, and may end better."""

from __future__ import annotations

import numpy as np

from .arrays import Ints, State
from .forcer import Forcer
from .jigsaw import Jigsaw
from .rows import RowStarts


class Aside:
    """Works on one layout after another for some steps each: one begun as a jigsaw, those begun in rows of equal items,
    and such as begin with a trade."""

    def __init__(self, forcer: Forcer, starts: RowStarts) -> None:
        self.forcer, self.starts = forcer, starts
        self.given, self.limits = forcer.given, forcer.limits
        self.jigsaw = Jigsaw(forcer.placer) if starts.first else None
        self._layout: State | None = None
        self._steps = 0

    def next(self) -> State | None:
        """Force one more item into the layout there is, or begin another in rows; None when all are begun."""
        if self._layout is not None and self._steps > 0:
            self._steps -= 1
            self._layout = self._forced(self._layout)
            return self._layout
        placer = self.forcer.placer
        self._layout = self.jigsaw.layout(placer.over) if self.jigsaw is not None else None
        if self._layout is None:
            self._layout = self.starts.next(placer.order, placer.random, placer.over)
        if self._layout is not None:
            placer.fill(self._layout, 0.0)
            self._steps = self.limits.start_steps
        return self._layout

    def trade(self, out: Ints, best: State) -> State | None:
        """Begin a layout with a trade in the best one; None when there is none to make."""
        self._layout = self.forcer.trade(out, best)
        self._steps = self.limits.trade_steps if self._layout is not None else 0
        return self._layout

    def _forced(self, layout: State) -> State:
        out = np.nonzero(layout[:, 0] < 0)[0]
        if len(out) == 0:
            self._steps = 0
            return layout
        moved = self.forcer.force(out, layout)
        better = moved is not None and self.given.solution(moved).score < self.given.solution(layout).score
        return moved if moved is not None and better else layout
