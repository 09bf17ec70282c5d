"""A plan that goes on from a layout takes its place only where it is better; two plates on a strip, laid by hand."""

import shutil
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from shapely.geometry import box

from nesting.app.actions.going_on import STAYS, STAYS_LYING, GoingOn
from nesting.app.actions.job import keep_stopped, write_plan, write_settled
from nesting.costs.figures import figures
from nesting.engine import Stop
from nesting.files.layout import read_layout, read_stated
from nesting.geometry import place
from nesting.model import Direction, Hide, Job, Machine, Margins, OrderLine, Part, Prices, Product, Setting, Workshop
from nesting.planning.keeping import keep
from nesting.planning.plan import SoFar, plan
from nesting.planning.prepare import prepare
from nesting.referee.rules import check

PLATE = Part("plate", box(0, 0, 100, 50), direction=Direction("fixed", turn=False))
STRIP = Hide("strip", box(0, 0, 520, 120), nominal_mm=1.5, tannage="vegetable", price=Decimal(40))
WORKSHOP = Workshop(
    Machine("laser", 600, 400, 40),
    (Setting("1.5 mm", 1.5, 10, 60, 2, 1.2, 1.8),),
    Margins(kerf_mm=0.2, gap_mm=0.8, edge_mm=3.0, flaw_mm=1.0),
    Prices("EUR"),
    thickness_spread_mm=0.1,
)
DENSE, SPREAD = ((5.0, 5.0), (5.0, 60.0)), ((5.0, 35.0), (300.0, 35.0))


def job_of(quantity=2, made_from="1"):
    line = OrderLine("A", "set", quantity, date(2026, 3, 2))
    return Job(WORKSHOP, (Product("set", (PLATE,)),), (STRIP,), (line,), made_from={"orders.csv": 64 * made_from})


def laid(layout, places):
    parts = zip(layout.placements, places)
    moved = [replace(p, x=x, y=y, angle=0.0, outline=place(PLATE.outline, x, y, 0.0)) for p, (x, y) in parts]
    made = replace(layout, placements=tuple(moved))
    assert check(made) == []
    return made


@pytest.fixture(scope="module")
def found():
    return plan(job_of(), Stop(iterations=2), workers=1)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """The folder of a layout as a plan leaves it, written once."""
    folders = {}

    def write(layout):
        if layout.mark not in folders:
            folders[layout.mark] = tmp_path_factory.mktemp("begun") / "out"
            write_plan(layout, folders[layout.mark])
        return folders[layout.mark]

    return write


@pytest.fixture
def begun(written, tmp_path):
    """Begin to go on from a layout that stands in its file."""

    def begin(before, job):
        shutil.copytree(written(before), tmp_path / "out", dirs_exist_ok=True)
        prepared = prepare(job)
        return GoingOn(prepared, keep(prepared, before, True), tmp_path / "out" / "layout.json")

    return begin


def spots(layout):
    return {placement.key: placement.spot for placement in layout.placements}


def test_what_is_dearer_does_not_take_the_place_of_a_layout_whose_file_is_left_as_it_is(found, begun, tmp_path):
    dense, out = laid(found, DENSE), tmp_path / "out"
    going_on = begun(dense, job_of())
    (out / "cut").mkdir()
    (out / "cut" / "mine.txt").write_text("written for it")
    before = {file: file.read_bytes() for file in out.rglob("*") if file.is_file()}
    settled = going_on.settled(laid(found, SPREAD))
    assert not settled.taken and settled.words == STAYS and spots(settled.layout) == spots(dense)
    written = write_settled(settled, out)
    assert {file: file.read_bytes() for file in out.rglob("*") if file.is_file()} == before
    assert written.figures == read_stated(out / "layout.json").figures and out / "report.html" in written.files


def test_what_is_cheaper_takes_its_place_and_says_by_how_much(found, begun, tmp_path):
    settled = begun(laid(found, SPREAD), job_of()).settled(laid(found, DENSE))
    assert settled.taken and settled.words.startswith("better than before: the orders cost ")
    written = write_settled(settled, tmp_path / "out")
    assert written.figures == figures(read_layout(tmp_path / "out" / "layout.json"))
    assert [(part.x, part.y) for part in read_layout(tmp_path / "out" / "layout.json").placements] == [*DENSE]


def test_more_pieces_take_its_place_whatever_they_cost(found, begun):
    three = plan(job_of(3, "2"), Stop(iterations=2), workers=1)
    settled = begun(laid(found, DENSE), job_of(3, "2")).settled(three)
    assert settled.taken and settled.gain == "1 more ordered piece"


def test_pieces_that_no_longer_held_are_not_told_as_more_than_before(found, begun):
    # the strip ends below the upper plate now
    job = replace(job_of(made_from="2"), hides=(replace(STRIP, outline=box(0, 0, 520, 100)),))
    both = plan(job, Stop(iterations=2), workers=1)
    assert len(both.placements) == 2
    words = begun(laid(found, DENSE), job).settled(both).words
    assert words == ("1 piece of the layout before no longer held; better than what still held: 1 more ordered piece")
    # a piece that nobody orders any more is none that fell
    fewer = replace(job, hides=(replace(STRIP, outline=box(0, 10, 520, 120)),), orders=job_of(1).orders)
    one = plan(fewer, Stop(iterations=2), workers=1)
    assert begun(laid(found, DENSE), fewer).settled(one).fallen == 1


def test_of_files_that_were_changed_what_still_holds_is_written_as_it_is_of_now(found, begun, tmp_path):
    dense = laid(found, DENSE)
    settled = begun(dense, job_of(made_from="2")).settled(laid(found, SPREAD))
    assert not settled.taken and settled.words == STAYS_LYING and not settled.stays
    assert write_settled(settled, tmp_path / "out").findings == []
    now = read_layout(tmp_path / "out" / "layout.json")
    assert spots(now) == spots(dense) and now.made_from == {"orders.csv": 64 * "2"}


def test_what_held_and_breaks_a_rule_by_itself_gives_way(found, begun):
    # one plate is no piece that takes two of them
    pair = Product("set", (replace(PLATE, name="plate"), replace(PLATE, name="back")))
    job = replace(job_of(made_from="2"), products=(pair,))
    both = plan(job, Stop(iterations=2), workers=1)
    assert len(both.placements) == 4 and begun(laid(found, DENSE), job).settled(both).taken


def test_a_run_that_is_stopped_leaves_the_layout_where_it_has_nothing_better(found, begun, tmp_path):
    dense = laid(found, DENSE)
    going_on, so_far = begun(dense, job_of()), SoFar()
    content = (tmp_path / "out" / "layout.json").read_bytes()
    so_far.make = lambda: laid(found, SPREAD)
    stopped = keep_stopped(so_far, tmp_path / "out", going_on)
    assert stopped.words == f"stopped; {STAYS}" and (tmp_path / "out" / "layout.json").read_bytes() == content
