from dataclasses import replace

import pytest
from laser_samples import DEEP, MACHINE, SETTING, SHALLOW

from nesting.errors import FileError
from nesting.files.swatch import read_swatch, write_swatch
from nesting.laser.swatch import swatch
from nesting.model import Workshop


def test_a_swatch_file_is_read_back_as_it_was(tmp_path):
    for setting in (SETTING, SHALLOW, replace(DEEP, leather='dark "bridle" & <co>')):
        made = swatch(setting)
        write_swatch(tmp_path / "s.svg", made, setting, Workshop(MACHINE))
        back = read_swatch(tmp_path / "s.svg")
        assert back == replace(made, width_mm=back.width_mm, height_mm=back.height_mm)
        assert (back.width_mm, back.height_mm) == pytest.approx((made.width_mm, made.height_mm), abs=1e-3)


def test_a_swatch_file_holds_paths_only_labels_first_then_least_energy(tmp_path):
    import xml.etree.ElementTree as ElementTree

    made = swatch(SETTING)
    write_swatch(tmp_path / "s.svg", made, SETTING, Workshop(MACHINE))
    svg = "{http://www.w3.org/2000/svg}"
    root = ElementTree.parse(tmp_path / "s.svg").getroot()
    assert {element.tag.removeprefix(svg) for element in root.iter()} == {"svg", "title", "desc", "g", "path"}
    ids = [group.get("id") for group in root.findall(svg + "g")]
    assert ids[0] == "engrave-labels"
    cells = {cell.name: made.line_energy(cell) for cell in made.cells}
    energies = [cells[id.removeprefix("cell-")] for id in ids[1:]]
    assert energies == sorted(energies) and len(energies) == 25
    strokes = [group.get("stroke") for group in root.findall(svg + "g")]
    assert len(set(strokes)) == len(strokes)


@pytest.mark.parametrize(
    "text, words",
    [
        ("<svg", "give a file that nesting swatch wrote"),
        ("<svg/>", "not a swatch"),
        ('<svg data-swatch="1"/>', "data-thickness-mm: missing"),
        ('<!DOCTYPE svg [<!ENTITY a "b">]><svg>&a;</svg>', "give a file that nesting swatch wrote"),
    ],
)
def test_a_file_that_is_no_swatch_is_refused(tmp_path, text, words):
    (tmp_path / "s.svg").write_text(text)
    with pytest.raises(FileError, match=words):
        read_swatch(tmp_path / "s.svg")
