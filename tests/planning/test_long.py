"""Parts longer than the bed of 600 mm x 400 mm."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_jobs import MACHINE, STOP, TAG, job_of, sound, wavy
from shapely.geometry import Point, Polygon, box

from nesting.engine import Stop
from nesting.laser.load import stages_of
from nesting.model import Hide, OrderLine, Part, Product, Zone
from nesting.planning.hands import burnt
from nesting.planning.keeping import keep
from nesting.planning.long_parts import told
from nesting.planning.plan import plan
from nesting.planning.prepare import prepare
from nesting.referee.rules import check

HOLES = tuple(Point(40 + 25 * n, 20).buffer(2, 8) for n in range(4))
BELT = Part("belt", box(0, 0, 1000, 40), HOLES)
SIDE = Hide("side", box(0, 0, 1300, 500), nominal_mm=1.5, tannage="vegetable")


def belts(longer="knife", quantity=2, parts=(BELT, TAG), hides=(SIDE,), **facts):
    job = job_of(parts=parts, hides=hides, quantity=quantity)
    return replace(job, products=(replace(job.products[0], longer=longer, **facts),))


def resumed(job, before):
    prepared = prepare(job)
    layout = plan(job, STOP, workers=1, prepared=prepared, kept=keep(prepared, before, True))
    assert check(layout) == []
    return layout


def long_on(layout):
    return {panel.id: panel for panel in layout.panels if panel.longer}


def test_a_belt_is_cut_by_knife_out_of_the_hide_and_no_panel_has_its_leather():
    layout = sound(belts())
    assert layout.unplaced == () and {p.panel for p in layout.placements if p.part == "belt"} == {"L1", "L2"}
    belts_there = [p for p in layout.placements if p.part == "belt"]
    assert all(layout.by_knife(p) and layout.setting_of(p) is None for p in belts_there)
    for placement in belts_there:
        panel = long_on(layout)[placement.panel]
        assert panel.longer == "knife" and panel.polygon.equals(Polygon(placement.outline.exterior))
        assert panel.polygon.area == pytest.approx(1000 * 40) and not panel.polygon.interiors
        assert all(panel.polygon.intersection(p.polygon).area < 1e-3 for p in layout.panels if p is not panel)
    assert all(not layout.by_knife(p) for p in layout.placements if p.part == "tag")


@pytest.mark.parametrize(
    "feed, overhang, how", [("height", 120, "knife"), ("width", 300, "knife"), ("width", 410, "two loads")]
)
def test_a_belt_is_burnt_in_two_loads_only_the_way_and_as_far_as_leather_may_hang_over(feed, overhang, how):
    job = belts("two loads", 1)
    machine = replace(MACHINE, feed_through=feed, overhang_mm=overhang)
    job = replace(job, workshop=replace(job.workshop, machine=machine))
    layout = sound(job)
    (panel,) = long_on(layout).values()
    assert panel.longer == how
    made = stages_of(layout, layout.hides[0]).get(panel.id, (None, []))[1]
    assert len(made) == (2 if how == "two loads" else 0)
    for stage, pose in made:
        left, _, right, _ = pose.put(panel.polygon).bounds
        assert max(-left, right - 600) <= overhang + 1e-6 and (stage.towards in ("left", "right"))


def test_a_belt_burnt_in_two_loads_gets_a_rectangle_with_the_margin_of_a_knife_line_around_it():
    layout = sound(belts("two loads"))
    assert layout.unplaced == ()
    for panel in long_on(layout).values():
        assert panel.longer == "two loads" and panel.polygon.area == pytest.approx(1003 * 43, rel=1e-4)
    assert all(layout.setting_of(p) is not None for p in layout.placements)


@pytest.mark.parametrize(
    "hide, belt",
    [
        (SIDE, replace(BELT, outline=box(0, 0, 1250, 40))),
        (replace(SIDE, tannage="chrome"), BELT),
        (replace(SIDE, nominal_mm=4.0), BELT),
    ],
    ids=["longer than two beds", "not to be burnt", "no setting"],
)
def test_what_cannot_be_burnt_in_two_loads_is_cut_by_knife(hide, belt):
    layout = sound(belts("two loads", 1, (belt,), (hide,)))
    assert [panel.longer for panel in layout.panels] == ["knife"] and layout.unplaced == ()


def test_what_a_product_refuses_or_is_a_filler_is_left_out_with_the_reason():
    assert {u.reason for u in sound(belts("refuse", 1, (BELT,))).unplaced} == {
        'too big for the bed, and its product says longer = "refuse"'
    }
    assert {u.reason for u in sound(belts(quantity=1, parts=(BELT,), filler=True)).unplaced} == {
        "too big for the bed, and no place is kept for fillers"
    }
    assert [(part.how, part.size_mm) for part in told(prepare(belts("refuse", 1)))] == [("refuse", (1000.0, 40.0))]


def test_a_belt_keeps_off_flaws_worse_than_its_grade_and_its_direction():
    scar = Zone(box(0, 0, 1300, 440), "C")
    layout = sound(belts(quantity=1, parts=(BELT,), hides=(replace(SIDE, zones=(scar,)),)))
    assert len(layout.placements) == 1 and layout.placements[0].outline.bounds[1] >= 441 - 1e-3
    none = sound(belts(quantity=2, parts=(BELT,), hides=(replace(SIDE, zones=(scar,)),)))
    assert len(none.placements) == 1
    assert [u.reason for u in none.unplaced] == [
        "no room left: no hide has a free place for belt of 1000.0 x 40.0 mm (39.37 x 1.57 in) in one piece, for it is "
        "longer than the bed"
    ]


def test_a_piece_whose_other_part_finds_no_room_takes_no_belt_out_of_a_hide():
    slab = Part("slab", box(0, 0, 480, 370))
    layout = sound(belts(quantity=3, parts=(BELT, slab)))
    whole = [piece for piece in layout.pieces() if piece.whole]
    assert len(whole) == 2 and len(long_on(layout)) == 2
    assert {u.part for u in layout.unplaced} == {"belt", "slab"}
    assert all(u.reason.startswith(("no room left", "no place found")) for u in layout.unplaced)


def test_a_belt_stands_in_the_way_of_nothing_more_urgent():
    small = replace(SIDE, outline=box(0, 0, 1100, 60))
    products = (Product("belt", (BELT,)), Product("tags", (Part("tag", box(0, 0, 50, 50), count=18),)))
    rush = (OrderLine("A", "belt", 1, date(2026, 3, 2), 3), OrderLine("B", "tags", 1, date(2026, 3, 2), 1))
    job = replace(belts(hides=(small,)), products=products, orders=rush)
    assert {p.part for p in sound(job).placements} == {"tag"}
    calm = tuple(replace(line, priority=4 - line.priority) for line in rush)
    assert {p.part for p in sound(replace(job, orders=calm)).placements} == {"belt"}


def test_parts_of_a_piece_that_must_match_are_cut_from_the_belts_hide():
    hides = (replace(SIDE, id="a", outline=box(0, 0, 1300, 60)), replace(SIDE, id="b"))
    layout = sound(belts(quantity=1, hides=hides, same_hide="piece"))
    assert {p.hide for p in layout.placements} == {"b"}


def test_going_on_a_belt_lies_still_and_a_new_one_finds_its_place():
    before = sound(belts(quantity=1))
    after = resumed(belts(quantity=2), before)
    was = {p.key: p.spot for p in before.placements if p.part == "belt"}
    assert after.unplaced == () and was.items() <= {p.key: p.spot for p in after.placements}.items()


def test_a_belt_no_longer_wanted_gives_its_leather_back_to_the_panel_around_it():
    job = replace(
        belts(),
        products=(Product("belt", (BELT,)), Product("tags", (TAG,))),
        orders=(OrderLine("A", "belt", 1, None), OrderLine("B", "tags", 12, None)),
    )
    before = sound(job)
    after = resumed(replace(job, orders=job.orders[1:]), before)
    assert not long_on(after) and {p.part for p in after.placements} == {"tag"}
    assert after.unplaced == () and {p.spot for p in after.placements} <= {p.spot for p in before.placements}


def test_once_a_panel_is_burnt_the_belts_of_its_hide_are_cut():
    job = belts()
    before = sound(job)
    panel = next(p for p in before.panels if not p.longer)
    after = burnt(before, {(panel.hide, panel.id)})
    assert {one.panel.id for one in after.burnt} == {panel.id, "L1", "L2"}
    assert {one.panel.id for one in burnt(after, {("side", "L1")}, False).burnt} == {panel.id, "L1", "L2"}
    on = resumed(job, after)
    assert {p.key: p.spot for p in on.placements} == {p.key: p.spot for p in before.placements}


def test_a_part_that_fits_a_bigger_bed_now_is_laid_on_a_panel():
    before = sound(belts(quantity=1, parts=(BELT,)))
    job = belts(quantity=1, parts=(BELT,))
    big = replace(job, workshop=replace(job.workshop, machine=replace(MACHINE, bed_width_mm=1400, bed_height_mm=600)))
    after = resumed(big, before)
    assert not long_on(after) and len(after.placements) == 1


def test_a_plan_in_seconds_has_its_belts_too():
    layout = plan(belts(), Stop(seconds=1.5), workers=1)
    assert check(layout) == [] and len(long_on(layout)) == 2 and layout.unplaced == ()


@settings(max_examples=6, deadline=None)
@given(
    st.integers(2, 5),
    st.sampled_from(["knife", "two loads"]),
    st.floats(620, 1100),
    st.integers(1, 4),
)
def test_any_belt_on_any_hide_keeps_every_rule(waves, longer, length, quantity):
    hide = Hide("wavy", wavy(1300, 700, waves), nominal_mm=1.5, tannage="vegetable")
    belt = Part("belt", box(0, 0, length, 35), HOLES)
    layout = sound(belts(longer, quantity, (belt, TAG), (hide,)), Stop(iterations=4))
    assert all(piece.placed in (0, 2) for piece in layout.pieces())
