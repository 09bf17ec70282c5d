"""What was made of the orders and what was left out, in words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from ..costs.figures import Figures
from ..model import Layout, ranges
from . import words
from .limits import DEFAULT, ReportLimits


def made(figures: Figures) -> str:
    """How many ordered pieces are whole, and how many orders complete."""
    total = figures["total"]
    pieces = f"{total['pieces_whole']} of {words.count(total['pieces_wanted'], 'ordered piece')} whole"
    return f"{pieces}, {total['orders_complete']} of {words.count(total['orders_wanted'], 'order')} complete"


def late(figures: Figures, limits: ReportLimits = DEFAULT, today: date | None = None) -> str:
    """Which orders with pieces left out are late, or will be, by the day they are due; empty where there are none.

    ``today`` is the day it is read on, by default the day it is written.
    """
    now = (today or date.today()).isoformat()
    orders: dict[str, list[str]] = {}
    for row in figures["left_out"]:
        named = orders.setdefault(row["due"] or "", [])
        if not row["filler"] and row["order"] not in named:
            named.append(row["order"])
    late: list[str] = []
    found: list[str] = []
    # days that are known come first
    for due in sorted(orders, key=lambda due: (not due, due)):
        names = [words.plain(name, 60) for name in orders[due][: limits.most_orders_named]]
        more = len(orders[due]) - len(names)
        if names:
            past = bool(due) and due < now
            by = f"due on {words.day(due)}" if past else f"by {words.day(due)}" if due else "not complete"
            (late if past else found).append(f"{by}: {', '.join(names)}" + (f" and {more} more" if more else ""))
    if late:
        late[0] = f"late already and left out, {late[0]}"
    if found and found[0].startswith("by "):
        found[0] = f"late if not cut {found[0]}"
    return "; ".join([*late, *found])


def due_already(layout: Layout, limits: ReportLimits = DEFAULT, today: date | None = None) -> str:
    """Which orders with parts still to be cut or left out were due before ``today``; empty where there are none."""
    now = today or date.today()
    open_lines = {
        (thing.order, thing.product)
        for things in (layout.unplaced, [part for part in layout.placements if not layout.is_burnt(part)])
        for thing in things
        if not thing.filler
    }
    names = {
        line.order for line in layout.lines if line.due and line.due < now and (line.order, line.product) in open_lines
    }
    if not names:
        return ""
    runs = _runs(names)
    more = len(runs) - limits.most_orders_named
    told = ", ".join(" to ".join(words.plain(name, 60) for name in run) for run in runs[: limits.most_orders_named])
    return f"due already: {told}{f' and {more} more' if more > 0 else ''}, {words.count(len(names), 'order')}"


def _runs(names: Iterable[str]) -> list[list[str]]:
    """Names in order, of those that are numbered one after another the first and the last."""
    parted = [(*_NUMBERED.fullmatch(name).groups(), name) for name in names]  # type: ignore[union-attr]
    runs: list[list[str]] = []
    last = None
    for stem, number, name in sorted((stem, int(digits or -1), name) for stem, digits, name in parted):
        if number > 0 and last == (stem, number - 1):
            runs[-1] = [runs[-1][0], name]
        else:
            runs.append([name])
        last = stem, number
    return runs


_NUMBERED = re.compile(r"(.*?)([0-9]{0,9})", re.DOTALL)


def left_out(figures: Figures) -> list[Figures]:
    """Rows of what is left out: ``order``, ``product``, which ``pieces``, and the ``reason``.

    Pieces of an order line that are left out for the same reason share a row; of fillers only the number is told.
    """
    rows: dict[tuple[str, str, bool, str], list[int]] = {}
    for row in figures["left_out"]:
        cut = f" ({row['placed']} of {row['parts']} parts are cut)" if row["placed"] and not row["filler"] else ""
        key = (row["order"], row["product"], bool(row["filler"]), row["reason"] + cut)
        rows.setdefault(key, []).append(row["piece"])
    return [
        {
            "order": order,
            "product": product,
            "pieces": words.count(len(pieces), "filler") if filler else ranges(pieces),
            "reason": reason,
        }
        for (order, product, filler, reason), pieces in rows.items()
    ]


def settled(layout: Layout) -> str:
    """What stays as it is: panels burnt, parts pinned, parts of no open order; empty where nothing was settled."""
    pinned = sum(placement.pinned is not None for placement in layout.placements)
    names = ", ".join(words.plain(burnt.name, 60) for burnt in layout.burnt)
    told = [
        f"burnt already: {words.count(len(layout.burnt), 'panel')} ({names})" if layout.burnt else "",
        f"pinned: {words.count(pinned, 'part')}" if pinned else "",
        f"cut, and of no open order any more: {words.count(len(layout.lost), 'part')}" if layout.lost else "",
    ]
    return "; ".join(filter(None, told))


def left_out_title(figures: Figures) -> str:
    """What is left out, by number."""
    fillers = sum(row["filler"] for row in figures["left_out"])
    ordered = len(figures["left_out"]) - fillers
    counts = [words.count(ordered, "ordered piece")] * (ordered > 0) + [words.count(fillers, "filler")] * (fillers > 0)
    return " and ".join(counts)
