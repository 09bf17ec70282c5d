import math

import pytest

from nesting.report import paper
from nesting.tracing import markers
from nesting.tracing.references import A4_MM, CARD_MM


def test_a4_is_what_iso_216_gives():
    # ISO 216, quoted from memory: A4 is 210 mm x 297 mm.
    assert A4_MM == markers.SHEET_MM == paper.SHEET_MM == (210.0, 297.0)


def test_a4_follows_from_an_a0_of_one_square_metre():
    # ISO 216 principle, quoted from memory: A0 has 1 m2 and sides 1 : sqrt 2; each size halves the one before, the long
    # side divided by two and rounded down to whole mm: 841 x 1189, 594 x 841, 420 x 594, 297 x 420, 210 x 297.
    long, short = round(1000 * 2**0.25), round(1000 / 2**0.25)
    assert (short, long) == (841, 1189)
    for _ in range(4):
        long, short = short, long // 2
    assert A4_MM == (short, long)


def test_a4_has_the_shape_that_keeps_when_halved():
    assert A4_MM[1] / A4_MM[0] == pytest.approx(math.sqrt(2), abs=1 / A4_MM[0])


def test_a_bank_card_is_iso_7810_id_1():
    # ISO/IEC 7810 format ID-1, quoted from memory: 85.60 mm x 53.98 mm, which is 3.370 in x 2.125 in.
    assert CARD_MM == (85.60, 53.98)
    assert CARD_MM == pytest.approx((3.370 * 25.4, 2.125 * 25.4), abs=0.01)
