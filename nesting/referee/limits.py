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
    most_strokes: int = 3
    """Straight strokes of a knife line."""
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
    share: float = 1e-6
    """A number worked out anew may differ from the one said by this share of it: rounding."""
    chance: float = 1e-6
    """A chance may fall short of what is asked by rounding."""
    said_mm: float = 0.02
    """What is said of the thickness under a part may be so far from what is found: other places may be looked at."""
    said_chance: float = 0.05
    """And so far the chance said, for the same reason."""
    cut_file_bytes: int = 64 * 1024 * 1024
    """Of a file to burn that is read back, for memory's sake: a bed full of lace takes a few megabytes."""
    cut_far_mm: float = 2e5
    """No number in such a file is larger: the longest bed has half of it."""
    chord_mm: float = 0.0005
    """Chords leave the curves of such a file, and of what was drawn, by so much: a tenth of what a line may be off."""
    burnt_mm: float = 0.0065
    """A line burnt lies where it should to this: 0.005 mm as promised, and what chords on both sides and the rounding
    of coordinates, radii and the panel's pose take."""
    covered_mm: float = 0.05
    """No part of a line that should be burnt is farther from those that are: looked at in steps, across corners."""
    look_along_mm: float = 1.0
    """Straight stretches are looked at so far apart: their ends are true, and so is all between if what they follow is
    straight."""
    just_as_wide_mm: float = 0.005
    """What is as wide as the beam to twice this may be taken for narrower."""
    sharp_kerfs: float = 4.0
    """A corner drawn is no farther from a line burnt: at 14 degrees the beam stops so short of it."""
    burnt_once: float = 0.02
    """Lines burnt may be longer than those that should be by such a share: corners rounded otherwise."""
    burnt_with_slots: float = 1.6
    """And along the edge of an area no longer than this many times: twice is twice."""
    at_stop_mm: float = 0.05
    """Leather lies against a stop to this, as straight as a knife cuts."""
    off_bed_mm: float = 0.011
    """Lines may leave the bed by rounding."""
    try_mm: float = 6.0
    """Between places at which a part left out is tried (working assumption): finer finds hardly more."""
    try_deg: float = 15.0
    """And between angles, where any is allowed."""
    most_tried: int = 500
    """Places tried at one angle, spread over all that have room for the largest circle in the part."""
    most_sampled: int = 20
    """Places with room of which the thickness is looked at."""
    try_clear_mm: float = 1.0
    """A part left out has a place when it keeps so much more distance than it must: a planner may round all to the safe
    side and need not find what is tight."""
    try_sure: float = 0.05
    """And its thickness is so much surer,"""
    try_round_mm: float = 7.1
    """the leather so far around it too: where it is good is told in cells of 5 mm, whose corners lie so far apart."""
    said_area_share: float = 0.05
    """Areas in reasons are of parts as they are packed, a little larger or smaller than drawn."""


DEFAULT = RefereeLimits()
"""Used where no other table is given."""
