from dataclasses import replace
from datetime import date

import pytest
from shapely.geometry import Polygon, box

from nesting.engine import Stop
from nesting.model import (
    Direction,
    Hide,
    Job,
    Machine,
    Margins,
    OrderLine,
    Part,
    Product,
    Reading,
    Setting,
    Suggestion,
    Workshop,
    Zone,
)
from nesting.planning.plan import plan
from nesting.planning.ready import ready
from nesting.planning.reasons import reason
from nesting.planning.wishes import wanted
from nesting.referee.rules import check

SETTING = Setting("1.5 mm", 1.5, 10, 60, 2, 1.2, 1.8)
WORKSHOP = Workshop(Machine("laser", 600, 400, 40), (SETTING,), Margins(), thickness_spread_mm=0.1)
TAG = Part("tag", Polygon([(0, 0), (70, 0), (70, 30), (20, 45), (0, 30)]))
HIDE = Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, tannage="vegetable")
STOP = Stop(iterations=6)


def job_of(parts=(TAG,), quantity=4, hides=(HIDE,), workshop=WORKSHOP, same_hide="no", filler=False, **line):
    product = Product("tag set", tuple(parts), same_hide, filler)
    return Job(workshop, (product,), tuple(hides), (OrderLine("A-1", "tag set", quantity, date(2026, 3, 2), **line),))


def planned(job, stop=STOP):
    """A plan that the referee found sound."""
    layout = plan(job, stop)
    assert check(layout) == []
    return layout


def test_everything_is_placed_when_there_is_room():
    layout = planned(job_of(quantity=10))
    assert len(layout.placements) == 10 and layout.unplaced == ()


def test_the_same_seed_and_iterations_give_the_same_layout():
    first, second = (plan(job_of(quantity=8), STOP, seed=4) for _ in range(2))
    assert first.placements == second.placements


def test_parts_keep_off_zones_below_their_grade():
    bad = replace(HIDE, zones=(Zone(box(0, 0, 300, 300), "D"),))
    layout = planned(job_of(hides=(bad,), quantity=6))
    assert all(p.outline.bounds[0] >= 301 - 1e-6 for p in layout.placements)
    tolerant = planned(job_of((replace(TAG, grade="D"),), hides=(bad,), quantity=6))
    assert min(p.outline.bounds[0] for p in tolerant.placements) < 100


def test_suggested_flaws_change_no_layout_until_accepted():
    suggestion = Suggestion(box(0, 0, 300, 300), "D", "stain", 0.9)
    plain, suggested, accepted = (
        planned(job_of(hides=(hide,), quantity=6))
        for hide in (HIDE, replace(HIDE, suggestions=(suggestion,)), replace(HIDE, zones=(suggestion.accepted(),)))
    )
    assert suggested.placements == plain.placements
    assert accepted.placements != plain.placements


def test_an_own_zone_may_lie_on_worse_leather():
    bad = replace(HIDE, outline=box(0, 0, 100, 120), zones=(Zone(box(0, 0, 100, 62), "D"),))
    folded = Part(
        "folded", box(0, 0, 60, 100), zones=(Zone(box(0, 0, 60, 50), "E"),), direction=Direction("fixed", turn=False)
    )
    layout = planned(job_of((folded,), quantity=1, hides=(bad,)))
    assert len(layout.placements) == 1
    assert plan(job_of((replace(folded, zones=()),), quantity=1, hides=(bad,)), STOP).placements == ()


def test_directions_follow_the_backbone():
    spine = replace(HIDE, backbone=((250, 0), (280, 300)))
    along = replace(TAG, direction=Direction("along", 5))
    across = replace(TAG, name="strip", direction=Direction("across", 5))
    layout = planned(job_of((along, across), hides=(spine,)))
    assert len(layout.placements) == 8


def test_thin_leather_is_left_alone():
    drift = tuple(Reading(x, y, 0.9 + 0.0015 * x) for x in (10, 130, 250, 370, 490) for y in (20, 150, 280))
    layout = planned(job_of(hides=(replace(HIDE, nominal_mm=None, readings=drift),), quantity=8))
    assert layout.placements and min(p.outline.bounds[0] for p in layout.placements) > 150


def test_a_part_keeps_to_its_own_thickness_range():
    drift = tuple(Reading(x, y, 1.3 + 0.0008 * x) for x in (10, 130, 250, 370, 490) for y in (20, 150, 280))
    stout = replace(TAG, thickness_mm=(1.45, 1.8))
    layout = planned(job_of((stout,), hides=(replace(HIDE, nominal_mm=None, readings=drift),), quantity=6))
    assert layout.placements and min(p.outline.bounds[0] for p in layout.placements) > 150


def test_matching_parts_come_from_one_hide():
    hides = tuple(replace(HIDE, id=f"h{n}", outline=box(0, 0, 240, 110)) for n in range(3))
    layout = planned(
        job_of(quantity=3, hides=hides, parts=(replace(TAG, count=3),), same_hide="piece"), Stop(iterations=30)
    )
    assert len(layout.placements) == 9
    for piece in (1, 2, 3):
        assert len({p.hide for p in layout.placements if p.piece == piece}) == 1


def test_a_mirrored_twin_comes_with_every_copy():
    layout = planned(job_of((replace(TAG, mirrored_twin=True),), quantity=3))
    assert sorted(p.mirrored for p in layout.placements) == [False] * 3 + [True] * 3


def test_a_hide_bigger_than_the_bed_is_cut_into_panels():
    big = replace(HIDE, outline=box(0, 0, 900, 700))
    layout = planned(job_of(hides=(big,), quantity=150))
    assert len(layout.panels) >= 2 and len(layout.placements) == 150


def test_what_fits_on_one_panel_takes_no_more():
    big = replace(HIDE, outline=box(0, 0, 900, 700))
    layout = planned(job_of(hides=(big,), quantity=30))
    assert len(layout.panels) == 1 and len(layout.cuts) == 2


def test_urgent_orders_come_first_and_fillers_last():
    urgent, late, stall = (
        Product(name, (replace(TAG, name=name),), filler=name == "stall") for name in ("urgent", "late", "stall")
    )
    lines = (
        OrderLine("F", "stall", 9, date(2026, 1, 1), 1),
        OrderLine("L", "late", 9, date(2026, 3, 9), 2),
        OrderLine("U", "urgent", 9, date(2026, 3, 2), 2),
    )
    job = Job(WORKSHOP, (urgent, late, stall), (replace(HIDE, outline=box(0, 0, 320, 170)),), lines)
    assert [wish.order for wish in wanted(job)][::9] == ["U", "L", "F"]
    layout = planned(job, Stop(iterations=10))
    count = {order: sum(p.order == order for p in layout.placements) for order in "ULF"}
    assert count["U"] == 9 and count["F"] < 9


@pytest.mark.parametrize(
    "part, hide, text",
    [
        (Part("slab", box(0, 0, 700, 20)), HIDE, "too big for any hide"),
        (Part("slab", box(0, 0, 450, 450)), replace(HIDE, outline=box(0, 0, 900, 900)), "too big for the bed"),
        (TAG, replace(HIDE, zones=(Zone(box(-1, -1, 501, 301), "C"),)), "no region of its grade"),
        (replace(TAG, thickness_mm=(2.0, 3.0)), HIDE, "thickness"),
        (TAG, HIDE, "no room left"),
    ],
)
def test_the_reason_for_leaving_a_part_out_is_the_true_one(part, hide, text):
    job = job_of((part,), hides=(hide,))
    assert reason(part, ready(job), job) == text


def test_a_part_that_cannot_be_placed_is_listed_with_its_reason():
    layout = planned(job_of((Part("slab", box(0, 0, 700, 20)),), quantity=2))
    assert [u.reason for u in layout.unplaced] == ["too big for any hide"] * 2


def test_a_hide_that_no_setting_covers_is_told_and_left_alone():
    thick = replace(HIDE, id="thick", nominal_mm=4.0)
    item = ready(job_of(hides=(thick,)))[0]
    assert not item.open and "no tested setting covers hide thick" in item.warnings[0]
    assert planned(job_of(hides=(thick,))).placements == ()


def test_a_hide_of_unknown_thickness_is_left_alone():
    assert "neither nominal_mm nor readings" in ready(job_of(hides=(replace(HIDE, nominal_mm=None),)))[0].warnings[0]


def test_leather_that_is_not_burnt_needs_no_setting():
    chrome = replace(HIDE, tannage="chrome", nominal_mm=4.0)
    layout = planned(job_of(hides=(chrome,)))
    assert len(layout.placements) == 4 and layout.settings == {}


def test_a_week_without_orders_gives_an_empty_layout():
    job = replace(job_of(), orders=())
    layout = planned(job)
    assert layout.placements == () and layout.wanted == {}
