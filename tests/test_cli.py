import json
import os
import signal
import subprocess
import sys
import time

import pytest

from nesting.demo import copy_job, demo_folder

DATA = demo_folder()


def run(*words, **more):
    return subprocess.run([sys.executable, "-m", "nesting", *map(str, words)], capture_output=True, text=True, timeout=240, **more)


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    """The demo's job folder, planned once."""
    folder = tmp_path_factory.mktemp("week") / "job"
    copy_job(DATA, folder)
    done = run("plan", folder, "--iterations", 4)
    assert done.returncode == 0, done.stderr + done.stdout
    return folder


def test_help_lists_the_commands():
    text = run("--help").stdout
    assert all(word in text for word in ("demo", "trace", "markers", "hide", "camera", "plan", "compare", "check", "report", "export"))


def test_help_loads_no_heavy_library():
    code = "import sys, runpy\nsys.argv = ['nesting', '--help']\ntry:\n    runpy.run_module('nesting', run_name='__main__')\nexcept SystemExit:\n    pass\nprint([m for m in ('numpy', 'shapely', 'numba', 'cv2', 'matplotlib') if m in sys.modules], file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stderr.strip() == "[]"


def test_a_plan_writes_layout_report_and_pictures(week):
    out = week / "out"
    data = json.loads((out / "layout.json").read_text())
    assert data["format"] == "nesting-layout" and data["placements"] and data["figures"]["total"]["placed"]
    assert (out / "report.html").exists()
    for hide in {placement["hide"] for placement in data["placements"]}:
        assert (out / f"hide-{hide}.png").stat().st_size > 10_000 and (out / f"hide-{hide}.svg").exists()


def test_check_passes_a_good_layout_and_names_the_fault_of_a_bad_one(week, tmp_path):
    assert run("check", week / "out" / "layout.json").returncode == 0
    data = json.loads((week / "out" / "layout.json").read_text())
    first, second = data["placements"][:2]
    for key in ("x", "y", "angle", "outline", "cutouts", "stitch", "engrave", "zones", "hide", "panel"):
        second[key] = first[key]
    bad = tmp_path / "bad.json"
    bad.write_text(json.dumps(data))
    done = run("check", bad)
    assert done.returncode == 1 and "rule 1" in done.stdout
    done = run("export", bad)
    assert done.returncode == 1 and "nothing written" in done.stdout and not (tmp_path / "cut").exists()


def test_export_writes_a_file_for_every_hide_that_is_cut(week):
    assert run("export", week / "out" / "layout.json").returncode == 0
    hides = {p["hide"] for p in json.loads((week / "out" / "layout.json").read_text())["placements"]}
    assert {path.stem for path in (week / "out" / "cut").glob("*.svg")} == hides


def test_export_refuses_chrome_leather_and_says_why(week, tmp_path):
    data = json.loads((week / "out" / "layout.json").read_text())
    for hide in data["hides"]:
        hide["tannage"] = "chrome"
    bad = tmp_path / "chrome.json"
    bad.write_text(json.dumps(data))
    done = run("export", bad)
    assert done.returncode == 1 and "hexavalent" in " ".join(done.stdout.split()) and not (tmp_path / "cut").exists()


def test_compare_says_which_hide_to_cut(week):
    done = run("compare", week, "--seconds", 0.5)
    assert done.returncode == 0 and "Cut " in done.stdout
    assert (week / "out" / "compare.png").exists()


@pytest.mark.parametrize(
    "words, text",
    [
        (["plan", "nowhere"], "nowhere"),
        (["check", "missing.json"], "missing.json"),
        (["trace", "missing.jpg", "-o", "x.json"], "missing.jpg"),
        (["trace", "{data}/photos/natural-shoulder.jpg", "-o", "x.json", "--points", "1,2=3"], "--points"),
        (["trace", "{data}/photos/natural-shoulder.jpg", "-o", "x.json", "--price", "cheap"], "cheap"),
        (["plan", "{data}", "--hide", "unicorn"], "unicorn"),
    ],
)
def test_bad_input_ends_in_one_line_and_status_2(words, text, tmp_path):
    done = run(*(word.format(data=DATA) for word in words), cwd=tmp_path)
    assert done.returncode == 2 and text in done.stderr
    assert "Traceback" not in done.stderr and len(done.stderr.strip().splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


def test_an_interrupt_keeps_the_best_layout_so_far(tmp_path):
    copy_job(DATA, tmp_path / "job")
    process = subprocess.Popen(
        [sys.executable, "-m", "nesting", "plan", str(tmp_path / "job"), "--seconds", "200"], start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )
    time.sleep(25)
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=90)
    assert process.returncode == 0, out + err
    assert json.loads((tmp_path / "job" / "out" / "layout.json").read_text())["placements"]


def test_the_demo_runs_from_an_empty_folder(tmp_path):
    done = run("demo", "--seconds", 3, cwd=tmp_path)
    assert done.returncode == 0, done.stderr + done.stdout
    out = tmp_path / "nesting-demo" / "out"
    assert (out / "report.html").exists() and (out / "compare.png").exists() and len(list((out / "cut").glob("*.svg"))) >= 3
