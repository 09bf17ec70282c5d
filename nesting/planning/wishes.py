"""What is wanted: every copy of every part ordered, most urgent first."""

from __future__ import annotations

from dataclasses import dataclass

from ..leather.knife import bed_angle
from ..model import ANY_KIND, Job, Kind, Part, Product, Workshop
from .limits import DEFAULT, PlanLimits

Form = tuple[str, str, bool, Kind]
"""Product, part, whether it is a mirrored twin, and the leather it asks for."""
Ordered = tuple[str, str, int]
"""Order, product and number of an ordered piece."""


@dataclass(frozen=True)
class Wish:
    """One copy of one part of one ordered piece.

    ``match`` names the group that has to come from one hide, empty when none; ``rank`` counts from 0, the most urgent;
    ``kind`` is the leather it is to be cut from.
    """

    order: str
    product: Product
    part: Part
    piece: int
    copy: int
    mirrored: bool
    match: str
    rank: int
    kind: Kind = ANY_KIND

    @property
    def drawn(self) -> Part:
        """The part as it is cut: mirrored where a twin is wanted, or the flesh side shows, but not for both."""
        return self.part.mirrored if self.mirrored != self.product.flesh_out else self.part

    @property
    def key(self) -> tuple[Ordered, Form, int]:
        """What tells it from every other wish."""
        return self.ordered, self.shape, self.copy

    @property
    def ordered(self) -> Ordered:
        """The ordered piece that it belongs to."""
        return self.order, self.product.name, self.piece

    @property
    def shape(self) -> Form:
        """What wishes of the same form, from the same leather, share."""
        return self.product.name, self.part.name, self.mirrored, self.kind


def wanted(job: Job) -> tuple[Wish, ...]:
    """Every copy of every part ordered, most urgent first: by priority, then due date, fillers last."""
    lines = sorted(
        job.orders,
        key=lambda line: (job.product(line.product).filler, line.rank, line.order, line.product),
    )
    steps = [(job.product(line.product).filler, line.rank) for line in lines]
    rank_of = {step: rank for rank, step in enumerate(dict.fromkeys(steps))}
    wishes = []
    for line, step in zip(lines, steps):
        product = job.product(line.product)
        for piece in range(1, line.quantity + 1):
            matches = {
                "no": "",
                "piece": f"{line.order}/{product.name}/{piece}",
                "order": f"{line.order}/{product.name}",
            }
            # of one hide is of one lot as well
            match = matches["order" if product.same_lot else product.same_hide]
            wishes += [
                Wish(line.order, product, part, piece, copy, mirrored, match, rank_of[step], line.kind(product, part))
                for part in product.parts
                for mirrored in ((False, True) if part.mirrored_twin else (False,))
                for copy in range(1, part.count + 1)
            ]
    return tuple(wishes)


def fits_bed(part: Part, workshop: Workshop, limits: PlanLimits = DEFAULT) -> bool:
    """Whether a part and its edge margin can lie on the usable bed whole; leather fed through is burnt a bed at a
    time."""
    hull = part.outline.convex_hull.buffer(max(workshop.margins.edge_mm - limits.rounding_mm, 0.0))
    return bed_angle(hull, *workshop.machine.window_mm) is not None
