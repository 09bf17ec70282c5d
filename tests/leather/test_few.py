from dataclasses import replace

import pytest
from laser_samples import hide, layout_of, placement

from nesting.leather.few import few_readings, refused_for_few
from nesting.leather.limits import DEFAULT
from nesting.model import Reading, Unplaced

READINGS = tuple(Reading(100 * n, 100, 1.5) for n in range(1, 5))


@pytest.mark.parametrize("count", range(5))
def test_a_hide_with_fewer_readings_than_a_map_takes_is_told_with_both_mends(count):
    told = few_readings(replace(hide(), readings=READINGS[:count]), 0.15)
    if count == DEFAULT.fewest_readings:
        assert told == ""
    else:
        assert f"has {count} thickness reading" in told and "vary by 0.15 mm" in told
        assert "measure it at 4 places" in told and "lower the spread" in told and "spread_mm" in told


def test_of_a_layout_only_hides_that_a_part_was_left_out_of_for_thickness_are_told():
    hides = [hide("h1"), hide("h1-offcut"), replace(hide("h2"), readings=READINGS)]
    layout = layout_of([placement()], hides=hides)

    def left(reason):
        return replace(layout, unplaced=(Unplaced("A-2", "tag", "body", 1, 1, False, reason),))

    refused = "left out with its piece, for body: thickness: 1.30 to 1.70 mm is 80% sure at best on {} (about 1.50 mm)"
    (told,) = refused_for_few(left(refused.format("h1")))
    assert told.startswith("hide h1 has 0 thickness readings")
    assert refused_for_few(left(refused.format("h1-offcut")))[0].startswith("hide h1-offcut has")
    assert refused_for_few(left(refused.format("h2"))) == []
    assert refused_for_few(left("no room left: the largest free place is 3 dm2 on h1")) == []
