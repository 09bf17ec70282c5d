from dataclasses import replace

import pytest
from laser_samples import SETTING
from shapely.geometry import box

from nesting.errors import ModelError
from nesting.laser.swatch import Cell, Swatch, colours, labels, predicted, square, swatch, taught_row
from nesting.model import Setting

THIN, THICK = Setting("thin", 1.2, 20, 50, 1), Setting("thick", 2.2, 10, 60, 1)


def test_the_predicted_setting_stands_in_the_middle():
    made = swatch(SETTING)
    middle = next(cell for cell in made.cells if cell.name == "C3")
    assert (middle.speed_mm_s, middle.power_percent) == (SETTING.speed_mm_s, SETTING.power_percent)
    assert len(made.cells) == 25 and made.passes == SETTING.passes


def test_speeds_grow_by_columns_and_powers_by_rows_and_never_beyond_full_power():
    made = swatch(replace(SETTING, power_percent=95))
    speeds = [cell.speed_mm_s for cell in made.cells[:5]]
    assert speeds == sorted(set(speeds)) and {cell.speed_mm_s for cell in made.cells} == set(speeds)
    powers = [cell.power_percent for cell in made.cells[::5]]
    assert powers == sorted(set(powers)) and powers[-1] == 100


def test_squares_and_labels_lie_apart_and_inside_the_piece():
    for room in (None, (60, 60), (50, 50), (40, 40)):
        made = swatch(SETTING, room)
        squares = [square(made, cell) for cell in made.cells]
        assert all(a.distance(b) > 2.9 for k, a in enumerate(squares) for b in squares[:k])
        piece = box(0, 0, made.width_mm, made.height_mm)
        words = labels(made)
        assert all(piece.contains(shape) for shape in [*squares, *words])
        assert min(a.distance(b) for a in squares for b in words) > 0.5
        assert min(a.distance(b) for k, a in enumerate(words) for b in words[:k]) > 0.2


def test_the_grid_shrinks_to_fit_either_way_up():
    assert len(swatch(SETTING, (300, 75)).cells) == 25
    small = swatch(SETTING, (45, 60))
    assert len(small.cells) < 25 and small.width_mm <= 60 and small.height_mm <= 60
    with pytest.raises(ModelError, match="room for a swatch: 40 x 20 mm: the smallest needs"):
        swatch(SETTING, (40, 20))


def test_between_tested_rows_the_prediction_is_worked_out_and_beyond_them_scaled():
    assert "between" in predicted([THIN, THICK], 1.7).basis
    guess = predicted([THIN, THICK], 3.3)
    # 60 % at 10 mm/s for 2.2 mm: half as much energy again for 3.3 mm.
    assert guess.line_energy_j_mm(40) == pytest.approx(1.5 * THICK.line_energy_j_mm(40)) and "guessed" in guess.basis
    with pytest.raises(ModelError, match=r"give a speed and a power .* \(--speed and --power\)"):
        predicted([], 1.2)


def cut(*energies):
    """A swatch of one row whose squares A1, A2, ... have these line energies for a rated watt, at 2 mm."""
    cells = tuple(Cell(f"A{k}", 0.5 / energy, 50.0, 10.0 * k, 0.0) for k, energy in enumerate(energies, 1))
    return Swatch("cut", "", 2.0, 1, 0.0, 70, 70, 8, cells)


def test_the_window_of_a_recorded_row_follows_from_the_clean_squares():
    # Clean from 0.045 to 0.055 at 2 mm: 0.05 is clean from 2 x 0.05 / 0.055 = 1.818 to 2 x 0.05 / 0.045 = 2.222 mm.
    row = taught_row(cut(0.04, 0.045, 0.05, 0.055), "A3", ["A2", "A3", "A4"], "new")
    assert (row.thinnest_mm, row.thickest_mm) == (1.82, 2.22) and row.thickness_mm == 2.0
    assert "3 clean squares" in row.basis


def test_a_wide_clean_range_is_not_believed_beyond_a_fifth():
    row = taught_row(cut(0.01, 0.05, 0.25), "A2", ["A1", "A2", "A3"], "new")
    assert (row.thinnest_mm, row.thickest_mm) == (1.6, 2.4)


def test_one_clean_square_alone_has_the_default_window():
    row = taught_row(cut(0.04, 0.05), "A2", [], "new")
    assert (row.thinnest_mm, row.thickest_mm) == (1.8, 2.2) and "default rule" in row.basis


@pytest.mark.parametrize(
    "best, clean, words", [("Z9", [], "A1 to A2"), ("A1", ["A2"], "came out clean"), ("A1", ["A1", "B7"], "B7")]
)
def test_squares_that_are_not_there_or_not_clean_are_refused(best, clean, words):
    with pytest.raises(ModelError, match=words):
        taught_row(cut(0.04, 0.05), best, clean, "new")


def test_colours_are_all_different_and_not_taken():
    taken = ["#D90000", *colours(3, [])]
    found = colours(25, taken)
    assert len(set(found)) == 25 and not set(found) & set(taken)
