import pytest

from nesting.errors import FileError
from nesting.files.limits import DEFAULT
from nesting.files.rings import Ring
from nesting.files.schema import Grade, Name, Number, Table, like, validate
from nesting.model import GRADES, Margins, Setting


@like(Setting)
class _Row(Table):
    thinnest_mm: Number | None = None
    thickest_mm: Number | None = None
    passes: Name = "some"


class _Graded(Table):
    grade: Grade
    ring: Ring | None = None


def test_a_schema_like_a_dataclass_has_its_keys_and_defaults_save_those_of_its_own():
    row = validate(_Row, {"name": "a", "thickness_mm": 1.5, "speed_mm_s": 10, "power_percent": 50}, "x.toml")
    assert dict(row) == {
        "name": "a", "thickness_mm": 1.5, "speed_mm_s": 10, "power_percent": 50, "operation": "cut", "leather": "",
        "line_spacing_mm": 0.0, "basis": "tested", "thinnest_mm": None, "thickest_mm": None, "passes": "some",
    }  # fmt: skip
    with pytest.raises(FileError, match="speed_mm_s: missing: add it"):
        validate(_Row, {"name": "a", "thickness_mm": 1.5, "power_percent": 50}, "x.toml")
    with pytest.raises(FileError, match="gap: unknown key: did you mean gap_mm"):
        validate(like(Margins)(Table), {"gap": 1}, "x.toml")


@pytest.mark.parametrize("value", ["F", "", "a", 1, None, ["A"], {"A": 1}])
def test_a_grade_is_one_of_the_model_and_the_rest_are_told_which_there_are(value):
    assert [validate(_Graded, {"grade": grade}, "x.json").grade for grade in GRADES] == list(GRADES)
    with pytest.raises(FileError) as caught:
        validate(_Graded, {"grade": value}, "x.json")
    assert (caught.value.place, caught.value.mend) == ("grade", "give 'A', 'B', 'C', 'D' or 'E'")


def test_rings_keep_to_the_limits():
    far = DEFAULT.farthest_mm
    assert validate(_Graded, {"grade": "A", "ring": [[far, 0], [0, -far], [0, 0]]}, "x.json").ring
    with pytest.raises(FileError, match="give a number of 20000 or less"):
        validate(_Graded, {"grade": "A", "ring": [[far + 1, 0], [0, 0], [1, 1]]}, "x.json")
    with pytest.raises(FileError, match=f"give at most {DEFAULT.ring_points}"):
        validate(_Graded, {"grade": "A", "ring": [[0, 0]] * (DEFAULT.ring_points + 1)}, "x.json")
