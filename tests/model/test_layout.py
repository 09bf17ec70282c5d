from dataclasses import replace

from layouts import SETTING, layout, put
from shapely.geometry import box

from nesting.model import OrderedPiece, Setting, Unplaced

LEFT = Unplaced("A", "tag", "tag", 9, 1, False, "no room left")


def test_a_layout_tells_itself_in_one_line():
    made = layout(put(), put(x=100, piece=2), unplaced=(LEFT,))
    assert str(made) == repr(made) == "2 of 3 parts on 1 hide in 1 panel, 1 left out"
    assert str(replace(made, panels=(), unplaced=())) == "2 of 2 parts on 1 hide"


def test_a_placement_tells_itself_in_one_line():
    assert (
        str(put(x=20, y=30.26, angle=45)) == "A tag tag 1.1 on hide h, panel 1 at (20.0, 30.3) turned by 45.0 degrees"
    )
    assert put(mirrored=True).name == "A tag tag 1.1 mirrored" and put().label == "A tag"
    assert put(mirrored=True).key != put().key


def test_leather_in_a_part_is_its_outline_less_cutouts():
    assert put(outline=box(0, 0, 20, 10), cutouts=(box(1, 1, 3, 3),)).area_mm2 == 196


def test_a_placement_is_burnt_with_the_setting_it_names_or_else_the_main_one():
    other = Setting("2 mm", 2.0, 8, 70, 2)
    made = layout(put(), put(piece=2, setting="2 mm"), put(piece=3, setting="lost"), more_settings={"h": (other,)})
    assert [made.setting_of(placement) for placement in made.placements] == [SETTING, other, None]
    assert made.settings_on("h") == (SETTING, other) and replace(made, settings={}).settings_on("h") == ()
    assert len(made.on("h")) == 3 and made.on("other") == ()


def test_ordered_pieces_are_whole_or_say_how_many_of_their_parts_have_a_place():
    twin = Unplaced("B", "case", "side", 1, 1, True, "no room left")
    made = layout(
        put(order="B", product="case", part="side"),
        put(piece=2, filler=True),
        put(piece=10, filler=True),
        unplaced=(twin, replace(LEFT, filler=True)),
        wanted={("B", "case", "side"): 2, ("A", "tag", "tag"): 3},
    )
    assert made.pieces() == (
        OrderedPiece("B", "case", 1, False, 1, 2),
        OrderedPiece("A", "tag", 2, True, 1, 1),
        OrderedPiece("A", "tag", 9, True, 0, 1),
        OrderedPiece("A", "tag", 10, True, 1, 1),
    )
    assert [piece.whole for piece in made.pieces()] == [False, True, False, True]
    assert made.pieces()[0].name == "B case 1" and layout().pieces() == ()
