"""Lines moved by half the kerf, against distances measured on dense polygons."""

import math

import numpy as np
import pytest
import shapely
from burnt_files import burnt
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from laser_samples import placement
from shapely.geometry import LineString, Point, Polygon

from nesting.laser.cubics import Bend, Cubic, Straight, pieces
from nesting.laser.entry import begun_near
from nesting.laser.kerf import burn_paths
from nesting.laser.limits import DEFAULT
from nesting.laser.offset import moved, strays_mm
from nesting.model import Curve, Curves

TRUE_MM = 0.005
"""What a line burnt may be off."""


def star_of(radii, bulges):
    angles = np.linspace(0, 2 * math.pi, len(radii), endpoint=False)
    nodes = [(r * math.cos(a), r * math.sin(a), b) for r, a, b in zip(radii, angles, bulges)]
    return Curve(tuple(nodes), True)


@st.composite
def shapes(draw):
    """Closed lines of straight stretches and arcs, bowed in and out, with corners of all kinds."""
    count = draw(st.integers(4, 12))
    radii = draw(st.lists(st.floats(10, 40), min_size=count, max_size=count))
    bulge = st.one_of(st.just(0.0), st.floats(-0.4, 0.9))
    curve = star_of(radii, draw(st.lists(bulge, min_size=count, max_size=count)))
    area = Polygon(curve.flattened(1e-3))
    assume(area.is_valid and area.area > 100 and not area.buffer(-1).is_empty)
    return curve if draw(st.booleans()) else curve.backwards


def part_of(curve, cutout=False):
    """A part with a curve for its outline, or for a cutout."""
    polygon = Polygon(curve.flattened(0.05))
    if not cutout:
        return placement(outline=polygon, x=0, y=0, drawn=Curves(curve))
    square = shapely.box(-90, -90, 90, 90)
    return placement(outline=square, cutouts=[polygon], x=0, y=0, drawn=Curves(Curve.of(square), (curve,)))


def off(line, area, distance):
    """How far points all along a line are from lying at a distance from the edge of an area."""
    points = shapely.points(shapely.get_coordinates(line.segmentize(0.2)))
    return np.abs(shapely.distance(area.exterior, points) - distance).max()


@settings(max_examples=80, deadline=None)
@given(shapes(), st.floats(0.05, 0.6))
def test_an_outline_of_arcs_is_burnt_half_a_kerf_outside_to_five_microns(curve, kerf):
    area = Polygon(curve.flattened(1e-5))
    for line in (line for line in burnt(part_of(curve), kerf).outline if line.is_closed):
        assert off(line, area, kerf / 2) <= TRUE_MM
        assert not area.buffer(-1e-3).intersects(line)


@settings(max_examples=80, deadline=None)
@given(shapes(), st.floats(0.05, 0.6))
def test_a_cutout_of_arcs_is_burnt_half_a_kerf_inside_to_five_microns(curve, kerf):
    area = Polygon(curve.flattened(1e-5))
    lines = [line for line in burnt(part_of(curve, cutout=True), kerf).cutout if line.is_closed]
    assert lines and all(off(line, area, kerf / 2) <= TRUE_MM and area.contains(line) for line in lines)


def test_a_round_hole_is_burnt_as_a_smaller_circle_and_a_round_part_as_a_larger():
    hole, edge = (Curve(((x + r, 0.0, 1.0), (x - r, 0.0, 1.0)), True) for x, r in ((10.0, 0.5), (0.0, 40.0)))
    polygons = [Polygon(curve.flattened(0.05)) for curve in (edge, hole)]
    ring = LineString(polygons[1].exterior.coords)
    part = placement(outline=polygons[0], stitch=[ring], x=0, y=0, drawn=Curves(edge, (), (hole,)))
    paths = burn_paths(part, 0.2)
    assert paths.stitch[0].circle == pytest.approx((10, 0, 0.4, True))
    assert paths.outline[0].circle == pytest.approx((0, 0, 40.1, True)) and not paths.warnings


def test_a_slot_grows_by_half_a_kerf_and_keeps_its_four_stretches():
    slot = Curve(((0.0, 0.0, 0.0), (20.0, 0.0, 1.0), (20.0, 6.0, 0.0), (0.0, 6.0, 1.0)), True)
    for curve in (slot, slot.backwards):
        grown, shrunk = moved(curve, 0.1), moved(curve, -0.1)
        assert len(grown.nodes) == len(shrunk.nodes) == 4
        assert grown.length == pytest.approx(40 + 2 * math.pi * 3.1)
        assert shrunk.length == pytest.approx(40 + 2 * math.pi * 2.9)


def test_a_fillet_tighter_than_half_the_kerf_gives_way_to_a_corner():
    r = 0.05
    corners = [(0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (10 + r, 10.0), (10.0, 10 + r), (10.0, 20.0), (0.0, 20.0)]
    bay = Curve(tuple((x, y, -math.tan(math.pi / 8) if n == 3 else 0.0) for n, (x, y) in enumerate(corners)), True)
    grown = moved(bay, 0.1)
    assert any(math.dist(node[:2], (10.1, 10.1)) < 1e-9 for node in grown.nodes)
    assert strays_mm(grown.flattened(1e-4), Polygon(bay.flattened(1e-5)).buffer(0.1, quad_segs=64).exterior) < 1e-3


@settings(max_examples=60, deadline=None)
@given(shapes(), st.floats(0, 1))
def test_a_line_begun_elsewhere_is_the_same_line(curve, share):
    line = curve.flattened(1e-4)
    spot = np.array(line.interpolate(share, normalized=True).coords[0]) + 1e-4
    begun = begun_near(curve, spot)
    assert math.dist(begun.nodes[0][:2], spot) < 1e-3
    assert begun.length == pytest.approx(curve.length) and strays_mm(begun.flattened(1e-4), line) < 3e-4


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(3, 30), st.floats(0.05, 0.6), st.booleans()), min_size=4, max_size=14))
def test_a_cubic_stays_by_the_arcs_it_stands_for_and_goes_on_as_they_do(arcs):
    here, way, nodes = 0j, 1 + 0j, []
    for radius, sweep, left in arcs:
        sweep = sweep if left else -sweep
        nodes.append((here.real, here.imag, math.tan(sweep / 4)))
        here += way * radius * abs(sweep) * np.sinc(sweep / 2 / math.pi) * np.exp(1j * sweep / 2)
        way *= np.exp(1j * sweep)
    curve = Curve((*nodes, (here.real, here.imag, 0.0)))
    line, at = curve.flattened(1e-5), complex(*nodes[0][:2])
    for piece in pieces(curve):
        assert not isinstance(piece, Straight)
        if isinstance(piece, Cubic):
            t = np.linspace(0, 1, 200)
            s = 1 - t
            drawn = s**3 * at + 3 * s * s * t * piece.first + 3 * s * t * t * piece.second + t**3 * piece.end
            assert shapely.distance(line, shapely.points(drawn.real, drawn.imag)).max() <= DEFAULT.cubic_mm * 1.2
        assert line.distance(Point(piece.end.real, piece.end.imag)) < 1e-6
        at = piece.end
    assert math.dist((at.real, at.imag), (here.real, here.imag)) < 1e-9


def test_a_wide_arc_is_written_in_parts_and_few_arcs_stay_arcs():
    half = Curve(((5.0, 0.0, 1.0), (-5.0, 0.0, 0.0)))
    assert [type(piece) for piece in pieces(half)] == [Bend, Bend]
    assert sum(isinstance(piece, Bend) for piece in pieces(Curve(((5.0, 0.0, 0.4), (-5.0, 0.0, 0.0))))) == 1
