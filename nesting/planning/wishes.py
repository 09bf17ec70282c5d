"""What is wanted: every copy of every part ordered, most urgent first."""

from __future__ import annotations

from dataclasses import dataclass

from ..leather.knife import bed_angle
from ..model import ANY_KIND, Hide, Job, Kind, Part, PartKey, Product, Workshop
from .limits import DEFAULT, PlanLimits

Form = tuple[str, str, bool, Kind, frozenset[str] | None]
"""Product, part, whether it is a mirrored twin, the leather it asks for, and the hides it may come from."""
Ordered = tuple[str, str, int]
"""Order, product and number of an ordered piece."""


@dataclass(frozen=True)
class Wish:
    """One copy of one part of one ordered piece.

    ``match`` names the group that has to come from one hide, empty when none; ``rank`` counts from 0, the most urgent;
    ``kind`` is the leather it is to be cut from. ``lot`` names the group that has to come from hides of one lot, empty
    when none. ``hides`` are those that it must come from for what else lies there or for its lot; None: from any.
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
    lot: str = ""
    hides: frozenset[str] | None = None

    def allows(self, hide: Hide) -> bool:
        """Whether it may come from a hide at all."""
        return self.kind.allows(hide) and (self.hides is None or hide.id in self.hides)

    @property
    def drawn(self) -> Part:
        """The part as it is cut: mirrored where a twin is wanted, or the flesh side shows, but not for both."""
        return self.part.mirrored if self.mirrored != self.product.flesh_out else self.part

    @property
    def key(self) -> PartKey:
        """What tells it from every other wish; that of its placement."""
        return self.order, self.product.name, self.part.name, self.piece, self.copy, self.mirrored

    @property
    def ordered(self) -> Ordered:
        """The ordered piece that it belongs to."""
        return self.order, self.product.name, self.piece

    @property
    def shape(self) -> Form:
        """What wishes of the same form, from the same leather, share."""
        return self.product.name, self.part.name, self.mirrored, self.kind, self.hides


def wanted(job: Job) -> tuple[Wish, ...]:
    """Every copy of every part ordered, most urgent first: by priority, then due date, fillers last."""
    lines = sorted(
        job.orders,
        key=lambda line: (job.product(line.product).filler, line.rank, line.order, line.product),
    )
    steps = [(job.product(line.product).filler, line.rank) for line in lines]
    rank_of = {step: rank for rank, step in enumerate(dict.fromkeys(steps))}
    # where no lot has more than one hide, one lot is one hide
    shared = len({hide.lot_key for hide in job.hides}) < len(job.hides)
    wishes = []
    for line, step in zip(lines, steps):
        product = job.product(line.product)
        for piece in range(1, line.quantity + 1):
            matches = {
                "no": "",
                "piece": f"{line.order}/{product.name}/{piece}",
                "order": f"{line.order}/{product.name}",
            }
            match = matches["order" if product.same_lot and not shared else product.same_hide]
            lot = matches["order"] if product.same_lot and shared else ""
            wishes += [
                Wish(
                    line.order,
                    product,
                    part,
                    piece,
                    copy,
                    mirrored,
                    match,
                    rank_of[step],
                    line.kind(product, part),
                    lot,
                )
                for part in product.parts
                for mirrored in ((False, True) if part.mirrored_twin else (False,))
                for copy in range(1, part.count + 1)
            ]
    return tuple(wishes)


def fits_bed(part: Part, workshop: Workshop, limits: PlanLimits = DEFAULT) -> bool:
    """Whether a part and the margin along knife lines can lie on the usable bed whole; leather fed through is burnt a
    bed at a time."""
    hull = part.outline.convex_hull.buffer(max(workshop.margins.from_knife_mm - limits.rounding_mm, 0.0))
    return bed_angle(hull, *workshop.machine.window_mm) is not None
