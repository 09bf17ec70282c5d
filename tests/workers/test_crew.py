import operator

import pytest

from nesting.workers.crew import Crew


@pytest.mark.parametrize("workers", [1, 2])
def test_answers_come_in_the_order_asked_however_many_work_on_them(workers):
    with Crew(10, workers) as crew:
        assert crew.each(operator.add, [(1,), (2,), (3,)]) == [11, 12, 13]


def test_a_task_that_fails_is_told_and_leaves_no_process_behind():
    with pytest.raises(ZeroDivisionError), Crew(1, 2) as crew:
        crew.each(operator.truediv, [(0,), (1,)])
    assert all(not process.is_alive() for process in (crew._pool._processes or {}).values())


def test_when_the_time_is_over_the_first_answer_is_still_given():
    with Crew(10, 1) as crew:
        assert crew.each(operator.add, [(1,), (2,)], lambda: True) == [11]
