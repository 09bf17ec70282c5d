"""A maker's weeks by the command line, with a stock book: begun, planned, cut load by load, spoiled, taken back."""

import re
import shutil
from dataclasses import replace

import pytest
from commands import run
from shop import HEADER, leather, shop

from nesting.book.book import Book
from nesting.files.layout import read_layout


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    folder = shop(tmp_path_factory.mktemp("shop") / "week", [leather("bend")], HEADER + "1,key fob,4,2026-01-05,1,,\n")
    begun = run("book", "begin", "--folder", folder)
    assert begun.returncode == 0 and "new on the shelf: bend" in begun.stdout and "1 new order line" in begun.stdout
    made = run("plan", folder, "--iterations", 4, "--workers", 1)
    assert made.returncode == 0, made.stdout + made.stderr
    return folder


@pytest.fixture
def week(planned, tmp_path):
    return shutil.copytree(planned, tmp_path / "week")


def said(done):
    assert done.returncode == 0, done.stderr
    return " ".join(done.stdout.split())


def test_a_week_and_the_next_one(week):
    assert "1 bed load of the layout at hand to be cut" in said(run("cut", cwd=week))
    assert "1 line planned" in said(run("orders", cwd=week))
    told = said(run("cut", "bend/1", cwd=week))
    assert "cut: bend/1" in told and "bend-offcut-1" in told and "0 bed loads still to be cut" in told
    assert "1 line cut" in said(run("orders", cwd=week))
    shelf = said(run("shelf", cwd=week))
    assert "bend-offcut-1" in shelf and " bend " not in shelf
    assert "bend" in said(run("shelf", "--all", cwd=week))

    (week / "orders.csv").write_text(HEADER + "2,key fob,1,,,,\n")
    told = said(run("plan", week, "--iterations", 4, "--workers", 1))
    assert "orders.csv: 1 new order line" in told and "1 of 1 ordered piece" in told
    layout = Book(week).layout()
    assert {part.hide for part in layout.placements} <= {"bend-offcut-1", "bend-offcut-2", "bend-offcut-3"}

    spoiled = said(run("again", "2", "fob", "--folder", week))
    assert "2 key fob fob 1.1 is wanted again" in spoiled
    assert "1 line spoiled" in said(run("orders", "--all", cwd=week))
    told = said(run("plan", week, "--iterations", 4, "--workers", 1))
    assert "1 of 1 ordered piece" in told and "1 line planned" in said(run("orders", cwd=week))

    for step in ("planned layout", "spoiled 2 key fob fob 1.1", "planned layout", "took in 1 order line", "cut bend/1"):
        assert f"taken back: {step}" in said(run("undo", cwd=week))
    assert "1 piece of leather, 0 offcuts" in said(run("shelf", cwd=week))


def test_burnt_and_cut_are_one_thing(week):
    (week / "orders.csv").write_text(HEADER + "2,key fob,1,,,,\n")
    told = said(run("plan", week, "--burnt", "bend/1", "--iterations", 2, "--workers", 1))
    assert "1 of 1 ordered piece" in told
    assert [load.panel for load in Book(week).loads() if load.state == "cut"] == ["1"]
    back = run("plan", week, "--not-burnt", "bend/1", "--iterations", 2, "--workers", 1)
    assert back.returncode == 2 and "nesting undo" in back.stderr


def test_lists_in_a_narrow_terminal_keep_order_numbers_and_words_whole(week, monkeypatch):
    from rich.console import Console

    from nesting.app.terminal import console
    from nesting.app.terminal import shop as terminal

    (week / "new.csv").write_text(
        HEADER + "2638-01-long-number,key fob,2,2026-02-03,1,,wrapped in brown paper and sent by the post of Monday\n"
    )
    said(run("orders", "take", "new.csv", cwd=week))
    book = Book(week)
    hide = book.shape(book.hide("bend"))
    from nesting.files.hides import write_hide

    named = "shoulder-of-the-north"
    write_hide(week / "hides" / f"{named}.json", replace(hide, id=named, leather="bridle", colour="dark chestnut"))
    said(run("shelf", "add", named, "--price", "140", cwd=week))
    for width in (80, 76):
        narrow = Console(width=width, highlight=False)
        monkeypatch.setattr(console, "console", narrow)
        with narrow.capture() as told:
            terminal.run_orders(week, False)
            terminal.run_shelf(week, False)
        lines = told.get().splitlines()
        words = " ".join(lines).replace(",", "").split()
        assert all(len(line) <= width for line in lines) and "…" not in told.get()
        assert {"2638-01-long-number", named, "vegetable", "chestnut", "wrapped", "Monday", "140.00"} <= set(words)


def test_parts_of_orders_that_are_made_are_told_as_made(week):
    from nesting.app.terminal.console import console
    from nesting.app.terminal.hands import say_kept
    from nesting.planning.kept import Kept

    said(run("cut", "bend/1", cwd=week))
    lost = Kept(lost=Book(week).layout().placements)
    with console.capture() as told:
        say_kept(lost, week)
    assert "on burnt panels besides: 8 parts that no open order has: 8 made\n" in told.get()
    said(run("again", "1", "fob", "--piece", 1, "--folder", week))
    said(run("orders", "done", "1", cwd=week))
    with console.capture() as told:
        say_kept(lost, week)
    assert "8 parts that no open order has: 6 made, 1 spoiled, 1 no longer wanted" in told.get()


def test_job_cards_have_threads_and_notes_of_orders_that_the_book_alone_has(week):
    (week / "new.csv").write_text(HEADER + "9,key fob,1,2026-02-03,1,rust linen,for the window\n")
    assert run("orders", "take", "new.csv", cwd=week).returncode == 0
    said(run("plan", week, "--iterations", 2, "--workers", 1))
    assert run("export", week / "out" / "layout.json").returncode == 0
    assert "rust linen" in (week / "out" / "cut" / "cards.html").read_text()


def test_files_to_burn_are_refused_for_leather_that_is_gone(week):
    file = week / "out" / "layout.json"
    before = file.read_bytes()
    assert run("cut", "bend/1", cwd=week).returncode == 0
    file.write_bytes(before)
    done = run("export", file)
    assert done.returncode == 2 and "hide bend was cut up on" in done.stderr and done.stderr.count("\n") == 1
    assert not (week / "out" / "cut").exists()


def test_files_to_burn_of_an_earlier_run_are_refused_for_leather_that_is_gone(week):
    said(run("plan", week, "--iterations", 2, "--workers", 1))
    (file,) = (week / "out" / "earlier").glob("*/layout.json")
    said(run("cut", "bend/1", cwd=week))
    for command, name in (("export", file), ("export", file.parent), ("templates", file)):
        done = run(command, name)
        assert done.returncode == 2 and "hide bend was cut up on" in done.stderr and done.stderr.count("\n") == 1
        assert read_layout(file).mark in done.stderr
    assert not (file.parent / "cut").exists()
    said(run("undo", cwd=week))
    assert "panel" in said(run("export", file)) and list((file.parent / "cut").glob("*-panel-*.svg"))


@pytest.mark.parametrize("words", [("again", "H-99", "flap"), ("pin", "H-99"), ("unpin",)])
def test_a_job_folder_named_first_is_told_how_it_is_named(week, words):
    name, *rest = words
    done = run(name, week, *rest)
    assert done.returncode == 2 and "that is a job folder, and this works on the current one" in done.stderr
    assert f"nesting {' '.join(words)} --folder {week}" in done.stderr


def test_a_hide_is_shown_labelled_and_noted_as_bought(week):
    added = said(
        run("shelf", "add", "bend", "--supplier", "North Tannery", "--measure", "1.4", "--price", "€22", cwd=week)
    )
    code = re.search(r"code (\w{4})", added)[1]
    shown = said(run("shelf", "show", code.lower(), cwd=week))
    assert "North Tannery" in shown and "supplier's measure: 13.0 dm2 (1.40 sq ft)" in shown and "22.00 EUR" in shown
    assert '"price": "22"' in (week / "hides" / "bend.json").read_text()
    assert "labels.pdf" in said(run("shelf", "label", cwd=week))
    from pypdf import PdfReader

    text = PdfReader(week / "out" / "labels.pdf").pages[0].extract_text()
    assert code in text and "bend" in text and "vegetable" in text
    assert "off the shelf" in said(run("shelf", "retire", code, "--why", "sold", cwd=week))
    assert "0 pieces of leather" in said(run("shelf", cwd=week))


def test_a_pasted_list_may_name_columns_and_products_in_its_own_way(week, monkeypatch):
    import io

    monkeypatch.setattr("sys.stdin", io.StringIO("Order no\tItem\tQty\tRemarks\n9\tKey-Fob\t2\tgift\n"))
    told = said(run("orders", "take", "-", cwd=week))
    assert "what was pasted: 1 new order line, Key-Fob is taken as key fob" in told


def test_orders_are_pasted_and_done(week, monkeypatch):
    import io

    pasted = HEADER.replace(",", "\t") + "7\tkey fob\t2\t\t\t\tfor the fair, wrapped\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(pasted))
    assert "what was pasted: 1 new order line" in said(run("orders", "take", "-", cwd=week))
    assert "for the fair, wrapped" in said(run("orders", cwd=week))
    told = said(run("orders", "done", "7", cwd=week))
    assert "7 key fob: done, though none of its 2 pieces is made: the rest" not in told
    assert "7 key fob: done, though none of its 2 pieces is made: they are no longer wanted" in told
    assert "nesting undo takes this back" in told
    steps = said(run("book", "steps", cwd=week))
    assert "7 key fob: done already, since 20" in said(run("orders", "done", "7", cwd=week))
    assert said(run("book", "steps", cwd=week)) == steps
    assert "7 key fob: wanted" in said(run("orders", "done", "7", "key fob", "--not", cwd=week))
    assert "order 7 key fob: not done" in said(run("book", "steps", cwd=week))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("cut", "bend/9"), "load: bend/9: give one that is still to be cut: bend/1"),
        (("cut", "bend"), "load: /bend: give one"),
        (("shelf", "show", "bent"), "hide: bent: did you mean bend?"),
        (("shelf", "back", "bend"), "nothing is cut from it"),
        (("shelf", "add", "--price", "3"), "name the hides"),
        (("shelf", "add", "bend", "--measure", "big"), "--measure: area: big: give an area such as 18.5 sq ft"),
        (("shelf", "add", "bend", "--price", "$3"), "--price: price: $3:"),
        (("orders", "take", "none.csv"), "not found"),
        (("orders", "done", "77"), "the book has no such order"),
        (("book", "begin"), "there already"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(week, words, told):
    done = run(*words, cwd=week)
    assert done.returncode == 2 and told in done.stderr and done.stderr.count("\n") == 1


def test_without_a_book_the_commands_say_how_to_begin_one(tmp_path):
    folder = shop(tmp_path / "shop")
    for words in (("shelf",), ("orders",), ("cut",), ("undo",)):
        done = run(*words, cwd=folder)
        assert done.returncode == 2 and "nesting book begin" in done.stderr
