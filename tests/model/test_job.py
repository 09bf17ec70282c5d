from datetime import date

import pytest
from shapely.geometry import box

from nesting.errors import ModelError
from nesting.model import Hide, Job, Machine, OrderLine, Part, Product, Workshop

TAG = Product("tag", (Part("tag", box(0, 0, 9, 9)),))
LINE = OrderLine("A", "tag", 40, date(2026, 3, 2))


def test_a_job_tells_itself_in_one_line():
    job = Job(Workshop(Machine("laser", 600, 400, 40)), (TAG,), (Hide("h", box(0, 0, 500, 300)),), (LINE, LINE))
    assert str(job) == repr(job) == "80 pieces of 1 product in 2 order lines, 1 hide"
    assert job.product("tag") is TAG


@pytest.mark.parametrize("quantity, priority", [(0, 3), (10_001, 3), (1, 0), (1, 10)])
def test_an_order_for_nothing_or_too_much_is_refused(quantity, priority):
    with pytest.raises(ModelError, match="of order A"):
        OrderLine("A", "tag", quantity, date(2026, 3, 2), priority)
