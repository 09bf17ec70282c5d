"""A book under programs that are killed, two programs at once, and books that are damaged, older or newer."""

import itertools
import multiprocessing
import os
import random
import shutil
import signal
import sqlite3
import time
from contextlib import closing
from dataclasses import replace

import pytest
from shop import HEADER, leather, plan, shop
from sqlalchemy.orm import Session

import nesting.book.opening
import nesting.book.store
from nesting.book.book import Book
from nesting.book.opening import NAME
from nesting.errors import FileError
from nesting.files.hides import read_hide
from nesting.files.orders import read_orders

FORK = multiprocessing.get_context("fork")
ORDERS = HEADER + "1,key fob,4,2026-01-05,1,,\n2,key fob,2,,,,\n"


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    book = Book.begin(
        shop(tmp_path_factory.mktemp("safe") / "shop", [leather("bend"), leather("side", 400, 300)], ORDERS)
    )
    book.take_hides()
    book.take_orders(read_orders(book.folder / "orders.csv", None))
    plan(book, random.Random(1))
    return book.folder


@pytest.fixture
def folder(planned, tmp_path):
    return shutil.copytree(planned, tmp_path / "shop")


def sound(folder):
    """The book opened again, once sure that it and the plain files beside it tell the same."""
    book = Book(folder)
    # closed before anything forks: a connection must not be carried into another process
    with closing(sqlite3.connect(book.path)) as plain:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
        assert plain.execute("SELECT count(*) FROM writes WHERE done = 0").fetchone() == (0,)
    rows = book.hides(("shelf", "opened", "cut", "retired"))
    for row in rows:
        assert abs(read_hide(folder / row.file).outline.area - row.area_mm2) < 0.01
    there = {row.file for row in rows if row.state in ("shelf", "opened")}
    assert {f"hides/{path.name}" for path in (folder / "hides").glob("*.json")} == there
    cut = {(load.panel, load.hide) for load in book.loads() if load.state == "cut"}
    ids = {row.name: row.id for row in rows}
    assert {(one.panel.id, ids[one.panel.hide]) for one in book.layout().burnt} == cut
    return book


def die_at(moment, folder, act):
    """Do something in a program of its own that is killed at its n-th moment of writing; whether it came so far."""

    def run():
        moments = 0

        def moment_passed():
            nonlocal moments
            moments += 1
            if moments == moment:
                os.kill(os.getpid(), signal.SIGKILL)

        def around(real):
            def told(*args, **more):
                moment_passed()
                made = real(*args, **more)
                moment_passed()
                return made

            return told

        nesting.book.store.write_bytes = around(nesting.book.store.write_bytes)
        Session.commit = around(Session.commit)
        Session.flush = around(Session.flush)
        act(Book(folder))
        os._exit(0)

    child = FORK.Process(target=run)
    child.start()
    child.join()
    assert child.exitcode in (0, -signal.SIGKILL)
    return child.exitcode != 0


def test_a_program_killed_at_any_moment_loses_nothing_and_leaves_nothing_half_done(planned, tmp_path):
    """Cutting all of a hide, then taking that back, killed before and after every commit, flush and file written."""

    def cut(book):
        book.cut(load for load in book.waiting() if load[0] == "side")

    before = len(Book(planned).steps(99))
    outcomes, moment = set(), 1
    while die_at(moment, folder := shutil.copytree(planned, tmp_path / str(moment)), cut):
        book = sound(folder)
        done = len(book.steps(99)) - before
        assert done in (0, 1) and (book.hide("side").state == "cut") == bool(done)
        outcomes.add(done)
        moment += 7
    assert outcomes == {0, 1} and moment > 30
    moment = 1
    while die_at(moment, again := shutil.copytree(folder, tmp_path / f"undo {moment}"), Book.undo):
        book = sound(again)
        assert (book.hide("side").state == "cut") == (len(book.steps(99)) == before + 1)
        moment += 3
    assert moment > 6 and sound(again).hide("side").state == "shelf"


def test_whatever_was_told_as_done_is_there_after_a_kill_at_any_time(folder):
    chance = random.Random(7)

    def work(told):
        book = Book(folder)
        while True:
            waiting = book.waiting()
            if waiting:
                book.cut(waiting[:1])
            else:
                book.undo(), book.undo()
            told.send(len(book.steps(99)))

    for _ in range(5):
        ours, theirs = FORK.Pipe(duplex=False)
        child = FORK.Process(target=work, args=(theirs,))
        child.start()
        theirs.close()
        last = ours.recv()
        end = time.monotonic() + chance.uniform(0.0, 0.25)
        while time.monotonic() < end:
            if ours.poll(max(end - time.monotonic(), 0)):
                last = ours.recv()
        os.kill(child.pid, signal.SIGKILL)
        child.join()
        try:
            while True:
                last = ours.recv()
        except EOFError:
            pass
        # what was under way when it was killed may be done or not: a cut, or one or two steps taken back
        assert len(sound(folder).steps(99)) - last in (-2, -1, 0, 1)


def test_two_programs_at_once_cut_every_load_once(folder):
    loads = Book(folder).waiting()
    begin = FORK.Barrier(2)

    def work(told):
        book = Book(folder)
        begin.wait()
        done = []
        for load in loads:
            try:
                book.cut([load])
                done.append(load)
            except FileError as error:
                assert "cut already" in str(error)
        told.send(done)

    pipes = [FORK.Pipe(duplex=False) for _ in range(2)]
    children = [FORK.Process(target=work, args=(theirs,)) for _, theirs in pipes]
    for child in children:
        child.start()
    done = [ours.recv() for ours, _ in pipes]
    for child in children:
        child.join()
    assert sorted(done[0] + done[1]) == sorted(loads)
    book = sound(folder)
    assert len([load for load in book.loads() if load.state == "cut"]) == len(loads)


@pytest.mark.parametrize("harm", ["cut short", "garbage", "a page overwritten", "empty", "another program's", "newer"])
def test_a_book_that_is_damaged_or_newer_is_refused_and_not_touched(folder, harm):
    file = folder / NAME
    with sqlite3.connect(file) as plain:
        plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        if harm == "newer":
            plain.execute("PRAGMA user_version = 99")
        if harm == "another program's":
            plain.execute("PRAGMA application_id = 7")
    plain.close()
    content = file.read_bytes()
    if harm == "cut short":
        content = content[: len(content) // 2]
    elif harm == "garbage":
        content = os.urandom(5000)
    elif harm == "empty":
        content = b""
    elif harm == "a page overwritten":
        size = len(content) // 2 // 4096 * 4096
        content = content[:size] + os.urandom(4096) + content[size + 4096 :]
    file.write_bytes(content)
    with pytest.raises(FileError) as refused:
        Book(folder)
    assert str(file) in str(refused.value) and any(
        word in refused.value.mend for word in ("put a copy of it", "update this one", "move it away")
    )
    assert file.read_bytes() == content


def test_of_a_large_book_all_but_what_is_kept_for_going_back_is_checked(folder, monkeypatch):
    limits = replace(nesting.book.opening.DEFAULT, wholly_checked_bytes=0)
    monkeypatch.setattr(nesting.book.opening, "DEFAULT", limits)
    assert sound(folder).waiting()
    with closing(sqlite3.connect(folder / NAME)) as plain:
        plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        root = plain.execute("SELECT rootpage FROM sqlite_master WHERE name = 'orders'").fetchone()[0]
    content = bytearray((folder / NAME).read_bytes())
    content[(root - 1) * 4096 : root * 4096] = os.urandom(4096)
    (folder / NAME).write_bytes(content)
    with pytest.raises(FileError, match="damaged"):
        Book(folder)


def test_there_is_no_book_until_one_is_begun(tmp_path):
    with pytest.raises(FileError, match="nesting book begin"):
        Book(shop(tmp_path / "shop"))
    assert not (tmp_path / "shop" / NAME).exists()


def test_a_book_begun_is_not_begun_again(folder):
    with pytest.raises(FileError, match="there already"):
        Book.begin(folder)


def test_an_older_book_is_brought_up_to_date_and_kept_as_it_was(folder, monkeypatch):
    steps = len(Book(folder).steps())
    newer = ("CREATE TABLE remarks (id INTEGER PRIMARY KEY, words TEXT)",)
    versions = (*nesting.book.opening.VERSIONS, newer)
    monkeypatch.setattr(nesting.book.opening, "VERSIONS", versions)
    book = Book(folder)
    assert len(book.steps()) == steps
    with sqlite3.connect(folder / NAME) as plain:
        assert plain.execute("SELECT count(*) FROM remarks").fetchone() == (0,)
    kept = folder / f"stock-book.version-{len(versions) - 1}.sqlite"
    monkeypatch.undo()
    shutil.move(kept, folder / NAME)
    assert len(Book(folder).steps()) == steps


def test_a_book_of_the_first_version_opens(folder, monkeypatch):
    steps = len(Book(folder).steps())
    with closing(sqlite3.connect(folder / NAME)) as plain:
        for table, trigger in itertools.product(("settings", "hides"), ("added", "changed", "removed")):
            plain.execute(f"DROP TRIGGER {table}_{trigger}")
        plain.execute("DROP TABLE settings")
        plain.execute("ALTER TABLE hides DROP COLUMN doubt_mm2")
        plain.execute("PRAGMA user_version = 1")
        plain.commit()
        plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    book = Book(folder)
    assert len(book.steps()) == steps and book.settings() == []
    assert (folder / "stock-book.version-1.sqlite").exists()
    book.cut(book.waiting()[:1])
    book.undo()
    sound(folder)


def test_an_update_that_fails_leaves_the_older_book(folder, monkeypatch):
    versions = (*nesting.book.opening.VERSIONS, ("CREATE TABLE remarks (id INTEGER)", "NO SUCH STATEMENT"))
    monkeypatch.setattr(nesting.book.opening, "VERSIONS", versions)
    with pytest.raises(FileError):
        Book(folder)
    monkeypatch.undo()
    sound(folder)


def test_a_path_in_a_book_of_somebody_elses_leads_nowhere_outside_the_folder(folder):
    content = b"{}"
    with sqlite3.connect(folder / NAME) as plain:
        plain.execute("INSERT INTO contents VALUES ('a', ?)", (content,))
        plain.execute("INSERT INTO writes (step, path, after, done) VALUES (1, 'hides/../../x.json', 'a', 0)")
    plain.close()
    with pytest.raises(FileError, match="no file of a job folder"):
        Book(folder)
    assert not (folder.parent / "x.json").exists()
