"""Job cards: for each bed load, all a maker needs to burn it without thinking twice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from ..costs.figures import under_all
from ..costs.money import Key
from ..laser.cautions import CAUTIONS
from ..laser.export import BedFile
from ..laser.load import BedLoad
from ..laser.order import STEPS
from ..laser.runs import changeovers
from ..laser.time import burn_seconds, load_seconds
from ..laser.turns import Turn
from ..leather.shades import masked, shade
from ..model import Hide, Layout, OrderLine, Placement, Setting, Workshop, units
from . import words
from .bed_picture import draw_bed
from .card_warnings import warnings
from .drawing import picture
from .laying import laying, points_to_measure
from .limits import DEFAULT, ReportLimits
from .turn_words import turn_words

BURNT = {"engrave": "engraving", "stitch": "stitch holes", "cutout": "cutouts", "outline": "outlines"}
PICTURE_DPI = 200
"""Sharp where small numbers stand in small parts."""
UNMASKED = "No: smoke hardly shows on dark leather."
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

    @property
    def length_words(self) -> str:
        """How long its lines are together: in metres; below a tenth of one, in millimetres."""
        return f"{self.length_mm / 1000:.1f} m" if self.length_mm >= 100 else f"{self.length_mm:.0f} mm"


@dataclass(frozen=True)
class PartRow:
    """Parts of one order line in this load that look alike; ``number`` marks each in the picture."""

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
    """What a job card says, in plain words; ``mark`` is that of its layout, ``picture`` a PNG."""

    title: str
    mark: str
    leather: str
    file: str
    picture: bytes
    lay: str
    setting: str
    why: str
    steps: tuple[Step, ...]
    masking: str
    time: str
    parts: tuple[PartRow, ...]
    changes: str
    warnings: tuple[str, ...]
    aftercare: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS
    points: str = ""
    turn: str = ""


def card(
    layout: Layout,
    file: BedFile,
    orders: Sequence[OrderLine] = (),
    files: Sequence[BedFile] = (),
    limits: ReportLimits = DEFAULT,
    turn: Turn | None = None,
) -> Card:
    """The card of one bed load.

    Parameters
    ----------
    layout : Layout
    file : BedFile
    orders : sequence of OrderLine
        What is known of due dates, threads and notes; may be empty.
    files : sequence of BedFile
        All that are burnt with it, in order.
    limits : ReportLimits, optional
    turn : Turn, optional
        When it is burnt, as `laser.turns` has it.

    Returns
    -------
    Card
    """
    load = file.load
    setting, pose = load.setting, load.pose
    if setting is None or pose is None:
        raise ValueError(f"panel {load.panel} of hide {load.hide} is not burnt, so there is no card of it")
    hide = next(hide for hide in layout.hides if hide.id == load.hide)
    machine = layout.workshop.machine
    numbers = _numbers(load)
    known = {(line.order, line.product): line for line in orders}
    seconds = load_seconds(load, machine)
    loading = f"{words.duration(seconds['loading'])} to load and unload" if load.run == 1 else "no loading"
    title = f"Hide {words.plain(hide.id, 60)}, panel {words.plain(load.panel, 20)}"
    if load.stage and load.stage.of > 1:
        title += f", stage {load.stage.number} of {load.stage.of}"
    if load.run > 1:
        title += f", run {load.run}"
    covered, last = masked(hide.colour), load.stage is None or load.stage.number == load.stage.of
    burning = sum(value for key, value in seconds.items() if key != "loading")
    return Card(
        title=title,
        mark=layout.mark,
        leather=leather_words(hide),
        file=file.path.name,
        picture=picture(draw_bed(layout, load, pose, file.panel, numbers), "png", PICTURE_DPI),
        lay=laying(load, pose, hide, file.panel, machine),
        setting=_setting(setting, layout.workshop),
        why=_why(load, setting, layout.workshop.units),
        steps=_steps(layout, load),
        masking=_masking(hide, load, file.panel, limits.mask_border_mm, layout.workshop.units) if covered else UNMASKED,
        time=f"about {words.duration(burning)} of burning, {loading}",
        changes=_changes([other.load for other in files or (file,) if _panel(other.load) == _panel(load)], load),
        parts=_parts(load, numbers, known),
        warnings=(*_guessed_bed(layout.workshop), *warnings(layout, hide, load, setting, known, limits)),
        aftercare=(*(MASKED if covered else BARE), *AFTERCARE) if last else ("After the last stage: see its card.",),
        points=points_to_measure(load, pose, hide, file.panel, machine, layout.workshop.units),
        turn="" if turn is None else turn_words(turn, limits),
    )


def _guessed_bed(workshop: Workshop) -> tuple[str, ...]:
    """What is only guessed, where the bed is: what is laid on it may not fit the true one."""
    guessed = {"bed_width_mm", "bed_height_mm"} & workshop.untold
    told = workshop.first_guesses()
    return (f"{told[0].upper()}{told[1:]}.",) if guessed else ()


def _numbers(load: BedLoad) -> dict[Key, int]:
    """A number for each part in the load by placement key: those of one order line that look alike share it."""
    kinds = {placement.key: (*placement.key[:3], placement.mirrored) for placement in load.placements}
    numbers = {kind: number for number, kind in enumerate(sorted(set(kinds.values())), 1)}
    return {key: numbers[kind] for key, kind in kinds.items()}


def leather_words(hide: Hide) -> str:
    """Colour, tannage and name of a hide's leather."""
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


def _setting(setting: Setting, workshop: Workshop) -> str:
    margins, rated_w = workshop.margins, workshop.machine.rated_w
    passes = "1 pass" if setting.passes == 1 else f"{setting.passes} passes"
    # what nobody told or measured must not stand there as if it were known
    power = " (first guess)" if "rated_w" in workshop.untold else ""
    kerf = " (first guess: not measured yet?)" if "kerf_mm" in workshop.untold else ""
    energy = f"{setting.line_energy_j_mm(rated_w):.2g} J/mm"
    return (
        f"{words.plain(setting.name, 80)}: {setting.speed_mm_s:.3g} mm/s, {setting.power_percent:.3g} % of "
        f"{rated_w:g} W{power}, {passes} ({energy}); kerf {margins.kerf_mm:g} mm{kerf}"
    )


def _why(load: BedLoad, setting: Setting, first: str) -> str:
    window = units.thickness_words([round(setting.thinnest_mm, 2), round(setting.thickest_mm, 2)], first)
    text = f"It cuts clean from {window}; {words.plain(setting.basis)}."
    under = under_all(load.placements)
    if under is None:
        return text
    values = dict.fromkeys((round(under.least_mm, 2), round(under.greatest_mm, 2)))
    thickness = units.thickness_words(list(values), first)
    sure = f"{100 * under.confidence:.0f} % sure to be in that window"
    return f"{text} The leather under these parts is {thickness}, at the worst spot {sure}."


def _steps(layout: Layout, load: BedLoad) -> tuple[Step, ...]:
    machine = layout.workshop.machine
    steps: list[Step] = []
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


def _masking(hide: Hide, load: BedLoad, panel: Polygon, border_mm: float, first: str) -> str:
    around = shapely.union_all([part.outline.buffer(border_mm) for part in load.placements]).intersection(panel)
    border = units.tape_words(border_mm, first)
    text = f"Yes: paper tape on the grain side, {words.area(around.area, first)}: the parts and {border} around them."
    return text + (" Smoke stains light leather." if shade(hide.colour) == "light" else "")


def _parts(
    load: BedLoad, numbers: Mapping[Key, int], known: Mapping[tuple[str, str], OrderLine]
) -> tuple[PartRow, ...]:
    alike: dict[int, list[Placement]] = {}
    for placement in load.placements:
        alike.setdefault(numbers[placement.key], []).append(placement)
    return tuple(_part_row(number, those, known) for number, those in sorted(alike.items()))


def _part_row(number: int, alike: list[Placement], known: Mapping[tuple[str, str], OrderLine]) -> PartRow:
    first = alike[0]
    line = known.get((first.order, first.product))
    return PartRow(
        number=number,
        order=words.plain(first.order, 80),
        product=words.plain(first.product, 60),
        part=words.plain(first.part, 40) + (" (mirrored)" if first.mirrored else ""),
        count=len(alike),
        due=line.due.isoformat() if line and line.due else "",
        thread=words.plain(line.thread, 40) if line else "",
        note=words.plain(line.note, 80) if line else "",
    )
