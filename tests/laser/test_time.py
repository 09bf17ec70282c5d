import pytest
from laser_samples import SETTING, layout_of, placement, rich_part
from shapely.geometry import LineString, box

from nesting.laser.load import bed_loads
from nesting.laser.time import machine_seconds


def square(number=1, **others):
    return placement(number, outline=box(0, 0, 50, 50), **others)


def test_a_square_takes_its_length_over_speed_times_passes():
    # 200 mm at 10 mm/s in 2 passes = 40 s; from the panel's corner (0, 0) to (30, 40) are 50 mm at 200 mm/s = 0.25 s.
    part = square(x=30, y=40)
    assert machine_seconds(layout_of([part], kerf=0), "h1") == {part.key: pytest.approx(40.25)}


def test_the_kerf_makes_the_outline_longer():
    # Moved out by 1 mm with round corners the square's edge is 200 + 2 pi mm long, and begins at (29, 40) or (30, 39).
    part = square(x=30, y=40)
    seconds = machine_seconds(layout_of([part], kerf=2), "h1")[part.key]
    assert seconds == pytest.approx((200 + 2 * 3.14159265) / 10 * 2 + 49.2 / 200, abs=0.01)


def test_engraving_runs_at_the_engraving_speed_in_one_pass():
    # 30 mm from (0, 0) to (30, 0) at 50 mm/s = 0.6 s; then 30 mm back to the square's corner at 200 mm/s = 0.15 s,
    # unless the square is begun where the engraving ends: its corners are 50 mm apart, so (50, 0), 20 mm = 0.1 s.
    part = square(x=0, y=0, engrave=[LineString([(0, 0), (30, 0)])])
    assert machine_seconds(layout_of([part], kerf=0), "h1")[part.key] == pytest.approx(0.6 + 0.1 + 40)


def test_a_move_is_charged_to_the_part_it_leads_to():
    # A closed line ends where it begins. The near square can be begun at (0, 0), (50, 0) or (50, 50), the far one is
    # begun at (150, 30); the least sum counts.
    near, far = square(1, x=0, y=0), square(2, x=150, y=30)
    seconds = machine_seconds(layout_of([near, far], kerf=0), "h1")
    ways = [
        (0, (150**2 + 30**2) ** 0.5),
        (50, (100**2 + 30**2) ** 0.5),
        ((50**2 + 50**2) ** 0.5, (100**2 + 20**2) ** 0.5),
    ]
    least = min(ways, key=sum)
    assert seconds == {near.key: pytest.approx(40 + least[0] / 200), far.key: pytest.approx(40 + least[1] / 200)}


def test_the_parts_add_up_to_the_whole_load():
    parts = [rich_part(number=n, x=20 + 80 * n, y=50) for n in range(5)]
    layout = layout_of(parts)
    (load,) = bed_loads(layout, "h1")
    cut = sum(burnt.line.length for burnt in load.lines if burnt.operation != "engrave")
    engraved = sum(burnt.line.length for burnt in load.lines if burnt.operation == "engrave")
    moved = sum(burnt.travel_mm for burnt in load.lines)
    expected = cut / SETTING.speed_mm_s * SETTING.passes + engraved / 50 + moved / 200
    assert sum(machine_seconds(layout, "h1").values()) == pytest.approx(expected)


def test_a_hide_that_is_not_burnt_takes_no_machine_time():
    part = placement()
    assert machine_seconds(layout_of([part], setting=None), "h1") == {part.key: 0.0}


def test_a_hide_without_parts_takes_no_machine_time():
    assert machine_seconds(layout_of([]), "h1") == {}
