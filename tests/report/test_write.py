from dataclasses import replace

import pytest
from laser_samples import hide, layout_of, placement
from shapely.geometry import box

from nesting.costs.figures import figures
from nesting.model import Cut, Panel
from nesting.report.limits import ReportLimits
from nesting.report.write import write_reports


@pytest.fixture
def small():
    """One part on the first of two hides."""
    return layout_of([placement()], hides=[hide(), hide("spare")])


def test_there_is_a_report_and_a_picture_of_every_hide_that_is_cut(small, tmp_path):
    written = write_reports(small, tmp_path / "out", figures(small))
    assert [path.name for path in written] == ["report.html", "hide-h1.png", "hide-h1.svg"]
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == sorted(path.name for path in written)


def test_there_is_a_guide_to_cutting_a_hide_into_panels(small, tmp_path):
    panels = (Panel("1", "h1", box(0, 0, 300, 300)),)
    written = write_reports(replace(small, cuts=(Cut("h1", (300, 0), (300, 300)),), panels=panels), tmp_path)
    assert [path.name for path in written[3:]] == ["cutting-guide-h1.png", "cutting-guide-h1.svg"]


def test_how_heavy_pictures_are_and_how_many_may_be_said(small, tmp_path):
    few = ReportLimits(most_hide_bytes=1, most_offcut_pictures=0)
    page = write_reports(small, tmp_path, limits=few)[0].read_text()
    assert page.count("<img") == 1 and "data:image/png" in page and "data:image/svg" not in page
    page = write_reports(small, tmp_path)[0].read_text()
    assert page.count("<img") == 1 + len(figures(small)["hides"][0]["offcuts"]) > 1 and "data:image/svg" in page
