import errno
import json
import os
from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from nesting.atomic import write_bytes, write_json, write_text
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
