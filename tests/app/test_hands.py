"""A maker's week by the command line: panels burnt, parts pinned and spoiled, orders that come in meanwhile."""

import shutil

import pytest
from commands import run

from nesting.files.layout import read_layout
from nesting.referee.rules import check

WORKSHOP = """
[machine]
bed_width_mm = 320
bed_height_mm = 220
rated_w = 40

[[setting]]
name = "1.5 mm"
thickness_mm = 1.5
speed_mm_s = 10
power_percent = 60
passes = 1
thinnest_mm = 1.0
thickest_mm = 2.0
"""
PRODUCTS = """
[[product]]
name = "key fob"
pattern = "patterns/fob.svg"

[[product.part]]
name = "fob"

[[product.part]]
name = "loop"
"""
PATTERN = """
<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm" viewBox="0 0 80 60">
  <g id="fob"><path id="outline" d="M 0 0 H 80 V 30 H 0 Z"/></g>
  <g id="loop"><path id="outline" d="M 0 40 H 40 V 55 H 0 Z"/></g>
</svg>
"""
HIDE = """{"format": "nesting-hide", "version": 1, "id": "bend", "outline": [[0, 0], [620, 0], [620, 200], [0, 200]],
"nominal_mm": 1.5, "tannage": "vegetable", "price": "20.00"}"""
ORDERS = "order,product,quantity,due,priority,thread,note\n1,key fob,2,2026-01-05,1,,\n"


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hands") / "week"
    files = {"workshop.toml": WORKSHOP, "products.toml": PRODUCTS, "orders.csv": ORDERS}
    for name, text in (files | {"patterns/fob.svg": PATTERN, "hides/bend.json": HIDE}).items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)
    assert run("plan", folder, "--iterations", 4, "--workers", 1).returncode == 0
    return folder


@pytest.fixture
def week(planned, tmp_path):
    return shutil.copytree(planned, tmp_path / "week")


def layout(week):
    made = read_layout(week / "out" / "layout.json")
    assert check(made) == []
    return made


def plan(week, *words):
    done = run("plan", week, "--iterations", 6, "--workers", 1, *words)
    assert done.returncode == 0, done.stdout + done.stderr
    return " ".join(done.stdout.split())


def spots(made):
    return {part.key: part.spot for part in made.placements}


def test_a_week_by_hand(week):
    first = layout(week)
    pinned = run("pin", "1", "loop", "--piece", 2, cwd=week)
    assert "1 key fob loop 2.1 on bend/1: stays where it lies" in pinned.stdout and pinned.returncode == 0
    assert [part.name for part in layout(week).placements if part.pinned] == ["1 key fob loop 2.1"]

    (week / "orders.csv").write_text(ORDERS + "2,key fob,1,2026-01-04,1,,\n")
    told = plan(week, "--resume")
    assert "kept of the layout at hand: 1 pinned, 3 that still hold" in told and "3 of 3 ordered pieces whole" in told
    assert "better than before: 1 more ordered piece" in told
    assert spots(first).items() <= spots(layout(week)).items()

    again = run("again", "1", "fob", "--piece", 1, "--folder", week)
    assert "1 key fob fob 1.1 is wanted again; panel bend/1 counts as burnt" in again.stdout
    report = " ".join((week / "out" / "report.html").read_text().split())
    assert "Burnt already: 1 panel (bend/1); pinned: 1 part; cut, and of no open order any more: 1 part." in report
    assert "spoiled at the machine" in report

    told = plan(week)
    assert "5 parts on 1 burnt panel" in told
    assert "1 part that no open order has: made, spoiled or no longer wanted" in told
    made = layout(week)
    assert len(made.placements) == 6 and {p.key for p in made.placements if p.panel == "2"} == {made.lost[0].key}

    export = run("export", week / "out" / "layout.json")
    assert "hide bend, panel 1: it is burnt already: no file" in export.stdout and export.returncode == 0
    assert [path.name for path in sorted((week / "out" / "cut").glob("*-panel-?.svg"))] == ["bend-panel-2.svg"]

    assert "kept of the layout" not in plan(week, "--fresh") and not layout(week).burnt


def test_a_panel_burnt_is_said_once_and_may_be_taken_back(week):
    plan(week, "--burnt", "bend/1")
    assert [burnt.name for burnt in layout(week).burnt] == ["bend/1"]
    plan(week)
    assert [burnt.name for burnt in layout(week).burnt] == ["bend/1"]
    plan(week, "--not-burnt", "bend/1")
    assert not layout(week).burnt


def test_the_best_of_a_comparison_is_planned_on_with_what_is_pinned(week):
    (week / "hides" / "scrap.json").write_text(
        HIDE.replace("bend", "scrap").replace("620", "170").replace("20.00", "2")
    )
    run("pin", "1", "loop", "--piece", 2, cwd=week)
    where = {key: spot for key, spot in spots(layout(week)).items() if key[2:4] == ("loop", 2)}
    done = run("compare", week, "--seconds", 1, "--workers", 1)
    told = " ".join(done.stdout.split())
    assert done.returncode == 0 and "(the plan at hand)" in told
    best = read_layout(week / "out" / "compare.json")
    assert check(best) == [] and where.items() <= spots(best).items()
    told = plan(week, "--compared")
    assert "2 of 2 ordered pieces whole" in told and "1 pinned" in told
    assert where.items() <= spots(layout(week)).items()
    plan(week, "--burnt", "bend/1")
    refused = run("plan", week, "--compared")
    assert refused.returncode == 2 and "compare.json: burnt: bend/1: burnt, or not, since it was made" in refused.stderr


def test_pins_are_let_go(week):
    assert "4 parts pinned" in run("pin", "--folder", week).stdout
    assert "2 parts no longer pinned" in run("unpin", "1", "fob", "--folder", week).stdout
    assert {part.part for part in layout(week).placements if part.pinned} == {"loop"}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("pin", "7"), "order: 7: give one that is placed: 1"),
        (("pin", "1", "strap"), "part: strap: give one that is placed: fob, loop"),
        (("pin", "1", "--on", "bend/9"), "--on: panel: bend/9: give one as HIDE/PANEL: bend/1"),
        (("again", "1", "fob"), "2 of that name: say which of them: --piece 1 --copy 1 (on bend/1); --piece 2"),
        (("again", "1", "fob", "--piece", "5"), "--piece: piece: 5: give one that is placed: 1, 2"),
        (("plan", ".", "--burnt", "bend"), "--burnt: panel: bend: give one as HIDE/PANEL: bend/1"),
        (("plan", ".", "--fresh", "--resume"), "keep what is at hand, or heed nothing"),
        (("plan", ".", "--compared"), "compare.json: file: missing: there is no layout to go on from: run"),
    ],
)  # fmt: skip
def test_what_is_not_there_is_said_in_one_line(week, words, said):
    done = run(*words, cwd=week)
    assert done.returncode == 2 and said in done.stderr and done.stderr.count("\n") == 1


def test_there_must_be_a_layout_to_go_on_from(week):
    (week / "out" / "layout.json").unlink()
    for words in (("plan", ".", "--resume"), ("pin", "1"), ("again", "1", "fob")):
        done = run(*words, cwd=week)
        assert done.returncode == 2 and "layout.json" in done.stderr


def test_a_layout_that_cannot_be_read_is_not_planned_over_in_silence(week):
    (week / "out" / "layout.json").write_text("{")
    done = run("plan", week, "--iterations", 2, "--workers", 1)
    assert done.returncode == 2 and "--fresh" in done.stderr
    assert plan(week, "--fresh")
