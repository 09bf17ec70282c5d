import io
import subprocess
import sys
from dataclasses import replace
from datetime import date
from decimal import Decimal

from rich.console import Console

from nesting.costs.figures import figures
from nesting.model import OrderLine, Unplaced
from nesting.report.limits import DEFAULT, ReportLimits
from nesting.report.made import due_already, late
from nesting.report.table import print_summary


def printed(layout, width: int = 80, limits: ReportLimits = DEFAULT) -> str:
    console = Console(file=io.StringIO(), width=width, force_terminal=False)
    print_summary(figures(layout), console, limits)
    return console.file.getvalue()


def test_the_summary_fits_eighty_columns(layout):
    assert max(map(len, printed(layout).splitlines())) <= 80


def test_yields_costs_reasons_and_offcuts_are_told(layout):
    numbers, text = figures(layout), printed(layout)
    row = numbers["hides"][0]
    for expected in (
        "17 of 20 ordered pieces whole, 3 of 5 orders complete", "Left out: 3 ordered pieces",
        "shoulder-7", f"{100 * row['yield_of_usable']:.1f} %", "of used", "Untouched: side-2", "4 of 4",
        numbers["costs"]["total"], "no region of its grade", "too big for any hide", "offcut 1",
        " × ".join(str(int(side)) for side in row["offcuts"][0]["rectangle_mm"]),
        f"Hides {numbers['costs']['paid']}, offcuts kept -{numbers['costs']['credited']}",
    ):  # fmt: skip
        assert expected in text, expected


def test_what_share_of_the_price_of_offcuts_is_credited_and_for_how_much_leather_is_told(layout):
    numbers, console = figures(layout), Console(file=io.StringIO(), width=80, force_terminal=False)
    print_summary(numbers, console, layout=layout)
    kept = f"{numbers['total']['offcuts_mm2'] / 1e4:.1f} dm²"
    text = " ".join(console.file.getvalue().split())
    assert f"offcuts kept -{numbers['costs']['credited']} ({kept} at 50 % of their price), masking" in text


def test_names_are_not_read_as_markup(layout):
    hostile = (Unplaced("[red]x[/red]", ":smile:", "[/]", 1, 1, False, "\x1b[31mred [/]"),)
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


def test_pieces_come_first_then_what_is_left_out_then_money_then_leather(layout):
    text = printed(layout)
    places = [
        text.index(head) for head in ("17 of 20", "Left out", "Orders and what they cost", "Leather used", "Offcuts")
    ]
    assert places == sorted(places) and places[0] == 0


def test_orders_that_will_be_late_are_told_by_day(layout):
    days = {("1002 Håkon & Søn", "belt"): 18, ("1005", "satchel"): 16}
    lines = tuple(OrderLine(order, product, 3, date(2126, 9, day)) for (order, product), day in days.items())
    text = " ".join(printed(replace(layout, lines=lines)).split())
    assert "late if not cut by Monday 16 September: 1005; by Wednesday 18 September: 1002 Håkon & Søn" in text


def test_orders_that_are_late_already_are_told_first(layout):
    days = {("1002 Håkon & Søn", "belt"): 18, ("1005", "satchel"): 16}
    lines = tuple(OrderLine(order, product, 3, date(2126, 9, day)) for (order, product), day in days.items())
    told = late(figures(replace(layout, lines=lines)), today=date(2126, 9, 17))
    assert (
        told
        == "late already and left out, due on Monday 16 September: 1005; late if not cut by Wednesday 18 September: "
        + ("1002 Håkon & Søn")
    )


def test_every_order_that_was_due_before_today_is_told_whether_it_is_whole_or_not(layout):
    orders = dict.fromkeys((part.order, part.product) for part in layout.placements if not part.filler)
    lines = tuple(OrderLine(order, product, 3, date(2026, 9, 14)) for order, product in orders)
    told = due_already(replace(layout, lines=lines), today=date(2026, 9, 15))
    assert told.startswith("due already: 1001") and told.endswith(f", {len({line.order for line in lines})} orders")
    assert due_already(replace(layout, lines=lines), today=date(2026, 9, 14)) == ""
    console = Console(file=io.StringIO(), width=80, force_terminal=False)
    print_summary(figures(layout), console, layout=replace(layout, lines=lines))
    assert told in " ".join(console.file.getvalue().split()).partition("Left out")[0]


def test_orders_numbered_in_a_row_are_told_by_the_first_and_the_last(layout):
    part, names = layout.placements[0], [*(f"2638-{number:02}" for number in range(1, 15)), "2638-20", "rush"]
    parts = tuple(replace(part, order=name) for name in names)
    lines = tuple(OrderLine(name, part.product, 1, date(2026, 9, 14)) for name in names)
    many = replace(layout, placements=parts, unplaced=(), lines=lines)
    assert due_already(many, today=date(2026, 9, 15)) == "due already: 2638-01 to 2638-14, 2638-20, rush, 16 orders"


def test_parts_left_out_for_thickness_of_a_hide_with_few_readings_are_told_with_what_helps(layout):
    first, *rest = layout.unplaced
    why = replace(first, reason="thickness: 1.00 to 1.20 mm is 12% sure at best on side-2 (about 2.00 mm), 90% asked")
    refused = replace(layout, unplaced=(why, *rest))
    console = Console(width=80, file=io.StringIO())
    print_summary(figures(refused), console, layout=refused)
    told = " ".join(console.file.getvalue().split())
    assert "note: hide side-2 has 0 thickness readings" in told and "or spread_mm under thickness" in told


def test_margins_are_told_where_there_is_a_selling_price(layout):
    assert "margin" not in printed(layout).lower()
    priced = replace(layout, selling_prices={"key fob": Decimal("9.50"), "sleeve": Decimal("12345.00")})
    text, costs = printed(priced), figures(priced)["costs"]
    assert max(map(len, text.splitlines())) <= 80
    for row in (*costs["margins"], costs["sold"]):
        assert row["margin"] in text and row["each"] in text and f"{100 * row['share']:.1f} %" in text


def test_fillers_left_out_are_counted_and_parts_cut_of_a_piece_are_told(layout):
    fillers = tuple(Unplaced("spare", "charm", "charm", 10 + n, 1, False, "no room left", True) for n in range(5))
    half = Unplaced("1001", "card holder", "pocket", 4, 2, False, "too thin")
    text = printed(replace(layout, unplaced=(*fillers, half)))
    assert "Left out: 1 ordered piece and 5 fillers" in text
    assert "5 fillers   no room left" in text and "too thin (2 of 3 parts are cut)" in text


def test_a_long_reason_is_told_in_full_and_once_where_pieces_share_it(layout):
    reason = (
        "no place found in the time given: front and back would fit on shoulder-7, but not both together, see there"
    )
    left = tuple(Unplaced("1006", "case", "front", n, 1, False, reason) for n in (1, 2, 4))
    left += (Unplaced("1007", "case", "front", 1, 1, False, reason),)
    lines = printed(replace(layout, unplaced=left)).splitlines()
    rows = [line for line in lines if line.startswith(" 1006") and "case" in line]
    assert max(map(len, lines)) <= 80 and "1 to 2, 4" in rows[0] and sum("as above" in line for line in lines) == 1
    text = " ".join(" ".join(lines).split())
    assert text.count("no place found") == 1 and "see there" in text
