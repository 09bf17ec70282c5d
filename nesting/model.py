"""Hides, parts, products and orders, the value objects of a job: frozen, in millimetres and degrees, without any input or output.

A value validates itself once, in its constructor, and is then trusted. Geometry is shapely's; y points up,
angles turn counter-clockwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon

GRADES = ("A", "B", "C", "D", "E")
SAFE_TANNAGE = "vegetable"
TANNAGES = ("vegetable", "chrome", "synthetic", "unknown")
OPERATIONS = ("engrave", "stitch", "cutout", "outline")
"""Kinds of line a part may carry, in burning order (common practice, no published source)."""

MM2_PER_DM2 = 10_000.0
MM2_PER_SQ_FT = 92_903.04
"""1 sq ft = 0.09290304 m2 exactly (international foot, 1959)."""
MM_PER_OZ = 25.4 / 64
"""1 oz of leather thickness = 1/64 in."""

ENGRAVED = ("", "line", "fill")
"""How a shape is engraved: as the setting has it, its lines followed, or filled with rows."""

Point = tuple[float, float]


class ModelError(ValueError):
    """A value that cannot be right: says which thing, which value, and what mends it."""

    def __init__(self, thing: str, value: object, mend: str):
        self.thing, self.value, self.mend = thing, value, mend
        super().__init__(f"{thing}: {value}: {mend}")


def positive(thing: str, value: float, *, zero: bool = False, top: float = 1e5) -> None:
    if not (math.isfinite(value) and (value > 0 or (zero and value == 0)) and value <= top):
        least = "0 or more" if zero else "more than 0"
        raise ModelError(thing, value, f"give a number {least} and at most {top:g}")


def graded(thing: str, value: str) -> None:
    if value not in GRADES:
        raise ModelError(thing, value, "give a grade from A (best) to E (worst)")


def simple(thing: str, polygon: Polygon) -> None:
    if polygon.is_empty or polygon.area <= 0:
        raise ModelError(thing, "empty", "give at least three corners that enclose an area")
    if not polygon.is_valid:
        raise ModelError(thing, shapely.is_valid_reason(polygon), "redraw it so that it does not cross or touch itself")


@dataclass(frozen=True)
class Zone:
    """An area of a hide (or of a part) with a grade of its own."""

    polygon: Polygon
    grade: str
    kind: str = ""

    def __post_init__(self):
        graded("zone grade", self.grade)
        simple("zone", self.polygon)


@dataclass(frozen=True)
class Suggestion:
    """A zone that the tracing proposes. Nothing uses it until a person makes a zone of it.

    ``confidence`` (0 to 1) is how surely something is there, not how surely it is a flaw.
    """

    polygon: Polygon
    grade: str
    kind: str = ""
    confidence: float = 0.5

    def __post_init__(self):
        graded("grade of a suggestion", self.grade)
        simple("suggestion", self.polygon)
        if not 0 <= self.confidence <= 1:
            raise ModelError("confidence of a suggestion", self.confidence, "give a share from 0 to 1")

    def accepted(self) -> Zone:
        """The zone it becomes when a person agrees."""
        return Zone(self.polygon, self.grade, self.kind)


@dataclass(frozen=True)
class Traced:
    """How the outline of a hide was measured: what gave the scale, how fine, and how far it may be off.

    ``residual_pixels`` is how far the references lie from where they should be, root mean square. ``picture`` is the
    straightened photo kept beside the hide file, the centre of its upper left pixel at ``origin_mm``.
    """

    reference: str
    mm_per_pixel: float
    expected_error_mm: float
    residual_pixels: float | None = None
    origin_mm: Point | None = None
    picture: str = ""


@dataclass(frozen=True)
class Reading:
    """One thickness measurement at a point of the hide."""

    x: float
    y: float
    mm: float

    def __post_init__(self):
        positive("reading thickness (mm)", self.mm, top=20)
        if not (math.isfinite(self.x) and math.isfinite(self.y)):
            raise ModelError("reading place", (self.x, self.y), "give finite x and y in mm")


@dataclass(frozen=True)
class Hide:
    """A piece of leather to cut from; ``outline`` carries its holes as interior rings.

    ``leather`` is its name in the setting book; empty for the rows that stand for every leather.
    ``suggestions`` are for a person to look at; no rule, plan or figure heeds them.
    """

    id: str
    outline: Polygon
    zones: tuple[Zone, ...] = ()
    readings: tuple[Reading, ...] = ()
    nominal_mm: float | None = None
    backbone: tuple[Point, Point] | None = None
    tannage: str = "unknown"
    colour: str = ""
    price: Decimal | None = None
    photo: str = ""
    leather: str = ""
    suggestions: tuple[Suggestion, ...] = ()
    traced: Traced | None = None

    def __post_init__(self):
        simple(f"outline of hide {self.id}", self.outline)
        if self.tannage not in TANNAGES:
            raise ModelError(f"tannage of hide {self.id}", self.tannage, f"give one of {', '.join(TANNAGES)}")
        if self.nominal_mm is not None:
            positive(f"nominal_mm of hide {self.id}", self.nominal_mm, top=20)
        if self.price is not None and not (self.price.is_finite() and self.price >= 0):
            raise ModelError(f"price of hide {self.id}", self.price, "give 0 or more")
        if self.backbone is not None and self.backbone[0] == self.backbone[1]:
            raise ModelError(f"backbone of hide {self.id}", self.backbone, "give two different points along the spine")

    @property
    def laser_safe(self) -> bool:
        """Only leather known to be vegetable-tanned is burnt."""
        return self.tannage == SAFE_TANNAGE

    @property
    def backbone_deg(self) -> float:
        """Angle of the backbone in degrees, 0 to 180; a hide without one is taken to lie along x."""
        if self.backbone is None:
            return 0.0
        (x0, y0), (x1, y1) = self.backbone
        return math.degrees(math.atan2(y1 - y0, x1 - x0)) % 180.0


@dataclass(frozen=True)
class Direction:
    """How a part may lie to the backbone. The part's own x axis, as drawn, is its direction.

    ``kind``: ``free`` any angle; ``along`` within ``tolerance_deg`` of the backbone; ``across`` within it of the
    perpendicular; ``fixed`` exactly as drawn relative to the backbone. ``turn`` allows the same turned by 180 degrees.
    """

    kind: str = "free"
    tolerance_deg: float = 0.0
    turn: bool = True

    def __post_init__(self):
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
class Part:
    """One piece to cut, as drawn: geometry in the pattern's coordinates (mm, y up) and what it asks of the leather.

    ``engrave_how`` says of each line of ``engrave`` how it is engraved (see `ENGRAVED`); empty when the pattern is silent.
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

    def __post_init__(self):
        graded(f"grade of part {self.name}", self.grade)
        simple(f"outline of part {self.name}", self.outline)
        if self.outline.interiors:
            raise ModelError(f"outline of part {self.name}", "has holes", "draw the holes as cutouts")
        for cutout in self.cutouts:
            simple(f"cutout of part {self.name}", cutout)
            if not self.outline.buffer(1e-6).contains(cutout):
                raise ModelError(f"cutout of part {self.name}", "leaves the outline", "move it inside the outline")
        if self.engrave_how and (len(self.engrave_how) != len(self.engrave) or not set(self.engrave_how) <= set(ENGRAVED)):
            raise ModelError(f"engrave_how of part {self.name}", self.engrave_how, "give line, fill or nothing for every line of engraving")
        if self.count < 1 or self.count > 10_000:
            raise ModelError(f"count of part {self.name}", self.count, "give 1 to 10000")
        if self.thickness_mm is not None and not 0 < self.thickness_mm[0] < self.thickness_mm[1] <= 20:
            raise ModelError(f"thickness of part {self.name}", self.thickness_mm, "give [least, greatest] in mm")

    @property
    def mirrored(self) -> "Part":
        """The mirrored twin: flipped left to right about the drawing's y axis."""

        def flip(shape):
            return affinity.scale(shape, -1, 1, origin=(0, 0))

        return replace(
            self,
            outline=flip(self.outline),
            cutouts=tuple(map(flip, self.cutouts)),
            stitch=tuple(map(flip, self.stitch)),
            engrave=tuple(map(flip, self.engrave)),
            zones=tuple(replace(zone, polygon=flip(zone.polygon)) for zone in self.zones),
        )


@dataclass(frozen=True)
class Product:
    """What one ordered piece is made of. ``same_hide``: ``no``, ``piece`` (all parts of one piece come from one hide)
    or ``order`` (all parts of the order line do). A ``filler`` is cut only from what is left over."""

    name: str
    parts: tuple[Part, ...]
    same_hide: str = "no"
    filler: bool = False

    def __post_init__(self):
        if self.same_hide not in ("no", "piece", "order"):
            raise ModelError(f"same_hide of product {self.name}", self.same_hide, "give no, piece or order")
        if not self.parts:
            raise ModelError(f"product {self.name}", "no parts", "list at least one part")
        names = [part.name for part in self.parts]
        for name in names:
            if names.count(name) > 1:
                raise ModelError(f"product {self.name}", name, "lists this part twice: use count instead")


@dataclass(frozen=True)
class OrderLine:
    """So many of one product, due on a day. Priority 1 is placed first."""

    order: str
    product: str
    quantity: int
    due: date
    priority: int = 3
    thread: str = ""
    note: str = ""

    def __post_init__(self):
        if not 1 <= self.quantity <= 10_000:
            raise ModelError(f"quantity of order {self.order}", self.quantity, "give 1 to 10000")
        if not 1 <= self.priority <= 9:
            raise ModelError(f"priority of order {self.order}", self.priority, "give 1 (first) to 9 (last)")
