from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box

from nesting.errors import ModelError
from nesting.model import Direction, Part, Product, Zone

SQUARE = box(0, 0, 50, 30)


@given(st.sampled_from(["along", "across"]), st.floats(0, 90), st.floats(0, 180), st.floats(-720, 720))
def test_a_direction_allows_an_angle_when_it_is_near_enough_to_the_backbone(kind, tolerance, backbone, angle):
    middle = backbone + (90 if kind == "across" else 0)
    away = abs((angle - middle + 90) % 180 - 90)
    if abs(away - tolerance) > 1e-3:
        assert Direction(kind, tolerance).allows(angle, backbone) == (away < tolerance)


@given(st.floats(0, 180), st.floats(-720, 720))
def test_a_free_part_may_lie_at_any_angle(backbone, angle):
    assert Direction().allows(angle, backbone)


def test_a_part_that_must_not_be_turned_round_lies_one_way_only():
    assert Direction("fixed", turn=False).allows(30, 30) and not Direction("fixed", turn=False).allows(210, 30)
    assert Direction("fixed").allows(210, 30)


def test_a_twin_is_flipped_with_all_that_is_drawn_on_it():
    part = Part(
        "p", SQUARE, (box(5, 5, 10, 10),), (LineString([(1, 1), (2, 2)]),), (LineString([(3, 3), (4, 9)]),),
        (Zone(box(20, 0, 50, 30), "B"),),
    )  # fmt: skip
    twin = part.mirrored
    assert twin.outline.equals(box(-50, 0, 0, 30)) and twin.cutouts[0].equals(box(-10, 5, -5, 10))
    assert twin.stitch[0].coords[1] == (-2, 2) and twin.engrave[0].coords[1] == (-4, 9)
    assert twin.zones[0].polygon.equals(box(-50, 0, -20, 30)) and twin.mirrored == part


@pytest.mark.parametrize(
    "more, match",
    [
        ({"grade": "F"}, "grade of part p"),
        ({"cutouts": (box(40, 0, 60, 9),)}, "leaves the outline"),
        ({"engrave_how": ("fill",)}, "for every line of engraving"),
        ({"count": 0}, "give 1 to 10000"),
        ({"thickness_mm": (2.0, 1.0)}, "least, greatest"),
    ],
)
def test_a_part_that_cannot_be_is_refused(more, match):
    with pytest.raises(ModelError, match=match):
        Part("p", SQUARE, **more)


def test_holes_are_drawn_as_cutouts():
    with pytest.raises(ModelError, match="draw the holes as cutouts"):
        Part("p", SQUARE.difference(Point(20, 15).buffer(5)))


def test_a_product_has_parts_and_none_twice():
    part = Part("p", SQUARE)
    with pytest.raises(ModelError, match="at least one part"):
        Product("bag", ())
    with pytest.raises(ModelError, match="use count"):
        Product("bag", (part, part))
    with pytest.raises(ModelError, match="no, piece or order"):
        Product("bag", (part,), "yes")


@pytest.mark.parametrize("price", ["-1", "NaN", "Infinity"])
def test_a_product_sells_for_an_amount_of_money(price):
    assert Product("bag", (Part("p", SQUARE),), price=Decimal("0")).price == 0
    with pytest.raises(ModelError, match="price of product bag"):
        Product("bag", (Part("p", SQUARE),), price=Decimal(price))


def test_what_is_asked_of_leather_is_of_a_tannage_there_is():
    assert Part("p", SQUARE, tannage=" Vegetable ").tannage == " Vegetable "
    for make in (lambda: Part("p", SQUARE, tannage="oak"), lambda: Product("bag", (Part("p", SQUARE),), tannage="oak")):
        with pytest.raises(ModelError, match="tannage: oak: give one of vegetable"):
            make()
