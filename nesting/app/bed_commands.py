"""What the commands at the machine do and say: export, templates, kerf, swatch."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from ..atomic import write_text
from ..errors import FileError, ModelError
from ..files.book import record_kerf, record_setting
from ..files.hides import read_hide
from ..files.layout import read_layout
from ..files.orders import read_orders
from ..files.products import read_products
from ..files.workshop import read_workshop
from ..model import SETTING_OPERATIONS, Layout, OrderLine, Setting
from ..referee.rules import check
from .run import console


def run_export(
    layout: Layout,
    folder: Path,
    job: Path,
    *,
    spread_heat: bool = False,
    frame: bool = False,
    align: Sequence[str] = (),
) -> bool:
    """Write files to burn and job cards, and paper templates for unsafe leather; false when nothing may be burnt.

    The cards take due dates, threads and notes from the orders of the job folder, where there are any.
    """
    from ..laser.export import export
    from ..report.card_files import write_cards

    findings = check(layout)
    if findings:
        _say(f"nothing written: the layout breaks {len(findings)} rules, first: {findings[0]}")
        return False
    result = export(layout, folder, spread_heat=spread_heat, frame=frame, measured=_measured(align))
    for text in (*result.warnings, *result.refusals):
        _say(text, "yellow")
    files = [*result.files, *write_cards(layout, result, folder, _orders(job))]
    old = [path for path in (folder / "cards.html", folder / "cards.pdf") if path.exists() and path not in files]
    if old:
        _say(f"older job cards are still there: delete {', '.join(map(str, old))}", "yellow")
    unsafe = [hide.id for hide in layout.hides if layout.on(hide.id) and not hide.laser_safe]
    for file in files:
        _say(str(file))
    if unsafe:
        run_templates(layout, folder, unsafe)
    return bool(result.files)


def run_templates(layout: Layout, folder: Path, hides: Sequence[str] | None) -> None:
    """Write paper templates for the parts on some hides, or on all."""
    from ..report.paper import write_templates

    known = [hide.id for hide in layout.hides if layout.on(hide.id)]
    for name in hides or ():
        if name not in known:
            raise FileError("--hide", "hide", name, f"give one with parts on it: {', '.join(known) or 'there is none'}")
    for name in hides or known:
        path, pages = write_templates(layout, name, folder)
        _say(f"{path}: paper templates to cut by knife, {pages} page(s): print at 100 % and check the 100 mm line")


def run_kerf(
    folder: Path, teeth: str, slots: str, thickness: float | None, record: bool, output: Path | None = None
) -> None:
    """Write a kerf comb, or work the kerf out from its measured widths."""
    from ..laser.comb import comb, kerf_from
    from ..model import between, rows_for

    path = folder / "workshop.toml"
    workshop = read_workshop(path)
    if teeth or slots:
        with _option("--teeth, --slots"):
            kerf = kerf_from(_numbers("--teeth", teeth), _numbers("--slots", slots))
        _say(f"kerf {kerf.mm:.3f} mm, give or take {kerf.error_mm:.3f} mm (standard error of {kerf.count} widths)")
        if record:
            record_kerf(path, round(kerf.mm, 3))
            _say(f"{path}: kerf_mm = {kerf.mm:.3f}; plan again, so that gaps and files follow it")
        return
    if record:
        raise FileError("--record", "widths", "missing", "give the measured widths with --teeth and --slots")
    rows = rows_for(workshop.settings, "")
    with _option("--thickness"):
        setting = between(rows, thickness) if thickness else None
    file = output or folder / "out" / "kerf-comb.svg"
    write_text(file, comb(workshop, setting))
    _say(
        f"{file}: cut it, measure teeth and slots, then: nesting kerf {folder} --teeth '5.8 ...' --slots '4.2 ...' --record"
    )


def run_swatch(
    folder: Path, thickness: float | None, operation: str, leather: str, offcut: str, typed: dict, output: Path | None
) -> None:
    """Write a swatch about the predicted setting, or about one typed in."""
    from ..files.swatch import write_swatch
    from ..laser.swatch import predicted, swatch
    from ..model import rows_for

    workshop = read_workshop(folder / "workshop.toml")
    if thickness is None:
        raise FileError("--thickness", "thickness", "missing", "give the thickness of the piece in mm, such as 1.8")
    if operation not in SETTING_OPERATIONS:
        raise FileError("--operation", "operation", operation, f"give {', '.join(SETTING_OPERATIONS)}")
    leather = " ".join(leather.split())
    room, turned = _room(folder, offcut) if offcut else (None, False)
    typed = {key: value for key, value in typed.items() if value is not None}
    with _option("--thickness"):
        if {"speed_mm_s", "power_percent"} <= set(typed):
            setting = Setting(
                "as typed", thickness, passes=typed.pop("passes", 1), operation=operation, basis="typed in", **typed
            )
        else:
            rows = rows_for((*workshop.settings, *workshop.engravings), leather, operation)
            setting = replace(predicted(rows, thickness), **typed)
        setting = replace(setting, leather=leather)
        if operation == "engrave deep" and not setting.line_spacing_mm:
            setting = replace(setting, line_spacing_mm=0.1)
    with _option("--offcut"):
        made = swatch(setting, room)
    slug = re.sub(r"[^A-Za-z0-9]+", "-", f"{operation} {leather} {thickness:g}mm").strip("-")
    path = output or folder / "out" / f"swatch-{slug}.svg"
    write_swatch(path, made, setting, workshop, turned)
    _say(
        f"{path}: {len(made.cells)} squares about {setting.speed_mm_s:.3g} mm/s and {setting.power_percent:.3g} % "
        f"({setting.basis}), {made.width_mm:.0f} x {made.height_mm:.0f} mm; cut it, then: nesting swatch record "
        f"{folder} --swatch {path} --best C3 --clean 'B3 C3'"
    )


def run_record(folder: Path, file: Path | None, best: str, clean: str, name: str, typed: dict, window: dict) -> None:
    """Add a tested row to the setting book, from a swatch or as typed."""
    from ..files.swatch import read_swatch
    from ..laser.swatch import taught_row

    path = folder / "workshop.toml"
    workshop = read_workshop(path)
    window = {key: value for key, value in window.items() if value is not None}
    if file is not None:
        if not best:
            raise FileError("--best", "square", "missing", "name the best square of the swatch, such as C3")
        with _option("--best, --clean"):
            made = read_swatch(file)
            name = name or _name(workshop, made.operation, made.leather, made.thickness_mm)
            setting = taught_row(made, best.strip().upper(), clean.upper().replace(",", " ").split(), name)
            if window:
                setting = replace(setting, **window, basis="tested")
    else:
        missing = [key for key in ("thickness_mm", "speed_mm_s", "power_percent") if typed[key] is None]
        if missing:
            raise FileError(
                "--swatch", ", ".join(missing), "missing", "give the swatch file, or thickness, speed and power"
            )
        typed["leather"] = " ".join(typed["leather"].split())
        name = name or _name(workshop, typed["operation"], typed["leather"], typed["thickness_mm"])
        with _option("record"):
            setting = Setting(name=name, **typed, **window)
    record_setting(path, setting)
    _say(
        f"{path}: added {setting.name}: {setting.operation}, {setting.thickness_mm:g} mm, {setting.speed_mm_s:g} mm/s, "
        f"{setting.power_percent:g} %, {setting.passes} pass(es), clean from {setting.thinnest_mm:g} to "
        f"{setting.thickest_mm:g} mm ({setting.basis})"
    )


def _orders(job: Path) -> tuple[OrderLine, ...]:
    path = job / "orders.csv"
    if not path.exists():
        return ()
    try:
        return read_orders(path, read_products(job / "products.toml"))
    except FileError as error:
        _say(f"the cards are without due dates and threads: {error}", "yellow")
        return ()


@contextmanager
def _option(option: str):
    """Say which option holds a value that cannot be."""
    try:
        yield
    except ModelError as error:
        raise FileError(option, error.thing, error.value, error.mend) from None


def _say(text: str, style: str | None = None) -> None:
    console.print(text, style=style, soft_wrap=True, markup=False)


def _numbers(option: str, text: str) -> list[float]:
    try:
        return [float(word) for word in text.replace(",", " ").split()]
    except ValueError:
        raise FileError(
            option, "widths", text, "give widths in mm with spaces between them: '5.81 5.79 5.80'"
        ) from None


def _measured(align: Sequence[str]) -> dict:
    found = {}
    for text in align:
        match = re.fullmatch(r"\s*(\S+)/(.+?):?\s+([A-Z]+)=(\S+),(\S+)\s+([A-Z]+)=(\S+),(\S+)\s*", text)
        try:
            hide, panel, first, x0, y0, second, x1, y1 = match.groups()
            found[hide, panel] = {first: (float(x0), float(y0)), second: (float(x1), float(y1))}
        except (AttributeError, ValueError):
            raise FileError(
                "--align", "points", text, "give 'HIDE/PANEL A=x,y B=x,y' in mm from the bed's bottom left"
            ) from None
    return found


def _room(folder: Path, name: str) -> tuple[tuple[float, float], bool]:
    """Width and height of the largest rectangle in a hide or offcut of this name, and whether it stands upright."""
    from ..costs.offcuts import largest_rectangle, offcuts

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
        raise FileError("--offcut", "name", name, f"give the name of a hide or of an offcut: {listed}")
    rectangle, wide, high = largest_rectangle(polygons[name])
    x0, y0, x1, y1 = rectangle.bounds
    return (wide, high), y1 - y0 > x1 - x0


def _name(workshop, operation: str, leather: str, thickness_mm: float) -> str:
    """A name no row has yet."""
    taken = {row.name for row in (*workshop.settings, *workshop.engravings)}
    plain = " ".join(filter(None, (leather, operation if operation != "cut" else "", f"{thickness_mm:g} mm")))
    number = 1
    while (name := plain if number == 1 else f"{plain} ({number})") in taken:
        number += 1
    return name
