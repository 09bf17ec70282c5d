"""Units the leather trade uses, against their definitions."""

import pytest

from nesting.model import MM2_PER_DM2, MM2_PER_SQ_FT, MM_PER_OZ


def test_a_square_foot_is_that_of_the_international_foot():
    # International yard and pound agreement, 1959: 1 ft = 0.3048 m exactly; NIST SP 811, appendix B.8: 9.290304e-2 m2.
    assert MM2_PER_SQ_FT == pytest.approx(304.8**2, rel=1e-15)
    assert MM2_PER_SQ_FT / 1e6 == pytest.approx(0.09290304, rel=1e-15)


def test_a_square_foot_is_a_little_over_nine_square_decimetres():
    # NIST SP 811, appendix B.8: 1 ft2 = 9.290304e-2 m2, and 1 m2 = 100 dm2.
    assert MM2_PER_SQ_FT / MM2_PER_DM2 == pytest.approx(9.290304)


def test_an_ounce_of_thickness_is_one_sixty_fourth_of_an_inch():
    # 1 in = 25.4 mm exactly (1959 agreement); the ounce of leather is common practice, no published source.
    assert MM_PER_OZ == 0.396875


@pytest.mark.parametrize("mm, ounces", [(1.5, 3.8), (2.0, 5.0), (2.5, 6.3)])
def test_common_thicknesses_have_the_ounces_a_maker_knows(mm, ounces):
    # Small goods 1.5 mm, 3.8 oz; heavier goods 2 to 2.5 mm, 5 to 6.3 oz: common practice, no published source.
    assert round(mm / MM_PER_OZ, 1) == ounces
