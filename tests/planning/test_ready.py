from dataclasses import replace

from planning_jobs import SETTING, SLOPE, THICK, THIN, job_of
from shapely.geometry import Polygon, box

from nesting.planning.limits import DEFAULT, PlanLimits
from nesting.planning.ready import ready

OUTLINE = box(0, 0, 600, 400)


def ready_of(limits=DEFAULT, **facts):
    job = job_of(OUTLINE, **facts)
    return ready(job.hides[0], job.workshop, limits)


def test_a_hide_that_no_setting_covers_is_told_and_is_not_open():
    item = ready_of(nominal_mm=4.0)
    assert not item.open and "no tested setting covers hide h" in item.warnings[0]


def test_how_near_a_hide_that_no_setting_covers_comes_to_one_is_told_with_what_settles_it():
    # 1.2 to 1.8 mm are -1 and 5 standard deviations of 0.1 mm from 1.3 mm: 84 % in the table of the normal distribution
    (said,) = ready_of(nominal_mm=1.3).warnings
    assert "1.5 mm cuts clean from 1.2 to 1.8 mm (3 to 4.5 oz), which it is 84% sure to be: measure it" in said
    assert ready_of(nominal_mm=4.0).warnings[0].endswith("cut a test piece and add the setting")


def test_a_hide_of_unknown_thickness_is_told_and_is_not_open():
    item = ready_of(nominal_mm=None)
    assert not item.open and "neither nominal_mm nor readings" in item.warnings[0]


def test_leather_that_is_not_burnt_is_told_and_open():
    item = ready_of(tannage="chrome", nominal_mm=4.0)
    assert item.open and item.setting is None and "no laser files" in item.warnings[0]
    assert list(item.bands) == [0] and item.good(None, 0, 0.9) is None


def test_without_a_book_of_settings_a_hide_is_open_everywhere():
    item = ready_of(rows=())
    assert item.open and "no settings in the workshop" in item.warnings[0] and item.good(None, 0, 0.9) is None
    # what a part asks for counts all the same
    assert item.good((2.0, 3.0), 0, 0.9).is_empty and item.good((1.0, 2.0), 0, 0.9).equals(OUTLINE)
    assert item.window_mm((2.0, 3.0), 0) == (2.0, 3.0)


def test_good_leather_is_what_a_setting_cuts_and_a_part_asks_for():
    item = ready_of()
    assert item.settings == (SETTING,) and item.good(None, 0, 0.9).equals(OUTLINE)
    assert item.window_mm((1.0, 1.5), 0) == (1.2, 1.5) and item.window_mm(None, 0) == (1.2, 1.8)
    assert item.good((1.9, 2.5), 0, 0.9).is_empty
    # a hide has no setting of that number
    assert item.good(None, 1, 0.9).equals(Polygon())


def test_a_hide_keeps_no_more_settings_than_asked():
    item = ready_of(rows=(THIN, THICK), readings=SLOPE, nominal_mm=None)
    assert len(item.settings) > 1 and item.with_settings(1).settings == item.settings[:1]
    assert item.with_settings(1).setting == item.setting and list(item.bands) == list(range(len(item.settings)))
    fewer = ready_of(PlanLimits(most_settings=1), rows=(THIN, THICK), readings=SLOPE, nominal_mm=None)
    assert fewer.settings == item.settings[:1]


def test_leather_of_unknown_thickness_is_good_for_no_part_that_asks_for_one():
    job = job_of(OUTLINE, rows=(), nominal_mm=None)
    item = ready(replace(job.hides[0]), job.workshop)
    assert item.good((1.0, 2.0), 0, 0.9).is_empty
