"""Orders and hides to an engine problem, and the engine's answer back to a layout."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from . import engine
from .laser.panels import split
from .model import GRADES, SAFE_TANNAGE, Hide, Job, Layout, Panel, Part, Placement, Product, Setting, Unplaced, place
from .regions import NO_GRADE, NO_ROOM, THICKNESS, TOO_BIG, areal, flaws, graded, offset, why_not
from .thickness import ThicknessMap, choose_setting, cuttable, thickness_map

TOO_BIG_FOR_BED = "too big for the bed"
THICKNESS_KINDS = len(GRADES)
"""Obstacle kinds below this are grades; from here on they are thickness ranges."""


@dataclass(frozen=True)
class Ready:
    """A hide made ready to place on: its thickness map, the setting it is cut with, its panels, and what to tell first."""

    hide: Hide
    map: ThicknessMap
    setting: Setting | None
    panels: tuple[Panel, ...]
    warnings: tuple[str, ...]
    open: bool


@dataclass(frozen=True)
class Wish:
    """One copy of one part of one ordered piece."""

    order: str
    product: Product
    part: Part
    piece: int
    copy: int
    mirrored: bool
    match: str
    rank: int

    @property
    def drawn(self) -> Part:
        """The part as it is cut: mirrored where a twin is wanted."""
        return self.part.mirrored if self.mirrored else self.part


def ready(job: Job, hides: tuple[str, ...] | None = None) -> tuple[Ready, ...]:
    """Look at every hide before a run: choose its setting, cut it into panels, and say what stands in the way.

    Parameters
    ----------
    job : Job
    hides : tuple of str, optional
        Ids of the hides to use; all of the job's by default.

    Returns
    -------
    tuple of Ready
        A hide that is burnt but that no setting covers is not open: nothing is placed on it.
    """
    return tuple(_ready(hide, job) for hide in job.hides if hides is None or hide.id in hides)


def plan(
    job: Job,
    stop: engine.Stop,
    seed: int = 0,
    *,
    hides: tuple[Ready, ...] | None = None,
    progress: Callable[[engine.Solution], None] | None = None,
    workers: int = 1,
) -> Layout:
    """Decide which part comes from where on which hide.

    Parameters
    ----------
    job : Job
    stop : engine.Stop
        When to end; the first complete layout is always made.
    seed : int
        The same job, seed and number of iterations give the same layout.
    hides : tuple of Ready, optional
        Hides to use, as ``ready`` gives them.
    progress : callable, optional
        Called with every better engine.Solution.
    workers : int
        Processes to search with.

    Returns
    -------
    Layout
        Not yet checked: pass it to ``check.check`` before it is shown to anyone.
    """
    hides = ready(job) if hides is None else hides
    wishes = wanted(job)
    problem, panels = _problem(job, hides, wishes)
    if problem is None:
        solution = engine.Solution((None,) * len(wishes), (), 0.0)
    else:
        solution = engine.solve(problem, stop, seed, progress=progress, workers=workers)
    return _layout(job, hides, wishes, panels, solution, seed)


def wanted(job: Job) -> list[Wish]:
    """Every copy of every part ordered, most urgent first: by priority, then due date, fillers last."""
    lines = sorted(
        job.orders, key=lambda line: (job.product(line.product).filler, line.priority, line.due, line.order, line.product)
    )
    steps = [(job.product(line.product).filler, line.priority, line.due) for line in lines]
    rank_of = {step: rank for rank, step in enumerate(dict.fromkeys(steps))}
    wishes = []
    for line, step in zip(lines, steps):
        product = job.product(line.product)
        for piece in range(1, line.quantity + 1):
            match = {"no": "", "piece": f"{line.order}/{product.name}/{piece}", "order": f"{line.order}/{product.name}"}
            for part in product.parts:
                for mirrored in (False, True) if part.mirrored_twin else (False,):
                    for copy in range(1, part.count + 1):
                        wishes.append(
                            Wish(line.order, product, part, piece, copy, mirrored, match[product.same_hide], rank_of[step])
                        )
    return wishes


def _ready(hide: Hide, job: Job) -> Ready:
    workshop, warnings = job.workshop, []
    thickness = thickness_map(hide, workshop.thickness_spread_mm)
    setting, usable = None, True
    if not hide.laser_safe:
        warnings.append(
            f"hide {hide.id} is {hide.tannage}, not known to be {SAFE_TANNAGE}-tanned: it is nested and costed, "
            "but no laser files will be made for it"
        )
    elif not workshop.settings:
        warnings.append(f"no settings in the workshop: hide {hide.id} is nested without regard to what the laser cuts clean")
    elif not thickness.known:
        usable = False
        warnings.append(f"hide {hide.id} has neither nominal_mm nor readings: no setting can be chosen, so nothing is placed on it")
    else:
        setting = choose_setting(hide, thickness, workshop.settings, workshop.confidence)
        if setting is None:
            usable = False
            warnings.append(
                f"no tested setting covers hide {hide.id} ({thickness.source}) at {workshop.confidence:.0%} confidence: "
                "nothing is placed on it; cut a test piece and add the setting"
            )
    machine = workshop.machine
    panels = split(hide, machine.bed_width_mm, machine.bed_height_mm, workshop.margins.edge_mm)
    return Ready(hide, thickness, setting, panels, tuple(warnings), usable)


def _half(margins) -> float:
    """How far items grow so that two that touch are kerf + gap apart."""
    return margins.between_mm / 2


def _window(part: Part, setting: Setting | None) -> tuple[float, float] | None:
    """The thickness range a part of its own asks for within the setting's window; None when the window is enough."""
    if part.thickness_mm is None:
        return None
    least, greatest = part.thickness_mm
    if setting is not None:
        least, greatest = max(least, setting.thinnest_mm), min(greatest, setting.thickest_mm)
    return least, greatest


def _holds(ready_hide: Ready, window: tuple[float, float] | None, confidence: float):
    """Region of a hide where a window holds; None when there is nothing to hold."""
    if window is None:
        return None
    if window[0] >= window[1] or not ready_hide.map.known:
        return Polygon()
    return cuttable(ready_hide.map, ready_hide.hide, *window, confidence)


def _setting_window(ready_hide: Ready) -> tuple[float, float] | None:
    setting = ready_hide.setting
    return None if setting is None else (setting.thinnest_mm, setting.thickest_mm)


def _problem(job: Job, hides: tuple[Ready, ...], wishes: list[Wish]):
    """The engine's problem, and the panel of each of its containers; (None, ()) when there is nowhere to place."""
    margins, confidence = job.workshop.margins, job.workshop.confidence
    half = _half(margins)
    ranges = {r: THICKNESS_KINDS + n for n, r in enumerate(dict.fromkeys(w.part.thickness_mm for w in wishes if w.part.thickness_mm))}
    grades = {w.part.grade for w in wishes} | {zone.grade for w in wishes for zone in w.part.zones}
    containers, panels = [], []
    for item in hides:
        if not item.open:
            continue
        burnable = _holds(item, _setting_window(item), confidence)
        obstacles = []
        for grade in sorted(grades):
            area = flaws(item.hide, max(margins.flaw_mm - half, 0.0), grade)
            if not area.is_empty:
                obstacles.append(engine.Obstacle(area, GRADES.index(grade)))
        for part_range, kind in ranges.items():
            held = _holds(item, _window(replace(wishes[0].part, thickness_mm=part_range), item.setting), confidence)
            obstacles.append(engine.Obstacle(item.hide.outline.buffer(1.0).difference(held), kind))
        for panel in item.panels:
            region = offset(panel.polygon, -max(margins.edge_mm - half, 0.0))
            if burnable is not None:
                region = region.intersection(burnable)
            region = areal(region)
            if not region.is_empty:
                near = tuple(o for o in obstacles if o.polygon.intersects(region))
                containers.append(engine.Container(region, near, axis_deg=item.hide.backbone_deg, site=item.hide.id))
                panels.append(panel)
    if not containers or not wishes:
        return None, ()
    shapes, index = [], {}
    for wish in wishes:
        key = (wish.product.name, wish.part.name, wish.mirrored)
        if key not in index:
            index[key] = len(shapes)
            shapes.append(_shape(wish.drawn, half, ranges))
    items = tuple(
        engine.Item(index[wish.product.name, wish.part.name, wish.mirrored], wish.rank, wish.match or None) for wish in wishes
    )
    return engine.Problem(tuple(containers), tuple(shapes), items), tuple(panels)


def _shape(part: Part, half: float, ranges: dict) -> engine.Shape:
    thickness = frozenset({ranges[part.thickness_mm]}) if part.thickness_mm else frozenset()
    areas = [
        engine.Area(offset(area, half), frozenset({GRADES.index(grade)}) | thickness) for grade, area in graded(part)
    ]
    return engine.Shape(Polygon(offset(part.outline, half).exterior), tuple(areas), part.direction.intervals(0.0))


def _layout(job, hides, wishes, panels, solution, seed) -> Layout:
    placements, missing = [], []
    for wish, pose in zip(wishes, solution.poses):
        if pose is None:
            missing.append(wish)
        else:
            placements.append(_placement(wish, pose, panels[pose.container]))
    reasons = {}
    for wish in missing:
        key = (wish.product.name, wish.part.name, wish.mirrored)
        if key not in reasons:
            reasons[key] = reason(wish.drawn, hides, job)
    return Layout(
        workshop=job.workshop,
        hides=tuple(item.hide for item in hides),
        panels=tuple(panel for item in hides for panel in item.panels),
        settings={item.hide.id: item.setting for item in hides if item.setting is not None},
        wanted=dict(Counter((wish.order, wish.product.name, wish.part.name) for wish in wishes)),
        placements=tuple(placements),
        unplaced=tuple(
            Unplaced(
                wish.order, wish.product.name, wish.part.name, wish.piece, wish.copy, wish.mirrored,
                reasons[wish.product.name, wish.part.name, wish.mirrored], wish.product.filler,
            )
            for wish in missing
        ),
        seed=seed,
        iterations=solution.iterations,
        seconds=solution.seconds,
    )


def _placement(wish: Wish, pose: engine.Pose, panel: Panel) -> Placement:
    part = wish.drawn

    def put(shape):
        return place(shape, pose.x, pose.y, pose.angle_deg)

    return Placement(
        hide=panel.hide, panel=panel.id, order=wish.order, product=wish.product.name, part=part.name,
        piece=wish.piece, copy=wish.copy, grade=part.grade, x=pose.x, y=pose.y, angle=pose.angle_deg,
        mirrored=wish.mirrored, match=wish.match, direction=part.direction, thickness_mm=part.thickness_mm,
        outline=put(part.outline), cutouts=tuple(map(put, part.cutouts)), stitch=tuple(map(put, part.stitch)),
        engrave=tuple(map(put, part.engrave)), filler=wish.product.filler,
        zones=tuple(replace(zone, polygon=put(zone.polygon)) for zone in part.zones),
    )


def reason(part: Part, hides: tuple[Ready, ...], job: Job) -> str:
    """Why a part found no place: the obstacle on the hide where it came nearest to fitting."""
    margins, confidence = job.workshop.margins, job.workshop.confidence
    answers = set()
    for item in hides:
        if not item.open:
            answers.add(THICKNESS)
            continue
        window = _window(part, item.setting) or _setting_window(item)
        region = _holds(item, window, confidence)
        whole = why_not(part, item.hide, margins, region)
        if whole != NO_ROOM:
            answers.add(whole)
            continue
        panels = {why_not(part, replace(item.hide, outline=panel.polygon), margins, region) for panel in item.panels}
        answers.add(TOO_BIG_FOR_BED if panels == {TOO_BIG} else _nearest(panels - {TOO_BIG}))
    return _nearest(answers)


def _nearest(answers: set[str]) -> str:
    return next((text for text in (NO_ROOM, THICKNESS, NO_GRADE, TOO_BIG_FOR_BED, TOO_BIG) if text in answers), NO_ROOM)
