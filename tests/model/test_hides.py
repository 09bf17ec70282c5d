from decimal import Decimal

import pytest
from shapely.geometry import box

from nesting.errors import ModelError
from nesting.model import Hide, Reading, Suggestion, Zone

OUTLINE = box(0, 0, 1200, 500)


def test_a_hide_tells_itself_in_one_line():
    hide = Hide(
        "h1", OUTLINE, (Zone(box(0, 0, 9, 9), "B"),), (Reading(1, 1, 1.5), Reading(2, 2, 1.5)), tannage="chrome"
    )
    assert str(hide) == repr(hide)
    assert str(hide) == "hide h1: 1200 x 500 mm, 60.0 dm2, tannage chrome, 1 zone, 2 thickness readings"


def test_a_backbone_has_no_sense():
    assert Hide("h", OUTLINE, backbone=((0, 0), (10, 10))).backbone_deg == pytest.approx(45)
    assert Hide("h", OUTLINE, backbone=((10, 10), (0, 0))).backbone_deg == pytest.approx(45)
    assert Hide("h", OUTLINE).backbone_deg == 0


@pytest.mark.parametrize("tannage", ["chrome", "synthetic", "unknown"])
def test_only_vegetable_tanned_leather_is_safe(tannage):
    assert Hide("h", OUTLINE, tannage="vegetable").laser_safe and not Hide("h", OUTLINE, tannage=tannage).laser_safe


@pytest.mark.parametrize(
    "more, match",
    [
        ({"tannage": "oak"}, "give one of vegetable"),
        ({"nominal_mm": 0}, "nominal_mm of hide h"),
        ({"nominal_mm": 21}, "at most 20"),
        ({"price": Decimal(-1)}, "price of hide h"),
        ({"backbone": ((1, 1), (1, 1))}, "two different points"),
    ],
)
def test_a_hide_that_cannot_be_is_refused(more, match):
    with pytest.raises(ModelError, match=match):
        Hide("h", OUTLINE, **more)


def test_a_suggestion_that_a_person_accepts_becomes_a_zone():
    assert Suggestion(box(0, 0, 9, 9), "D", "stain", 0.8).accepted() == Zone(box(0, 0, 9, 9), "D", "stain")
    with pytest.raises(ModelError, match="share from 0 to 1"):
        Suggestion(box(0, 0, 9, 9), "D", confidence=1.1)
