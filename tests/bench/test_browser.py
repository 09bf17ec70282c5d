"""The page in a real browser: planning, settling by hand, orders, hides, loads, the workshop; and who may use it."""

import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from bench_page import bench_page
from browser import chromium, opened
from small_shop import small_shop

from nesting.bench.desk import LAYOUT
from nesting.book.book import Book
from nesting.files.hides import read_hide, write_hide
from nesting.files.layout import read_layout
from nesting.files.orders import read_orders
from nesting.files.workshop import read_workshop
from nesting.referee.rules import check

FINGER = """([type, pointerId, x]) => {
  const stage = document.querySelector(".stage");
  const {left, top} = stage.getBoundingClientRect();
  stage.setPointerCapture = () => {};
  const at = {pointerId, pointerType: "touch", clientX: left + x, clientY: top + 150, bubbles: true};
  stage.dispatchEvent(new PointerEvent(type, at));
}"""
PASTE = """(cell, text) => {
  const clipboardData = new DataTransfer();
  clipboardData.setData("text", text);
  cell.dispatchEvent(new ClipboardEvent("paste", {clipboardData, bubbles: true, cancelable: true}));
}"""
VIEWS = ("plan", "leather", "leather/calf", "orders", "loads", "compare", "workshop")


@pytest.fixture(scope="module")
def browser():
    with chromium() as browser:
        yield browser


@pytest.fixture(scope="module")
def shop(tmp_path_factory, browser):
    """A shop whose plan was made by pressing the button."""
    folder = small_shop(tmp_path_factory.mktemp("shop"))
    with bench_page(folder) as page:
        with opened(browser, page) as tab:
            tab.get_by_label("For about").select_option("10")
            tab.get_by_role("button", name="Plan", exact=True).click()
            tab.wait_for_selector(".part", timeout=90_000)
            tab.get_by_role("button", name="Stop, keep the best").click()
            tab.get_by_role("button", name="Improve the plan").wait_for(timeout=90_000)
        yield folder, page


def middle(tab, key):
    box = tab.locator(f'.part[data-key="{key}"]').bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def until(tab, holds, tries=50):
    """Wait until what the page wrote is there."""
    while not holds():
        tries -= 1
        assert tries, "it was not written"
        tab.wait_for_timeout(100)


def taken_back(tab, file, before):
    """Undo, step by step, until a file is what it was."""
    undo = tab.get_by_role("button", name="Undo")
    for _ in range(60):
        if file.read_bytes() == before:
            return
        if undo.is_enabled():
            undo.click()
        tab.wait_for_timeout(150)
    raise AssertionError("it was not taken back")


def keys(tab):
    return tab.locator(".canvas .part").evaluate_all("all => all.map(one => one.dataset.key)")


def test_the_plan_made_by_pressing_the_button_holds(shop):
    folder, _ = shop
    layout = read_layout(folder / LAYOUT)
    assert len(layout.placements) == 5 and not check(layout)


def test_a_part_dragged_onto_another_is_told_why_and_springs_back(shop, browser):
    folder, page = shop
    before = (folder / LAYOUT).read_bytes()
    with opened(browser, page) as tab:
        one, other = keys(tab)[:2]
        start, end = middle(tab, one), middle(tab, other)
        tab.mouse.move(*start)
        tab.mouse.down()
        tab.mouse.move(*end, steps=6)
        tab.locator(".part.not").wait_for()
        assert "Too near another part" in tab.locator(".verdict").inner_text()
        tab.mouse.up()
        tab.get_by_text(re.compile("Not there")).wait_for()
        tab.locator(".part.arriving").wait_for(state="detached")
        assert middle(tab, one) == pytest.approx(start, abs=1.5)
    assert (folder / LAYOUT).read_bytes() == before


def test_a_part_is_pinned_by_hand_and_by_key(shop, browser):
    folder, page = shop
    with opened(browser, page) as tab:
        key = keys(tab)[0]
        tab.mouse.click(*middle(tab, key))
        assert (
            "A-1" in tab.locator("dl.facts").first.inner_text() or "B-2" in tab.locator("dl.facts").first.inner_text()
        )
        tab.get_by_role("button", name="Pin it here").click()
        tab.locator(".part.pinned").wait_for()
        assert sum(part.pinned is not None for part in read_layout(folder / LAYOUT).placements) == 1
        tab.locator(".canvas svg").first.focus()
        tab.keyboard.press("p")
        tab.locator(".part.pinned").wait_for(state="detached")


def test_the_picture_is_zoomed_by_wheel_keys_and_two_fingers(shop, browser):
    _, page = shop
    with opened(browser, page, width=390, height=844, has_touch=True) as tab:
        scale = "() => document.querySelector('.world').getCTM().a"
        over = "least => document.querySelector('.world').getCTM().a > least"
        first = tab.evaluate(scale)
        tab.locator(".canvas svg").first.focus()
        tab.keyboard.press("+")
        tab.wait_for_function(over, arg=first * 1.1)
        nearer = tab.evaluate(scale)
        for kind, finger, x in (("down", 1, 100), ("down", 2, 160), ("move", 2, 260), ("up", 1, 100), ("up", 2, 260)):
            tab.evaluate(FINGER, [f"pointer{kind}", finger, x])
        tab.wait_for_function(over, arg=nearer * 1.5)
        tab.keyboard.press("0")
        tab.wait_for_timeout(300)
        assert tab.evaluate(scale) == pytest.approx(first)


def test_orders_are_typed_pasted_refused_and_undone(shop, browser):
    folder, page = shop
    file = folder / "orders.csv"
    before = file.read_bytes()
    with opened(browser, page, "orders") as tab:
        tab.get_by_label("Pieces 1").fill("none")
        tab.get_by_label("Pieces 1").press("Tab")
        tab.get_by_text("whole number").first.wait_for()
        assert file.read_bytes() == before
        tab.reload()
        tab.wait_for_selector("html[data-ready]")
        assert tab.get_by_label("Pieces 1").input_value() == "none"
        tab.get_by_role("button", name="One more order").click()
        tab.get_by_label("Order 3").evaluate(PASTE, "C-3\ttag\t2\t14.09.2026\nC-4\ttag\t1\t")
        tab.get_by_label("Pieces 1").fill("1")
        tab.get_by_label("Pieces 1").press("Tab")
        tab.get_by_text("whole number").first.wait_for(state="detached")
        until(tab, lambda: len(file.read_text().splitlines()) == 5)
        lines = read_orders(file, None)
        assert [(line.order, line.quantity) for line in lines] == [("A-1", 1), ("B-2", 2), ("C-3", 2), ("C-4", 1)]
        assert lines[2].due.isoformat() == "2026-09-14"
        taken_back(tab, file, before)


def test_an_order_row_is_whole_on_a_desk_and_its_day_is_written_as_the_language_does(shop, browser):
    folder, page = shop
    with opened(browser, page, "orders", locale="de-DE") as tab:
        due = tab.get_by_label("Fällig 1", exact=True)
        assert (due.input_value(), due.get_attribute("placeholder")) == ("02.03.2026", "TT.MM.JJJJ")
        due.fill("5.3.2026")
        due.press("Tab")
        until(tab, lambda: "2026-03-05" in (folder / "orders.csv").read_text())
        row, last = tab.locator("table.grid tbody tr").first.locator("td"), tab.locator("table.grid").locator("..")
        edge = row.last.bounding_box()
        assert edge["x"] + edge["width"] <= last.bounding_box()["x"] + last.bounding_box()["width"] + 1
        # what is told for a moment covers nothing of the view
        tab.evaluate("() => import('/static/ask.js').then(({tell}) => tell('More words than go on a line'))")
        told = tab.locator("#say div").bounding_box()
        middle = tab.locator("#middle").bounding_box()
        assert told["x"] >= middle["x"] + middle["width"]
        tab.get_by_role("button", name="Rückgängig").click()
        until(tab, lambda: "2026-03-02" in (folder / "orders.csv").read_text())


def test_what_leftovers_are_worth_is_asked_where_costs_stand_until_it_is_answered(shop, browser):
    folder, page = shop
    before = (folder / "workshop.toml").read_bytes()
    with opened(browser, page, "plan") as tab:
        asked = tab.get_by_role("heading", name="What are leftovers worth to you?")
        asked.wait_for()
        tab.get_by_label("Your own figure").fill("120")
        tab.get_by_role("button", name="Take my figure").click()
        tab.get_by_text("Give 0 to 100 %.").wait_for()
        assert (folder / "workshop.toml").read_bytes() == before
        tab.get_by_role("button", name="Half of what they cost").click()
        asked.wait_for(state="detached")
        assert "offcut_credit = 0.5" in (folder / "workshop.toml").read_text()
        tab.reload()
        tab.get_by_role("heading", name="What each order costs").wait_for()
        assert not asked.count()
    page.post("/api/workshop/step", {"by": -1})
    assert (folder / "workshop.toml").read_bytes() == before


def test_pasted_columns_of_unknown_names_are_told_and_the_one_of_products_is_taken(shop, browser):
    folder, page = shop
    file = folder / "orders.csv"
    before = file.read_bytes()
    with opened(browser, page, "orders") as tab:
        tab.get_by_role("button", name="One more order").click()
        pasted = "what\tOrder\tPieces\tShade\tLeather\nTag\tC-3\t2\tx9\tcalf\ntag\tC-4\t1\t\t"
        tab.get_by_label("Order 3").evaluate(PASTE, pasted)
        tab.get_by_text("“what” holds names of products").wait_for()
        told = tab.get_by_text("Columns not taken: ").inner_text()
        assert "“Shade”." in told and "Order, Product, Pieces, Due, Priority, Thread, Note, Leather" in told
        until(tab, lambda: len(file.read_text().splitlines()) == 5)
        lines = [(line.order, line.product, line.quantity, line.leather) for line in read_orders(file, None)]
        assert lines[2:] == [("C-3", "tag", 2, "calf"), ("C-4", "tag", 1, "")]
        taken_back(tab, file, before)


def test_a_pasted_list_is_taken_by_its_own_headings_and_never_by_place(shop, browser):
    folder, page = shop
    file = folder / "orders.csv"
    before = file.read_bytes()
    with opened(browser, page, "orders") as tab:
        tab.get_by_role("button", name="One more order").click()
        pasted = "Order no\tItem\tQty\tNeed by\tRemarks\tBox\nC-3\t-TAG\t2\t11 Dec 2026\tgift\tx"
        tab.get_by_label("Order 3").evaluate(PASTE, pasted)
        tab.get_by_text("“-TAG” was taken as “tag”.").wait_for()
        assert "“Box”. Known" in tab.get_by_text("Columns not taken: ").inner_text()
        until(tab, lambda: len(file.read_text().splitlines()) == 4)
        line = read_orders(file, None)[2]
        assert (line.order, line.product, line.quantity, line.note, line.priority) == ("C-3", "tag", 2, "gift", 3)
        assert "2026-12-11" in file.read_text() and line.due.isoformat() == "2026-12-11"
        until(tab, lambda: tab.get_by_label("Due 3").input_value() == "2026-12-11")
        # headings of which none is known fill no column by its place
        tab.get_by_role("button", name="One more order").click()
        tab.get_by_label("Order 4").evaluate(PASTE, "Nr x\tWas\tWieviel\nC-5\tbelt\t4\nC-6\tbelt\t1")
        tab.get_by_text("“Nr x”, “Was”, “Wieviel”.").wait_for()
        assert tab.get_by_label("Order 4").input_value() == ""
        taken_back(tab, file, before)


def test_a_hide_is_put_right_by_pointing_and_nothing_is_lost_on_reload(shop, browser):
    folder, page = shop
    file = folder / "hides" / "calf.json"
    with opened(browser, page, "leather/calf") as tab:
        box = tab.locator(".canvas svg").first.bounding_box()

        def touch(x, y):
            tab.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])

        tab.get_by_role("button", name="Zone", exact=True).click()
        for place in ((0.4, 0.4), (0.5, 0.4), (0.5, 0.5)):
            touch(*place)
        tab.get_by_role("button", name="D: poor", exact=True).click()
        tab.get_by_label("Grade of zone 2").wait_for()
        tab.get_by_role("toolbar").get_by_role("button", name="Thickness").click()
        touch(0.5, 0.6)
        tab.keyboard.type("1,25 mm")
        tab.keyboard.press("Enter")
        tab.get_by_text("1.25 mm").first.wait_for()
        tab.get_by_text("3 more, spread over the hide").wait_for()
        until(tab, lambda: [reading.mm for reading in read_hide(file).readings] == [1.25])
        assert [zone.grade for zone in read_hide(file).zones] == ["C", "D"]
        tab.get_by_role("button", name="Backbone").click()
        touch(0.4, 0.5)
        touch(0.6, 0.5)
        until(tab, lambda: read_hide(file).backbone is not None)
        # a point of the edge dragged across the hide makes an edge that crosses itself: told, kept, not written
        tab.get_by_role("button", name="Edge").click()
        tab.wait_for_timeout(400)
        point = tab.locator('[data-point="0:0"]').bounding_box()
        others = [tab.locator(f'[data-point="0:{number}"]').bounding_box() for number in (1, 2, 3)]
        corners = [(other["x"] + other["width"] / 2, other["y"] + other["height"] / 2) for other in others]
        before = file.read_bytes()
        tab.mouse.move(point["x"] + point["width"] / 2, point["y"] + point["height"] / 2)
        tab.mouse.down()
        # over the edge opposite, near its middle
        (left, top), (right, _) = sorted(corners, key=lambda corner: corner[1])[:2]
        tab.mouse.move((left + right) / 2, top - 40, steps=5)
        tab.mouse.up()
        tab.get_by_text("Not written yet").wait_for()
        assert file.read_bytes() == before
        tab.reload()
        tab.wait_for_selector("html[data-ready]")
        tab.get_by_text("Not written yet").wait_for()
        for _ in range(4):
            tab.get_by_role("button", name="Undo").click()
            tab.wait_for_timeout(150)
    hide = read_hide(file)
    assert len(hide.zones) == 1 and not hide.readings and hide.backbone is None


def test_files_to_burn_are_taken_away_and_a_load_is_ticked_off(shop, browser):
    folder, page = shop
    with opened(browser, page, "loads") as tab:
        tab.get_by_role("button", name="Write the files to burn").click()
        link = tab.get_by_role("link", name="File to burn").first
        link.wait_for(timeout=60_000)
        with tab.expect_download() as taken:
            link.click()
        assert b"<svg" in taken.value.path().read_bytes()
        burnt = tab.get_by_label("Burnt", exact=True).first
        burnt.check()
        tab.get_by_text("it stays as it is from now on").wait_for()
        assert read_layout(folder / LAYOUT).burnt
        tab.get_by_label("Burnt", exact=True).first.uncheck()
        tab.get_by_text("is not burnt after all").wait_for()
    assert not read_layout(folder / LAYOUT).burnt


def test_the_workshop_is_changed_and_a_test_piece_teaches_the_book(shop, browser):
    folder, page = shop
    file = folder / "workshop.toml"
    before = file.read_bytes()
    with opened(browser, page, "workshop") as tab:
        tab.get_by_label("Edge margin").fill("-4")
        tab.get_by_label("Edge margin").press("Tab")
        tab.locator(".wrong").get_by_text("edge_mm").wait_for()
        tab.get_by_label("Edge margin").fill("3.5")
        tab.get_by_label("Edge margin").press("Tab")
        tab.get_by_text("Saved", exact=True).wait_for()
        assert not tab.locator(".wrong").count() and read_workshop(file).margins.edge_mm == 3.5
        made = tab.locator("section", has=tab.get_by_role("heading", name="Test pieces"))
        made.get_by_label("Thickness").fill("1.3 mm")
        made.get_by_role("button", name="Make a test piece").click()
        tab.locator("details.sheet summary").click()
        squares = tab.get_by_role("group", name="The squares").get_by_role("button")
        for _ in range(2):
            squares.nth(squares.count() // 2).click()
        tab.get_by_text(re.compile("Best .*, 1 clean")).wait_for()
        tab.locator("details.sheet").get_by_role("button", name="Put it into the book").click()
        tab.get_by_text("The book has a new row").wait_for()
        assert len(read_workshop(file).settings) == 2
        for _ in range(2):
            tab.get_by_role("button", name="Undo").click()
            tab.wait_for_timeout(200)
    assert file.read_bytes() == before


def test_an_engraving_row_is_asked_for_its_line_spacing_and_given_another_in_its_place(shop, browser):
    folder, page = shop
    file = folder / "workshop.toml"
    before = file.read_bytes()
    with opened(browser, page, "workshop") as tab:
        tab.get_by_text("Add a row you tested").click()
        form = tab.locator("details", has_text="Add a row you tested")
        assert not form.get_by_label("Line spacing").count()
        form.get_by_label("Does").select_option(index=1)
        typed = {"thickness": "1.5 mm", "speed": "250", "power": "22", "spacing": "0,1", "name": "logo"}
        for name, text in typed.items():
            form.locator(f"input[name={name}]").fill(text)
        form.get_by_role("button", name="Put it into the book").click()
        place = tab.get_by_label("Line spacing, mm logo")
        place.wait_for()
        assert place.input_value() == "0.1" and read_workshop(file).engravings[0].line_spacing_mm == 0.1
        place.fill("0.2")
        with tab.expect_response("**/api/settings/logo"):
            place.press("Tab")
        assert read_workshop(file).engravings[0].line_spacing_mm == 0.2
        made = tab.locator("section", has=tab.get_by_role("heading", name="Test pieces"))
        assert not made.get_by_label("Line spacing").is_visible()
        made.get_by_label("Does").select_option(index=1)
        assert made.get_by_label("Line spacing").is_visible()
        for _ in range(2):
            tab.get_by_role("button", name="Undo").click()
            tab.wait_for_timeout(200)
    assert file.read_bytes() == before


LOOK = (Path(__file__).parent / "look.js").read_text()
"""Names of controls, size of targets, contrast, width: what of WCAG 2.2 AA a script can tell."""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_view_has_names_contrast_and_targets_and_fits_a_phone(shop, browser, scheme):
    _, page = shop
    wrong = {}
    with opened(browser, page, color_scheme=scheme, locale="en-GB") as tab:
        for width, height in ((1440, 900), (1024, 768), (390, 844)):
            tab.set_viewport_size({"width": width, "height": height})
            for view in VIEWS:
                tab.evaluate("view => { location.hash = '#/' + view; }", view)
                tab.wait_for_function("view => document.body.dataset.view === view", arg=view.split("/")[0])
                tab.wait_for_timeout(250)
                found = tab.evaluate(LOOK)
                if found:
                    wrong[width, view] = found
    assert not wrong


@pytest.fixture(scope="module")
def stocked(shop, tmp_path_factory):
    """The same shop with a stock book."""
    folder = tmp_path_factory.mktemp("stocked") / "shop"
    shutil.copytree(shop[0], folder, ignore=lambda _, names: [name for name in names if name.startswith("bench.db")])
    with bench_page(folder) as page:
        yield folder, page


def test_a_load_ticked_off_moves_leather_and_orders_in_the_book_until_it_is_taken_back(stocked, browser):
    folder, page = stocked
    with opened(browser, page, "shop") as tab:
        tab.get_by_role("button", name="Begin the stock book").click()
        tab.get_by_role("heading", name="calf").wait_for()
        tab.evaluate("() => { location.hash = '#/loads'; }")
        tab.get_by_label("Burnt", exact=True).first.check()
        tab.locator(".told .note").wait_for()
        until(tab, lambda: [row.state for row in Book(folder).orders(None)] == ["cut", "cut"])
        tab.evaluate("() => { location.hash = '#/shop/money'; }")
        tab.locator(".chart .bar-yield").first.wait_for()
        assert "45.00 EUR" in tab.locator(".sums").inner_text()
        wrong = {}
        for width, scheme in ((1440, "dark"), (390, "light"), (390, "dark")):
            tab.set_viewport_size({"width": width, "height": 844})
            tab.emulate_media(color_scheme=scheme)
            for part in ("shelf", "orders", "money", "make"):
                tab.evaluate("part => { location.hash = `#/shop/${part}`; }", part)
                tab.locator(f".tabs a[aria-current][href$={part}]").wait_for()
                tab.wait_for_timeout(250)
                if found := tab.evaluate(LOOK):
                    wrong[width, scheme, part] = found
        assert not wrong
        tab.get_by_role("button", name="Take the last step back").click()
        tab.get_by_text(re.compile("Taken back: cut calf/")).wait_for()
        assert [row.state for row in Book(folder).orders(None)] == ["wanted", "wanted"]
        assert not read_layout(folder / LAYOUT).burnt


def test_the_keyboard_reaches_everything_in_the_order_it_is_seen(shop, browser):
    _, page = shop
    with opened(browser, page) as tab:
        seen = []
        for _ in range(60):
            tab.keyboard.press("Tab")
            seen.append(tab.evaluate("() => document.activeElement.ariaLabel || document.activeElement.innerText"))
        told = " | ".join(map(str, seen))
        for first, then in (("Orders", "Improve the plan"), ("Improve the plan", "Plan anew"), ("Plan anew", "Nearer")):
            assert told.index(first) < told.index(then), told
        assert tab.evaluate("() => getComputedStyle(document.activeElement).outlineStyle") != "none"


def test_the_page_speaks_german_to_a_browser_that_asks_for_it(shop, browser):
    _, page = shop
    with opened(browser, page, locale="de-DE") as tab:
        assert tab.evaluate("document.documentElement.lang") == "de"
        tab.get_by_role("heading", name="Was woraus geschnitten wird").wait_for()
        assert not re.search(r"\b(plan|orders|page)\.[a-z_]+\b", tab.inner_text("body"))


ENGLISH = re.compile(
    r"\b(the|of|and|is|are|with|not|for|from|that|it|its|by|give|take|than|which|this|there|have|must)\b"
)
"""Words of English sentences that no German one has."""


def test_no_sentence_of_the_german_page_is_english(stocked, browser):
    _, page = stocked
    if not page.get("/api/shop")["there"]:
        page.post("/api/shop/begin")
    assert page.done(page.post("/api/compare", {"by": "gaps", "gaps": [0.2], "seconds": 1}))["state"] == "done"
    assert page.done(page.post("/api/shop/make", {"seconds": 1}))["state"] == "done"
    english = {}
    with opened(browser, page, locale="de-DE") as tab:
        for view in (*VIEWS, *(f"shop/{part}" for part in ("shelf", "orders", "money", "make"))):
            tab.evaluate("view => { location.hash = '#/' + view; }", view)
            tab.wait_for_function("view => document.body.dataset.view === view", arg=view.split("/")[0])
            tab.wait_for_timeout(250)
            tab.evaluate("() => document.querySelectorAll('details').forEach(one => { one.open = true; })")
            lines = tab.inner_text("body").splitlines()
            lines += tab.locator("[title], [aria-label]").evaluate_all(
                "all => all.map(one => one.title + one.ariaLabel)"
            )
            lines += tab.locator("body [lang=en]").all_inner_texts()
            # a note is in the language it was typed in
            if found := {line for line in lines if ENGLISH.search(line.replace("for the stall", ""))}:
                english[view] = found
    assert not english


def test_an_order_that_is_not_made_is_done_only_after_a_question(stocked, browser):
    folder, page = stocked
    if not page.get("/api/shop")["there"]:
        page.post("/api/shop/begin")
    while page.get("/api/shop/orders")["rows"][0]["made"]:
        page.post("/api/shop/undo")
    with opened(browser, page, "shop/orders") as tab:
        asked = []
        tab.once("dialog", lambda dialog: (asked.append(dialog.message), dialog.dismiss()))
        first = tab.get_by_label("A-1 tag is done")
        first.click()
        tab.wait_for_timeout(200)
        assert "of its" in asked[0] and "made" in asked[0] and "no longer wanted" in asked[0]
        assert not first.is_checked() and Book(folder).orders(None)[0].state != "done"
        tab.once("dialog", lambda dialog: dialog.accept())
        first.click()
        until(tab, lambda: Book(folder).orders(None)[0].state == "done")
        until(tab, lambda: "A-1" not in tab.locator("#strip").inner_text())
        tab.get_by_role("button", name="Take the last step back").click()
        until(tab, lambda: Book(folder).orders(None)[0].state != "done")


def test_of_a_full_shelf_the_hides_to_take_fold_away(browser, tmp_path):
    folder = small_shop(tmp_path)
    hide = read_hide(folder / "hides" / "calf.json")
    for number in range(13):
        write_hide(folder / "hides" / f"more-{number}.json", replace(hide, id=f"more-{number}"))
    with bench_page(folder) as page, opened(browser, page) as tab:
        shelf = tab.locator("fieldset details")
        assert not shelf.locator("input").first.is_visible()
        count = shelf.locator("input").count()
        shelf.locator("summary").get_by_text(f"{count} of {count} hides").click()
        tab.get_by_role("button", name="None of them").click()
        shelf.locator("summary").get_by_text(f"0 of {count} hides").wait_for()
        tab.get_by_label("more-7").check()
        shelf.locator("summary").get_by_text(f"1 of {count} hides").wait_for()
        tab.get_by_role("button", name="All of them").click()
        shelf.locator("summary").get_by_text(f"{count} of {count} hides").wait_for()
