"""What a maker settles on a layout by hand: parts pinned, panels burnt, parts spoiled."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from ..geometry import Shape, place
from ..model import Burnt, Layout, PartKey, Placement, Setting, Spot, Under, Unplaced
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


def moved(layout: Layout, part: Placement, spot: Spot) -> Layout:
    """The layout with a part laid elsewhere by hand and pinned there, whether it may lie there or not.

    It belongs to the panel of that hide that it lies on or is nearest to, and is burnt with the setting of the hide
    that is surest there, its own where that is as sure.

    Raises
    ------
    ValueError
        When nothing is cut from that hide yet, so that it has no panel.
    """
    panels = [panel for panel in layout.panels if panel.hide == spot.hide]
    if not panels:
        raise ValueError(f"nothing is cut from hide {spot.hide} yet")

    def put(shape: Shape) -> Shape:
        drawn = place(place(shape, -part.x, -part.y, 0.0), 0.0, 0.0, -part.angle)
        return place(drawn, spot.x, spot.y, spot.angle)

    outline = put(part.outline)
    panel = min(panels, key=lambda one: (outline.difference(one.polygon).area, one.polygon.distance(outline)))
    hide = next(one for one in layout.hides if one.id == spot.hide)
    # loads much that nothing else here needs
    from ..leather.thickness import thickness_map

    thickness = thickness_map(hide, layout.workshop.thickness_spread_mm)
    least, greatest = part.thickness_mm or (0.0, float("inf"))

    def under(setting: Setting | None) -> Under | None:
        if setting is None:
            return thickness.under(outline, least, greatest)
        return thickness.under(outline, max(least, setting.thinnest_mm), min(greatest, setting.thickest_mm))

    settings = layout.settings_on(spot.hide)
    choices = {"" if one is None else one.name: under(one) for one in settings or (None,)}

    def sureness(name: str) -> tuple[float, bool]:
        found = choices[name]
        return (-1.0 if found is None else found.confidence, name == part.setting)

    setting = max(choices, key=sureness)
    laid = replace(
        part,
        hide=spot.hide,
        panel=panel.id,
        x=spot.x,
        y=spot.y,
        angle=spot.angle,
        outline=outline,
        cutouts=tuple(map(put, part.cutouts)),
        stitch=tuple(map(put, part.stitch)),
        engrave=tuple(map(put, part.engrave)),
        folds=tuple(map(put, part.folds)),
        zones=tuple(replace(zone, polygon=put(zone.polygon)) for zone in part.zones),
        setting=setting,
        under=choices[setting],
        pinned=spot,
    )
    return replace(layout, placements=tuple(laid if one.key == part.key else one for one in layout.placements))
