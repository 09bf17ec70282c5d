import pytest
from shapely.geometry import Polygon, box

from nesting.errors import ModelError
from nesting.model import MM2_PER_SQ_FT, MM_PER_OZ, counted, graded, positive, simple


def test_counts_are_told_with_their_noun():
    assert [counted(count, "hide") for count in (0, 1, 2)] == ["0 hides", "1 hide", "2 hides"]


def test_a_square_foot_and_an_ounce_are_as_the_trade_has_them():
    assert pytest.approx(304.8**2) == MM2_PER_SQ_FT
    assert pytest.approx(0.396875) == MM_PER_OZ


@pytest.mark.parametrize("value", [0, -1, 101, float("nan"), float("inf")])
def test_what_is_no_positive_number_or_too_large_is_refused(value):
    with pytest.raises(ModelError, match="more than 0 and at most 100"):
        positive("side", value, top=100)


def test_zero_is_taken_where_it_is_allowed():
    positive("gap", 0, zero=True)
    with pytest.raises(ModelError, match="0 or more"):
        positive("gap", -0.1, zero=True)


def test_a_grade_beyond_e_is_refused():
    graded("grade", "E")
    with pytest.raises(ModelError, match="A .best. to E"):
        graded("grade", "F")


def test_an_outline_that_crosses_itself_or_encloses_nothing_is_refused():
    simple("outline", box(0, 0, 1, 1))
    with pytest.raises(ModelError, match="Self-intersection"):
        simple("outline", Polygon([(0, 0), (3, 3), (3, 0), (0, 1)]))
    with pytest.raises(ModelError, match="encloses? an area"):
        simple("outline", Polygon())
