from nesting.files.asked import Asked, colours, without
from nesting.model import Curve

LINE = Curve(((0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (0.0, 10.0, 0.0)), True)


def asked(*numbers, part=0, colour="#0000ff"):
    return tuple(Asked(part, colour, LINE, number) for number in numbers)


def test_cutouts_behind_one_that_is_none_any_more_move_up():
    assert without(asked(0, 2, 3, 5), 0, [0, 3]) == asked(1, 3)


def test_what_is_asked_of_other_parts_and_of_lines_left_out_stays():
    kept = asked(0, 4, part=1) + asked(None)
    assert without(kept, 0, [0, 1]) == kept


def test_lines_that_are_asked_about_are_counted_by_colour():
    assert colours(asked(0, 1, None) + asked(2, colour="#ff0000")) == {"#0000ff": 3, "#ff0000": 1}
