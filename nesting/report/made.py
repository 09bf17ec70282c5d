"""What was made of the orders and what was left out, in words."""

from __future__ import annotations

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
        late[0] = f"late already, {late[0]}"
    if found and found[0].startswith("by "):
        found[0] = f"late if not cut {found[0]}"
    return "; ".join([*late, *found])


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
