"""What is asked of every copy of an ordered part, said once in a layout."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import affinity
from shapely.geometry import Polygon

from .hides import Zone
from .job import OrderLine
from .kinds import ANY_KIND, Asking, Kind
from .parts import LONGER, Direction, Part, Product


@dataclass(frozen=True)
class Asked:
    """A part of a product as it was ordered: what all its placements must agree with, and those left out would be.

    Parameters
    ----------
    product, part : str
    count : int
        Copies in one piece, mirrored twins not counted.
    mirrored_twin, filler, flesh_out, same_lot : bool
    same_hide : {"no", "piece", "order"}
    grade : {"A", "B", "C", "D", "E"}
    direction : Direction
    thickness_mm : (least, greatest), or None for any
    outline : Polygon
        As drawn, mm.
    zones : tuple of Zone
        As drawn.
    kind : Kind
        The leather asked for where the order line is silent.
    longer : {"knife", "two loads", "refuse"}
        What becomes of it where it is longer than the bed.
    """

    product: str
    part: str
    count: int
    mirrored_twin: bool
    filler: bool
    flesh_out: bool
    same_hide: str
    same_lot: bool
    grade: str
    direction: Direction
    thickness_mm: tuple[float, float] | None
    outline: Polygon
    zones: tuple[Zone, ...] = ()
    kind: Kind = ANY_KIND
    longer: str = LONGER[0]

    @classmethod
    def of(cls, product: Product, part: Part) -> Asked:
        """What a product asks of one of its parts."""
        burn = bool(part.stitch or part.engrave) if product.burn is None else product.burn
        return cls(
            product.name, part.name, part.count, part.mirrored_twin, product.filler, product.flesh_out,
            product.same_hide, product.same_lot, part.grade, part.direction, part.thickness_mm, part.outline,
            part.zones, Kind.asked(part, product, burn=burn), product.longer,
        )  # fmt: skip

    @property
    def copies(self) -> int:
        """Copies in one piece, mirrored twins counted."""
        return self.count * (1 + self.mirrored_twin)

    def kind_for(self, line: OrderLine | None) -> Kind:
        """The leather asked for with what an order line asks."""
        if line is None:
            return self.kind
        own = Asking(
            leather=self.kind.leather, colour=self.kind.colour, finish=self.kind.finish, tannage=self.kind.tannage
        )
        return Kind.asked(line, own, burn=self.kind.burn)

    def matches(self, order: str, piece: int) -> tuple[str, ...]:
        """Names that the group of a placement may have which it must share its hide with; empty for none."""
        named = {"no": "", "piece": f"{order}/{self.product}/{piece}", "order": f"{order}/{self.product}"}
        # where each lot has one hide only, one lot is one hide
        return (named[self.same_hide], *([named["order"]] if self.same_lot else []))

    def laid(self, mirrored: bool) -> Polygon:
        """Its outline as it is cut: mirrored for a twin, or with the flesh side out, but not for both."""
        if mirrored == self.flesh_out:
            return self.outline
        return affinity.scale(self.outline, -1, 1, origin=(0, 0))
