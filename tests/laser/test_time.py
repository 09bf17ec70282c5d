import pytest
from laser_samples import layout_of, placement
from shapely.geometry import LineString, box

from nesting.laser.time import machine_seconds


def test_a_square_takes_its_length_over_speed_times_passes():
    part = placement(outline=box(0, 0, 50, 50), x=0, y=0)
    # no kerf: 200 mm at 10 mm/s, 2 passes; the head starts at the first corner of the outline or travels to it
    seconds = machine_seconds(layout_of([part], kerf=0), "h1")[part.key]
    reach = LineString([(0, 0), part.outline.exterior.coords[0]]).length
    assert seconds == pytest.approx(200 / 10 * 2 + reach / 200)


def test_engraving_runs_at_the_engraving_speed():
    plain = placement(outline=box(0, 0, 50, 50), x=0, y=0)
    drawn = placement(outline=box(0, 0, 50, 50), x=0, y=0, engrave=[LineString([(0, 0), (25, 0)])])
    more = machine_seconds(layout_of([drawn], kerf=0), "h1")[drawn.key] - machine_seconds(layout_of([plain], kerf=0), "h1")[plain.key]
    assert 25 / 50 <= more < 25 / 50 + 100 / 200


def test_a_hide_that_is_not_burnt_takes_no_machine_time():
    part = placement()
    assert machine_seconds(layout_of([part], setting=None), "h1") == {part.key: 0.0}
