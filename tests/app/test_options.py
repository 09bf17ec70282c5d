import pytest

from nesting.app.options import layout_file, measured_points, widths
from nesting.errors import FileError


@pytest.mark.parametrize(
    "text, found",
    [
        ("5.81 5.79", [5.81, 5.79]),
        ("5.81, 5.79", [5.81, 5.79]),
        ("0.25 in, 0.5 in", [6.35, 12.7]),
        ("6 mm, 1/4 in", [6.0, 6.35]),
        ("", []),
    ],
)
def test_widths_are_mm_or_have_units(text, found):
    assert widths("--teeth", text) == pytest.approx(found)


def test_points_on_the_bed_are_mm_or_have_units():
    found = measured_points(["belly/1 A=0.5 in,1 B=10 in,2 mm", "h/L1/2 S2=5,3 T2=595,3"])
    assert found["belly", "1"] == {"A": pytest.approx((12.7, 1)), "B": pytest.approx((254, 2))}
    # the second load of panel L1
    assert found["h", "L1/2"] == {"S2": (5, 3), "T2": (595, 3)}


@pytest.mark.parametrize("text", ["5.8 teeth", "0.2 in 0.3 in"])
def test_widths_that_are_none_are_refused(text):
    with pytest.raises(FileError, match="give widths in mm"):
        widths("--teeth", text)


def test_a_layout_is_found_in_a_jobs_folder_and_what_is_none_is_told(tmp_path):
    file = tmp_path / "out" / "layout.json"
    with pytest.raises(FileError, match="plan first: nesting plan"):
        layout_file(tmp_path)
    file.parent.mkdir()
    file.write_text("{}")
    assert layout_file(tmp_path) == layout_file(file.parent) == layout_file(str(file)) == file
    with pytest.raises(FileError, match=r"orders\.csv: file: no layout: give the layout\.json that nesting plan wrote"):
        layout_file(tmp_path / "orders.csv")
