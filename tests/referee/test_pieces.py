from dataclasses import replace
from datetime import date

import pytest
from layouts import layout, put, rules
from shapely.geometry import box

from nesting.model import Hide, Kind, OrderLine, Panel, Unplaced
from nesting.referee.rules import check

COGNAC = Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, tannage="vegetable", colour="Cognac", leather="Bridle Butt")


def on_hides(*placements, **facts):
    """A layout of hides h, k and l; ``facts`` of hides by id."""
    hides = tuple(
        Hide(name, box(0, 0, 500, 300), nominal_mm=1.5, tannage="vegetable", **facts.get(name, {})) for name in "hkl"
    )
    panels = tuple(Panel("1", hide.id, hide.outline) for hide in hides)
    return replace(layout(*placements), hides=hides, panels=panels)


def found(made):
    return [(finding.rule, finding.what, finding.who) for finding in check(made)]


def left(part, piece=1, copy=1, mirrored=False, product="tag"):
    return Unplaced("A", product, part, piece, copy, mirrored, "no room left")


def test_matching_parts_from_two_hides_fail():
    both = on_hides(put(match="A/tag/1"), put(hide="k", copy=2, match="A/tag/1"))
    assert found(both) == [(6, "match", "A/tag/1")]
    free = replace(both, placements=tuple(replace(p, match="") for p in both.placements))
    assert check(free) == []
    alone = on_hides(put(match="A/tag/1"), put(hide="k", piece=2, match="A/tag/2"))
    assert check(alone) == []


def test_every_match_torn_apart_is_found():
    parts = [put(x=20 + 100 * n, hide=h, copy=n % 2, piece=n // 2, match=str(n // 2)) for n, h in enumerate("hkhk")]
    assert [finding.rule for finding in check(on_hides(*parts))] == [6, 6]


def test_all_pieces_of_an_order_line_may_be_of_one_group_that_is_not_torn():
    whole = [put(x=20 + 100 * n, piece=n, match="A/tag") for n in range(3)]
    assert check(on_hides(*whole)) == []
    assert found(on_hides(*whole[:2], replace(whole[2], hide="k"))) == [(6, "match", "A/tag")]


@pytest.mark.parametrize("match", ["", "A/tag/9"])
def test_a_piece_torn_apart_by_groups_of_another_name_fails(match):
    torn = on_hides(put(match="A/tag/1"), put(hide="k", copy=2, match=match))
    assert found(torn) == [(6, "match", "A tag 1")]


@pytest.mark.parametrize("matches", [("A/tag", "A/tag", ""), ("A/tag", "A/tag", "other"), ("1", "2", "")])
def test_an_order_line_torn_apart_by_groups_of_other_names_fails(matches):
    parts = [put(x=20 + 100 * n, piece=n, match=match) for n, match in enumerate(matches)]
    torn = on_hides(*parts[:2], replace(parts[2], hide="k"))
    assert found(torn) == [(6, "match", "A tag")]


def test_an_order_line_of_one_lot_may_come_from_all_hides_of_that_lot_only():
    parts = put(same_lot=True), put(hide="k", piece=2, same_lot=True)
    assert check(on_hides(*parts, h={"lot": "7/26"}, k={"lot": " 7/26 "})) == []
    for lots in ({"h": {"lot": "7/26"}, "k": {"lot": "8/26"}}, {"h": {"lot": "7/26"}}, {}):
        (finding,) = check(on_hides(*parts, **lots))
        assert str(finding) == "rule 6, lot: A tag: comes from hides h, k of 2 lots, must be of one lot"


def test_order_lines_that_ask_for_no_lot_and_different_lines_may_be_of_different_lots():
    assert check(on_hides(put(), put(hide="k", piece=2))) == []
    assert check(on_hides(put(same_lot=True), put(hide="k", order="B", same_lot=True))) == []
    assert check(on_hides(put(same_lot=True), put(x=200, piece=2, same_lot=True))) == []


def test_a_part_that_alone_of_its_order_line_asks_for_no_lot_fails():
    assert found(on_hides(put(same_lot=True), put(hide="k", piece=2))) == [(6, "lot", "A tag tag 2.1")]


def test_a_piece_cut_in_part_fails_and_its_missing_parts_are_named():
    placed = put(product="bag", part="front"), put(x=200, product="bag", part="back")
    missing = left("side", product="bag"), left("side", mirrored=True, product="bag"), left("back", 1, 2, product="bag")
    (finding,) = check(layout(*placed, unplaced=missing))
    assert (finding.rule, finding.what, finding.who) == (8, "piece", "A bag 1")
    assert finding.value == "2 of its 5 parts placed, missing side 1, side 1 mirrored, back 2"
    assert finding.bound == "placed whole or not at all"


def test_a_piece_wholly_placed_and_one_wholly_left_out_pass():
    whole = put(), put(x=200, copy=2)
    assert rules(*whole, unplaced=(left("tag", 2), left("tag", 2, 2))) == set()
    assert rules(*whole, unplaced=(left("tag", 2), left("tag", 2, 2), left("tag", 3), left("tag", 3, 2))) == set()


def test_a_filler_cut_in_part_fails_too():
    stall = put(filler=True), replace(left("tag", copy=2), filler=True)
    assert rules(stall[0], unplaced=stall[1:]) == {8}


def test_every_piece_cut_in_part_is_found():
    parts = put(), put(x=200, piece=2)
    assert found(layout(*parts, unplaced=(left("tag", 1, 2), left("tag", 2, 2)))) == [
        (8, "piece", "A tag 1"),
        (8, "piece", "A tag 2"),
    ]


def test_a_product_that_may_be_cut_in_part_may_and_no_other():
    cut = dict(unplaced=(left("tag", copy=2),))
    assert rules(put(), partial=("tag",), **cut) == set()
    assert rules(put(), partial=("bag", "tags"), **cut) == {8}


def test_a_part_left_out_of_a_piece_in_silence_is_missed():
    found_here = check(layout(put(), put(x=200, copy=2), put(y=100, piece=2)))
    assert [(finding.rule, finding.who, finding.value) for finding in found_here] == [
        (8, "A tag 2", "1 of its 2 parts placed, missing tag 2")
    ]


def test_parts_of_a_piece_given_out_as_pieces_of_their_own_are_missed():
    assert rules(put(part="front"), put(x=200, piece=2, part="back")) == {8}


def test_the_same_piece_of_another_order_or_product_does_not_make_one_whole():
    assert rules(
        put(), put(x=200, copy=2), put(y=100, order="B"), unplaced=(replace(left("tag", copy=2), order="B"),)
    ) == {8}
    assert rules(put(), put(x=200, copy=2, product="bag"), unplaced=(left("tag", copy=2),)) == {8}


@pytest.mark.parametrize(
    "kind",
    [
        Kind(),
        Kind(colour="cognac "),
        Kind("bridle butt", "COGNAC", tannage="vegetable", burn=True),
    ],
)
def test_a_part_on_the_leather_asked_for_passes(kind):
    assert rules(put(kind=kind), hide=COGNAC) == set()


@pytest.mark.parametrize(
    "kind, hide",
    [
        (Kind(colour="black"), COGNAC),
        (Kind("shoulder"), COGNAC),
        (Kind(finish="waxed"), COGNAC),
        (Kind(tannage="chrome"), COGNAC),
        (Kind(burn=True), replace(COGNAC, tannage="chrome")),
    ],
)
def test_a_part_on_other_leather_than_asked_for_fails(kind, hide):
    (finding,) = check(layout(put(kind=kind), hide=hide))
    assert (finding.rule, finding.what, finding.who) == (9, "leather", "A tag tag 1.1")
    assert finding.bound == str(kind) and "lies on hide h (Bridle Butt, Cognac, " in finding.value


def test_copies_of_an_ordered_part_that_ask_for_different_leather_fail():
    asked = Kind(colour="cognac")
    assert rules(put(kind=asked), put(x=200, piece=2, kind=asked), hide=COGNAC) == set()
    assert found(layout(put(kind=asked), put(x=200, piece=2), hide=COGNAC)) == [(9, "leather", "A tag tag 2.1")]
    assert rules(put(kind=asked), put(x=200, order="B"), hide=COGNAC) == set()


def test_leather_that_an_order_asks_for_is_asked_of_every_part_of_it():
    line = OrderLine("A", "tag", 1, date(2026, 3, 2), colour="COGNAC ")
    facts = dict(hide=COGNAC, lines=(line,))
    assert rules(put(kind=Kind("bridle butt", "cognac")), **facts) == set()
    for kind in (Kind(), Kind("bridle butt")):
        (finding,) = check(layout(put(kind=kind), **facts))
        assert (finding.rule, finding.who, finding.bound) == (
            9,
            "A tag tag 1.1",
            "what order A asks for, COGNAC",
        )


def test_parts_of_one_piece_called_as_many_pieces_as_were_not_ordered_fail():
    line = OrderLine("A", "tag", 2, date(2026, 3, 2))
    assert rules(put(), unplaced=(left("tag", 2),), lines=(line,)) == set()
    # what was ordered is two pieces of two copies, three of which found a place
    placed = put(), put(x=200, piece=2), put(x=350, piece=3)
    (finding,) = check(layout(*placed, unplaced=(left("tag", 4),), lines=(line,)))
    assert (finding.rule, finding.what, finding.who) == (7, "count", "A tag")
    assert finding.value == "4 pieces, numbered 1 to 4, placed or listed as unplaced"
    assert finding.bound == "pieces 1 to 2 as ordered"
    assert [finding.value for finding in check(layout(lines=(line,)))] == ["0 pieces placed or listed as unplaced"]
