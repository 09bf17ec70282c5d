from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import ModelError
from nesting.model import Setting, between, contradiction, rows_for

THIN = Setting("thin", 1.0, 20, 50, 1, 0.8, 1.3)
MIDDLE = Setting("middle", 1.5, 10, 60, 1, 1.3, 1.7)
THICK = Setting("thick", 2.5, 15, 80, 3, 2.2, 2.6)
ROWS = (THIN, MIDDLE, THICK)


def test_at_a_tested_thickness_the_row_itself_is_given():
    assert [between(ROWS, row.thickness_mm) for row in ROWS] == list(ROWS)


def test_power_lies_on_the_straight_line_between_rows():
    assert between(ROWS, 1.25).power_percent == pytest.approx(55)
    assert between(ROWS, 2.25).power_percent == pytest.approx(75)


def test_between_two_rows_speed_follows_from_energy_and_power():
    # Two points: the monotone cubic is a straight line. 40 W: 1 J/mm at 1.0 mm and 2.4 J/mm at 1.5 mm, so 1.7 J/mm at
    # 1.25 mm; 40 W x 55 % / 1.7 J/mm = 12.94 mm/s.
    setting = between((THIN, MIDDLE), 1.25)
    assert setting.line_energy_j_mm(40) == pytest.approx(1.7)
    assert setting.speed_mm_s == pytest.approx(40 * 0.55 / 1.7)


def test_passes_are_those_of_the_nearer_row():
    assert [between(ROWS, mm).passes for mm in (1.6, 1.99, 2.01, 2.4)] == [1, 1, 3, 3]


@given(st.floats(1.0, 2.5), st.floats(1.0, 2.5))
def test_thicker_never_gets_less_energy_and_never_leaves_the_tested_range(a, b):
    low, high = (between(ROWS, mm).line_energy_j_mm(40) for mm in sorted((a, b)))
    least, most = THIN.line_energy_j_mm(40), THICK.line_energy_j_mm(40)
    assert least - 1e-9 <= low <= high + 1e-9 <= most + 2e-9


def test_the_window_reaches_as_far_as_those_of_the_rows_about_it():
    # 0.2 and 0.2 mm downwards, 0.3 and 0.2 mm upwards.
    setting = between(ROWS, 1.25)
    assert (setting.thinnest_mm, setting.thickest_mm) == pytest.approx((1.05, 1.5))


def test_a_row_without_a_window_has_the_default_rule_and_says_so():
    row = Setting("fresh", 2.0, 10, 60, 1)
    assert (row.thinnest_mm, row.thickest_mm) == pytest.approx((1.8, 2.2))
    assert "default rule, 10 %" in row.basis and MIDDLE.basis == "tested"


def test_a_setting_worked_out_says_between_which_tests():
    setting = between(ROWS, 1.25)
    assert "thin and middle" in setting.name and "between the tests at 1 and 1.5 mm" in setting.basis


@pytest.mark.parametrize("mm", [0.9, 2.6])
def test_beyond_the_tested_range_it_says_which_test_piece_to_cut(mm):
    with pytest.raises(ModelError, match=f"{mm} mm: tested from 1 to 2.5 mm: cut a test piece from {mm} mm leather"):
        between(ROWS, mm)


def test_one_row_alone_is_good_for_its_own_thickness_only():
    assert between([MIDDLE], 1.5) == MIDDLE
    with pytest.raises(ModelError, match="only 1.5 mm is tested"):
        between([MIDDLE], 1.6)


def test_an_empty_book_says_what_to_cut():
    with pytest.raises(ModelError, match="nothing is tested: cut a test piece from 1.2 mm"):
        between([], 1.2)


def test_the_latest_row_at_a_thickness_counts():
    retested = replace(MIDDLE, name="retested", speed_mm_s=11)
    assert between([*ROWS, retested], 1.5) is retested


def test_rows_of_which_the_thicker_needs_less_energy_are_refused():
    weak = replace(THICK, passes=1, speed_mm_s=50)
    assert contradiction([weak, THIN, MIDDLE]) == (MIDDLE, weak) or contradiction([weak, THIN, MIDDLE]) == (THIN, weak)
    with pytest.raises(ModelError, match="cannot need less energy"):
        between([weak, THIN, MIDDLE], 1.2)


def test_a_sound_book_has_no_contradiction_and_leathers_are_not_held_against_each_other():
    weak = replace(THICK, leather="soft", passes=1, speed_mm_s=50)
    assert contradiction(ROWS) is None and contradiction([*ROWS, weak]) is None


def test_a_leather_with_rows_of_its_own_uses_only_those():
    own = replace(MIDDLE, leather="dark bridle")
    marks = Setting("marks", 1.5, 100, 15, 1, operation="engrave shallow")
    book = [*ROWS, own, marks]
    assert rows_for(book, "dark bridle") == (own,)
    assert rows_for(book, "natural") == ROWS and rows_for(book, "") == ROWS
    assert rows_for(book, "natural", "engrave shallow") == (marks,)
