"""Reasons that are true are not found fault with, though a shape or a map makes them look untrue."""

from dataclasses import replace

import shapely
from planning_jobs import STOP, job_of
from shapely.geometry import Polygon, box

from nesting.model import Hide, Part, Reading, Setting, Unplaced
from nesting.planning.plan import plan
from nesting.referee.reasons import untrue_reasons

SLIT = Polygon(
    [(0, 0), (90, 0), (90, 44.9), (72, 44.9), (72, 18), (18, 18), (18, 72), (72, 72), (72, 44.95), (90, 44.95)]
    + [(90, 90), (0, 90)]
)
"""A frame with a slit in it that the beam is wider than."""
HIDE = Hide("h", box(0, 0, 98, 98), nominal_mm=1.5, tannage="vegetable")
ROW = Setting("row", 1.0, 30, 50, 1, 0.7, 1.4)


def planned(parts, hide, partial=False, quantity=1):
    job = job_of(parts=parts, hides=(hide,), quantity=quantity)
    return plan(replace(job, products=(replace(job.products[0], partial=partial),)), STOP, workers=1)


def test_a_bay_whose_mouth_is_narrower_than_the_beam_counts_to_the_area_of_its_part():
    layout = planned((Part("frame", SLIT),), HIDE, quantity=2)
    assert [one.reason.partition(" dm2")[0] for one in layout.unplaced] == ["no room left: frame (0.83"]
    assert untrue_reasons(layout) == []


def test_a_bay_whose_mouth_is_narrower_than_the_beam_is_no_place():
    layout = planned((Part("frame", SLIT), Part("lid", box(0, 0, 40, 40))), HIDE, partial=True)
    assert ["lid (0.17 dm2) nowhere" in one.reason for one in layout.unplaced] == [True]
    assert untrue_reasons(layout) == []
    frame = layout.placements[0].outline
    x, y = frame.envelope.centroid.coords[0]
    open_frame = max(shapely.get_parts(frame.difference(box(x, y - 3, x + 60, y + 3))), key=shapely.area)
    placements = (replace(layout.placements[0], outline=open_frame),)
    assert [one.bound for one in untrue_reasons(replace(layout, placements=placements))] == ["so"]


def test_leather_good_enough_in_smaller_cells_than_the_planner_looks_at_is_no_place():
    at = ((100, 100, 1.18), (70.3, 191.8, 1.35), (100, 100, 1.29), (177.6, 156.9, 2.52), (100, 100, 1.38))
    at += ((182.2, 49.1, 2.85), (84, 5.1, 1.29), (84, 5.1, 1.3), (100, 100, 1.07))
    hide = Hide("h", box(0, 0, 196, 196), readings=tuple(Reading(*one) for one in at), tannage="vegetable")
    job = job_of(parts=(Part("strip", box(0, 0, 8, 80)),), hides=(hide,), quantity=1, rows=(ROW,))
    layout = plan(replace(job, workshop=replace(job.workshop, thickness_spread_mm=0.3)), STOP, workers=1)
    assert ["not over all of the part" in one.reason for one in layout.unplaced] == [True]
    assert untrue_reasons(layout) == []


def test_a_place_on_a_hide_that_has_to_be_cut_up_first_is_none():
    # longer than the bed of 600 x 400 mm; told as the planner tells of a part that found no panel
    hide = replace(HIDE, outline=box(0, 0, 700, 98))
    layout = planned((Part("lid", box(0, 0, 40, 40)),), hide)
    assert len(layout.placements) == 1
    left = Unplaced("A-1", "set", "lid", 1, 1, False, "no place found in the time given: lid (0.17 dm2) nowhere")
    empty = replace(layout, placements=(), unplaced=(left,), panels=(), cuts=())
    assert untrue_reasons(empty) == []
    short = replace(empty, hides=(replace(hide, outline=box(0, 0, 500, 98)),))
    assert [one.bound for one in untrue_reasons(short)] == ["so"]
