import tomllib
from dataclasses import replace

import pytest

from nesting.errors import FileError
from nesting.files.book import changed_text, record_kerf, record_setting
from nesting.files.starter import starter_files
from nesting.files.workshop import read_workshop
from nesting.model import Setting

ROW = Setting("veg 1.8", 1.8, 15, 48, 1, 1.6, 2.0)


@pytest.fixture
def path(job_folder):
    path = job_folder / "workshop.toml"
    path.write_text("# The bench by the window.\n" + path.read_text() + "\n# last words\n")
    return path


def test_a_row_is_added_and_everything_else_stays_as_it_is(path):
    before = path.read_text()
    record_setting(path, ROW)
    after = path.read_text()
    row = '\n[[setting]]\nname = "veg 1.8"\nthickness_mm = 1.8\nspeed_mm_s = 15\npower_percent = 48\npasses = 1\n'
    assert after.replace(row + "thinnest_mm = 1.6\nthickest_mm = 2.0\n", "") == before
    assert read_workshop(path).settings[-1] == ROW


def test_a_row_is_added_to_its_table_when_another_table_follows(path):
    path.write_text(path.read_text() + '[engraving]\ndepth = "deep"\n')
    record_setting(path, ROW)
    workshop = read_workshop(path)
    assert workshop.settings[-1] == ROW and workshop.engraving_depth == "deep"


def test_the_first_row_of_a_book_may_be_recorded(tmp_path):
    path = tmp_path / "workshop.toml"
    path.write_text("[machine] # mine\nbed_width_mm = 600\nbed_height_mm = 400\nrated_w = 60")
    record_setting(path, ROW)
    assert read_workshop(path).settings == (ROW,) and "# mine" in path.read_text()


def test_engraving_rows_keep_what_cutting_rows_have_not(path):
    row = replace(
        ROW, name="dig", operation="engrave deep", leather="dark bridle", line_spacing_mm=0.1, basis="tested by hand"
    )
    record_setting(path, row)
    assert read_workshop(path).engravings == (row,)


def test_a_byte_order_mark_and_windows_line_ends_stay(path):
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    record_kerf(path, 0.17)
    content = path.read_bytes()
    assert content.startswith(b"\xef\xbb\xbf# The bench by the window.\r\n") and b"\xef\xbb\xbf" not in content[3:]
    assert read_workshop(path).margins.kerf_mm == 0.17


def test_a_kerf_takes_the_place_of_the_old_one_only(path):
    before = path.read_text()
    record_kerf(path, 0.17)
    assert path.read_text() == before.replace("kerf_mm = 0.2", "kerf_mm = 0.17")


def test_a_key_that_stands_in_a_remark_is_put_in_its_place(tmp_path):
    path = tmp_path / "workshop.toml"
    begun = starter_files(tmp_path)["workshop.toml"]
    path.write_text(begun)
    record_kerf(path, 0.2)
    assert path.read_text() == begun.replace("# kerf_mm = 0.2 ", "kerf_mm = 0.2 ")
    assert "kerf_mm" not in read_workshop(path).untold
    path.write_text(changed_text(path, ["machine", "bed_width_mm"], 600))
    assert "\nbed_width_mm = 600" in path.read_text() and "# bed_width_mm" not in path.read_text()
    assert read_workshop(path).machine.bed_width_mm == 600
    # a remark that is no value stays one
    path.write_text("[machine]\nname = 'x'\n[margins]\n# kerf_mm = to be measured\ngap_mm = 1\n")
    record_kerf(path, 0.19)
    assert "# kerf_mm = to be measured\n" in path.read_text() and read_workshop(path).margins.kerf_mm == 0.19


@pytest.mark.parametrize(
    "row, words",
    [
        (replace(ROW, name="veg 1.2"), "give each setting a name of its own"),
        (replace(ROW, speed_mm_s=400), "thicker leather cannot need less energy"),
    ],
)
def test_a_row_that_cannot_be_is_refused_and_the_file_is_left_alone(path, row, words):
    before = path.read_bytes()
    with pytest.raises(FileError, match=words):
        record_setting(path, row)
    assert path.read_bytes() == before and [p.name for p in path.parent.glob(".*")] == []


def test_an_unsound_file_is_refused_first(path):
    path.write_text("[machine]\n[[setting]]\n")
    with pytest.raises(FileError, match="thickness_mm: missing"):
        record_setting(path, ROW)


def test_what_is_recorded_is_plain_toml(path):
    record_setting(path, ROW)
    assert tomllib.loads(path.read_text())["setting"][-1]["name"] == "veg 1.8"
