"""Rectangles on rectangular hides, so that what holds and what has room is known by hand."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from planning_jobs import MACHINE, SETTING, SLOPE, THICK, THIN
from shapely.geometry import box

from nesting.engine import Stop
from nesting.errors import ModelError
from nesting.geometry import place
from nesting.leather.knife import same_leather
from nesting.model import Cut, Direction, Hide, Job, Margins, OrderLine, Part, Product, Reading, Workshop, Zone
from nesting.planning.hands import burnt, pinned, spoiled
from nesting.planning.keeping import AS_BURNT, keep
from nesting.planning.plan import plan
from nesting.planning.prepare import prepare
from nesting.referee.rules import check

PLATE = Part("plate", box(0, 0, 100, 50), direction=Direction("fixed", turn=False))
MARGINS = Margins(kerf_mm=0.2, gap_mm=0.8, edge_mm=3.0, flaw_mm=1.0)
SET = Product("set", (PLATE,))
HIDE = Hide("h", box(0, 0, 520, 120), nominal_mm=1.5, tannage="vegetable")
"""Room for two rows of five plates: 5 x 101 + 5 and 2 x 51 + 5 mm."""
STOP = Stop(iterations=12)


def job_of(quantity=4, hides=(HIDE,), products=(SET,), orders=None, margins=MARGINS, machine=MACHINE):
    workshop = Workshop(machine, (SETTING,), margins, thickness_spread_mm=0.1)
    lines = orders or (OrderLine("A", products[0].name, quantity, date(2026, 3, 2)),)
    return Job(workshop, tuple(products), tuple(hides), tuple(lines))


def planned(job, before=None, resume=False, stop=STOP, **more):
    prepared = prepare(job)
    kept = None if before is None else keep(prepared, before, resume)
    layout = plan(job, stop, workers=1, prepared=prepared, kept=kept, **more)
    assert check(layout) == []
    return layout


def spots(layout):
    return {placement.key: placement.spot for placement in layout.placements}


def laid_at(placement, x, y):
    return replace(placement, x=x, y=y, angle=0.0, outline=place(PLATE.outline, x, y, 0.0))


@pytest.fixture(scope="module")
def first():
    return planned(job_of())


def test_what_holds_stays_when_an_order_is_added(first):
    more = job_of(orders=(*job_of().orders, OrderLine("B", "set", 6, date(2026, 3, 1), 1)))
    resumed = planned(more, first, resume=True)
    assert spots(first).items() <= spots(resumed).items()
    assert len(resumed.placements) == 10


def test_what_is_left_out_makes_what_is_loose_move():
    # three plates half way up leave no room for a strap as long as the hide; in one row they do
    long = Product("strap", (Part("strap", box(0, 0, 505, 50), direction=PLATE.direction),))
    job = job_of(3, products=(SET, long))
    layout = planned(job)
    spread = [laid_at(p, 10.0 + 130 * n, 35.0) for n, p in enumerate(layout.placements)]
    layout = replace(layout, placements=tuple(spread))
    assert check(layout) == []
    more = replace(job, orders=(*job.orders, OrderLine("B", "strap", 1, date(2026, 3, 2))))
    assert len(planned(more, layout, resume=True).placements) == 4
    held = planned(more, pinned(layout, {spread[0].key}), resume=True)
    assert spots(held)[spread[0].key] == spread[0].spot and [u.order for u in held.unplaced] == ["B"]


def test_what_no_longer_holds_is_placed_anew_and_said(first):
    spoilt = first.placements[0]
    scar = Zone(spoilt.outline.centroid.buffer(5), "D")
    hide = replace(HIDE, zones=(scar,))
    kept = keep(prepare(job_of(hides=(hide,))), first, resume=True)
    assert [(part.key, why) for part, why in kept.dropped] == [(spoilt.key, "it lies on a flaw of hide h")]
    resumed = planned(job_of(hides=(hide,)), first, resume=True)
    assert len(resumed.placements) == 4
    assert spots(first).items() - spots(resumed).items() == {(spoilt.key, spoilt.spot)}


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"hides": (replace(HIDE, nominal_mm=2.5),)}, "no setting covers hide h any longer"),
        ({"hides": (replace(HIDE, id="other"),)}, "hide h is not among those to use"),
        ({"orders": (OrderLine("B", "set", 4, date(2026, 3, 2)),)}, "no order has it any longer"),
        ({"products": (Product("set", (PLATE,), colour="black"),)}, "hide h is not black"),
        ({"machine": replace(MACHINE, bed_width_mm=300.0)}, "panel 1 of hide h does not fit the bed any longer"),
        (
            {"margins": replace(MARGINS, edge_mm=60.0)},
            "it lies nearer than 60 mm to an edge of hide h or 1.5 mm to a knife line",
        ),
    ],
)  # fmt: skip
def test_the_reason_is_told_for_what_no_longer_holds(first, change, why):
    kept = keep(prepare(job_of(**change)), first, resume=True)
    assert {reason for _, reason in kept.dropped} == {why} and kept.loose == ()


def test_parts_that_come_too_near_each_other_give_way_but_for_the_first(first):
    kept = keep(prepare(job_of(margins=replace(MARGINS, gap_mm=5.0))), first, resume=True)
    reasons = [why for _, why in kept.dropped]
    assert reasons and all(why.startswith("it lies too near A set plate") for why in reasons)
    assert len(kept.loose) + len(reasons) == 4


def test_pinned_parts_stay_in_every_plan_and_others_do_not(first):
    last = first.placements[-1]
    moved = laid_at(last, 300.0, 40.0)
    before = pinned(replace(first, placements=(*first.placements[:-1], moved)), {last.key})
    anew = planned(job_of(), before)
    assert spots(anew)[last.key] == moved.spot and len(anew.placements) == 4
    assert [p.key for p in anew.placements if p.pinned] == [last.key]
    free = pinned(before, {last.key}, stay=False)
    assert keep(prepare(job_of()), free).placements == ()


def test_a_pinned_part_that_cannot_stay_is_let_go_and_said(first):
    before = pinned(first, {placement.key for placement in first.placements})
    kept = keep(prepare(job_of(hides=(replace(HIDE, zones=(Zone(box(0, 0, 260, 120), "E"),)),))), before)
    assert {why for part, why in kept.dropped} == {"it lies on a flaw of hide h"}


def test_nothing_is_added_to_a_burnt_panel():
    # a hide of two beds: what comes next must go to the other panel though the first has room
    hide = replace(HIDE, outline=box(0, 0, 1100, 120))
    job = job_of(2, hides=(hide,))
    before = planned(job)
    panel = before.panels[0]
    assert panel.polygon.area > 5 * PLATE.outline.area
    done = burnt(before, {("h", panel.id)})
    more = replace(job, orders=(OrderLine("A", "set", 5, date(2026, 3, 2)),))
    for resume in (False, True):
        after = planned(more, done, resume)
        assert spots(before).items() <= spots(after).items() and len(after.placements) == 5
        assert {p.panel for p in after.placements if p.key not in spots(before)} == {"2"}
        assert after.burnt == done.burnt
    assert planned(job, burnt(done, {("h", panel.id)}, done=False), True).burnt == ()


def test_a_hide_laid_whole_on_the_bed_is_done_when_burnt(first):
    more = job_of(5, hides=(HIDE, replace(HIDE, id="fresh")))
    after = planned(more, burnt(first, {("h", "1")}))
    assert [p.hide for p in after.placements] == ["h"] * 4 + ["fresh"]


def test_a_spoiled_part_is_made_again_elsewhere_and_its_leather_is_gone(first):
    job = job_of(hides=(HIDE, replace(HIDE, id="fresh")))
    part = first.placements[1]
    before = spoiled(replace(first, hides=job.hides), part)
    assert check(before) == [] and [u.reason.split(":")[0] for u in before.unplaced] == ["spoiled at the machine"]
    after = planned(job, before, resume=True)
    assert spots(after).keys() == spots(first).keys()
    assert {key: spot for key, spot in spots(after).items() if key != part.key} == {
        key: spot for key, spot in spots(first).items() if key != part.key
    }
    assert spots(after)[part.key].hide == "fresh" and [p.key for p in after.lost] == [part.key]


def test_a_spoiled_part_comes_from_the_hide_of_its_piece_or_its_lot():
    pair = Product("pair", (PLATE, replace(PLATE, name="back")), "piece")
    wide = replace(HIDE, outline=box(0, 0, 900, 120))
    before = planned(job_of(1, hides=(wide,), products=(pair,)))
    spare = replace(HIDE, id="spare", outline=box(0, 0, 110, 60))
    job = job_of(1, hides=(spare, wide), products=(pair,))
    after = planned(job, spoiled(before, before.placements[0]))
    assert {p.hide for p in after.placements} == {"h"} and len({p.panel for p in after.placements}) == 2
    by_lot = Product("pair", pair.parts, same_lot=True)
    lots = (spare, replace(wide, lot="7"), replace(HIDE, id="brother", lot="7"))
    before = planned(job_of(1, hides=lots, products=(by_lot,)))
    gone = before.placements[0]
    after = planned(job_of(1, hides=lots, products=(by_lot,)), spoiled(before, gone))
    assert len(after.placements) == 2 and {p.hide for p in after.placements} <= {"h", "brother"}


def test_the_rest_of_a_piece_stays_when_the_spoiled_part_finds_no_room(first):
    full = planned(job_of(10))
    part = full.placements[0]
    after = planned(job_of(10), spoiled(full, part), resume=True)
    assert len(after.placements) == 9 and [(u.piece, u.part) for u in after.unplaced] == [(part.piece, "plate")]


def test_burnt_parts_keep_their_setting_though_the_book_has_changed(first):
    job = job_of(5, hides=(HIDE, replace(HIDE, id="fresh")))
    slower = replace(SETTING, speed_mm_s=8)
    job = replace(job, workshop=replace(job.workshop, settings=(slower,)))
    after = planned(job, burnt(first, {("h", "1")}))
    assert {after.setting_of(p) for p in after.on("h")} == {replace(SETTING, name=AS_BURNT.format(SETTING.name))}
    assert {after.setting_of(p) for p in after.on("fresh")} == {slower}


def test_what_is_burnt_is_not_judged_by_what_is_known_since(first):
    thicker = tuple(Reading(x, y, 2.6) for x in (50, 200, 400) for y in (20, 60, 100))
    after = planned(job_of(hides=(replace(HIDE, readings=thicker),)), burnt(first, {("h", "1")}))
    assert spots(after) == spots(first)


def test_a_burnt_part_that_no_order_wants_is_lost(first):
    after = planned(job_of(3), burnt(first, {("h", "1")}))
    assert len(after.placements) == 3 and [p.piece for p in after.lost] == [4]


def test_a_piece_that_is_cut_counts_for_one_that_is_still_wanted():
    before = planned(job_of(12, hides=(replace(HIDE, outline=box(0, 0, 1600, 120)),)))
    panel = before.panels[-1].id
    cut = [p for p in before.placements if p.panel == panel]
    assert max(p.piece for p in cut) > len(cut) > 0
    after = planned(job_of(len(cut), hides=before.hides), burnt(before, {("h", panel)}))
    assert {p.spot for p in after.placements} == {p.spot for p in cut} and after.lost == ()


def test_a_hide_drawn_anew_since_a_panel_was_burnt_is_refused(first):
    job = job_of(hides=(replace(HIDE, outline=box(0, 0, 500, 119)),))
    with pytest.raises(ModelError, match="drawn otherwise than when its panel 1 was burnt"):
        keep(prepare(job), burnt(first, {("h", "1")}))


def test_burnt_parts_stay_though_their_hide_is_no_longer_there(first):
    job = job_of(5, hides=(replace(HIDE, id="fresh"),))
    after = planned(job, burnt(first, {("h", "1")}))
    assert [p.hide for p in after.placements] == ["h"] * 4 + ["fresh"]


def test_with_nothing_new_the_search_goes_on_and_is_no_worse(first):
    apart = [laid_at(p, 5.0 + 130 * n, 60.0) for n, p in enumerate(first.placements)]
    before = replace(first, placements=tuple(apart))
    after = planned(job_of(), before, resume=True)
    assert max(p.outline.bounds[2] for p in after.placements) < 400 < apart[-1].outline.bounds[2]


def test_a_second_setting_stays_with_the_parts_that_need_it():
    # the thinner is burnt slower, so that no setting can be worked out between them
    job = job_of(24, hides=(replace(HIDE, outline=box(0, 0, 600, 400), readings=SLOPE),))
    job = replace(job, workshop=replace(job.workshop, settings=(replace(THIN, speed_mm_s=5), THICK)))
    before = planned(job)
    assert len({p.setting for p in before.placements}) == 2
    fewer = replace(job, orders=(replace(job.orders[0], quantity=len(before.placements) - 1),))
    after = planned(fewer, before, resume=True)
    assert {p.key: (p.spot, p.setting) for p in after.placements}.items() <= {
        p.key: (p.spot, p.setting) for p in before.placements
    }.items()


def test_knife_lines_of_what_stays_are_kept_and_no_others():
    hide = replace(HIDE, outline=box(0, 0, 1600, 120))
    before = planned(job_of(12, hides=(hide,)))
    assert len(before.panels) >= 2 and all(isinstance(cut, Cut) for cut in before.cuts)
    first_panel = before.panels[0]
    kept = keep(prepare(job_of(12, hides=(hide,))), burnt(before, {("h", first_panel.id)}))
    assert len(kept.cuts) == 1 and kept.panels == (first_panel,)


def test_a_hide_cut_into_already_is_used_before_a_fresh_one_and_for_fillers(first):
    # the fresh hide costs less than the other did, which is paid for by now
    hides = (
        replace(HIDE, outline=box(0, 0, 300, 120), id="fresh", price=Decimal(40)),
        replace(HIDE, price=Decimal(50)),
    )
    pins = pinned(first, {placement.key for placement in first.placements})
    after = planned(job_of(6, hides=hides), pins)
    assert {placement.hide for placement in after.placements} == {"h"}
    spare = Product("spare", (PLATE,), filler=True)
    lines = (OrderLine("A", "set", 4, date(2026, 3, 2)), OrderLine("stall", "spare", 4, date(2026, 3, 2)))
    after = planned(job_of(hides=hides, products=(SET, spare), orders=lines), pins)
    assert [placement.hide for placement in after.placements] == ["h"] * 8


@pytest.mark.parametrize("seed", range(6))
def test_whatever_happens_in_a_week_what_is_settled_stays_and_every_layout_is_sound(seed):
    random = np.random.default_rng(seed)
    plates = [
        Part(f"p{n}", box(0, 0, *random.integers(30, 120, 2)), direction=Direction("across", 8.0)) for n in range(3)
    ]
    products = (
        Product("set", tuple(plates), "piece"),
        Product("one", (plates[0],)),
        replace(SET, filler=True, name="f"),
    )
    hides = [replace(HIDE, id=f"h{n}", outline=box(0, 0, *random.integers(300, 900, 2))) for n in range(2)]
    lines, layout = [], None
    for day in range(5):
        name = products[int(random.integers(3))].name
        lines.append(OrderLine(f"O{day}", name, int(random.integers(1, 5)), date(2026, 3, 2 + day)))
        if day == 2:
            lines[0] = replace(lines[0], quantity=max(lines[0].quantity - 1, 1))
        if day == 3:
            x, y = random.integers(0, 300, 2)
            hides[0] = replace(hides[0], zones=(Zone(box(x, y, x + 60, y + 60), "D"),))
        before = layout
        job, resume = job_of(hides=hides, products=products, orders=lines), bool(random.random() < 0.5)
        layout = planned(job, layout, resume, Stop(iterations=4))
        if before is not None:
            cut = {part.spot for part in (*before.placements, *before.lost) if before.is_burnt(part)}
            assert cut <= {part.spot for part in (*layout.placements, *layout.lost)}
            still = {part.key for part in layout.placements}
            pins = [p for p in before.placements if p.pinned and p.key in still and not hides[0].zones]
            assert all(spots(layout)[p.key] == p.spot for p in pins)
        some = [part for part in layout.placements if random.random() < 0.2]
        layout = pinned(layout, {part.key for part in some})
        if layout.placements and random.random() < 0.6:
            part = layout.placements[int(random.integers(len(layout.placements)))]
            layout = spoiled(layout, part) if random.random() < 0.5 else burnt(layout, {(part.hide, part.panel)})
        assert check(layout) == []


@pytest.mark.parametrize("quantity", [8, 10])
def test_panels_of_the_same_leather_keep_their_numbers(quantity):
    machine = replace(MACHINE, bed_width_mm=300.0)
    layout = planned(job_of(8, machine=machine))
    assert len(layout.panels) == 2
    other = {panel.id: layout.panels[1 - n].id for n, panel in enumerate(layout.panels)}
    named = replace(
        layout,
        panels=tuple(replace(panel, id=other[panel.id]) for panel in layout.panels),
        placements=tuple(replace(placement, panel=other[placement.panel]) for placement in layout.placements),
    )
    assert check(named) == []
    resumed = planned(job_of(quantity, machine=machine), named, resume=True)
    before = {panel.id: panel.polygon for panel in named.panels}
    for panel in resumed.panels:
        same = [name for name, polygon in before.items() if same_leather(polygon, panel.polygon)]
        assert same in ([], [panel.id])
    assert any(same_leather(panel.polygon, polygon) for panel in resumed.panels for polygon in before.values())
