"""Parts longer than the bed: what is cut out of the hide for them, by knife or to be burnt in two loads."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..geometry import place
from ..model import Panel, Part, Workshop
from .limits import DEFAULT
from .prepare import Prepared
from .ready import Ready
from .wishes import Wish

KNIFE, TWO_LOADS, REFUSE = "knife", "two loads", "refuse"
NAME = "L{}"
"""Names of the panels of long parts."""


def long_panel(
    name: str, hide: str, wish: Wish, how: str, x: float, y: float, angle_deg: float, workshop: Workshop
) -> Panel:
    """The panel of a long part that lies somewhere."""
    return Panel(name, hide, place(cut_out(wish, how, workshop), x, y, angle_deg), how)


def cut_out(wish: Wish, how: str, workshop: Workshop) -> Polygon:
    """What is cut out of the hide for a part, as it is drawn."""
    if how == KNIFE:
        return Polygon(wish.drawn.outline.exterior)
    frame = wish.drawn.outline.minimum_rotated_rectangle
    return Polygon(frame.buffer(workshop.margins.from_knife_mm + DEFAULT.behind_part_mm, join_style="mitre").exterior)


def in_two_loads(wish: Wish, workshop: Workshop) -> bool:
    """Whether a part is to be burnt in two loads, and not too long for that."""
    long, wide = long_and_wide(cut_out(wish, TWO_LOADS, workshop))
    may = workshop.machine.two_loads_along(long, wide, workshop.margins.kerf_mm)
    return wish.product.longer == TWO_LOADS and bool(may)


def long_and_wide(outline: Polygon) -> tuple[float, float]:
    """Length and width, mm."""
    corners = shapely.get_coordinates(outline.minimum_rotated_rectangle)
    wide, long = sorted(np.hypot(*np.diff(corners[:3], axis=0).T).tolist())
    return long, wide


def as_packed(wish: Wish, how: str, workshop: Workshop) -> Wish:
    """A wish for what is cut out of the hide."""
    part = wish.drawn
    return replace(
        wish,
        part=Part(
            part.name,
            cut_out(wish, how, workshop),
            zones=part.zones,
            grade=part.grade,
            direction=part.direction,
            thickness_mm=part.thickness_mm,
        ),
        mirrored=False,
        product=replace(wish.product, name=f"{wish.product.name}, {wish.mirrored}", flesh_out=False),
    )


def ready_for(item: Ready, how: str) -> Ready:
    """A hide as long parts have it: what is cut by knife asks for no setting."""
    return replace(item, settings=(), open=True) if how == KNIFE else item.with_settings(1)


def way_of(wish: Wish, workshop: Workshop) -> str:
    """What becomes of a part longer than the bed: cut by knife where it is too long for two loads; a filler is left
    out, for places are kept for what is ordered."""
    if wish.product.filler or wish.product.longer == REFUSE:
        return REFUSE
    return TWO_LOADS if in_two_loads(wish, workshop) else KNIFE


@dataclass(frozen=True)
class Told:
    """How the long parts of a job are cut, for people: by product and part its length and width, mm, and the way.

    ``for_two`` tells that two loads were asked for: cut by knife, it is too long for them.
    """

    product: str
    part: str
    size_mm: tuple[float, float]
    how: str
    for_two: bool


def told(prepared: Prepared) -> list[Told]:
    """The parts that are longer than the bed."""
    fitting, found = set(prepared.fitting), dict[tuple[str, str], Told]()
    workshop = prepared.job.workshop
    for index, wish in enumerate(prepared.wishes):
        if index not in fitting:
            how = way_of(wish, workshop)
            key = wish.product.name, wish.part.name
            found.setdefault(key, Told(*key, long_and_wide(wish.part.outline), how, wish.product.longer == TWO_LOADS))
    return list(found.values())
