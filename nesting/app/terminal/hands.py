"""What the commands say by which a maker settles a layout by hand."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ...book.book import Book
from ...model import Placement, counted
from ...planning.kept import Kept
from ..actions import hands
from ..actions.hands import Which
from .console import say

MOST_NAMED = 12
"""Parts told by name in one go; more are counted."""


def run_pin(folder: Path, which: Which, stay: bool) -> None:
    """Pin parts or let them go, and tell which."""
    file = folder / "out" / "layout.json"
    found = hands.pin_parts(file, which, stay)
    does = "stays where it lies" if stay else "may be moved again"
    for part in found[:MOST_NAMED]:
        say(f"{part.name} on {part.hide}/{part.panel}: {does}")
    if len(found) > MOST_NAMED:
        say(f"and {len(found) - MOST_NAMED} more")
    say(f"{file}: {counted(len(found), 'part')} {'pinned' if stay else 'no longer pinned'}; the next plan heeds it")


def run_again(folder: Path, which: Which) -> None:
    """Take a spoiled part off the layout, and tell what comes next."""
    part, files = hands.make_again(folder / "out" / "layout.json", which)
    say(f"{part.name} is wanted again; panel {part.hide}/{part.panel} counts as burnt, and the rest of it as made")
    say("Open: " + ", ".join(str(file) for file in files if file.suffix == ".html"))
    say(f"Next: nesting plan {folder} --resume")


def say_kept(kept: Kept, folder: Path) -> None:
    """Tell what stays of an earlier layout of a job folder, and what is placed anew and why."""
    burnt = {(one.panel.hide, one.panel.id) for one in kept.burnt}
    cut = sum((p.hide, p.panel) in burnt for p in kept.placements)
    pinned = sum(p.pinned is not None and (p.hide, p.panel) not in burnt for p in kept.placements)
    # parts longer than the bed lie still though nobody pinned them
    hold = len(kept.loose) + len(kept.placements) - cut - pinned
    kinds = [
        f"{counted(cut, 'part')} on {counted(len(kept.burnt), 'burnt panel')}" if kept.burnt else "",
        f"{pinned} pinned" if pinned else "",
        f"{hold} that still hold" if hold > 0 else "",
    ]
    say(f"kept of the layout at hand: {', '.join(filter(None, kinds)) or 'nothing'}")
    if kept.lost:
        book = Book(folder) if Book.there(folder) else None
        became = {} if book is None else book.what_became(kept.lost)
        told = ", ".join(f"{became[what]} {what}" for what in ("made", "spoiled", "no longer wanted") if what in became)
        if sum(became.values()) < len(kept.lost):
            told = "made, spoiled or no longer wanted"
        say(f"on burnt panels besides: {counted(len(kept.lost), 'part')} that no open order has: {told}")
    reasons: dict[str, list[Placement]] = {}
    for part, why in kept.dropped:
        reasons.setdefault(why, []).append(part)
    for why, parts in reasons.items():
        say(f"no longer holds: {_named(parts)}: {why}", "yellow")


def _named(parts: Sequence[Placement]) -> str:
    named = ", ".join(f"{part.name}{' (pinned)' if part.pinned else ''}" for part in parts[:MOST_NAMED])
    return named + (f" and {len(parts) - MOST_NAMED} more" if len(parts) > MOST_NAMED else "")
