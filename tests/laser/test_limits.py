"""Another table of numbers is handed on to whatever is burnt, laid or timed."""

from dataclasses import replace

import pytest
from laser_samples import MACHINE, hide, layout_of, placement, rich_part
from shapely.geometry import LineString, Point, box

from nesting.laser.comb import kerf_from
from nesting.laser.entry import entries
from nesting.laser.export import export
from nesting.laser.frame import thin_sides
from nesting.laser.kerf import burn_paths
from nesting.laser.limits import LaserLimits
from nesting.laser.load import bed_loads
from nesting.laser.order import burning_order
from nesting.laser.registration import align, knife_edges, named_points
from nesting.laser.swatch import swatch
from nesting.laser.time import line_seconds, machine_seconds
from nesting.model import Curve, Panel, Setting


def test_a_dot_is_as_long_as_asked():
    pin = LineString(Point(30, 10).buffer(0.05).exterior.coords)
    part = placement(stitch=[pin], x=0, y=0)
    assert burn_paths(part, 0.2, LaserLimits(dot_mm=0.01)).stitch[0].length == pytest.approx(0.01)
    layout = layout_of([part])
    (load,) = bed_loads(layout, "h1", limits=LaserLimits(dot_mm=0.01))
    assert min(burnt.line.length for burnt in load.lines) == pytest.approx(0.01)


def test_the_beam_enters_as_far_from_corners_as_asked():
    ring = LineString(box(0, 0, 60, 60).exterior.coords)
    for clear in (2.0, 12.0):
        near = min(
            LineString([(0, 0), (0, 60)]).distance(Point(*at)) for at in entries(ring, LaserLimits(clear_mm=clear))
        )
        corner = min(Point(0, 0).distance(Point(*at)) for at in entries(ring, LaserLimits(clear_mm=clear)))
        assert near == 0 and clear <= corner <= clear + 1.5
    (index, line), *_ = burning_order({"outline": [ring]}, limits=LaserLimits(clear_mm=12.0))["outline"]
    assert index == 0 and min(line.coords[0][0], line.coords[0][1]) == 0 and max(line.coords[0][:2]) >= 12


def test_a_head_that_halts_at_no_corner_is_faster():
    ring = Curve.of(box(0, 0, 60, 60))
    assert line_seconds(ring, 100, 500, LaserLimits(halt_deg=170)) < line_seconds(ring, 100, 500)
    layout = layout_of([rich_part()], machine=replace(MACHINE, acceleration_mm_s2=500))
    fast, usual = (
        sum(machine_seconds(layout, "h1", limits).values()) for limits in (LaserLimits(halt_deg=170), LaserLimits())
    )
    assert fast < usual


def test_shorter_knife_edges_count_where_asked():
    whole = hide()
    panel = box(485, 285, 500, 300)
    assert knife_edges(panel, whole) == [] and len(knife_edges(panel, whole, LaserLimits(shortest_edge_mm=10))) == 2
    ends = named_points(panel, whole, LaserLimits(shortest_edge_mm=10))
    assert set(ends.values()) == {(485, 300), (485, 285), (500, 285)}


def test_points_may_miss_by_as_much_as_asked(tmp_path):
    points = {"A": (0.0, 0.0), "B": (100.0, 0.0)}
    measured = {"A": (10.0, 10.0), "B": (114.0, 10.0)}
    assert align(points, measured, (600, 400), LaserLimits(most_miss_mm=3)).angle_deg == 0
    halves = (Panel("1", "h1", box(0, 0, 250, 300)), Panel("2", "h1", box(250, 0, 500, 300)))
    layout = layout_of([placement(x=30, y=40)], panels=halves)
    seen = {("h1", "1"): {"A": (250.0, 304.0), "B": (250.0, 0.0)}}
    assert export(layout, tmp_path, measured=seen, limits=LaserLimits(most_miss_mm=3)).files


def test_a_frame_with_more_card_and_play_is_drawn_so(tmp_path):
    layout = layout_of([placement()], hides=[hide(outline=box(0, 0, 400, 300))])
    usual = export(layout, tmp_path / "1", frame=True)
    asked = LaserLimits(border_mm=40.0, play_mm=1.0)
    (load,) = export(layout, tmp_path / "2", frame=True, limits=asked).loads
    assert load.load.laid.put(load.panel).bounds[:2] == (40, 40)
    assert usual.loads[0].load.laid.put(load.panel).bounds[:2] == (20, 20)
    assert thin_sides(load.load.laid, load.panel, LaserLimits(card_mm=50)) == ["left", "bottom"]
    assert usual.files[1].read_text() != (tmp_path / "2" / usual.files[1].name).read_text()


def test_swatches_and_combs_heed_their_limits():
    setting = Setting("s", 1.5, 10, 60, 1)
    made = swatch(setting, limits=LaserLimits(swatch_sizes=((3, 3, 5.0),), speed_step=2.0, power_span=0.5))
    assert [cell.speed_mm_s for cell in made.cells[:3]] == [5, 10, 20] and {
        cell.power_percent for cell in made.cells
    } == {
        30,
        60,
        90,
    }
    assert kerf_from([5.8, 5.5], limits=LaserLimits(fewest_widths=2, slip_mm=0.5)).mm == pytest.approx(0.35)
