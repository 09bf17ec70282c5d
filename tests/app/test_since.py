"""What has changed in a job folder since a layout was made of it, in plain words."""

import json
import re
import shutil

import pytest
from commands import run
from planted import planned

from nesting.app.actions.job import check_file


@pytest.fixture(scope="module")
def before(tmp_path_factory):
    return planned(tmp_path_factory.mktemp("since") / "week")


@pytest.fixture
def week(before, tmp_path):
    return shutil.copytree(before, tmp_path / "week")


def edit(file, old, new):
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new, 1))


def hide(week, **facts):
    path = week / "hides" / "bend.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | facts))


SINCE = " has changed since this layout was made: "
CHANGES = {
    "power": (
        lambda w: edit(w / "workshop.toml", "power_percent = 75", "power_percent = 77"),
        f"workshop.toml{SINCE}vegetable 2.2 was 75 %, is 77 %",
    ),
    "window": (
        lambda w: edit(w / "workshop.toml", "thickest_mm = 1.9", "thickest_mm = 1.8"),
        f"workshop.toml{SINCE}vegetable 1.5 thickest_mm was 1.9 mm, is 1.8 mm",
    ),
    "kerf": (
        lambda w: edit(w / "workshop.toml", "edge_mm = 3", "edge_mm = 3\nkerf_mm = 0.3"),
        f"workshop.toml{SINCE}kerf_mm was 0.2 mm, is 0.3 mm",
    ),
    "a remark": (
        lambda w: edit(w / "workshop.toml", "[machine]", "# ours\n[machine]"),
        f"workshop.toml{SINCE}nothing that this layout rests on",
    ),
    "grade": (
        lambda w: edit(w / "products.toml", 'grade = "B"', 'grade = "C"'),
        f"products.toml{SINCE}key fob fob: grade was B, is C",
    ),
    "direction": (
        lambda w: edit(w / "products.toml", "tolerance_deg = 5", "tolerance_deg = 9"),
        f"products.toml{SINCE}key fob fob: direction was along within 5 degrees, is along within 9 degrees",
    ),
    "price": (
        lambda w: edit(w / "products.toml", '"9.00"', '"8.00"'),
        f"products.toml{SINCE}key fob: price was 9.00, is 8.00",
    ),
    "drawing": (
        lambda w: edit(w / "patterns" / "fob.svg", "H 80 V 30", "H 80 V 31"),
        f"patterns/fob.svg{SINCE}key fob fob is drawn otherwise",
    ),
    "quantity": (
        lambda w: edit(w / "orders.csv", "3,case,2", "3,case,3"),
        f"orders.csv{SINCE}order 3 case: quantity was 2, is 3",
    ),
    "an order gone": (
        lambda w: edit(w / "orders.csv", "4,banner,1,,3,,,\n", ""),
        f"orders.csv{SINCE}order 4 banner is gone",
    ),
    "an order more": (
        lambda w: edit(w / "orders.csv", "stall,", "7,case,1,,3,,,\nstall,"),
        f"orders.csv{SINCE}order 7 case is new",
    ),
    "hide": (lambda w: hide(w, price="22.00"), f"hides/bend.json{SINCE}price was 20.00, is 22.00"),
    "readings": (
        lambda w: hide(w, readings=[{"x": 9, "y": 9, "mm": 1.6}]),
        f"hides/bend.json{SINCE}readings were 0, are 1",
    ),
    "outline": (
        lambda w: hide(w, outline=[[0, 0], [620, 0], [620, 201], [0, 200]]),
        f"hides/bend.json{SINCE}outline is otherwise",
    ),
    "a hide gone": (
        lambda w: (w / "hides" / "belly.json").unlink(),
        "hides/belly.json is gone since this layout was made",
    ),
    "a hide more": (
        lambda w: (w / "hides" / "new.json").write_text((w / "hides" / "bend.json").read_text().replace("bend", "new")),
        "hides/new.json is new since this layout was made",
    ),
}


@pytest.mark.parametrize("name", CHANGES)
def test_what_has_changed_since_is_named_and_the_layout_still_holds(week, name):
    change, words = CHANGES[name]
    change(week)
    done = check_file(week)
    assert done.changes == (words,) and done.findings == []


def test_a_folder_that_cannot_be_read_now_is_told_and_the_layout_still_holds(week):
    edit(week / "products.toml", 'grade = "B"', 'grade = "Z"')
    changed, why = check_file(week).changes
    assert changed == "products.toml has changed since this layout was made"
    assert "cannot be read now" in why and "grade" in why


def test_a_layout_away_from_its_folder_has_nothing_to_be_compared_with(week, tmp_path):
    alone = shutil.copy(week / "out" / "layout.json", tmp_path / "alone.json")
    edit(week / "workshop.toml", "power_percent = 75", "power_percent = 77")
    done = check_file(tmp_path / "alone.json")
    assert (done.findings, done.changes) == ([], ()), alone


@pytest.mark.parametrize("command", ["check", "export", "templates", "report"])
def test_every_command_on_a_layout_tells_what_has_changed_and_goes_on(week, command):
    edit(week / "workshop.toml", "power_percent = 75", "power_percent = 77")
    done = run(command, week / "out" / "layout.json")
    said = " ".join(done.stdout.split())
    assert done.returncode == 0
    assert f"note: workshop.toml{SINCE}vegetable 2.2 was 75 %, is 77 %" in said


def sound(week):
    done = check_file(week)
    assert (done.findings, done.changes) == ([], ())
    return done


def test_a_layout_that_is_used_again_stays_sound_and_is_of_the_files_it_was_made_from_last(week):
    assert run("pin", "1", "fob", "--folder", week).returncode == 0
    sound(week)
    edit(week / "workshop.toml", "power_percent = 60", "power_percent = 62")
    assert len(check_file(week).changes) == 1
    plan = ("plan", week, "--iterations", 3, "--workers", 1)
    assert run(*plan, "--resume", "--burnt", "belly/1").returncode == 0
    sound(week)
    text = (week / "out" / "layout.json").read_text()
    assert "(as burnt)" in text and re.search(r'"burnt": \[', text)
    assert run("again", "stall", "tag", "--piece", 1, "--folder", week).returncode == 0
    sound(week)
    edit(week / "orders.csv", "3,case,2", "3,case,1")
    assert run(*plan, "--resume").returncode == 0
    sound(week)
    assert run("report", week / "out" / "layout.json").returncode == 0
    assert run("export", week / "out" / "layout.json").returncode == 0
