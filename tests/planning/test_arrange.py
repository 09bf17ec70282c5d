from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_jobs import MACHINE, SLOPE, STOP, TAG, THICK, THIN, case_of, job_of, sound, translator_of, wavy
from shapely import affinity
from shapely.geometry import Point, box

from nesting.engine import Stop, overlaps
from nesting.laser.registration import lay
from nesting.laser.stages import stages
from nesting.leather.knife import bed_angle, cut_across, cut_up, divide, same_leather
from nesting.model import Direction, Hide, Machine, OrderLine, Part, Product
from nesting.planning.arrange import Arrangement, arrange, cut_anew, with_spare
from nesting.planning.case import Ground, Lie
from nesting.planning.clock import Clock
from nesting.planning.plan import plan
from nesting.planning.translate import Translator
from nesting.referee.rules import check
from nesting.workers import Crew


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


@pytest.mark.parametrize("burnt", [False, True])
@pytest.mark.parametrize("feed", ["none", "width"])
def test_leather_that_is_not_burnt_stays_whole_whatever_the_bed(burnt, feed):
    facts = {"nominal_mm": 1.5}
    hides = (Hide("cold", box(0, 0, 1300, 900), **facts, tannage="chrome"),)
    if burnt:
        hides += (Hide("warm", box(0, 0, 1100, 700), **facts, tannage="vegetable"),)
    layout = sound(job_of(quantity=150, hides=hides, machine=replace(MACHINE, feed_through=feed)))
    whole = [panel for panel in layout.panels if panel.hide == "cold"]
    assert len(layout.on("cold")) > 75 and not any(cut.hide == "cold" for cut in layout.cuts)
    assert not burnt or (len(whole) == 1 and whole[0].polygon.equals(hides[0].outline))
    assert any(cut.hide == "warm" for cut in layout.cuts) == burnt


def test_leather_that_is_not_needed_is_not_cut():
    layout = sound(job_of(box(0, 0, 1400, 1000), 8))
    assert len(layout.panels) == 1 and len(layout.cuts) <= 2


def test_urgent_parts_for_other_leather_keep_nothing_else_off_a_hide():
    # enough of them to fill the hide twice, were it thick enough
    belt = Part("belt", box(0, 0, 200, 100), thickness_mm=(2.4, 2.8))
    job = job_of(box(0, 0, 1190, 395), 20)
    orders = (OrderLine("A-0", "belt", 50, date(2026, 3, 1)), *job.orders)
    job = replace(job, products=(*job.products, Product("belt", (belt,))), orders=orders)
    layout = plan(job, Stop(iterations=1), workers=1)
    assert check(layout) == [] and len(layout.placements) == 20


def test_the_margin_of_the_bed_holds_no_leather():
    machine = replace(MACHINE, bed_margin_mm=20)
    layout = sound(job_of(box(0, 0, 900, 700), 60, machine=machine))
    assert all(bed_angle(panel.polygon, 560, 360) is not None for panel in layout.panels)


def test_leather_fed_through_is_cut_into_strips_only():
    machine = replace(MACHINE, feed_through="width")
    big = replace(TAG, outline=affinity.scale(TAG.outline, 2, 2, origin=(0, 0)))
    layout = sound(job_of(box(0, 0, 1400, 790), 40, (big,), machine))
    assert len(layout.panels) == 2 and max(panel.polygon.bounds[2] for panel in layout.panels) > 1390


def test_panels_reach_over_the_bed_no_further_than_there_is_room():
    machine = replace(MACHINE, feed_through="height", overhang_mm=150)
    tag = replace(TAG, outline=box(0, 0, 290, 170))
    job = job_of(box(0, 0, 595, 1500), 14, (tag,), machine)
    layout = sound(job)
    assert len(layout.placements) > 11
    assert all(bed_angle(panel.polygon, 600, 550) is not None for panel in layout.panels)
    assert any(bed_angle(panel.polygon, 600, 400) is None for panel in layout.panels)
    for panel in layout.panels:
        parts = [placement for placement in layout.placements if placement.panel == panel.id]
        made = stages(lay(panel.polygon, job.hides[0], machine), panel.polygon, parts, machine)
        assert len(made) <= 2 and sum(len(here) for _, _, here in made) == len(parts)


@pytest.mark.parametrize("feed, bed", [("height", (600, 400)), ("width", (400, 600))])
def test_long_parts_of_leather_fed_through_lie_so_that_each_is_whole_at_one_stage(feed, bed):
    machine = replace(MACHINE, bed_width_mm=bed[0], bed_height_mm=bed[1], feed_through=feed)
    strap = Part("strap", box(0, 0, 520, 50))
    job = job_of(affinity.rotate(box(0, 0, 1400, 590), 20), 24, (strap,), machine)
    layout = sound(job)
    assert len(layout.placements) > 12
    for panel in layout.panels:
        parts = [placement for placement in layout.placements if placement.panel == panel.id]
        made = stages(lay(panel.polygon, job.hides[0], machine), panel.polygon, parts, machine)
        assert len(made) > 1 and sum(len(here) for _, _, here in made) == len(parts)


def test_the_same_seed_and_iterations_give_the_same_cuts_and_places():
    job = job_of(wavy(1100, 800, 5), 40)
    first, second = (plan(job, STOP, seed=3, workers=1) for _ in range(2))
    assert first.cuts and first.cuts == second.cuts and first.placements == second.placements


def test_a_long_part_that_must_lie_across_is_cut_from_panels_that_are_long_that_way():
    strap = Part("strap", box(0, 0, 380, 28), direction=Direction("along", 3))
    machine = Machine("laser", 400, 300, 40)
    job = job_of(box(0, 0, 800, 540), 6, (strap,), machine, backbone=((400, 20), (400, 520)))
    assert sound(job, Stop(iterations=4)).unplaced == ()


def test_with_one_setting_only_its_leather_is_used_and_with_two_both():
    small = replace(TAG, outline=affinity.scale(TAG.outline, 0.6, 0.6, origin=(0, 0)))
    steep = tuple(replace(reading, mm=1.1 + 0.0014 * reading.x) for reading in SLOPE)
    job = job_of(box(0, 0, 600, 400), 60, (small,), rows=(THIN, THICK), readings=steep, nominal_mm=None)
    one, two = (sound(job, Stop(iterations=12), settings=count) for count in (1, 2))
    assert len(two.placements) > len(one.placements) + 3
    assert {p.setting for p in one.placements} < {p.setting for p in two.placements} and len(two.settings_on("h")) == 2


def test_by_default_a_second_setting_comes_only_when_orders_would_be_left_out():
    facts = dict(rows=(THIN, THICK), readings=SLOPE, nominal_mm=None)
    few, many, fillers = (
        sound(job_of(box(0, 0, 600, 400), quantity, filler=filler, **facts), Stop(iterations=4))
        for quantity, filler in ((4, False), (30, False), (30, True))
    )
    assert [len(layout.settings_on("h")) for layout in (few, many, fillers)] == [1, 2, 1]


def test_a_hide_cut_up_is_shared_out_with_a_second_setting_when_one_has_too_little_room():
    machine = replace(MACHINE, bed_width_mm=310)
    facts = dict(machine=machine, rows=(THIN, THICK), readings=SLOPE, nominal_mm=None)
    few, many = (sound(job_of(box(0, 0, 600, 395), count, **facts), Stop(iterations=2)) for count in (3, 24))
    assert few.cuts and len(few.settings_on("h")) == 1
    assert many.cuts and {placement.setting for placement in many.placements} == {s.name for s in many.settings_on("h")}
    assert len(many.settings_on("h")) == 2


def test_parts_that_must_match_stay_on_one_hide_when_hides_are_cut_up():
    job = job_of(box(0, 0, 900, 300), 8, (replace(TAG, count=5),), same_hide="piece")
    hides = tuple(replace(job.hides[0], id=f"h{n}", outline=box(0, 0, 650 + 100 * n, 410)) for n in range(2))
    layout = sound(replace(job, hides=hides))
    assert len({placement.hide for placement in layout.placements}) > 1


def test_what_the_knife_lines_leave_beside_the_panels_is_there_for_what_was_left_out():
    outline = box(0, 0, 1000, 390)
    (panel,), (rest,) = divide(outline, 0.0, 600.0)
    made = Arrangement((Ground("h", panel),), (cut_across("h", outline, 0.0, 600.0),))
    after = with_spare(case_of(job_of(outline)), made)
    assert len(after.grounds) == 2 and after.grounds[1].polygon.symmetric_difference(rest).area < 1.0
    assert after.cuts == made.cuts and after.lies == made.lies


def test_what_is_left_beside_the_panels_and_bigger_than_the_bed_is_cut_into_panels():
    outline = wavy(1500, 1100, 5)
    case = case_of(job_of(outline))
    after = with_spare(case, Arrangement())
    bits = cut_up(case.hides["h"].hide, after.cuts)
    assert len(after.grounds) > 4
    for ground in after.grounds:
        assert bed_angle(ground.polygon, *case.bed_mm) is not None
        assert any(bit.symmetric_difference(ground.polygon).area < 1.0 for bit in bits)
    assert sum(ground.polygon.area for ground in after.grounds) > 0.98 * outline.area


def test_a_hide_is_cut_up_anew_for_a_piece_that_its_panels_leave_no_room_for():
    strap, flap = Part("strap", box(0, 0, 560, 30)), Part("flap", box(0, 0, 560, 320))
    translator = translator_of(job_of(box(0, 0, 1190, 395), 1, (strap, flap)))
    index = {wish.part.name: number for number, wish in enumerate(translator.case.wishes)}
    hide = translator.case.hides["h"].hide
    cuts = tuple(cut_across("h", hide.outline, 0.0, place) for place in (300.0, 900.0))
    grounds = tuple(Ground("h", box(low, 0, high, 395)) for low, high in ((0, 300), (300, 900), (900, 1190)))
    made = Arrangement(grounds, cuts, {index["strap"]: Lie(1, 320.0, 180.0, 0.0)})
    clock = Clock(Stop(iterations=200), of=2)
    with Crew(translator, 1) as crew:
        anew = cut_anew(translator, made, clock, crew, 1)
        assert set(anew.lies) == set(index.values()) and anew.grounds != grounds
        assert cut_anew(translator, anew, clock, crew, 1) is anew


def test_panels_of_whole_leather_are_cut_out_of_hides_that_make_many():
    small = replace(MACHINE, bed_width_mm=300, bed_height_mm=200)
    case = case_of(job_of(wavy(1500, 1200, 4), 40, machine=small))
    made = arrange(case, Clock(Stop(iterations=60)), inner=True)
    used = {lie.ground for lie in made.lies.values()}
    boxes = {number: made.grounds[number].polygon.minimum_rotated_rectangle for number in used}
    whole = [
        number for number in used if made.grounds[number].polygon.area > 0.97 * boxes[number].area > 0.5 * 299 * 199
    ]
    assert len(made.lies) == 40 and len(whole) == len(used)
    bits = cut_up(case.hides["h"].hide, made.cuts)
    assert all(any(same_leather(made.grounds[number].polygon, bit) for bit in bits) for number in used)
    question = Translator(case).question(list(made.grounds), dict.fromkeys(made.lies, 0), {}, {})
    assert overlaps(question.problem, question.solution(made.lies)) == []
