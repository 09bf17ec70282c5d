import math
from decimal import Decimal

import pytest

from nesting.errors import ModelError
from nesting.model import FEED_PLAY_MM, FEED_STEP_MM, Machine, Margins, Prices, Setting, Workshop

LASER = Machine("bench laser", 600, 400, 40, bed_margin_mm=5)


def test_a_workshop_tells_itself_in_one_line():
    workshop = Workshop(LASER, (Setting("s", 1.5, 10, 60, 1),), Margins(0.2, 1.0))
    assert str(workshop) == "bench laser: bed 600 x 400 mm, 40 W, 1 setting, kerf 0.2 mm, gap 1 mm"


def test_the_margin_of_the_bed_is_out_of_use_on_every_side():
    assert LASER.window_mm == LASER.usable_mm == (590, 390) and LASER.usable_words == "590 mm x 390 mm"


def test_leather_that_is_fed_through_may_be_of_any_length_but_not_its_parts():
    fed = Machine("m", 600, 400, 40, feed_through="width")
    assert fed.usable_mm == (math.inf, 400) and fed.usable_words == "any length x 400 mm"
    assert fed.longest_fed_mm(0.2) == 600 - 0.2 - 2 * FEED_PLAY_MM - FEED_STEP_MM


def test_leather_reaches_over_the_end_of_the_bed_as_far_as_there_is_room():
    fed = Machine("m", 600, 400, 40, bed_margin_mm=5, feed_through="height", overhang_mm=150)
    assert fed.usable_mm == (590, 540) and fed.usable_words == "590 mm x 540 mm, 150 mm of it over the end"


def test_outlines_keep_the_kerf_and_the_gap_apart():
    assert Margins(0.2, 1.0).between_mm == pytest.approx(1.2)


@pytest.mark.parametrize(
    "make, match",
    [
        (lambda: Machine("m", 0, 400, 40), "bed_width_mm"),
        (lambda: Machine("m", 600, 400, 40, bed_margin_mm=200), "less than half"),
        (lambda: Machine("m", 600, 400, 40, bed_stop="middle"), "bed_stop"),
        (lambda: Machine("m", 600, 400, 40, feed_through="depth"), "feed_through"),
        (lambda: Machine("m", 600, 400, 40, feed_through="width", overhang_mm=-1), "overhang_mm"),
        (lambda: Margins(kerf_mm=-0.1), "kerf_mm"),
        (lambda: Prices("euro"), "ISO 4217"),
        (lambda: Prices(machine_per_hour=Decimal("nan")), "machine_per_hour"),
        (lambda: Prices(offcut_credit=1.5), "offcut_credit"),
        (lambda: Workshop(LASER, confidence=0.4), "confidence"),
        (lambda: Workshop(LASER, engraving_depth="medium"), "engraving_depth"),
        (lambda: Workshop(LASER, colours={"outline": "#ff0000", "stitch": "#FF0000"}), "give each its own"),
    ],
)
def test_a_workshop_that_cannot_be_is_refused(make, match):
    with pytest.raises(ModelError, match=match):
        make()
