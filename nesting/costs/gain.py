"""What a layout has over the one that it went on from: pieces, then money, then leather."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from ..model import MM2_PER_DM2, Layout, counted
from .currency import minor_unit
from .figures import Figures, figures_and_costs
from .limits import DEFAULT, CostLimits
from .merit import Merit, merit
from .money import of_orders


@dataclass(frozen=True)
class Worth:
    """What a layout is worth beside another of the same order lines, in the order in which it counts.

    ``merit`` is that of its whole ordered pieces; ``ordered_mm2`` are the ordered parts placed, ``fillers_mm2`` the
    others; ``cost`` is spent on what is ordered.
    """

    merit: Merit
    ordered_mm2: int
    cost: Decimal
    fillers_mm2: int
    consumed_mm2: int
    whole: int
    currency: str
    figures: Figures

    @classmethod
    def of(cls, layout: Layout, limits: CostLimits = DEFAULT) -> Worth:
        """The worth of a layout."""
        numbers, money = figures_and_costs(layout, limits)
        currency, total = layout.workshop.prices.currency, numbers["total"]

        def area(filler: bool) -> int:
            # the same parts turned otherwise have the same area but for rounding
            return round(sum(part.area_mm2 for part in layout.placements if part.filler == filler))

        return cls(
            merit(layout),
            area(False),
            of_orders(layout, money, limits).total.total.quantize(minor_unit(currency)),
            area(True),
            round(total["consumed_mm2"]),
            total["pieces_whole"],
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
        steps = (
            (self.ordered_mm2 - before.ordered_mm2, "more ordered parts"),
            (before.cost - self.cost, f"the orders cost {before.cost - self.cost} {self.currency} less"),
            (self.fillers_mm2 - before.fillers_mm2, "more fillers"),
            (
                before.consumed_mm2 - self.consumed_mm2,
                f"{(before.consumed_mm2 - self.consumed_mm2) / MM2_PER_DM2:.2f} dm2 less leather",
            ),
        )
        first = next(((by, words) for by, words in steps if by), (0, ""))
        return first[1] if first[0] > 0 else ""
