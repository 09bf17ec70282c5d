from datetime import date

import pytest
from shapely.geometry import LineString, box

from nesting.errors import ModelError
from nesting.model import Hide, Job, Kind, Machine, OrderLine, Part, Product, Workshop

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


def test_of_what_is_asked_the_order_counts_before_the_part_and_the_part_before_the_product():
    part = Part("tag", box(0, 0, 9, 9), colour="black", finish="matt")
    product = Product("tag", (part,), leather="bridle", colour="tan", finish="waxed", tannage="chrome")
    line = OrderLine("A", "tag", 1, date(2026, 3, 2), colour=" cognac ", tannage=" ")
    assert line.kind(product, part) == Kind("bridle", "cognac", "matt", "chrome")
    assert LINE.kind(TAG, TAG.parts[0]) == Kind()


def test_a_part_with_stitch_holes_or_engraving_needs_leather_to_burn_unless_its_product_says():
    line, square = [LineString([(1, 1), (5, 1)])], box(0, 0, 9, 9)
    plain, sewn, engraved = Part("p", square), Part("p", square, stitch=line), Part("p", square, engrave=line)
    burn = lambda part, said=None: LINE.kind(Product("tag", (part,), burn=said), part).burn  # noqa: E731
    assert [burn(part) for part in (plain, sewn, engraved)] == [False, True, True]
    assert burn(plain, True) and not burn(sewn, False)


def test_an_order_asks_for_a_tannage_there_is():
    with pytest.raises(ModelError, match="tannage: oak: give one of vegetable"):
        OrderLine("A", "tag", 1, date(2026, 3, 2), tannage="oak")
