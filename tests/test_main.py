"""The command line where something around it fails: one line, a status, no traceback."""

import json
import os
import resource
import signal
import subprocess
import sys
import textwrap

import pytest
from commands import run
from planted import write_job

from nesting.leather.limits import DEFAULT as LEATHER

LINUX = pytest.mark.skipif(sys.platform != "linux", reason="limits of memory and /dev/full as Linux has them")


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    return write_job(tmp_path_factory.mktemp("main") / "week")


def command(*words, stdout=subprocess.PIPE, memory_mb=None, **variables):
    def limited():
        if memory_mb:
            resource.setrlimit(resource.RLIMIT_AS, (memory_mb * 1024**2,) * 2)

    return subprocess.run(
        [sys.executable, "-m", "nesting", *map(str, words)],
        stdout=stdout,
        stderr=subprocess.PIPE,
        text=True,
        timeout=120,
        preexec_fn=limited,
        env=os.environ | variables,
    )


@LINUX
@pytest.mark.parametrize("memory_mb", [300, 400])
def test_too_little_memory_is_told_in_one_line(week, memory_mb):
    done = command("plan", week, "--iterations", 1, memory_mb=memory_mb)
    assert done.returncode == 2 and done.stderr.count("\n") == 1, done.stderr
    assert done.stderr.startswith("nesting: memory: not enough") and not (week / "out").exists()


@pytest.mark.parametrize(
    "fault",
    [
        MemoryError(),
        OSError(12, "Cannot allocate memory"),
        ImportError("libopenblas.so: failed to map segment from shared object"),
        RuntimeError("can't start new thread"),
    ],
)
def test_want_of_memory_is_known_however_a_library_says_it(week, monkeypatch, fault):
    def fail(folder):
        try:
            raise fault
        except Exception as error:
            raise RuntimeError("no luck") from error

    monkeypatch.setattr("nesting.app.actions.begin.read_job", fail)
    done = run("look", week)
    assert done.returncode == 2 and done.stderr.startswith("nesting: memory: not enough")


def test_a_fault_of_ours_still_shows_where_it_is(week, monkeypatch):
    monkeypatch.setattr("nesting.app.actions.begin.read_job", lambda folder: [].pop())
    with pytest.raises(IndexError):
        run("look", week)


def test_a_terminal_that_knows_only_plain_letters_is_told_in_them(week):
    done = command("look", week, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert done.returncode == 0 and done.stderr == ""
    code = "import nesting.__main__ as m; m._take_any_letter(); print('12 dm², 3 × 4 – é ✓ 皮')"
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, env=os.environ | {"PYTHONIOENCODING": "ascii"}
    )
    assert told.stdout.decode("ascii").strip() == "12 dm2, 3 x 4 - e ok ?"


@LINUX
@pytest.mark.parametrize("words", [("look",), ("--help",)])
def test_output_that_nobody_can_take_is_told_in_one_line(week, words):
    with open("/dev/full", "w") as full:
        done = command(*words, *([week] if words == ("look",) else []), stdout=full)
    assert done.returncode == 2
    assert done.stderr == "nesting: standard output: No space left on device: send it where there is room\n"


def test_more_readings_than_the_thickness_map_takes_are_refused_by_their_file(tmp_path):
    week = write_job(tmp_path / "week")
    path = week / "hides" / "bend.json"
    hide = json.loads(path.read_text())
    hide["readings"] = [{"x": 1 + n, "y": 100, "mm": 1.5} for n in range(LEATHER.most_readings + 1)]
    path.write_text(json.dumps(hide))
    done = run("look", week)
    assert done.returncode == 2
    assert f"{path}: readings: a list of 501: give at most 500, not 501" in done.stderr


@pytest.mark.parametrize("steps", [60, 20_000])
def test_a_key_of_thousands_of_steps_is_told_in_one_line_and_at_once(tmp_path, steps):
    week = write_job(tmp_path / "week")
    book = week / "workshop.toml"
    lines = book.read_text().count("\n")
    book.write_text(book.read_text() + ".".join(["a"] * steps) + " = 1\n")
    done = run("look", week)
    assert done.returncode == 2 and done.stderr == (
        f"nesting: {book}: line {lines + 1}: a key of over 50 steps: give keys of a few names with a dot between them\n"
    )


def test_a_helper_whose_parent_is_killed_while_it_starts_ends_without_a_word(tmp_path):
    script = tmp_path / "killed.py"
    script.write_text(
        textwrap.dedent("""
            from nesting.workers import Helpers
            from side_by_side import KillsParent, takes

            with Helpers() as helpers:
                helpers.start(takes, KillsParent(), bytes(30_000_000))
                helpers.start(takes, "never", "reached")
                print("still here")
                import time
                time.sleep(20)
        """)
    )
    folders = os.pathsep.join([os.path.dirname(__file__) + "/helpers", *filter(None, sys.path)])
    done = subprocess.run(
        [sys.executable, script], capture_output=True, text=True, env=os.environ | {"PYTHONPATH": folders}, timeout=60
    )
    assert done.returncode == -signal.SIGKILL and done.stderr == ""
