"""What a piece costs besides its leather and the time it takes: the rows that a workshop lists."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from ..model import Part, Placement, Product, Workshop
from .currency import minor_unit
from .limits import DEFAULT, CostLimits


def per_piece(workshop: Workshop, product: Product, price: Decimal | None = None) -> dict[str, Decimal]:
    """What each row of the workshop's costs comes to for one piece of a product, see ``for_one``."""
    parts = [part for part in product.parts for _ in range(part.count * (1 + part.mirrored_twin))]
    return for_one(workshop, product.name, parts, price)


def for_one(
    workshop: Workshop,
    product: str,
    parts: Sequence[Part | Placement],
    price: Decimal | None = None,
    limits: CostLimits = DEFAULT,
) -> dict[str, Decimal]:
    """What each row of the workshop's costs comes to for one piece of some parts, rounded to the minor unit, halves up.

    Rows of one name are added up. Those that are a share of the price count nothing where it is not known.
    """
    unit = minor_unit(workshop.prices.currency)
    found: dict[str, Decimal] = defaultdict(lambda: 0 * unit)
    for row in workshop.extras:
        if row.product and row.product.casefold() != product.casefold():
            continue
        times = {
            "piece": Fraction(1),
            "part": Fraction(len(parts)),
            "metre of stitching": Fraction(0) if row.per != "metre of stitching" else stitched_m(parts, limits),
            "percent of price": Fraction(price or 0) / 100,
        }[row.per]
        exact = Fraction(row.amount) * times
        cents = Decimal(exact.numerator) / Decimal(exact.denominator)
        found[row.name] += cents.quantize(unit, ROUND_HALF_UP)
    return dict(found)


def share_of_price(workshop: Workshop, product: str) -> Fraction:
    """The share of its price, 0 to 1 and beyond, that fees and taxes take off it."""
    rows = (row for row in workshop.extras if row.product.casefold() in ("", product.casefold()))
    return sum((Fraction(row.amount) / 100 for row in rows if row.per == "percent of price"), Fraction(0))


def stitched_m(parts: Sequence[Part | Placement], limits: CostLimits = DEFAULT) -> Fraction:
    """Metres of stitch holes in some parts, counted in each: two parts sewn together both have them."""
    lengths: dict[str, float] = {}
    for part in parts:
        name = part.name if isinstance(part, Part) else part.part
        if name not in lengths:
            lengths[name] = stitched_mm(part, limits)
    mm = sum(lengths[part.name if isinstance(part, Part) else part.part] for part in parts)
    return Fraction(round(mm, 3)).limit_denominator(10**6) / 1000


def stitched_mm(part: Part | Placement, limits: CostLimits = DEFAULT) -> float:
    """The length of a part's rows of stitch holes, mm: from hole to hole, gaps wider than a stitch left out."""
    if len(part.stitch) < 2:
        return 0.0
    import numpy as np
    from scipy.sparse.csgraph import minimum_spanning_tree
    from scipy.spatial.distance import pdist, squareform

    middles = np.array([hole.envelope.centroid.coords[0] for hole in part.stitch])
    lengths = minimum_spanning_tree(squareform(pdist(middles))).data
    return float(lengths[lengths <= limits.longest_stitch_mm].sum())
