from hypothesis import given, settings
from hypothesis import strategies as st
from layouts import layout, put, rules

from nesting.referee.findings import Finding
from nesting.referee.rules import check


@settings(max_examples=60, deadline=None)
@given(st.integers(-100, 100))
def test_a_gap_is_found_short_exactly_when_it_is(steps):
    # of the grid of a tenth of a micrometre on which corners are judged; ten of them are the slack
    assert rules(put(), put(x=81.2 + steps / 10_000, piece=2)) == ({1} if steps < -10 else set())


def test_a_finding_reads_as_one_plain_line():
    text = str(check(layout(put(), put(x=50, piece=2)))[0])
    assert text.startswith("rule 1, overlap: A tag tag")
    assert "\n" not in str(Finding(1, "overlap", "A\nB", "1 mm2", "apart"))


def test_findings_are_a_list_that_prints_one_a_line_and_how_many():
    assert str(check(layout(put()))) == "every rule holds" and check(layout(put())) == []
    found = check(layout(put(), put(x=21, piece=2), put(x=490, piece=3)))
    assert str(found) == repr(found) == "\n".join([*map(str, list(found)), f"{len(found)} findings"])
    assert len(found) > 1 and found == list(found)
