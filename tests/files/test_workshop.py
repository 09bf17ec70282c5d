from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import FileError
from nesting.files.workshop import read_workshop, workshop_from_dict, workshop_to_dict
from nesting.model import DEFAULT_COLOURS, Machine, Margins, Prices, Setting, Workshop
from nesting.model.workshop import ASKED


def test_every_table_is_read(job_folder):
    workshop = read_workshop(job_folder / "workshop.toml")
    assert workshop.machine == Machine("bench laser", 600, 400, 60)
    assert workshop.margins == Margins(kerf_mm=0.2, edge_mm=4)
    assert workshop.prices == Prices("EUR", Decimal("12.50"), Decimal(30), masking_per_m2=Decimal("1.75"))
    assert workshop.settings[1] == Setting("veg 2.3", 2.3, 12, 55, 2, 2.0, 2.6)
    assert (workshop.smallest_offcut_mm, workshop.confidence, workshop.thickness_spread_mm) == (50, 0.95, 0.15)


def test_a_machine_alone_is_enough_and_the_rest_has_the_defaults_of_the_model(tmp_path):
    path = tmp_path / "workshop.toml"
    path.write_text("[machine]\nbed_width_mm = 600\nbed_height_mm = 400\nrated_w = 60\n")
    assert read_workshop(path) == Workshop(Machine("laser", 600, 400, 60))


def test_what_is_asked_about_is_untold_until_its_key_is_there_whatever_its_value(tmp_path):
    path = tmp_path / "workshop.toml"
    path.write_text('units = "inch"\n[machine]\n[margins]\ngap_mm = 2\n')
    begun = read_workshop(path)
    assert begun.untold == set(ASKED) and begun.machine == Machine("laser", 508, 304.8, 40)
    assert "a kerf of 0.2 mm" in begun.first_guesses() and "rated_w" in begun.first_guesses()
    again = workshop_from_dict(workshop_to_dict(begun), "layout.json", "workshop")
    assert (again, again.untold) == (begun, begun.untold)
    # told as just what was guessed, they are known
    path.write_text("[machine]\nbed_width_mm = 500\nbed_height_mm = 300\nrated_w = 40\n[margins]\nkerf_mm = 0.2\n")
    told = read_workshop(path)
    assert told.untold == {key for key, table in ASKED.items() if table == "prices"} and not told.first_guesses()
    assert not workshop_from_dict(workshop_to_dict(Workshop(told.machine)), "layout.json", "workshop").untold


def test_a_byte_order_mark_and_windows_line_ends_do_not_matter(job_folder):
    path = job_folder / "workshop.toml"
    before = read_workshop(path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert read_workshop(path) == before


@settings(deadline=None)
@given(
    bed=st.floats(1, 1e5),
    kerf=st.floats(0, 5),
    money=st.decimals(0, 100_000, places=2),
    credit=st.floats(0, 1),
    names=st.lists(st.sampled_from(["a", "ü 1", "x of y"]), unique=True),
)
def test_a_workshop_survives_being_written_and_read(bed, kerf, money, credit, names):
    workshop = Workshop(
        Machine("m", bed, bed, 60),
        tuple(Setting(name, 1.2, 20, 40, 2, 1.0, 1.4) for name in names),
        Margins(kerf_mm=kerf),
        Prices(machine_per_hour=money, offcut_credit=credit),
        colours=DEFAULT_COLOURS | {"guide": "#123abc"},
    )
    assert workshop_from_dict(workshop_to_dict(workshop), "layout.json", "workshop") == workshop
    assert workshop_from_dict(workshop_to_dict(workshop), "layout.json", "workshop") != replace(
        workshop, confidence=0.6
    )


def test_engraving_rows_stand_apart_from_cutting_rows_and_survive_being_written(job_folder):
    path = job_folder / "workshop.toml"
    mark = '\n[[setting]]\nname = "mark"\noperation = "engrave deep"\nthickness_mm = 2\nspeed_mm_s = 90\n'
    mark += 'power_percent = 20\npasses = 1\nline_spacing_mm = 0.1\nleather = "dark bridle"\n'
    path.write_text(path.read_text() + mark)
    workshop = read_workshop(path)
    assert [row.name for row in workshop.settings] == ["veg 1.2", "veg 2.3"]
    (row,) = workshop.engravings
    assert (row.operation, row.leather, row.line_spacing_mm) == ("engrave deep", "dark bridle", 0.1)
    assert (row.thinnest_mm, row.thickest_mm) == (1.8, 2.2) and "default rule" in row.basis
    assert workshop_from_dict(workshop_to_dict(workshop), "layout.json", "workshop") == workshop


def test_colours_and_names_of_drawings_get_their_meaning_and_units_are_shown_as_asked(job_folder):
    path = job_folder / "workshop.toml"
    path.write_text('units = "inch"\n' + path.read_text() + '\n[drawings]\nRed = "outline"\nCrease = "fold line"\n')
    workshop = read_workshop(path)
    assert workshop.units == "inch" and workshop.drawings == {"#ff0000": "outline", "crease": "fold line"}
    assert workshop_from_dict(workshop_to_dict(workshop), path, "") == workshop
    path.write_text(path.read_text().replace("fold line", "wibble").replace('"inch"', '"cubit"'))
    with pytest.raises(FileError) as caught:
        read_workshop(path)
    assert [fault.place for fault in caught.value.all] == ["units", "drawings > Crease"]
