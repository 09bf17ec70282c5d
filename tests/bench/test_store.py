"""What the page remembers: steps, drafts, searches; through crashes and other programs."""

import sqlite3
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_shop import small_shop

from nesting.bench.desk import Desk
from nesting.bench.store import NAME, Store
from nesting.errors import FileError

ORDERS = b"order,product,quantity,due,priority,thread,note\nA-1,tag,%d,,,,\n"


@pytest.fixture
def desk(tmp_path):
    small_shop(tmp_path)
    store = Store(tmp_path / NAME)
    yield Desk(tmp_path, store)
    store.close()


@settings(max_examples=30, deadline=None)
@given(moves=st.lists(st.one_of(st.integers(1, 9), st.sampled_from(["undo", "redo"])), max_size=25))
def test_undo_and_redo_are_those_of_a_plain_list_of_texts(tmp_path_factory, moves):
    folder = small_shop(tmp_path_factory.mktemp("shop"))
    store = Store(folder / NAME)
    desk, file = Desk(folder, store), folder / "orders.csv"
    texts, at = [file.read_bytes()], 0
    for move in moves:
        if isinstance(move, int):
            desk.change(file, ORDERS % move)
            if texts[at] != ORDERS % move:
                texts, at = [*texts[: at + 1], ORDERS % move], at + 1
            else:
                texts = texts[: at + 1]
        else:
            by = -1 if move == "undo" else 1
            there = 0 <= at + by < len(texts)
            assert desk.step_to(file, by) is there
            at += by if there else 0
        assert file.read_bytes() == texts[at]
    store.close()


def test_what_cannot_be_right_is_kept_as_a_draft_and_not_written(desk):
    file = desk.folder / "orders.csv"
    before = file.read_bytes()
    wrong = ORDERS.replace(b"%d", b"many")
    with pytest.raises(FileError, match="whole number") as fault:
        desk.change(file, wrong)
    assert fault.value.file == str(file)
    assert file.read_bytes() == before and desk.store.draft("orders.csv") == wrong
    desk.change(file, ORDERS % 4)
    assert desk.store.draft("orders.csv") is None


def test_what_another_program_wrote_can_be_undone_to(desk):
    file = desk.folder / "orders.csv"
    desk.change(file, ORDERS % 4)
    file.write_bytes(ORDERS % 5)
    desk.change(file, ORDERS % 6)
    desk.step_to(file, -1)
    assert file.read_bytes() == ORDERS % 5
    desk.step_to(file, -1)
    assert file.read_bytes() == ORDERS % 4


def test_a_second_page_over_a_folder_is_refused(desk):
    with pytest.raises(FileError, match="another page is open"):
        Store(desk.folder / NAME)


def test_a_memory_that_is_damaged_is_refused_and_left_alone(tmp_path):
    path = tmp_path / NAME
    path.write_bytes(b"not a database at all, " * 200)
    with pytest.raises(FileError, match="put it aside"):
        Store(path)
    assert path.read_bytes().startswith(b"not a database")


def test_a_memory_of_a_newer_version_is_refused(tmp_path):
    path = tmp_path / NAME
    db = sqlite3.connect(path)
    db.execute("PRAGMA user_version = 99")
    db.close()
    with pytest.raises(FileError, match="newer"):
        Store(path)


def test_what_was_kept_is_there_after_a_kill(tmp_path):
    code = (
        "import os, signal, sys; from pathlib import Path; from nesting.bench.store import Store; "
        f"s = Store(Path({str(tmp_path / NAME)!r})); n = s.begin_search('plan', {{}}); "
        "s.keep_search(n, layout=b'best so far'); s.add_step('a', b'0', b'1'); os.kill(os.getpid(), signal.SIGKILL)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == -9
    store = Store(tmp_path / NAME)
    assert store.broken_off() == [(1, "plan", b"best so far")]
    assert store.step("a", 1) == b"1"
    store.close()
