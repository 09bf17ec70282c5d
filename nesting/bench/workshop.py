"""The workshop's own table: machine, margins, prices, the setting book, and test pieces."""

from __future__ import annotations

import re
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query, Request
from fastapi.responses import Response
from pydantic import Field

from ..app.actions import bed
from ..app.options import widths
from ..files.book import changed_text
from ..files.swatch import read_swatch
from ..files.workshop import workshop_to_dict
from ..model import SETTING_OPERATIONS, Workshop, units
from ..model.workshop import ASKED
from .plan import Asked, By, Name, bench_of
from .state import Bench

router = APIRouter(prefix="/api")
TABLES = ("machine", "margins", "prices", "offcuts", "thickness", "engraving")
Text = Annotated[str, Field(max_length=200)]
Number = Annotated[float, Field(ge=-1e7, le=1e7)]
Spacing = Annotated[float, Field(ge=0, le=5)]


@router.get("/workshop")
def workshop(request: Request) -> dict[str, Any]:
    """The workshop: each table as it is read, and the test pieces at hand."""
    return _workshop(bench_of(request))


def _workshop(bench: Bench) -> dict[str, Any]:
    found = bench.workshop()
    steps = bench.desk.steps(bench.folder / "workshop.toml")
    if found is None:
        raise HTTPException(404, "there is no workshop that can be read: mend workshop.toml")
    data = workshop_to_dict(found)
    return {
        "units": found.units,
        "tables": {name: data[name] for name in TABLES},
        "first": _first(found),
        "settings": [row | {"energy": _energy(found, row)} for row in data["setting"]],
        "operations": list(SETTING_OPERATIONS),
        "swatches": [_swatch(name, path) for name, path in _swatches(bench).items()],
        "undo": bool(steps and steps.at > 0),
        "redo": bool(steps and steps.at < steps.last),
    }


def _first(found: Workshop) -> list[tuple[str, str]]:
    """Table and key of what the workshop's file does not have yet, and is to be told or measured first."""
    return [(table, key) for key, table in ASKED.items() if key in found.untold and table != "prices"]


def _energy(found: Any, row: dict[str, Any]) -> float:
    rows = (*found.settings, *found.engravings)
    return next(float(one.line_energy_j_mm(found.machine.rated_w)) for one in rows if one.name == row["name"])


class WorkshopKey(Asked):
    """One key of the workshop's file and its new value; nothing takes it out, so that its default counts."""

    table: Literal["", "machine", "margins", "prices", "offcuts", "thickness", "engraving"]
    key: Annotated[str, Field(max_length=60, pattern=r"^[a-z_0-9]+$")]
    value: Number | Text | None = None


@router.post("/workshop")
def change_workshop(request: Request, asked: WorkshopKey) -> dict[str, Any]:
    """Change one value of the workshop."""
    bench = bench_of(request)
    file = bench.folder / "workshop.toml"
    place = [asked.table, asked.key] if asked.table else [asked.key]
    bench.desk.change(file, changed_text(file, place, asked.value).encode())
    bench.hub.tell("changed", {"what": "workshop"})
    return _workshop(bench)


class SettingRow(Asked):
    """A tested row of the setting book as it is typed."""

    name: Text = ""
    thickness: Text
    speed_mm_s: Annotated[float, Field(gt=0, le=5000)]
    power_percent: Annotated[float, Field(gt=0, le=100)]
    passes: Annotated[int, Field(ge=1, le=20)] = 1
    operation: Literal["cut", "engrave shallow", "engrave deep"] = "cut"
    leather: Text = ""
    line_spacing_mm: Spacing = 0.0
    thinnest: Text = ""
    thickest: Text = ""


@router.post("/settings")
def add_setting(request: Request, asked: SettingRow) -> dict[str, Any]:
    """Add a tested row to the setting book."""
    bench = bench_of(request)
    typed = {
        "thickness_mm": units.thickness_mm(asked.thickness),
        **asked.model_dump(include={"speed_mm_s", "power_percent", "passes", "operation", "leather"}),
        "line_spacing_mm": _spacing(asked.operation, asked.line_spacing_mm),
    }
    with bench.desk.changing(bench.folder / "workshop.toml"):
        bed.record_typed(bench.folder, asked.name, typed, _window(asked.thinnest, asked.thickest))
    bench.hub.tell("changed", {"what": "workshop"})
    return _workshop(bench)


def _spacing(operation: str, line_spacing_mm: float) -> float:
    """Only engraving fills shapes with lines."""
    return 0.0 if operation == "cut" else line_spacing_mm


def _window(thinnest: str, thickest: str) -> dict[str, float | None]:
    ends = {"thinnest_mm": thinnest, "thickest_mm": thickest}
    return {name: units.thickness_mm(text) if text.strip() else None for name, text in ends.items()}


class RowChange(Asked):
    """One value of a row of the setting book as it is typed; where it is empty, what stands for it by default counts.

    A line spacing is how far apart the lines lie with which an engraving row fills closed shapes; 0 follows their
    edges.
    """

    key: Literal[
        "thickness_mm", "speed_mm_s", "power_percent", "passes", "thinnest_mm", "thickest_mm", "leather",
        "line_spacing_mm",
    ]  # fmt: skip
    value: Number | Text


@router.post("/settings/{name}")
def change_setting(request: Request, name: str, asked: RowChange) -> dict[str, Any]:
    """Give a row of the setting book another value."""
    bench = bench_of(request)
    file = bench.folder / "workshop.toml"
    number, row = _row(file, name)
    if asked.key == "line_spacing_mm" and row.get("operation", "cut") == "cut":
        raise HTTPException(409, "only engraving has a line spacing")
    text = changed_text(file, ["setting", number, asked.key], _typed(asked), _stale(row, asked.key))
    bench.desk.change(file, text.encode())
    bench.hub.tell("changed", {"what": "workshop"})
    return _workshop(bench)


def _typed(asked: RowChange) -> object:
    """A value of a row as its file has it; None where its default counts."""
    value = asked.value
    if isinstance(value, str):
        value = " ".join(value.split())
        if value and asked.key in ("thickness_mm", "thinnest_mm", "thickest_mm"):
            return units.thickness_mm(value)
    elif value.is_integer() and asked.key == "passes":
        return int(value)
    optional = asked.key in ("thinnest_mm", "thickest_mm", "leather", "line_spacing_mm")
    return None if optional and not value else value


def _stale(row: dict[str, Any], key: str) -> tuple[str, ...]:
    """What a row says no longer once one of its values is another: where its window comes from, and one by rule."""
    by_rule = "default rule" in str(row.get("basis", ""))
    if by_rule and key == "thickness_mm":
        return "thinnest_mm", "thickest_mm", "basis"
    return () if key in ("leather", "line_spacing_mm") or (by_rule and not key.startswith("thi")) else ("basis",)


@router.delete("/settings/{name}")
def remove_setting(request: Request, name: str) -> dict[str, Any]:
    """Take a row out of the setting book."""
    bench = bench_of(request)
    file = bench.folder / "workshop.toml"
    number, _ = _row(file, name)
    bench.desk.change(file, changed_text(file, ["setting", number], None).encode())
    bench.hub.tell("changed", {"what": "workshop"})
    return _workshop(bench)


def _row(file: Path, name: str) -> tuple[int, dict[str, Any]]:
    """A row of the setting book as its file has it, and its number."""
    from ..files.source import read_toml

    rows = read_toml(file).get("setting", [])
    for number, row in enumerate(rows if isinstance(rows, list) else []):
        if isinstance(row, dict) and row.get("name") == name:
            return number, row
    raise HTTPException(404, "there is no such row")


@router.post("/workshop/step")
def step_workshop(request: Request, asked: By) -> dict[str, Any]:
    """Undo or do again."""
    bench = bench_of(request)
    bench.step(bench.folder / "workshop.toml", asked.by)
    bench.hub.tell("changed", {"what": "workshop"})
    return _workshop(bench)


class SwatchAsked(Asked):
    """A test piece: as the options of `nesting swatch`."""

    thickness: Text
    operation: Literal["cut", "engrave shallow", "engrave deep"] = "cut"
    leather: Text = ""
    offcut: Text = ""
    speed_mm_s: Annotated[float, Field(gt=0, le=5000)] | None = None
    power_percent: Annotated[float, Field(gt=0, le=100)] | None = None
    passes: Annotated[int, Field(ge=1, le=20)] | None = None
    line_spacing_mm: Spacing | None = None


@router.post("/swatches")
def make_swatch(request: Request, asked: SwatchAsked) -> dict[str, Any]:
    """Make a test piece about the setting predicted, or about one typed in."""
    bench = bench_of(request)
    typed = asked.model_dump(include={"speed_mm_s", "power_percent", "passes"})
    if asked.line_spacing_mm is not None:
        typed["line_spacing_mm"] = _spacing(asked.operation, asked.line_spacing_mm)
    setting, found = bed.swatch_setting(
        bench.folder, units.thickness_mm(asked.thickness), asked.operation, asked.leather, typed
    )
    path, _ = bed.write_swatch_file(bench.folder, setting, found, asked.offcut)
    bench.hub.tell("changed", {"what": "workshop"})
    return _swatch(path.name, path)


def _swatches(bench: Bench) -> dict[str, Path]:
    return {path.name: path for path in sorted(bench.folder.glob("out/swatch-*.svg"))}


def _swatch(name: str, path: Path) -> dict[str, Any]:
    found = read_swatch(path)
    return {
        "name": name,
        "operation": found.operation,
        "leather": found.leather,
        "thickness_mm": found.thickness_mm,
        "passes": found.passes,
        "size_mm": [found.width_mm, found.height_mm],
        "cells": [
            {
                "name": cell.name,
                "speed_mm_s": cell.speed_mm_s,
                "power_percent": cell.power_percent,
                "x": cell.x,
                "y": cell.y,
            }
            for cell in found.cells
        ],
    }


@router.get("/swatches/{name}")
def swatch_file(request: Request, name: str) -> Response:
    """A test piece to burn."""
    path = _swatches(bench_of(request)).get(name)
    if path is None:
        raise HTTPException(404, "there is no such test piece")
    headers = {"content-disposition": f'attachment; filename="{re.sub(r"[^A-Za-z0-9._-]", "-", path.name)}"'}
    return Response(path.read_bytes(), media_type="image/svg+xml", headers=headers)


class SwatchResult(Asked):
    """What a cut test piece taught: its best square and all that came out clean."""

    best: Annotated[str, Field(max_length=8)]
    clean: Annotated[list[Annotated[str, Field(max_length=8)]], Field(max_length=200)] = []
    name: Name = ""
    thinnest: Text = ""
    thickest: Text = ""


@router.post("/swatches/{name}")
def record_swatch(request: Request, name: str, asked: SwatchResult) -> dict[str, Any]:
    """Add what a cut test piece taught to the setting book."""
    bench = bench_of(request)
    path = _swatches(bench).get(name)
    if path is None:
        raise HTTPException(404, "there is no such test piece")
    window = _window(asked.thinnest, asked.thickest)
    with bench.desk.changing(bench.folder / "workshop.toml"):
        bed.record_swatch(bench.folder, path, asked.best, " ".join(asked.clean), asked.name, window)
    bench.hub.tell("changed", {"what": "workshop"})
    return _workshop(bench)


@router.get("/kerf-comb.svg")
def kerf_comb(request: Request, thickness: Annotated[str, Query(max_length=200)] = "") -> Response:
    """A comb to cut and measure the kerf by; with a thickness, the setting it is cut with is told in it."""
    found = bed.kerf_comb(bench_of(request).folder, units.thickness_mm(thickness) if thickness.strip() else None)
    headers = {"content-disposition": 'attachment; filename="kerf-comb.svg"'}
    return Response(found, media_type="image/svg+xml", headers=headers)


class KerfMeasured(Asked):
    """The widths of a cut comb, as they are typed: mm, or with their unit."""

    teeth: Text = ""
    slots: Text = ""


@router.post("/kerf")
def record_kerf(request: Request, asked: KerfMeasured) -> dict[str, Any]:
    """Work the kerf out from the widths of a comb, and put it into the workshop's file."""
    bench = bench_of(request)
    teeth, slots = widths("teeth", asked.teeth), widths("slots", asked.slots)
    with bench.desk.changing(bench.folder / "workshop.toml"):
        found = bed.work_kerf_out(bench.folder, teeth, slots, record=True)
    bench.hub.tell("changed", {"what": "workshop"})
    return _workshop(bench) | {"kerf": {"mm": found.mm, "error_mm": found.error_mm}}


@router.get("/marker-sheets.pdf")
def marker_sheets() -> Response:
    """The marker sheets to print and lay around a hide before it is photographed."""
    from ..tracing.markers import write_marker_sheets

    with TemporaryDirectory() as folder:
        content = write_marker_sheets(folder)[0].read_bytes()
    headers = {"content-disposition": 'attachment; filename="marker-sheets.pdf"'}
    return Response(content, media_type="application/pdf", headers=headers)
