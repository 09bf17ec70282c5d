"""Orders and hides to a layout: what is wanted, where it may lie, what comes of the search."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from .. import engine
from ..geometry import place
from ..leather.knife import needed
from ..model import Job, Layout, Panel, Placement, Unplaced
from .arrange import Arrangement, arrange
from .packing import Lie, Packing
from .ready import Ready, main_only, ready
from .reasons import reason
from .wishes import Wish, fits_bed, wanted


def plan(
    job: Job,
    stop: engine.Stop,
    seed: int = 0,
    *,
    hides: tuple[Ready, ...] | None = None,
    settings: int | None = None,
    progress: Callable[[engine.Progress], None] | None = None,
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
        Called with an engine.Progress of the whole: whenever a better layout was found, and else now and then.
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
                wish.order,
                wish.product.name,
                wish.part.name,
                wish.piece,
                wish.copy,
                wish.mirrored,
                reasons[wish.shape],
                wish.product.filler,
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
        hide=panel.hide,
        panel=panel.id,
        order=wish.order,
        product=wish.product.name,
        part=part.name,
        piece=wish.piece,
        copy=wish.copy,
        grade=part.grade,
        x=lie.x,
        y=lie.y,
        angle=lie.angle_deg,
        mirrored=wish.mirrored,
        match=wish.match,
        direction=part.direction,
        thickness_mm=part.thickness_mm,
        outline=outline,
        cutouts=tuple(map(put, part.cutouts)),
        stitch=tuple(map(put, part.stitch)),
        engrave=tuple(map(put, part.engrave)),
        engrave_how=part.engrave_how,
        filler=wish.product.filler,
        zones=tuple(replace(zone, polygon=put(zone.polygon)) for zone in part.zones),
        setting="" if setting is None else setting.name,
        under=item.map.under(outline, least, greatest),
    )
