"""What was made of the orders and what was left out, in words."""

from __future__ import annotations

from collections import Counter

from ..costs.figures import Figures
from ..model import Layout
from . import words
from .limits import DEFAULT, ReportLimits


def made(figures: Figures) -> str:
    """How many ordered pieces are whole, and how many orders complete."""
    total = figures["total"]
    pieces = f"{total['pieces_whole']} of {words.count(total['pieces_wanted'], 'ordered piece')} whole"
    return f"{pieces}, {total['orders_complete']} of {words.count(total['orders_wanted'], 'order')} complete"


def late(figures: Figures, limits: ReportLimits = DEFAULT) -> str:
    """Which orders with pieces left out will be late, by the day they are due; empty where there are none."""
    orders: dict[str, list[str]] = {}
    for row in figures["left_out"]:
        named = orders.setdefault(row["due"] or "", [])
        if not row["filler"] and row["order"] not in named:
            named.append(row["order"])
    found: list[str] = []
    # days that are known come first
    for due in sorted(orders, key=lambda due: (not due, due)):
        names = [words.plain(name, 60) for name in orders[due][: limits.most_orders_named]]
        more = len(orders[due]) - len(names)
        if names:
            by = f"by {words.day(due)}" if due else "not complete"
            found.append(f"{by}: {', '.join(names)}" + (f" and {more} more" if more else ""))
    text = "; ".join(found)
    return f"late if not cut {text}" if text.startswith("by ") else text


def left_out(figures: Figures) -> list[Figures]:
    """Rows of what is left out: ``order``, ``product``, which ``pieces``, and the ``reason``.

    Every ordered piece has a row of its own; fillers of an order line, left out for the same reason, are counted.
    """
    rows = [
        {
            "order": row["order"],
            "product": row["product"],
            "pieces": str(row["piece"]),
            "reason": row["reason"] + (f" ({row['placed']} of {row['parts']} parts are cut)" if row["placed"] else ""),
        }
        for row in figures["left_out"]
        if not row["filler"]
    ]
    fillers = Counter((row["order"], row["product"], row["reason"]) for row in figures["left_out"] if row["filler"])
    return rows + [
        {"order": order, "product": product, "pieces": words.count(count, "filler"), "reason": reason}
        for (order, product, reason), count in fillers.items()
    ]


def settled(layout: Layout) -> str:
    """What stays as it is: panels burnt, parts pinned, parts lost; empty where nothing was settled."""
    pinned = sum(placement.pinned is not None for placement in layout.placements)
    names = ", ".join(words.plain(burnt.name, 60) for burnt in layout.burnt)
    told = [
        f"burnt already: {words.count(len(layout.burnt), 'panel')} ({names})" if layout.burnt else "",
        f"pinned: {words.count(pinned, 'part')}" if pinned else "",
        f"lost, their leather gone: {words.count(len(layout.lost), 'part')}" if layout.lost else "",
    ]
    return "; ".join(filter(None, told))


def left_out_title(figures: Figures) -> str:
    """What is left out, by number."""
    fillers = sum(row["filler"] for row in figures["left_out"])
    ordered = len(figures["left_out"]) - fillers
    counts = [words.count(ordered, "ordered piece")] * (ordered > 0) + [words.count(fillers, "filler")] * (fillers > 0)
    return " and ".join(counts)
