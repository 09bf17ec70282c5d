"""Cut-ready files, one a bed load; leather not known to be laser-safe is refused."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import fmean
from tempfile import TemporaryDirectory

import shapely
from shapely.geometry import Polygon

from ..atomic import write_text, written_anew
from ..errors import FileError, ModelError
from ..model import Hide, Layout, Machine, Panel, Point
from ..referee.burning import prove_files
from ..referee.cut_files import read_cut_file
from .bed_guide import guide_drawing
from .dxf import dxf_drawing
from .frame import frame_drawing, frame_dxf, holds_together
from .limits import DEFAULT, LaserLimits
from .load import BedLoad, bed_loads, hull_of
from .registration import BedPose, align, lay, named_points
from .stages import machine_of, points_on_bed, stages
from .svg import drawing

REFUSALS = {
    "unknown": "its tannage is not known: it may be chrome-tanned and release hexavalent chromium, or hold PVC "
    "and release hydrogen chloride; once the tanner confirms that it is vegetable-tanned and chrome-free, "
    'set its tannage to "vegetable"',
    "chrome": "chrome-tanned leather can release hexavalent chromium when burnt; "
    "cut it by knife or die, or take vegetable-tanned leather",
    "synthetic": "synthetic leather may hold PVC, which releases hydrogen chloride when burnt; "
    "cut it by knife or die, or take vegetable-tanned leather",
}
NO_SETTING = (
    "no tested setting covers it; cut a test piece (nesting swatch FOLDER --thickness {thickness} --speed .. "
    "--power ..), add the setting to workshop.toml (nesting swatch record) and plan again"
)
NO_FILE_NAME = "its id cannot name a file; use letters a to z, digits, dash, underscore and dot, not a dot first"
BURNT = ("*-panel-*.svg", "*-panel-*.dxf", "*-aligned-check.png", "cards.html", "cards.pdf", "*-templates.pdf")
"""Names of what belongs to one export of one layout."""
BURNT_ALREADY = "it is burnt already: no file"
KINDS = ("svg", "dxf")
NO_FRAME_FED = "no frame: it is fed through, along a stop"
NO_FRAME = "no frame: it leaves too little room for card on two opposite sides of the bed"


@dataclass(frozen=True)
class BedFile:
    """A file to burn, the load it holds, and the leather it lies on, in hide coordinates."""

    path: Path
    load: BedLoad
    panel: Polygon


@dataclass(frozen=True, repr=False)
class ExportResult:
    """The files written, the hides and panels refused and why, and what to know before burning, one line a text.

    ``files`` are to be burnt; ``guides``, one for each load, are not. ``frameless`` are the panels that have no frame
    of card though one was asked for, and why.
    """

    files: tuple[Path, ...]
    loads: tuple[BedFile, ...]
    refusals: tuple[str, ...]
    warnings: tuple[str, ...]
    guides: tuple[Path, ...] = ()
    frameless: tuple[tuple[str, str], ...] = ()

    def __str__(self) -> str:
        """What was written, refused and warned of, one line each."""
        return "\n".join(map(str, (*self.files, *self.guides, *self.refusals, *self.warnings)))

    __repr__ = __str__


def export(
    layout: Layout,
    folder: str | Path,
    *,
    spread_heat: bool = False,
    frame: bool = False,
    measured: Mapping[tuple[str, str], Mapping[str, Point]] | None = None,
    kind: str = "svg",
    limits: LaserLimits = DEFAULT,
) -> ExportResult:
    """Write one file to burn for every bed load, mm at true size, in burning order, and beside it a guide to look at.

    Parameters
    ----------
    layout : Layout
        Hides without placements are passed over.
    folder : str or Path
        Made when missing, and written anew, whole or not at all: what is there of an export before goes to
        ``earlier/DATE-TIME`` inside, other files stay.
    spread_heat : bool
        Burn no part straight after its neighbour if it can be helped.
    frame : bool
        Also write a frame of card stock for each panel, and lay the panels into it.
    measured : mapping of (hide, panel) to mapping of str to (x, y), optional
        Where two named points of a panel really lie on the bed, mm from its bottom left corner; for a stage of a panel
        that is fed through, its number follows after a slash: ``1/2``.
    kind : {"svg", "dxf"}
        Of the files to burn. Guides are SVG.
    limits : LaserLimits, optional

    Returns
    -------
    ExportResult
        Panels that are burnt already get no file. Hides not known to be laser-safe, that no tested setting covers, or
        panels that do not fit the bed are refused; the others are written all the same.

    Raises
    ------
    FileError
        When a file cannot be written, measured points do not fit a panel of the layout, or a file read back is not
        true to it.
    """
    folder = Path(folder)
    if kind not in KINDS:
        raise FileError("--as", "kind of file", kind, f"give {' or '.join(KINDS)}")
    measured = dict(measured or {})
    _known_panels(layout, measured)
    texts: dict[Path, str] = {}
    guides: dict[Path, str] = {}
    loads: list[BedFile] = []
    refusals, warnings = map(list, not_written(layout))
    refused: set[tuple[str, str]] = set()
    frameless: dict[str, str] = {}
    for hide in layout.hides:
        if not layout.on(hide.id):
            continue
        if refusal(hide, layout):
            refused |= {(hide.id, placement.panel) for placement in layout.on(hide.id)}
            continue
        panels = {panel.id: panel for panel in layout.panels if panel.hide == hide.id}
        poses: dict[str, BedPose] = {}
        framed: dict[str, BedPose] = {}
        for name, panel in panels.items():
            if (hide.id, name) in measured:
                machine = machine_of(layout, hide.id, name)
                poses[name] = _aligned(panel, hide, measured[hide.id, name], machine, limits)
            elif frame and not panel.longer:
                pose = lay(panel.polygon, hide, layout.workshop.machine, limits.border_mm, limits)
                if pose and holds_together(pose, panel.polygon, limits):
                    framed[name] = pose
        poses |= framed
        poses |= _staged(layout, hide, panels, measured, limits)
        burnt = [one.panel.id for one in layout.burnt if one.panel.hide == hide.id]
        for load in bed_loads(layout, hide.id, spread_heat=spread_heat, poses=poses, limits=limits):
            if load.panel in burnt:
                continue
            polygon = panels[load.panel].polygon if load.panel in panels else hull_of(load.placements)
            fault = _misfit(load, layout, limits)
            if fault and (hide.id, _name(load)) in measured:
                raise FileError("--align", f"{hide.id}/{_name(load)}", load.laid.how, fault)
            if fault:
                refusals.append(f"hide {hide.id}, panel {load.panel}: no laser file: {fault}")
                refused.add((hide.id, load.panel))
                continue
            path = folder / f"{_stem(load, [other.path.stem for other in loads])}.{kind}"
            texts[path] = drawing(layout, load, limits) if kind == "svg" else dxf_drawing(layout, load)
            guides[path.with_name(f"{path.stem}-guide.svg")] = guide_drawing(layout, load, polygon, limits)
            loads.append(BedFile(path, load, polygon))
            if load.panel in framed:
                draw = frame_drawing if kind == "svg" else frame_dxf
                texts[path.with_name(f"{path.stem}-frame.{kind}")] = draw(layout, load, polygon, limits)
            elif frame and (hide.id, load.panel) not in measured:
                why = NO_FRAME if load.stage is None else NO_FRAME_FED
                warnings.append(f"hide {hide.id}, panel {load.panel}: {why}")
                frameless[f"{hide.id}/{load.panel}"] = why
            how = load.laid.how
            notes = ([f"lay it by {how}"] if how.startswith("by two") else []) + list(load.warnings)
            where = f"hide {hide.id}, panel {load.panel}" + (f", stage {load.stage.number}" if load.stage else "")
            warnings += [f"{where}: {text}" for text in notes]
    with written_anew(folder, BURNT) as new:
        for path, text in (texts | guides).items():
            write_text(new.path / path.name, text)
        for finding in prove_files(layout, new.path, refused):
            mend = f"it has to be {finding.bound}; nothing was written: please report this with the layout"
            raise FileError(folder, f"{finding.what}: {finding.who}", finding.value, mend)
    return ExportResult(
        tuple(texts), tuple(loads), tuple(refusals), tuple(warnings), tuple(guides), tuple(frameless.items())
    )


def not_written(layout: Layout) -> tuple[list[str], list[str]]:
    """What no file to burn is written of, whatever its loads are like: hides that are refused and why, and panels that
    are burnt already, one line a text."""
    cut = [hide for hide in layout.hides if layout.on(hide.id)]
    why = {hide.id: refusal(hide, layout) for hide in cut}
    burnt = [one.panel for one in layout.burnt if why.get(one.panel.hide) == ""]
    return (
        [f"hide {name}: no laser file: {reason}" for name, reason in why.items() if reason],
        [f"hide {panel.hide}, panel {panel.id}: {BURNT_ALREADY}" for panel in burnt],
    )


ALIGNED = "-aligned"
"""At the end of the name of a file that was turned to fit how its panel lies; the other stays."""


@dataclass(frozen=True)
class PanelFile:
    """A panel that one file to burn is of: its leather in hide coordinates, how the file lays it, and the names of all
    files that are burnt of it while it lies there."""

    hide: Hide
    panel: str
    polygon: Polygon
    pose: BedPose
    stems: tuple[str, ...]


def panel_of(layout: Layout, file: Path, limits: LaserLimits = DEFAULT) -> PanelFile:
    """The panel that a file to burn is of, by its name.

    Raises
    ------
    FileError
        When the layout has no such file, it cannot be read, or its panel is fed through the bed or cut by knife.
    """
    known: list[str] = []
    for hide in layout.hides:
        if not layout.on(hide.id) or refusal(hide, layout):
            continue
        named = _named(layout, hide, {}, limits)
        known += [stem for stem, _ in named]
        load = next((load for stem, load in named if stem == file.stem), None)
        if load is None:
            continue
        if load.stage is not None:
            number = load.stage.number
            mend = (
                "measure its marks instead: nesting export --align "
                f"'{hide.id}/{_name(load)} S{number}=x,y T{number}=x,y'"
            )
            raise FileError(file, "panel", "is fed through the bed", mend)
        panels = {panel.id: panel.polygon for panel in layout.panels if panel.hide == hide.id}
        stems = tuple(stem for stem, other in named if other.panel == load.panel)
        polygon = panels[load.panel] if load.panel in panels else hull_of(load.placements)
        # a file of an export with frames, or of measured points, lays it otherwise than one of its layout alone
        angle, x, y = read_cut_file(file).pose
        laid = replace(load.laid, angle_deg=angle, x_mm=x, y_mm=y)
        return PanelFile(hide, load.panel, polygon, laid, stems)
    raise FileError(
        file, "file", "is none of this layout", f"give one of {', '.join(known[:20]) or 'none: export first'}"
    )


def export_aligned(
    layout: Layout, panel: PanelFile, pose: BedPose, file: Path, limits: LaserLimits = DEFAULT
) -> list[Path]:
    """Write the files of a panel anew as it lies on the bed, each beside the old one, which stays.

    Parameters
    ----------
    layout : Layout
    panel : PanelFile
        As `panel_of` found it.
    pose : BedPose
        How it lies.
    file : Path
        The one that was named; the others of its panel have its ending, in its folder.
    limits : LaserLimits, optional

    Returns
    -------
    list of Path

    Raises
    ------
    FileError
        When lines would leave the bed, a file cannot be written, or one read back is not true to the layout.
    """
    texts: dict[str, str] = {}
    for stem, load in _named(layout, panel.hide, {panel.panel: pose}, limits):
        if load.panel != panel.panel:
            continue
        if fault := _misfit(load, layout, limits):
            wide, high = pose.bed_mm
            mend = f"the bed is {wide:g} x {high:g} mm: lay it as its card shows, and take another photo"
            raise FileError(file, "panel as it lies", fault, mend)
        texts[stem] = drawing(layout, load, limits) if file.suffix == ".svg" else dxf_drawing(layout, load)
    others = {(part.hide, part.panel) for part in layout.placements} - {(panel.hide.id, panel.panel)}
    with TemporaryDirectory() as folder:
        for stem, text in texts.items():
            write_text(Path(folder) / f"{stem}{file.suffix}", text)
        for finding in prove_files(layout, Path(folder), others):
            mend = f"it has to be {finding.bound}; nothing was written: please report this with the layout"
            raise FileError(file, f"{finding.what}: {finding.who}", finding.value, mend)
    written = {file.with_name(f"{stem}{ALIGNED}{file.suffix}"): text for stem, text in texts.items()}
    for path, text in written.items():
        write_text(path, text)
    return list(written)


def _named(layout: Layout, hide: Hide, poses: Mapping[str, BedPose], limits: LaserLimits) -> list[tuple[str, BedLoad]]:
    """The loads of a hide that get a file, by the names of these, without their ending."""
    burnt = {one.panel.id for one in layout.burnt if one.panel.hide == hide.id}
    named: list[tuple[str, BedLoad]] = []
    for load in bed_loads(layout, hide.id, poses=poses, limits=limits):
        if load.panel not in burnt and load.pose is not None and not load.fault:
            named.append((_stem(load, [stem for stem, _ in named]), load))
    return named


def refusal(hide: Hide, layout: Layout) -> str:
    """Why a hide is not to be burnt, and what would change it; empty when it may be."""
    if not hide.laser_safe:
        return REFUSALS.get(hide.tannage, REFUSALS["unknown"])
    if hide.id not in layout.settings:
        known = [reading.mm for reading in hide.readings] or ([hide.nominal_mm] if hide.nominal_mm else [])
        return NO_SETTING.format(thickness=f"{fmean(known):.2g}" if known else "..")
    return "" if _names_a_file(hide) else NO_FILE_NAME


def _known_panels(layout: Layout, measured: Mapping[tuple[str, str], object]) -> None:
    known = {(panel.hide, panel.id) for panel in layout.panels}
    for hide, panel in measured:
        if (hide, panel) not in known and (hide, panel.rpartition("/")[0]) not in known:
            listed = ", ".join(f"{a}/{b}" for a, b in sorted(known))
            raise FileError("--align", "panel", f"{hide}/{panel}", f"this layout has {listed or 'no panels'}")


def _aligned(panel: Panel, hide: Hide, points: Mapping[str, Point], machine: Machine, limits: LaserLimits) -> BedPose:
    laid = lay(panel.polygon, hide, machine, limits=limits)
    bed = laid.bed_mm if laid else (machine.bed_width_mm, machine.bed_height_mm)
    named = named_points(panel.polygon, hide, limits)
    return _by_points(named, points, bed, f"{hide.id}/{panel.id}", limits)


def _by_points(
    named: Mapping[str, Point],
    points: Mapping[str, Point],
    bed: tuple[float, float],
    name: str,
    limits: LaserLimits,
) -> BedPose:
    try:
        return align(named, points, bed, limits)
    except ModelError as error:
        raise FileError("--align", f"{name}: {error.thing}", error.value, error.mend) from None


def _staged(
    layout: Layout,
    hide: Hide,
    panels: Mapping[str, Panel],
    measured: Mapping[tuple[str, str], Mapping[str, Point]],
    limits: LaserLimits,
) -> dict[str, BedPose]:
    """How panels that are fed through lie at the stages that were measured, by panel and stage."""
    poses: dict[str, BedPose] = {}
    for of, name in measured:
        panel, _, number = name.rpartition("/")
        if of != hide.id or name in panels or panel not in panels:
            continue
        parts = [part for part in layout.on(hide.id) if part.panel == panel]
        polygon, machine = panels[panel].polygon, machine_of(layout, hide.id, panel)
        long = bool(panels[panel].longer)
        try:
            laid = lay(polygon, hide, machine, limits=limits)
            made = stages(laid, polygon, parts, machine, layout.workshop.margins.kerf_mm, limits, long)
        except ModelError as error:
            raise FileError("--align", f"{of}/{name}: {error.thing}", error.value, error.mend) from None
        found = next(((stage, pose) for stage, pose, _ in made if stage and pose and str(stage.number) == number), None)
        if found is None:
            listed = ", ".join(f"{of}/{panel}/{stage.number}" for stage, *_ in made if stage)
            raise FileError(
                "--align", "stage", f"{of}/{name}", f"this panel has {listed or 'no stages: it fits the bed'}"
            )
        stage, pose = found
        named = points_on_bed(stage, pose, polygon, hide, limits)
        poses[name] = _by_points(named, measured[of, name], pose.bed_mm, f"{of}/{name}", limits)
    return poses


def _name(load: BedLoad) -> str:
    return load.panel if load.stage is None else f"{load.panel}/{load.stage.number}"


def _misfit(load: BedLoad, layout: Layout, limits: LaserLimits) -> str:
    """Why a load cannot be burnt on this bed; empty when it can."""
    if load.pose is None:
        bed = layout.workshop.machine.usable_words
        return f"it is bigger than the usable bed of {bed} at any angle: plan again with this bed"
    if load.fault:
        return load.fault
    wide, high = load.pose.bed_mm
    x0, y0, x1, y1 = shapely.total_bounds([load.pose.put(burn.line) for burn in load.lines])
    off = limits.off_bed_mm
    if min(x0, y0) < -off or x1 > wide + off or y1 > high + off:
        beyond = {"left": -x0, "right": x1 - wide, "bottom": -y0, "top": y1 - high}
        sides = ", ".join(f"{mm:.1f} mm at the {side}" for side, mm in beyond.items() if mm > off)
        return f"lines would run off the bed by {sides}"
    return ""


def _names_a_file(hide: Hide) -> bool:
    return re.fullmatch(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,99}", hide.id) is not None


def _stem(load: BedLoad, taken: Collection[str]) -> str:
    """The name of a load's file: its hide and panel, and a number where a panel is burnt with several settings."""
    stem = f"{load.hide}-panel-{re.sub(r'[^A-Za-z0-9_-]+', '-', load.panel)[:40] or '0'}"
    if load.stage is not None:
        stem += f"-stage-{load.stage.number}-of-{load.stage.of}"
    number = 1
    while (name := stem if number == 1 else f"{stem}-run-{number}") in taken:
        number += 1
    return name
