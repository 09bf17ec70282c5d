"""Inches, square feet and ounces first where the workshop says so."""

import io
from dataclasses import replace

import pytest
from pdfminer.high_level import extract_pages
from planning_jobs import TAG, job_of, sound
from rich.console import Console
from shapely.geometry import Point, box

from nesting.app.actions.bed import export_layout
from nesting.costs.figures import figures
from nesting.model import Hide, Part, Zone, units
from nesting.report import words
from nesting.report.page import page
from nesting.report.table import print_summary

BELT = Part("belt", box(0, 0, 1000, 40), (Point(40, 20).buffer(3),))
SIDE = Hide(
    "side", box(0, 0, 1300, 500), zones=(Zone(box(1200, 400, 1250, 450), "C"),), nominal_mm=1.5, tannage="vegetable"
)


@pytest.fixture(scope="module", params=units.UNITS)
def planned(request):
    job = job_of(parts=(BELT, TAG), hides=(SIDE,), quantity=1)
    job = replace(job, workshop=replace(job.workshop, units=request.param))
    return request.param, job, sound(job)


def test_the_report_and_the_terminal_show_them_first(planned):
    first, _, layout = planned
    numbers = figures(layout)
    text = page(layout, numbers, [])
    heads = ["<th>dm²</th><th>sq ft</th>", "<th>sq ft</th><th>dm²</th>"]
    assert (heads[first == "inch"] in text, heads[first != "inch"] in text) == (True, False)
    thick = {"mm": "clean from 1.2 to 1.8 mm (3 to 4.5 oz)", "inch": "clean from 3 to 4.5 oz (1.2 to 1.8 mm)"}
    assert thick[first] in text
    console = Console(file=io.StringIO(), width=80)
    print_summary(numbers, console, first=first)
    told = console.file.getvalue()
    assert (told.index("sq ft") < told.index("dm²")) == (first == "inch")
    assert ("rectangle, in" in told) == (first == "inch")


def test_an_offcut_tells_its_grade(planned):
    _, _, layout = planned
    assert "grade A with flaws of grade C" in page(layout, figures(layout), [])


def test_cards_and_templates_show_them_first_and_the_paper_is_that_of_the_country(planned, tmp_path):
    first, _, layout = planned
    done = export_layout(layout, tmp_path / "out" / "cut", tmp_path)
    cards = next(file for file in done.cards if file.suffix == ".html").read_text()
    bed = {"mm": "600.0 x 400.0 mm (23.62 x 15.75 in)", "inch": "23.62 x 15.75 in (600.0 x 400.0 mm)"}
    assert f"Longer than the usable bed of {bed[first]}" in cards and "cut out first by knife: L1" in cards
    assert {"mm": "template 1000 mm long", "inch": "template 39 3/8 in (1000 mm) long"}[first] in cards
    (made,) = done.templates
    sizes = {(round(p.width / 72 * 25.4, 1), round(p.height / 72 * 25.4, 1)) for p in extract_pages(made.file)}
    assert sizes == {{"mm": (210.0, 297.0), "inch": (215.9, 279.4)}[first]}


@pytest.mark.parametrize(
    "mm, inches",
    [(0, "0"), (25.4, "1"), (12.7, "1/2"), (203.2, "8"), (204.7875, "8 1/16"), (9.525, "3/8"), (25.3, "1")],
)
def test_lengths_for_a_tape_are_told_to_a_sixteenth(mm, inches):
    assert units.tape_words(mm, "inch") == f"{inches} in ({mm:.0f} mm)" and units.tape_words(mm) == f"{mm:.0f} mm"


def test_areas_and_rectangles_in_both_orders():
    # 1 sq ft = 9.290304 dm2 exactly
    assert words.area(92903.04) == "9.3 dm² (1.00 sq ft)" and words.area(92903.04, "inch") == "1.00 sq ft (9.3 dm²)"
    assert words.size(508, 254) == "508 × 254 mm (20.0 × 10.0 in)"
    assert words.size(508, 254, "inch") == "20.0 × 10.0 in (508 × 254 mm)"
