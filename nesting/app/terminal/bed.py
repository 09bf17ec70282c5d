"""What the commands at the machine say: export, templates, kerf, swatch."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ...errors import FileError
from ...files.layout import Stated
from ...model import Layout, Setting
from ...model.values import counted
from ...report.turn_words import turn_words
from ..actions import bed
from ..actions.shop import refuse_gone
from ..options import measured_points, option, widths
from ..proof import prove
from .console import say
from .job import unsound


def run_export(
    layout: Layout | Stated,
    folder: Path,
    job: Path,
    *,
    spread_heat: bool = False,
    frame: bool = False,
    align: Sequence[str] = (),
    kind: str = "svg",
) -> bool:
    """Export a layout and tell what was written; false when nothing may be burnt."""
    measured = measured_points(align)
    done = bed.export_layout(layout, folder, job, spread_heat=spread_heat, frame=frame, measured=measured, kind=kind)
    if done.findings:
        say(f"nothing written: {unsound(done.findings)}")
        return False
    for text in done.changes:
        say(f"note: {text}", "yellow")
    for text in (*done.warnings, *done.refusals):
        say(text, "yellow")
    if done.orders_fault is not None:
        say(f"the cards are without due dates and threads: {done.orders_fault}", "yellow")
    if done.kept is not None:
        say(f"what was exported before is kept in {done.kept}")
        if turned := sorted(done.kept.glob("*-aligned.*")):
            names = ", ".join(file.name for file in turned)
            say(f"turned to fit its panel before, and not the new file: {names}; nesting align turns that", "yellow")
    if any(turn.waiting for turn in done.turns):
        say("In the order in which to burn:")
        for turn in done.turns:
            say(f"{turn.hide}/{turn.panel}: {turn_words(turn)}")
    for file in (*done.burnt, *done.guides, *done.cards):
        say(file)
    _say_templates(done.templates)
    if frame:
        frames = sum(file.stem.endswith("-frame") for file in done.burnt)
        say(f"{counted(frames, 'frame')} of card", None if frames else "yellow")
        for why in dict.fromkeys(why for _, why in done.frameless):
            without = [name for name, reason in done.frameless if reason == why]
            say(f"without one: {', '.join(without)}: {why.removeprefix('no frame: ')}", "yellow")
    return bool(done.burnt)


def run_templates(stated: Stated, folder: Path, job: Path, hides: Sequence[str] | None) -> bool:
    """Write paper templates for the parts on some hides, or on all; false where the layout may not be cut."""
    refuse_gone(job, stated.layout)
    proved = prove(stated, job)
    if proved.findings:
        say(f"nothing written: {unsound(proved.findings)}")
        return False
    _say_templates(bed.write_paper_templates(stated.layout, folder, hides))
    for text in proved.changes:
        say(f"note: {text}", "yellow")
    return True


def _say_templates(templates: Sequence[bed.Templates]) -> None:
    for made in templates:
        say(
            f"{made.file}: paper templates to cut by knife, {made.pages} page(s): "
            "print at 100 % and check the 100 mm line"
        )


def run_kerf(
    folder: Path, teeth: str, slots: str, thickness_mm: float | None, record: bool, output: Path | None = None
) -> None:
    """Write a kerf comb, or work the kerf out from its measured widths."""
    if teeth or slots:
        with option("--teeth, --slots"):
            kerf = bed.work_kerf_out(folder, widths("--teeth", teeth), widths("--slots", slots), record)
        say(f"kerf {kerf.mm:.3f} mm, give or take {kerf.error_mm:.3f} mm (standard error of {kerf.count} widths)")
        if record:
            say(f"{folder / 'workshop.toml'}: kerf_mm = {kerf.mm:.3f}; plan again, so that gaps and files follow it")
        return
    if record:
        raise FileError("--record", "widths", "missing", "give the measured widths with --teeth and --slots")
    with option("--thickness"):
        file = bed.write_kerf_comb(folder, thickness_mm, output)
    say(
        f"{file}: cut it, measure teeth and slots, then: "
        f"nesting kerf {folder} --teeth '5.8 ...' --slots '4.2 ...' --record"
    )


def run_swatch(
    folder: Path,
    thickness_mm: float | None,
    operation: str,
    leather: str,
    offcut: str,
    typed: dict[str, Any],
    output: Path | None,
) -> None:
    """Write a swatch about the predicted setting, or about one typed in."""
    if thickness_mm is None:
        raise FileError("--thickness", "thickness", "missing", "give the thickness of the piece in mm, such as 1.8")
    with option("--thickness"):
        setting, workshop = bed.swatch_setting(folder, thickness_mm, operation, leather, typed)
    with option("--offcut"):
        path, made = bed.write_swatch_file(folder, setting, workshop, offcut, output)
    fill = f" in lines {made.line_spacing_mm:g} mm apart" if made.line_spacing_mm else ""
    say(
        f"{path}: {len(made.cells)} squares{fill} about {setting.speed_mm_s:.3g} mm/s and "
        f"{setting.power_percent:.3g} % ({setting.basis}), {made.width_mm:.0f} x {made.height_mm:.0f} mm; cut it, "
        f"then: nesting swatch record {folder} --swatch {path} --best C3 --clean 'B3 C3'"
    )


def run_record(
    folder: Path,
    file: Path | None,
    best: str,
    clean: str,
    name: str,
    typed: dict[str, Any],
    window: dict[str, float | None],
) -> None:
    """Add a tested row to the setting book, from a swatch or as typed."""
    if file is not None:
        if not best:
            raise FileError("--best", "square", "missing", "name the best square of the swatch, such as C3")
        with option("--best, --clean"):
            setting = bed.record_swatch(folder, file, best, clean, name, window)
    else:
        missing = [key for key in ("thickness_mm", "speed_mm_s", "power_percent") if typed[key] is None]
        if missing:
            mend = "give the swatch file, or thickness, speed and power"
            raise FileError("--swatch", ", ".join(missing), "missing", mend)
        with option("record"):
            setting = bed.record_typed(folder, name, typed, window)
    say(f"{folder / 'workshop.toml'}: added {_words(setting)}")


def _words(setting: Setting) -> str:
    fill = f", lines {setting.line_spacing_mm:g} mm apart" if setting.line_spacing_mm else ""
    return (
        f"{setting.name}: {setting.operation}, {setting.thickness_mm:g} mm, {setting.speed_mm_s:g} mm/s, "
        f"{setting.power_percent:g} %, {setting.passes} pass(es){fill}, clean from {setting.thinnest_mm:g} to "
        f"{setting.thickest_mm:g} mm ({setting.basis})"
    )
