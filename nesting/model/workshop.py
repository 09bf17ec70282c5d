"""The workshop: machine, setting book, margins and prices."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from decimal import Decimal

from ..errors import ModelError
from .setting_book import Setting
from .units import UNITS
from .values import counted, positive

BED_STOPS = ("bottom left", "bottom right", "top left", "top right")
FEEDS = ("none", "width", "height")
FEED_PLAY_MM = 1.0
"""Parts keep this far from both ends of a stage of leather that is fed through: it is fed on by hand (working
assumption)."""
FIRST_W, FIRST_BEDS_MM = 40.0, ((500.0, 300.0), (508.0, 304.8))
"""Rated power and bed, in mm or where inches are shown first, that are taken where nobody told them."""
ASKED = {
    "bed_width_mm": "machine",
    "bed_height_mm": "machine",
    "rated_w": "machine",
    "kerf_mm": "margins",
    "machine_per_hour": "prices",
    "labour_per_hour": "prices",
    "masking_per_m2": "prices",
    "offcut_credit": "prices",
}
"""What is asked about until the workshop's file has it, and in which table of that it stands."""
FEED_STEP_MM = 1.0
"""Leather is fed on by multiples of this, the finest mark of a workshop ruler."""


@dataclass(frozen=True)
class Machine:
    """The laser: its bed, its rated power and how fast it moves.

    ``bed_stop`` is the corner of the bed where its two stops meet, seen from above with the bed's width across; the
    one named first is preferred. An ``acceleration_mm_s2`` of 0 leaves speeding up and slowing down out of every time.
    ``bed_margin_mm`` of the bed is out of use along each side. ``feed_through`` says along which side of the bed
    leather may be longer than the bed and be fed on: ``none``, ``width`` or ``height``. ``overhang_mm`` is how far it
    may then reach over either end of the usable bed, 0 as far as it likes; what is burnt and would reach further is cut
    off.
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
    overhang_mm: float = 0.0

    def __post_init__(self) -> None:
        positive("bed_width_mm", self.bed_width_mm)
        positive("bed_height_mm", self.bed_height_mm)
        positive("bed_margin_mm", self.bed_margin_mm, zero=True)
        least = min(self.bed_width_mm, self.bed_height_mm)
        if 2 * self.bed_margin_mm >= least:
            raise ModelError("bed_margin_mm", self.bed_margin_mm, f"give less than half of the bed's {least:g} mm")
        if self.feed_through not in FEEDS:
            raise ModelError("feed_through", self.feed_through, f"give {', '.join(FEEDS)}")
        positive("overhang_mm", self.overhang_mm, zero=True)
        positive("rated_w", self.rated_w, top=1000)
        positive("travel_mm_s", self.travel_mm_s, top=5000)
        positive("engrave_mm_s", self.engrave_mm_s, top=5000)
        positive("load_minutes", self.load_minutes, zero=True, top=600)
        positive("acceleration_mm_s2", self.acceleration_mm_s2, zero=True, top=1e6)
        if self.bed_stop not in BED_STOPS:
            raise ModelError("bed_stop", self.bed_stop, f"give one of {', '.join(BED_STOPS)}")

    @property
    def window_mm(self) -> tuple[float, float]:
        """Width and height of the usable bed, in which a part must lie whole when it is burnt."""
        return self.bed_width_mm - 2 * self.bed_margin_mm, self.bed_height_mm - 2 * self.bed_margin_mm

    @property
    def usable_mm(self) -> tuple[float, float]:
        """Width and height in which a panel with all its leather must lie; infinite where it is fed through freely."""
        width, height = self.window_mm
        over = self.overhang_mm or math.inf
        return (
            width + over if self.feed_through == "width" else width,
            height + over if self.feed_through == "height" else height,
        )

    def longest_fed_mm(self, kerf_mm: float) -> float:
        """How long a part of leather that is fed through may be, the way it is fed, to be whole at one stage, mm."""
        along = self.window_mm[0 if self.feed_through == "width" else 1]
        return along - kerf_mm - 2 * FEED_PLAY_MM - FEED_STEP_MM

    def two_loads_along(self, long_mm: float, wide_mm: float, kerf_mm: float) -> str:
        """Along which side of the bed, ``width`` or ``height``, leather can lie to be burnt in two loads; empty: none.

        It is the one that leather is fed through along, as far as it may hang over; the longer one where none is said.
        """
        sides = dict(zip(("width", "height"), self.window_mm))
        play, fed = kerf_mm + 2 * FEED_PLAY_MM + FEED_STEP_MM, self.feed_through != "none"
        over = (fed and self.overhang_mm) or math.inf
        for along, other in sorted((("width", "height"), ("height", "width")), key=lambda pair: -sides[pair[0]]):
            longest = min(2 * (sides[along] - play), sides[along] + over - FEED_STEP_MM)
            if wide_mm <= sides[other] and long_mm <= longest and self.feed_through in ("none", along):
                return along
        return ""

    @property
    def usable_words(self) -> str:
        """The usable bed, for people."""
        width, height = (f"{side:g} mm" if math.isfinite(side) else "any length" for side in self.usable_mm)
        over = 0.0 if self.feed_through == "none" else self.overhang_mm
        return f"{width} x {height}" + (f", {over:g} mm of it over the end" if over else "")


@dataclass(frozen=True)
class Margins:
    """Distances that keep cuts apart, in mm, measured between finished edges.

    ``edge_mm`` is kept from the edge of a hide, ``knife_mm`` from knife lines where that is less: a line cut along a
    rule is truer than a torn edge.
    """

    kerf_mm: float = 0.2
    gap_mm: float = 1.0
    edge_mm: float = 3.0
    flaw_mm: float = 1.0
    knife_mm: float = 1.5

    def __post_init__(self) -> None:
        positive("kerf_mm", self.kerf_mm, zero=True, top=5)
        positive("gap_mm", self.gap_mm, zero=True, top=100)
        positive("edge_mm", self.edge_mm, zero=True, top=200)
        positive("flaw_mm", self.flaw_mm, zero=True, top=200)
        positive("knife_mm", self.knife_mm, zero=True, top=200)

    @property
    def from_knife_mm(self) -> float:
        """Least distance from a knife line to a finished outline."""
        return min(self.knife_mm, self.edge_mm)

    @property
    def between_mm(self) -> float:
        """Least distance between two finished outlines."""
        return self.kerf_mm + self.gap_mm


@dataclass(frozen=True)
class Prices:
    """What the work costs, in one currency.

    ``offcut_credit`` is the share (0 to 1) of an offcut's price by area that is credited back.
    """

    currency: str = "EUR"
    machine_per_hour: Decimal = Decimal(0)
    labour_per_hour: Decimal = Decimal(0)
    labour_minutes_per_part: float = 0.0
    masking_per_m2: Decimal = Decimal(0)
    offcut_credit: float = 0.5

    def __post_init__(self) -> None:
        if len(self.currency) != 3 or not (
            self.currency.isascii() and self.currency.isalpha() and self.currency.isupper()
        ):
            raise ModelError("currency", self.currency, "give a three-letter ISO 4217 code such as EUR")
        for name in ("machine_per_hour", "labour_per_hour", "masking_per_m2"):
            value = getattr(self, name)
            if not (value.is_finite() and 0 <= value <= 100_000):
                raise ModelError(name, value, "give 0 or more and at most 100000")
        positive("labour_minutes_per_part", self.labour_minutes_per_part, zero=True, top=10_000)
        if not 0 <= self.offcut_credit <= 1:
            raise ModelError("offcut_credit", self.offcut_credit, "give a share from 0 to 1")


PER = ("piece", "part", "metre of stitching", "percent of price")
"""What an extra cost may be counted by."""


@dataclass(frozen=True)
class ExtraCost:
    """Something a piece costs besides leather, masking, machine and labour: thread, hardware, a fee, a tax.

    ``amount`` is money for each ``per`` (see `PER`), or a percentage of the price; ``product`` names the one it is for,
    empty where it is for all.
    """

    name: str
    amount: Decimal
    per: str = "piece"
    product: str = ""

    def __post_init__(self) -> None:
        if self.per not in PER:
            raise ModelError("per", self.per, f"give {', '.join(PER)}")
        top = 100 if self.per == "percent of price" else 100_000
        if not (self.amount.is_finite() and 0 <= self.amount <= top):
            raise ModelError("amount", self.amount, f"give 0 or more and at most {top}")


DEFAULT_COLOURS = {
    "engrave": "#0072B2",
    "stitch": "#009E73",
    "cutout": "#E69F00",
    "outline": "#D55E00",
    "guide": "#000000",
}
"""Operation colours from the colour-blind-safe palette of Okabe and Ito (2008)."""


@dataclass(frozen=True)
class Workshop:
    """Everything about the workshop that does not change from week to week.

    The setting book of its machine is ``settings``, the rows that cut, and ``engravings``, those that engrave.
    ``units`` are what people are shown first: ``mm`` or ``inch``. ``extras`` are what pieces cost besides. ``drawings``
    says what colours (#rrggbb) and names in small letters mean in its drawings. ``untold`` are those of the keys
    `ASKED` that its file does not have: what stands in their place is a first guess.
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
    units: str = UNITS[0]
    drawings: dict[str, str] = field(default_factory=dict)
    extras: tuple[ExtraCost, ...] = ()
    untold: frozenset[str] = field(default=frozenset(), compare=False)

    def __post_init__(self) -> None:
        positive("smallest_offcut_mm", self.smallest_offcut_mm, top=5000)
        positive("thickness_spread_mm", self.thickness_spread_mm, zero=True, top=5)
        if not 0.5 <= self.confidence < 1:
            raise ModelError("confidence", self.confidence, "give a share from 0.5 to below 1, such as 0.9")
        if self.units not in UNITS:
            raise ModelError("units", self.units, f"give {' or '.join(UNITS)}")
        if self.engraving_depth not in ("shallow", "deep"):
            raise ModelError("engraving_depth", self.engraving_depth, "give shallow or deep")
        whose: dict[str, str] = {}
        for operation, colour in self.colours.items():
            other = whose.setdefault(colour.lower(), operation)
            if other != operation:
                raise ModelError(
                    "colours",
                    f"{other} and {operation} are both {colour}",
                    "the machine tells them apart by colour: give each its own",
                )

    def first_guesses(self) -> str:
        """What is taken of bed, power and kerf since nobody told it, and the mend; empty where all is told."""
        machine = self.machine
        values = {
            "bed_width_mm": f"a bed {machine.bed_width_mm:g} mm wide",
            "bed_height_mm": f"a bed {machine.bed_height_mm:g} mm high",
            "rated_w": f"a laser of {machine.rated_w:g} W",
            "kerf_mm": f"a kerf of {self.margins.kerf_mm:g} mm",
        }
        guessed = [words for key, words in values.items() if key in self.untold]
        if not guessed:
            return ""
        keys = ", ".join(key for key in values if key in self.untold)
        return (
            f"first guesses are taken: {', '.join(guessed)}; put yours in under Workshop on the page, or into "
            f"workshop.toml ({keys})"
        )

    def __str__(self) -> str:
        machine, margins = self.machine, self.margins
        bed = f"bed {machine.bed_width_mm:g} x {machine.bed_height_mm:g} mm, {machine.rated_w:g} W"
        book = counted(len(self.settings) + len(self.engravings), "setting")
        return f"{machine.name}: {bed}, {book}, kerf {margins.kerf_mm:g} mm, gap {margins.gap_mm:g} mm"
