"""The keys of out/layout.json: what each holds, and what may be left out."""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field

from ..model import ENGRAVED, LONGER
from .hides import ZoneTable
from .rings import Line, Ring
from .schema import (
    AskingTable,
    Count,
    DirectionKind,
    Grade,
    Money,
    Name,
    Number,
    SafeName,
    Table,
    Text,
    Thickness,
    Truth,
    Whole,
    one_of,
)
from .true_lines import DrawingTable
from .workshop import MarginsTable, SettingTable


def _finite(figures: dict[str, Any]) -> dict[str, Any]:
    try:
        json.dumps(figures, allow_nan=False, default=str)
    except (TypeError, ValueError, RecursionError):
        raise ValueError("give finite numbers, text, lists and tables only") from None
    return figures


_Hash = Annotated[str, Field(strict=True, pattern="^[0-9a-f]{64}$")]


class Bed(Table):
    width_mm: Number
    height_mm: Number


class Panel(Table):
    id: Text
    hide: SafeName
    polygon: Ring
    holes: list[Ring] = Field(default_factory=list)
    longer: Literal["", "knife", "two loads"] = ""


class Cut(Table):
    hide: SafeName
    start: Annotated[list[Number], Field(min_length=2, max_length=2)]
    end: Annotated[list[Number], Field(min_length=2, max_length=2)]
    via: list[Annotated[list[Number], Field(min_length=2, max_length=2)]] = Field(default_factory=list, max_length=2)


class Under(Table):
    least_mm: Number
    greatest_mm: Number
    confidence: Number


class Direction(Table):
    kind: DirectionKind
    tolerance_deg: Number
    turn: Truth


class Kind(AskingTable):
    burn: Truth = False


class Asked(Table):
    product: Name
    part: Name
    count: Count
    mirrored_twin: Truth = False
    filler: Truth = False
    flesh_out: Truth = False
    same_hide: Literal["no", "piece", "order"] = "no"
    same_lot: Truth = False
    grade: Grade
    direction: Direction
    thickness_mm: Thickness | None = None
    outline: Ring
    zones: list[ZoneTable] = Field(default_factory=list)
    kind: Kind = Kind()
    longer: Annotated[str, one_of(LONGER)] = LONGER[0]


class Spot(Table):
    hide: SafeName
    x: Number
    y: Number
    angle: Number


class Key(Table):
    order: Name
    product: Name
    part: Name
    piece: Count
    copy_: Annotated[Count, Field(alias="copy")]
    mirrored: Truth


class Copy(Key):
    filler: Truth


class Placement(Copy):
    hide: SafeName
    panel: Text
    grade: Grade
    x: Number
    y: Number
    angle: Number
    match: Text
    direction: Direction
    thickness_mm: Thickness | None
    outline: Ring
    cutouts: list[Ring]
    stitch: list[Line] | None = None
    engrave: list[Line]
    engrave_how: list[Annotated[str, one_of(ENGRAVED)]] = Field(default_factory=list)
    zones: list[ZoneTable]
    setting: Text = ""
    under: Under | None = None
    kind: Kind = Kind()
    flesh_out: Truth = False
    same_lot: Truth = False
    pinned: Spot | Truth = False
    drawing: Annotated[Whole, Field(ge=0)] | None = None
    folds: list[Line] = Field(default_factory=list)


class CutOff(Key):
    x: Number
    y: Number
    angle: Number


class Burnt(Panel):
    parts: list[CutOff]


class Unplaced(Copy):
    reason: Text


class Wanted(Table):
    order: Name
    product: Name
    part: Name
    count: Annotated[Whole, Field(ge=0)]


class OrderRow(AskingTable):
    order: Name
    product: Name
    quantity: Whole
    due: Text = ""
    priority: Whole
    thread: Text = ""
    note: Text = ""


class Run(Table):
    seed: Whole
    iterations: Annotated[Whole, Field(ge=0)]
    seconds: Annotated[Number, Field(ge=0)]


class Layout(Table):
    format: Literal["nesting-layout"]
    version: Whole
    workshop: dict[str, Any]
    hides: list[Any]
    margins: MarginsTable
    bed: Bed
    panels: list[Panel]
    cuts: list[Cut] = Field(default_factory=list)
    settings: dict[str, SettingTable]
    more_settings: dict[str, list[SettingTable]] = Field(default_factory=dict)
    wanted: list[Wanted]
    asked: list[Asked] = Field(default_factory=list)
    lines: list[OrderRow] = Field(default_factory=list)
    selling_prices: dict[Name, Money] = Field(default_factory=dict)
    drawings: list[DrawingTable] = Field(default_factory=list)
    placements: list[Placement]
    unplaced: list[Unplaced]
    burnt: list[Burnt] = Field(default_factory=list)
    lost: list[Placement] = Field(default_factory=list)
    partial: list[Name] | None = None
    run: Run
    limits: dict[Name, dict[Name, Number]] = Field(default_factory=dict)
    made_from: dict[Name, _Hash] = Field(default_factory=dict)
    figures: Annotated[dict[str, Any], AfterValidator(_finite)]
    seal: _Hash | None = None
