"""What to buy and what to make, from the book."""

import random
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from commands import run
from shop import HEADER, leather, plan, shop

from nesting.book.book import Book
from nesting.files.job import read_making
from nesting.files.orders import read_orders
from nesting.model import OrderLine
from nesting.referee.rules import check

FOB_MM2 = 80 * 30 + 40 * 15
"""Leather in one key fob and its loop, its hole apart."""


class Clock:
    """A time that tests set."""

    def __init__(self):
        self.at = datetime(2026, 1, 5, 9, tzinfo=UTC)

    def __call__(self):
        return self.at


@pytest.fixture
def book(tmp_path):
    clock = Clock()
    Book.begin(shop(tmp_path / "shop", [leather("bend", price="29.38")]), clock)
    made = Book(tmp_path / "shop", clock)
    made.clock = clock
    made.take_hides()
    return made


def products(book):
    return read_making(book.folder)[1]


def test_what_is_ordered_and_not_planned_is_to_be_bought_for(book):
    """With too few hides cut to tell: 40, 55 and 70 % of the leather, the stated assumption."""
    assert book.to_buy(products(book)) == []
    book.take_orders([OrderLine("1", "key fob", 100, None)])
    (one,) = book.to_buy(products(book))
    parts = one.parts_mm2
    assert parts == pytest.approx(100 * (FOB_MM2 - 3.14159 * 16), rel=1e-3) and one.pieces == {"key fob": 100}
    assert one.likely_mm2 == pytest.approx(parts / 0.55)
    assert one.range_mm2 == pytest.approx((parts / 0.7, parts / 0.4))
    # 29.38 was paid for 117,500 mm2
    assert one.cost == (Decimal("29.38") * Decimal(one.likely_mm2) / 117500).quantize(Decimal("0.01"))
    plan(book, random.Random(1))
    (after,) = book.to_buy(products(book))
    assert after.pieces["key fob"] == 100 - book.orders()[0].planned < 100


def test_weeks_to_come_are_as_those_past(book):
    book.take_orders([OrderLine("old", "key fob", 500, None)])
    book.set_done("old")
    book.clock.at += timedelta(weeks=30)
    book.take_orders([OrderLine("new", "key fob", 13, None)])
    book.set_done("new")
    # 13 in 26 weeks are half a piece a week, 5 in ten weeks; those of 30 weeks ago do not count
    (one,) = book.to_buy(products(book), ahead_weeks=10)
    assert one.pieces == {"key fob": 5}


def test_the_weeks_told_are_those_the_book_has(tmp_path):
    young = Book.begin(shop(tmp_path / "shop"))
    young.take_orders([OrderLine("1", "key fob", 2, None)])
    told = " ".join(run("buy", "--weeks", "8", cwd=young.folder).stdout.split())
    assert "and 8 weeks to come as ordered in the last 1 week of the stock book" in told and "26" not in told


def test_the_range_is_that_of_the_hides_cut(tmp_path):
    hides = [leather(f"h{n}", 300 + 20 * n, price=None) for n in range(6)]
    book = Book.begin(shop(tmp_path / "shop", hides, HEADER + "1,key fob,30,,,,\n"))
    book.take_hides()
    book.take_orders(read_orders(book.folder / "orders.csv", None))
    plan(book, random.Random(1))
    book.cut(book.waiting())
    book.take_orders([OrderLine("2", "key fob", 10, None)])
    shares = sorted(row.of_consumed for row in book.yields())
    (one,) = book.to_buy(products(book))
    assert len(shares) >= 5 and one.cost is None
    assert one.parts_mm2 / shares[-1] <= one.range_mm2[0] <= one.likely_mm2 <= one.range_mm2[1]
    assert one.range_mm2[1] <= one.parts_mm2 / shares[0]


def test_offcuts_too_old_or_too_small_are_named(book):
    book.take_orders([OrderLine("1", "key fob", 8, None)])
    plan(book, random.Random(1))
    book.cut(book.waiting())
    assert book.unkept(products(book)) == []
    book.clock.at += timedelta(days=400)
    assert {one.name for one in book.unkept(products(book))} == {row.name for row in book.hides()}
    pattern = book.folder / "patterns" / "fob.svg"
    large = pattern.read_text().replace("H 80 V 30", "H 800 V 300").replace("M 0 40 H 40 V 55", "M 0 400 H 400 V 550")
    pattern.write_text(large)
    small = book.unkept(products(book))
    assert all("too small: its largest rectangle is" in one.why for one in small) and small


def test_the_commands_tell_what_to_buy_and_make_pieces_of_offcuts(book):
    book.take_orders([OrderLine("1", "key fob", 2, None)])
    told = run("buy", "--weeks", "4", cwd=book.folder)
    assert told.returncode == 0 and "2 key fob" in told.stdout.replace("\n", " ") and "1 to come" not in told.stdout
    assert "no offcuts" in run("make", cwd=book.folder).stdout
    plan(book, random.Random(1))
    book.cut(book.waiting())
    before = {row.name for row in book.hides()}
    told = run("make", "--iterations", 2, "--workers", 1, "--take", "key fob", cwd=book.folder)
    assert told.returncode == 0, told.stderr
    assert "as stock 20" in told.stdout
    layout = book.layout()
    assert check(layout) == [] and {part.hide for part in layout.placements} <= before
    line = book.orders()[0]
    assert line.name.startswith("stock") and (line.state, line.quantity) == ("planned", line.planned)
    assert line.quantity >= 5
    again = run("make", "--iterations", 1, "--workers", 1, "--take", "key fob", cwd=book.folder)
    assert again.returncode == 2 and "still to be cut" in again.stderr
    book.cut(book.waiting())
    assert [row.state for row in book.orders(None)] == ["cut", "cut"]
    assert "did you mean key fob" in run("make", "--only", "key fop", cwd=book.folder).stderr


def test_where_nothing_goes_on_the_offcuts_each_is_told_with_the_reason(book):
    book.take_orders([OrderLine("1", "key fob", 2, None)])
    plan(book, random.Random(1))
    book.cut(book.waiting())
    names = [row.name for row in book.hides()]
    file = book.folder / "workshop.toml"
    right = file.read_text()
    row = right[right.index("[[setting]]") :]
    file.write_text(right.replace(row, row.replace("1.5", "4").replace("1.0", "3.5").replace("2.0", "4.5")))
    asked = ("make", "--seconds", 0.2, "--workers", 1, "--only", "key fob")
    told = run(*asked, cwd=book.folder)
    assert told.returncode == 0, told.stderr
    said = " ".join(told.stdout.split())
    assert "no piece of key fob goes on the" in said and "any product" not in said
    assert all(f"{name}: no tested setting covers hide {name}" in said for name in names) and names

    file.write_text(right)
    pattern = book.folder / "patterns" / "fob.svg"
    pattern.write_text(
        pattern.read_text().replace("H 80 V 30", "H 800 V 60").replace("M 0 40", "M 0 62").replace("V 55", "V 77")
    )
    said = " ".join(run(*asked, cwd=book.folder).stdout.split())
    assert f"{names[0]}: key fob: fob: too big" in said


def test_products_without_a_price_are_named(book):
    book.take_orders([OrderLine("1", "key fob", 2, None)])
    plan(book, random.Random(1))
    book.cut(book.waiting())
    file = book.folder / "products.toml"
    file.write_text(file.read_text().replace('price = "14.00"\n', ""))
    told = run("make", "--seconds", 0.2, "--workers", 1, "--only", "key fob", cwd=book.folder)
    assert told.stdout.strip() == "key fob: no price in products.toml, so nothing could be earned"
