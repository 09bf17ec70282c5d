"""Patterns against the standards they are written in, and against a general SVG library."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon

from nesting.files.patterns import read_pattern
from nesting.files.svg_curves import Pen
from nesting.files.svg_units import diagonal, length, transform, viewport

TOLERANCE_MM = 0.05


def lines(data, tolerance_mm=TOLERANCE_MM):
    return Pen(tolerance_mm, 500_000).draw(data, np.eye(3))


@pytest.mark.parametrize(
    "text, px",
    [
        # CSS Values and Units Module Level 3, 6.2, table of absolute lengths (quoted from memory):
        ("1in", 96),  # 1in = 2.54cm = 96px
        ("2.54cm", 96),
        ("1cm", 96 / 2.54),  # 1cm = 96px/2.54
        ("10mm", 96 / 2.54),  # 1mm = 1/10th of 1cm
        ("40Q", 96 / 2.54),  # 1Q = 1/40th of 1cm
        ("1pc", 16),  # 1pc = 1/6th of 1in
        ("72pt", 96),  # 1pt = 1/72nd of 1in
        ("1px", 1),  # 1px = 1/96th of 1in
        ("1", 1),  # SVG 2, 8.9: a number without unit is in user units, which are px
        ("1IN", 96),  # CSS Values 3, 5: units are ASCII case-insensitive
    ],
)
def test_absolute_lengths_are_as_css_has_them(text, px):
    assert length(text, None) == pytest.approx(px, rel=1e-14)


@pytest.mark.parametrize(
    "size, viewbox",
    [
        ("254mm", "0 0 254 254"),
        ("25.4cm", "0 0 254 254"),
        ("10in", "0 0 254 254"),
        ("960px", "0 0 254 254"),
        ("960", "0 0 254 254"),
        ("720pt", "0 0 254 254"),
        ("60pc", "0 0 254 254"),
        ("1016Q", "0 0 254 254"),
    ],
)
def test_a_part_of_100_mm_is_100_mm_in_every_unit_of_the_page(tmp_path, size, viewbox):
    path = tmp_path / "x.svg"
    body = '<g id="square"><rect id="outline" width="100" height="100"/></g>'
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}" height="{size}" viewBox="{viewbox}">{body}</svg>'
    )
    (square,) = read_pattern(path)
    assert square.outline.area == pytest.approx(10_000, rel=1e-12)


@pytest.mark.parametrize(
    "aspect, corners",
    [
        # SVG 2, 8.2 (equivalent transform of an SVG viewport), worked by hand for a viewport of 60 x 20 at (100, 200)
        # and the viewBox 10 10 20 20: meet scales by 1, slice by 3, none by 3 across and 1 down.
        (None, [(120, 200), (140, 220)]),
        ("xMidYMid", [(120, 200), (140, 220)]),
        ("xMinYMin meet", [(100, 200), (120, 220)]),
        ("xMaxYMid meet", [(140, 200), (160, 220)]),
        ("xMidYMin slice", [(100, 200), (160, 260)]),
        ("xMidYMid slice", [(100, 180), (160, 240)]),
        ("xMinYMax slice", [(100, 160), (160, 220)]),
        ("none", [(100, 200), (160, 220)]),
    ],
)
def test_a_viewbox_is_scaled_and_aligned_as_svg_2_has_it(aspect, corners):
    matrix = viewport(100, 200, 60, 20, [10, 10, 20, 20], aspect)
    mapped = np.array([[10, 10, 1], [30, 30, 1]]) @ matrix.T
    assert mapped[:, :2] == pytest.approx(np.array(corners))


def test_a_percentage_that_is_neither_across_nor_down_is_of_the_diagonal():
    # SVG 2, 8.9: sqrt(width^2 + height^2) / sqrt(2).
    assert diagonal(300, 400) == pytest.approx(500 / math.sqrt(2))


def test_nested_transforms_give_the_matrix_of_the_standard():
    # SVG 1.1, 7.4:
    # "translate(50,90) rotate(-45) translate(130,160)": [.707 .707 255.03; -.707 .707 111.21] (quoted
    # from memory; it is worked with sin 45 = .707, so its last column is right to 0.04).
    matrix = transform("translate(50,90),rotate(-45) translate(130,160)")
    expected = np.array([[0.707, 0.707, 255.03], [-0.707, 0.707, 111.21], [0, 0, 1]])
    assert matrix == pytest.approx(expected, abs=0.04)


@pytest.mark.parametrize("radius", [0.5, 5, 50, 500])
def test_an_arc_path_of_a_circle_has_its_area_within_the_tolerance(radius):
    # SVG 2, B.2 (elliptical arc implementation notes); a chord error e takes at most e times the length off the area.
    (line,) = lines(f"M{radius} 0A{radius} {radius} 0 1 1 {-radius} 0A{radius} {radius} 0 0 1 {radius} 0Z")
    area = Polygon(line.points).area
    assert math.pi * radius**2 - 2 * math.pi * radius * TOLERANCE_MM <= area <= math.pi * radius**2


@pytest.mark.parametrize(
    "flags, centre, turn_deg",
    [
        # SVG 2, 9.3.8, "M 125,75 a100,50 0 ?,? 100,50": the four arcs of the figure. Both ellipses through the two
        # points are centred on (225, 75) or (125, 125), by putting the points into the equation of the ellipse.
        ("0,0", (225, 75), -90),
        ("0,1", (125, 125), 90),
        ("1,0", (125, 125), -270),
        ("1,1", (225, 75), 270),
    ],
)
def test_the_flags_choose_among_four_arcs(flags, centre, turn_deg):
    (line,) = lines(f"M125,75 a100,50 0 {flags} 100,50", 1e-4)
    unit = (line.points - centre) / (100, 50)
    assert np.hypot(*unit.T) == pytest.approx(1, abs=1e-9)
    turned = np.unwrap(np.arctan2(unit[:, 1], unit[:, 0]))
    assert math.degrees(turned[-1] - turned[0]) == pytest.approx(turn_deg, abs=1e-6)


@pytest.mark.parametrize("rx, ry, rotation", [(1, 1, 0), (3, 2, 0), (1, 4, 30), (-1, 1, 0)])
def test_radii_too_small_for_the_chord_are_scaled_up(rx, ry, rotation):
    # SVG 2, B.2.5: scaled by the least factor that reaches, so the chord becomes a diameter; signs are dropped.
    (line,) = lines(f"M0 0A{rx} {ry} {rotation} 0 1 20 6", 1e-4)
    axis = np.exp(-1j * math.radians(rotation))
    unit = (line.points @ [1, 1j] - (10 + 3j)) * axis
    unit = unit.real / abs(rx) + 1j * unit.imag / ry
    assert np.abs(unit) == pytest.approx(abs(unit[0]))


def test_a_parabola_cuts_off_two_thirds_of_its_box():
    # Archimedes, Quadrature of the Parabola: the segment is 4/3 of the triangle on the same base and height.
    (line,) = lines("M0 0Q50 100 100 0Z")
    assert Polygon(line.points).area == pytest.approx(4 / 3 * (100 * 50 / 2), abs=0.05 * 150)


def test_four_cubics_of_the_usual_constant_are_a_circle_to_three_in_ten_thousand():
    # Goldapp 1991 and common practice: with k = 4/3 (sqrt 2 - 1) the radius is off by 0.027 % at most (from memory).
    k = 100 * 4 / 3 * (math.sqrt(2) - 1)
    (line,) = lines(f"M100 0C100 {k} {k} 100 0 100S-100 {k}-100 0S{-k}-100 0-100S100 {-k} 100 0Z", 1e-4)
    assert np.hypot(*line.points.T) == pytest.approx(100, rel=2.8e-4)


coordinate = st.floats(-60, 60).map(lambda value: round(value, 2))
radius = st.floats(1, 80).map(lambda value: round(value, 2))
segments = st.one_of(
    st.tuples(coordinate, coordinate).map(lambda v: "l{} {}".format(*v)),
    st.tuples(coordinate, coordinate).map(lambda v: "L{},{}".format(*v)),
    coordinate.map("h{}".format),
    coordinate.map("V{}".format),
    st.tuples(*[coordinate] * 6).map(lambda v: "c{} {} {} {} {} {}".format(*v)),
    st.tuples(*[coordinate] * 10).map(lambda v: "C{} {} {} {} {} {}S{} {} {} {}".format(*v)),
    st.tuples(*[coordinate] * 6).map(lambda v: "q{} {} {} {}t{} {}".format(*v)),
    st.tuples(*[coordinate] * 4).map(lambda v: "Q{} {} {} {}".format(*v)),
    st.tuples(radius, radius, coordinate, st.sampled_from(["00", "01", "10", "11"]), coordinate, coordinate).map(
        lambda v: "a{} {} {} {} {} {}".format(*v)
    ),
)


@settings(max_examples=40, deadline=None)
@example(["a1.0 70.5 0.0 00 53.0 0.0"])  # scaled up to half an ellipse of 27 mm by 1.9 m
@given(st.lists(segments, min_size=1, max_size=6))
def test_paths_follow_those_of_a_general_library(pieces):
    # svgelements (MIT), on what it reads as SVG 2 does: it differs on T after C and S after Q, which are left out here.
    svgelements = pytest.importorskip("svgelements")
    data = "M3 4" + "".join(pieces)
    sampled = [
        segment.npoint(np.linspace(0, 1, 2001))
        for segment in svgelements.Path(data)[1:]
        if not (isinstance(segment, svgelements.Arc) and segment.start == segment.end)
    ]
    reference = np.concatenate([np.array([[3.0, 4.0]]), *sampled])
    (drawn,) = lines(data)
    if len(drawn.points) < 2:
        assert np.ptp(reference, axis=0) == pytest.approx(0, abs=1e-6)
        return
    off = shapely.distance(shapely.points(reference), LineString(drawn.points))
    assert off.max() <= TOLERANCE_MM + 1e-6
    dense = LineString(reference)
    assert shapely.distance(shapely.points(drawn.points), dense).max() <= 0.05
