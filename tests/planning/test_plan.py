import math
from dataclasses import replace
from datetime import date

import pytest
from planning_jobs import SLOPE, TAG, THICK, job_of, sound
from shapely.geometry import Polygon, box

import nesting
from nesting.engine import Cancel, Stop
from nesting.model import (
    Direction,
    Hide,
    Job,
    OrderLine,
    Part,
    Product,
    Reading,
    Suggestion,
    Workshop,
    Zone,
)
from nesting.planning import plan as module
from nesting.planning.limits import PlanLimits
from nesting.planning.plan import plan
from nesting.planning.prepare import prepare

SMALL = Part("tag", Polygon([(0, 0), (70, 0), (70, 30), (20, 45), (0, 30)]))
HIDE = Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, tannage="vegetable")
STOP = Stop(iterations=6)


def small_job(parts=(SMALL,), quantity=4, hides=(HIDE,), **facts):
    return job_of(parts=parts, quantity=quantity, hides=hides, **facts)


def planned(job, stop=STOP, **more):
    return sound(job, stop, **more)


def test_everything_is_placed_when_there_is_room():
    layout = planned(small_job(quantity=10))
    assert len(layout.placements) == 10 and layout.unplaced == ()


def test_the_same_seed_and_iterations_give_the_same_layout():
    first, second = (plan(small_job(quantity=8), STOP, seed=4, workers=1) for _ in range(2))
    assert first.placements == second.placements


def test_parts_keep_off_zones_below_their_grade():
    bad = replace(HIDE, zones=(Zone(box(0, 0, 300, 300), "D"),))
    layout = planned(small_job(hides=(bad,), quantity=6))
    assert all(p.outline.bounds[0] >= 301 - 1e-6 for p in layout.placements)
    tolerant = planned(small_job((replace(SMALL, grade="D"),), hides=(bad,), quantity=6))
    assert min(p.outline.bounds[0] for p in tolerant.placements) < 100


def test_suggested_flaws_change_no_layout_until_accepted():
    suggestion = Suggestion(box(0, 0, 300, 300), "D", "stain", 0.9)
    plain, suggested, accepted = (
        planned(small_job(hides=(hide,), quantity=6))
        for hide in (HIDE, replace(HIDE, suggestions=(suggestion,)), replace(HIDE, zones=(suggestion.accepted(),)))
    )
    assert suggested.placements == plain.placements
    assert accepted.placements != plain.placements


def test_an_own_zone_may_lie_on_worse_leather():
    bad = replace(HIDE, outline=box(0, 0, 100, 120), zones=(Zone(box(0, 0, 100, 62), "D"),))
    folded = Part(
        "folded", box(0, 0, 60, 100), zones=(Zone(box(0, 0, 60, 50), "E"),), direction=Direction("fixed", turn=False)
    )
    layout = planned(small_job((folded,), quantity=1, hides=(bad,)))
    assert len(layout.placements) == 1
    assert planned(small_job((replace(folded, zones=()),), quantity=1, hides=(bad,))).placements == ()


def test_directions_follow_the_backbone():
    spine = replace(HIDE, backbone=((250, 0), (280, 300)))
    along = replace(SMALL, direction=Direction("along", 5))
    across = replace(SMALL, name="strip", direction=Direction("across", 5))
    layout = planned(small_job((along, across), hides=(spine,)))
    assert len(layout.placements) == 8


def test_thin_leather_is_left_alone():
    drift = tuple(Reading(x, y, 0.9 + 0.0015 * x) for x in (10, 130, 250, 370, 490) for y in (20, 150, 280))
    layout = planned(small_job(hides=(replace(HIDE, nominal_mm=None, readings=drift),), quantity=8))
    assert layout.placements and min(p.outline.bounds[0] for p in layout.placements) > 150


def test_a_part_keeps_to_its_own_thickness_range():
    drift = tuple(Reading(x, y, 1.3 + 0.0008 * x) for x in (10, 130, 250, 370, 490) for y in (20, 150, 280))
    stout = replace(SMALL, thickness_mm=(1.45, 1.8))
    layout = planned(small_job((stout,), hides=(replace(HIDE, nominal_mm=None, readings=drift),), quantity=6))
    assert layout.placements and min(p.outline.bounds[0] for p in layout.placements) > 150


def test_the_leather_under_each_part_is_in_the_layout():
    layout = sound(job_of(box(0, 0, 600, 400), 6, rows=(THICK,), readings=SLOPE, nominal_mm=None))
    for placement in layout.placements:
        assert 1.2 < placement.under.least_mm < placement.under.greatest_mm < 1.9 and placement.under.confidence >= 0.9


def test_matching_parts_come_from_one_hide():
    hides = tuple(replace(HIDE, id=f"h{n}", outline=box(0, 0, 240, 110)) for n in range(3))
    layout = planned(
        small_job(quantity=3, hides=hides, parts=(replace(SMALL, count=3),), same_hide="piece"), Stop(iterations=30)
    )
    assert len(layout.placements) == 9
    for piece in (1, 2, 3):
        assert len({p.hide for p in layout.placements if p.piece == piece}) == 1


def test_a_mirrored_twin_comes_with_every_copy():
    layout = planned(small_job((replace(SMALL, mirrored_twin=True),), quantity=3))
    assert sorted(p.mirrored for p in layout.placements) == [False] * 3 + [True] * 3


def test_a_hide_bigger_than_the_bed_is_cut_into_panels():
    big = replace(HIDE, outline=box(0, 0, 900, 700))
    layout = planned(small_job((TAG,), hides=(big,), quantity=36))
    assert len(layout.panels) >= 2 and len(layout.placements) == 36


def test_what_fits_on_one_panel_takes_no_more():
    big = replace(HIDE, outline=box(0, 0, 900, 700))
    layout = planned(small_job(hides=(big,), quantity=30))
    assert len(layout.panels) == 1 and len(layout.cuts) == 2


def test_urgent_orders_come_first_and_fillers_last():
    urgent, late, stall = (
        Product(name, (replace(SMALL, name=name),), filler=name == "stall") for name in ("urgent", "late", "stall")
    )
    lines = (
        OrderLine("F", "stall", 9, date(2026, 1, 1), 1),
        OrderLine("L", "late", 9, date(2026, 3, 9), 2),
        OrderLine("U", "urgent", 9, date(2026, 3, 2), 2),
    )
    workshop: Workshop = small_job().workshop
    job = Job(workshop, (urgent, late, stall), (replace(HIDE, outline=box(0, 0, 320, 170)),), lines)
    assert [wish.order for wish in prepare(job).wishes][::9] == ["U", "L", "F"]
    layout = planned(job, Stop(iterations=10))
    count = {order: sum(p.order == order for p in layout.placements) for order in "ULF"}
    assert count["U"] == 9 and count["F"] < 9


def test_a_part_that_cannot_be_placed_is_listed_with_its_reason():
    layout = planned(small_job((Part("slab", box(0, 0, 700, 20)),), quantity=2))
    assert [u.reason for u in layout.unplaced] == ["too big for any hide"] * 2


def test_parts_too_big_for_the_bed_leave_the_others_their_own_names():
    strap = Part("strap", box(0, 0, 900, 40))
    job = small_job((strap, SMALL), quantity=3)
    assert planned(job).placements == ()
    layout = planned(job, partial=True)
    assert layout.partial == ("set",)
    assert [p.part for p in layout.placements] == ["tag"] * 3 and [p.piece for p in layout.placements] == [1, 2, 3]
    assert [(u.part, u.piece) for u in layout.unplaced] == [("strap", 1), ("strap", 2), ("strap", 3)]


def test_a_hide_that_no_setting_covers_is_left_alone():
    assert planned(small_job(hides=(replace(HIDE, id="thick", nominal_mm=4.0),))).placements == ()


def test_leather_that_is_not_burnt_needs_no_setting():
    chrome = replace(HIDE, tannage="chrome", nominal_mm=4.0)
    layout = planned(small_job(hides=(chrome,)))
    assert len(layout.placements) == 4 and layout.settings == {}


def test_a_week_without_orders_gives_an_empty_layout():
    job = replace(small_job(), orders=())
    layout = planned(job)
    assert layout.placements == () and layout.wanted == {}


@pytest.mark.parametrize(
    "outline, quantity, parts",
    [
        (box(0, 0, 500, 300), 40, (TAG, Part("strap", box(0, 0, 900, 40)))),
        (box(0, 0, 900, 700), 40, (TAG,)),
    ],
    ids=["whole", "cut up"],
)
def test_progress_never_falls_and_ends_with_the_layout(outline, quantity, parts):
    told = []
    layout = sound(
        job_of(outline, quantity, parts), progress=told.append, partial=True, limits=PlanLimits(told_every_s=0.0)
    )
    shares, iterations = [run.share for run in told], [run.iterations for run in told]
    assert shares == sorted(shares) and iterations == sorted(iterations) and shares[-1] == 1.0
    # it is told how an inner search goes on as well
    assert len(set(shares)) > 5
    assert {run.of for run in told} == {len(layout.placements) + len(layout.unplaced)}
    assert (told[-1].placed, told[-1].iterations) == (len(layout.placements), layout.iterations)
    assert 0 < told[-1].consumed_mm2 <= outline.area


def test_progress_that_is_no_better_layout_is_told_now_and_then_only():
    told = []
    sound(job_of(box(0, 0, 900, 700), 40), progress=told.append, limits=PlanLimits(told_every_s=1e9))
    figures = [(run.placed, run.unplaced_mm2, run.consumed_mm2) for run in told]
    assert len(set(figures)) >= len(figures) - 2 and told[-1].share == 1.0


def test_the_search_ends_when_everything_has_a_place_and_that_is_enough():
    assert planned(small_job(quantity=3), Stop(iterations=1000, enough_mm2=math.inf)).iterations < 20
    assert planned(small_job(quantity=3), Stop(iterations=30, enough_mm2=0.0)).iterations >= 30


def test_a_search_that_is_cancelled_gives_its_first_complete_layout():
    cancel = Cancel()
    cancel.cancel()
    layout = planned(job_of(box(0, 0, 900, 700), 20), Stop(iterations=10_000, cancel=cancel))
    assert layout.placements and layout.iterations < 200


def test_a_short_search_uses_one_process_and_a_long_one_all_cores(monkeypatch):
    asked = []

    def noted(case, clock, seed, *, more, workers, start, inner):
        asked.append(workers)
        return module.Arrangement()

    monkeypatch.setattr(module, "arrange", noted)
    monkeypatch.setattr(module, "cores", lambda: 7)
    job = small_job()
    for stop, workers in ((Stop(6.9), None), (Stop(6.9), 3), (Stop(15.0), None), (Stop(15.0), 3), (STOP, None)):
        plan(job, stop, workers=workers)
    plan(job, Stop(15.0), limits=PlanLimits(least_crew_s=30.0))
    assert asked == [1, 1, 1, 7, 1, 3, 7, 1, 1]


def test_limits_that_differ_from_the_defaults_are_in_the_layout():
    job = small_job(quantity=1)
    assert planned(job).limits == {}
    assert planned(job, limits=PlanLimits(few_panels=3, full=0.5)).limits == {
        "planning": {"few_panels": 3, "full": 0.5}
    }


def test_the_numbers_of_settings_can_be_given():
    facts = dict(rows=(replace(THICK, thinnest_mm=1.0, name="one"), THICK), readings=SLOPE, nominal_mm=None)
    job = job_of(box(0, 0, 600, 400), 30, **facts)
    limits = PlanLimits(settings_for_orders=1)
    assert len(sound(job, Stop(iterations=3), limits=limits).settings_on("h")) == 1


def test_a_plan_of_what_was_prepared_is_the_plan_of_the_job():
    job = small_job(quantity=5, hides=(HIDE, replace(HIDE, id="other")))
    prepared = nesting.prepare(job)
    assert plan(job, STOP, 3, workers=1, prepared=prepared).placements == plan(job, STOP, 3, workers=1).placements
    one = nesting.plan(job, STOP, prepared=nesting.prepare(job, ["other"]), workers=1)
    assert [hide.id for hide in one.hides] == ["other"]


def test_what_is_prepared_of_another_job_or_with_other_limits_is_refused():
    job = small_job()
    for prepared in (prepare(small_job()), prepare(job, limits=PlanLimits(full=0.5))):
        with pytest.raises(ValueError, match="another job"):
            plan(job, STOP, prepared=prepared)
    for name in ("workers", "settings"):
        with pytest.raises(ValueError, match=f"{name} is 0"):
            plan(job, STOP, **{name: 0})
