"""A layout: placements, panels, knife lines, with all that is needed to check, report and export them."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from dataclasses import asdict, dataclass, field
from decimal import Decimal
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from .asked import Asked
from .curves import Curve, Curves
from .hides import Hide, Zone
from .job import OrderLine
from .kinds import ANY_KIND, Kind
from .parts import Direction
from .setting_book import Setting
from .values import Point, counted
from .workshop import Workshop

PLACE_DIGITS = 4
"""Decimals of mm that a layout is noted with: a tenth of a micron, finer than any machine."""
ANGLE_DIGITS = 7
"""Decimals of degrees: at 10 m from the drawing's origin half of the last one moves a point by under 1e-5 mm."""
PartKey = tuple[str, str, str, int, int, bool]
"""Order, product, part, piece, copy, and whether it is a mirrored twin: what tells an ordered part from every other."""


@dataclass(frozen=True)
class Under:
    """The leather under a part: least and greatest estimated thickness, mm, and how sure it is.

    ``confidence`` is the least chance, over all spots, that the thickness is within the limits there (the setting's
    window, and what the part asks for).
    """

    least_mm: float
    greatest_mm: float
    confidence: float


@dataclass(frozen=True)
class Spot:
    """Where a part lies: its hide, and its pose there (mm, degrees)."""

    hide: str
    x: float
    y: float
    angle: float


@dataclass(frozen=True)
class Placement:
    """One part put at (x, y, angle) on a hide, with its geometry in hide coordinates.

    ``piece`` counts the ordered pieces of the line from 1, ``copy`` the copies of the part within the piece from 1;
    ``match`` names the group that must come from one hide (empty when none). The part's drawing origin lies at (x, y)
    after turning by ``angle`` degrees (and mirroring first when ``mirrored``). ``setting`` names the setting it is
    burnt with, of those of its hide; empty for the first of them. ``engrave_how`` is as in `model.Part`. ``drawn`` are
    its lines as they are drawn and laid, mirrored or not, before they are turned and moved; None when only the chords
    that stand for them are known. ``folds`` are for the maker to see and are never burnt. ``kind`` is
    the leather asked for. With ``flesh_out`` its drawing is laid mirrored, and a mirrored twin's as drawn. With
    ``same_lot`` all parts of its order line come from hides of one lot. ``pinned`` is where it is to stay, None
    where it may be moved.
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
    engrave_how: tuple[str, ...] = ()
    zones: tuple[Zone, ...] = ()
    filler: bool = False
    setting: str = ""
    under: Under | None = None
    kind: Kind = ANY_KIND
    flesh_out: bool = False
    same_lot: bool = False
    pinned: Spot | None = None
    drawn: Curves | None = None
    folds: tuple[LineString, ...] = ()

    @property
    def curves(self) -> Curves:
        """Its lines in hide coordinates, exact where they are known."""
        if self.drawn is not None:
            return self.drawn.placed(self.x, self.y, self.angle)
        others = (tuple(map(Curve.of, more)) for more in (self.cutouts, self.stitch, self.engrave))
        return Curves(Curve.of(self.outline), *others)

    @property
    def spot(self) -> Spot:
        """Where it lies."""
        return Spot(self.hide, self.x, self.y, self.angle)

    @property
    def key(self) -> PartKey:
        """What tells this ordered part from every other."""
        return (self.order, self.product, self.part, self.piece, self.copy, self.mirrored)

    @property
    def name(self) -> str:
        """What tells it from every other, in words."""
        twin = " mirrored" if self.mirrored else ""
        return f"{self.order} {self.product} {self.part} {self.piece}.{self.copy}{twin}"

    def __str__(self) -> str:
        where = f"hide {self.hide}" + (f", panel {self.panel}" if self.panel else "")
        return f"{self.name} on {where} at ({self.x:.1f}, {self.y:.1f}) turned by {self.angle:.1f} degrees"

    @property
    def label(self) -> str:
        """Short name for people: order and part."""
        return f"{self.order} {self.part}"

    @cached_property
    def told(self) -> str:
        """What the mark of a layout is made of it, as JSON; kept for those made of it by hand."""
        lines = (self.cutouts, self.stitch, self.engrave)
        shapes = (_shapes(self.outline), *(_shapes(*more) for more in lines))
        return json.dumps([self.key, self.hide, self.panel, self.setting, self.engrave_how, *shapes])

    @property
    def area_mm2(self) -> float:
        """Leather in the finished part: outline less cutouts."""
        return self.outline.area - sum(cutout.area for cutout in self.cutouts)


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
class OrderedPiece:
    """One ordered copy of a product: how many of its parts have a place, and how many it takes."""

    order: str
    product: str
    piece: int
    filler: bool
    placed: int
    wanted: int

    @property
    def whole(self) -> bool:
        """Whether every part of it has a place."""
        return self.placed == self.wanted

    @property
    def name(self) -> str:
        """What tells it from every other, in words."""
        return f"{self.order} {self.product} {self.piece}"


@dataclass(frozen=True)
class Panel:
    """A piece of hide, cut out along knife lines, that fits the bed.

    One with ``longer`` is there for a part longer than the bed, and cut out of the hide before any knife line: the part
    itself, where it is cut by ``knife``, or a rectangle that is burnt in ``two loads``.
    """

    id: str
    hide: str
    polygon: Polygon
    longer: str = ""


@dataclass(frozen=True)
class Burnt:
    """A panel that is burnt already: nothing is added to it, and what was cut from it lies where it lay.

    ``parts`` are all that were cut from it, with their places: those still wanted are placements of the layout, the
    others are among the ``lost``.
    """

    panel: Panel
    parts: tuple[tuple[PartKey, Spot], ...]

    @property
    def name(self) -> str:
        """What a person calls it."""
        return f"{self.panel.hide}/{self.panel.id}"


@dataclass(frozen=True)
class Cut:
    """A knife line right across one bit of a hide, from edge to edge of that bit: one straight stroke, or up to three
    that meet at the points ``via``."""

    hide: str
    start: Point
    end: Point
    via: tuple[Point, ...] = ()

    @property
    def points(self) -> tuple[Point, ...]:
        """Ends of its strokes, in order."""
        return (self.start, *self.via, self.end)


@dataclass(frozen=True, repr=False)
class Layout:
    """All placements of a run, with all that is needed to check, report and export them.

    ``settings`` maps a hide to the setting its parts are cut with; a hide that is only nested, never burnt, has none.
    Where parts are grouped by thickness, ``more_settings`` has the others. ``cuts`` are the knife lines in the order
    they are made; ``panels`` are what they leave that holds parts. ``wanted`` counts the ordered copies by (order,
    product, part). ``limits`` has the numbers of the method that differ from the defaults, by room and name.
    ``partial`` names the products whose pieces may be cut in part; of every other a piece is placed whole or not at
    all. ``lines`` are the order lines, ``selling_prices`` what a piece of a product sells for, both as far as known.
    ``burnt`` are the panels burnt already, ``lost`` the parts cut from them that no order has any more, since they were
    spoiled or are no longer wanted; their leather is gone all the same. ``asked`` says of every ordered part once what
    its placements must agree with; ``made_from`` has the SHA-256 of each file of the job folder that it was made from,
    by its path from there.
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
    limits: dict[str, dict[str, float]] = field(default_factory=dict)
    partial: tuple[str, ...] = ()
    lines: tuple[OrderLine, ...] = ()
    selling_prices: dict[str, Decimal] = field(default_factory=dict)
    burnt: tuple[Burnt, ...] = ()
    lost: tuple[Placement, ...] = ()
    asked: tuple[Asked, ...] = ()
    made_from: dict[str, str] = field(default_factory=dict)

    def __repr__(self) -> str:
        placed, left = len(self.placements), len(self.unplaced)
        hides = counted(len({placement.hide for placement in self.placements}), "hide")
        panels = f" in {counted(len(self.panels), 'panel')}" if self.panels else ""
        out = f", {left} left out" if left else ""
        return f"{placed} of {counted(placed + left, 'part')} on {hides}{panels}{out}"

    @cached_property
    def mark(self) -> str:
        """Eight digits that tell this layout from every other: of what is cut where and with what, not of its costs.

        They begin the SHA-256 of it all, lengths rounded as in a layout's file, so that one read back has the same.
        """

        def setting(one: Setting) -> list[object]:
            return [one.name, float(one.speed_mm_s), float(one.power_percent), one.passes, float(one.line_spacing_mm)]

        machine, kerf_mm = self.workshop.machine, self.workshop.margins.kerf_mm
        told = [
            {name: float(value) if isinstance(value, int) else value for name, value in asdict(machine).items()},
            float(kerf_mm),
            [(hide.id, _shapes(hide.outline)) for hide in self.hides],
            [(p.hide, p.id, _shapes(p.polygon), *filter(None, [p.longer])) for p in self.panels],
            [(hide.id, [setting(one) for one in self.settings_on(hide.id)]) for hide in self.hides],
            [setting(one) for one in self.workshop.engravings],
            [asdict(drawn) for drawn in dict.fromkeys(part.drawn for part in self.placements) if drawn is not None],
        ]
        *before, drawings = (json.dumps(one, default=str) for one in told)
        parts = f"[{', '.join(part.told for part in self.placements)}]"
        return hashlib.sha256(f"[{', '.join([*before, parts, drawings])}]".encode()).hexdigest()[:8]

    def settings_on(self, hide_id: str) -> tuple[Setting, ...]:
        """The settings a hide is cut with, the main one first; none when it is not burnt."""
        main = self.settings.get(hide_id)
        return () if main is None else (main, *self.more_settings.get(hide_id, ()))

    def setting_of(self, placement: Placement) -> Setting | None:
        """The setting a placement is burnt with; None when its hide is not burnt, or it is cut by knife."""
        if self.by_knife(placement):
            return None
        known = self.settings_on(placement.hide)
        return next((setting for setting in known if placement.setting in ("", setting.name)), None)

    def on(self, hide_id: str) -> tuple[Placement, ...]:
        """The placements on one hide."""
        return self._by_hide.get(hide_id, ())

    @cached_property
    def _by_hide(self) -> dict[str, tuple[Placement, ...]]:
        found: dict[str, list[Placement]] = {}
        for placement in self.placements:
            found.setdefault(placement.hide, []).append(placement)
        return {hide: tuple(here) for hide, here in found.items()}

    @cached_property
    def long_panels(self) -> dict[tuple[str, str], Panel]:
        """The panels of parts longer than the bed, burnt already or not, by hide and name."""
        every = (*self.panels, *(burnt.panel for burnt in self.burnt))
        return {(panel.hide, panel.id): panel for panel in every if panel.longer}

    def by_knife(self, placement: Placement) -> bool:
        """Whether a part is cut by knife though its hide may be burnt: it is longer than the bed."""
        return self.by_knife_on(placement.hide, placement.panel)

    def by_knife_on(self, hide_id: str, panel: str) -> bool:
        """The same of what lies on a panel."""
        found = self.long_panels.get((hide_id, panel))
        return found is not None and found.longer == "knife"

    def cut_out(self, hide_id: str) -> tuple[Polygon, ...]:
        """What is cut out of a hide before its knife lines."""
        return tuple(panel.polygon for panel in self.long_panels.values() if panel.hide == hide_id)

    def is_burnt(self, thing: Placement | Panel) -> bool:
        """Whether a part is cut already, or a panel burnt."""
        panel = thing.id if isinstance(thing, Panel) else thing.panel
        return any((burnt.panel.hide, burnt.panel.id) == (thing.hide, panel) for burnt in self.burnt)

    def pieces(self) -> tuple[OrderedPiece, ...]:
        """The ordered pieces, in the order in which their lines are wanted, then by number."""
        placed, fillers = Counter[tuple[str, str, int]](), {}
        things: list[Placement | Unplaced] = [*self.placements, *self.unplaced]
        for thing in things:
            key = (thing.order, thing.product, thing.piece)
            placed[key] += isinstance(thing, Placement)
            fillers[key] = thing.filler
        wanted = Counter((thing.order, thing.product, thing.piece) for thing in things)
        lines = {line: rank for rank, line in enumerate(dict.fromkeys((key[0], key[1]) for key in self.wanted))}
        keys = sorted(wanted, key=lambda key: (lines.get(key[:2], len(lines)), key))
        return tuple(OrderedPiece(*key, fillers[key], placed[key], wanted[key]) for key in keys)


def _shapes(*found: BaseGeometry) -> list[object]:
    """The points of each, lengths rounded as in a layout's file."""
    points, of = shapely.get_coordinates(found, return_index=True)
    rounded = (np.round(points, 4) + 0.0).tolist()
    ends = np.searchsorted(of, range(len(found) + 1)).tolist()
    return [rounded[start:end] for start, end in pairwise(ends)]
