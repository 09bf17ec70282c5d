"""Panels that may not fit the bed, since a photo tells their size to a mm or two only."""

from dataclasses import replace

import pytest
from layouts import layout, put
from shapely.geometry import box

from nesting.laser.tight import tight_panels
from nesting.model import Burnt, Hide, Machine, Panel, StatedError


def traced(wide, off_mm):
    """A layout of one whole hide on a bed of 600 x 400 mm."""
    error = StatedError((0.0, 1000.0), (0.0, 1000.0), ((off_mm, off_mm), (off_mm, off_mm)))
    return layout(put(), hide=Hide("h", box(0, 0, wide, 300), nominal_mm=1.5, tannage="vegetable", error=error))


def test_a_hide_a_mm_smaller_than_the_bed_is_told_of_where_its_photo_may_be_off_by_more():
    (said,) = tight_panels(traced(599.0, 1.5))
    assert said.startswith("panel 1 of hide h is 599 mm wide on a bed of 600 mm, and may be 1.5 mm more")
    assert said.endswith(
        "measure it before it is burnt, or set the bed margin (bed_margin_mm) to 0.8 mm and plan again"
    )


@pytest.mark.parametrize(("wide", "off_mm"), [(599.0, 0.9), (590.0, 1.5)])
def test_what_fits_however_far_the_photo_is_off_needs_no_word(wide, off_mm):
    assert tight_panels(traced(wide, off_mm)) == []


def test_with_the_margin_told_a_panel_that_fits_is_not_told_of_again():
    found = traced(598.4, 1.5)
    machine = replace(found.workshop.machine, bed_margin_mm=0.8)
    assert tight_panels(replace(found, workshop=replace(found.workshop, machine=machine))) == []
    assert found.hides[0].outline.bounds[2] == machine.usable_mm[0]
    # the usable bed is smaller by all that the photo may be off, so that the bed itself holds it
    assert found.hides[0].outline.bounds[2] + 1.5 <= Machine("laser", 600, 400, 40).bed_width_mm


def test_a_margin_too_small_for_what_the_photo_may_be_off_is_told_with_the_one_that_will_do():
    found = traced(599.0, 1.5)
    machine = replace(found.workshop.machine, bed_margin_mm=0.4)
    (said,) = tight_panels(replace(found, workshop=replace(found.workshop, machine=machine)))
    assert "is 599 mm wide on a bed of 600 mm" in said and "to 0.8 mm and plan again" in said


def test_what_is_burnt_was_not_measured_by_its_edge_or_is_not_to_be_burnt_needs_no_word():
    found = traced(599.0, 1.5)
    assert tight_panels(replace(found, burnt=(Burnt(found.panels[0], ()),))) == []
    assert tight_panels(replace(found, settings={})) == []
    # all of its edges cut along a rule
    inner = replace(found.hides[0], outline=box(-10, -10, 700, 310))
    panel = Panel("1", "h", box(50, 5, 649, 295))
    assert tight_panels(replace(found, hides=(inner,), panels=(panel,))) == []
