import errno
import json
import os
import subprocess
import sys
from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from nesting.atomic import write_bytes, write_json, write_text, written_anew
from nesting.errors import FileError


def test_a_file_is_written_whole_and_its_folder_made(tmp_path):
    write_bytes(tmp_path / "a" / "b" / "c.bin", b"\x00\r\n\xff")
    assert (tmp_path / "a" / "b" / "c.bin").read_bytes() == b"\x00\r\n\xff"
    assert [path.name for path in (tmp_path / "a" / "b").iterdir()] == ["c.bin"]


def test_text_is_utf_8_with_plain_line_ends(tmp_path):
    write_text(tmp_path / "a.txt", "Größe\n")
    assert (tmp_path / "a.txt").read_bytes() == "Größe\n".encode()


def test_a_new_file_gets_the_permissions_of_a_plain_new_file(tmp_path):
    (tmp_path / "plain").write_bytes(b"")
    write_bytes(tmp_path / "ours", b"")
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_link_is_written_through(tmp_path):
    (tmp_path / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to("real.txt")
    write_text(tmp_path / "link.txt", "new")
    assert (tmp_path / "link.txt").is_symlink() and (tmp_path / "real.txt").read_text() == "new"


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_full_disk_leaves_the_old_file_and_no_other(tmp_path, monkeypatch, call):
    path = tmp_path / "stock.json"
    path.write_text("old")

    def full(*arguments):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, call, full)
    with pytest.raises(FileError) as caught:
        write_text(path, "new")
    assert str(caught.value) == (
        f"{path}: writing: No space left on device: "
        "free some room on the disk and run again; what was there before is unharmed"
    )
    assert path.read_text() == "old" and list(tmp_path.iterdir()) == [path]


def test_an_interrupt_leaves_the_old_file_and_no_other(tmp_path, monkeypatch):
    path = tmp_path / "stock.json"
    path.write_text("old")

    def interrupt(*arguments):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_text(path, "new")
    assert path.read_text() == "old" and list(tmp_path.iterdir()) == [path]


def test_a_folder_that_refuses_is_named(tmp_path, monkeypatch):
    def refuse(*arguments):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(FileError, match="Permission denied: check that the folder .* you may write"):
        write_text(tmp_path / "a.txt", "x")


def test_a_file_where_a_folder_should_be_is_refused(tmp_path):
    (tmp_path / "out").write_text("")
    with pytest.raises(FileError, match="check that the folder"):
        write_text(tmp_path / "out" / "a.txt", "x")


def test_content_and_folder_are_flushed_before_the_write_returns(tmp_path, monkeypatch):
    steps = []
    fsync, replace = os.fsync, os.replace
    monkeypatch.setattr(os, "fsync", lambda handle: (steps.append("fsync"), fsync(handle)))
    monkeypatch.setattr(os, "replace", lambda *paths: (steps.append("replace"), replace(*paths)))
    write_text(tmp_path / "a.txt", "x")
    assert steps == ["fsync", "replace", "fsync"]


def test_json_is_one_line_a_key_and_one_line_an_entry(tmp_path):
    write_json(tmp_path / "a.json", {"id": "h", "ring": [[0, 0], [1, 2]], "zones": [{"a": 1}, {"a": 2}], "none": []})
    assert (tmp_path / "a.json").read_text() == (
        '{\n"id": "h",\n"ring": [[0, 0], [1, 2]],\n"zones": [\n  {"a": 1},\n  {"a": 2}\n],\n"none": []\n}\n'
    )


def test_money_days_and_arrays_have_a_json_form(tmp_path):
    content = {
        "a": Decimal("12.50"),
        "b": date(2025, 3, 14),
        "c": np.array([1.5, 2.0]),
        "d": np.float64(0.25),
        "e": np.int64(3),
    }
    write_json(tmp_path / "a.json", content)
    assert json.loads((tmp_path / "a.json").read_text()) == {
        "a": "12.50",
        "b": "2025-03-14",
        "c": [1.5, 2.0],
        "d": 0.25,
        "e": 3,
    }


@pytest.mark.parametrize("value", [float("nan"), float("inf"), object(), "\ud800"])
def test_what_has_no_json_form_is_refused_and_nothing_written(tmp_path, value):
    with pytest.raises(FileError, match="only finite numbers"):
        write_json(tmp_path / "a.json", {"x": value})
    assert not list(tmp_path.iterdir())


OWNED = ("layout.json", "report*", "cut")
KILLED = """
import ctypes, os, sys
from pathlib import Path
from nesting import atomic

left = int(sys.argv[2])

def deadly(call):
    def counted(*arguments, **others):
        global left
        left -= 1
        if left < 0:
            os._exit(9)
        return call(*arguments, **others)
    return counted

atomic._exchanged = deadly(atomic._exchanged)
for name in ("fsync", "replace", "rename", "mkdir", "rmdir"):
    setattr(os, name, deadly(getattr(os, name)))
if sys.argv[3] == "in steps":
    atomic._exchanged = lambda one, other: False
with atomic.written_anew(Path(sys.argv[1]), ("layout.json", "report*", "cut")) as new:
    atomic.write_text(new.path / "layout.json", "new")
    atomic.write_text(new.path / "report.html", "new")
"""


def a_run(folder, words, more=()):
    with written_anew(folder, OWNED) as new:
        for name in ("layout.json", "report.html", *more):
            write_text(new.path / name, words)
    return new.kept


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_folder_written_anew_keeps_what_was_there_and_what_is_not_its_own(tmp_path):
    out = tmp_path / "out"
    assert a_run(out, "old", ["cut/a.svg"]) is None
    (out / "swatch.svg").write_text("mine")
    (out / "notes").mkdir()
    kept = a_run(out, "new")
    assert names(out) == ["earlier", "layout.json", "notes", "report.html", "swatch.svg"]
    assert kept.parent == out / "earlier" and names(kept) == ["cut", "layout.json", "report.html"]
    assert (kept / "layout.json").read_text() == (kept / "cut" / "a.svg").read_text() == "old"
    assert (out / "layout.json").read_text() == (out / "report.html").read_text() == "new"
    assert names(tmp_path) == ["out"]


def test_the_last_ten_are_kept_under_their_own_times(tmp_path):
    out = tmp_path / "out"
    for number in range(14):
        a_run(out, str(number))
        for path in (out / "layout.json", out / "report.html"):
            os.utime(path, (86400 * (9000 + number // 2), 86400 * (9000 + number // 2)))
    words = [(path / "layout.json").read_text() for path in sorted((out / "earlier").iterdir())]
    assert words == list(map(str, range(3, 13)))
    assert all(name.startswith("1994-08-2") for name in names(out / "earlier"))


def test_what_fails_while_a_folder_is_written_leaves_it_as_it_was(tmp_path):
    out = tmp_path / "out"
    a_run(out, "old")
    with pytest.raises(KeyboardInterrupt), written_anew(out, OWNED) as new:
        write_text(new.path / "layout.json", "new")
        raise KeyboardInterrupt
    assert names(tmp_path) == ["out"] and (out / "layout.json").read_text() == "old"


@pytest.mark.parametrize("call", range(7))
def test_a_disk_that_fills_at_any_moment_leaves_the_old_run_or_the_new_one_whole(tmp_path, monkeypatch, call):
    out, calls, fsync = tmp_path / "out", iter(range(100)), os.fsync
    a_run(out, "old")

    def full(handle):
        if next(calls) >= call:
            raise OSError(errno.ENOSPC, "No space left on device")
        fsync(handle)

    monkeypatch.setattr(os, "fsync", full)
    try:
        a_run(out, "new")
    except FileError as error:
        assert error.file in map(str, (out, out / "layout.json", out / "report.html"))
        assert "free some room" in error.mend
        assert {(out / name).read_text() for name in ("layout.json", "report.html")} in ({"old"}, {"new"})
        monkeypatch.undo()
        a_run(out, "newer")
    assert names(tmp_path) == ["out"]


@pytest.mark.parametrize("how", ["at once", "in steps"])
def test_a_run_killed_at_any_moment_leaves_the_old_run_or_the_new_one_whole(tmp_path, how):
    for moment in range(30):
        out = tmp_path / str(moment) / "out"
        a_run(out, "old", ["cut/a.svg"])
        (out / "mine.txt").write_text("mine")
        done = subprocess.run([sys.executable, "-c", KILLED, str(out), str(moment), how])
        if out.exists():
            words = {(out / name).read_text() for name in ("layout.json", "report.html")}
            assert words in ({"old"}, {"new"}) and (out / "cut").exists() == (words == {"old"})
        else:
            # where a system cannot exchange folders there is a moment without one
            assert how == "in steps"
        for begun in out.parent.glob(".out.*.new"):
            os.utime(begun, (0, 0))
        a_run(out, "newer")
        assert names(out.parent) == ["out"]
        assert names(out) == ["earlier", "layout.json", "mine.txt", "report.html"]
        assert "old" in {(kept / "layout.json").read_text() for kept in (out / "earlier").iterdir()}
        if done.returncode == 0:
            return
    pytest.fail("the run never came to its end")


def test_a_file_in_the_place_of_a_folder_is_refused(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(FileError, match="out: writing: Not a directory: check that the folder"):
        a_run(tmp_path / "out", "new")
    assert names(tmp_path) == ["out"]


def test_a_folder_reached_by_a_link_is_written_where_it_is(tmp_path):
    (tmp_path / "disk").mkdir()
    (tmp_path / "disk" / "real").mkdir()
    (tmp_path / "out").symlink_to(tmp_path / "disk" / "real")
    a_run(tmp_path / "out", "new")
    assert (tmp_path / "out").is_symlink() and names(tmp_path / "disk" / "real") == ["layout.json", "report.html"]


def test_nothing_written_makes_no_folder(tmp_path):
    with written_anew(tmp_path / "out", OWNED):
        pass
    assert names(tmp_path) == []


def test_what_is_made_of_the_same_again_leaves_nothing_behind(tmp_path):
    folder = tmp_path / "out"
    for text in ("one", "two"):
        with written_anew(folder, ("report*",), keep=False) as new:
            (new.path / "report.html").write_text(text)
        assert new.kept is None
        (folder / "mine.txt").write_text(text)
    assert (folder / "report.html").read_text() == "two" and not (folder / "earlier").exists()
    assert sorted(path.name for path in folder.iterdir()) == ["mine.txt", "report.html"]
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
