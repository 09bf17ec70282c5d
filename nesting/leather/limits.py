"""The numbers of the leather room, each with its unit and its reason."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class LeatherLimits:
    """Numbers of knife lines, of proofs that a part fits nowhere, and of the thickness map."""

    # Knife lines and the bed
    rounding_mm: float = 1e-6
    """Lengths that differ by less differ by rounding: far above that of coordinates, far below any cut."""
    bed_turn_deg: float = 0.5
    """A panel is tried on the bed at every so many degrees, besides with each side of its hull along the bed (working
    assumption: a metre of panel moves by 9 mm)."""
    most_sides: int = 180
    """Sides of a hull that are laid along the bed, the longest of them; guards time and memory."""
    knife_mm: float = 1.0
    """Strips are cut this much narrower than the bed: a knife along a straightedge is no truer (our assumption)."""
    knife_share: float = 0.01
    """But narrower by no more than this share of the bed, or tiny beds would lose much (working assumption)."""
    sliver_share: float = 0.01
    """Panels smaller than this share of the bed's shorter side squared are not counted: next to nothing goes on them
    (working assumption)."""
    crumb_mm2: float = 1e-3
    """What a line leaves of less area is rounding, not leather."""
    line_end_mm: float = 0.01
    """A knife line may end so far from the edge of what it cuts, and is drawn on by so much to cut it right through: a
    hundred times what layout files round to."""
    along_edge_mm: float = 1.0
    """A panel's edge that lies along a knife line for more than this was cut by it: where lines cross, a few hundredths
    of a mm lie so near (working assumption)."""
    same_mm2: float = 1.0
    """Polygons that differ by less area are the same leather: 0.01 mm along a few tens of metres of edge is less."""

    # Proofs that a part fits nowhere
    circle_mm: float = 0.01
    """How near the greatest circle inside a shape is found; finer makes no proof stronger."""
    shallower_mm: float = 0.02
    """Shapes are shrunk by so much less than that circle's radius: twice what the radius may be out."""
    plain_share: float = 0.005
    """Outlines are made plainer by this share of what they are shrunk by, to be quick; it only makes proofs weaker."""
    chord_share: float = 0.001
    """Chords leave a long arc by this share of its radius, to be quick; it only makes proofs weaker."""
    across_deg: float = 1.5
    """Widths are compared along every so many degrees; finer makes a proof stronger and slower (working assumption)."""
    part_turn_deg: float = 0.5
    """A part is turned by so many degrees from one angle tried to the next; between them the proof allows for more."""
    turns_at_once: int = 24
    """Angles whose widths are compared at once; guards memory where outlines have many corners."""
    first_turns: int = 24
    """One in so many of these angles is tried first: mostly one of them already shows that there is no proof."""

    # What a trace leaves in doubt
    error_step_mm: float = 10.0
    """Along the edge, from each place at which its stated error is asked for to the next: it changes slowly."""
    error_round_mm: float = 0.1
    """Stated errors are rounded up to this, so that strips are few."""
    quarter_chords: int = 16
    """Of a quarter of a round corner; the strip is made wider by what they cut off, 0.1 % of its width."""
    plainer_share: float = 0.01
    """By this share of its width GEOS may move the line that a strip is grown from, to simplify it."""

    # The thickness map
    fewest_readings: int = 4
    """With fewer, readings say too little about how thickness varies and the stated spread is used."""
    fewest_for_slope: int = 6
    """A sloping trend has three coefficients; with fewer readings the trend is level."""
    in_line_share: float = 0.1
    """Readings that spread less than this share as far one way as the other lie in a line, and the slope across it is a
    guess (working assumption)."""
    most_readings: int = 500
    """More than anyone takes of one hide; the work grows with the cube of it."""
    one_point_mm: float = 2.0
    """Readings this near to each other are of one point: a gauge's foot is wider."""
    outlier_errors: float = 4.0
    """A reading so many standard errors from what others say is named: by chance one in sixteen thousand is."""
    most_doubtful: int = 6
    """So many such readings of a hide are named at most: with more the whole hide is to be measured again."""
    most_fitted: int = 200
    """The covariance is fitted to no more readings than about this, evenly taken; more hardly change it."""
    least_spread_mm: float = 0.05
    """The prior of the spread is no narrower than this, or a stated spread of 0 would leave nothing to fit."""
    length_mm: float = 300.0
    """What is believed before any reading: thickness changes over a hand's breadth to half a hide (our assumption, no
    published source)."""
    noise_mm: float = 0.04
    """And a hand gauge repeats to a few hundredths (our assumption, no published source)."""
    belief_width: float = 0.7
    """Log-normal width of these beliefs and of that in the spread: a factor of two either way is likely."""
    spread_bounds: tuple[float, float] = (0.2, 10.0)
    """The spread is sought within these factors of the stated one, so that few readings cannot run away with it."""
    length_bounds_mm: tuple[float, float] = (60.0, 3000.0)
    """The length is sought within these: less than a hand, more than a hide is long."""
    noise_bounds_mm: tuple[float, float] = (0.02, 0.5)
    """The noise is sought within these: no hand gauge is truer, and none so poor is used."""
    length_starts: tuple[float, ...] = (0.4, 1.0, 2.5)
    """The fit begins at these factors of the believed length, for it may have several best places."""
    look_mm: float = 5.0
    """Distance between the places looked at under a part; a map with lengths of 60 mm and more hardly bends over it."""
    cell_mm: float = 5.0
    """Side of the square cells in which the region of good thickness is found, as above."""
    most_cells: int = 250_000
    """Cells grow on hides too vast for this many, which take about a second."""
    mean_cells: int = 50
    """Cells along a hide's longer side for its mean thickness."""
    bend_factor: float = 2.0
    """The bound on the error between the nodes of cells is taken so many times, for it is told from differences."""
    block: int = 2_000_000
    """Kriging takes at most so many numbers at once, some tens of megabytes."""


DEFAULT = LeatherLimits()
"""Used where no other table is given."""
