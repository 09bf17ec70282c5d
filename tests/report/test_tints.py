"""The colours of orders: the same in the report and on the page."""

from itertools import combinations

import numpy as np
import pytest
from colorspacious import cspace_convert, deltaE
from layouts import layout, put

from nesting.bench.shapes import of_layout
from nesting.report import tints
from nesting.report.layers import order_look


def test_an_order_has_the_fill_in_the_report_that_the_page_gives_it():
    found = layout(put(), put(piece=2, order="B", x=120.0), put(piece=3, order="C", x=220.0))
    orders = of_layout(found)["orders"]
    assert orders == ["A", "B", "C"]
    assert [order_look(found, one)["facecolor"] for one in orders] == [tints.fill(number) for number in range(3)]


def test_dark_letters_stay_readable_on_every_fill():
    """WCAG 2.2, 1.4.3: at least 4.5 : 1, by the relative luminance it defines."""

    def light(text):
        levels = [int(text[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4 for level in levels]
        return sum(share * level for share, level in zip((0.2126, 0.7152, 0.0722), linear))

    assert len({tints.fill(number) for number in range(tints.COUNT)}) == tints.COUNT
    for number in range(tints.COUNT):
        assert (light(tints.fill(number)) + 0.05) / (light("#2c2115") + 0.05) >= 4.5


@pytest.mark.parametrize("kind", ["", "protanomaly", "deuteranomaly", "tritanomaly"])
def test_eight_orders_are_told_apart_by_every_eye(kind):
    """As eyes without red, green or blue cones see them (Machado, Oliveira and Fernandes 2009, at full severity), by
    the distances of CAM02-UCS (Luo, Cui and Li 2006), both as colorspacious has them: about 1 is just seen side by
    side."""
    fills = np.array([[int(tints.fill(n)[at : at + 2], 16) / 255 for at in (1, 3, 5)] for n in range(8)])
    if kind:
        space = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
        fills = np.clip(cspace_convert(fills, space, "sRGB1"), 0, 1)
    assert min(deltaE(one, other, input_space="sRGB1") for one, other in combinations(fills, 2)) >= 15
