"""Actions at the machine: files to burn and job cards, paper templates, swatches, the kerf."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ...atomic import write_text, written_anew
from ...book.book import Book
from ...errors import FileError, ModelError
from ...files.book import record_kerf
from ...files.hides import read_hide
from ...files.layout import Stated, read_layout
from ...files.orders import read_orders
from ...files.products import product_names
from ...files.workshop import read_workshop
from ...laser.comb import Kerf, comb, kerf_from
from ...laser.swatch import Swatch, predicted, swatch, taught_row
from ...laser.turns import Turn
from ...laser.turns import turns as in_turn
from ...model import SETTING_OPERATIONS, Layout, OrderLine, Setting, Workshop, between, rows_for
from ...referee.findings import Finding
from ..options import MeasuredPoints
from ..proof import prove
from . import shop


@dataclass(frozen=True)
class Templates:
    """Paper templates of one hide's parts: the file, and how many pages it has."""

    file: Path
    pages: int
    hide: str


@dataclass(frozen=True)
class Exported:
    """What came of an export: nothing but ``findings`` where the layout breaks a rule.

    ``orders_fault`` is what is wrong with the orders of the job folder, so that the cards are without due dates and
    threads; ``turns`` are the panels to burn, in the order in which to; ``changes`` is what of the folder is otherwise
    than when the layout was made; ``kept`` is where an export before it went; ``templates`` are for leather that must
    not be burnt; ``frameless`` are panels without a frame of card that was asked for, and why.
    """

    findings: Sequence[Finding] = ()
    burnt: tuple[Path, ...] = ()
    guides: tuple[Path, ...] = ()
    cards: tuple[Path, ...] = ()
    warnings: tuple[str, ...] = ()
    refusals: tuple[str, ...] = ()
    orders_fault: FileError | None = None
    turns: tuple[Turn, ...] = ()
    changes: tuple[str, ...] = ()
    kept: Path | None = None
    templates: tuple[Templates, ...] = ()
    frameless: tuple[tuple[str, str], ...] = ()


def export_layout(
    layout: Layout | Stated,
    folder: Path,
    job: Path,
    *,
    spread_heat: bool = False,
    frame: bool = False,
    measured: MeasuredPoints | None = None,
    kind: str = "svg",
) -> Exported:
    """Write files to burn and job cards, and paper templates for unsafe leather; nothing where a rule is broken.

    All of it or nothing; what is in the folder of an export before goes to ``earlier/DATE-TIME`` there.
    The cards take due dates, threads and notes from the orders of the job folder, where there are any.
    """
    from ...laser.export import BURNT, export
    from ...report.card_files import write_cards

    stated = layout if isinstance(layout, Stated) else Stated(layout, {}, None)
    layout, proved = stated.layout, prove(stated, job)
    if proved.findings:
        return Exported(proved.findings)
    shop.refuse_gone(job, layout)
    orders, fault = lines_now(layout, job)
    unsafe = [hide.id for hide in layout.hides if layout.on(hide.id) and not hide.laser_safe]
    with written_anew(folder, BURNT) as new:
        result = export(layout, new.path, spread_heat=spread_heat, frame=frame, measured=measured or {}, kind=kind)
        by_knife = [*unsafe, *(hide.id for hide in layout.hides if hide.id not in unsafe and layout.cut_out(hide.id))]
        templates = write_paper_templates(layout, new.path, by_knife, knife_only=True) if by_knife else []
        cards = write_cards(layout, result, new.path, orders, {made.hide: made.file.name for made in templates})
    turns = {(turn.hide, turn.panel): turn for turn in in_turn(layout, orders)}
    loads = sorted(result.loads, key=lambda file: turns[file.load.hide, file.load.panel].number)
    place = {f"{file.path.stem}{end}": rank for rank, file in enumerate(loads) for end in ("", "-guide", "-frame")}

    def in_order(paths: Sequence[Path]) -> tuple[Path, ...]:
        """The files of each load, in the order of the loads."""
        return tuple(folder / path.name for path in sorted(paths, key=lambda path: place[path.stem]))

    return Exported(
        burnt=in_order(result.files),
        guides=in_order(result.guides),
        turns=tuple(dict.fromkeys(turns[file.load.hide, file.load.panel] for file in loads)),
        cards=tuple(folder / path.name for path in cards),
        warnings=result.warnings,
        refusals=result.refusals,
        orders_fault=fault,
        changes=proved.changes,
        kept=new.kept,
        templates=tuple(replace(made, file=folder / made.file.name) for made in templates),
        frameless=result.frameless,
    )


def write_paper_templates(
    layout: Layout, folder: Path, hides: Sequence[str] | None = None, knife_only: bool = False
) -> list[Templates]:
    """Write paper templates for the parts on some hides, or on all; of hides that are burnt all the same, or only those
    of what is cut by knife."""
    from ...report.paper import write_templates

    known = [hide.id for hide in layout.hides if layout.on(hide.id)]
    for name in hides or ():
        if name not in known:
            raise FileError("--hide", "hide", name, f"give one with parts on it: {', '.join(known) or 'there is none'}")
    made = ((name, write_templates(layout, name, folder, knife_only)) for name in hides or known)
    return [Templates(*found, name) for name, found in made if found is not None]


def kerf_comb(folder: Path, thickness_mm: float | None) -> str:
    """The SVG of a comb to cut and measure, with the setting for a thickness told in it."""
    workshop = read_workshop(folder / "workshop.toml")
    setting = between(rows_for(workshop.settings, ""), thickness_mm) if thickness_mm else None
    return comb(workshop, setting)


def write_kerf_comb(folder: Path, thickness_mm: float | None, output: Path | None = None) -> Path:
    """Write it to a file."""
    file = output or folder / "out" / "kerf-comb.svg"
    write_text(file, kerf_comb(folder, thickness_mm))
    return file


def work_kerf_out(folder: Path, teeth: Sequence[float], slots: Sequence[float], record: bool) -> Kerf:
    """The kerf from the widths of a comb's teeth and slots, in mm; put into workshop.toml where asked."""
    path = folder / "workshop.toml"
    read_workshop(path)
    kerf = kerf_from(teeth, slots)
    if record:
        record_kerf(path, round(kerf.mm, 3))
    return kerf


def swatch_setting(
    folder: Path, thickness_mm: float, operation: str, leather: str, typed: Mapping[str, Any]
) -> tuple[Setting, Workshop]:
    """What to burn in the middle of a swatch, predicted from the setting book or as typed; and its workshop."""
    workshop = read_workshop(folder / "workshop.toml")
    if operation not in SETTING_OPERATIONS:
        raise FileError("--operation", "operation", operation, f"give {', '.join(SETTING_OPERATIONS)}")
    leather = " ".join(leather.split())
    given = {key: value for key, value in typed.items() if value is not None}
    _only_engraving_fills(operation, given)
    if {"speed_mm_s", "power_percent"} <= set(given):
        passes = given.pop("passes", 1)
        setting = Setting("as typed", thickness_mm, passes=passes, operation=operation, basis="typed in", **given)
    else:
        rows = rows_for((*workshop.settings, *workshop.engravings), leather, operation)
        setting = replace(predicted(rows, thickness_mm), **given)
    setting = replace(setting, leather=leather)
    if operation == "engrave deep" and "line_spacing_mm" not in given and not setting.line_spacing_mm:
        setting = replace(setting, line_spacing_mm=0.1)
    return setting, workshop


def _only_engraving_fills(operation: str, given: Mapping[str, Any]) -> None:
    if operation == "cut" and given.get("line_spacing_mm"):
        mend = "leave it out, or say --operation 'engrave shallow' or 'engrave deep'"
        raise FileError("--line-spacing", "line spacing", f"{given['line_spacing_mm']:g} mm to cut with", mend)


def write_swatch_file(
    folder: Path, setting: Setting, workshop: Workshop, offcut: str = "", output: Path | None = None
) -> tuple[Path, Swatch]:
    """Write a test piece about a setting, as large as fits an offcut or a hide where one is named."""
    from ...files.swatch import write_swatch

    room, turned = _room(folder, offcut) if offcut else (None, False)
    made = swatch(setting, room)
    words = f"{setting.operation} {setting.leather} {setting.thickness_mm:g}mm"
    slug = re.sub(r"[^A-Za-z0-9]+", "-", words).strip("-")
    path = output or folder / "out" / f"swatch-{slug}.svg"
    write_swatch(path, made, setting, workshop, turned)
    return path, made


def record_swatch(
    folder: Path, file: Path, best: str, clean: str, name: str, window: Mapping[str, float | None]
) -> Setting:
    """Add to the setting book what a cut swatch taught, by the names of its squares."""
    from ...files.swatch import read_swatch

    path = folder / "workshop.toml"
    workshop = read_workshop(path)
    made = read_swatch(file)
    name = name or _unused_name(workshop, made.operation, made.leather, made.thickness_mm)
    setting = taught_row(made, best.strip().upper(), clean.upper().replace(",", " ").split(), name)
    tested: dict[str, Any] = {key: value for key, value in window.items() if value is not None}
    if tested:
        setting = replace(setting, **tested, basis="tested")
    squares = clean.upper().replace(",", " ").split()
    shop.tested(folder, setting, file.name, best.strip().upper(), squares)
    return setting


def record_typed(folder: Path, name: str, typed: Mapping[str, Any], window: Mapping[str, float | None]) -> Setting:
    """Add a tested row to the setting book as it was typed."""
    path = folder / "workshop.toml"
    workshop = read_workshop(path)
    given: dict[str, Any] = {key: value for key, value in typed.items() if value is not None}
    given["leather"] = " ".join(typed["leather"].split())
    _only_engraving_fills(given["operation"], given)
    name = name or _unused_name(workshop, given["operation"], given["leather"], given["thickness_mm"])
    given |= {key: value for key, value in window.items() if value is not None}
    setting = Setting(name=name, **given)
    shop.tested(folder, setting)
    return setting


def lines_now(layout: Layout, job: Path) -> tuple[tuple[OrderLine, ...], FileError | None]:
    """The orders as they are now, and what is wrong with their list; what the stock book has ordered may stand in no
    list any more."""
    return (layout.lines, None) if Book.there(job) else _orders(job)


def _orders(job: Path) -> tuple[tuple[OrderLine, ...], FileError | None]:
    path = job / "orders.csv"
    if not path.exists():
        return (), None
    try:
        return read_orders(path, product_names(job / "products.toml")), None
    except FileError as error:
        return (), error


def _room(folder: Path, name: str) -> tuple[tuple[float, float], bool]:
    """Width and height of the largest rectangle in a hide or offcut of this name, and whether it stands upright."""
    from ...costs.offcuts import largest_rectangle, offcuts

    polygons = {}
    hide_file = folder / "hides" / f"{name}.json"
    layout_file = folder / "out" / "layout.json"
    if re.fullmatch(r"[A-Za-z0-9._-]+", name) and hide_file.exists():
        polygons[name] = read_hide(hide_file).outline
    elif layout_file.exists():
        layout = read_layout(layout_file)
        for hide in layout.hides:
            polygons |= {offcut.id: offcut.polygon for offcut in offcuts(layout, hide.id)[0]}
    if name not in polygons:
        listed = ", ".join(list(polygons)[:20]) or "neither a hide nor a layout with offcuts is in this folder"
        raise ModelError("name", name, f"give the name of a hide or of an offcut: {listed}")
    rectangle, wide, high = largest_rectangle(polygons[name])
    x0, y0, x1, y1 = rectangle.bounds
    return (wide, high), y1 - y0 > x1 - x0


def _unused_name(workshop: Workshop, operation: str, leather: str, thickness_mm: float) -> str:
    """A name no row has yet."""
    taken = {row.name for row in (*workshop.settings, *workshop.engravings)}
    plain = " ".join(filter(None, (leather, operation if operation != "cut" else "", f"{thickness_mm:g} mm")))
    number = 1
    while (name := plain if number == 1 else f"{plain} ({number})") in taken:
        number += 1
    return name
