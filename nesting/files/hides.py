"""hides/*.json: one hide a file."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
import shapely
from pydantic import Field
from shapely.geometry import Polygon

from ..atomic import write_json
from ..errors import FileError
from ..leather.limits import DEFAULT as LEATHER
from ..model import ANSWERS, Answer, Doubt, Hide, Reading, Smoothed, StatedError, Suggestion, Traced, Zone
from .limits import DEFAULT
from .rings import Coordinate, Point, Ring, corners, pair, polygon, rounded_mm
from .schema import (
    Grade,
    Money,
    Name,
    NominalMm,
    Number,
    SafeName,
    Table,
    Tannage,
    Text,
    ThicknessMm,
    Truth,
    Whole,
    at,
    check_format,
    one_of,
    spot,
    validate,
)
from .source import read_json

FORMAT = "nesting-hide"
_ROWS: Any = Field(default_factory=list, max_length=DEFAULT.most_rows)


class ZoneTable(Table):
    grade: Grade
    kind: Text = ""
    polygon: Ring


class _Suggestion(ZoneTable):
    confidence: Annotated[Number, Field(ge=0, le=1)] = 0.5
    status: Literal["suggested"] = "suggested"


class _Reading(Table):
    x: Coordinate
    y: Coordinate
    mm: ThicknessMm
    cut_off: Truth = False


class _Doubt(Table):
    kind: Name
    polygon: Ring
    size_mm: Annotated[Number, Field(ge=0)] = 0.0
    settles: Text = ""
    number: Annotated[Whole, Field(ge=0, le=DEFAULT.most_rows)] = 0
    pixel: Point | None = None


class _Answer(Table):
    answer: Annotated[str, one_of(ANSWERS)]
    pixel: Point
    number: Annotated[Whole, Field(ge=0, le=DEFAULT.most_rows)] = 0


_Axis = Annotated[list[Coordinate], Field(min_length=2, max_length=DEFAULT.most_error_cells)]


class _Error(Table):
    x: _Axis
    y: _Axis
    mm: Annotated[list[_Axis], Field(min_length=2, max_length=DEFAULT.most_error_cells)]


class _Trace(Table):
    reference: Name
    mm_per_pixel: Annotated[Number, Field(gt=0, le=100)]
    expected_error_mm: Annotated[Number, Field(ge=0, le=1000)]
    residual_pixels: Annotated[Number, Field(ge=0, le=10_000)] | None = None
    origin_mm: Point | None = None
    picture: Text = ""
    limits: dict[Name, Number | None] = Field(default_factory=dict)
    answers: list[_Answer] = _ROWS


class _Smoothed(Table):
    mm: Annotated[Number, Field(gt=0, le=DEFAULT.most_smoothing_mm)]
    area_mm2: Annotated[Number, Field(ge=0)]


class _Hide(Table):
    format: Literal["nesting-hide"]
    version: Whole
    id: SafeName
    outline: Ring
    holes: list[Ring] = _ROWS
    zones: list[ZoneTable] = _ROWS
    readings: list[_Reading] = Field(default_factory=list, max_length=LEATHER.most_readings)
    nominal_mm: NominalMm | None = None
    backbone: Annotated[list[Point], Field(min_length=2, max_length=2)] | None = None
    tannage: Tannage = "unknown"
    colour: Text = ""
    price: Money | None = None
    photo: Text = ""
    leather: Text = ""
    finish: Text = ""
    lot: Text = ""
    trace: _Trace | None = None
    suggestions: list[_Suggestion] = _ROWS
    error_mm: _Error | None = None
    doubts: list[_Doubt] = _ROWS
    smoothed: _Smoothed | None = None


def read_hide(path: Path, currency: str = "") -> Hide:
    """Read one hide.

    Parameters
    ----------
    path : Path
        A JSON file of at most 64 MB.
    currency : str
        What its price must be in (ISO 4217); empty where that is not known.

    Returns
    -------
    Hide
        Coordinates in mm, y up.

    Raises
    ------
    FileError
        For the first fault found.
    """
    return hide_from_dict(read_json(path), path, "", currency)


def write_hide(path: Path, hide: Hide) -> None:
    """Write one hide, whole or not at all, coordinates rounded to 1e-4 mm.

    Parameters
    ----------
    path : Path
    hide : Hide

    Raises
    ------
    FileError
        When the file cannot be written, or could not be read back (an id that cannot name a file, say).
    """
    data = hide_to_dict(hide)
    hide_from_dict(data, path, "")
    write_json(path, data)


def hide_to_dict(hide: Hide) -> dict[str, Any]:
    """The keys of a hide file; those that say nothing are left out. Price as text."""
    outline, holes = corners(hide.outline)
    needed = {"format": FORMAT, "version": 1, "id": hide.id, "outline": outline}
    others = {
        "holes": holes,
        "zones": [zone_to_dict(zone) for zone in hide.zones],
        "readings": [
            {"x": rounded_mm(r.x), "y": rounded_mm(r.y), "mm": float(r.mm)} | ({"cut_off": True} if r.cut_off else {})
            for r in hide.readings
        ],
        "nominal_mm": hide.nominal_mm,
        "backbone": hide.backbone and [[rounded_mm(x), rounded_mm(y)] for x, y in hide.backbone],
        "tannage": hide.tannage,
        "colour": hide.colour,
        "price": None if hide.price is None else str(hide.price),
        "photo": hide.photo,
        "leather": hide.leather,
        "finish": hide.finish,
        "lot": hide.lot,
        "trace": hide.traced and _trace_to_dict(hide.traced),
        "suggestions": [
            zone_to_dict(one) | {"confidence": one.confidence, "status": "suggested"} for one in hide.suggestions
        ],
        "error_mm": hide.error
        and {
            "x": [rounded_mm(x) for x in hide.error.xs],
            "y": [rounded_mm(y) for y in hide.error.ys],
            "mm": [[rounded_mm(mm, DEFAULT.error_digits) for mm in row] for row in hide.error.mm],
        },
        "doubts": [_doubt_to_dict(one) for one in hide.doubts],
        "smoothed": hide.smoothed and asdict(hide.smoothed),
    }
    return needed | {key: value for key, value in others.items() if value not in (None, "", [])}


def _trace_to_dict(traced: Traced) -> dict[str, Any]:
    said = {key: value for key, value in asdict(traced).items() if value not in (None, "", {}, ())}
    answers = [
        {"answer": one.answer, "pixel": [rounded_mm(at, 1) for at in one.pixel]}
        | ({"number": one.number} if one.number else {})
        for one in traced.answers
    ]
    return said | ({"answers": answers} if answers else {})


def _doubt_to_dict(doubt: Doubt) -> dict[str, Any]:
    pixel = doubt.pixel and [rounded_mm(at, 1) for at in doubt.pixel]
    needed = {"kind": doubt.kind, "polygon": corners(doubt.polygon)[0], "size_mm": rounded_mm(doubt.size_mm, 2)}
    others = {"settles": doubt.settles, "number": doubt.number, "pixel": pixel}
    return needed | {key: value for key, value in others.items() if value}


def hide_from_dict(data: object, file: str | Path, place: str, currency: str = "") -> Hide:
    """The hide that is in the keys of a hide file (also kept in layout.json).

    Raises
    ------
    FileError
        For the first fault found, with its place below ``place``.
    """
    check_format(data, FORMAT, file, place)
    table = validate(_Hide, data, file, place, currency)
    _check_size(table, file, place)
    outline = polygon(file, spot(file, place, "outline"), table.outline, table.holes, spot(file, place, "holes"))
    shapely.prepare(outline)
    with at(file, place):
        return Hide(
            id=table.id,
            outline=outline,
            zones=_zones(table, outline, file, place),
            readings=_readings(table, outline, file, place),
            nominal_mm=table.nominal_mm,
            backbone=None if table.backbone is None else (pair(table.backbone[0]), pair(table.backbone[1])),
            tannage=table.tannage or "unknown",
            colour=table.colour,
            price=table.price,
            photo=table.photo,
            leather=table.leather,
            finish=table.finish,
            lot=table.lot,
            suggestions=_suggestions(table, outline, file, place),
            traced=_traced(table.trace),
            error=_error(table.error_mm, file, place),
            doubts=_doubts(table, outline, file, place),
            smoothed=None if table.smoothed is None else Smoothed(table.smoothed.mm, table.smoothed.area_mm2),
        )


def _traced(table: _Trace | None) -> Traced | None:
    if table is None:
        return None
    # The picture lies beside the hide file: a path elsewhere is not followed.
    picture = table.picture if Path(table.picture).name == table.picture else ""
    origin = None if table.origin_mm is None else pair(table.origin_mm)
    return Traced(
        table.reference,
        table.mm_per_pixel,
        table.expected_error_mm,
        table.residual_pixels,
        origin,
        picture,
        table.limits,
        tuple(Answer(one.answer, pair(one.pixel), one.number) for one in table.answers),
    )


def _error(table: _Error | None, file: str | Path, place: str) -> StatedError | None:
    if table is None:
        return None
    with at(file, spot(file, place, "error_mm")):
        return StatedError(tuple(table.x), tuple(table.y), tuple(map(tuple, table.mm)))


def _doubts(table: _Hide, outline: Polygon, file: str | Path, place: str) -> tuple[Doubt, ...]:
    doubts, numbers = [], set[int]()
    for index, row in enumerate(table.doubts):
        where = spot(file, place, "doubts", index)
        shape = polygon(file, spot(file, where, "polygon"), row.polygon)
        if not shapely.dwithin(outline, shape, DEFAULT.reading_slack_mm):
            x, y = row.polygon[0]
            mend = "lies outside the leather: move it onto the hide or delete it"
            raise FileError(file, where, f"the doubt at ({x:g}, {y:g})", mend)
        if row.number in numbers - {0}:
            raise FileError(file, spot(file, where, "number"), row.number, "give each doubt a number of its own")
        numbers.add(row.number)
        pixel = None if row.pixel is None else pair(row.pixel)
        doubts.append(Doubt(shape, row.kind, row.size_mm, row.settles, row.number, pixel))
    return tuple(doubts)


def zone_to_dict(zone: Zone | Suggestion) -> dict[str, Any]:
    """The keys of a zone of a hide or of a part."""
    return {"grade": zone.grade, "kind": zone.kind, "polygon": corners(zone.polygon)[0]}


def zone_from_table(row: ZoneTable, file: str | Path, place: str) -> Zone:
    """One zone from its checked keys."""
    return Zone(polygon(file, spot(file, place, "polygon"), row.polygon), row.grade, row.kind)


def _check_size(table: _Hide, file: str | Path, place: str) -> None:
    count = (
        len(table.outline)
        + sum(map(len, table.holes))
        + sum(len(zone.polygon) for zone in (*table.zones, *table.suggestions))
        + sum(len(doubt.polygon) for doubt in table.doubts)
    )
    if count > DEFAULT.ring_points:
        mend = f"simplify the outlines: at most {DEFAULT.ring_points} points in all"
        raise FileError(file, spot(file, place, "outline"), f"{count} points with holes and zones", mend)
    width, height = (max(axis) - min(axis) for axis in zip(*table.outline, strict=True))
    if max(width, height) < DEFAULT.smallest_hide_mm:
        raise FileError(
            file,
            spot(file, place, "outline"),
            f"{width:g} x {height:g} mm",
            "too small for a hide: give coordinates in mm",
        )


def _suggestions(table: _Hide, outline: Polygon, file: str | Path, place: str) -> tuple[Suggestion, ...]:
    zones = _zones(table, outline, file, place, "suggestions")
    rows = table.suggestions
    return tuple(
        Suggestion(one.polygon, one.grade, one.kind, row.confidence) for one, row in zip(zones, rows, strict=True)
    )


def _zones(table: _Hide, outline: Polygon, file: str | Path, place: str, key: str = "zones") -> tuple[Zone, ...]:
    zones = []
    for index, row in enumerate(getattr(table, key)):
        where = spot(file, place, key, index)
        zone = zone_from_table(row, file, where)
        if not outline.intersects(zone.polygon):
            x, y = row.polygon[0]
            raise FileError(
                file,
                where,
                f"the zone at ({x:g}, {y:g})",
                "lies outside the leather: move it onto the hide or delete it",
            )
        zones.append(zone)
    return tuple(zones)


def _readings(table: _Hide, outline: Polygon, file: str | Path, place: str) -> tuple[Reading, ...]:
    places = np.array([(rounded_mm(row.x), rounded_mm(row.y)) for row in table.readings]).reshape(-1, 2)
    slack = [DEFAULT.farthest_cut_off_mm if row.cut_off else DEFAULT.reading_slack_mm for row in table.readings]
    near = np.atleast_1d(shapely.distance(outline, shapely.points(places))) <= slack
    readings = []
    for index, row in enumerate(table.readings):
        where = spot(file, place, "readings", index)
        if not near[index]:
            raise FileError(
                file, where, f"({row.x:g}, {row.y:g})", "lies outside the leather: correct the point or delete it"
            )
        with at(file, where, {"reading thickness (mm)": ("mm",)}):
            readings.append(Reading(float(places[index, 0]), float(places[index, 1]), row.mm, row.cut_off))
    return tuple(readings)
