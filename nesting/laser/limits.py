"""The numbers of the laser room, each with its unit and its reason.

What a comb, a swatch or a guide looks like stands where it is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class LaserLimits:
    """Numbers of laying panels, of the lines that are burnt, of their order and of the time they take."""

    # Laying a panel on the bed
    near_mm: float = 0.05
    """An edge or a point so near to the hide's own edge is the hide's, not the knife's: rounding, many times over."""
    most_flaws: int = 3
    """Flaws told of a knife line in a cutting guide: each is a row of its table."""
    straight_deg: float = 0.5
    """A knife edge goes straight on where it turns by less: a panel 600 mm long then lies 1.3 mm off at most."""
    shortest_edge_mm: float = 20.0
    """A knife edge shorter than this steadies nothing against a stop, and points nearer to each other than this turn a
    panel by more than they are measured (working assumption)."""
    seam_overlap_mm: float = 0.5
    """Halves of what is burnt in two loads run past each other by so much, so that no leather stays between them
    (working assumption: leather is moved on to about a mm by hand)."""
    seam_step_mm: float = 1.0
    """Places so far apart are looked at for the seam."""
    seam_clear_mm: float = 2.0
    """And it keeps so far from holes where it can."""
    touch_mm: float = 0.05
    """An edge touches its stop when nothing reaches further by more: less than a knife is true to."""
    most_miss_mm: float = 1.0
    """When two measured points miss by more, the leather has stretched or a point was mistaken (working assumption)."""
    off_bed_mm: float = 0.01
    """Lines may leave the bed by rounding."""
    endless_mm: float = 1e-6
    """A panel longer than the bed by no more than rounding is not fed through."""

    # A frame of card
    card_mm: float = 7.0
    """A strip of card narrower than this does not hold (working assumption)."""
    border_mm: float = 20.0
    """Card left between the hole and the stops, where the bed has room for it (working assumption)."""
    play_mm: float = 0.3
    """The hole is larger all round by this, so that leather drops into it (working assumption)."""

    # A guide
    hinted_mm: float = 0.1
    """What lies in a part is drawn so true: it is there to be recognised."""
    spot_mm: float = 2.5
    """A stitch hole no larger is drawn as a dot: of hundreds each takes a dozen letters."""

    # Lines to burn
    gone_wrong_mm: float = 0.006
    """A line moved by half the kerf that strays farther from what an offset of chords gives is wrong, and that is burnt
    instead: the two differ by half as much, for the chords' sake."""
    flat_mm: float = 0.0005
    """Chords leave arcs by so much where lines are moved and compared: a tenth of what a line burnt may be off."""
    shown_mm: float = 0.002
    """And where they are ordered, timed and drawn."""
    snap_mm: float = 0.002
    """Ends of neighbouring stretches no farther apart meet half way."""
    mitre_mm: float = 0.0005
    """Straight stretches meet in a corner where it lies no farther than this outside the round one."""
    smooth_rad: float = 1e-3
    """Arcs that meet at a smaller angle go on in one direction: rounding, and what fitting arcs to curves leaves."""
    cubic_mm: float = 0.003
    """One cubic stands for a row of arcs where it strays from them by no more: with them it stays true to 0.005 mm."""
    worth_a_cubic: int = 4
    """It takes three points, so fewer arcs are shorter."""
    widest_arc_deg: float = 120.0
    """An arc of more is written in parts: where it is told by ends and radius, rounding moves a wider one too far."""
    widest_cubic_deg: float = 180.0
    """More than half a turn no cubic follows so closely."""
    cubic_probes: int = 8
    """Places on each arc at which a cubic is compared with it."""
    cubic_rounds: int = 8
    """Turns of fitting a cubic; it gains little after."""
    same_mm: float = 1e-5
    """A stretch shorter than this is rounding."""
    dot_mm: float = 0.05
    """Length of the line that burns a dot: no machine passes over a line of no length alike."""
    least_circle_mm: float = 0.005
    """Radius of the smallest circle burnt: below what lines are true to it is a dot, and a file may round it away."""
    stray_kerfs: float = 2.5
    """A corner farther than this from what is burnt is more than a sharp corner: at 23 degrees the beam stops 2 kerfs
    short."""
    miss_kerfs: float = 2.0
    """One line along the middle of a slot stands for it when no corner of it lies farther off."""
    shortest_slot_kerfs: float = 1.0
    """A slot burnt by a shorter line is but a corner too sharp for the beam, and not worth a warning."""
    slot_places: int = 65
    """Places along a slot at which its middle is found; straight and evenly bent slots need far fewer."""

    # Where the beam enters a closed line
    clear_mm: float = 5.0
    """The beam dwells where it enters and leaves a mark; so far from a corner the edge dressing hides it (common
    practice, no published source)."""
    corner_deg: float = 45.0
    """A corner turns by more than this, sharp or rounded (working assumption)."""
    look_mm: float = 1.0
    """And does so within this distance to either side: edges are dressed to about such a radius."""
    step_mm: float = 0.5
    """Places looked at along a line are so far apart: half of the above."""
    fewest_places: int = 16
    """But there are no fewer than this, however short it is."""
    small_mm: float = 20.0
    """A closed line no longer than this is a hole whose corners do not show: it may be entered anywhere."""
    clear_share: float = 0.9
    """Where sides are short, an entry has at least this share of the room there is."""
    most_entries: int = 64
    """Entries tried on a line: more shorten no tour by what shows (working assumption)."""

    # Their order
    neighbour_mm: float = 10.0
    """Parts nearer to each other than this warm each other (our assumption, no published source)."""
    tour_rounds: int = 4
    """2-opt and Or-opt take turns so often (working assumption)."""
    tour_changes: int = 20_000_000
    """Changes looked at for one tour, a second or so; a bound in work gives the same order on any machine."""
    longest_turned: int = 1000
    """Lines in the longest stretch that is turned: the work grows with it, and long turns rarely pay."""
    longest_moved: int = 3
    """Lines in the longest stretch that is moved elsewhere (Or 1976)."""
    better_mm: float = 1e-9
    """A tour shorter by no more than this is not shorter but rounded."""
    worth_mm: float = 0.5
    """A move of a stretch that can save no more than this is not looked for: it takes milliseconds to travel."""

    # Machine time
    halt_deg: float = 45.0
    """At a corner that turns by more, the head comes to a halt (working assumption for common controllers)."""
    rounded_corner_mm: float = 0.35
    """An arc no longer than this is a corner that the beam's width has rounded: a right angle by a kerf of 0.4 mm."""
    one_corner_mm: float = 0.15
    """Corners nearer to each other than this are one: the beam's width rounds a sharp corner off in small steps."""

    # Test pieces
    fewest_widths: int = 3
    """Widths of a comb to measure at least: with fewer, a slip of the caliper cannot be told from the kerf."""
    slip_mm: float = 0.15
    """A width that strays further from the others is a slip of the caliper, not the laser's (working assumption)."""
    speed_step: float = 1.2
    """Each column of a swatch is burnt faster than the one before by this factor (common practice)."""
    power_span: float = 0.2
    """Rows of a swatch run from this share below the predicted power to as much above it (common practice)."""
    swatch_sizes: tuple[tuple[int, int, float], ...] = (
        (5, 5, 8.0), (5, 5, 6.0), (4, 4, 7.0), (4, 4, 5.0), (3, 3, 6.0), (3, 3, 4.0),
    )  # fmt: skip
    """Columns, rows and side of a square in mm, the preferred first: the larger the better seen, down to what fits."""
    most_window_share: float = 0.2
    """A window told from one swatch is not believed further than this share from the thickness it was cut at (working
    assumption)."""


DEFAULT = LaserLimits()
"""Used where no other table is given."""
