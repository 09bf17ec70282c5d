"""A plan from the page: searched, watched, stopped, settled by hand, burnt; and what a killed search leaves."""

import csv
import io
import json
import os
import signal
import time
import zipfile
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import pytest
from bench_page import bench_page
from laser_samples import DEEP, SHALLOW, hide, layout_of, placement
from shapely.geometry import LineString, box
from small_shop import small_shop

from nesting.bench.desk import LAYOUT
from nesting.bench.plan import _told
from nesting.bench.shapes import _by_order, of_layout
from nesting.bench.store import NAME, Store
from nesting.costs.figures import figures
from nesting.costs.money import KINDS
from nesting.files.layout import layout_to_dict, read_layout, read_stated
from nesting.files.workshop import read_workshop
from nesting.laser.export import export
from nesting.model import Panel
from nesting.planning.hands import burnt
from nesting.referee.burning import prove_files
from nesting.referee.rules import check
from nesting.report.costs_list import costs_list


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A shop with its plan made from the page."""
    folder = small_shop(tmp_path_factory.mktemp("shop"))
    with bench_page(folder) as page:
        task = page.done(page.post("/api/plan", {"seconds": 2}))
        assert task["state"] == "done", task
        yield folder, page


def planned(page):
    return page.get("/api/layout")


def test_a_search_writes_a_layout_that_the_referee_accepts(shop):
    folder, page = shop
    assert not check(read_layout(folder / LAYOUT))
    found = planned(page)
    assert [piece["whole"] for piece in found["pieces"]] == [True] * 5
    assert found["figures"]["total"]["pieces_whole"] == 5
    assert {"report.html", "hide-calf.png"} <= {file["name"] for file in page.get("/api/made")["files"]}


def test_the_curve_of_a_search_ends_with_what_it_came_to(shop):
    _, page = shop
    last = planned(page)["curve"][-1]
    assert last["pieces_whole"] == 5 and 0 < last["yield_of_consumed"] <= 1 and float(last["cost"]) > 0


def test_the_picture_given_along_with_a_layout_is_that_of_its_file(shop):
    _, page = shop
    bench = page.served.bench
    assert bench.view() is bench.view()
    assert json.loads(bench.view()) == json.loads(json.dumps(of_layout(*bench.layout())))


def test_a_part_is_told_where_it_may_lie_and_why_not(shop):
    _, page = shop
    one, other = planned(page)["parts"][:2]
    here = {"key": one["key"], "hide": "calf", "x": one["x"], "y": one["y"], "angle": one["angle"]}
    assert page.post("/api/parts/try", here) == {"may": True, "why": []}
    over = here | {name: other[name] for name in ("x", "y", "angle")}
    found = page.post("/api/parts/try", over)
    assert not found["may"] and {why["rule"] for why in found["why"]} == {1}
    outside = page.post("/api/parts/try", here | {"x": -500.0})
    assert not outside["may"] and 2 in {why["rule"] for why in outside["why"]}


def test_what_may_not_lie_somewhere_is_not_written(shop):
    folder, page = shop
    one, other = planned(page)["parts"][:2]
    before = (folder / LAYOUT).read_bytes()
    found = page.post(
        "/api/parts/move", {"key": one["key"], "hide": "calf", "x": other["x"], "y": other["y"], "angle": 0}
    )
    assert not found["may"] and (folder / LAYOUT).read_bytes() == before


def a_little_aside(page):
    """A part, and a pose near its own where it may lie too."""
    steps = [(dx, dy) for dx in (-0.2, 0, 0.2) for dy in (-0.2, 0, 0.2) if dx or dy]
    tried = (
        (part, {"key": part["key"], "hide": "calf", "angle": part["angle"], "x": part["x"] + dx, "y": part["y"] + dy})
        for part in planned(page)["parts"]
        for dx, dy in steps
    )
    return next((part, pose) for part, pose in tried if page.post("/api/parts/try", pose)["may"])


def test_a_part_moved_by_hand_lies_there_pinned_and_can_be_undone(shop):
    folder, page = shop
    one, pose = a_little_aside(page)
    assert page.post("/api/parts/move", pose)["may"]
    layout = read_layout(folder / LAYOUT)
    moved = next(part for part in layout.placements if abs(part.x - pose["x"]) < 1e-3 and part.pinned)
    assert abs(moved.y - pose["y"]) < 1e-3 and not check(layout)
    page.post("/api/layout/step", {"by": -1})
    after = next(part for part in planned(page)["parts"] if part["key"] == one["key"])
    assert (after["x"], after["pinned"]) == (one["x"], False)
    page.post("/api/layout/step", {"by": 1})
    page.post("/api/parts/pin", {"keys": [one["key"]], "stay": False})
    assert not any(part.pinned for part in read_layout(folder / LAYOUT).placements)


def test_one_undo_takes_a_move_back_after_its_costs_were_worked_out(shop):
    _, page = shop
    one, pose = a_little_aside(page)
    assert page.post("/api/parts/move", pose)["may"]
    end = time.monotonic() + 60
    while planned(page)["figures"] is None:
        assert time.monotonic() < end
        time.sleep(0.05)
    page.post("/api/layout/step", {"by": -1})
    after = next(part for part in planned(page)["parts"] if part["key"] == one["key"])
    assert (after["x"], after["y"], after["pinned"]) == (one["x"], one["y"], False)


def test_what_the_page_holds_of_a_layout_changed_by_hand_is_what_its_file_says(shop):
    folder, page = shop
    _, pose = a_little_aside(page)
    assert page.post("/api/parts/move", pose)["may"]
    found, read = page.served.bench.stated(), read_stated(folder / LAYOUT)
    assert read.sealed and found.sealed
    assert layout_to_dict(found.layout) == layout_to_dict(read.layout) and found.layout.mark == read.layout.mark
    page.post("/api/layout/step", {"by": -1})


def test_a_plan_is_told_at_the_prices_of_today_once_they_change(shop):
    folder, page = shop
    assert planned(page)["today"] is None
    page.post("/api/workshop", {"table": "prices", "key": "machine_per_hour", "value": "1200"})
    end = time.monotonic() + 60
    while (planned(page)["today"] or {}).get("cost") is None:
        assert time.monotonic() < end
        time.sleep(0.05)
    found = planned(page)
    layout = read_layout(folder / LAYOUT)
    now = replace(layout.workshop, prices=read_workshop(folder / "workshop.toml").prices)
    assert found["today"]["cost"] == figures(replace(layout, workshop=now))["total"]["cost"]
    assert float(found["today"]["cost"]) > float(found["figures"]["total"]["cost"])
    page.post("/api/workshop/step", {"by": -1})
    assert planned(page)["today"] is None


def test_files_to_burn_are_written_and_proved(shop):
    folder, page = shop
    task = page.done(page.post("/api/export", {"kind": "svg"}))
    assert task["state"] == "done" and not task["answer"]["findings"], task
    made = page.get("/api/made")
    names = {file["name"]: file["kind"] for file in made["files"]}
    burn = [name for name, kind in names.items() if kind == "burn"]
    assert burn and {"cards.pdf", "cards.html"} <= set(names)
    assert made["written"] == max((folder / "out" / "cut" / name).stat().st_mtime for name in burn)
    status, headers, content = page.ask("GET", f"/api/made/{burn[0]}?take=true")
    assert (
        status == 200 and "attachment" in headers["content-disposition"] and content.startswith(b"<?xml")
    ) or b"<svg" in content
    assert "sandbox" in headers["content-security-policy"]
    layout = read_layout(folder / LAYOUT)
    assert planned(page)["cut_for"] == layout.mark
    assert not prove_files(layout, folder / "out" / "cut")
    # what was told of them is told again, and all of them come in one file
    assert planned(page)["told"] == task["answer"]["notes"]
    status, headers, content = page.ask("GET", "/api/burn.zip")
    assert status == 200 and "attachment" in headers["content-disposition"]
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        out = folder / "out"
        files = [*(out / "cut").iterdir(), *out.glob("cutting-guide-*.png"), out / "report.html"]
        written = {path.name: path.read_bytes() for path in files if path.is_file()}
        found = {name: archive.read(name) for name in archive.namelist()}
    costs = planned(page)["figures"]["costs"]
    rows = list(csv.DictReader(io.StringIO(found.pop("costs.csv").decode())))
    assert found == written
    assert [row["order"] for row in rows] == ["A-1", "B-2", "all"]
    assert (rows[-1]["cost"], rows[-1]["margin"]) == (costs["total"], costs["sold"]["margin"])
    assert sum(Decimal(row["margin"]) for row in rows[:-1]) == Decimal(rows[-1]["margin"])


def test_a_list_of_costs_has_no_formula_and_no_margin_without_a_price():
    line = dict.fromkeys((*KINDS, "total"), "1.00") | {"order": "=A1+2", "product": "-tag", "pieces": 2, "complete": 1}
    costs = dict.fromkeys((*KINDS, "total"), "1.00") | {"lines": [line], "margins": [], "sold": None, "currency": "EUR"}
    row, total = csv.DictReader(io.StringIO(costs_list({"costs": costs})))
    assert (row["order"], row["product"], row["price"], row["margin"]) == ("'=A1+2", "'-tag", "", "")
    assert (total["pieces"], total["whole"], total["cost"], total["margin"]) == ("2", "1", "1.00", "")


def test_what_was_told_of_files_to_burn_is_told_of_their_layout_once_the_bench_was_closed(tmp_path):
    chrome = hide("h2", "chrome")
    parts = [placement(1), placement(2, hide="h2"), placement(3, x=200, panel="2")]
    panels = [
        Panel("1", "h1", box(0, 0, 150, 300)),
        Panel("2", "h1", box(150, 0, 500, 300)),
        Panel("1", "h2", chrome.outline),
    ]
    layout = layout_of(parts, hides=[hide(), chrome], panels=panels)
    layout = burnt(replace(layout, settings={"h1": layout.settings["h1"]}), [("h1", "2")])
    done = export(layout, tmp_path)
    bench = SimpleNamespace(burn_notes={}, layout=lambda: (layout, {}))
    assert len(done.files) == 1 and _told(bench, layout.mark) == [*done.warnings, *done.refusals]
    assert _told(bench, layout.mark)[0].startswith("hide h1, panel 2: it is burnt already") and len(done.refusals) == 1
    assert _told(bench, None) == []
    bench.burn_notes[layout.mark] = ["as it was told"]
    assert _told(bench, layout.mark) == ["as it was told"]


def test_what_an_order_costs_is_the_sum_of_its_lines_and_all_orders_that_of_the_plan(shop):
    _, page = shop
    found = planned(page)
    rows, costs = found["by_order"]["rows"], found["figures"]["costs"]
    for row in rows:
        lines = [line for line in costs["lines"] if line["order"] == row["order"]]
        assert Decimal(row["total"]) == sum(Decimal(line["total"]) for line in lines)
        assert row["pieces"] == sum(line["pieces"] for line in lines)
    assert [row["order"] for row in rows] == sorted({line["order"] for line in costs["lines"]})
    assert sum(Decimal(row["total"]) for row in rows) == Decimal(costs["total"])
    assert sum(Decimal(row["leather"]) for row in rows) == Decimal(costs["leather"])


def test_lines_of_one_order_are_added_up_and_kinds_without_a_price_named():
    workshop = SimpleNamespace(untold={"machine_per_hour", "masking_per_m2", "kerf_mm"})
    kinds = ("leather", "masking", "machine", "labour", "other")
    line = dict.fromkeys(kinds, "1.10") | {"order": "Nora", "pieces": 2, "complete": 1, "total": "5.50"}
    costs = dict.fromkeys(kinds, "3.30") | {"total": "16.50", "lines": [line, line, line | {"order": "Tom"}]}
    sale = {"order": "Nora", "pieces": 1, "price": "20.00", "margin": "15.25"}
    costs |= {"margins": [sale, sale], "sold": {"pieces": 2, "price": "40.00", "margin": "30.50"}}
    found = _by_order(SimpleNamespace(workshop=workshop), {"costs": costs})
    assert [(row["order"], row["total"], row["pieces"], row["complete"]) for row in found["rows"]] == [
        ("Nora", "11.00", 4, 2),
        ("Tom", "5.50", 2, 1),
    ]
    assert [(row.get("price"), row.get("margin")) for row in found["rows"]] == [("40.00", "30.50"), (None, None)]
    assert (found["total"]["price"], found["total"]["margin"]) == ("40.00", "30.50")
    assert found["total"]["total"] == "16.50" and found["unpriced"] == ["machine", "masking"]


def test_going_on_from_a_plan_leaves_it_where_nothing_better_is_found(shop):
    folder, page = shop
    before, total = (folder / LAYOUT).read_bytes(), planned(page)["figures"]["total"]
    task = page.done(page.post("/api/plan", {"seconds": 1, "resume": True}))
    assert task["state"] == "done", task
    now = planned(page)["figures"]["total"]
    spent = [(Decimal(one["cost"]), one["consumed_mm2"]) for one in (now, total)]
    if task["answer"]["better"]:
        assert spent[0] < spent[1]
    else:
        assert (folder / LAYOUT).read_bytes() == before


def test_a_panel_has_the_size_at_which_it_lies_on_the_bed(shop):
    _, page = shop
    found = planned(page)
    panels = found["panels"]
    assert panels and all(side <= bed + 0.01 for panel in panels for side, bed in zip(panel["size_mm"], found["bed"]))


def test_loads_come_in_their_turn_with_the_orders_that_wait_by_the_days_of_now(shop):
    folder, page = shop
    (turn,) = planned(page)["turns"]
    assert (turn["hide"], turn["number"], turn["of"], turn["lines"]) == ("calf", 1, 1, [])
    assert turn["waiting"] == [{"order": "A-1", "due": "2026-03-02"}, {"order": "B-2", "due": None}]
    orders = folder / "orders.csv"
    before = orders.read_text()
    orders.write_text(before.replace("B-2,tag,2,,", "B-2,tag,2,2026-02-01,"))
    assert planned(page)["turns"][0]["waiting"][0] == {"order": "B-2", "due": "2026-02-01"}
    orders.write_text(before)


def test_a_panel_ticked_off_stays_and_a_spoiled_part_is_wanted_again(tmp_path):
    folder = small_shop(tmp_path)
    with bench_page(folder) as page:
        assert page.done(page.post("/api/plan", {"seconds": 1}))["state"] == "done"
        panel = planned(page)["panels"][0]
        page.post("/api/panels/burnt", {"hide": panel["hide"], "panel": panel["id"]})
        part = next(part for part in planned(page)["parts"] if part["burnt"])
        pose = {"key": part["key"], "hide": "calf", "x": 0, "y": 0, "angle": 0}
        assert not page.post("/api/parts/try", pose)["may"]
        page.post("/api/parts/spoiled", {"key": part["key"]})
        layout = read_layout(folder / LAYOUT)
        assert len(layout.lost) == 1 and len(layout.placements) == 4 and layout.burnt


def test_a_search_is_stopped_with_what_it_has_and_the_page_stays_quick(tmp_path):
    folder = small_shop(tmp_path)
    with bench_page(folder) as page:
        task = page.post("/api/plan", {"seconds": 600})
        end = time.monotonic() + 60
        while page.served.bench.live.layout is None:
            assert time.monotonic() < end
            time.sleep(0.05)
        assert page.ask("POST", "/api/plan", {"seconds": 1})[0] == 409
        assert page.ask("POST", "/api/parts/pin", {"keys": ["a\tb\tc\t1\t1\tFalse"]})[0] == 409
        assert page.get("/api/search")["layout"]["parts"]
        page.post("/api/plan/stop")
        assert page.done(task)["state"] == "done"
        assert not check(read_layout(folder / LAYOUT))


def test_a_search_whose_process_is_killed_leaves_its_best(tmp_path):
    folder = small_shop(tmp_path)
    with bench_page(folder) as page:
        task = page.post("/api/plan", {"seconds": 600})
        bench = page.served.bench
        end = time.monotonic() + 60
        while bench.live.layout is None:
            assert time.monotonic() < end
            time.sleep(0.05)
        channel = bench.works.tasks[task["number"]].channel
        os.kill(bench.works._helpers._processes[channel].pid, signal.SIGKILL)
        found = page.done(task)
        assert found["state"] == "lost" and found["told"]["kept"]
        layout = read_layout(folder / LAYOUT)
        assert layout.placements and not check(layout)


def test_a_bench_that_died_in_a_search_comes_back_with_its_best(shop, tmp_path):
    done, _ = shop
    folder = small_shop(tmp_path)
    content = json.dumps(json.loads((done / LAYOUT).read_text()) | {"figures": {}}).encode()
    store = Store(folder / NAME)
    store.keep_search(store.begin_search("plan", {}), layout=content)
    store.close()
    with bench_page(folder) as page:
        end = time.monotonic() + 60
        while not page.get("/api/bench")["notes"]:
            assert time.monotonic() < end
            time.sleep(0.02)
        assert read_layout(folder / LAYOUT).placements
    with bench_page(folder) as page:
        assert not page.get("/api/bench")["notes"]


def test_what_is_wrong_with_a_folder_is_told_in_place_of_a_plan(tmp_path):
    folder = small_shop(tmp_path)
    (folder / "orders.csv").write_text("order,product,quantity,due,priority,thread,note\nA-1,tag,none,,,,\n")
    with bench_page(folder) as page:
        end = time.monotonic() + 30
        while (found := page.get("/api/bench"))["reading"]:
            assert time.monotonic() < end
            time.sleep(0.05)
        assert "whole number" in found["faults"][0]
        task = page.done(page.post("/api/plan", {"seconds": 1}))
        assert task["state"] == "fault" and "whole number" in task["faults"][0]
        assert page.ask("GET", "/api/layout")[0] == 404


def test_a_guide_opens_with_what_it_is_for_and_prints_at_its_true_size(shop):
    _, page = shop
    page.done(page.post("/api/export", {"kind": "svg"}))
    name = next(file["name"] for file in page.get("/api/made")["files"] if file["kind"] == "guide")
    status, headers, text = page.ask("GET", f"/look/{name}", Accept_Language="de")
    assert status == 200 and "img-src 'self'" in headers["content-security-policy"]
    # the small shop's bed
    assert b"Wegweiser f" in text and b"width: 200mm; height: 200mm" in text and b"Nicht zum Brennen" in text
    assert "Darauf warten: A-1 (2026-03-02), B-2." in " ".join(text.decode().split())
    assert page.ask("GET", "/look/cards.pdf")[0] == 404 and page.ask("GET", "/look/nothing")[0] == 404


def test_engraving_that_will_be_filled_is_drawn_so():
    rings = [LineString(box(a, 2, a + 8, 10).exterior.coords) for a in (2, 12, 22)]
    lines = [*rings, LineString([(2, 20), (30, 20)])]
    part = placement(outline=box(0, 0, 40, 40), engrave=lines, engrave_how=("line", "fill", "", "fill"))
    (shape,) = of_layout(layout_of([part], engravings=(DEEP,), engraving_depth="deep"))["shapes"]
    assert shape["filled"] == [1, 2] and len(shape["engrave"]) == 4
    told = of_layout(layout_of([part], engravings=(SHALLOW,)))
    assert told["shapes"][0]["filled"] == [] and len(told["unfilled"]) == 1
