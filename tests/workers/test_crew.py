import multiprocessing
import operator
import os
import signal
import time

import pytest
from side_by_side import interrupted, killed_in_a_helper, slow

from nesting.workers import Cancel, Crew


@pytest.fixture(autouse=True)
def no_process_is_left():
    yield
    assert multiprocessing.active_children() == []


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_answers_come_in_the_order_asked_however_many_work_on_them(workers):
    with Crew(10, workers) as crew:
        assert crew.each(operator.add, [(1,), (2,), (3,), (4,)]) == [11, 12, 13, 14]
        assert crew.each(operator.add, [(5,), (6,)]) == [15, 16]


def test_a_task_that_fails_is_told_and_leaves_no_process_behind():
    with pytest.raises(ZeroDivisionError) as fault, Crew(1, 2) as crew:
        crew.each(operator.truediv, [(0,), (1,)])
    assert "crew.py" in fault.value.__notes__[0]
    assert multiprocessing.active_children() == []


def test_when_the_time_is_over_the_first_answer_is_still_given():
    with Crew(10, 1) as crew:
        assert crew.each(operator.add, [(1,), (2,)], lambda: True) == [11]


def test_when_the_time_is_over_nobody_waits_for_the_others():
    with Crew(None, 2) as crew:
        began = time.monotonic()
        assert crew.each(slow, [(0.0,), (60.0,)], lambda: True) == [0.0]
        assert time.monotonic() - began < 30
        assert crew.each(slow, [(0.1,), (0.0,)]) == [0.1, 0.0]


@pytest.mark.parametrize("which", [2, None])
def test_the_task_of_a_helper_that_is_killed_is_done_all_the_same(which):
    with Crew(10, 2) as crew:
        assert crew.each(killed_in_a_helper, [(1, which), (2, which), (3, which)]) == [11, 12, 13]


def test_a_cancel_ends_the_work_of_all():
    cancel = Cancel()
    with Crew(None, 2, cancel) as crew:
        assert crew.each(slow, [(60.0,), (60.0,), (60.0,)], cancel.cancel) == []
        assert crew.interrupted and multiprocessing.active_children() == []


def test_an_interrupt_keeps_the_answers_there_are():
    def ctrl_c():
        signal.raise_signal(signal.SIGINT)

    with Crew(None, 2) as crew:
        crew.each(slow, [(0.0,), (0.0,)])
        assert crew.each(slow, [(60.0,), (60.0,)], ctrl_c) == []
        assert crew.interrupted
    with Crew(None, 1) as crew:
        assert crew.each(interrupted, [()]) == [] and crew.interrupted


def test_helpers_take_no_notice_of_ctrl_c():
    with Crew(10, 2) as crew:
        crew.each(slow, [(0.0,), (0.0,)])
        for process in multiprocessing.active_children():
            os.kill(process.pid, signal.SIGINT)
        time.sleep(0.1)
        assert len(multiprocessing.active_children()) == 2
