"""Everything taken out as plain files and read into an empty book is the same book."""

import random
import shutil
import sqlite3
import tempfile
from pathlib import Path

import hypothesis.strategies as st
import pytest
from commands import run
from hypothesis import Phase, given, settings
from shop import leather, plan, shop

from nesting.book.book import Book
from nesting.book.versions import TRACKED
from nesting.errors import FileError
from nesting.model import OrderLine

TEXT = st.text(st.characters(exclude_categories=["C", "Z"]) | st.sampled_from(" ,;\"'=\t"), max_size=30).map(
    lambda text: " ".join(text.split())
)


def rows(book):
    with sqlite3.connect(book.path) as plain:
        return {table: sorted(plain.execute(f"SELECT * FROM {table}").fetchall()) for table in TRACKED}


def files(folder):
    return {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*.json")}


# a shop is slow to make smaller: each of its steps writes to the disk
@settings(max_examples=6, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(seed=st.integers(0, 10**6), notes=st.lists(TEXT, min_size=1, max_size=4), supplier=TEXT)
def test_a_book_read_back_is_the_same(seed, notes, supplier):
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as away:
        book = Book.begin(
            shop(Path(away) / "shop", [leather("bend", colour=supplier), leather("side", 400, 300, None)])
        )
        book.take_hides()
        book.bought(["bend"], supplier=supplier, bought_mm2=chance.uniform(1e4, 1e6))
        book.take_orders([OrderLine(f"o{n}", "key fob", 1 + n, None, note=note) for n, note in enumerate(notes)])
        plan(book, chance)
        book.cut(chance.sample(book.waiting(), min(len(book.waiting()), chance.randint(1, 4))))
        if chance.random() < 0.5:
            book.spoil(next(part for part in book.layout().placements if book.layout().is_burnt(part)))
        if (whole := book.hides(("shelf",))) and chance.random() < 0.5:
            book.retire(whole[0].name, notes[0])
        if chance.random() < 0.3:
            book.set_done("o0")
        book.export(Path(away) / "out of it")
        other = Book.begin(shop(Path(away) / "new"))
        shutil.rmtree(other.folder / "hides")
        other.read_in(Path(away) / "out of it")
        assert rows(other) == rows(book)
        assert files(other.folder) == files(book.folder)
        other.undo()
        assert not any(rows(other).values())


@pytest.fixture(scope="module")
def taken(tmp_path_factory):
    book = Book.begin(shop(tmp_path_factory.mktemp("leave") / "shop"))
    book.take_hides()
    book.take_orders([OrderLine("1", "key fob", 2, None)])
    return book.export(book.folder.parent / "taken")


def test_the_commands_take_out_and_read_in(taken, tmp_path):
    done = run("book", "read", taken, "--folder", tmp_path / "new")
    assert done.returncode == 0 and "1 piece of leather, 1 order line" in done.stdout
    again = run("book", "read", taken, "--folder", tmp_path / "new")
    assert again.returncode == 2 and "not empty" in again.stderr
    out = run("book", "export", tmp_path / "more", "--folder", tmp_path / "new")
    assert out.returncode == 0
    assert (tmp_path / "more" / "book" / "hides.csv").read_bytes() == (taken / "book" / "hides.csv").read_bytes()
    full = run("book", "export", tmp_path / "more", "--folder", tmp_path / "new")
    assert full.returncode == 2 and "give a new folder" in full.stderr


@pytest.mark.parametrize(
    ("list_", "old", "new", "told"),
    [
        ("orders", ",2,", ",two,", "row 2 > quantity: two"),
        ("orders", "wanted", "lost", "CHECK constraint"),
        ("orders", "name,", "nome,", "row 1"),
        ("hides", "bend,", "bend,,", "cells"),
        ("hides", ",shelf,", ",shelf,\"", "take the list"),
        ("hides", "hides/bend.json", "../bend.json", "not sound"),
        ("loads", "offcuts_mm2\n", "offcuts_mm2\n1,7,7,1,p,cut,,1,1,1,1,1,1\n", "that is not there"),
    ],
)  # fmt: skip
def test_lists_that_are_not_as_they_were_written_are_refused_and_nothing_is_read(
    taken, tmp_path, list_, old, new, told
):
    bad = shutil.copytree(taken, tmp_path / "bad")
    file = bad / "book" / f"{list_}.csv"
    assert old in file.read_text()
    file.write_text(file.read_text().replace(old, new, 1))
    book = Book.begin(shop(tmp_path / "new"))
    with pytest.raises(FileError, match=told):
        book.read_in(bad)
    assert not any(rows(book).values())
