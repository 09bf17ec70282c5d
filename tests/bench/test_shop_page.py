"""The shop from the page: a stock book begun, a load cut, orders moved on, money told, and all of it taken back."""

from dataclasses import replace

import pytest
import schemathesis
from bench_page import bench_page, stands_up_to
from shapely.geometry import box
from small_shop import small_shop

from nesting.bench.desk import LAYOUT
from nesting.book.book import Book
from nesting.files.hides import read_hide, write_hide
from nesting.files.layout import read_layout
from nesting.referee.rules import check


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A shop with a book, whose plan has one load cut of the one that there is."""
    folder = small_shop(tmp_path_factory.mktemp("shop"))
    with (folder / "workshop.toml").open("a") as file:
        file.write("[offcuts]\nsmallest_mm = 30\n")
    # room for more than is ordered
    write_hide(
        folder / "hides" / "calf.json", replace(read_hide(folder / "hides" / "calf.json"), outline=box(0, 0, 190, 190))
    )
    with bench_page(folder) as page:
        assert page.get("/api/shop") == {"there": False, "steps": []}
        assert page.ask("GET", "/api/shop/shelf")[0] == 404
        page.post("/api/shop/begin")
        assert page.ask("POST", "/api/shop/begin", {})[0] == 409
        page.post("/api/shop/bought", {"name": "calf", "supplier": "Old Mill", "measure": "0.5 sq ft", "price": "20"})
        page.done(page.post("/api/plan", {"seconds": 1}))
        yield folder, page


def cut(page, done=True):
    panel = page.get("/api/layout")["panels"][0]
    return page.ask("POST", "/api/panels/burnt", {"hide": panel["hide"], "panel": panel["id"], "done": done})


def test_a_load_ticked_off_moves_leather_and_orders_and_is_taken_back(shop):
    folder, page = shop
    assert {row["state"] for row in page.get("/api/shop/orders")["rows"]} == {"planned"}
    status, _, told = cut(page)
    rows = page.get("/api/shop/shelf")["rows"]
    assert status == 200 and told["offcuts"] == [row["name"] for row in rows] and told["offcuts"]
    assert {row["parent"] for row in rows} == {"calf"} and all(row["shape"]["outline"] for row in rows)
    assert [row["name"] for row in page.get("/api/shop/shelf?gone=true")["rows"]] == ["calf"]
    assert {row["state"] for row in page.get("/api/shop/orders")["rows"]} == {"cut"}
    assert page.get("/api/shop")["steps"][0]["words"].startswith("cut calf/")
    # what the book has as cut is taken back there, not by undoing the layout alone
    assert page.ask("POST", "/api/layout/step", {"by": -1})[0] == 409
    assert read_layout(folder / LAYOUT).burnt
    assert cut(page, done=False)[0] == 200
    assert [row["name"] for row in page.get("/api/shop/shelf")["rows"]] == ["calf"]
    assert not read_layout(folder / LAYOUT).burnt
    assert {row["state"] for row in page.get("/api/shop/orders")["rows"]} == {"planned"}


def test_the_strip_of_orders_has_what_the_book_still_wants(shop):
    folder, page = shop
    wanted = page.get("/api/bench")["wanted"]
    assert [(row["order"], row["left"], row["planned"]) for row in wanted] == [
        (row.name, row.quantity, row.quantity) for row in Book(folder).orders()
    ]
    cut(page)
    assert page.get("/api/bench")["wanted"] == []
    assert not any(row["unmade"] for row in page.get("/api/shop/orders")["rows"])
    page.post("/api/shop/undo")
    assert "no longer wanted" in page.get("/api/shop/orders")["rows"][0]["unmade"]


def test_after_other_steps_a_load_is_not_unticked(shop):
    folder, page = shop
    cut(page)
    page.post("/api/shop/orders/done", {"order": "A-1", "product": "tag"})
    assert cut(page, done=False)[0] == 409 and read_layout(folder / LAYOUT).burnt
    words = [page.post("/api/shop/undo")["words"] for _ in range(2)]
    assert words[0] == "order A-1 tag: done" and words[1].startswith("cut calf/")


def test_money_and_yield_are_those_of_the_book(shop):
    folder, page = shop
    cut(page)
    found, book = page.get("/api/shop/money"), Book(folder)
    (product,), (month,) = found["products"], found["months"]
    (spent,) = book.spent(*page.served.bench.making())
    assert (product["total"], product["price"], product["margin"]) == (str(spent.total), "45.00", str(spent.margin))
    assert (month["spent"], month["worth"]) == (str(spent.total), "45.00")
    assert month["yield"] == book.yields("month")[0].of_consumed
    assert [row["name"] for row in found["suppliers"]] == ["Old Mill"]
    page.post("/api/shop/undo")


def test_what_to_buy_and_what_could_be_made_of_the_offcuts(shop):
    folder, page = shop
    assert page.get("/api/shop/buy")["rows"] == []
    assert page.get("/api/shop/buy?weeks=4")["rows"][0]["pieces"] == {"tag": 20}
    assert page.ask("GET", "/api/shop/make")[0] == 404
    cut(page)
    assert page.done(page.post("/api/shop/make", {"seconds": 1}))["state"] == "done"
    found = page.get("/api/shop/make")
    assert found["offcuts"] == len(page.get("/api/shop/shelf")["rows"])
    (row,) = found["rows"]
    assert row["product"] == "tag" and row["layout"]["parts"] and found["why"] == []
    assert page.done(page.post("/api/shop/make/take", {"product": "tag"}))["state"] == "done"
    layout = read_layout(folder / LAYOUT)
    assert not check(layout) and len(layout.placements) == row["pieces"]
    stock = [line for line in page.get("/api/shop/orders")["rows"] if line["order"].startswith("stock")]
    assert [(line["quantity"], line["state"]) for line in stock] == [(row["pieces"], "planned")]
    for _ in range(3):
        page.post("/api/shop/undo")
    assert [one["name"] for one in page.get("/api/shop/shelf")["rows"]] == ["calf"]


def test_gaps_are_compared_with_what_each_would_save_a_year(shop):
    _, page = shop
    assert page.ask("POST", "/api/compare", {"by": "gaps"})[0] == 400
    assert page.ask("POST", "/api/compare", {"by": "patterns", "patterns": [["tag", "none"]]})[0] == 404
    assert page.done(page.post("/api/compare", {"by": "gaps", "gaps": [0.2], "seconds": 1}))["state"] == "done"
    found = page.get("/api/compare")
    assert [way["name"] for way in found["ways"]] == ["gap 1 mm", "gap 0.2 mm"] and found["rate"]["weeks"] == 1
    assert found["ways"][0]["saved"] == "0.00" and float(found["ways"][1]["saved"]) >= 0
    assert all(way["layout"]["parts"] for way in found["ways"])


def test_labels_and_the_note_of_short_measure_are_papers_to_print(shop):
    _, page = shop
    for path in ("/api/shop/labels", "/api/shop/labels?name=calf", "/api/shop/short/calf"):
        status, headers, content = page.ask("GET", path)
        assert status == 200 and content.startswith(b"%PDF") and headers["content-type"] == "application/pdf", path
    (row,) = page.get("/api/shop/shelf?find=old%20mill")["rows"]
    assert row["short"] and page.get("/api/shop/shelf?find=nobody")["count"] == 0


def test_a_hide_taken_off_the_shelf_is_retired_in_the_book(shop):
    folder, page = shop
    page.post("/api/hides/calf", method="DELETE")
    assert (folder / "hides" / "retired" / "calf.json").exists() and Book(folder).hide("calf").state == "retired"
    page.post("/api/shop/undo")
    assert (folder / "hides" / "calf.json").exists()


def test_no_answer_of_the_shop_to_anything_is_a_fault_of_the_server(tmp_path):
    folder = small_shop(tmp_path)
    with bench_page(folder) as page:
        page.post("/api/shop/begin")
        schema = schemathesis.openapi.from_dict(page.served.api.openapi())
        schema.config.update(base_url=page.address)
        found = [one.ok() for one in schema.get_all_operations()]
        operations = [one for one in found if one.path.startswith("/api/shop") and one.path != "/api/shop/make"]
        assert len(operations) > 10
        for operation in operations:
            stands_up_to(page, operation, 3)
