"""The time a command is given is all of it: reading, search, proof and pictures."""

import pytest

from nesting.app.actions.job import LEAST_SHARE, to_search


@pytest.mark.parametrize(
    ("seconds", "gone_s", "left"),
    [(20.0, 0.0, 16.0), (20.0, 3.0, 13.0), (8.0, 1.0, 5.0), (4.0, 3.0, 4.0 * LEAST_SHARE)],
)
def test_what_is_gone_is_not_searched_again(seconds, gone_s, left):
    assert to_search(seconds, gone_s) == left


def test_without_a_time_there_is_none_to_keep():
    assert to_search(None, 3.0) is None
