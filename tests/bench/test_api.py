"""Whatever the page is sent, no answer is a fault of the server; and what the other tests do not ask it."""

import io
import json

import pytest
import schemathesis
from bench_page import bench_page, stands_up_to
from PIL import Image
from small_shop import small_shop

from nesting.files.hides import read_hide
from nesting.files.patterns import read_pattern
from nesting.files.products import read_products


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    with bench_page(small_shop(tmp_path_factory.mktemp("shop"))) as page:
        page.done(page.post("/api/plan", {"seconds": 1}))
        yield page


SLOW = (
    *("/api/plan", "/api/compare", "/api/export", "/api/begin", "/api/shop/make"),
    *("/api/hides/{name}/trace", "/api/drawings", "/api/photos"),
)
"""Each starts a process; they have tests of their own."""
BEGUN = "/api/shop/begin"
"""After it there is a stock book; what is asked of that is sent nonsense in a test of its own."""


@pytest.fixture(scope="module")
def described(page):
    schema = schemathesis.openapi.from_dict(page.served.api.openapi())
    schema.config.update(base_url=page.address)
    return schema


def test_no_answer_to_anything_that_fits_the_description_is_a_fault_of_the_server(described, page):
    operations = [found.ok() for found in described.get_all_operations()]
    quick = [operation for operation in operations if operation.path not in (*SLOW, BEGUN)]
    assert len(quick) > 25
    for operation in quick:
        stands_up_to(page, operation, 5)


@pytest.mark.parametrize("path", SLOW)
@pytest.mark.parametrize("body", [b"", b"[]", b'{"seconds": NaN}', b'{"seconds": -1}', b"\xff\xfe", b'{"unknown": 1}'])
def test_what_starts_a_process_starts_none_for_nonsense(page, path, body):
    before = len(page.served.bench.works.tasks)
    status, _, _ = page.ask("POST", path.replace("{name}", "calf"), content=body)
    assert 400 <= status < 500 or body == b""
    assert len(page.served.bench.works.tasks) == before or status == 200


def test_a_hide_that_is_no_hide_is_kept_as_a_draft_and_can_be_taken_back(page):
    file = page.served.bench.folder / "hides" / "calf.json"
    before = file.read_bytes()
    data = json.loads(before) | {"outline": [[0, 0], [100, 100], [0, 100], [100, 0]]}
    found = page.post("/api/hides/calf", data, method="PUT")
    assert found["draft"] and "outline" in found["faults"][0] and file.read_bytes() == before
    assert page.get("/api/hides/calf")["draft"]
    assert not page.post("/api/hides/calf/step", {"by": -1})["draft"]
    assert page.ask("PUT", "/api/hides/calf", content=b'{"id": NaN}')[0] == 400


def test_a_hide_taken_off_the_shelf_can_be_brought_back(page):
    folder = page.served.bench.folder
    before = (folder / "hides" / "calf.json").read_bytes()
    page.post("/api/hides/calf", method="DELETE")
    assert not (folder / "hides" / "calf.json").exists()
    page.post("/api/shelf/calf")
    assert (folder / "hides" / "calf.json").read_bytes() == before
    assert page.ask("POST", "/api/shelf/never-there", {})[0] == 404


DRAWING = b"""<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm" viewBox="0 0 80 60">
<path d="M5,5H75V55H5Z" fill="none"/><circle cx="20" cy="20" r="4" fill="none"/></svg>"""


TWO_COLOURS = b"""<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="80mm" viewBox="0 0 120 80" fill="none">
<rect x="10" y="10" width="100" height="60" rx="8" stroke="#ff0000"/>
<rect x="30" y="20" width="20" height="20" stroke="#0000ff"/>
<circle cx="40" cy="30" r="4" stroke="#0000ff"/><circle cx="70" cy="30" r="4" stroke="#00aa00"/></svg>"""


def test_a_drawing_becomes_a_pattern_and_a_product_and_its_lines_are_labelled(page):
    folder = page.served.bench.folder
    task = page.done(page.post("/api/drawings?name=Key%20Fob.svg", content=DRAWING))
    assert task["state"] == "done" and task["answer"]["guessed"], task
    assert [product.name for product in read_products(folder / "products.toml")] == ["tag", "key fob"]
    path = folder / "patterns" / "key-fob.svg"
    # the picture to look at that lies beside it is no drawing
    assert (folder / "patterns" / "key-fob-look.svg").exists()
    assert set(page.get("/api/products")["drawings"]) == {"tag", "key-fob"}
    assert len(read_pattern(path)[0].cutouts) == 1
    asked = {"part": 0, "kind": "cutout", "number": 0, "label": "engrave line"}
    found = page.post("/api/drawings/key-fob/line", asked)
    assert len(found["parts"][0]["engrave"]) == 1 and not found["parts"][0]["cutouts"]
    (part,) = read_pattern(path)
    assert part.engrave_how == ("line",) and part.curves.engrave[0].circle.radius == pytest.approx(4)
    page.post("/api/drawings/key-fob/step", {"by": -1})
    assert len(read_pattern(path)[0].cutouts) == 1
    page.post("/api/products", {"product": 1, "part": 0, "key": "grade", "value": "C"})
    page.post("/api/products", {"product": 1, "part": 0, "key": "thickness_mm", "value": "3-4.5 oz"})
    wished = {"same_lot": True, "flesh_out": True, "partial": True, "burn": False, "longer": "two loads"}
    for key, value in wished.items():
        told = page.post("/api/products", {"product": 1, "key": key, "value": value})["products"][1]
        assert told[key] == value
    made = read_products(folder / "products.toml")[1]
    assert (made.same_lot, made.flesh_out, made.partial, made.burn, made.longer) == tuple(wished.values())
    page.post("/api/products", {"product": 1, "key": "burn", "value": None})
    assert read_products(folder / "products.toml")[1].burn is None
    part = read_products(folder / "products.toml")[1].parts[0]
    assert part.grade == "C" and part.thickness_mm == pytest.approx((3 * 25.4 / 64, 4.5 * 25.4 / 64))
    assert page.ask("POST", "/api/products", {"product": 1, "part": 0, "key": "grade", "value": "Q"})[0] == 422
    page.post("/api/products/1", method="DELETE")
    assert [product.name for product in read_products(folder / "products.toml")] == ["tag"]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("x.svg", b"<svg", "x.svg: line 1"),
        ("x.svg", b'<!DOCTYPE a [<!ENTITY b "c">]><svg>&b;</svg>', "svg"),
        ("x.pdf", b"not a pdf", "pdf"),
    ],
)
def test_a_drawing_that_is_none_is_told_by_its_name_and_leaves_nothing(page, name, content, said):
    before = sorted(path.name for path in (page.served.bench.folder / "patterns").iterdir())
    task = page.done(page.post(f"/api/drawings?name={name}", content=content))
    assert task["state"] == "fault" and said.lower() in task["faults"][0].lower() and "/tmp" not in task["faults"][0]
    assert sorted(path.name for path in (page.served.bench.folder / "patterns").iterdir()) == before


def test_a_photo_is_looked_at_before_it_is_kept(page):
    folder = page.served.bench.folder
    content = io.BytesIO()
    Image.new("RGB", (80, 60), "tan").save(content, "JPEG")
    task = page.done(page.post("/api/photos?name=../../IMG%200001.JPG", content=content.getvalue()))
    assert task["answer"] == {"photo": "img-0001.jpg", "size": [80, 60]}
    assert (folder / "photos" / "img-0001.jpg").read_bytes() == content.getvalue()
    for wrong in (b"GIF89a" + bytes(100), content.getvalue()[:300], b"MZ" + bytes(1000)):
        assert page.done(page.post("/api/photos?name=x.jpg", content=wrong))["state"] == "fault"
    assert [path.name for path in (folder / "photos").iterdir()] == ["img-0001.jpg"]


def test_a_photo_without_a_scale_is_told_so_and_makes_no_hide(page):
    content = io.BytesIO()
    Image.effect_noise((640, 480), 40).convert("RGB").save(content, "JPEG")
    task = page.done(page.post("/api/photos?name=floor.jpg", content=content.getvalue()))
    task = page.done(page.post("/api/hides/new/trace", {"photo": task["answer"]["photo"]}))
    assert task["state"] == "fault" and task["faults"]
    assert "new" not in {hide["name"] for hide in page.get("/api/bench")["hides"]}


def test_readings_and_facts_of_a_hide_are_written(page):
    file = page.served.bench.folder / "hides" / "calf.json"
    data = page.get("/api/hides/calf")["hide"]
    data["readings"] = [{"x": 50, "y": 50, "mm": 1.22}]
    data["colour"] = "cognac"
    assert not page.post("/api/hides/calf", data, method="PUT")["faults"]
    hide = read_hide(file)
    assert (hide.colour, hide.readings[0].mm) == ("cognac", 1.22)
    page.post("/api/hides/calf/step", {"by": -1})
    assert not read_hide(file).readings


ENGRAVES = {"thickness": "1.5 mm", "speed_mm_s": 250, "power_percent": 22, "operation": "engrave shallow"}


def rows_of(page):
    return {row["name"]: row["line_spacing_mm"] for row in page.get("/api/workshop")["settings"]}


def test_an_engraving_row_is_given_its_line_spacing_and_another_later(page):
    file = page.served.bench.folder / "workshop.toml"
    before = file.read_bytes()
    page.post("/api/settings", ENGRAVES | {"name": "mark", "line_spacing_mm": 0.1})
    page.post("/api/settings", ENGRAVES | {"name": "edge", "thickness": "1.2 mm", "speed_mm_s": 400})
    assert rows_of(page) == {"thin": 0, "mark": 0.1, "edge": 0}
    page.post("/api/settings/mark", {"key": "line_spacing_mm", "value": 0.2})
    page.post("/api/settings/edge", {"key": "line_spacing_mm", "value": 0.15})
    assert rows_of(page) == {"thin": 0, "mark": 0.2, "edge": 0.15}
    page.post("/api/settings/mark", {"key": "line_spacing_mm", "value": 0})
    assert rows_of(page)["mark"] == 0
    for name, spacing, status in (("thin", 0.1, 409), ("never", 0.1, 404), ("mark", -1, 422), ("mark", 6, 422)):
        asked = {"key": "line_spacing_mm", "value": spacing}
        assert page.ask("POST", f"/api/settings/{name}", asked)[0] == status
    for _ in range(5):
        page.post("/api/workshop/step", {"by": -1})
    assert file.read_bytes() == before


def test_the_values_of_a_row_are_changed_where_they_stand(page):
    file = page.served.bench.folder / "workshop.toml"
    before, steps = file.read_bytes(), 0

    def change(key, value):
        nonlocal steps
        steps += 1
        rows = page.post("/api/settings/book", {"key": key, "value": value})["settings"]
        return next(row for row in rows if row["name"] == "book")

    typed = {"name": "book", "thickness": "1.5 mm", "speed_mm_s": 20, "power_percent": 50}
    page.post("/api/settings", typed | {"operation": "engrave shallow"})
    # a window by rule goes along with the thickness, one that was typed stays
    row = change("thickness_mm", "4 oz")
    assert row["thickness_mm"] == pytest.approx(4 * 25.4 / 64) and "default rule" in row["basis"]
    assert (row["thinnest_mm"], row["thickest_mm"]) == pytest.approx((0.9 * 4 * 25.4 / 64, 1.1 * 4 * 25.4 / 64))
    assert "default rule" in change("thinnest_mm", "1.3 mm")["basis"]
    row = change("thickest_mm", "1.9 mm")
    assert (row["thinnest_mm"], row["thickest_mm"], row["basis"]) == (1.3, 1.9, "tested")
    assert change("thickness_mm", "1.6")["thinnest_mm"] == 1.3
    assert [change("speed_mm_s", 40)["energy"], change("power_percent", 25)["energy"]] == [0.5, 0.25]
    assert change("passes", 2)["energy"] == 0.5 and change("leather", " side ")["leather"] == "side"
    assert change("leather", "")["leather"] == ""
    for key, value in (
        ("thickness_mm", "thick"),
        ("passes", 0),
        ("passes", 1.5),
        ("thinnest_mm", "2 mm"),
        ("name", "x"),
    ):
        assert page.ask("POST", "/api/settings/book", {"key": key, "value": value})[0] >= 400
    for _ in range(steps + 1):
        page.post("/api/workshop/step", {"by": -1})
    assert file.read_bytes() == before


def test_what_the_workshop_s_file_does_not_have_is_asked_for_first_whatever_is_told(page):
    file = page.served.bench.folder / "workshop.toml"
    before = file.read_bytes()
    kerf, bed = ["margins", "kerf_mm"], [["machine", key] for key in ("bed_width_mm", "bed_height_mm", "rated_w")]
    assert page.get("/api/workshop")["first"] == [kerf]

    def change(table, key, value):
        return page.post("/api/workshop", {"table": table, "key": key, "value": value})["first"]

    # a bed, a laser and a kerf that are just as would have been guessed
    assert change("machine", "bed_width_mm", 500) == change("machine", "bed_height_mm", 300) == [kerf]
    assert {"kerf_mm", "offcut_credit"} <= set(page.get("/api/bench")["asks"])
    assert change("margins", "kerf_mm", 0.2) == [] and change("margins", "kerf_mm", None) == [kerf]
    for key in ("bed_width_mm", "bed_height_mm", "rated_w"):
        found = change("machine", key, None)
    assert found == [*bed, kerf] and change("machine", "rated_w", 40) == [*bed[:2], kerf]
    for _ in range(8):
        page.post("/api/workshop/step", {"by": -1})
    assert file.read_bytes() == before


def test_a_comb_is_given_to_cut_and_its_widths_are_the_kerf(page):
    file = page.served.bench.folder / "workshop.toml"
    before = file.read_bytes()
    status, headers, comb = page.ask("GET", "/api/kerf-comb.svg?thickness=1.2%20mm")
    assert status == 200 and "attachment" in headers["content-disposition"] and b"Cut with thin" in comb
    assert b"Cut with" not in page.get("/api/kerf-comb.svg")
    found = page.post("/api/kerf", {"teeth": "5.8 5.82 5.78", "slots": "4.2, 4.2"})
    assert found["kerf"]["mm"] == pytest.approx(0.2) and found["tables"]["margins"]["kerf_mm"] == 0.2
    assert ["margins", "kerf_mm"] not in found["first"]
    for body in ({"teeth": "5.8"}, {"teeth": "wide"}):
        assert page.ask("POST", "/api/kerf", body)[0] == 422
    page.post("/api/workshop/step", {"by": -1})
    assert file.read_bytes() == before


def test_marker_sheets_are_given_to_print(page):
    _, headers, content = page.ask("GET", "/api/marker-sheets.pdf")
    assert content.startswith(b"%PDF") and "marker-sheets.pdf" in headers["content-disposition"]


def test_a_test_piece_for_engraving_teaches_the_line_spacing_it_was_burnt_with(page):
    typed = {"thickness": "1.5 mm", "operation": "engrave shallow", "speed_mm_s": 250, "power_percent": 22}
    made = page.post("/api/swatches", typed | {"line_spacing_mm": 0.12})
    found = page.post(f"/api/swatches/{made['name']}", {"best": made["cells"][0]["name"], "name": "taught"})
    assert {row["name"]: row["line_spacing_mm"] for row in found["settings"]}["taught"] == 0.12
    page.post("/api/workshop/step", {"by": -1})


def test_a_reading_off_the_leather_is_told_in_plain_words(page):
    data = page.get("/api/hides/calf")["hide"]
    off = [{"x": 50, "y": 50, "mm": 1.2}, {"x": 171.84, "y": -26.21, "mm": 1.5}]
    found = page.post("/api/hides/calf", data | {"readings": off}, method="PUT")
    assert found["draft"] and found["faults"] == [
        "thickness reading 2: that place is not on the hide: undo takes it back, then touch the leather"
    ]
    page.post("/api/hides/calf/step", {"by": -1})


def test_lines_of_a_colour_that_is_asked_about_are_answered_at_once(tmp_path):
    with bench_page(small_shop(tmp_path)) as page:
        answered(page)


def answered(page):
    folder = page.served.bench.folder
    task = page.done(page.post("/api/drawings?name=badge.svg", content=TWO_COLOURS))
    assert task["state"] == "done", task
    path = folder / "patterns" / "badge.svg"

    def lines():
        (part,) = read_pattern(path)
        return len(part.cutouts), len(part.engrave), len(part.stitch)

    asked = page.get("/api/products")["drawings"]["badge"]["asked"]
    assert asked == [{"colour": "#0000ff", "count": 2}, {"colour": "#00aa00", "count": 1}] and lines() == (2, 0, 0)
    found = page.post("/api/drawings/badge/colour", {"colour": "#0000ff", "label": "engrave"})
    assert found["asked"] == [{"colour": "#00aa00", "count": 1}] and lines() == (1, 2, 0)
    assert page.ask("POST", "/api/drawings/badge/colour", {"colour": "#0000ff", "label": "engrave"})[0] >= 400
    page.post("/api/drawings/badge/step", {"by": -1})
    assert lines() == (2, 0, 0)
    # cut out, what lies within is no line any more
    page.post("/api/drawings/badge/colour", {"colour": "#0000ff", "label": "cutout"})
    found = page.post("/api/drawings/badge/colour", {"colour": "#00aa00", "label": "stitch"})
    assert found["asked"] == [] and lines() == (1, 0, 1)
