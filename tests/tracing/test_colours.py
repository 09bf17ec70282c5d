import numpy as np
import pytest

from nesting.tracing.colours import half_light, lab


def test_half_the_light_of_black_and_white_is_where_the_standards_put_it():
    # CIE 15: L* = 116 (1/2)^(1/3) - 16 = 76.07 for half the luminance of white; a* and b* are 0 for grey.
    black, white = (lab(np.full((1, 1, 3), level, np.uint8)) for level in (0, 255))
    assert half_light(black, white)[0, 0] == pytest.approx((116 * 0.5 ** (1 / 3) - 16, 0, 0), abs=0.01)
