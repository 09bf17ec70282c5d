"""Job cards: for each bed load, all a maker needs to burn it without thinking twice."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely

from ..laser.cautions import CAUTIONS
from ..laser.export import BedFile
from ..laser.load import BedLoad
from ..laser.order import STEPS
from ..laser.runs import changeovers
from ..laser.time import burn_seconds, load_seconds
from ..model import MM_PER_OZ, Hide, Layout, OrderLine, Placement, Setting
from . import words
from .bed_picture import draw_bed
from .drawing import picture
from .laying import laying

BURNT = {"engrave": "engraving", "stitch": "stitch holes", "cutout": "cutouts", "outline": "outlines"}
DARK = ("black", "dark", "navy", "espresso", "chocolate", "oxblood", "charcoal")
LIGHT = ("natural", "white", "cream", "ivory", "beige", "light", "pale", "undyed", "russet", "sand")
THREAD = (*LIGHT, "linen", "yellow")
"""Words in the name of a colour or a thread by which it is known as dark or light."""
MASK_BORDER_MM = 10.0
NEAR_SHARE = 0.1
"""Thickness within this share of a window's width from its edge is worth a warning."""
MASKED = ("Wipe the edges with a damp cloth before the masking comes off.", "Take the masking off.")
BARE = ("Wipe the edges with a damp cloth.",)
AFTERCARE = (
    "Brush holes and engraving out with a soft brush.",
    "Let the leather dry naturally, away from heat and sun.",
    "Rub in a little balm.",
    "Sand the edges, then finish them: dye, burnish or wax.",
)
"""Common practice, no published source."""


@dataclass(frozen=True)
class Step:
    """One operation of a load: how it is burnt and how long it takes."""

    number: int
    operation: str
    colour: str
    setting: str
    lines: int
    length_mm: float
    seconds: float


@dataclass(frozen=True)
class Piece:
    """A part of one order line in this load; ``number`` marks it in the picture."""

    number: int
    order: str
    product: str
    part: str
    count: int
    due: str
    thread: str
    note: str


@dataclass(frozen=True)
class Card:
    """What a job card says, in plain words; ``picture`` is a PNG."""

    title: str
    leather: str
    file: str
    picture: bytes
    lay: str
    setting: str
    why: str
    steps: tuple[Step, ...]
    masking: str
    time: str
    pieces: tuple[Piece, ...]
    changes: str
    warnings: tuple[str, ...]
    aftercare: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def card(layout: Layout, file: BedFile, orders: tuple[OrderLine, ...] = (), files: tuple[BedFile, ...] = ()) -> Card:
    """The card of one bed load; ``files`` are all that are burnt with it, in order."""
    load = file.load
    hide = next(hide for hide in layout.hides if hide.id == load.hide)
    machine = layout.workshop.machine
    numbers = _numbers(load)
    known = {(line.order, line.product): line for line in orders}
    seconds = load_seconds(load, machine)
    run = re.search(r"-run-(\d+)$", file.path.stem)
    loading = f"{duration(seconds['loading'])} to load and unload" if load.run == 1 else "no loading"
    stage = f", stage {load.stage.number} of {load.stage.of}" if load.stage else ""
    masked = shade(hide.colour) != "dark"
    burning = sum(value for key, value in seconds.items() if key != "loading")
    return Card(
        title=f"Hide {words.plain(hide.id, 60)}, panel {words.plain(load.panel, 20)}{stage}{f', run {run[1]}' if run else ''}",
        leather=_leather(hide),
        file=file.path.name,
        picture=picture(draw_bed(layout, load, file.panel, numbers), "png", 200),
        lay=laying(load, hide, file.panel, machine),
        setting=_setting(load.setting, machine.rated_w),
        why=_why(layout, load),
        steps=_steps(layout, load),
        masking=_masking(hide, load, file.panel) if masked else "No: smoke hardly shows on dark leather.",
        time=f"about {duration(burning)} of burning, {loading}",
        changes=_changes([other.load for other in files or (file,) if _panel(other.load) == _panel(load)], load),
        pieces=_pieces(load, numbers, known),
        warnings=_warnings(layout, hide, load, known),
        aftercare=(*(MASKED if masked else BARE), *AFTERCARE),
    )


def duration(seconds: float) -> str:
    """A time as people say it."""
    whole = max(1, round(seconds))
    if whole < 60:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes} min" + (f" {rest} s" if rest and minutes < 10 else "")
    hours, minutes = divmod(math.ceil(whole / 60), 60)
    return f"{hours} h {minutes} min"


def shade(name: str) -> str:
    """Whether the name of a colour is that of a light or a dark leather; empty when it tells neither."""
    found = set(re.findall(r"[a-z]+", name.lower()))
    return "dark" if found & set(DARK) else "light" if found & set(LIGHT) else ""


def _numbers(load: BedLoad) -> dict[tuple, int]:
    """A number for each kind of part in the load, by placement key: parts of one order line that look alike share it."""
    kinds: dict[tuple, int] = {}
    found = {}
    for part in sorted(load.placements, key=lambda part: (part.order, part.product, part.part, part.mirrored)):
        kind = (part.order, part.product, part.part, part.mirrored)
        found[part.key] = kinds.setdefault(kind, len(kinds) + 1)
    return found


def _leather(hide: Hide) -> str:
    return ", ".join(
        filter(None, (words.plain(hide.colour, 40), words.make(hide.tannage), words.plain(hide.leather, 40)))
    )


def _panel(load: BedLoad) -> tuple[str, str]:
    return load.hide, load.panel


def _changes(loads: Sequence[BedLoad], load: BedLoad) -> str:
    """The settings of a panel in turn and how often they change; empty when there is one."""
    turns = [(setting, each is load) for each in loads for setting in each.settings]
    count = changeovers([setting for setting, _ in turns])
    if not count:
        return ""
    names = [
        _turn(setting) + (" (this load)" if here and len(loads) > 1 else "")
        for n, (setting, here) in enumerate(turns)
        if n == 0 or turns[n] != turns[n - 1]
    ]
    return f"{count} change-over{'s'[: count > 1]} on this panel: {', then '.join(names)}."


def _turn(setting: Setting | None) -> str:
    if setting is None:
        return "engraving, not tested"
    does = "cutting" if setting.operation == "cut" else "engraving"
    return f"{does} at {setting.speed_mm_s:.3g} mm/s, {setting.power_percent:.3g} %"


def _setting(setting: Setting, rated_w: float) -> str:
    passes = "1 pass" if setting.passes == 1 else f"{setting.passes} passes"
    return (
        f"{words.plain(setting.name, 80)}: {setting.speed_mm_s:.3g} mm/s, {setting.power_percent:.3g} % of {rated_w:g} W, "
        f"{passes} ({setting.line_energy_j_mm(rated_w):.2g} J/mm)"
    )


def _why(layout: Layout, load: BedLoad) -> str:
    setting = load.setting
    window = f"{setting.thinnest_mm:.2f} to {setting.thickest_mm:.2f} mm ({_oz(setting.thinnest_mm)} to {_oz(setting.thickest_mm)} oz)"
    under = [part.under for part in load.placements if part.under]
    lies = ""
    if under:
        least, greatest = min(each.least_mm for each in under), max(each.greatest_mm for each in under)
        sure = min(each.confidence for each in under)
        thickness = f"{least:.2f} mm" if f"{least:.2f}" == f"{greatest:.2f}" else f"{least:.2f} to {greatest:.2f} mm"
        lies = f" The leather under these parts is {thickness}, at the worst spot {100 * sure:.0f} % sure to be in that window."
    return f"It cuts clean from {window}; {words.plain(setting.basis)}.{lies}"


def _oz(mm: float) -> str:
    return f"{mm / MM_PER_OZ:.1f}"


def _steps(layout: Layout, load: BedLoad) -> tuple[Step, ...]:
    machine = layout.workshop.machine
    steps = []
    filled = any(line.fill for line in load.lines)
    for step in STEPS:
        operation = "engrave" if step == "fill" else step
        lines = [
            line for line in load.lines if line.operation == operation and (line.fill is not None) == (step == "fill")
        ]
        if not lines:
            continue
        setting = load.engraving if operation == "engrave" else load.setting
        how = "find its power on a scrap first"
        if setting:
            passes = f"{setting.passes} ×" if setting.passes > 1 else "1 ×"
            fill = f", rows {setting.line_spacing_mm:g} mm" if step == "fill" else ""
            how = f"{setting.speed_mm_s:.3g} mm/s, {setting.power_percent:.3g} %, {passes}{fill}"
        seconds = sum(burn_seconds(line, load, machine) for line in lines)
        length = sum(line.line.length for line in lines)
        colour = layout.workshop.colours[operation]
        name = BURNT[operation]
        if filled and operation == "engrave":
            name += ", filled" if step == "fill" else ", lines"
        steps.append(Step(len(steps) + 1, name, colour, how, len(lines), length, seconds))
    return tuple(steps)


def _masking(hide: Hide, load: BedLoad, panel) -> str:
    around = shapely.union_all([part.outline.buffer(MASK_BORDER_MM) for part in load.placements]).intersection(panel)
    why = " Smoke stains light leather." if shade(hide.colour) == "light" else ""
    return f"Yes: paper tape on the grain side, {words.area(around.area)}: the parts and {MASK_BORDER_MM:g} mm around them.{why}"


def _pieces(load: BedLoad, numbers: dict[tuple, int], known: Mapping) -> tuple[Piece, ...]:
    rows: dict[int, list[Placement]] = {}
    for part in load.placements:
        rows.setdefault(numbers[part.key], []).append(part)
    pieces = []
    for number, parts in sorted(rows.items()):
        part = parts[0]
        line = known.get((part.order, part.product))
        name = words.plain(part.part, 40) + (" (mirrored)" if part.mirrored else "")
        pieces.append(
            Piece(
                number, words.plain(part.order, 80), words.plain(part.product, 60), name, len(parts),
                line.due.isoformat() if line else "", words.plain(line.thread, 40) if line else "",
                words.plain(line.note, 80) if line else "",
            )
        )  # fmt: skip
    return tuple(pieces)


def _warnings(layout: Layout, hide: Hide, load: BedLoad, known: Mapping) -> tuple[str, ...]:
    """What can go wrong with this very load."""
    found = []
    holed = {(line.placement.order, line.placement.product) for line in load.lines if line.operation == "stitch"}
    threads: dict[str, list[str]] = {}
    for order in sorted(holed):
        line = known.get(order)
        if line and set(re.findall(r"[a-z]+", line.thread.lower())) & set(THREAD):
            threads.setdefault(words.plain(line.thread, 40), []).append(words.plain(line.order, 30))
    for thread, orders in threads.items():
        found.append(
            f"Thread {thread} ({', '.join(dict.fromkeys(orders))}): the burnt edge of laser-cut stitch holes darkens light and "
            "linen thread. Brush the holes out well, or stitch with a darker thread."
        )
    operations = {line.operation for line in load.lines}
    if "engrave" in operations and shade(hide.colour) == "dark":
        found.append("Engraving shows little on dark leather: try it on a scrap, or engrave deep.")
    if shade(hide.colour) == "light":
        found.append("The cut edges of light leather come out dark: sand and finish them, or say so to the customer.")
    found += _near_edge(layout, hide, load)
    found += [f"{text[0].upper()}{text[1:]}." for text in map(words.plain, load.warnings)]
    return tuple(found)


def _near_edge(layout: Layout, hide: Hide, load: BedLoad) -> list[str]:
    """Parts whose leather is nearly too thin or too thick for the setting."""
    setting = load.setting
    near = NEAR_SHARE * (setting.thickest_mm - setting.thinnest_mm)
    thin, thick = [], []
    for part in load.placements:
        least, greatest = _under(layout, hide, part)
        if least is not None and least < setting.thinnest_mm + near:
            thin.append(part.label)
        if greatest is not None and greatest > setting.thickest_mm - near:
            thick.append(part.label)
    found = []
    for parts, edge, does in (
        (thin, f"the thinnest this setting is for ({setting.thinnest_mm:.2f} mm)", "scorch"),
        (thick, f"the thickest it cuts ({setting.thickest_mm:.2f} mm)", "not be cut through"),
    ):
        if parts:
            names = ", ".join(words.plain(name, 40) for name in dict.fromkeys(parts))
            found.append(f"Leather near {edge} under {names}: it may {does}. Look closely there.")
    return found


def _under(layout: Layout, hide: Hide, part: Placement) -> tuple[float | None, float | None]:
    """Least and greatest estimated thickness under a part, mm: as the layout says, else from the hide's readings."""
    if part.under:
        return part.under.least_mm, part.under.greatest_mm
    thickness = _thickness(hide, layout.workshop.thickness_spread_mm)
    if not thickness.known:
        return None, None
    mean, _ = thickness.mean_sd(shapely.get_coordinates(part.outline.segmentize(10.0)))
    return float(mean.min()), float(mean.max())


@lru_cache(maxsize=16)
def _thickness(hide: Hide, spread_mm: float):
    from ..leather.thickness import thickness_map

    return thickness_map(hide, spread_mm)
