"""What the doubt of a trace costs, and what would win it back."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from ..leather.regions import DoubtCost, cost_of_doubt, gains
from ..model import MM2_PER_DM2, Hide, Layout, StatedError, counted
from .limits import DEFAULT, CostLimits


def doubt_note(layout: Layout, hide: Hide, limits: CostLimits = DEFAULT) -> str:
    """In words how much of a hide its stated error and its doubts keep from being cut, in dm2 and money, and what would
    win it back; empty where that is next to nothing."""
    edge_mm = layout.workshop.margins.edge_mm
    cost = cost_of_doubt(hide, edge_mm)
    if cost.total_mm2 < limits.least_doubt_mm2:
        return ""
    share = Fraction(cost.total_mm2) / Fraction(hide.outline.area)
    worth = ""
    if hide.price:
        money = float(Fraction(hide.price) * share)
        worth = f", worth {money:.2f} {layout.workshop.prices.currency}"
    ways = [f"looking at {counted(len(cost.doubts_mm2), 'place')} {_dm2(sum(cost.doubts_mm2.values()))}"]
    frees = cost.error_mm2 - second_sheet(hide, edge_mm, limits).error_mm2
    if frees > limits.least_doubt_mm2:
        ways.insert(0, f"a second sheet on the other side of it frees {_dm2(frees)}")
    if sum(cost.doubts_mm2.values()) < limits.least_gain_mm2:
        ways.pop()
    back = f": {'; '.join(ways)}" if ways else ""
    return f"hide {hide.id}: what its photo leaves in doubt keeps out {_dm2(cost.total_mm2)}{worth}{back}"


def next_step(hide: Hide, limits: CostLimits = DEFAULT) -> str:
    """What to do next about a hide's doubt, in one sentence; empty where nothing wins much."""
    cost = cost_of_doubt(hide, 0.0)
    frees = cost.error_mm2 - second_sheet(hide, 0.0, limits).error_mm2
    worth = {number: area for number, area in gains(hide).items() if area > limits.least_gain_mm2}
    won = sum(worth.values())
    if max(frees, won) < limits.least_doubt_mm2:
        return ""
    if frees > won:
        return f"lay a second sheet on the other side of the hide and take the photo again, which frees {_dm2(frees)}"
    best = sorted(worth, key=lambda number: -worth[number])[: limits.most_looked_at]
    named = ", ".join(map(str, sorted(best)))
    places = f"place {named}" if len(best) == 1 else f"places {named}"
    return f"look at {places}, which wins up to {_dm2(sum(worth[number] for number in best))}"


def second_sheet(hide: Hide, edge_mm: float, limits: CostLimits = DEFAULT) -> DoubtCost:
    """What its doubt would cost were a hide photographed with a second sheet on its other side."""
    if hide.error is None:
        return cost_of_doubt(hide, edge_mm)
    left, low, right, high = hide.outline.bounds
    most = max(limits.two_sheets_share * max(right - left, high - low), limits.two_sheets_mm)
    capped = StatedError(
        hide.error.xs, hide.error.ys, tuple(tuple(min(mm, most) for mm in row) for row in hide.error.mm)
    )
    return cost_of_doubt(replace(hide, error=capped), edge_mm)


def _dm2(area_mm2: float) -> str:
    return f"{area_mm2 / MM2_PER_DM2:.1f} dm2"
