from dataclasses import replace

import pytest
from layouts import TAG, layout, put
from shapely.geometry import box

from nesting.geometry import place
from nesting.model import Burnt, Cut, Panel, Spot, Unplaced, Zone
from nesting.planning.hands import burnt, pinned, spoiled
from nesting.referee.rules import check

HALVES = (Panel("1", "h", box(0, 0, 250, 300)), Panel("2", "h", box(250, 0, 500, 300)))


def halves(**more):
    """Two tags on each of two panels of one hide."""
    placements = tuple(
        put(x=x, y=y, piece=piece, panel=panel)
        for piece, (panel, x, y) in enumerate([("1", 20, 20), ("1", 20, 80), ("2", 280, 20), ("2", 280, 80)], 1)
    )
    return layout(*placements, panels=HALVES, cuts=(Cut("h", (250, 0), (250, 300)),), **more)


def moved(placement, dx):
    return replace(
        placement, x=placement.x + dx, outline=place(TAG.outline, placement.x + dx, placement.y, placement.angle)
    )


def changed(before, number, part):
    return replace(before, placements=(*before.placements[:number], part, *before.placements[number + 1 :]))


BURNT = burnt(halves(), {("h", "1")})


def test_a_layout_with_a_burnt_panel_a_pin_and_a_spoiled_part_is_sound():
    assert check(BURNT) == [] and check(pinned(BURNT, {BURNT.placements[3].key})) == []
    assert check(spoiled(BURNT, BURNT.placements[0])) == []


@pytest.mark.parametrize("dx", [0.002, 5.0])
def test_a_pinned_part_that_was_moved_is_found(dx):
    before = pinned(halves(), {halves().placements[2].key})
    (finding,) = check(changed(before, 2, moved(before.placements[2], dx)))
    assert (finding.rule, finding.what, finding.who) == (10, "pinned", before.placements[2].name)


def test_a_pinned_part_on_another_hide_is_found():
    pin = Spot("elsewhere", 280, 20, 0.0)
    assert [f.rule for f in check(changed(halves(), 2, replace(halves().placements[2], pinned=pin)))] == [10]


@pytest.mark.parametrize(
    ("fault", "value"),
    [
        (lambda made: changed(made, 0, moved(made.placements[0], 5.0)), "lies on hide h at (25.000, 20.000)"),
        (lambda made: changed(made, 2, replace(moved(made.placements[2], -200), panel="1")), "which is burnt already"),
        (lambda made: changed(made, 0, replace(moved(made.placements[0], 380), panel="2")),
         "was cut from panel 1 of hide h"),
        (lambda made: replace(made, burnt=(Burnt(Panel("1", "h", box(0, 0, 249, 300)), made.burnt[0].parts),)),
         "has another outline"),
        (lambda made: replace(made, burnt=(*made.burnt, Burnt(Panel("3", "h", box(0, 0, 9, 9)), ()))),
         "is not among the panels"),
        (lambda made: replace(made, lost=(made.placements[0],)), "and is lost there"),
        (lambda made: replace(made, lost=(put(piece=9, x=400, y=200, panel="2"),)), "was cut from panel 2 of hide h"),
    ],
)  # fmt: skip
def test_each_fault_of_a_burnt_panel_is_found_by_its_rule(fault, value):
    findings = check(fault(BURNT))
    assert {finding.rule for finding in findings} == {10} and value in findings[0].value


def test_what_is_cut_must_keep_off_what_is_gone():
    after = spoiled(halves(), halves().placements[0])
    # on the spoiled part's leather, though by its panel's name it is elsewhere
    again = replace(put(x=22, y=22, piece=1, panel="1"), panel="2")
    findings = check(replace(after, placements=(*after.placements, again), unplaced=()))
    assert {"overlap"} <= {f.what for f in findings if f.rule == 1}


def test_burnt_parts_are_not_judged_by_what_is_known_since():
    hide = replace(BURNT.hides[0], zones=(Zone(box(0, 0, 240, 300), "E"),))
    assert check(replace(BURNT, hides=(hide,))) == []
    assert {f.rule for f in check(replace(halves(), hides=(hide,)))} == {2}
    wider = replace(BURNT.workshop, margins=replace(BURNT.workshop.margins, gap_mm=25.0))
    # the burnt two are 19 mm apart, the others as well
    names = {finding.who for finding in check(replace(BURNT, workshop=wider))}
    assert names == {f"{BURNT.placements[2].name} and {BURNT.placements[3].name}"}


def test_only_a_piece_that_is_pinned_or_cut_may_be_in_part():
    left = Unplaced("A", "tag", "flap", 3, 1, False, "no room left")
    whole = halves(unplaced=(left,), wanted=None)
    flaps = tuple(put(x=x, y=y, piece=n, panel=p, part="flap") for n, p, x, y in
                  ((1, "1", 120, 20), (2, "1", 120, 80), (4, "2", 380, 80)))  # fmt: skip
    whole = replace(
        whole, placements=(*whole.placements, *flaps), wanted={("A", "tag", "tag"): 4, ("A", "tag", "flap"): 4}
    )
    assert [finding.rule for finding in check(whole)] == [8]
    assert check(pinned(whole, {whole.placements[2].key})) == []
    assert check(burnt(whole, {("h", "2")})) == []
