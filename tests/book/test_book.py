"""The stock book by its face: what is on the shelf, what is ordered, what was cut from what, and steps taken back."""

import random
import shutil
import sqlite3
from dataclasses import replace
from decimal import Decimal

import pytest
from shop import HEADER, laid, leather, plan, shop

from nesting.book.book import Book
from nesting.book.opening import NAME
from nesting.book.tables import TABLES
from nesting.book.versions import TRACKED
from nesting.costs.money import costs
from nesting.errors import FileError
from nesting.files.hides import read_hide, write_hide
from nesting.files.job import read_job
from nesting.files.layout import write_layout
from nesting.files.orders import read_orders
from nesting.model import Doubt, Reading, Zone
from nesting.planning.hands import pinned

TWO = HEADER + "1,key fob,4,2026-01-05,1,,\n2,key fob,2,,,,\n"


def begun(folder, hides=None, orders=TWO):
    book = Book.begin(shop(folder / "shop", hides, orders))
    book.take_hides()
    book.take_orders(read_orders(book.folder / "orders.csv", None))
    return book


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """The folder of a book of two hides and two orders, planned."""
    made = begun(tmp_path_factory.mktemp("book"), [leather("bend"), leather("side", 400, 300)])
    plan(made, random.Random(1))
    return made.folder


@pytest.fixture
def book(planned, tmp_path):
    """A book of its own, as it was planned."""
    return Book(shutil.copytree(planned, tmp_path / "shop"))


def states(book):
    return {row.name: row.state for row in book.orders(None)}


def on_shelf(book):
    return [row.name for row in book.hides(("shelf",))]


def everything(book):
    """All rows of the book, and all plain files of the folder."""
    with sqlite3.connect(book.path) as plain:
        rows = {table: sorted(plain.execute(f"SELECT * FROM {table}").fetchall()) for table in TRACKED}
    files = {path: path.read_bytes() for path in book.folder.rglob("*.json")}
    return rows, files


def test_hides_and_orders_are_taken_in_once(tmp_path):
    book = begun(tmp_path)
    assert on_shelf(book) == ["bend"] and states(book) == {"1": "wanted", "2": "wanted"}
    assert not book.take_hides().added and not book.take_orders(read_orders(book.folder / "orders.csv", None)).added
    row = book.hide("BEND")
    assert row.price == 2000 and row.tannage == "vegetable" and book.hide(row.code).name == "bend"
    assert len(book.steps()) == 2


def test_a_hide_whose_file_changed_is_read_again(tmp_path):
    book = begun(tmp_path)
    write_hide(book.folder / "hides" / "bend.json", leather("bend", 500, price="33.10"))
    assert book.take_hides().changed == ("bend",)
    assert book.hide("bend").price == 3310 and book.hide("bend").wide_mm == 500


def test_a_load_cut_moves_leather_and_orders(book):
    assert states(book) == {"1": "planned", "2": "planned"}
    loads = book.waiting()
    assert len(loads) > 3 and {hide for hide, _ in loads} == {"bend", "side"}
    first = [load for load in loads if load[0] == "bend"]
    book.cut(first[:1])
    assert book.hide("bend").state == "opened" and book.layout().burnt[0].name == "/".join(first[0])
    assert (book.folder / "hides" / "bend.json").exists()
    book.cut(load for load in loads if load != first[0])
    assert book.waiting() == [] and states(book) == {"1": "cut", "2": "cut"}
    assert [row.state for row in book.hides(("cut",))] == ["cut", "cut"]
    assert not (book.folder / "hides" / "bend.json").exists()
    assert (book.folder / "hides" / "cut" / "bend.json").exists()
    for row in book.hides():
        shape = read_hide(book.folder / row.file)
        assert row.parent and shape.id == row.name and abs(shape.outline.area - row.area_mm2) < 0.01
        parent = book.parent_of(row)
        assert parent.name in ("bend", "side") and row.id in [one.id for one in book.offcuts_of(parent)]


def test_offcuts_keep_what_is_known_of_their_leather(tmp_path):
    from shapely.geometry import box

    full = leather(
        "bend",
        zones=(Zone(box(10, 10, 610, 20), "D", "belly"),),
        doubts=(Doubt(box(0, 100, 600, 110), "stain", number=3),),
        readings=tuple(Reading(x, y, 1.2 + x / 1000) for x in range(20, 600, 60) for y in (40, 150)),
        backbone=((0.0, 100.0), (600.0, 100.0)),
        colour="cognac",
    )
    book = begun(tmp_path, [full])
    plan(book, random.Random(2))
    book.cut(book.waiting())
    offcuts = [book.shape(row) for row in book.hides()]
    assert len(offcuts) > 1 and all(one.colour == "cognac" and one.backbone == full.backbone for one in offcuts)
    for one in offcuts:
        assert all(one.outline.buffer(1e-3).covers(zone.polygon) for zone in one.zones)
        assert all(one.outline.buffer(1e-3).covers(doubt.polygon) for doubt in one.doubts)
        inside = [r for r in full.readings if one.outline.buffer(-1e-6).covers(box(r.x, r.y, r.x + 1e-9, r.y + 1e-9))]
        assert set(inside) <= set(one.readings)
        if len(one.readings) < 4:
            # thicker to the right: what the whole hide's map says there
            middle = one.outline.centroid.x
            assert one.nominal_mm == pytest.approx(1.2 + middle / 1000, abs=0.08)
    assert any(one.zones for one in offcuts) and any(one.doubts for one in offcuts)


def test_a_week_later_only_what_is_left_is_planned(book):
    book.cut(book.waiting())
    book.take_orders(read_orders(shop(book.folder, orders=HEADER + "3,key fob,1,,,,\n") / "orders.csv", None))
    (book.folder / "hides" / "bend.json").unlink()
    job = book.job(read_job(book.folder).workshop, read_job(book.folder).products)
    assert [line.order for line in job.orders] == ["3"] and {hide.id for hide in job.hides} == set(on_shelf(book))
    layout = plan(book, random.Random(3))
    assert not layout.burnt and {part.order for part in layout.placements} == {"3"}
    book.cut(book.waiting())
    assert states(book)["3"] == "cut"


def test_a_hide_cut_up_is_not_taken_for_whole_again(book):
    content = (book.folder / "hides" / "bend.json").read_bytes()
    book.cut(book.waiting())
    (book.folder / "hides" / "bend.json").write_bytes(content)
    assert any("bend.json is not used: hide bend was cut up" in note for note in book.take_hides().notes)
    assert "bend" not in on_shelf(book)


def test_a_piece_cut_in_part_is_finished_by_a_later_plan(tmp_path):
    book = begun(tmp_path, [leather("bend")], HEADER + "1,key fob,2,,,,\n")
    layout = plan(book, random.Random(5))
    loads = book.waiting()
    split = next(load for load in loads if 0 < sum((p.hide, p.panel) == load for p in layout.placements) < 4)
    book.cut([split])
    book.put_back("bend")
    assert "bend" not in [row.name for row in book.hides()] and states(book)["1"] == "wanted"
    made = {part.key for part in book.layout().placements if book.layout().is_burnt(part)}
    after = plan(book, random.Random(6))
    assert made < {part.key for part in after.placements} and len(after.placements) == 4
    book.cut(book.waiting())
    line = book.orders(None)[0]
    assert (line.made, line.state) == (2, "cut") and len(book.parts()) == 4


def test_a_spoiled_part_is_wanted_again_and_made_again(book):
    layout = book.layout()
    part = next(part for part in layout.placements if part.order == "1")
    done = book.spoil(part)
    assert done.loads == (f"{part.hide}/{part.panel}",)
    line = next(row for row in book.orders() if row.name == "1")
    assert (line.state, line.spoiled) == ("spoiled", 1)
    assert book.layout().lost[0].key == part.key
    plan(book, random.Random(4))
    assert states(book)["1"] == "planned"
    book.cut(book.waiting())
    line = next(row for row in book.orders(None) if row.name == "1")
    assert (line.state, line.spoiled, line.made) == ("cut", 0, 4)
    assert [one.state for one in book.parts("1")].count("spoiled") == 1


def test_the_money_of_a_hide_cut_load_by_load_is_that_of_its_layout(book):
    """To the cent, by the costs of the layout as a whole, which tests/costs holds against sums done by hand."""
    whole = costs(book.layout())
    for load in book.waiting():
        book.cut([load])
    parts = book.parts()
    for kind in ("leather", "masking", "machine", "labour"):
        assert sum(getattr(part, kind) for part in parts) == getattr(whole.total, kind) * 100
    paid = sum(row.price for row in book.hides(("cut",)))
    assert paid == sum(part.leather for part in parts) + sum(row.price for row in book.hides())


def test_every_step_can_be_taken_back_to_the_empty_book(tmp_path):
    book = Book.begin(shop(tmp_path / "shop", [leather("bend"), leather("side", 400, 300)], TWO))
    then = [everything(book)]
    out = book.folder / "out" / "layout.json"

    def did():
        then.append(everything(book))

    book.take_hides(), did()
    book.take_orders(read_orders(book.folder / "orders.csv", None)), did()
    write_layout(out, laid(read_job(book.folder), random.Random(1)), {})
    then[-1] = everything(book)
    book.planned(book.layout(), written=True), did()
    book.cut(book.waiting()[:1]), did()
    book.spoil(next(p for p in book.layout().placements if book.layout().is_burnt(p))), did()
    book.cut(book.waiting()), did()
    book.bought(on_shelf(book)[:1], supplier="Tannery of the North", price=Decimal("1.23")), did()
    book.retire(on_shelf(book)[0], "sold"), did()
    book.set_done("2"), did()
    assert len(book.steps()) == len(then) - 1
    for before in then[-2::-1]:
        assert book.undo() is not None
        rows, files = everything(book)
        assert rows == before[0]
        assert {path: content for path, content in files.items() if path != out or path in before[1]} == before[1]
    assert book.undo() is None


def test_a_file_changed_meanwhile_is_kept_when_a_step_is_taken_back(book):
    book.cut(book.waiting())
    name = on_shelf(book)[0]
    file = book.folder / "hides" / f"{name}.json"
    changed = file.read_text() + "\n"
    file.write_text(changed)
    book.undo()
    assert not file.exists() and file.with_name(file.name + ".before").read_text() == changed


def test_a_step_that_changes_nothing_leaves_no_trace(book):
    before = everything(book), [step.id for step in book.steps()]
    book.take_hides()
    book.set_done("1", done=False)
    assert (everything(book), [step.id for step in book.steps()]) == before


def test_a_layout_planned_in_python_is_the_one_at_hand(tmp_path):
    book = begun(tmp_path)
    job = read_job(book.folder)
    book.planned(laid(book.job(job.workshop, job.products), random.Random(1)))
    assert states(book) == {"1": "planned", "2": "planned"} and book.waiting()
    book.undo()
    assert book.layout() is None and states(book) == {"1": "wanted", "2": "wanted"}


def test_a_layout_of_leather_cut_since_is_refused_by_name(book):
    old = book.folder / "out" / "layout.json"
    before, first = old.read_bytes(), book.layout()
    book.cut(book.waiting())
    old.write_bytes(before)
    for refused in (lambda: book.cut([("bend", "1")]), lambda: book.planned(first)):
        with pytest.raises(FileError, match="bend was cut up on .*plan again"):
            refused()
    assert any("hide bend was cut up" in why for why in book.why_not(first))


def test_a_load_of_another_layout_of_a_hide_cut_in_part_is_refused_by_name(book):
    job = read_job(book.folder)
    other = laid(job, random.Random(9))
    book.cut([next(load for load in book.waiting() if load[0] == "bend")])
    mark = book.layout().mark
    with pytest.raises(FileError, match=f"panel . of hide bend was cut on .*of layout {mark}"):
        book.planned(other)


def test_a_load_is_cut_once(book):
    load = book.waiting()[0]
    book.cut([load])
    with pytest.raises(FileError, match="cut already, since .*: nesting undo takes that back"):
        book.cut([load])
    with pytest.raises(FileError, match="give one that is still to be cut"):
        book.cut([("bend", "99")])


def test_a_load_cut_before_other_steps_is_told_with_its_day_and_the_step_that_would_be_taken_back(tmp_path):
    from datetime import UTC, datetime

    book = begun(tmp_path, [leather("bend"), leather("side", 400, 300)])
    plan(book, random.Random(1))
    first, second = book.waiting()[:2]
    Book(book.folder, lambda: datetime(2026, 3, 14, 9, 5, tzinfo=UTC)).cut([first])
    book.cut([second])
    with pytest.raises(FileError, match="since 2026-03-14 09:05; nesting undo would not .* another: cut " + second[0]):
        book.cut([first])
    book.undo()
    with pytest.raises(FileError, match="since 2026-03-14 09:05: nesting undo takes that back"):
        book.cut([first])
    book.undo()
    book.cut([first])


def test_what_became_of_parts_that_no_open_order_has_is_told(book):
    book.cut(book.waiting())
    parts = book.layout().placements
    assert book.what_became(parts) == {"made": 12}
    book.spoil(parts[0])
    assert book.what_became(parts) == {"made": 10, "spoiled": 1, "no longer wanted": 1}
    assert book.what_became([replace(parts[0], hide="another")]) == {}


def test_an_order_done_twice_is_one_step(book):
    first = book.set_done("1")
    steps = [step.id for step in book.steps()]
    ((row, new),) = book.set_done("1")
    assert first[0][1] and not new and row.done == first[0][0].done and [step.id for step in book.steps()] == steps


def test_an_offcut_is_as_thick_as_the_hide_it_is_of_and_as_surely_known(tmp_path):
    from nesting.leather.thickness import thickness_map
    from nesting.planning.ready import ready

    chance = random.Random(4)
    readings = [Reading(30 + 40 * n, chance.randint(20, 170), round(1.25 + n / 50, 2)) for n in range(14)]
    full = replace(leather("bend", readings=tuple(readings)), nominal_mm=None)
    book = begun(tmp_path, [full])
    plan(book, random.Random(2))
    book.cut(book.waiting())
    few = 0
    workshop = book.layout().workshop
    for row in book.hides():
        one = book.shape(row)
        few += sum(not r.cut_off for r in one.readings) < 4
        assert [(r.x, r.y, r.mm) for r in one.readings] == [(r.x, r.y, r.mm) for r in full.readings]
        places = [one.outline.representative_point().coords[0], *one.outline.exterior.coords]
        of_it, of_all = (thickness_map(hide, 0.1).mean_sd(places) for hide in (one, full))
        assert of_it[0] == pytest.approx(of_all[0], abs=1e-6) and of_it[1] == pytest.approx(of_all[1], abs=1e-6)
        assert ready(one, workshop).open
    assert few
    book.take_orders(read_orders(book.folder / "orders.csv", None))
    book.undo()
    assert book.shape(book.hide("bend")).readings == full.readings


def test_what_is_cut_stays_so_when_the_layout_at_hand_is_lost(book):
    load = next(load for load in book.waiting() if load[0] == "bend")
    book.cut([load])
    (book.folder / "out" / "layout.json").unlink()
    layout = book.to_go_on(book.layout())
    assert [one.name for one in layout.burnt] == ["/".join(load)]


def test_pins_do_not_make_another_layout(book):
    layout = book.layout()
    write_layout(book.folder / "out" / "layout.json", pinned(layout, {layout.placements[0].key}), {})
    steps = len(book.steps())
    book.cut(book.waiting()[:1])
    assert len(book.steps()) == steps + 1


def test_fewer_pieces_than_are_made_cannot_be_ordered(book):
    book.cut(book.waiting())
    with pytest.raises(FileError, match="4 are made already"):
        book.take_orders(read_orders(shop(book.folder, orders=HEADER + "1,key fob,3,,,,\n") / "orders.csv", None))


def test_a_retired_hide_is_off_the_shelf_with_its_file_kept(tmp_path):
    book = begun(tmp_path)
    book.retire("bend", "gone hard")
    assert on_shelf(book) == [] and (book.folder / "hides" / "retired" / "bend.json").exists()
    with pytest.raises(FileError, match="was retired on .*gone hard"):
        book.retire("bend")


def test_rows_and_tables_of_the_file_agree(tmp_path):
    book = begun(tmp_path)
    with sqlite3.connect(book.folder / NAME) as plain:
        for table, row in TABLES.items():
            columns = [name for _, name, *_ in plain.execute(f"PRAGMA table_info({table})")]
            assert columns == [column.name for column in row.__table__.columns]
        assert plain.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_tested_setting_is_kept_with_its_swatch_and_taken_back_with_its_row(tmp_path):
    from nesting.app.actions.shop import tested
    from nesting.model import Setting

    book = begun(tmp_path)
    before = (book.folder / "workshop.toml").read_bytes()
    tested(book.folder, Setting("bridle 2", 2.0, 9.0, 70.0, 1, 1.9, 2.1), "swatch.svg", "C3", ["B3", "C3"])
    (row,) = book.settings()
    assert (row.name, row.speed_mm_s, row.swatch, row.best, row.clean) == ("bridle 2", 9.0, "swatch.svg", "C3", "B3 C3")
    assert [one.name for one in read_job(book.folder).workshop.settings] == ["1.5 mm", "bridle 2"]
    book.undo()
    assert book.settings() == [] and (book.folder / "workshop.toml").read_bytes() == before


def test_money_of_another_currency_is_refused(book):
    text = (book.folder / "workshop.toml").read_text()
    (book.folder / "workshop.toml").write_text(text.replace('"EUR"', '"USD"'))
    with pytest.raises(FileError, match="the book counts in EUR"):
        job = read_job(book.folder)
        book.job(job.workshop, job.products)
