"""What could be made of offcuts: one product after another is planned on them, and ranked by the money it earns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from ..costs.figures import figures
from ..engine import Stop
from ..model import Hide, Job, Layout, OrderLine, Product, Workshop
from ..planning.plan import plan
from ..planning.prepare import prepare
from ..planning.ready import ready
from ..referee.rules import check
from .limits import DEFAULT, BookLimits


@dataclass(frozen=True)
class CouldMake:
    """So many pieces of a product from the offcuts, what they sell for, cost and earn, and the layout to cut."""

    product: str
    pieces: int
    price: Decimal
    cost: Decimal
    layout: Layout

    @property
    def margin(self) -> Decimal:
        """What they earn together."""
        return self.price - self.cost


def could_make(
    workshop: Workshop,
    products: Sequence[Product],
    offcuts: Sequence[Hide],
    order: str,
    seconds: float = 5.0,
    *,
    iterations: int | None = None,
    workers: int | None = None,
    progress: Callable[[str], None] = lambda product: None,
    limits: BookLimits = DEFAULT,
) -> list[CouldMake]:
    """Plan as many pieces of each product that has a price as go on the offcuts, all of them for one product at a time.

    Parameters
    ----------
    workshop : Workshop
    products : sequence of Product
    offcuts : sequence of Hide
    order : str
        Name of the order that the layouts are for.
    seconds : float
        For each product.
    iterations : int, optional
        End after so many steps of the search instead.
    workers : int, optional
    progress : callable, optional
        Called with the name of each product as it begins.
    limits : BookLimits, optional

    Returns
    -------
    list of CouldMake
        The most money earned first; products of which no piece goes on are left out.
    """
    found = []
    for product in products:
        area = sum(part.outline.area * part.count * (1 + part.mirrored_twin) for part in product.parts)
        room = sum(hide.outline.area for hide in offcuts)
        count = min(int(room / area), limits.most_made)
        if product.price is None or not count:
            continue
        progress(product.name)
        lines = (OrderLine(order, product.name, count, None, 9),)
        job = Job(workshop, (replace(product, filler=False, partial=False),), tuple(offcuts), lines)
        prepared = prepare(job)
        if not prepared.fitting:
            continue
        stop = Stop(seconds=None if iterations else seconds, iterations=iterations)
        layout = plan(job, stop, prepared=prepared, workers=workers)
        sold = figures(layout)["costs"]["sold"]
        if sold and not check(layout):
            found.append(CouldMake(product.name, sold["pieces"], Decimal(sold["price"]), Decimal(sold["cost"]), layout))
    return sorted(found, key=lambda one: -one.margin)


def why_none(workshop: Workshop, products: Sequence[Product], offcut: Hide, limits: BookLimits = DEFAULT) -> str:
    """Why no piece of some products goes on an offcut, in words, part by part where the offcut itself may be cut.

    Parameters
    ----------
    workshop : Workshop
    products : sequence of Product
        The first few are told of.
    offcut : Hide
    limits : BookLimits, optional

    Returns
    -------
    str
    """
    item = ready(offcut, workshop)
    if not item.open:
        return item.warnings[-1]
    told: dict[str, list[str]] = {}
    for product in products[: limits.most_explained]:
        lines = (OrderLine("one", product.name, 1, None, 9),)
        job = Job(workshop, (replace(product, filler=False),), (offcut,), lines)
        layout = plan(job, Stop(seconds=limits.explained_s), workers=1, partial=True)
        parts = {one.part: one.reason for one in layout.unplaced}
        why = "; ".join(f"{part}: {reason}" for part, reason in parts.items())
        told.setdefault(why or "it has room for one piece, but not in the time given: --seconds gives more", []).append(
            product.name
        )
    more = len(products) - limits.most_explained
    words = [f"{' and '.join(names)}: {why}" for why, names in told.items()]
    return "; ".join([*words, *([f"and {more} products more"] if more > 0 else [])])
