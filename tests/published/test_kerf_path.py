"""The kerf path against Steiner's formula, also when the written file is read back by another program's reader."""

import math

import pytest
from burnt_files import read
from shapely.geometry import LineString, Point, Polygon, box

from nesting.geometry import true_offset
from nesting.laser.export import export
from nesting.model import Direction, Hide, Layout, Machine, Margins, Panel, Placement, Setting, Workshop

CONVEX = [
    box(0, 0, 80, 30),
    Polygon([(0, 0), (90, 10), (20, 60)]),
    Point(50, 50).buffer(40, quad_segs=64),
    Polygon([(0, 0), (200, 3), (100, 9)]),
]


def steiner(polygon, r):
    """Area and perimeter of a convex area grown by r: A + L r + pi r^2, L + 2 pi r (Steiner 1840, from memory)."""
    return polygon.area + polygon.length * r + math.pi * r * r, polygon.length + 2 * math.pi * r


@pytest.mark.parametrize("polygon", CONVEX)
@pytest.mark.parametrize("r", [0.05, 0.1, 0.5, 2.0])
def test_the_kerf_path_follows_steiners_formula(polygon, r):
    (grown,) = true_offset(polygon, r).geoms
    area, perimeter = steiner(polygon, r)
    # Chords up to 0.00225 mm off the arc take two thirds of that times 2 pi r off the area, and a third of that times
    # 2 pi off the perimeter.
    assert grown.area == pytest.approx(area, abs=0.0015 * 2 * math.pi * r + 0.001)
    assert grown.length == pytest.approx(perimeter, abs=0.005)


@pytest.mark.parametrize("polygon", CONVEX)
@pytest.mark.parametrize("kerf", [0.1, 0.25])
def test_the_file_read_back_by_svgelements_follows_steiners_formula(tmp_path, polygon, kerf):
    hide = Hide("h", box(-20, -20, 300, 200), tannage="vegetable")
    setting = Setting("s", 1.5, 10, 60, 1, 1.3, 1.7)
    x, y = polygon.centroid.coords[0]
    part = Placement(
        "h", "1", "A", "tag", "body", 1, 1, "A", 0.0, 0.0, 0.0, False, "", Direction(), None, polygon,
        (box(x - 1, y - 1, x + 1, y + 1),),
    )  # fmt: skip
    layout = Layout(
        Workshop(Machine("m", 600, 400, 40), margins=Margins(kerf_mm=kerf)), (hide,), (Panel("1", "h", hide.outline),),
        {"h": setting}, {}, (part,), (),
    )  # fmt: skip
    areas = {group: Polygon(line) for group, line, _ in read(export(layout, tmp_path).files[0])}
    r = kerf / 2
    grown = areas["outline"]
    area, perimeter = steiner(polygon, r)
    # The file has four decimals.
    assert grown.area == pytest.approx(area, abs=1e-4 * polygon.length)
    assert grown.length == pytest.approx(perimeter, abs=0.006)
    # A square shrunk keeps its corners: side 2 mm less the kerf.
    assert areas["cutout"].area == pytest.approx((2 - kerf) ** 2, abs=1e-3)
    assert LineString(areas["cutout"].exterior.coords).length == pytest.approx(4 * (2 - kerf), abs=1e-3)
