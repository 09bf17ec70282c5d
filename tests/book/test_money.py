"""Money of the shop, from what was cut."""

import random
from decimal import Decimal

import pytest
from commands import run
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import box
from shop import HEADER, leather, plan, shop

from nesting.book.book import Book
from nesting.book.money import price_for, short_measure
from nesting.book.tables import ShelfHide
from nesting.costs.rows import per_piece, share_of_price
from nesting.errors import ModelError
from nesting.files.job import read_making
from nesting.files.orders import read_orders
from nesting.model import Doubt, ExtraCost, Hide, Machine, Part, Prices, Product, Traced, Workshop

EXTRAS = """
[[cost]]
name = "box"
amount = "0.40"

[[cost]]
name = "ring"
amount = "0.155"
per = "part"
product = "key fob"

[[cost]]
name = "market fee"
amount = "6.5"
per = "percent of price"

[[cost]]
name = "other's"
amount = "99"
product = "belt"
"""


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    """All cut of two hides of different suppliers, one part spoiled and made again."""
    folder = tmp_path_factory.mktemp("money") / "shop"
    orders = HEADER + "1,key fob,4,2026-01-05,1,,\n2,key fob,2,,,,\n"
    made = Book.begin(shop(folder, [leather("bend", price="33.33"), leather("side", 400, 300, "21.10")], orders))
    (folder / "workshop.toml").write_text((folder / "workshop.toml").read_text() + EXTRAS)
    made.take_hides()
    made.bought(["bend"], supplier="North Tannery")
    made.take_orders(read_orders(folder / "orders.csv", None))
    plan(made, random.Random(1))
    made.spoil(made.layout().placements[0])
    plan(made, random.Random(2))
    made.cut(made.waiting())
    return made


def test_money_by_product_and_by_order_is_all_that_was_spent(book):
    workshop, products = read_making(book.folder)
    parts = book.parts()
    all_of_it = sum(part.leather + part.masking + part.machine + part.labour for part in parts)
    for by in ("product", "order"):
        rows = book.spent(workshop, products, by)
        extras = sum(sum(row.rows.values()) for row in rows)
        assert sum(row.total for row in rows) - extras == Decimal(all_of_it) / 100
        assert sum(row.pieces for row in rows) == 6
    (fob,) = book.spent(workshop, products)
    spoiled = [part for part in parts if part.state == "spoiled"]
    assert fob.spoiled == Decimal(sum(p.leather + p.masking + p.machine + p.labour for p in spoiled)) / 100 > 0
    # 6 boxes; two rings of 0.155 a piece, 0.31; 6.5 % of 14.00, 0.91
    assert fob.rows == {"box": Decimal("2.40"), "ring": Decimal("1.86"), "market fee": Decimal("5.46")}
    assert fob.price == Decimal("84.00") and fob.margin == fob.price - fob.total
    assert 0 < fob.scrap < fob.leather + fob.spoiled


def test_what_is_begun_is_in_no_pieces_cost(tmp_path):
    """One load after another: by the parts themselves, counted apart."""
    made = Book.begin(
        shop(tmp_path / "shop", [leather("bend"), leather("side", 400, 300)], HEADER + "1,key fob,5,,,,\n")
    )
    (made.folder / "workshop.toml").write_text((made.folder / "workshop.toml").read_text() + EXTRAS)
    made.take_hides()
    made.take_orders(read_orders(made.folder / "orders.csv", None))
    plan(made, random.Random(3))
    seen = []
    for load in made.waiting():
        made.cut([load])
        whole = begun = 0
        by_piece = {}
        for part in made.parts():
            by_piece.setdefault(part.piece, []).append(part.leather + part.masking + part.machine + part.labour)
        whole = sum(sum(costs) for costs in by_piece.values() if len(costs) == 2)
        begun = sum(sum(costs) for costs in by_piece.values() if len(costs) == 1)
        pieces = sum(len(costs) == 2 for costs in by_piece.values())
        (fob,) = made.spent(*read_making(made.folder))
        extras = sum(fob.rows.values())
        assert (fob.pieces, fob.begun) == (pieces, Decimal(begun) / 100)
        assert fob.total - extras == Decimal(whole + begun) / 100 and fob.cost - extras == Decimal(whole) / 100
        if pieces:
            assert fob.each == pytest.approx((Decimal(whole) / 100 + extras) / pieces, abs=Decimal("0.005"))
            assert fob.margin == 14 * pieces - Decimal(whole) / 100 - extras
        seen.append((pieces, begun))
        if pieces and begun:
            own = f"machine and labour {Decimal(whole) / 100 / pieces:.2f} a piece"
            assert own in run("price", "key fob", "--margin", "10", cwd=made.folder).stdout
            told = run("money", cwd=made.folder).stdout
            assert f"Begun: {Decimal(begun) / 100:.2f} EUR" in told and "begun" in told
    assert any(pieces and begun for pieces, begun in seen) and seen[-1] == (5, 0)
    assert "egun" not in run("money", cwd=made.folder).stdout


def test_what_a_trace_leaves_in_doubt_is_told_of_the_leather(tmp_path):
    """A tenth of the hide in doubt: a tenth of its leather's money, as long as that much of it is scrap."""
    doubt = Doubt(box(540, 0, 600, 200).intersection(leather("bend").outline), "stain")
    made = Book.begin(shop(tmp_path / "shop", [leather("bend", price="30.00", doubts=(doubt,))]))
    made.take_hides()
    made.take_orders(read_orders(made.folder / "orders.csv", None))
    plan(made, random.Random(1))
    made.cut(made.waiting())
    (row,) = made.hides(("cut", "opened"))
    assert row.doubt_mm2 == pytest.approx(doubt.polygon.area, abs=0.01)
    (fob,) = made.spent(*read_making(made.folder))
    share = doubt.polygon.area / row.area_mm2
    assert float(fob.doubt) == pytest.approx(float(fob.leather) * share, abs=0.01) and 0 < fob.doubt < fob.scrap


def test_what_was_paid_is_what_parts_cost_and_offcuts_are_worth(book):
    rows = {row.name: row for row in book.yields("hide")}
    leather_cost = sum(part.leather for part in book.parts())
    credit = sum(row.price for row in book.hides())
    assert Decimal(leather_cost + credit) / 100 == rows["bend"].paid + rows["side"].paid == Decimal("54.43")
    # an offcut that was cut again has its credit as its price
    assert sum(row.paid - row.credited for row in rows.values()) == Decimal(leather_cost) / 100


def test_yields_are_told_by_supplier_kind_and_month(book):
    by = {row.name: row for row in book.yields("supplier")}
    assert set(by) == {"North Tannery", "not known"}
    whole = sum(row.leather_mm2 for row in by.values())
    assert whole == pytest.approx(sum(row.area_mm2 for row in book.hides(("cut",))), abs=1)
    for other in ("kind", "month", "hide"):
        assert sum(row.leather_mm2 for row in book.yields(other)) == pytest.approx(whole)
    assert {row.name for row in book.yields("kind")} == {"1.5 mm"}
    good = sum(part.area_mm2 for part in book.parts() if part.state == "cut")
    (month,) = book.yields("month")
    assert month.parts_mm2 == pytest.approx(good)
    bought = sum(row.area_mm2 for row in book.hides(("cut",)) if row.parent is None)
    assert month.of_consumed == pytest.approx(good / (bought - sum(row.area_mm2 for row in book.hides())), rel=1e-6)


@given(
    cost=st.integers(0, 10**6), margin=st.integers(0, 90), fee=st.integers(0, 90),
    currency=st.sampled_from(["EUR", "JPY", "KWD"]),
)  # fmt: skip
def test_a_price_asked_earns_the_margin_after_fees_and_no_smaller_one_does(cost, margin, fee, currency):
    workshop = Workshop(
        Machine("laser", 600, 400, 40), prices=Prices(currency),
        extras=(ExtraCost("fee", Decimal(fee) / 10, "percent of price"),),
    )  # fmt: skip
    unit = {"EUR": Decimal("0.01"), "JPY": Decimal(1), "KWD": Decimal("0.001")}[currency]
    price = price_for(cost * unit, margin / 100, currency, workshop, "fob")
    assert price == price.quantize(unit)

    def earned(asked):
        return asked - asked * Decimal(fee) / 1000 - cost * unit

    assert earned(price) >= price * margin / 100
    assert price == 0 or earned(price - unit) < (price - unit) * margin / 100


def test_a_margin_that_leaves_nothing_for_the_cost_is_refused():
    fee = ExtraCost("fee", Decimal(40), "percent of price")
    workshop = Workshop(Machine("laser", 600, 400, 40), extras=(fee,))
    with pytest.raises(ModelError, match="takes all of the price"):
        price_for(Decimal(1), 0.6, "EUR", workshop, "fob")


def test_thread_is_counted_by_the_length_of_stitch_holes():
    """A seam of 21 holes 5 mm apart is 100 mm long; the two seams of a part lie 40 mm apart."""
    from shapely.geometry import LineString, Point

    holes = [Point(10 + 5 * n, y).buffer(0.5).exterior.coords for n in range(21) for y in (5, 45)]
    part = Part("side", box(0, 0, 120, 50), stitch=tuple(map(LineString, holes)), count=2)
    extra = ExtraCost("thread", Decimal("1.50"), "metre of stitching")
    workshop = Workshop(Machine("laser", 600, 400, 40), extras=(extra,))
    product = Product("pouch", (part,))
    assert per_piece(workshop, product) == {"thread": Decimal("0.60")}
    assert share_of_price(workshop, "pouch") == 0


def test_short_measure_is_told_in_leather_and_money():
    """18.5 sq ft bought, 17.9 traced, 1 sq ft being 92903.04 mm2: 0.6 of 18.5 parts of 148.00 are 4.80."""
    sq_ft = 92903.04
    row = ShelfHide(name="side", area_mm2=17.9 * sq_ft, bought_mm2=18.5 * sq_ft, price=14800)
    outline = box(0, 0, 17.9 * sq_ft / 1000, 1000)
    sure = short_measure(row, Hide("side", outline, traced=Traced("a4", 0.5, 3.0)), "EUR")
    assert sure.worth == Decimal("4.80") and sure.missing_mm2 == pytest.approx(0.6 * sq_ft) and sure.surely
    unsure = short_measure(row, Hide("side", outline, traced=Traced("a4", 0.5, 30.0)), "EUR")
    assert not unsure.surely


def test_the_commands_tell_it(book, tmp_path):
    import shutil

    folder = shutil.copytree(book.folder, tmp_path / "shop")
    for by in ("product", "order", "hide", "supplier", "kind", "month"):
        done = run("money", "--by", by, "--csv", tmp_path / f"{by}.csv", cwd=folder)
        assert done.returncode == 0, done.stderr
        assert (tmp_path / f"{by}.csv").read_text().startswith(by)
    head, row = (line.split(",") for line in (tmp_path / "product.csv").read_text().splitlines())
    told = dict(zip(head, row))
    assert row[:2] == ["key fob", "6"] and told["cost: box"] == "2.40" and told["cost: market fee"] == "5.46"
    rows = [float(told[name]) for name in head if name.startswith("cost: ")]
    assert sum(rows) == pytest.approx(float(told["other"])) and {"scrap", "doubt"} <= set(head)
    asked = run("price", "key fob", "--margin", "40", cwd=folder)
    assert asked.returncode == 0 and "of it is earned" in asked.stdout and "it sells for 14.00 now" in asked.stdout
    assert "give product, order" in run("money", "--by", "colour", cwd=folder).stderr
    assert "did you mean key fob" in run("price", "key fab", cwd=folder).stderr


def test_a_note_of_short_measure_is_written_for_the_supplier(tmp_path):
    from pypdf import PdfReader

    folder = shop(tmp_path / "shop", [leather("bend", traced=Traced("a4", 0.5, 1.0))])
    book = Book.begin(folder)
    book.take_hides()
    told = run("shelf", "short", "bend", cwd=folder)
    assert told.returncode == 2 and "--measure" in told.stderr
    run("shelf", "add", "bend", "--measure", "1.5", "--supplier", "North & South", cwd=folder)
    told = run("shelf", "short", "bend", cwd=folder)
    assert told.returncode == 0 and "worth 3.14 EUR" in told.stdout
    text = " ".join(PdfReader(folder / "out" / "short-bend.pdf").pages[0].extract_text().split())
    assert "North & South" in text and "1.50 sq ft" in text and "3.14 EUR" in text
    run("shelf", "add", "bend", "--measure", "1.27", cwd=folder)
    assert "no note is written" in run("shelf", "short", "bend", cwd=folder).stdout
