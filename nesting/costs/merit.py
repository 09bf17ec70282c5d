"""What a plan is judged by before money: its whole ordered pieces, the most urgent first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction

from ..model import Layout, OrderLine

Merit = tuple[Fraction, ...]
"""Worth of the whole ordered pieces of each rank, the most urgent rank first: the greater is the better."""
LineKey = tuple[str, str]
"""Order and product of an order line."""


def merit(layout: Layout) -> Merit:
    """The worth of the whole ordered pieces of a layout, by rank; fillers count for nothing.

    Layouts of the same order lines can be held against each other.
    """
    ordered = [piece for piece in layout.pieces() if not piece.filler]
    lines = {(piece.order, piece.product) for piece in ordered}
    worth = worths([line for line in layout.lines if (line.order, line.product) in lines], layout.selling_prices)
    sums = dict.fromkeys(range(1 + max([rank for rank, _ in worth.values()], default=0)), Fraction(0))
    for piece in ordered:
        if piece.whole:
            rank, each = worth.get((piece.order, piece.product), (0, Fraction(1)))
            sums[rank] += each
    return tuple(sums.values())


def worths(lines: Iterable[OrderLine], prices: Mapping[str, Decimal]) -> dict[LineKey, tuple[int, Fraction]]:
    """Rank of each order line, 0 the most urgent, and what one whole piece of it counts.

    A rank is a priority and a due date. A piece counts its selling price, or one where some product of its rank has no
    price, or none but 0: money and numbers of pieces cannot be added.
    """
    lines = list(lines)
    steps = sorted({line.rank for line in lines})
    unpriced = {line.rank for line in lines if not prices.get(line.product)}
    found = {}
    for line in lines:
        step = line.rank
        each = Fraction(1) if step in unpriced else Fraction(prices[line.product])
        found[line.order, line.product] = (steps.index(step), each)
    return found
