"""Orders and hides to a layout: what is wanted, where it may lie, what comes of the search."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from . import engine
from .arrange import Arrangement, arrange
from .laser.choice import choose_settings
from .laser.panels import bed_angle, needed
from .layout import Layout, Panel, Placement, Unplaced, place
from .model import SAFE_TANNAGE, Hide, Part
from .workshop import Job
from .packing import Lie, Packing, Ready, Wish, holds, main_only
from .regions import NO_GRADE, NO_ROOM, THICKNESS, TOO_BIG, why_not
from .thickness import thickness_map

TOO_BIG_FOR_BED = "too big for the bed"


def ready(job: Job, hides: tuple[str, ...] | None = None) -> tuple[Ready, ...]:
    """Look at every hide before a run: choose its settings, and say what stands in the way.

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
    settings: int | None = None,
    progress: Callable[[engine.Solution], None] | None = None,
    workers: int = 1,
) -> Layout:
    """Decide which part comes from where on which hide, and where the hides are cut to fit the bed.

    Parameters
    ----------
    job : Job
    stop : engine.Stop
        When to end; the first complete layout is always made.
    seed : int
        The same job, seed and number of iterations give the same layout.
    hides : tuple of Ready, optional
        Hides to use, as ``ready`` gives them.
    settings : int, optional
        How many settings a hide may be burnt with at most. Without it one, and a second only when ordered parts (fillers
        do not count) would be left out with one: a change-over costs time.
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
    wishes, bed = wanted(job), job.workshop.machine.usable_mm
    fitting = [wish for wish in wishes if fits_bed(wish.part, job)]
    packing = Packing(job, main_only(hides, settings or 1), fitting)
    more = None
    if settings is None and any(len(item.settings) > 1 for item in hides):
        more = Packing(job, main_only(hides, 2), fitting)
    made = arrange(packing, bed, stop, seed, more=more, progress=progress, workers=workers)
    return _layout(job, hides, wishes, fitting, made, seed)


def fits_bed(part: Part, job: Job) -> bool:
    """Whether a part and its edge margin can lie on the usable bed whole; leather fed through is burnt a bed at a time."""
    hull = part.outline.convex_hull.buffer(max(job.workshop.margins.edge_mm - 1e-6, 0.0))
    return bed_angle(hull, *job.workshop.machine.window_mm) is not None


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
    settings, usable = (), True
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
        settings = choose_settings(hide, thickness, workshop.settings, workshop.confidence)
        if not settings:
            usable = False
            warnings.append(
                f"no tested setting covers hide {hide.id} ({thickness.source}) at {workshop.confidence:.0%} confidence: "
                "nothing is placed on it; cut a test piece and add the setting"
            )
    return Ready(hide, thickness, settings, tuple(warnings), usable)


def _layout(job: Job, hides, wishes: list[Wish], fitting: list[Wish], made: Arrangement, seed: int) -> Layout:
    ready_of = {item.hide.id: item for item in hides}
    panels = _panels(made)
    placements, placed = [], set()
    for index, lie in sorted(made.lies.items()):
        placements.append(_placement(fitting[index], lie, panels[lie.piece], ready_of[panels[lie.piece].hide]))
        placed.add(id(fitting[index]))
    missing, reasons = [wish for wish in wishes if id(wish) not in placed], {}
    for wish in missing:
        if wish.shape not in reasons:
            reasons[wish.shape] = reason(wish.drawn, hides, job)
    used = {(placement.hide, placement.setting) for placement in placements}
    more = {item.hide.id: tuple(s for s in item.settings[1:] if (item.hide.id, s.name) in used) for item in hides}
    return Layout(
        workshop=job.workshop,
        hides=tuple(item.hide for item in hides),
        panels=tuple(panels.values()),
        settings={item.hide.id: item.setting for item in hides if item.setting is not None},
        wanted=dict(Counter((wish.order, wish.product.name, wish.part.name) for wish in wishes)),
        placements=tuple(placements),
        unplaced=tuple(
            Unplaced(
                wish.order, wish.product.name, wish.part.name, wish.piece, wish.copy, wish.mirrored,
                reasons[wish.shape], wish.product.filler,
            )
            for wish in missing
        ),
        seed=seed,
        iterations=made.iterations,
        seconds=made.seconds,
        cuts=tuple(
            cut
            for item in hides
            for cut in needed(
                item.hide,
                tuple(cut for cut in made.cuts if cut.hide == item.hide.id),
                [panel.polygon for panel in panels.values() if panel.hide == item.hide.id],
            )
        ),
        more_settings={hide: rest for hide, rest in more.items() if rest},
    )


def _panels(made: Arrangement) -> dict[int, Panel]:
    """Panels that hold parts, by number of the piece, counted from 1 on each hide in the order they are cut."""
    panels, counts = {}, Counter()
    for number in sorted({lie.piece for lie in made.lies.values()}):
        piece = made.pieces[number]
        counts[piece.hide] += 1
        panels[number] = Panel(str(counts[piece.hide]), piece.hide, piece.polygon)
    return panels


def _placement(wish: Wish, lie: Lie, panel: Panel, item: Ready) -> Placement:
    part = wish.drawn

    def put(shape):
        return place(shape, lie.x, lie.y, lie.angle_deg)

    setting = item.settings[lie.band] if item.settings else None
    least, greatest = part.thickness_mm or (0.0, float("inf"))
    if setting is not None:
        least, greatest = max(least, setting.thinnest_mm), min(greatest, setting.thickest_mm)
    outline = put(part.outline)
    return Placement(
        hide=panel.hide, panel=panel.id, order=wish.order, product=wish.product.name, part=part.name,
        piece=wish.piece, copy=wish.copy, grade=part.grade, x=lie.x, y=lie.y, angle=lie.angle_deg,
        mirrored=wish.mirrored, match=wish.match, direction=part.direction, thickness_mm=part.thickness_mm,
        outline=outline, cutouts=tuple(map(put, part.cutouts)), stitch=tuple(map(put, part.stitch)),
        engrave=tuple(map(put, part.engrave)), engrave_how=part.engrave_how, filler=wish.product.filler,
        zones=tuple(replace(zone, polygon=put(zone.polygon)) for zone in part.zones),
        setting="" if setting is None else setting.name, under=item.map.under(outline, least, greatest),
    )


def reason(part: Part, hides: tuple[Ready, ...], job: Job) -> str:
    """Why a part found no place: the bed, or the obstacle on the hide where it came nearest to fitting."""
    answers = set()
    for item in hides:
        if not item.open:
            answers.add(THICKNESS)
            continue
        regions = [holds(item, part.thickness_mm, band, job.workshop.confidence) for band in range(max(len(item.settings), 1))]
        answers |= {why_not(part, item.hide, job.workshop.margins, region) for region in regions}
    if answers != {TOO_BIG} and not fits_bed(part, job):
        return TOO_BIG_FOR_BED
    return next((text for text in (NO_ROOM, THICKNESS, NO_GRADE, TOO_BIG) if text in answers), NO_ROOM)
