"""Hides: outline, zones, thickness readings, how they were measured, and what of that is in doubt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np
import numpy.typing as npt
from shapely.geometry import Polygon

from ..errors import ModelError
from .values import MM2_PER_DM2, THICKEST_MM, Point, counted, graded, positive, simple

SAFE_TANNAGE = "vegetable"
TANNAGES = ("vegetable", "chrome", "synthetic", "unknown")
ANSWERS = ("correct", "cut", "leather", "floor")
"""What somebody who looked may say of a doubt: right as traced; to be cut out; leather; floor."""
MOST_ERROR_MM = 1000.0
"""A greater stated error is in the wrong unit."""


@dataclass(frozen=True)
class Zone:
    """An area of a hide (or of a part) with a grade of its own."""

    polygon: Polygon
    grade: str
    kind: str = ""

    def __post_init__(self) -> None:
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

    def __post_init__(self) -> None:
        graded("grade of a suggestion", self.grade)
        simple("suggestion", self.polygon)
        if not 0 <= self.confidence <= 1:
            raise ModelError("confidence of a suggestion", self.confidence, "give a share from 0 to 1")

    def accepted(self) -> Zone:
        """The zone it becomes when a person agrees."""
        return Zone(self.polygon, self.grade, self.kind)


@dataclass(frozen=True)
class Doubt:
    """An area of a traced hide where the photo does not tell leather from floor: kept out of every part until somebody
    looks.

    ``kind`` is what it may be, ``size_mm`` how long or wide it is, ``settles`` what to look for. ``number`` is the one
    by which it is answered (0: none), ``pixel`` its place in the photo.
    """

    polygon: Polygon
    kind: str
    size_mm: float = 0.0
    settles: str = ""
    number: int = 0
    pixel: Point | None = None

    def __post_init__(self) -> None:
        simple("doubt", self.polygon)
        if not (math.isfinite(self.size_mm) and self.size_mm >= 0):
            raise ModelError("size of a doubt (mm)", self.size_mm, "give a number of 0 or more")


@dataclass(frozen=True)
class Answer:
    """What somebody said of a place in the photo: one of `ANSWERS`, its pixel, and the doubt's number (0: none)."""

    answer: str
    pixel: Point
    number: int = 0

    def __post_init__(self) -> None:
        if self.answer not in ANSWERS:
            raise ModelError("answer", self.answer, f"give one of {', '.join(ANSWERS)}")


@dataclass(frozen=True)
class StatedError:
    """How far the outline of a hide may be off, place by place: ``mm[row][column]`` at ``ys[row]`` and ``xs[column]``,
    in between in proportion, beyond them as at the nearest of them."""

    xs: tuple[float, ...]
    ys: tuple[float, ...]
    mm: tuple[tuple[float, ...], ...]

    def __post_init__(self) -> None:
        for thing, values in (("x of the stated error", self.xs), ("y of the stated error", self.ys)):
            if len(values) < 2 or not np.isfinite(values).all() or not (np.diff(values) > 0).all():
                raise ModelError(thing, len(values), "give two or more finite numbers, each larger than the one before")
        if len(self.mm) != len(self.ys) or any(len(row) != len(self.xs) for row in self.mm):
            raise ModelError(
                "mm of the stated error", len(self.mm), "give one row for each y, in it a number for each x"
            )
        worst = [one for row in self.mm for one in row if not 0 <= one <= MOST_ERROR_MM]
        if worst:
            raise ModelError("mm of the stated error", worst[0], f"give numbers from 0 to {MOST_ERROR_MM:g}")

    @property
    def range_mm(self) -> tuple[float, float]:
        """The least and the greatest stated error."""
        every = [one for row in self.mm for one in row]
        return min(every), max(every)

    def at(self, points: Sequence[Sequence[float]] | npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """The stated error in mm, (n,), at places in mm, (n, 2)."""
        places, table = np.asarray(points, dtype=float).reshape(-1, 2), np.array(self.mm)
        (column, across), (row, up) = (
            _between(np.array(axis), places[:, one]) for one, axis in enumerate((self.xs, self.ys))
        )
        low = table[row, column] * (1 - across) + table[row, column + 1] * across
        high = table[row + 1, column] * (1 - across) + table[row + 1, column + 1] * across
        found: npt.NDArray[np.float64] = low * (1 - up) + high * up
        return found


def _between(
    axis: npt.NDArray[np.float64], values: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float64]]:
    """The interval of an axis that each value lies in, and how far along it."""
    values = np.clip(values, axis[0], axis[-1])
    first = np.clip(np.searchsorted(axis, values, side="right") - 1, 0, len(axis) - 2)
    return first, (values - axis[first]) / (axis[first + 1] - axis[first])


@dataclass(frozen=True)
class Traced:
    """How the outline of a hide was measured: what gave the scale, how fine, and how far it may be off.

    ``residual_pixels`` is how far the references lie from where they should be, root mean square. ``picture`` is the
    straightened photo kept beside the hide file, the centre of its upper left pixel at ``origin_mm``. ``limits`` are
    those of tracing that were changed for it, by name; ``answers`` what somebody said of its doubts.
    """

    reference: str
    mm_per_pixel: float
    expected_error_mm: float
    residual_pixels: float | None = None
    origin_mm: Point | None = None
    picture: str = ""
    limits: dict[str, float | None] = field(default_factory=dict, hash=False)
    answers: tuple[Answer, ...] = ()


@dataclass(frozen=True)
class Smoothed:
    """How far the edge of a hide that is all teeth lies within that of its file, at most, and the leather between."""

    mm: float
    area_mm2: float


@dataclass(frozen=True)
class Reading:
    """One thickness measurement at a point of the hide, or (``cut_off``) at one of leather that was cut off it: that
    tells of what is left all the same."""

    x: float
    y: float
    mm: float
    cut_off: bool = False

    def __post_init__(self) -> None:
        positive("reading thickness (mm)", self.mm, top=THICKEST_MM)
        if not (math.isfinite(self.x) and math.isfinite(self.y)):
            raise ModelError("reading place", (self.x, self.y), "give finite x and y in mm")


@dataclass(frozen=True, repr=False)
class Hide:
    """Leather to cut from; ``outline`` carries its holes as interior rings.

    ``leather`` is its name in the setting book; empty for the rows that stand for every leather.
    ``suggestions`` are for a person to look at; no rule, plan or figure heeds them. Hides of one ``lot`` match each
    other; without one a hide is a lot of its own. ``error`` is how far the outline may be off and ``doubts`` what the
    photo did not tell: parts keep clear of both. ``smoothed`` tells how much plainer than its file's the outline is.
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
    finish: str = ""
    lot: str = ""
    error: StatedError | None = None
    doubts: tuple[Doubt, ...] = ()
    smoothed: Smoothed | None = None

    def __post_init__(self) -> None:
        simple(f"outline of hide {self.id}", self.outline)
        if self.tannage not in TANNAGES:
            raise ModelError(f"tannage of hide {self.id}", self.tannage, f"give one of {', '.join(TANNAGES)}")
        if self.nominal_mm is not None:
            positive(f"nominal_mm of hide {self.id}", self.nominal_mm, top=THICKEST_MM)
        if self.price is not None and not (self.price.is_finite() and self.price >= 0):
            raise ModelError(f"price of hide {self.id}", self.price, "give 0 or more")
        if self.backbone is not None and self.backbone[0] == self.backbone[1]:
            raise ModelError(f"backbone of hide {self.id}", self.backbone, "give two different points along the spine")

    def __repr__(self) -> str:
        left, low, right, high = self.outline.bounds
        readings, zones = counted(len(self.readings), "thickness reading"), counted(len(self.zones), "zone")
        size = f"{right - left:.0f} x {high - low:.0f} mm, {self.outline.area / MM2_PER_DM2:.1f} dm2"
        return f"hide {self.id}: {size}, tannage {self.tannage}, {zones}, {readings}"

    @property
    def lot_key(self) -> str:
        """The same for hides of one lot, however it is written; a hide without a lot is one of its own."""
        return f"lot {self.lot.strip().casefold()}" if self.lot.strip() else f"hide {self.id}"

    @property
    def smoothed_words(self) -> str:
        """What it costs that its edge was too fine to plan with; empty where nothing was taken off it."""
        if self.smoothed is None:
            return ""
        return (
            f"hide {self.id}: its edge is all teeth or spikes, too many to plan with: parts lie within a smoother "
            f"line, up to {self.smoothed.mm:.2g} mm inside, which costs {self.smoothed.area_mm2 / MM2_PER_DM2:.2f} "
            "dm2; an edge drawn or traced smoother wins it back"
        )

    @property
    def laser_safe(self) -> bool:
        """Only leather known to be vegetable-tanned is burnt."""
        return self.tannage == SAFE_TANNAGE

    @property
    def never_burnt(self) -> bool:
        """Leather known to be another is cut by knife for good, whole: no bed bounds it. What is not known may turn out
        safe, and is cut up for the bed."""
        return self.tannage not in (SAFE_TANNAGE, "unknown")

    @property
    def backbone_deg(self) -> float:
        """Angle of the backbone in degrees, 0 to 180; a hide without one is taken to lie along x."""
        if self.backbone is None:
            return 0.0
        (x0, y0), (x1, y1) = self.backbone
        return math.degrees(math.atan2(y1 - y0, x1 - x0)) % 180.0
