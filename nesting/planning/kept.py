"""What a plan keeps of an earlier one: parts that lie still, their panels and knife lines, and leather that is gone."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import shapely
from shapely.geometry import Polygon

from ..geometry import Area, areal, offset
from ..leather.knife import cut_up, same_leather
from ..model import Burnt, Cut, Hide, Layout, OrderedPiece, Panel, PartKey, Placement, Setting


@dataclass(frozen=True, eq=False)
class Kept:
    """What stays of an earlier layout.

    Parameters
    ----------
    placements : tuple of Placement
        Parts that lie where they lay: a search has them as leather that is taken, not as wishes.
    loose : tuple of Placement
        Parts that still hold as well, but may be moved where a piece would be left out otherwise.
    panels : tuple of Panel
        Those that hold any of them, and those that are burnt.
    cuts : tuple of Cut
        The knife lines that these panels need, in the order they are made.
    burnt : tuple of Burnt
    lost : tuple of Placement
        As in a layout.
    settings : dict
        By hide the settings that burnt parts were burnt with.
    hides : tuple of Hide
        Hides that hold burnt parts and are no longer among those to use.
    dropped : tuple of (Placement, str)
        Parts that hold no longer, and why: they are placed anew where they are still wanted.
    """

    placements: tuple[Placement, ...] = ()
    loose: tuple[Placement, ...] = ()
    panels: tuple[Panel, ...] = ()
    cuts: tuple[Cut, ...] = ()
    burnt: tuple[Burnt, ...] = ()
    lost: tuple[Placement, ...] = ()
    settings: dict[str, tuple[Setting, ...]] = field(default_factory=dict)
    hides: tuple[Hide, ...] = ()
    dropped: tuple[tuple[Placement, str], ...] = ()

    @property
    def tight(self) -> Kept:
        """The same with nothing loose: everything that holds lies still."""
        return replace(self, placements=(*self.placements, *self.loose), loose=())

    @property
    def fixed(self) -> Kept:
        """The same without what is loose, and without the panels that only that needs."""
        used = {(placement.hide, placement.panel) for placement in self.placements}
        panels = tuple(p for p in self.panels if (p.hide, p.id) in used or self.is_burnt(p))
        return replace(self, loose=(), panels=panels)

    @cached_property
    def keys(self) -> frozenset[PartKey]:
        """The ordered parts that lie still."""
        return frozenset(placement.key for placement in self.placements)

    @cached_property
    def opened(self) -> frozenset[str]:
        """The hides cut into already."""
        parts = [part.hide for part in (*self.placements, *self.lost)]
        return frozenset([*parts, *(panel.hide for panel in self.panels)])

    def is_burnt(self, panel: Panel) -> bool:
        """Whether a panel is burnt."""
        return any((burnt.panel.hide, burnt.panel.id) == (panel.hide, panel.id) for burnt in self.burnt)

    def moved(self, layout: Layout) -> list[Placement]:
        """What held of the earlier layout and lies elsewhere in the one that came of it."""
        spots = {placement.key: placement.spot for placement in layout.placements}
        return [placement for placement in self.loose if spots.get(placement.key) not in (None, placement.spot)]

    def left_out(self, layout: Layout) -> list[OrderedPiece]:
        """The pieces of which something held of the earlier layout, and that are not whole in the one that came of
        it."""
        before = {(part.order, part.product, part.piece) for part in self.loose}
        return [p for p in layout.pieces() if (p.order, p.product, p.piece) in before and not p.whole]

    def leather(self, hide: Hide) -> list[Polygon]:
        """The bits of a hide that more may be placed on, as the knife lines that stay leave them."""
        panels = [panel for panel in self.panels if panel.hide == hide.id]
        found = []
        for bit in cut_up(hide, self.cuts, out=self.cut_out(hide.id)):
            panel = next((panel for panel in panels if same_leather(panel.polygon, bit)), None)
            if panel is None:
                found.append(bit)
            elif not self.is_burnt(panel):
                found.append(panel.polygon)
        return found

    def cut_out(self, hide_id: str) -> tuple[Polygon, ...]:
        """What is cut out of a hide before its knife lines, for parts longer than the bed."""
        return tuple(panel.polygon for panel in self.panels if panel.longer and panel.hide == hide_id)

    def gone(self, hide_id: str) -> list[Polygon]:
        """The panels of a hide that are burnt."""
        return [burnt.panel.polygon for burnt in self.burnt if burnt.panel.hide == hide_id]

    def taken(self, hide_id: str, half_mm: float) -> Area:
        """Leather of a hide on which nothing may lie any more: burnt panels, and parts that lie still with so much
        about them."""
        lying = [offset(part.outline, half_mm) for part in self.placements if part.hide == hide_id]
        return areal(shapely.union_all([*lying, *self.gone(hide_id)]))


NOTHING = Kept()
"""Where there is no earlier layout to heed."""
