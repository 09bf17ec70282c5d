"""From an empty folder to files to burn, all of it on the page, with a photo as the camera took it."""

import re

from bench_page import bench_page
from browser import chromium, opened

from nesting.app.demo import demo_folder
from nesting.bench.desk import LAYOUT
from nesting.files.layout import read_layout
from nesting.referee.burning import prove_files
from nesting.referee.rules import check


def test_an_empty_folder_becomes_files_to_burn_that_the_referee_accepts(tmp_path):
    folder = tmp_path / "week"
    demo = demo_folder()
    with chromium() as browser, bench_page(folder) as page, opened(browser, page) as tab:
        tab.get_by_role("button", name="Begin here").click()
        tab.get_by_label("Bed width").fill("600")
        tab.get_by_label("Bed height").fill("400")
        tab.get_by_label("Bed height").press("Tab")
        tab.get_by_text("Add a row you tested").click()
        book = tab.locator("details", has=tab.get_by_text("Add a row you tested"))
        typed = {"Thickness": "1.5 mm", "Speed, mm/s": "11", "Power, %": "68", "Clean from": "1.2", "Clean to": "1.8"}
        for name, text in typed.items():
            book.get_by_label(name, exact=not name.startswith("Clean")).fill(text)
        book.get_by_role("button", name="Put it into the book").click()
        booked = tab.locator('[data-key="thickness_mm"]')
        booked.wait_for()
        assert booked.input_value() == "1.50 mm"

        tab.evaluate("() => { location.hash = '#/leather'; }")
        tab.locator("input[type=file]").set_input_files(demo / "photos" / "natural-shoulder.jpg")
        tab.get_by_label("Thickness").fill("1.5")
        tab.get_by_label("Tannage").select_option("vegetable")
        tab.get_by_role("button", name="Trace the outline").click()
        tab.get_by_role("toolbar", name="What pointing does").wait_for(timeout=240_000)
        assert (folder / "hides" / "natural-shoulder.json").exists()
        assert page.get("/api/bench")["untraced"] == []

        tab.evaluate("() => { location.hash = '#/orders'; }")
        tab.locator("input[type=file]").set_input_files(demo / "patterns" / "key-fob.svg")
        tab.get_by_role("heading", name="key fob").wait_for(timeout=60_000)
        tab.get_by_role("button", name="One more order").click()
        tab.get_by_label("Order 1").fill("A-1")
        tab.get_by_label("Product 1").select_option("key fob")
        tab.get_by_label("Pieces 1").fill("4")
        tab.get_by_label("Pieces 1").press("Tab")
        tab.wait_for_timeout(500)

        tab.evaluate("() => { location.hash = '#/plan'; }")
        tab.get_by_label("For about").select_option("10")
        tab.get_by_role("button", name="Plan", exact=True).click()
        tab.wait_for_selector(".part", timeout=180_000)
        tab.get_by_role("button", name="Stop, keep the best").click()
        tab.get_by_text(re.compile("4 / 4")).first.wait_for(timeout=180_000)
        tab.get_by_role("button", name="Improve the plan").wait_for(timeout=90_000)

        tab.evaluate("() => { location.hash = '#/loads'; }")
        tab.get_by_role("button", name="Write the files to burn").click()
        link = tab.get_by_role("link", name="File to burn").first
        link.wait_for(timeout=120_000)
        with tab.expect_download() as taken:
            link.click()
        layout = read_layout(folder / LAYOUT)
        assert len(layout.placements) == 4 and not check(layout)
        assert taken.value.path().read_bytes() == (folder / "out" / "cut" / taken.value.suggested_filename).read_bytes()
        assert not prove_files(layout, folder / "out" / "cut")
