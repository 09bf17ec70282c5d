"""When a panel is burnt and which orders wait for it, in words."""

from __future__ import annotations

from ..laser.turns import Turn
from . import words
from .limits import DEFAULT, ReportLimits


def turn_words(turn: Turn, limits: ReportLimits = DEFAULT) -> str:
    """Its turn, the knife lines to be cut before, and the orders that wait for it by the day they are due."""
    return " ".join(filter(None, (place_words(turn), lines_words(turn), waiting_words(turn, limits))))


def place_words(turn: Turn) -> str:
    """When it is burnt: first, second and so on; empty for what is not burnt, or the only one."""
    if turn.number == 0 or turn.of == 1:
        return ""
    return f"Burn first of {turn.of}." if turn.number == 1 else f"Burn {_ordinal(turn.number)} of {turn.of}."


def lines_words(turn: Turn) -> str:
    """The knife lines to be cut before; empty where there are none."""
    if not turn.lines:
        return ""
    *most, last = map(str, turn.lines)
    named = f"{', '.join(most)} and {last}" if most else last
    return f"Free once knife line{'s'[: bool(most)]} {named} {'are' if most else 'is'} cut."


def waiting_words(turn: Turn, limits: ReportLimits = DEFAULT) -> str:
    """The orders that wait for it, those due first before the others."""
    days: dict[str, list[str]] = {}
    for one in turn.waiting[: limits.most_orders_named]:
        due = f"due {words.day(one.due.isoformat())}" if one.due else "no due date"
        days.setdefault(due, []).append(words.plain(one.order, 60))
    more = len(turn.waiting) - limits.most_orders_named
    told = "; ".join(f"{', '.join(names)} ({due})" for due, names in days.items())
    return f"Waiting for it: {told}{f' and {more} more' if more > 0 else ''}."


def _ordinal(number: int) -> str:
    ends = {1: "st", 2: "nd", 3: "rd"}
    return f"{number}{'th' if number % 100 in (11, 12, 13) else ends.get(number % 10, 'th')}"
