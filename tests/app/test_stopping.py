"""Ctrl-C and SIGTERM: at once, wherever a command is, and with a word on what became of its work."""

import os
import signal
import subprocess
import sys
import time

import pytest
from small_job import small_job

from nesting.app.actions.job import check_file, keep_stopped, write_plan, write_reports_again
from nesting.app.demo import copy_job, demo_folder
from nesting.engine import Stop
from nesting.planning.plan import SoFar, plan
from nesting.referee.rules import check

HEAD = """
import sys, time
from nesting.app.stopping import keeping, listen, look
listen()
"""
LONG = """
import hashlib
print('now', flush=True)
hashlib.pbkdf2_hmac('sha256', b'', b'', 2 * 10**8)
"""
AT_WORK = {
    # one call in C that looks at no signal for minutes, nor holds up other threads
    "in a library": LONG,
    "asleep": "print('now', flush=True)\ntime.sleep(100)",
    "waiting for processes": """
from nesting.workers import Crew
with Crew(None, 2) as crew:
    print('now', flush=True)
    crew.each(time.sleep, [(100,), (100,)])
""",
}


def stopped(code, *, number=signal.SIGINT, folder=None, after="now"):
    """What a script says that is stopped once it has said ``after``: its status, standard error, seconds."""
    process = subprocess.Popen(
        [sys.executable, "-c", HEAD + code],
        cwd=folder,
        start_new_session=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert after in process.stdout.readline()
    began = time.monotonic()
    os.killpg(process.pid, number)
    try:
        _, err = process.communicate(timeout=20)
    finally:
        process.kill()
    return process.returncode, err, time.monotonic() - began


@pytest.mark.parametrize("work", AT_WORK.values(), ids=AT_WORK)
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_whatever_it_is_doing_it_ends_at_once_and_says_so(work, number):
    status, err, seconds = stopped(work, number=number)
    assert err == "nesting: stopped; nothing was written\n" and status == 128 + number and seconds < 2


def test_one_that_is_starting_processes_does_not_take_them_for_lost():
    code = """
import os, signal
from multiprocessing.context import SpawnProcess
from nesting.workers import Crew

begun = []
def start(self, begin=SpawnProcess.start):
    begin(self)
    begun.append(self)
    if len(begun) == 2:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.1)

SpawnProcess.start = start
with Crew(None, 2) as crew, keeping(lambda: time.sleep(1)):
    print('now', flush=True)
    crew.each(max, [(100,), (100,)])
"""
    assert stopped(code, number=0)[:2] == (130, "nesting: stopped; nothing was written\n")


def test_what_is_kept_is_told_with_status_0():
    code = "with keeping(lambda: 'stopped; kept 3'):" + LONG.replace("\n", "\n    ")
    assert stopped(code)[:2] == (0, "nesting: stopped; kept 3\n")


def test_what_fails_at_the_end_is_told_in_one_line():
    code = "with keeping(lambda: 1 / 0):\n    print('now', flush=True)\n    time.sleep(100)"
    assert stopped(code)[:2] == (130, "nesting: stopped; nothing was written: division by zero\n")


def test_a_search_with_nothing_to_show_yet_is_asked_for_what_it_has():
    code = """
found = []
with keeping(lambda: f"stopped; kept {found}", lambda: bool(found), lambda: found.append(7)):
    print('now', flush=True)
    for _ in range(1000):
        time.sleep(0.1)
        look()
"""
    assert stopped(code)[:2] == (0, "nesting: stopped; kept [7]\n")


def test_one_that_has_nothing_to_show_is_not_waited_for():
    code = """
with keeping(lambda: None, lambda: False):
    print('now', flush=True)
    time.sleep(100)
"""
    status, err, seconds = stopped(code)
    assert (status, err) == (130, "nesting: stopped; nothing was written\n") and 0.9 < seconds < 2


def test_nothing_half_written_is_left(tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "layout.json").write_text("old")
    code = """
import os
from pathlib import Path
from nesting.atomic import written_anew, write_text
with written_anew(Path('out'), ('layout.json',)) as new:
    write_text(new.path / 'layout.json', 'new')
    os.write(1, b'now\\n')
    time.sleep(100)
"""
    assert stopped(code, folder=tmp_path)[0] == 130
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert (tmp_path / "out" / "layout.json").read_text() == "old"


def plan_stopped(folder, seconds, number, told="setting"):
    process = subprocess.Popen(
        [sys.executable, "-m", "nesting", "plan", str(folder), "--seconds", "200"],
        start_new_session=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    # the settings are told just before the search begins
    assert told in process.stdout.readline()
    time.sleep(seconds)
    began = time.monotonic()
    # a terminal tells all processes, whoever ends a service only this one
    (os.killpg if number == signal.SIGINT else os.kill)(process.pid, number)
    _, err = process.communicate(timeout=60)
    return process.returncode, err, time.monotonic() - began


def test_what_a_search_has_so_far_is_a_sound_layout_that_is_kept_and_drawn_later(tmp_path):
    seen = []
    so_far = SoFar(lambda: seen.append(so_far.layout()))
    whole = plan(small_job(), Stop(iterations=3), workers=1, so_far=so_far)
    assert seen and all(not check(layout) for layout in seen)
    count = len(seen[-1].placements)
    assert count == len(whole.placements) and all(left.reason.startswith("the run was") for left in seen[-1].unplaced)
    write_plan(whole, tmp_path / "out")
    said = keep_stopped(so_far, tmp_path / "out").words
    assert said.startswith(f"stopped; kept the best so far ({count} of 8 parts) in {tmp_path / 'out' / 'layout.json'}")
    assert "the run before is in" in said and not (tmp_path / "out" / "report.html").exists()
    assert not check_file(tmp_path / "out").findings
    assert write_reports_again(tmp_path / "out" / "layout.json") and not check_file(tmp_path / "out").stale


def test_a_search_with_nothing_so_far_keeps_nothing(tmp_path):
    assert keep_stopped(SoFar(), tmp_path / "out") is None and not (tmp_path / "out").exists()


def test_a_plan_that_is_stopped_before_its_first_layout_writes_nothing(tmp_path):
    copy_job(demo_folder(), tmp_path / "job")
    status, err, seconds = plan_stopped(tmp_path / "job", 0, signal.SIGINT)
    assert (status, err) == (130, "nesting: stopped; nothing was written\n") and seconds < 5
    assert not (tmp_path / "job" / "out").exists()
