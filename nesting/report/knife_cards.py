"""Cards of what is cut by knife before anything is laid on the bed: parts longer than it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from ..laser.guide import CutFirst, cut_first
from ..laser.turns import Turn
from ..model import Layout, OrderLine, units
from . import words
from .cards import AFTERCARE, Card, PartRow, leather_words
from .drawing import picture
from .guide import draw_first
from .limits import DEFAULT, ReportLimits
from .turn_words import waiting_words

DPI = 200
"""Sharp where small letters stand."""
KNIFE = ("Lay the leather flat, grain side up, on a cutting mat.", "Keep the other hand out of the way of the blade.")
FIRST = "Cut these out first: the knife lines of the cutting guide go through what is left."
TRUE = "The template is true to size only when it is printed at 100 %: measure its check square."


def knife_cards(
    layout: Layout,
    templates: Mapping[str, str],
    orders: Sequence[OrderLine] = (),
    found: Sequence[Turn] = (),
    limits: ReportLimits = DEFAULT,
) -> list[tuple[str, Card]]:
    """A card for every hide that parts longer than the bed are cut from, with the name of the hide.

    Parameters
    ----------
    layout : Layout
    templates : mapping of str to str
        The name of the file of paper templates by hide.
    orders : sequence of OrderLine
        What is known of due dates, threads and notes; may be empty.
    found : sequence of Turn
        As `laser.turns` has them.
    limits : ReportLimits, optional

    Returns
    -------
    list of (str, Card)
    """
    known = {(line.order, line.product): line for line in orders}
    cards = []
    for hide in layout.hides:
        first = [one for one in cut_first(layout, hide.id) if not layout.is_burnt(one.panel)]
        if not first:
            continue
        names = ", ".join(words.plain(one.panel.id, 20) for one in first)
        bed = units.size_words(*layout.workshop.machine.window_mm, layout.workshop.units)
        rows = []
        for number, one in enumerate(first, 1):
            part = one.placement
            line = known.get((part.order, part.product))
            rows.append(
                PartRow(
                    number,
                    words.plain(part.order, 80),
                    words.plain(part.product, 60),
                    words.plain(part.part, 40) + (" (mirrored)" if part.mirrored else ""),
                    1,
                    line.due.isoformat() if line and line.due else "",
                    words.plain(line.thread, 40) if line else "",
                    words.plain(line.note, 80) if line else "",
                )
            )
        loads = [words.plain(one.panel.id, 20) for one in first if one.panel.longer != "knife"]
        later = f" {', '.join(loads)}: a rectangle, then burnt in two loads." if loads else ""
        panels = {one.panel.id for one in first}
        waiting = [one for turn in found if turn.hide == hide.id and turn.panel in panels for one in turn.waiting]
        turn = Turn(hide.id, "", 0, 0, tuple(dict.fromkeys(waiting)), ())
        made = Card(
            title=f"Hide {words.plain(hide.id, 60)}, cut out first by knife: {names}",
            mark=layout.mark,
            leather=leather_words(hide),
            file=templates.get(hide.id, ""),
            picture=picture(draw_first(layout, hide.id), "png", DPI),
            lay=" ".join(_place(one, layout.workshop.units) for one in first),
            setting="a sharp knife and a straightedge, no laser",
            why=f"Longer than the usable bed of {bed}.{later}",
            steps=(),
            masking="No.",
            time="by hand",
            parts=tuple(rows),
            changes="",
            warnings=(FIRST, TRUE) if len(loads) < len(first) else (FIRST,),
            aftercare=AFTERCARE[3:] if not loads else (),
            cautions=KNIFE,
            turn=f"Before any load of this hide. {waiting_words(turn, limits)}" if waiting else "",
        )
        cards.append((hide.id, made))
    return cards


def _place(one: CutFirst, first: str) -> str:
    """Where the two ends of a part's middle line lie on the hide."""
    length = math.dist((one.ends[0].x, one.ends[0].y), (one.ends[1].x, one.ends[1].y))
    ends = " and ".join(
        f"end {end.name[-1]} {units.tape_words(end.straight_mm, first)} straight from M and "
        f"{units.tape_words(second, first)} from N"
        for end, second in zip(one.ends, one.second_mm)
    )
    what = f"template {units.tape_words(length, first)} long"
    if one.panel.longer != "knife":
        wide = one.panel.polygon.area / length
        what = f"rectangle {units.tape_words(length, first)} long and {units.tape_words(wide, first)} wide"
    return f"{words.plain(one.panel.id, 20)}, {what}: {ends}."
