import numpy as np
import pytest
from shapely.geometry import box

from nesting.leather.thickness import thickness_map
from nesting.model import Hide, Reading, Setting
from nesting.planning.limits import PlanLimits
from nesting.planning.settings import choose_settings, coverage

OUTLINE = box(0, 0, 1000, 600)


def setting(name, thinnest, tested, thickest, speed=None):
    return Setting(name, tested, speed or 20 / tested, 50, 1, thinnest, thickest)


def sloping(low, high):
    """A hide whose thickness rises from left to right."""
    readings = tuple(
        Reading(x, y, low + (high - low) * x / 1000) for x in np.linspace(20, 980, 7).tolist() for y in (50, 300, 550)
    )
    return Hide("h", OUTLINE, readings=readings)


def chosen(hide, *rows, most=3, spread=0.15):
    return choose_settings(hide, thickness_map(hide, spread), rows, 0.9, PlanLimits(most_settings=most))


def test_the_setting_that_cuts_most_of_the_hide_comes_first():
    hide = sloping(1.3, 2.1)
    narrow, wide = setting("narrow", 1.4, 1.45, 1.5), setting("wide", 1.5, 1.8, 2.2)
    assert chosen(hide, narrow, wide)[0] is wide


def test_a_second_setting_is_the_one_that_adds_most_and_together_they_cut_more():
    hide = sloping(1.1, 2.3)
    thin, middle, thick = (
        setting("thin", 0.9, 1.2, 1.5),
        setting("middle", 1.3, 1.6, 1.9),
        setting("thick", 1.7, 2.0, 2.5),
    )
    first, second = chosen(hide, thin, middle, thick, most=2)
    shares = [coverage(hide, thickness_map(hide, 0.15), rows, 0.9) for rows in ((first,), (first, second))]
    assert shares[1] > shares[0] + 0.2


def test_no_setting_is_added_that_cuts_nothing_new():
    hide = Hide("h", OUTLINE, nominal_mm=1.5)
    assert len(chosen(hide, setting("one", 1.0, 1.5, 2.0), setting("other", 1.1, 1.4, 1.9))) == 1


def test_a_setting_worked_out_between_tested_rows_is_taken_where_none_of_them_reaches():
    hide = Hide("h", OUTLINE, nominal_mm=1.6)
    (found,) = chosen(hide, setting("thin", 1.0, 1.2, 1.45), setting("thick", 1.75, 2.0, 2.2), spread=0.08)
    assert found.thickness_mm == pytest.approx(1.6) and "between" in found.name


def test_of_settings_that_cut_the_same_the_one_tested_nearest_to_the_mean_is_chosen():
    hide = Hide("h", OUTLINE, nominal_mm=1.6)
    assert chosen(hide, setting("far", 1.0, 1.2, 2.2), setting("near", 1.0, 1.5, 2.2))[0].name == "near"


@pytest.mark.parametrize("rows", [(), (setting("thick", 3, 3.5, 4),)])
def test_nothing_is_chosen_when_nothing_cuts(rows):
    assert chosen(Hide("h", OUTLINE, nominal_mm=1.5), *rows) == ()


def test_nothing_is_chosen_for_a_hide_never_measured():
    assert chosen(Hide("h", OUTLINE), setting("s", 0.1, 1, 19)) == ()


def test_settings_of_a_book_that_contradicts_itself_are_not_worked_out_between():
    hide = Hide("h", OUTLINE, nominal_mm=1.6)
    thin, thick = setting("thin", 1.0, 1.2, 1.45, speed=1), setting("thick", 1.75, 2.0, 2.2, speed=100)
    assert chosen(hide, thin, thick, spread=0.08) == ()


def test_a_further_setting_has_to_cut_as_much_more_as_is_asked():
    hide, rows = sloping(1.1, 2.3), (setting("thin", 0.9, 1.2, 1.5), setting("thick", 1.7, 2.0, 2.5))
    plain, strict = (
        choose_settings(hide, thickness_map(hide, 0.15), rows, 0.9, limits)
        for limits in (PlanLimits(), PlanLimits(settings_gain=0.9))
    )
    assert len(plain) > len(strict) == 1


def test_none_of_the_settings_cut_nothing():
    hide = Hide("h", OUTLINE, nominal_mm=1.5)
    assert coverage(hide, thickness_map(hide, 0.15), (), 0.9) == 0.0
