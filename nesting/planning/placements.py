"""A wish where it lies, as a layout has it."""

from __future__ import annotations

from dataclasses import replace

from ..geometry import Shape, place
from ..model import Panel, Placement
from ..model.layout import ANGLE_DIGITS, PLACE_DIGITS
from .case import Lie
from .ready import Ready
from .wishes import Wish


def placement_of(wish: Wish, lie: Lie, panel: Panel, item: Ready) -> Placement:
    """A wish laid on a panel of a hide, with its geometry in hide coordinates."""
    part = wish.drawn
    window = item.window_mm(part.thickness_mm, lie.band) or (0.0, float("inf"))

    def put(drawn: Shape) -> Shape:
        return place(drawn, lie.x, lie.y, lie.angle_deg)

    # a layout file gives stitch lines back from their drawing and the pose as it has it
    noted = round(lie.x, PLACE_DIGITS), round(lie.y, PLACE_DIGITS), round(lie.angle_deg, ANGLE_DIGITS)
    outline = put(part.outline)
    return Placement(
        hide=panel.hide,
        panel=panel.id,
        order=wish.order,
        product=wish.product.name,
        part=part.name,
        piece=wish.piece,
        copy=wish.copy,
        grade=part.grade,
        x=lie.x,
        y=lie.y,
        angle=lie.angle_deg,
        mirrored=wish.mirrored,
        match=wish.match,
        direction=part.direction,
        thickness_mm=part.thickness_mm,
        outline=outline,
        cutouts=tuple(put(cutout) for cutout in part.cutouts),
        stitch=tuple(place(line, *noted) for line in part.stitch),
        engrave=tuple(put(line) for line in part.engrave),
        engrave_how=part.engrave_how,
        filler=wish.product.filler,
        zones=tuple(replace(zone, polygon=put(zone.polygon)) for zone in part.zones),
        setting=item.settings[lie.band].name if item.settings else "",
        under=item.map.under(outline, *window),
        kind=wish.kind,
        flesh_out=wish.product.flesh_out,
        same_lot=wish.product.same_lot,
        drawn=part.curves,
        folds=tuple(put(line) for line in part.folds),
    )
