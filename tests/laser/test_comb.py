import re
import xml.etree.ElementTree as ElementTree

import pytest
from laser_samples import MACHINE, SETTING
from shapely.geometry import LineString, Polygon

from nesting.errors import ModelError
from nesting.laser.comb import comb, kerf_from
from nesting.model import Workshop

SVG = "{http://www.w3.org/2000/svg}"


def groups(text):
    return {group.get("id"): group for group in ElementTree.fromstring(text).findall(SVG + "g")}


def test_the_comb_has_eight_teeth_of_six_mm_and_slots_of_four_at_true_size():
    text = comb(Workshop(MACHINE), SETTING)
    (path,) = groups(text)["outline"]
    numbers = [float(value) for value in re.findall(r"[\d.]+", path.get("d"))]
    shape = Polygon(list(zip(numbers[0::2], numbers[1::2])))
    assert shape.is_valid and shape.bounds == (5, 5, 81, 42)
    middle = shape.intersection(LineString([(0, 35), (100, 35)]))
    assert [round(tooth.length, 3) for tooth in middle.geoms] == [6.0] * 8
    assert 'width="86.0000mm"' in text and "speed 10 mm/s" in text


def test_its_numbers_are_paths_and_come_first():
    text = comb(Workshop(MACHINE), None)
    assert list(groups(text)) == ["engrave", "outline"] and "<text" not in text


def test_the_kerf_is_what_teeth_lack_and_slots_have_too_much():
    # 0.20, 0.18, 0.22 from the teeth and 0.20 from the slot: mean 0.20; s = 0.0163, so 0.0082 for four.
    kerf = kerf_from([5.80, 5.82, 5.78], [4.20])
    assert (kerf.mm, kerf.error_mm, kerf.count) == (pytest.approx(0.2), pytest.approx(0.01633 / 2, abs=1e-5), 4)


@pytest.mark.parametrize(
    "teeth, slots, words",
    [
        ([5.8, 5.8], [], "at least 3"),
        ([5.8, 5.8, 5.4], [], "tooth 3: 5.4 mm"),
        ([5.8, 5.8, 5.8], [40.2], "slot 1: 40.2 mm"),
        ([6.1, 6.1, 6.1], [], "cannot be wider"),
        ([5.8, 5.8, float("nan")], [], "tooth 3"),
    ],
)
def test_widths_that_cannot_be_are_refused(teeth, slots, words):
    with pytest.raises(ModelError, match=words):
        kerf_from(teeth, slots)
