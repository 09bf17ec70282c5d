import os
import threading

import pytest

from nesting.workers import cores, in_threads


@pytest.mark.parametrize("workers", [1, 2, 3, None])
def test_answers_come_in_the_order_asked(workers):
    assert in_threads(lambda n: n * n, [3, 1, 2], workers) == [9, 1, 4]
    assert in_threads(lambda n: n * n, [], workers) == []


def test_threads_work_at_the_same_time():
    meet = threading.Barrier(2)
    in_threads(lambda _: meet.wait(10), [0, 1], 2)


def test_a_fault_in_a_thread_is_told():
    with pytest.raises(ZeroDivisionError):
        in_threads(lambda n: 1 // n, [1, 0], 2)


def test_only_the_cores_this_process_may_use_count(monkeypatch):
    assert 1 <= cores() <= os.cpu_count()
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 4, 7}, raising=False)
    assert cores() == 3
    monkeypatch.delattr(os, "sched_getaffinity")
    assert cores() == os.cpu_count()
