"""Every public name, used as a notebook would use it."""

import subprocess
import sys
from pathlib import Path

import pytest

import nesting

WORKSHOP = """
[machine]
name = "bench laser"
bed_width_mm = 600
bed_height_mm = 400
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
grade = "C"
"""
PATTERN = """
<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="30mm" viewBox="0 0 80 30">
  <g id="fob"><path id="outline" d="M 0 0 H 80 V 30 H 0 Z"/><path id="stitch" d="M 10 5 H 70"/></g>
</svg>
"""
ORDERS = "order,product,quantity,due,priority,thread,note\n1,key fob,3,2026-01-05,1,black,\n"
HIDE = """{"format": "nesting-hide", "version": 1, "id": "bend", "outline": [[0, 0], [300, 0], [300, 200], [0, 200]],
"nominal_mm": 1.5, "tannage": "vegetable", "price": "20.00"}"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    week = tmp_path_factory.mktemp("public") / "week"
    files = {"workshop.toml": WORKSHOP, "products.toml": PRODUCTS, "orders.csv": ORDERS}
    files |= {"patterns/fob.svg": PATTERN, "hides/bend.json": HIDE}
    for name, text in files.items():
        (week / name).parent.mkdir(parents=True, exist_ok=True)
        (week / name).write_text(text)
    return week


@pytest.fixture(scope="module")
def job(folder):
    return nesting.read_job(folder)


@pytest.fixture(scope="module")
def layout(job):
    return nesting.plan(job, nesting.Stop(iterations=3), workers=1)


def test_a_job_is_read_planned_checked_drawn_and_exported(folder, job, layout, tmp_path):
    assert isinstance(job, nesting.Job) and isinstance(layout, nesting.Layout)
    assert "3 of 3 parts" in str(layout) and "polygon" not in repr(layout).lower()
    assert nesting.check(layout) == [] and str(nesting.check(layout)) == "every rule holds"
    assert nesting.plot(layout).axes
    done = nesting.export(layout, str(tmp_path / "cut"))
    assert [path.suffix for path in done.files] == [".svg"]


def test_a_job_folder_may_be_named_by_text(folder):
    assert nesting.read_job(str(folder)).orders[0].order == "1"


def test_a_layout_is_written_and_read_back_with_its_figures(layout, tmp_path):
    numbers = nesting.figures(layout)
    nesting.write_layout(tmp_path / "layout.json", layout, numbers)
    read = nesting.read_layout(tmp_path / "layout.json")
    assert numbers["total"]["placed"] == 3 == len(read.placements) and nesting.check(read) == []


def test_a_shop_has_a_book_from_week_to_week(folder, job, layout, tmp_path):
    import shutil

    book = nesting.Book.begin(shutil.copytree(folder, tmp_path / "shop"))
    book.take_hides()
    book.take_orders(job.orders)
    book.planned(layout)
    done = book.cut(book.waiting())
    assert done.loads == ("bend/1",) and done.offcuts and [row.state for row in book.orders(None)] == ["cut"]
    assert str(book.undo().words) == "cut bend/1" and [row.name for row in book.hides()] == ["bend"]


def test_values_of_the_model_are_made_by_hand(job, layout):
    hide, part, workshop = job.hides[0], job.products[0].parts[0], job.workshop
    assert isinstance(hide, nesting.Hide) and isinstance(part, nesting.Part)
    assert isinstance(workshop, nesting.Workshop) and isinstance(layout.placements[0], nesting.Placement)
    again = nesting.Job(workshop, job.products, (nesting.Hide("scrap", hide.outline),), job.orders)
    assert str(again.hides[0]).startswith("hide scrap")


def test_ways_to_cut_the_same_orders_are_compared(job):
    choices = nesting.compare(job, nesting.Stop(seconds=0.1), workers=1)
    assert choices[0].placed == 3 and "bend" in str(choices)


def test_what_stands_before_a_search_is_prepared_once(job):
    prepared = nesting.prepare(job, ["bend"])
    layout = nesting.plan(job, nesting.Stop(iterations=1), workers=1, prepared=prepared)
    assert len(prepared.wishes) == 3 == len(layout.placements)


def test_a_plan_goes_on_from_another(job, layout):
    prepared = nesting.prepare(job)
    kept = nesting.keep(prepared, layout, resume=True)
    again = nesting.plan(job, nesting.Stop(iterations=1), workers=1, prepared=prepared, kept=kept)
    assert len(kept.loose) == len(layout.placements) == len(again.placements) and nesting.check(again) == []


def test_the_numbers_of_planning_can_be_read_and_changed(job):
    limits = nesting.PlanLimits(few_panels=1)
    layout = nesting.plan(job, nesting.Stop(iterations=1), workers=1, limits=limits)
    assert nesting.PlanLimits().few_panels > 1 and layout.limits == {"planning": {"few_panels": 1}}


def test_a_plan_can_be_cancelled_from_elsewhere(job):
    cancel = nesting.Cancel()
    cancel.cancel()
    layout = nesting.plan(job, nesting.Stop(seconds=60, cancel=cancel), workers=1)
    assert layout.seconds < 30


def test_a_hide_that_is_not_there_is_named(job, layout):
    with pytest.raises(ValueError, match="hide side is not in the job: give some of bend"):
        nesting.prepare(job, ["side"])
    with pytest.raises(ValueError, match="hide side is not in the layout: give one of bend"):
        nesting.plot(layout, "side")


def test_a_photo_is_traced():
    photo = next((Path(__file__).parents[1] / "data" / "photos").glob("*.jpg"))
    traced = nesting.trace(photo)
    assert traced.outline.area > 0 and "expected error" in str(traced)


def test_every_public_name_is_used_here():
    text = Path(__file__).read_text()
    assert all(f"nesting.{name}" in text for name in nesting.__all__)


def test_importing_it_loads_no_heavy_library():
    heavy = ("numpy", "shapely", "scipy", "numba", "cv2", "matplotlib", "typer", "pydantic")
    code = f"import sys, nesting; print([name for name in {heavy} if name in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.strip() == "[]"


def test_a_name_that_is_not_public_is_refused():
    with pytest.raises(AttributeError, match="no attribute 'packing_secret'"):
        _ = nesting.packing_secret
