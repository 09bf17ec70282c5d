import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from nesting.costs.figures import figures
from nesting.engine import Stop
from nesting.laser.registration import lay
from nesting.laser.stages import stages
from nesting.leather.knife import bed_angle, cut_across, cut_up, divide, ways
from nesting.model import Direction, Hide, Job, Machine, Margins, OrderLine, Part, Product, Reading, Setting, Workshop
from nesting.planning.arrange import Arrangement, spare
from nesting.planning.cutting import START_ITERATIONS, fill, used_up
from nesting.planning.packing import Lie, Packing, Piece, angles_within, goes_into
from nesting.planning.plan import plan
from nesting.planning.ready import ready
from nesting.planning.wishes import fits_bed, wanted
from nesting.referee.rules import check

MACHINE = Machine("laser", 600, 400, 40)
SETTING = Setting("1.5 mm", 1.5, 10, 60, 2, 1.2, 1.8)
TAG = Part("tag", Polygon([(0, 0), (130, 0), (130, 60), (40, 85), (0, 60)]))
STOP = Stop(iterations=10)


def job_of(outline, quantity=20, part=TAG, machine=MACHINE, rows=(SETTING,), filler=False, **hide):
    workshop = Workshop(machine, rows, Margins(), thickness_spread_mm=0.1)
    hides = (Hide("h", outline, **{"nominal_mm": 1.5, "tannage": "vegetable"} | hide),)
    return Job(
        workshop,
        (Product("set", (part,), filler=filler),),
        hides,
        (OrderLine("A-1", "set", quantity, date(2026, 3, 2)),),
    )


def wavy(width, height, waves):
    angles = np.linspace(0, 2 * math.pi, 90, endpoint=False)
    radii = 1 + 0.12 * np.sin(waves * angles)
    return Polygon(np.column_stack([width / 2 * radii * np.cos(angles), height / 2 * radii * np.sin(angles)]))


def sound(job, stop=STOP, **more):
    layout = plan(job, stop, **more)
    assert check(layout) == []
    return layout


@settings(max_examples=5, deadline=None)
@given(st.floats(500, 1300), st.floats(500, 1000), st.integers(2, 7), st.floats(0, 180))
def test_whatever_the_hide_the_referee_can_make_the_panels_with_a_knife(width, height, waves, turn):
    outline = affinity.rotate(wavy(width, height, waves).difference(Point(30, 20).buffer(25)), turn)
    assert sound(job_of(outline, 25)).placements


def test_a_hide_that_fits_turned_stays_whole():
    tilted = affinity.rotate(box(0, 0, 590, 390), 30)
    layout = sound(job_of(tilted))
    assert layout.cuts == () and layout.panels[0].polygon.equals(tilted)


@pytest.mark.parametrize("turn", [0, 30, 77])
def test_two_beds_of_leather_side_by_side_are_two_panels_at_any_angle(turn):
    layout = sound(job_of(affinity.rotate(box(0, 0, 1190, 395), turn), 200))
    assert len(layout.panels) == 2 and len(layout.cuts) == 1


def test_leather_that_is_not_needed_is_not_cut():
    layout = sound(job_of(box(0, 0, 1400, 1000), 8))
    assert len(layout.panels) == 1 and len(layout.cuts) <= 2


def test_urgent_parts_for_other_leather_keep_nothing_else_off_a_hide():
    # enough of them to fill the hide twice, were it thick enough
    belt = Part("belt", box(0, 0, 200, 100), thickness_mm=(2.4, 2.8))
    job = job_of(box(0, 0, 1190, 395), 20)
    orders = (OrderLine("A-0", "belt", 50, date(2026, 3, 1)), *job.orders)
    layout = plan(replace(job, products=(*job.products, Product("belt", (belt,))), orders=orders), Stop(iterations=1))
    assert check(layout) == [] and len(layout.placements) == 20


def test_the_margin_of_the_bed_holds_no_leather():
    machine = replace(MACHINE, bed_margin_mm=20)
    layout = sound(job_of(box(0, 0, 900, 700), 60, machine=machine))
    assert all(bed_angle(panel.polygon, 560, 360) is not None for panel in layout.panels)


def test_leather_fed_through_is_cut_into_strips_only():
    machine = replace(MACHINE, feed_through="width")
    layout = sound(job_of(box(0, 0, 1400, 790), 150, machine=machine))
    assert len(layout.panels) == 2 and max(panel.polygon.bounds[2] for panel in layout.panels) > 1390


@pytest.mark.parametrize("feed, bed", [("height", (600, 400)), ("width", (400, 600))])
def test_long_parts_of_leather_fed_through_lie_so_that_each_is_whole_at_one_stage(feed, bed):
    machine = replace(MACHINE, bed_width_mm=bed[0], bed_height_mm=bed[1], feed_through=feed)
    job = job_of(affinity.rotate(box(0, 0, 1400, 590), 20), 24, part=Part("strap", box(0, 0, 520, 50)), machine=machine)
    layout = sound(job)
    assert len(layout.placements) > 12
    for panel in layout.panels:
        parts = [placement for placement in layout.placements if placement.panel == panel.id]
        made = stages(lay(panel.polygon, job.hides[0], machine), panel.polygon, parts, machine)
        assert len(made) > 1 and sum(len(here) for _, _, here in made) == len(parts)


def test_the_angles_at_which_a_strip_is_short_enough_are_those_of_its_diagonals():
    """A strip of length l and width w at an angle a is l cos a + w sin a long."""
    strip, most = Part("strap", box(0, 0, 500, 40)).outline, 300.0
    for low, high in angles_within(strip, ((0.0, 360.0), (75.0, 75.0), (10.0, 10.0)), (0.0,), most):
        for angle in np.radians([low, high]):
            assert 500 * abs(math.cos(angle)) + 40 * abs(math.sin(angle)) <= most
    kept = angles_within(strip, ((0.0, 180.0), (75.0, 75.0), (10.0, 10.0)), (0.0,), most)
    edge = next(
        angle
        for angle in np.arange(0, 90, 0.01)
        if 500 * math.cos(math.radians(angle)) + 40 * math.sin(math.radians(angle)) <= most
    )
    assert kept[0] == pytest.approx((edge, 180 - edge), abs=1.0) and kept[1:] == ((75.0, 75.0),)
    assert angles_within(strip, ((0.0, 360.0),), (0.0, 90.0), most) == ()


def test_the_same_seed_and_iterations_give_the_same_cuts_and_places():
    first, second = (plan(job_of(wavy(1100, 800, 5), 40), STOP, seed=3) for _ in range(2))
    assert first.cuts and first.cuts == second.cuts and first.placements == second.placements


def test_a_long_part_that_must_lie_across_is_cut_from_panels_that_are_long_that_way():
    strap = Part("strap", box(0, 0, 380, 28), direction=Direction("along", 3))
    job = job_of(
        box(0, 0, 800, 540), 6, part=strap, machine=Machine("laser", 400, 300, 40), backbone=((400, 20), (400, 520))
    )
    assert sound(job, Stop(iterations=4)).unplaced == ()


@given(st.floats(50, 400), st.floats(10, 200), st.floats(0, 180), st.floats(0, 30))
def test_a_rectangle_goes_into_one_as_big_as_itself_turned_and_into_none_narrower(long, wide, turn, span):
    outline = affinity.rotate(box(0, 0, long, wide), -turn, origin=(0, 0))
    small, big = sorted((long, wide))
    assert goes_into(outline, ((turn, turn + span),), long + 1e-6, wide + 1e-6)
    assert not goes_into(outline, ((0, 360),), 2 * big, small * 0.99)


def test_a_part_bigger_than_the_bed_is_left_out_with_that_reason():
    long = Part("strap", box(0, 0, 900, 40))
    job = job_of(box(0, 0, 1400, 1000), 2, part=long)
    assert not fits_bed(long, job)
    assert {unplaced.reason for unplaced in sound(job).unplaced} == {"too big for the bed"}
    # whatever else stands in its way
    thick = replace(long, thickness_mm=(3.0, 4.0))
    assert {unplaced.reason for unplaced in sound(job_of(box(0, 0, 1400, 1000), 2, part=thick)).unplaced} == {
        "too big for the bed"
    }


def test_the_edge_margin_counts_when_a_part_is_held_against_the_bed():
    job = job_of(box(0, 0, 1400, 1000))
    assert fits_bed(Part("snug", box(0, 0, 593, 393)), job) and not fits_bed(Part("tight", box(0, 0, 596, 396)), job)


SLOPE = tuple(Reading(x, y, 1.2 + 0.0011 * x) for x in (20, 160, 300, 440, 580) for y in (30, 200, 370))
THIN, THICK = Setting("thin", 1.3, 20, 60, 1, 1.0, 1.55), Setting("thick", 1.8, 10, 60, 1, 1.45, 2.1)


def test_with_one_setting_only_its_leather_is_used_and_with_two_both():
    small = Part("small tag", affinity.scale(TAG.outline, 0.5, 0.5, origin=(0, 0)))
    job = job_of(box(0, 0, 600, 400), 120, small, rows=(THIN, THICK), readings=SLOPE, nominal_mm=None)
    one, two = (sound(job, Stop(iterations=30), settings=count) for count in (1, 2))
    assert len(two.placements) > len(one.placements) + 3
    assert {p.setting for p in one.placements} < {p.setting for p in two.placements} and len(two.settings_on("h")) == 2


def test_by_default_a_second_setting_comes_only_when_orders_would_be_left_out():
    facts = dict(rows=(THIN, THICK), readings=SLOPE, nominal_mm=None)
    few, many = sound(job_of(box(0, 0, 600, 400), 4, **facts)), sound(job_of(box(0, 0, 600, 400), 30, **facts))
    assert len(few.settings_on("h")) == 1 and len(many.settings_on("h")) == 2
    fillers = sound(job_of(box(0, 0, 600, 400), 30, filler=True, **facts))
    assert len(fillers.settings_on("h")) == 1


def test_the_leather_under_each_part_is_in_the_layout():
    layout = sound(job_of(box(0, 0, 600, 400), 6, rows=(THICK,), readings=SLOPE, nominal_mm=None))
    for placement in layout.placements:
        assert 1.2 < placement.under.least_mm < placement.under.greatest_mm < 1.9 and placement.under.confidence >= 0.9


def test_parts_that_must_match_stay_on_one_hide_when_hides_are_cut_up():
    job = job_of(box(0, 0, 900, 300), 12)
    hides = tuple(replace(job.hides[0], id=f"h{n}", outline=box(0, 0, 700 + 100 * n, 410)) for n in range(3))
    product = Product("set", (replace(TAG, count=5),), "piece")
    layout = sound(replace(job, hides=hides, products=(product,)))
    assert len({placement.hide for placement in layout.placements}) > 1


def test_what_the_knife_lines_leave_beside_the_panels_is_there_for_what_was_left_out():
    outline = box(0, 0, 1000, 390)
    job = job_of(outline)
    (panel,), (rest,) = divide(outline, 0.0, 600.0)
    made = Arrangement((Piece("h", panel),), (cut_across("h", outline, 0.0, 600.0),))
    bits = spare(Packing(job, ready(job), wanted(job)), MACHINE.usable_mm, made)
    assert len(bits) == 1 and bits[0].polygon.symmetric_difference(rest).area < 1.0


def filled(job, effort, patient, way=0):
    packing = Packing(job, ready(job), wanted(job))
    ranks = {index: wish.rank for index, wish in enumerate(packing.wishes)}
    way = ways(job.hides[0], MACHINE.usable_mm)[way]
    return fill(packing, MACHINE.usable_mm, "h", way, ranks, frozenset(ranks), effort, patient, 1)


def test_a_try_in_a_hurry_makes_do_with_first_layouts_when_there_is_no_time():
    job = job_of(wavy(900, 700, 4), 25)
    short, long = filled(job, Stop(seconds=0.0), False), filled(job, Stop(), False)
    assert short.lies and short.iterations < long.iterations
    assert long.iterations >= START_ITERATIONS * len(long.pieces)


def test_leather_is_used_up_as_the_report_counts_it():
    job = job_of(wavy(1000, 800, 5), 10)
    layout = sound(job)
    lies = {n: Lie(0, p.x, p.y, p.angle) for n, p in enumerate(layout.placements)}
    packing = Packing(job, ready(job), wanted(job))
    used = sum(used_up(packing, piece, lies) for piece in cut_up(job.hides[0], layout.cuts))
    assert used == pytest.approx(figures(layout)["hides"][0]["consumed_mm2"], abs=1.0)
