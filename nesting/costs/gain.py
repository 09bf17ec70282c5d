"""What a layout has over the one that it went on from: pieces, then money, then leather."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal

from ..model import MM2_PER_DM2, Layout, Placement, counted
from .currency import minor_unit
from .figures import Figures, figures
from .limits import DEFAULT, CostLimits
from .merit import Merit, merit
from .money import costs, of_orders
from .offcuts import offcuts


@dataclass(frozen=True)
class Worth:
    """What a layout is worth beside another of the same order lines, in the order in which it counts.

    ``merit`` is that of its ``whole`` ordered pieces; ``ordered_mm2`` are the ordered parts placed. ``cost`` is all
    that is spent, ``spent`` works out what is spent on what is ordered; ``fillers`` are cut besides. ``figures`` are
    those of the layout, empty where it was looked at quickly.
    """

    merit: Merit
    whole: int
    ordered_mm2: int
    cost: Decimal
    spent: Callable[[], Decimal]
    fillers: Counter[tuple[str, str]]
    fillers_mm2: int
    consumed_mm2: int
    currency: str
    figures: Figures = field(default_factory=dict)

    @classmethod
    def of(
        cls, layout: Layout, known: Figures | None = None, quick: bool = False, limits: CostLimits = DEFAULT
    ) -> Worth:
        """The worth of a layout.

        Parameters
        ----------
        layout : Layout
        known : dict, optional
            Its figures, where they are worked out already.
        quick : bool
            Leave the time that burning takes, nine tenths of the work, out of all money: it differs little with where
            parts lie.
        limits : CostLimits, optional
        """
        currency = layout.workshop.prices.currency
        unit = minor_unit(currency)

        def spent() -> Decimal:
            money = costs(layout, limits=limits, timed=not quick)
            return of_orders(layout, money, limits, timed=not quick).total.total.quantize(unit)

        def area(parts: list[Placement]) -> int:
            # the same parts turned otherwise have the same area but for rounding
            return round(sum(part.area_mm2 for part in parts))

        if quick:
            kept = {hide.id: offcuts(layout, hide.id, limits)[0] for hide in layout.hides if layout.on(hide.id)}
            cost = costs(layout, kept, limits, timed=False).total.total.quantize(unit)
            left = sum(offcut.area_mm2 for found in kept.values() for offcut in found)
            consumed = sum(hide.outline.area for hide in layout.hides if hide.id in kept) - left
            numbers: Figures = {}
        else:
            numbers = known or figures(layout, limits)
            cost, consumed = Decimal(numbers["total"]["cost"]), numbers["total"]["consumed_mm2"]
        fillers = [part for part in layout.placements if part.filler]
        return cls(
            merit(layout),
            sum(piece.whole and not piece.filler for piece in layout.pieces()),
            area([part for part in layout.placements if not part.filler]),
            cost,
            spent,
            Counter((part.product, part.part) for part in fillers),
            area(fillers),
            round(consumed),
            currency,
            numbers,
        )

    def over(self, before: Worth) -> str:
        """What it has over another, in words; empty where that is nothing."""
        if self.merit != before.merit:
            if self.merit < before.merit:
                return ""
            more = self.whole - before.whole
            return counted(more, "more ordered piece") if more > 0 else "more of the urgent pieces"
        if self.ordered_mm2 != before.ordered_mm2:
            return "more ordered parts" if self.ordered_mm2 > before.ordered_mm2 else ""
        # with the same fillers all of the money tells the same
        same = self.fillers == before.fillers
        saved = before.cost - self.cost if same else before.spent() - self.spent()
        if saved:
            return f"the orders cost {saved} {self.currency} less" if saved > 0 else ""
        if not same and self.fillers_mm2 != before.fillers_mm2:
            return "more fillers" if self.fillers_mm2 > before.fillers_mm2 else ""
        less = before.consumed_mm2 - self.consumed_mm2
        return f"{less / MM2_PER_DM2:.2f} dm2 less leather" if less > 0 else ""
