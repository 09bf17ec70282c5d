"""The numbers of the referee, each with its unit and its reason; none is shared with what it judges."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class RefereeLimits:
    """How far a layout may miss a bound by rounding, and how closely it is looked at."""

    slack_mm: float = 0.001
    """A bound missed by less than this is kept: layout files carry coordinates rounded to 1e-4 mm."""
    grid_mm: float = 1e-6
    """Areas are overlaid on this grid: off it, GEOS may take two that only share an edge for overlapping."""
    rounding_mm: float = 2e-4
    """How far rounding may part two edges that are drawn as one: twice that of a layout file."""
    congruent_mm: float = 0.002
    """Copies of a part may differ by this: rounded corners, turned back, are off by up to 1e-4 mm and their angle's
    rounding; far below what shows on leather."""
    knife_mm: float = 0.01
    """How far a knife line may end from the edge of what it cuts, and panels be off what the lines leave: ends are
    rounded, and lines cross hides a metre and more wide."""
    bed_turn_deg: float = 0.5
    """Leather is tried on the bed at every so many degrees, besides with each side of its hull along the bed: as the
    planner may turn it."""
    backbone_deg: float = 1e-4
    """Rounding the ends of a backbone 100 mm long turns it by up to this."""
    pinned_deg: float = 1e-5
    """What is pinned or burnt may be turned by this: files round angles to a hundredth of it."""
    look_mm: float = 5.0
    """Distance between the places under a part whose thickness is looked at; it hardly changes over that."""
    error_step_mm: float = 4.0
    """Pieces of an edge, of whose stated error the lesser at both ends is asked; it hardly changes over them."""
    error_slack_mm: float = 0.02
    """Between their ends a stated error may rise or fall by less than this."""
    chance: float = 1e-6
    """A chance may fall short of what is asked by rounding."""
    said_mm: float = 0.02
    """What is said of the thickness under a part may be so far from what is found: other places may be looked at."""
    said_chance: float = 0.05
    """And so far the chance said, for the same reason."""


DEFAULT = RefereeLimits()
"""Used where no other table is given."""
