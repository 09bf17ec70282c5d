"""The value objects of the whole job: frozen, in millimetres and degrees, without any input or output.

A value validates itself once, in its constructor, and is then trusted. Geometry is shapely's; y points up,
angles turn counter-clockwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

import numpy as np
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

Point = tuple[float, float]


class ModelError(ValueError):
    """A value that cannot be right: says which thing, which value, and what mends it."""

    def __init__(self, thing: str, value: object, mend: str):
        self.thing, self.value, self.mend = thing, value, mend
        super().__init__(f"{thing}: {value}: {mend}")


def _positive(thing: str, value: float, *, zero: bool = False, top: float = 1e5) -> None:
    if not (math.isfinite(value) and (value > 0 or (zero and value == 0)) and value <= top):
        least = "0 or more" if zero else "more than 0"
        raise ModelError(thing, value, f"give a number {least} and at most {top:g}")


def _grade(thing: str, value: str) -> None:
    if value not in GRADES:
        raise ModelError(thing, value, "give a grade from A (best) to E (worst)")


def _simple(thing: str, polygon: Polygon) -> None:
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
        _grade("zone grade", self.grade)
        _simple("zone", self.polygon)


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
        _grade("grade of a suggestion", self.grade)
        _simple("suggestion", self.polygon)
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
        _positive("reading thickness (mm)", self.mm, top=20)
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
        _simple(f"outline of hide {self.id}", self.outline)
        if self.tannage not in TANNAGES:
            raise ModelError(f"tannage of hide {self.id}", self.tannage, f"give one of {', '.join(TANNAGES)}")
        if self.nominal_mm is not None:
            _positive(f"nominal_mm of hide {self.id}", self.nominal_mm, top=20)
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
    """One piece to cut, as drawn: geometry in the pattern's coordinates (mm, y up) and what it asks of the leather."""

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

    def __post_init__(self):
        _grade(f"grade of part {self.name}", self.grade)
        _simple(f"outline of part {self.name}", self.outline)
        if self.outline.interiors:
            raise ModelError(f"outline of part {self.name}", "has holes", "draw the holes as cutouts")
        for cutout in self.cutouts:
            _simple(f"cutout of part {self.name}", cutout)
            if not self.outline.buffer(1e-6).contains(cutout):
                raise ModelError(f"cutout of part {self.name}", "leaves the outline", "move it inside the outline")
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


SETTING_OPERATIONS = ("cut", "engrave shallow", "engrave deep")
WINDOW_SHARE = 0.1
"""Default rule: a row whose window nobody tested is trusted for leather up to this share thinner or thicker. Common
practice of keeping near what was tested; no published source."""


@dataclass(frozen=True)
class Setting:
    """Speed, power and passes tested at one thickness, and the thickness window in which they cut (or engrave) clean.

    ``leather`` names the leather it was tested on; a row without a name stands for every leather. An end of the window
    that nobody tested comes from the default rule (see `WINDOW_SHARE`), and ``basis`` then says so. ``line_spacing_mm``
    is the distance between the lines with which an engraving fills a closed shape; 0 follows its edge only.
    """

    name: str
    thickness_mm: float
    speed_mm_s: float
    power_percent: float
    passes: int
    thinnest_mm: float | None = None
    thickest_mm: float | None = None
    operation: str = "cut"
    leather: str = ""
    line_spacing_mm: float = 0.0
    basis: str = "tested"

    def __post_init__(self):
        _positive(f"thickness_mm of setting {self.name}", self.thickness_mm, top=20)
        _positive(f"speed_mm_s of setting {self.name}", self.speed_mm_s, top=5000)
        _positive(f"power_percent of setting {self.name}", self.power_percent, top=100)
        if not 1 <= self.passes <= 20:
            raise ModelError(f"passes of setting {self.name}", self.passes, "give 1 to 20")
        if self.operation not in SETTING_OPERATIONS:
            raise ModelError(f"operation of setting {self.name}", self.operation, f"give {', '.join(SETTING_OPERATIONS)}")
        _positive(f"line_spacing_mm of setting {self.name}", self.line_spacing_mm, zero=True, top=5)
        self._default_window()
        if not 0 < self.thinnest_mm <= self.thickness_mm <= self.thickest_mm <= 20:
            raise ModelError(
                f"window of setting {self.name}",
                f"{self.thinnest_mm:g} to {self.thickest_mm:g} mm",
                f"thinnest_mm and thickest_mm must enclose the tested {self.thickness_mm:g} mm",
            )

    def _default_window(self) -> None:
        ends = {"thinnest_mm": 1 - WINDOW_SHARE, "thickest_mm": 1 + WINDOW_SHARE}
        missing = [end for end in ends if getattr(self, end) is None]
        for end in missing:
            object.__setattr__(self, end, min(round(self.thickness_mm * ends[end], 6), 20.0))
        if missing and self.basis == "tested":
            words = f"tested; its window by the default rule, {100 * WINDOW_SHARE:.0f} % of the thickness either way"
            object.__setattr__(self, "basis", words)

    def line_energy_j_mm(self, rated_w: float) -> float:
        """Energy given to each mm of cut over all passes: rated W x power / speed x passes."""
        return rated_w * self.power_percent / 100.0 / self.speed_mm_s * self.passes


BED_STOPS = ("bottom left", "bottom right", "top left", "top right")
FEEDS = ("none", "width", "height")


@dataclass(frozen=True)
class Machine:
    """The laser: its bed, its rated power and how fast it moves.

    ``bed_stop`` is the corner of the bed where its two stops meet, seen from above with the bed's width across; the
    one named first is preferred. An ``acceleration_mm_s2`` of 0 leaves speeding up and slowing down out of every time.
    ``bed_margin_mm`` of the bed is out of use along each side. ``feed_through`` says along which side of the bed leather
    may be longer than the bed and be fed on: ``none``, ``width`` or ``height``.
    """

    name: str
    bed_width_mm: float
    bed_height_mm: float
    rated_w: float
    travel_mm_s: float = 200.0
    engrave_mm_s: float = 100.0
    load_minutes: float = 5.0
    acceleration_mm_s2: float = 1000.0
    bed_stop: str = "bottom left"
    bed_margin_mm: float = 0.0
    feed_through: str = "none"

    def __post_init__(self):
        _positive("bed_width_mm", self.bed_width_mm)
        _positive("bed_height_mm", self.bed_height_mm)
        _positive("bed_margin_mm", self.bed_margin_mm, zero=True)
        least = min(self.bed_width_mm, self.bed_height_mm)
        if 2 * self.bed_margin_mm >= least:
            raise ModelError("bed_margin_mm", self.bed_margin_mm, f"give less than half of the bed's {least:g} mm")
        if self.feed_through not in FEEDS:
            raise ModelError("feed_through", self.feed_through, f"give {', '.join(FEEDS)}")
        _positive("rated_w", self.rated_w, top=1000)
        _positive("travel_mm_s", self.travel_mm_s, top=5000)
        _positive("engrave_mm_s", self.engrave_mm_s, top=5000)
        _positive("load_minutes", self.load_minutes, zero=True, top=600)
        _positive("acceleration_mm_s2", self.acceleration_mm_s2, zero=True, top=1e6)
        if self.bed_stop not in BED_STOPS:
            raise ModelError("bed_stop", self.bed_stop, f"give one of {', '.join(BED_STOPS)}")

    @property
    def usable_mm(self) -> tuple[float, float]:
        """Width and height in which a panel with all its leather must lie; infinite where it is fed through."""
        width, height = (side - 2 * self.bed_margin_mm for side in (self.bed_width_mm, self.bed_height_mm))
        return (math.inf if self.feed_through == "width" else width, math.inf if self.feed_through == "height" else height)

    @property
    def usable_words(self) -> str:
        """The usable bed, for people."""
        width, height = (f"{side:g} mm" if math.isfinite(side) else "any length" for side in self.usable_mm)
        return f"{width} x {height}"


@dataclass(frozen=True)
class Margins:
    """Distances that keep cuts apart, in mm, measured between finished edges."""

    kerf_mm: float = 0.2
    gap_mm: float = 1.0
    edge_mm: float = 3.0
    flaw_mm: float = 1.0

    def __post_init__(self):
        _positive("kerf_mm", self.kerf_mm, zero=True, top=5)
        _positive("gap_mm", self.gap_mm, zero=True, top=100)
        _positive("edge_mm", self.edge_mm, zero=True, top=200)
        _positive("flaw_mm", self.flaw_mm, zero=True, top=200)

    @property
    def between_mm(self) -> float:
        """Least distance between two finished outlines."""
        return self.kerf_mm + self.gap_mm


@dataclass(frozen=True)
class Prices:
    """What the work costs, in one currency. ``offcut_credit`` is the share (0 to 1) of an offcut's price by area that is
    credited back."""

    currency: str = "EUR"
    machine_per_hour: Decimal = Decimal(0)
    labour_per_hour: Decimal = Decimal(0)
    labour_minutes_per_part: float = 0.0
    masking_per_m2: Decimal = Decimal(0)
    offcut_credit: float = 0.5

    def __post_init__(self):
        if len(self.currency) != 3 or not (self.currency.isascii() and self.currency.isalpha() and self.currency.isupper()):
            raise ModelError("currency", self.currency, "give a three-letter ISO 4217 code such as EUR")
        for name in ("machine_per_hour", "labour_per_hour", "masking_per_m2"):
            value = getattr(self, name)
            if not (value.is_finite() and 0 <= value <= 100_000):
                raise ModelError(name, value, "give 0 or more and at most 100000")
        _positive("labour_minutes_per_part", self.labour_minutes_per_part, zero=True, top=10_000)
        if not 0 <= self.offcut_credit <= 1:
            raise ModelError("offcut_credit", self.offcut_credit, "give a share from 0 to 1")


DEFAULT_COLOURS = {"engrave": "#0072B2", "stitch": "#009E73", "cutout": "#E69F00", "outline": "#D55E00", "guide": "#000000"}
"""Operation colours from the colour-blind-safe palette of Okabe and Ito (2008)."""


@dataclass(frozen=True)
class Workshop:
    """Everything about the workshop that does not change from week to week.

    The setting book of its machine is ``settings``, the rows that cut, and ``engravings``, those that engrave.
    """

    machine: Machine
    settings: tuple[Setting, ...] = ()
    margins: Margins = field(default_factory=Margins)
    prices: Prices = field(default_factory=Prices)
    smallest_offcut_mm: float = 60.0
    confidence: float = 0.9
    thickness_spread_mm: float = 0.15
    colours: dict[str, str] = field(default_factory=lambda: dict(DEFAULT_COLOURS))
    engravings: tuple[Setting, ...] = ()
    engraving_depth: str = "shallow"

    def __post_init__(self):
        _positive("smallest_offcut_mm", self.smallest_offcut_mm, top=5000)
        _positive("thickness_spread_mm", self.thickness_spread_mm, zero=True, top=5)
        if not 0.5 <= self.confidence < 1:
            raise ModelError("confidence", self.confidence, "give a share from 0.5 to below 1, such as 0.9")
        if self.engraving_depth not in ("shallow", "deep"):
            raise ModelError("engraving_depth", self.engraving_depth, "give shallow or deep")


@dataclass(frozen=True)
class Job:
    """All that one run needs: the workshop, what it makes, what it has, what is ordered."""

    workshop: Workshop
    products: tuple[Product, ...]
    hides: tuple[Hide, ...]
    orders: tuple[OrderLine, ...]

    def product(self, name: str) -> Product:
        """The product called ``name``."""
        return next(product for product in self.products if product.name == name)


@dataclass(frozen=True)
class Under:
    """The leather under a part: least and greatest estimated thickness (mm), and how sure it is, at the worst spot, that
    the thickness is within the limits there (the setting's window, and what the part asks for)."""

    least_mm: float
    greatest_mm: float
    confidence: float


@dataclass(frozen=True)
class Placement:
    """One part put at (x, y, angle) on a hide, with its geometry in hide coordinates.

    ``piece`` counts the ordered pieces of the line from 1, ``copy`` the copies of the part within the piece from 1;
    ``match`` names the group that must come from one hide (empty when none). The part's drawing origin lies at (x, y)
    after turning by ``angle`` degrees (and mirroring first when ``mirrored``). ``setting`` names the setting it is burnt
    with, of those of its hide; empty for the first of them.
    """

    hide: str
    panel: str
    order: str
    product: str
    part: str
    piece: int
    copy: int
    grade: str
    x: float
    y: float
    angle: float
    mirrored: bool
    match: str
    direction: Direction
    thickness_mm: tuple[float, float] | None
    outline: Polygon
    cutouts: tuple[Polygon, ...] = ()
    stitch: tuple[LineString, ...] = ()
    engrave: tuple[LineString, ...] = ()
    zones: tuple[Zone, ...] = ()
    filler: bool = False
    setting: str = ""
    under: Under | None = None

    @property
    def key(self) -> tuple[str, str, str, int, int, bool]:
        """What tells this ordered part from every other."""
        return (self.order, self.product, self.part, self.piece, self.copy, self.mirrored)

    @property
    def label(self) -> str:
        """Short name for people: order and part."""
        return f"{self.order} {self.part}"

    @property
    def area_mm2(self) -> float:
        """Leather in the finished part: outline less cutouts."""
        return self.outline.area - sum(cutout.area for cutout in self.cutouts)


def place(shape, x: float, y: float, angle: float):
    """Turn any shapely geometry by ``angle`` degrees about the origin, then move it by (x, y)."""
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return shapely.transform(shape, lambda p: p @ np.array([[cos, sin], [-sin, cos]]) + (x, y))


@dataclass(frozen=True)
class Unplaced:
    """An ordered part that found no place, and the true reason."""

    order: str
    product: str
    part: str
    piece: int
    copy: int
    mirrored: bool
    reason: str
    filler: bool = False


@dataclass(frozen=True)
class Panel:
    """A piece of hide, knife-cut by straight lines, that fits the bed."""

    id: str
    hide: str
    polygon: Polygon


@dataclass(frozen=True)
class Cut:
    """A straight knife line right across a piece of a hide, from edge to edge of that piece."""

    hide: str
    start: Point
    end: Point


@dataclass(frozen=True)
class Layout:
    """All placements of a run, with all that is needed to check, report and export them.

    ``settings`` maps a hide to the setting its parts are cut with; a hide that is only nested, never burnt, has none.
    Where parts are grouped by thickness, ``more_settings`` has the others. ``cuts`` are the knife lines in the order
    they are made; ``panels`` the pieces they leave that hold parts. ``wanted`` counts the ordered copies by (order,
    product, part).
    """

    workshop: Workshop
    hides: tuple[Hide, ...]
    panels: tuple[Panel, ...]
    settings: dict[str, Setting]
    wanted: dict[tuple[str, str, str], int]
    placements: tuple[Placement, ...]
    unplaced: tuple[Unplaced, ...]
    seed: int = 0
    iterations: int = 0
    seconds: float = 0.0
    cuts: tuple[Cut, ...] = ()
    more_settings: dict[str, tuple[Setting, ...]] = field(default_factory=dict)

    def settings_on(self, hide_id: str) -> tuple[Setting, ...]:
        """The settings a hide is cut with, the main one first; none when it is not burnt."""
        main = self.settings.get(hide_id)
        return () if main is None else (main, *self.more_settings.get(hide_id, ()))

    def setting_of(self, placement: Placement) -> Setting | None:
        """The setting a placement is burnt with; None when its hide is not burnt."""
        known = self.settings_on(placement.hide)
        return next((setting for setting in known if placement.setting in ("", setting.name)), None)

    def on(self, hide_id: str) -> tuple[Placement, ...]:
        """The placements on one hide."""
        return tuple(placement for placement in self.placements if placement.hide == hide_id)
