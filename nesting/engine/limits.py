"""Every number of the method in two tables: what a caller may set, and what the kernels are compiled with."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SearchLimits:
    """Numbers of the search, of the helpers of ``solve`` and of how a problem is laid out; give another table to try
    others.

    Lengths that grow with what is packed are shares: of a shape's bounding radius, or of a container's packed length.
    """

    first_poses: int = 1500
    """Poses tried for an item of a first layout in each container, before it is pushed (working assumption)."""

    forced_nodes: int = 18_000
    """Nodes of surveys of the container for an item that is forced in (working assumption)."""
    moved_nodes: int = 500
    """Nodes of surveys for an item that is moved: where items are small and a survey has many nodes, the time goes
    further when there are fewer of them (measured with tests/benchmarks/strips.py and hides.py)."""
    close_poses: int = 30
    """Poses tried around the place of an item that is moved; half as many where all angles are fixed (working
    assumption)."""

    exploring_squeeze: float = 0.004
    """Share of the packed length by which a container is squeezed while looking for other arrangements (working
    assumption)."""
    first_squeeze: float = 0.001
    """The same at first while pressing the present arrangement (working assumption)."""
    least_squeeze: float = 2e-5
    """When the share fell below this, other arrangements are looked for: what is left to gain is less than a tenth of
    a mm."""
    most_squeeze: float = 0.03
    """The share grows no further: more than this no arrangement yields at once (working assumption)."""
    squeeze_growth: float = 1.5
    """Factor of the share after a squeeze that was possible (working assumption)."""
    squeeze_decline: float = 0.5
    """Factor of the share after one that was not (working assumption)."""
    most_explorations: int = 8
    """Failures after which a newly explored arrangement is pressed (working assumption)."""
    most_near_misses: int = 100
    """Near misses kept to explore from (working assumption; bounds memory)."""
    near_miss_spread: float = 0.33
    """How far down the near misses the next start is drawn from: standard deviation, as a share of their number
    (working assumption)."""
    alike: float = 0.02
    """Near misses whose overlaps differ by no more than this share count as the same (working assumption)."""
    most_swaps: int = 3
    """Pairs of items that change places, at most, before another go (working assumption)."""

    insert_step: float = 0.06
    """Places looked at for an item put among others that lie still are so far apart, as a share of its radius: what
    fits with less play is found by working it in (working assumption)."""
    insert_step_mm: float = 2.5
    """The same in mm at least; guards the time for small items."""
    insert_turn_deg: float = 1.0
    """Angles looked at for it are so far apart, or as far as its rim moves by a step where that is more."""
    insert_nodes: int = 60_000
    """Nodes of the clearance field of what the others leave of a container (working assumption: 2 mm on a bed of
    600 x 400)."""
    insert_poses: int = 8
    """Poses nearest to fitting that are then held against the exact test (working assumption)."""
    insert_tries: int = 300
    """Shifts and turns of such a pose, within half a cell of the field, that are tested (working assumption)."""

    puts_remembered: int = 64
    """Items put of late, of which it is remembered what was known before: those of one piece are taken back together;
    guards the memory."""

    plain_points: int = 80
    """Outlines of no more corners are taken as they are: jigsaws fit exactly."""
    plainer_share: float = 0.7
    """An outline is made plainer only where no larger share of its corners is left (working assumption)."""
    usual_mm: float = 300.0
    """A problem's tolerance is meant for shapes up to this size, mm; for larger ones it grows in proportion."""
    small_mm: float = 40.0
    """For shapes below this size, mm, it shrinks in proportion (working assumption)."""
    plain_moves: float = 2.7
    """The edge moves by no more than so many times what leaving corners out moves it: that itself, the margin after
    it, and what sharp corners add (measured by tests/engine/test_plain.py)."""
    plain_margin: float = 1.05
    """The edge is then moved by so many times that: GEOS makes a line plainer by a hundredth of what it is moved."""
    first_coarse_share: float = 1e-4
    """Stand-ins for rough work are first made within this share of a shape's size, then within twice as much and so
    on (working assumption)."""
    last_coarse_share: float = 0.02
    """And never within more: rows of much larger stand-ins waste more than they gain (working assumption)."""
    row_points: int = 100
    """Corners, at most, of the stand-in for which rows are found: half a tenth of a second for each."""
    most_tables: int = 2000
    """Tables of no-fit polygons, at most, about 40 kB each. Where a problem asks for more, fields do."""
    most_table_corners: int = 2_000_000
    """Corners of one shape times those of the other, summed over the tables wanted, at most: about 3 s of making
    them."""
    tables_a_step: int = 100
    """Tables made between two looks at whether the search is to end (0.1 s where shapes are plain)."""
    most_pressed_corners: int = 4000
    """Corners of all items, at most, of a problem that is pressed: a linear program has about as many rows."""
    longest_stop_s: float = 0.05
    """Between two looks of the thread that tells the kernels that a search is to end."""

    slack: float = 2e-5
    """Overlap allowed while searching where layouts are pressed at last, as a share of the smallest shape's radius:
    without it, shapes that fit together exactly never would."""
    most_passes: int = 2000
    """Passes of one separation: a guard, since patience ends nearly all sooner."""
    most_patience: int = 200
    """Passes of one separation without gain before it is given up (working assumption)."""
    least_patience: int = 20
    """The same when items are first forced in: many quick attempts come to more, until they fail (working
    assumption)."""
    less_patience: float = 0.6
    """Factor of that patience after an item was forced in (working assumption)."""
    more_patience: float = 1.15
    """Factor of it after one could not be (working assumption)."""
    passes_a_go: int = 10
    """After so many passes the search looks whether it is to end, which makes Ctrl-C wait about that long."""

    force_odds: float = 0.95
    """How often an item without a place is forced in, rather than anything else tried (working assumption)."""
    urgent_odds: float = 0.7
    """How often only the most urgent of the items left out are tried (working assumption)."""
    most_shapes: int = 4
    """Shapes of items left out that are tried before one of them is forced in (working assumption)."""
    choice_blur: float = 0.3
    """Which of them overlaps least is judged with so much chance: standard deviation of the logarithm (working
    assumption)."""
    displace_odds: float = 0.7
    """How often an item that is forced in displaces a smaller or less urgent one (working assumption)."""
    stalled_failures: int = 4
    """Failures to force an item in after which trades are tried (working assumption)."""
    trade_odds: float = 0.3
    """How often then one is (working assumption)."""
    start_steps: int = 30
    """Items forced into each layout begun in rows, before the best one is gone on with (working assumption)."""
    trade_steps: int = 10
    """The same for a layout begun with a trade (working assumption)."""

    regroup_odds: float = 0.2
    """How often a group of which one found no place is moved elsewhere, where there are several containers (working
    assumption)."""
    rebuild_odds: float = 0.3
    """How often, with everything placed in several containers, a stretch is rebuilt or the last one emptied (working
    assumption)."""
    vacate_odds: float = 0.5
    """How often of these the last one is emptied (working assumption)."""
    far_odds: float = 0.5
    """How often a rebuilt stretch is what lies farthest from the packed end; else it is around a random item (working
    assumption)."""
    far_shares: tuple[float, float] = (0.1, 0.6)
    """Least and greatest share of a container's items taken away at its far end (working assumption)."""
    near_shares: tuple[float, float] = (0.1, 0.5)
    """Least and greatest share of its items taken away around one (working assumption)."""
    rebuild_blurs: tuple[float, ...] = (0.05, 0.2, 0.5)
    """How much chance goes into the order, biggest first, in which a rebuilt stretch is filled: standard deviations of
    the logarithm, one of which is drawn (working assumption)."""
    refill_blur: float = 0.2
    """The same wherever else items are placed again (working assumption)."""
    most_fronts: int = 6
    """First layouts begun with each site in front, at most: each takes as long as any first layout (working
    assumption)."""

    row_directions: int = 120
    """Directions of rows of equal items that are looked at: every 1.5 degrees (working assumption)."""
    row_shifts: int = 160
    """Shifts of a row along the next that are looked at (working assumption)."""
    rows_apart_mm: float = 2e-3
    """Copies in rows are kept this far apart, mm, so that rounding never makes them touch."""
    row_tries: int = 200
    """Angles and shifts at which rows are laid into a container (working assumption)."""
    random_orders: int = 2
    """Orders of the shapes laid in rows that are drawn at random, beside four by size and density (working
    assumption)."""
    row_thrift: float = 8.0
    """How much more the density of a shape's rows counts for its place in those than its area: an exponent (working
    assumption)."""
    least_patch: int = 3
    """Rows of fewer items than this are the last of their shape (working assumption)."""
    least_copies: int = 4
    """Copies without a place for which rows are worth while (working assumption)."""

    jigsaw_shares: tuple[float, float] = (0.85, 1.02)
    """Area of all items as a share of their containers', least and greatest, of what may be a jigsaw (working
    assumption)."""
    most_jigsaw_items: int = 80
    """Items, at most, of a jigsaw: looking for what fits takes time as their square, 1.5 s for 16 and 5 s for 32."""
    jigsaw_mm: float = 0.8
    """Borders this far apart, mm, still fit each other: more than a knife takes (working assumption)."""
    jigsaw_places: int = 6
    """Places of an item that are looked at, those with most votes (working assumption)."""
    jigsaw_rounds: int = 3
    """Times that such a place is put right by least squares (working assumption)."""
    jigsaw_points: int = 120
    """Points on an item's border that are held against that of the free region, about (working assumption)."""
    jigsaw_overlap: float = 1e-3
    """Share of an item that may lie beyond it before the item is parted from the others (working assumption)."""
    jigsaw_tries: int = 10
    """Items that are tried before no more is laid so (working assumption)."""
    least_match: float = 0.25
    """Share of an item's border, at least, that must fit (working assumption)."""

    press_reach: float = 0.08
    """How far an item may move in one linear program, as a share of the smallest radius: the edges that part items
    hold for small moves only (working assumption)."""
    press_sight: float = 3.0
    """Shapes nearer than so many of those reaches are kept apart by a program: two that come together, and some to
    spare."""
    press_rounds: int = 12
    """Linear programs, at most, for one pressing (working assumption)."""
    press_gain: float = 1e-7
    """A gain of less than this share of the packed length is the last."""
    press_tolerance: float = 1e-10
    """Tolerance of the linear program, mm, well below what counts as overlap."""

    inscribed_circles: int = 16
    """Circles inside a shape that probe how deep it overlaps others (working assumption)."""
    least_circle: float = 0.03
    """The smallest of them, as a share of the root of the shape's area (working assumption)."""
    border_points: int = 24
    """About so many points on a shape's border are probes, too (working assumption)."""
    border_step_mm: float = 0.5
    """They are no nearer to each other, mm (working assumption)."""
    border_detail: float = 0.003
    """Detail of the border smaller than this share of the root of the area has no points of its own (working
    assumption)."""
    survey_circles: int = 6
    """The biggest of the circles, which alone stand for a shape in a survey (working assumption)."""
    reach_directions: int = 180
    """Ranges of direction for which a shape's reach is known: 2 degrees each (working assumption)."""
    shape_nodes: int = 72
    """Nodes of a shape's clearance field along its longer side (working assumption)."""
    wall_nodes: int = 400_000
    """Nodes of a container's clearance field, at most: some MB, in memory for each of the masks."""
    wall_cell_mm: float = 1.5
    """Finest cell of it, mm, where the container is not a small one (working assumption)."""
    wall_cells: tuple[int, int] = (200, 2000)
    """Cells along the longer side of a container, in a small one and at most in any (working assumption)."""
    table_nodes: int = 72
    """Nodes of the table of a no-fit polygon along its longer side (working assumption)."""
    table_apart_mm: float = 1e-5
    """Tabled no-fit polygons are grown by this, mm, so that rounding never calls shapes free that touch."""
    profile_steps: int = 400
    """Distances from the packed end up to which the area of a container is known (working assumption)."""

    between_progress_s: float = 0.1
    """Seconds from one progress to the next, where nothing better was found: a person sees no more, and telling takes
    time."""
    round_iterations: int = 20
    """Iterations after which helpers in step share the best layout: fewer would make them wait for each other more
    (working assumption)."""
    first_round_s: float = 2.0
    """Seconds after which helpers that are not in step first share the best layout (working assumption)."""
    longest_round_s: float = 10.0
    """Seconds after which they do later, at most (working assumption)."""
    round_growth: float = 1.5
    """Factor of these from one round to the next (working assumption)."""
    last_word_s: float = 0.2
    """Seconds for which the others are waited for at the end."""


@dataclass(frozen=True)
class KernelLimits:
    """Numbers that the kernels are compiled with: machine code holds the defaults here, and no caller can set others.

    To try others, change them in this file; what was compiled and kept on disk is then compiled again.
    """

    kept_poses: int = 4
    """Poses of an item of a first layout that are pushed, the nearest to the packed end (working assumption)."""
    first_slack_mm: float = 0.15
    """What the approximate depths may claim, mm, before the exact test is asked: about a cell of a field of a small
    part."""
    middle_pull: float = 0.3
    """What a mm of an item's middle from the packed end counts beside a mm of its farthest point (working
    assumption)."""
    side_pull: float = 0.02
    """What a mm to the side counts, so that corners fill first (working assumption)."""
    push_turn: float = 0.2
    """The first turn, radians, of an item that is pushed (working assumption)."""
    least_gain_mm: float = 1e-6
    """A push must gain more than this, mm: rounding."""
    inserted_poses: int = 6
    """Poses of an insertion that are worked in roughly for each that is then tested exactly (working assumption)."""
    least_insert_step_mm: float = 0.02
    """Working in ends at steps this small: the exact test comes after it."""
    least_push_mm: float = 0.01
    """The last step, mm, of pushing an item towards the packed end; less is finer than anybody can cut."""

    edges_a_cell: float = 1.0
    """A table of a no-fit polygon with more edges for each row and column of its grid is asked edge by edge near the
    border: about one for every two cells that the border passes (working assumption)."""
    few_edges: int = 40
    """A wall of no more edges is held against a shape edge by edge; of more, its field is asked first, which costs as
    much as about so many."""
    few_pairs: int = 600
    """Two shapes with no more pairs of edges are, likewise."""
    skin_mm: float = 0.02
    """Depth, mm, up to which an overlap counts as none until the exact test is asked (working assumption)."""
    touch_mm: float = 1e-9
    """An item that comes this near a straight wall, mm, touches it: rounding."""
    wall_clearance_mm: float = 0.01
    """Between rows of equal items and the walls that they are laid against, mm: rounding of the fields."""

    coarse_step: float = 0.06
    """First step of a descent, in radii of the item (working assumption)."""
    fine_step: float = 8e-3
    """Last step of it for each pose tried (working assumption)."""
    finest_step: float = 2e-5
    """Last step of it for the best of them: some thousandths of a mm."""
    longer_step: float = 1.1
    """Factor of the step after one that made it better (working assumption)."""
    shorter_step: float = 0.6
    """Factor of it after one that did not (working assumption)."""
    turn_arm: float = 0.6
    """A turn counts as a step of the item's border so far from its middle, in radii of the item (working
    assumption)."""
    less_turn: float = 0.75
    """Factor of the angle's step after one that did not (working assumption)."""
    most_turn: float = 0.3
    """Greatest step of the angle, radians (working assumption)."""
    descent_room: float = 0.3
    """How far a descent goes before it lists its neighbours again, in radii of the item (working assumption)."""
    close_turn: float = 0.4
    """Range of angles, radians, that are tried close to the present one (working assumption)."""

    descended_poses: int = 3
    """Poses of a moved item that are improved by descent (working assumption)."""
    survey_cell: float = 0.6
    """Cell of a survey in radii of the item (working assumption)."""
    least_survey_nodes: int = 300
    """Nodes of a survey, at least (working assumption)."""
    most_survey_nodes: int = 1200
    """Nodes of a survey, at most (working assumption)."""
    views: int = 2
    """Angles at which a moved item is looked at, where all are fixed: its own and another (working assumption)."""
    dips: int = 12
    """Lowest nodes of a survey that are looked at closely (working assumption)."""
    dip_bar: float = 2.0
    """A dip is looked at when it costs less than so many times the worst pose kept: surveys are rough (working
    assumption)."""
    most_planes: int = 16
    """Straight walls of a container that is treated as convex, at most: beyond these fields are faster (working
    assumption)."""

    gain: float = 0.98
    """A separation has made a gain when overlap falls below this share of the least before (working assumption)."""
    least_growth: float = 1.2
    """Factor, in each pass, of the weight of what overlaps least (working assumption)."""
    more_growth: float = 0.8
    """Added to it for what overlaps most (working assumption)."""
    decay: float = 0.95
    """Factor of the weight of what does not overlap, down to 1 (working assumption)."""


LIMITS = SearchLimits()
"""What is used where nobody gives another table."""

COMPILED = KernelLimits()
"""What the kernels are compiled with."""

TRUE_MM = 1e-7
"""Overlap that counts as none, mm: what is left of it by rounding."""
