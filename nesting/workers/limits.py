"""The times of working side by side."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class WorkerLimits:
    """How long whoever works with helper processes waits."""

    look_s: float = 0.2
    """Who waits for helpers looks so often, seconds, whether the work is over: soon enough for a person, at no cost
    worth counting."""
    reach_s: float = 10.0
    """A cluster has so many seconds to answer: a machine that sleeps takes some to wake (working assumption)."""
    alone_s: float = 20.0
    """After so many seconds without an answer it is asked whether the cluster has any workers left: one that was killed
    may start again (working assumption)."""
    tries: int = 3
    """What fails while a machine drops out of a cluster is tried so often before this machine does the work alone
    (working assumption)."""
    again_s: float = 2.0
    """And so many seconds later: a worker that was killed has started again by then (working assumption)."""
    most_seated: int = 32
    """Searches that a worker of a cluster remembers between their rounds; guards its memory."""
    leave_s: float = 5.0
    """A process that was asked to end has so many seconds before it is made to (working assumption; milliseconds
    do)."""


LIMITS = WorkerLimits()
"""What is used where nobody gives another table."""
