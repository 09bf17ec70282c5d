"""What is made: parts as they are drawn, and the products made of them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cached_property
from typing import TypeVar

from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import ModelError
from .curves import Curves
from .hides import Zone
from .kinds import Asking
from .values import MOST_COPIES, THICKEST_MM, graded, simple

Shape = TypeVar("Shape", bound=BaseGeometry)

OPERATIONS = ("engrave", "stitch", "cutout", "outline")
"""Kinds of line a part may carry, in burning order (common practice, no published source)."""
LONGER = ("knife", "two loads", "refuse")
"""What becomes of a part that is longer than the bed: cut by knife, burnt in two loads, or left out."""
ENGRAVED = ("", "line", "fill")
"""How a shape is engraved: as the setting has it, its lines followed, or filled with rows."""


@dataclass(frozen=True)
class Direction:
    """How a part may lie to the backbone. The part's own x axis, as drawn, is its direction.

    ``kind``: ``free`` any angle; ``along`` within ``tolerance_deg`` of the backbone; ``across`` within it of the
    perpendicular; ``fixed`` exactly as drawn relative to the backbone. ``turn`` allows the same turned by 180 degrees.
    """

    kind: str = "free"
    tolerance_deg: float = 0.0
    turn: bool = True

    def __post_init__(self) -> None:
        if self.kind not in ("free", "along", "across", "fixed"):
            raise ModelError("direction", self.kind, "give free, along, across or fixed")
        if not 0 <= self.tolerance_deg <= 90:
            raise ModelError("direction tolerance_deg", self.tolerance_deg, "give 0 to 90 degrees")

    def intervals(self, backbone_deg: float) -> tuple[tuple[float, float], ...]:
        """Allowed angles in hide coordinates as closed (low, high) intervals in degrees, low in [0, 360)."""
        if self.kind == "free":
            return ((0.0, 360.0),)
        middle = backbone_deg + (90.0 if self.kind == "across" else 0.0)
        tolerance = 0.0 if self.kind == "fixed" else self.tolerance_deg
        turns = (0.0, 180.0) if self.turn else (0.0,)
        lows = [(middle + turn - tolerance) % 360.0 for turn in turns]
        return tuple((low, low + 2 * tolerance) for low in lows)

    def allows(self, angle_deg: float, backbone_deg: float, slack_deg: float = 1e-6) -> bool:
        """Whether a part turned by ``angle_deg`` keeps to this direction."""
        return any(
            (angle_deg - low + slack_deg) % 360.0 <= high - low + 2 * slack_deg
            for low, high in self.intervals(backbone_deg)
        )


@dataclass(frozen=True)
class Part(Asking):
    """What is cut out whole, as drawn: geometry in the pattern's coordinates (mm, y up), and what it asks of leather.

    ``engrave_how`` says of each line of ``engrave`` how it is engraved (see `ENGRAVED`); empty when the pattern is
    silent. ``curves`` are its lines exactly as drawn, where the others have chords for arcs; None when only those are
    known. ``folds`` are shown and never burnt. ``leather``, ``colour``, ``finish`` and ``tannage`` are what is asked of
    leather where the order is silent.
    """

    name: str
    outline: Polygon
    cutouts: tuple[Polygon, ...] = ()
    stitch: tuple[LineString, ...] = ()
    engrave: tuple[LineString, ...] = ()
    zones: tuple[Zone, ...] = ()
    grade: str = "A"
    direction: Direction = field(default_factory=Direction)
    thickness_mm: tuple[float, float] | None = None
    count: int = 1
    mirrored_twin: bool = False
    engrave_how: tuple[str, ...] = ()
    curves: Curves | None = None
    folds: tuple[LineString, ...] = ()

    def __post_init__(self) -> None:
        super().__post_init__()
        graded(f"grade of part {self.name}", self.grade)
        simple(f"outline of part {self.name}", self.outline)
        if self.outline.interiors:
            raise ModelError(f"outline of part {self.name}", "has holes", "draw the holes as cutouts")
        for cutout in self.cutouts:
            simple(f"cutout of part {self.name}", cutout)
            if not self.outline.buffer(1e-6).contains(cutout):
                raise ModelError(f"cutout of part {self.name}", "leaves the outline", "move it inside the outline")
        if self.engrave_how and (
            len(self.engrave_how) != len(self.engrave) or not set(self.engrave_how) <= set(ENGRAVED)
        ):
            raise ModelError(
                f"engrave_how of part {self.name}",
                self.engrave_how,
                "give line, fill or nothing for every line of engraving",
            )
        if self.curves is not None and self.curves.counts != tuple(map(len, (self.cutouts, self.stitch, self.engrave))):
            raise ModelError(f"curves of part {self.name}", self.curves.counts, "give one for every line of the part")
        if self.count < 1 or self.count > MOST_COPIES:
            raise ModelError(f"count of part {self.name}", self.count, f"give 1 to {MOST_COPIES}")
        if self.thickness_mm is not None and not 0 < self.thickness_mm[0] < self.thickness_mm[1] <= THICKEST_MM:
            raise ModelError(f"thickness of part {self.name}", self.thickness_mm, "give [least, greatest] in mm")

    @cached_property
    def mirrored(self) -> Part:
        """The mirrored twin: flipped left to right about the drawing's y axis."""

        def flip(shape: Shape) -> Shape:
            return affinity.scale(shape, -1, 1, origin=(0, 0))

        return replace(
            self,
            outline=flip(self.outline),
            cutouts=tuple(map(flip, self.cutouts)),
            stitch=tuple(map(flip, self.stitch)),
            engrave=tuple(map(flip, self.engrave)),
            zones=tuple(replace(zone, polygon=flip(zone.polygon)) for zone in self.zones),
            curves=self.curves and self.curves.mirrored,
            folds=tuple(map(flip, self.folds)),
        )


@dataclass(frozen=True)
class Product(Asking):
    """What one ordered piece is made of.

    ``same_hide``: ``no``, ``piece`` (all parts of one piece come from one hide) or ``order`` (all parts of the order
    line do); with ``same_lot`` those of the order line come from hides of one lot. A ``filler`` is cut only from what
    is left over. A piece is cut whole or not at all unless ``partial``. ``price`` is what one piece sells for.
    ``burn`` says whether it needs leather that may be burnt; None: where a part has stitch holes or engraving. With
    ``flesh_out`` the flesh side shows, so that every part is cut mirrored. ``leather``, ``colour``, ``finish`` and
    ``tannage`` are what is asked of leather where neither the order nor the part says. ``pattern`` is the path of its
    drawing in the job folder, empty where it has none. ``longer`` says what becomes of its parts that are longer than
    the bed: see `LONGER`.
    """

    name: str
    parts: tuple[Part, ...]
    same_hide: str = "no"
    filler: bool = False
    partial: bool = False
    price: Decimal | None = None
    burn: bool | None = None
    flesh_out: bool = False
    same_lot: bool = False
    pattern: str = ""
    longer: str = LONGER[0]

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.longer not in LONGER:
            raise ModelError(f"longer of product {self.name}", self.longer, f"give {', '.join(LONGER)}")
        if self.price is not None and not (self.price.is_finite() and self.price >= 0):
            raise ModelError(f"price of product {self.name}", self.price, "give 0 or more")
        if self.same_hide not in ("no", "piece", "order"):
            raise ModelError(f"same_hide of product {self.name}", self.same_hide, "give no, piece or order")
        if not self.parts:
            raise ModelError(f"product {self.name}", "no parts", "list at least one part")
        names = [part.name for part in self.parts]
        for name in names:
            if names.count(name) > 1:
                raise ModelError(f"product {self.name}", name, "lists this part twice: use count instead")
