"""The numbers of planning, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass, fields


@dataclass(frozen=True)
class PlanLimits:
    """Numbers that planning goes by; lengths in mm, shares from 0 to 1.

    Raises
    ------
    ValueError
        For a number that is not positive (``settings_gain``, ``repeat_odds`` and other shares and odds may be 0).
    """

    # settings

    most_settings: int = 3
    """Settings chosen for a hide: a change-over to a fourth is not worth the maker's time (working assumption)."""
    settings_at_first: int = 1
    """Settings a hide is burnt with when nobody asks for more: a change-over costs time."""
    settings_for_orders: int = 2
    """Settings a hide is burnt with, unasked, where ordered parts would be left out with fewer (working assumption)."""
    setting_step_mm: float = 0.05
    """Settings between tested rows are looked at for thicknesses this far apart: a hand gauge tells no less."""
    settings_gain: float = 0.01
    """Share of the hide that a setting between rows must cut more than a tested one, and a further setting more than
    those before it, to be chosen (working assumption)."""
    settings_alike: float = 0.001
    """Settings whose shares of the hide round to the same multiple of this are told apart by where they were tested:
    less is within the stairs of the map (working assumption)."""

    # hides shared out

    full: float = 0.72
    """Share of a hide's usable leather that parts are taken to fill (working assumption: what the search reaches)."""
    even_slack: float = 1.03
    """Hides that make many panels are filled evenly, with so many times the area needed, for parts come whole (working
    assumption)."""
    most_orders: int = 6
    """Hides, the smallest first, each of which is tried as the first to be filled: each costs a pass over all parts."""
    leather_need: float = 1.3
    """Parts take about so many times their own area of leather (working assumption, from what the search reaches)."""

    # what the engine is asked

    rounding_mm: float = 1e-6
    """Lengths that differ by less are equal: what turning and cutting lose."""
    frame_mm: float = 1.0
    """Obstacles are kept so far around the leather they lie on, so that none ends at its very edge."""
    circle_mm: float = 5.0
    """Tolerance of the largest circle looked for on an empty hide: it only spares a closer look."""
    turns_in_the_middle: int = 5
    """Angles of each allowed range at which a part is laid there: it only spares a closer look."""
    angle_step_deg: float = 1.0
    """Angles this far apart are tried when a part is held against a panel or the bed."""
    growth_between_angles: float = 5e-5
    """Between two angles tried a part is longer by no more than this share: 1 - cos(angle_step_deg / 2) is 3.8e-5."""
    remembered_grounds: int = 512
    """Grounds whose containers are kept, since many short searches are made on each; guards the memory."""
    remembered_lies: int = 20_000
    """Grounds with what lies there, of which it is remembered how much leather that consumes; guards the memory."""
    room_to_choose: float = 2.0
    """A ground is offered copies of each part for up to so many times its area: more would only slow the search."""

    # a hide cut up

    most_ways: int = 16
    """Ways to cut a hide up that are tried; the list begins with the fewest panels."""
    least_gain_mm: float = 2.0
    """A knife line is moved back to the parts when that gives the next panel more than this: a knife is no truer than a
    mm."""
    behind_part_mm: float = 1e-3
    """The knife line keeps this much more than the edge margin from the last part, so that rounding cannot break the
    margin."""
    most_strokes: int = 3
    """Straight strokes of a knife line: more are tedious to mark and to cut."""
    stroke_gain_mm2: float = 400.0
    """Each stroke more must win so much leather: 20 mm square, of which something can be made (working assumption)."""
    stroke_depth_mm: float = 120.0
    """A line lies no farther back than this anywhere: the next panel begins there, and ends the sooner."""
    stroke_columns: int = 16
    """Places across a line at which its strokes may meet,"""
    stroke_samples: int = 6
    """and between two of which the front of the parts is looked at so many times,"""
    stroke_heights: int = 14
    """at so many heights, which are then lowered"""
    stroke_turns: int = 12
    """in so many turns."""
    stroke_slack_mm: float = 0.02
    """Strokes keep so much clearer of parts: circles are drawn with chords, lines rounded."""
    step_over: float = 0.5
    """Where a panel finds no part the next begins this share of its length on: a part may lie across its end."""
    panel_cost: float = 0.02
    """What one panel more may cost in leather, as a share of the bed: loading it takes time (working assumption)."""
    most_idle: int = 30
    """Mixtures offered to a panel one after another of which nothing can lie there, before it is left as it is."""
    start_iterations: int = 6
    """Iterations of one of the many short searches on a panel (working assumption)."""
    squeeze: float = 0.3
    """Time or iterations to squeeze the fullest layout of a panel, as a share of what it took to find it (working
    assumption)."""
    least_squeeze_iterations: int = 6
    """Iterations of such a squeeze at least (working assumption)."""
    mixture_odds: float = 0.8
    """How often a search is offered a mixture of parts only: one that is offered everything takes the biggest, and soon
    comes to no more (working assumption)."""
    mixture_area: float = 1.15
    """Area of such a mixture as a share of the panel's (working assumption)."""

    # panels of whole leather

    grid_mm: float = 10.0
    """Strips of whole leather are looked for at places about so far apart."""
    grid_whole: float = 20.0
    """A bit of such a strip is worth nothing where one part in so many of it is no leather (working assumption)."""
    row_least: float = 0.6
    """A stretch of whole leather counts where it is no shorter than this share of the longest panel (working
    assumption)."""
    row_step_mm: float = 20.0
    """A panel for which the leather does not do is tried so much farther on (working assumption)."""
    row_missing: float = 0.2
    """Where the leather allows all of no more panel, such a share of it may be left out of one (working assumption)."""
    least_inner: float = 4.0
    """Panels of whole leather are cut out where so many go on a hide: of fewer any is easily packed by itself (working
    assumption)."""
    inner_room: float = 0.8
    """And where they give so much of the leather needed: the rim then holds little more (working assumption)."""
    inner_ways: int = 2
    """Ways to cut such panels out that are tried (working assumption)."""
    fill_share: float = 0.65
    """Share of a hide's own time in which fills for them are looked for,"""
    fill_turns: int = 4
    """in so many turns: after each all processes know what the others found (working assumption)."""
    least_fill_s: float = 0.1
    """A turn shorter than this is left out: a single fill takes longer."""
    fill_iterations: int = 8
    """Iterations of the search for a new fill (working assumption)."""
    fill_worth: float = 1.003
    """A new fill is worth so many times the leather that it takes."""
    fill_least: float = 0.6
    """Area of the mixtures drawn as a share of the longest panel's, from this"""
    fill_most: float = 0.9
    """to this (working assumption)."""
    press_odds: float = 0.3
    """How often, instead, a fill that would be used is looked for on a shorter panel,"""
    press_fade: float = 0.02
    """of which each try makes it seem so much longer,"""
    press_iterations: int = 12
    """with so many iterations (working assumption)."""
    fill_poor: float = 0.6
    """Share of a panel that parts of one form alone are taken to cover, where no fill holds them (working
    assumption)."""
    fill_value: float = 0.6
    """Share of the leather that parts are taken to cover on other panels (working assumption)."""
    choice_nodes: int = 500
    """Nodes of the search for which fills to take; mostly it needs a few,"""
    choice_gap: float = 0.001
    """and ends this near to the best."""
    most_fills: int = 300
    """So many fills are remembered, those that are worth most; guards the time."""
    fill_slack_mm: float = 0.01
    """Fills keep so much clearer of the edge of a panel: turning rounds."""

    anew_share: float = 0.12
    """Share of the time in which hides may be cut up anew for pieces left out (working assumption)."""
    hides_anew: int = 2
    """Hides that are cut up anew for such a piece, the largest first (working assumption)."""

    # the time shared out

    first_leg_s: float = 5.0
    """Where time is limited the search begins with a leg so long: a maker waits no longer for a first look."""
    leg_growth: float = 3.0
    """Each leg ends at so many times the end of the one before, so that most of the time is in the last."""
    onward: float = 1 / 3
    """A leg is followed by one of this share of its end that goes on from the best, so that a run that ends there comes
    to no more than a longer one; none shorter than ``least_leg_s`` (working assumption)."""
    least_leg_s: float = 2.0
    """Time left over that is shorter is added to the leg before."""
    least_anew: float = 0.5
    """A leg that has less than this share of its time goes on from the best instead of beginning anew (working
    assumption)."""
    least_cut_s: float = 2.5
    """Where fills are known, hides are cut up anew in any leg that has so long for each of them: it takes 1 to 5 s."""
    whole_until: float = 0.7
    """Share of the time by which hides that fit the bed have been packed with one setting (working assumption)."""
    cut_until: float = 0.6
    """Share of the time by which hides that make many panels are cut up (working assumption)."""
    cut_inner_until: float = 0.85
    """The same where fills are known for panels of whole leather: time is spent best in finding more (working
    assumption)."""
    cut_few_until: float = 0.25
    """The same for hides that make few panels, which are then packed better all together (working assumption)."""
    trying: float = 0.35
    """Share of a hide's own time in which ways to cut it up are tried (working assumption)."""
    patience: float = 2.0
    """How much longer than a try cutting a hide up again has to be to be worth it (working assumption)."""
    least_crew_s: float = 8.0
    """Legs shorter than this have one process: others would take too much of the time to start, for they load and
    compile for a few seconds each."""

    told_every_s: float = 0.1
    """Progress that is no better arrangement is told no oftener: a person sees no more, and telling takes time."""

    told_before_end: float = 0.99
    """Share told at most before the end: a first layout of every hide is made even when the time is over."""

    # pieces made whole

    whole_share: float = 0.12
    """Share of the time kept for making pieces whole at the end (working assumption)."""
    most_whole_s: float = 12.0
    """No more than this is kept: what insertion has not found by then is left to force."""
    last_whole_share: float = 0.75
    """Share of what is left that making pieces whole takes at the end: the reasons are found out after it."""
    first_whole_share: float = 0.15
    """Share of the time that making pieces whole may take before the rounds (working assumption)."""
    filling_share: float = 0.25
    """Share of that time in which fillers are put in at last (working assumption)."""
    least_filling_s: float = 1.0
    """Time for fillers at least, even when all is over: small ones find a place in a tenth of a second each."""
    slice_for_orders: float = 0.2
    """Share of the time of one search for the pieces left out, on the hides they may lie on (working assumption)."""
    interrupted_whole_s: float = 1.5
    """The same when the run was broken off: a person waits."""
    given_up: int = 6
    """Pieces cut in part, the least urgent first, each of which is given up to see which others become whole (working
    assumption)."""
    parts_anew: int = 60
    """Parts, at most, that are all put anew one after another; guards the time."""
    forced_pieces: int = 2
    """Pieces left out that are tried by force in one go, where iterations are counted (working assumption)."""
    force_tries: int = 2
    """Tries by force of one piece, each on other leather (working assumption)."""
    force_iterations: int = 6
    """Iterations of such a try where iterations are counted (working assumption)."""
    force_s: float = 1.5
    """Time of such a try otherwise (working assumption)."""
    least_force_s: float = 0.5
    """Time of the first such try at least: pieces of few large parts are packed in that (working assumption)."""

    # reasons

    explained: int = 12
    """Pieces of different form of which it is told part by part what would fit where; guards the time."""
    changes_tried: int = 6
    """Pieces of different form for which it is tried what change would let them in; guards the time."""
    instead_tried: int = 8
    """Pieces that are placed and taken out on trial to let in one left out (working assumption)."""
    changes_s: float = 1.2
    """Time in all for that, where time is limited."""
    reasons_share: float = 0.1
    """No more than this share of the time is kept for reasons."""
    narrow_mm: float = 4.0
    """A free place is told without bits narrower than twice this, which hold no part."""
    thickness_look_mm: float = 10.0
    """Spots at which a hide's thickness is looked at for a reason are so far apart: the map is smooth."""
    near_chance: float = 0.2
    """A setting of which a hide is less sure than this is for other leather: measuring the hide will not tell it so."""

    # going on from an earlier layout

    resumed_share: float = 0.5
    """Share of the time in which what is new is placed while all that holds lies still (working assumption)."""
    kept_mm: float = 0.0152
    """A part of an earlier layout holds where it leaves what the search would allow by less: two offsets, each 0.00775
    mm to the safe side, lie between a part and a knife line that was moved back to it."""
    kept_true_mm: float = 5e-4
    """And where its true distances from edges and parts are short by less: files round to 1e-4 mm."""
    kept_turn_deg: float = 1e-5
    """The same for angles: ten times what a file rounds them to."""

    # lots

    lot_room: float = 2.0
    """What has to come from one lot gets the smallest lot that has so many times its area, or else the largest (working
    assumption)."""

    # parts longer than the bed

    long_iterations: int = 8
    """Iterations of the search that places them, on either side of the hides (working assumption)."""
    long_tries: int = 4
    """Such searches on either side (working assumption)."""
    long_broad: float = 0.6
    """Of them that is taken which leaves most leather that a disc of so much of the bed's shorter side can reach
    (working assumption)."""
    long_share: float = 0.6
    """Share of the time of the first search where there are such parts; the rest is for doing with fewer of them, or
    for another try (working assumption)."""

    # rounds

    few_panels: int = 12
    """Up to so many panels are all packed together; with more, a few at a time (working assumption)."""
    panels_together: int = 2
    """Of more panels, so many are packed together in one task of a round (working assumption)."""
    panels_alone: int = 3
    """The same when a round has one task only (working assumption)."""
    round_iterations: int = 12
    """Iterations of a round where iterations are counted, and of a search where nothing is limited (working
    assumption)."""
    least_round_s: float = 1.5
    """A round takes so long at least: a shorter one would mostly set itself up."""
    rounds: int = 20
    """About so many rounds make up the time of a whole run (working assumption)."""
    slice_with_settings: float = 0.1
    """Share of the time of one search of all panels together where hides have several settings: what is left out is
    tried with another setting in the next (working assumption)."""
    guests: int = 10
    """Parts, at least, that are tried elsewhere to empty the poorest panels (working assumption)."""
    panels_to_a_poor_one: int = 3
    """No more than one panel in so many is emptied in a round, so that the others can take its parts (working
    assumption)."""
    poor_weight: float = 2.0
    """A part left on a panel that is to go counts as so many times its area of leather (working assumption)."""
    regroup_odds: float = 0.5
    """How often parts that match one left out are all taken up, to go to another hide together (working assumption)."""
    most_steps: int = 20
    """Pieces of one rank left out that are each placed before the next; all further ones come together (working
    assumption)."""
    least_slack: float = 0.02
    """A panel filled without any gap still has this much of a chance to be chosen, as a share of its area."""

    def __post_init__(self) -> None:
        may_be_none = {"settings_gain", "mixture_odds", "regroup_odds", "squeeze", "panel_cost", "whole_until"}
        may_be_none |= {"cut_until", "cut_few_until", "trying", "behind_part_mm", "least_crew_s", "least_round_s"}
        may_be_none |= {"told_every_s", "whole_share", "most_whole_s", "first_whole_share", "interrupted_whole_s"}
        for field in fields(self):
            value = getattr(self, field.name)
            if not (value >= 0 if field.name in may_be_none else value > 0):
                raise ValueError(f"{field.name} is {value}: give more than 0")

    def changed(self) -> dict[str, float]:
        """The numbers that differ from the defaults, by name."""
        return {f.name: getattr(self, f.name) for f in fields(self) if getattr(self, f.name) != f.default}


DEFAULT = PlanLimits()
