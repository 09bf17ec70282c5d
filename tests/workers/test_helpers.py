import multiprocessing
import os
import signal

import pytest
from side_by_side import deaf, echo, once

from nesting.workers import Cancel, Gone, Helpers, WorkerLimits


def test_each_is_heard_in_the_order_started():
    with Helpers() as helpers:
        for word in "abc":
            helpers.start(echo, word)
        helpers.tell(1)
        assert list(helpers.hear_each()) == [("a", 1), ("b", 1), ("c", 1)]
        assert list(helpers.hear()) == []
        helpers.tell(2)
        heard = []
        while len(heard) < 3:
            heard += helpers.hear(0.1)
        assert sorted(heard) == [("a", 2), ("b", 2), ("c", 2)]
    assert multiprocessing.active_children() == []


def test_one_that_is_killed_is_missed_by_nobody():
    with Helpers() as helpers:
        first, second = (helpers.start(echo, word) for word in "ab")
        helpers.tell(1)
        assert len(list(helpers.hear_each())) == 2
        os.kill(multiprocessing.active_children()[0].pid, signal.SIGKILL)
        while len(multiprocessing.active_children()) > 1:
            pass
        helpers.tell(2)
        assert len(list(helpers.hear_each())) == 1 and len(helpers.channels) == 1
        lost = first if first not in helpers.channels else second
        with pytest.raises(Gone):
            lost.send(3)


def test_a_channel_tells_when_its_helper_has_done():
    with Helpers() as helpers:
        channel = helpers.start(once, "word")
        assert channel.receive() == "word"
        with pytest.raises(Gone):
            channel.receive()


def test_nobody_is_waited_for_after_a_cancel():
    cancel = Cancel()
    with Helpers() as helpers:
        helpers.start(echo, "a")
        cancel.cancel()
        assert list(helpers.hear_each(cancel)) == []


def test_one_that_will_not_go_is_killed():
    with Helpers(WorkerLimits(leave_s=0.2)) as helpers:
        helpers.start(deaf).receive()
    assert multiprocessing.active_children() == []
