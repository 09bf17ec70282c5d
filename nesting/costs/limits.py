"""The numbers of this room, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class CostLimits:
    """What the figures, costs and comparisons rest on besides the workshop's own numbers."""

    raster_cells: int = 24
    """Cells a side of the raster in which the largest rectangle of an offcut begins: working assumption."""
    turn_step_deg: float = 15.0
    """Between the angles at which such a rectangle is looked for, besides those of the axes and of the offcut's
    smallest frame: working assumption."""
    most_grown: int = 2
    """So many of the rectangles found in rasters are grown, the largest first; growing takes most of the time."""
    finest_step_share: float = 1 / 128
    """The sides of a rectangle are moved until steps of this share of a raster cell make it no larger: well below what
    a ruler shows on any hide."""
    hides_alone: int = 24
    """Up to so many hides are costed without help: other processes take some seconds to start (working assumption)."""
    least_part_mm2: float = 1e-6
    """What a part counts for at least when costs are shared by area: cutouts that overlap one another may seem to leave
    none of it."""
    most_hides_in_all_sets: int = 6
    """Of up to so many hides every set is looked at, 57 of two or more; of more hides those that a greedy choice
    passes."""
    most_alone: int = 6
    """Up to so many hides are each planned alone: a maker looks at no longer table."""
    few_alone: int = 3
    """Of more hides so many are, those that promise most: the time goes further with all of them together."""
    alone_share: float = 0.5
    """Share of the time of a comparison for hides alone, the rest being for sets of them (working assumption)."""
    all_hides_share: float = 0.5
    """Share of the time for sets of hides that all of them together take where there are other sets: they show what
    can be made at most (working assumption)."""
    again_share: float = 0.5
    """Share of what then is left that is kept for a second search of the set that came nearest to the best (working
    assumption)."""
    no_bed_mm: float = 1e5
    """Sides of the bed that stands for none in a comparison: the longest a machine may have, and no hide is so long."""
    longest_stitch_mm: float = 15.0
    """From hole to hole of one row; lacing goes up to about 12 mm (working assumption)."""
    least_doubt_mm2: float = 1000.0
    """Leather in doubt below this is not spoken of: 0.1 dm2, two match boxes of it."""
    least_gain_mm2: float = 100.0
    """Doubts that cost less, as much as a fingertip, are not worth a look."""
    most_looked_at: int = 5
    """Doubts that are named for the next step: the first win most."""
    two_sheets_share: float = 0.002
    """Of a hide's length, that its outline is stated to be off with two sheets of paper (measured with
    tests/benchmarks/ordinary.py)."""
    two_sheets_mm: float = 1.0
    """And at least so much."""
    same_share: float = 1e-3
    """Of a figure worked out again: other machines round otherwise, which moves shares of money by a coin or two."""
    same_least: float = 1e-6
    """A difference smaller than this is none: areas in mm2, and shares."""
    same_rectangle_share: float = 0.03
    """Of the sides of an offcut's rectangle, which is looked for and may be found otherwise there."""
    same_units: int = 2
    """And so many of the smallest coins of money, which shares that are rounded pass on to each other."""
    most_told: int = 20
    """Figures that are not so are told up to this number: the first show what is wrong."""


DEFAULT = CostLimits()
