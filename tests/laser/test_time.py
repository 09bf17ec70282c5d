from dataclasses import replace

import pytest
from laser_samples import DEEP, MACHINE, SETTING, layout_of, placement, rich_part
from shapely.geometry import LineString, Point, box

from nesting.laser.load import bed_loads
from nesting.laser.offset import moved
from nesting.laser.time import line_seconds, load_seconds, machine_seconds, moving_seconds, raster_seconds
from nesting.model import Curve


def square(number=1, **others):
    return placement(number, outline=box(0, 0, 50, 50), **others)


def test_a_square_takes_its_length_over_speed_times_passes():
    # 200 mm at 10 mm/s in 2 passes = 40 s; from the bed's corner (0, 0) to the entry 5 to 6 mm from the corner at
    # (30, 40) are sqrt(35^2 + 40^2) = 53.2 mm to sqrt(36^2 + 40^2) = 53.8 mm or, up the other side, 54.1 to 54.9 mm.
    part = square(x=30, y=40)
    assert machine_seconds(layout_of([part], kerf=0), "h1") == {part.key: pytest.approx(40 + 53.5 / 200, abs=0.0021)}


def test_the_kerf_makes_the_outline_longer():
    # Moved out by 1 mm with round corners the square's edge is 200 + 2 pi mm long.
    part = square(x=30, y=40)
    seconds = machine_seconds(layout_of([part], kerf=2), "h1")[part.key]
    assert seconds == pytest.approx((200 + 2 * 3.14159265) / 10 * 2 + 52 / 200, abs=0.02)


def test_engraving_without_a_tested_row_runs_at_the_engraving_speed_in_one_pass():
    # 30 mm from (0, 0) to (30, 0) at 50 mm/s = 0.6 s; the square is begun right there, 40 s.
    part = square(x=0, y=0, engrave=[LineString([(0, 0), (30, 0)])])
    assert machine_seconds(layout_of([part], kerf=0), "h1")[part.key] == pytest.approx(0.6 + 40, abs=0.003)


def test_engraving_runs_with_its_tested_row():
    # 30 mm at 100 mm/s in 3 passes.
    rows = (replace(DEEP, operation="engrave shallow", speed_mm_s=100, passes=3, line_spacing_mm=0),)
    part = square(x=0, y=0, engrave=[LineString([(0, 0), (30, 0)])])
    assert machine_seconds(layout_of([part], kerf=0, engravings=rows), "h1")[part.key] == pytest.approx(40.9, abs=0.003)


def test_a_filled_area_is_engraved_row_by_row():
    # 20 x 10 mm in rows 0.1 mm apart: 100 rows of 20 mm at 80 mm/s = 25 s; 32 mm to an entry at 200 mm/s, 0.16 s.
    part = square(x=0, y=0, engrave=[LineString(box(20, 20, 40, 30).exterior.coords)])
    layout = layout_of([part], kerf=0, engravings=(DEEP,), engraving_depth="deep")
    (load,) = bed_loads(layout, "h1")
    seconds = load_seconds(load, MACHINE)
    assert seconds["engrave"] == pytest.approx(25 + 32.5 / 200, abs=0.003)
    assert seconds["loading"] == 300


def test_a_shape_that_is_followed_is_timed_by_its_length_beside_one_that_is_filled():
    # Squares of 10 mm: one in 100 rows of 10 mm, 12.5 s; the other's edge of 40 mm, 0.5 s, both at 80 mm/s; besides,
    # moves.
    squares = [LineString(box(a, 20, a + 10, 30).exterior.coords) for a in (10, 30)]
    part = square(x=0, y=0, engrave=squares, engrave_how=("fill", "line"))
    (load,) = bed_loads(layout_of([part], kerf=0, engravings=(DEEP,), engraving_depth="deep"), "h1")
    moves = sum(line.travel_mm for line in load.lines if line.operation == "engrave") / 200
    assert load_seconds(load, MACHINE)["engrave"] == pytest.approx(13.0 + moves, abs=1e-6)


def test_rows_of_a_fill_pay_for_turning_at_either_end():
    # 100 rows of 20 mm at 80 mm/s; slowing down from and speeding up to 80 mm/s at 1000 mm/s2 takes 0.16 s a row.
    area = box(0, 0, 20, 10)
    assert raster_seconds(area, 0.1, 80, 1000) == pytest.approx(100 * (0.25 + 0.16))


def test_a_move_speeds_up_and_slows_down():
    # 100 mm at 200 mm/s and 2000 mm/s2: 0.1 s up over 10 mm, 80 mm at speed in 0.4 s, 0.1 s down: 0.6 s.
    assert moving_seconds(100, 200, 2000) == pytest.approx(0.6)
    # 5 mm never reach the speed: 2 sqrt(5 / 2000) = 0.1 s.
    assert moving_seconds(5, 200, 2000) == pytest.approx(0.1)
    assert moving_seconds(0, 200, 2000) == 0 and moving_seconds(100, 200, 0) == 0.5


def test_the_head_halts_at_every_corner_of_a_square():
    # Four sides of 50 mm at 10 mm/s and 100 mm/s2: 5 s + 0.1 s each.
    assert line_seconds(Curve.of(box(0, 0, 50, 50)), 10, 100) == pytest.approx(4 * 5.1)
    # Rounded off by half a kerf of 0.2 mm it halts four times as well, and once where it was begun on a side.
    for rounded in (Curve.of(box(0, 0, 50, 50).buffer(0.1)), moved(Curve.of(box(0, 0, 50, 50)), 0.1)):
        assert line_seconds(rounded, 10, 100) == pytest.approx(4 * 5.1, abs=0.2)


def test_the_head_runs_through_a_bend_without_halting():
    arcs = Curve(((20.0, 0.0, 1.0), (-20.0, 0.0, 1.0)), True)
    for circle in (Curve.of(Point(0, 0).buffer(20, quad_segs=64)), arcs):
        assert line_seconds(circle, 10, 100) == pytest.approx(circle.length / 10 + 0.1)


def test_a_move_is_charged_to_the_part_it_leads_to():
    near, far = square(1, x=0, y=0), square(2, x=150, y=30)
    layout = layout_of([near, far], kerf=0)
    (load,) = bed_loads(layout, "h1")
    moves = {burn.placement.key: burn.travel_mm for burn in load.lines}
    assert moves[far.key] > 90
    expected = {key: pytest.approx(40 + move / 200) for key, move in moves.items()}
    assert machine_seconds(layout, "h1") == expected


def test_the_parts_add_up_to_the_whole_load():
    parts = [rich_part(number=n, x=20 + 80 * n, y=50) for n in range(5)]
    layout = layout_of(parts)
    (load,) = bed_loads(layout, "h1")
    cut = sum(burnt.curve.length for burnt in load.lines if burnt.operation != "engrave")
    engraved = sum(burnt.curve.length for burnt in load.lines if burnt.operation == "engrave")
    travelled = sum(burnt.travel_mm for burnt in load.lines)
    expected = cut / SETTING.speed_mm_s * SETTING.passes + engraved / 50 + travelled / 200
    assert sum(machine_seconds(layout, "h1").values()) == pytest.approx(expected)
    assert sum(load_seconds(load, MACHINE).values()) == pytest.approx(expected + 300)


def test_a_hide_that_is_not_burnt_takes_no_machine_time():
    part = placement()
    assert machine_seconds(layout_of([part], setting=None), "h1") == {part.key: 0.0}


def test_a_hide_without_parts_takes_no_machine_time():
    assert machine_seconds(layout_of([]), "h1") == {}
