"""The summary of a layout for the terminal, in 80 columns."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from ..costs.figures import Figures
from ..leather.few import refused_for_few
from ..model import Layout
from . import words
from .limits import DEFAULT, ReportLimits
from .made import due_already, late, left_out, left_out_title, made


def print_summary(
    figures: Figures,
    console: Console,
    limits: ReportLimits = DEFAULT,
    first: str = "mm",
    layout: Layout | None = None,
) -> None:
    """Print the pieces made, what is left out and why, what it costs and brings in, yields and offcuts.

    Parameters
    ----------
    figures : dict
        As `figures.figures` gives them.
    console : rich.console.Console
    limits : ReportLimits, optional
    first : str
        The units shown first: ``mm`` or ``inch``.
    layout : Layout, optional
        Tells which of its orders were due before today.
    """
    most = limits.most_rows
    due = "" if layout is None else due_already(layout, limits)
    behind = "; ".join(filter(None, (due, late(figures, limits))))
    console.print(Text.assemble((made(figures), "bold"), f"; {behind}" if behind else ""))
    credit = None if layout is None else layout.workshop.prices.offcut_credit
    tables = [_left_out(figures, most), _orders(figures, most, first, credit), _margins(figures, most)]
    for table in (*tables, _leather(figures, most, first), _offcuts(figures, most, first)):
        if table.row_count:
            console.print()
            console.print(table)
    few = [] if layout is None else refused_for_few(layout)
    for note in (*few, *figures["costs"]["notes"]):
        console.print(Text(f"note: {words.plain(note, 600)}"))


def _leather(figures: Figures, most: int, first: str) -> Table:
    one, other = words.area_units(first)
    table = _table("Leather used", "hide", ">parts", f">{one}", f">{other}", ">of hide", ">of usable", ">of used")
    cut = [row for row in figures["hides"] if row["cut"]]
    for row in cut[:most]:
        _add(table, row["hide"], *_yield_cells(row, first))
    if len(cut) != 1:
        table.add_section()
        _add(table, "all hides cut", *_yield_cells(figures["total"], first), bold=True)
    untouched = [words.plain(row["hide"]) for row in figures["hides"] if not row["cut"]]
    table.caption = Text(
        "Used: the hide less offcuts. Yields: the parts' share of the hide, of its usable area, of the leather used."
        + (f" Untouched: {words.plain(', '.join(untouched))}." if untouched else "")
    )
    return table


def _yield_cells(row: Figures, first: str) -> tuple[str, ...]:
    shares = (words.share(row[f"yield_of_{whole}"]) for whole in ("hide", "usable", "consumed"))
    return (str(row["placed"]), *words.areas(row["consumed_mm2"], first), *shares)


def _orders(figures: Figures, most: int, first: str, credit: float | None) -> Table:
    costs = figures["costs"]
    table = _table(
        f"Orders and what they cost, {costs['currency']}",
        "order",
        "product",
        ">pieces",
        ">leather",
        ">other",
        ">total",
        ">a piece",
    )
    for row in costs["lines"][:most]:
        _add(
            table,
            row["order"],
            row["product"],
            f"{row['complete']} of {row['pieces']}",
            *_money_cells(row),
            row["each"] or "-",
        )
    table.add_section()
    _add(table, "total", "", "", *_money_cells(costs), "", bold=True)
    offcuts = f"{words.areas(figures['total']['offcuts_mm2'], first)[0]} {words.area_units(first)[0]}"
    at = "" if credit is None else f" ({offcuts} at {100 * credit:g} % of their price)"
    table.caption = Text(
        f"Hides {costs['paid']}, offcuts kept -{costs['credited']}{at}, masking {costs['masking']}, "
        f"machine {costs['machine']}, labour {costs['labour']}, other costs of whole pieces {costs['other']}."
    )
    _more(table, costs["lines"], most)
    return table


def _money_cells(row: Figures) -> tuple[str, str, str]:
    return row["leather"], str(Decimal(row["total"]) - Decimal(row["leather"])), row["total"]


def _left_out(figures: Figures, most: int) -> Table:
    rows = left_out(figures)
    table = _table(f"Left out: {left_out_title(figures)}", "order", "product", ">piece", "reason")
    for before, row in zip([None, *rows], rows[:most]):
        # a reason takes several lines of a narrow column
        reason = "as above" if before is not None and before["reason"] == row["reason"] else row["reason"]
        _add(table, row["order"], row["product"], row["pieces"], reason, longest=300)
    _more(table, rows, most)
    return table


def _margins(figures: Figures, most: int) -> Table:
    costs = figures["costs"]
    table = _table(
        f"What whole pieces bring in, {costs['currency']}",
        "order", "product", ">pieces", ">price", ">margin", ">a piece", ">of price",
    )  # fmt: skip
    for row in costs["margins"][:most]:
        _add(table, row["order"], row["product"], *_margin_cells(row))
    if costs["sold"]:
        table.add_section()
        _add(table, "total", "", *_margin_cells(costs["sold"]), bold=True)
    table.caption = Text("Margin: the selling price less what the pieces cost; its share is of the price.")
    _more(table, costs["margins"], most)
    return table


def _margin_cells(row: Figures) -> tuple[str, ...]:
    share = "-" if row["share"] is None else words.share(row["share"])
    return str(row["pieces"]), row["price"], row["margin"], row["each"], share


def _offcuts(figures: Figures, most: int, first: str) -> Table:
    one, other = words.area_units(first)
    sides = (">rectangle, in", ">mm") if first == "inch" else (">rectangle, mm", ">in")
    table = _table("Offcuts to keep", "hide", "offcut", f">{one}", f">{other}", *sides)
    rows = [item | {"hide": row["hide"]} for row in figures["hides"] for item in row["offcuts"]]
    for item in rows[:most]:
        sizes = words.size_mm(*item["rectangle_mm"]), words.size_inches(*item["rectangle_mm"])
        _add(
            table,
            item["hide"],
            words.offcut_name(item["id"]),
            *words.areas(item["area_mm2"], first),
            *(sizes[::-1] if first == "inch" else sizes),
        )
    _more(table, rows, most)
    return table


def _table(title: str, *columns: str) -> Table:
    table = Table(
        title=title,
        title_justify="left",
        caption_justify="left",
        box=box.SIMPLE_HEAD,
        title_style="bold",
        pad_edge=False,
    )
    for column in columns:
        table.add_column(column.lstrip(">"), justify="right" if column.startswith(">") else "left", overflow="fold")
    return table


def _add(table: Table, *cells: str, bold: bool = False, longest: int = 60) -> None:
    # Text and not str: names come from files and must not be read as markup.
    table.add_row(*(Text(words.plain(cell, longest), style="bold" if bold else "") for cell in cells))


def _more(table: Table, rows: Sequence[Figures], most: int) -> None:
    if len(rows) > most:
        table.caption = Text(
            " ".join(filter(None, (f"And {len(rows) - most} more in the report.", str(table.caption or ""))))
        )
