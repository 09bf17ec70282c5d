"""The times of working side by side."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class WorkerLimits:
    """How long whoever works with helper processes waits."""

    look_s: float = 0.2
    """Who waits for helpers looks so often, seconds, whether the work is over: soon enough for a person, at no cost
    worth counting."""
    leave_s: float = 5.0
    """A process that was asked to end has so many seconds before it is made to (working assumption; milliseconds
    do)."""


LIMITS = WorkerLimits()
"""What is used where nobody gives another table."""
