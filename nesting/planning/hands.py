"""What a maker settles on a layout by hand: parts pinned, panels burnt, parts spoiled."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from ..model import Burnt, Layout, PartKey, Placement, Unplaced
from ..model.left_out import SPOILED


def pinned(layout: Layout, keys: Collection[PartKey], stay: bool = True) -> Layout:
    """The layout with some parts pinned where they lie, or free to be moved again."""
    placements = tuple(
        replace(placement, pinned=placement.spot if stay else None) if placement.key in keys else placement
        for placement in layout.placements
    )
    return replace(layout, placements=placements)


def burnt(layout: Layout, panels: Collection[tuple[str, str]], done: bool = True) -> Layout:
    """The layout with some panels, by hide and name, burnt as they are, or not burnt after all.

    A panel from which a part was lost stays burnt. What is longer than the bed is cut out of a hide first, so that it
    counts as cut once a panel of the hide is burnt.
    """
    if not done:
        lost = {(placement.hide, placement.panel) for placement in layout.lost}
        gone = {*panels} - lost
        stay = {b.panel.hide for b in layout.burnt if not b.panel.longer and (b.panel.hide, b.panel.id) not in gone}
        left = tuple(
            b
            for b in layout.burnt
            if (b.panel.hide, b.panel.id) not in gone or (b.panel.longer and b.panel.hide in stay)
        )
        return replace(layout, burnt=left)
    cut_into = {hide for hide, name in panels if (hide, name) not in layout.long_panels}
    panels = {*panels, *(place for place in layout.long_panels if place[0] in cut_into)}
    more = tuple(
        Burnt(panel, tuple((p.key, p.spot) for p in layout.placements if (p.hide, p.panel) == (panel.hide, panel.id)))
        for panel in layout.panels
        if (panel.hide, panel.id) in panels and not layout.is_burnt(panel)
    )
    return replace(layout, burnt=(*layout.burnt, *more))


def spoiled(layout: Layout, part: Placement) -> Layout:
    """The layout without a part that was spoiled at the machine: it is wanted again, its leather is gone, and the panel
    it was cut from counts as burnt."""
    layout = burnt(layout, {(part.hide, part.panel)})
    again = Unplaced(
        part.order, part.product, part.part, part.piece, part.copy, part.mirrored, SPOILED, part.filler
    )  # fmt: skip
    return replace(
        layout,
        placements=tuple(other for other in layout.placements if other.key != part.key),
        unplaced=(*layout.unplaced, again),
        lost=(*layout.lost, replace(part, pinned=None)),
    )


def forgotten(layout: Layout, hides: Collection[str]) -> Layout:
    """The layout without some hides and all that was cut from them, as when it is written down elsewhere."""
    if not hides:
        return layout
    return replace(
        layout,
        hides=tuple(hide for hide in layout.hides if hide.id not in hides),
        panels=tuple(panel for panel in layout.panels if panel.hide not in hides),
        cuts=tuple(cut for cut in layout.cuts if cut.hide not in hides),
        placements=tuple(part for part in layout.placements if part.hide not in hides),
        lost=tuple(part for part in layout.lost if part.hide not in hides),
        burnt=tuple(one for one in layout.burnt if one.panel.hide not in hides),
    )
