import io
import subprocess
import sys
from dataclasses import replace

from rich.console import Console

from nesting.costs.figures import figures
from nesting.model import Unplaced
from nesting.report.limits import DEFAULT, ReportLimits
from nesting.report.table import print_summary


def printed(layout, width: int = 80, limits: ReportLimits = DEFAULT) -> str:
    console = Console(file=io.StringIO(), width=width, force_terminal=False)
    print_summary(layout, figures(layout), console, limits)
    return console.file.getvalue()


def test_the_summary_fits_eighty_columns(layout):
    assert max(map(len, printed(layout).splitlines())) <= 80


def test_yields_costs_reasons_and_offcuts_are_told(layout):
    numbers, text = figures(layout), printed(layout)
    row = numbers["hides"][0]
    for expected in (
        "shoulder-7", f"{100 * row['yield_of_usable']:.1f} %", "of consumed", "Untouched: side-2", "4 of 4",
        numbers["costs"]["total"], "no region of its grade", "too big for any hide", "offcut 1",
        " × ".join(str(int(side)) for side in row["offcuts"][0]["rectangle_mm"]),
        f"Hides {numbers['costs']['paid']}, offcuts kept -{numbers['costs']['credited']}",
    ):  # fmt: skip
        assert expected in text, expected


def test_names_are_not_read_as_markup(layout):
    hostile = (Unplaced("[red]x[/red]", ":smile:", "[/]", 1, 1, False, "\x1b[31mred"),)
    text = printed(replace(layout, unplaced=hostile))
    for name in ("[red]x[/red]", ":smile:", "[/]"):
        assert name in text
    assert "\x1b" not in text


def test_long_lists_end_with_how_many_more_there_are(layout):
    many = tuple(Unplaced(f"{n}", "p", "q", 1, 1, False, "no room left") for n in range(DEFAULT.most_rows + 7))
    assert "And 7 more in the report." in printed(replace(layout, unplaced=many))
    assert "And 44 more in the report." in printed(replace(layout, unplaced=many), limits=ReportLimits(most_rows=3))


def test_the_summary_is_printed_without_loading_what_draws():
    code = (
        "import sys, nesting.report.table; print([name for name in ('matplotlib', 'reportlab') if name in sys.modules])"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.strip() == "[]"


def test_notes_on_the_costs_are_told(layout):
    unpriced = replace(layout, hides=(replace(layout.hides[0], price=None), layout.hides[1]))
    assert "has no price" in printed(unpriced)
