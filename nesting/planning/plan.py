"""Orders and hides to a layout: what is wanted, where it may lie, what comes of the search."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from .. import engine
from ..geometry import Shape, place
from ..leather.knife import needed
from ..model import Cut, Job, Layout, Panel, Placement, Unplaced
from ..workers import cores
from .arrange import Arrangement, arrange
from .case import Case, Lie
from .clock import Clock
from .limits import DEFAULT, PlanLimits
from .prepare import Prepared, prepare
from .ready import Ready
from .reasons import Reasons
from .translate import Translator
from .wishes import Wish


def plan(
    job: Job,
    stop: engine.Stop,
    seed: int = 0,
    *,
    workers: int | None = None,
    progress: Callable[[engine.Progress], None] | None = None,
    settings: int | None = None,
    prepared: Prepared | None = None,
    partial: bool = False,
    limits: PlanLimits = DEFAULT,
) -> Layout:
    """Decide which part comes from where on which hide, and where the hides are cut to fit the bed.

    Parameters
    ----------
    job : Job
    stop : engine.Stop
        When to end; the first complete layout is always made. ``enough_mm2`` ends it when everything that fits the bed
        has a place and no more leather is consumed.
    seed : int
        The same job, seed, workers and number of iterations give the same layout.
    workers : int, optional
        Processes to search with; as many as there are cores by default. A search of few seconds uses one.
    progress : callable, optional
        Called with an engine.Progress of the whole run, whenever a better layout was found and else now and then: its
        share never falls, and is 1 at the end; it counts the parts placed of all wanted.
    settings : int, optional
        How many settings a hide may be burnt with at most. Without it one, and a second only when ordered parts
        (fillers do not count) would be left out with one: a change-over costs time.
    prepared : Prepared, optional
        What ``prepare`` made of this job with these limits, for all or some of its hides; made anew without it.
    partial : bool
        Whether every piece may be cut in part; without it only those of products that say so, and of any other all
        parts are placed or none.
    limits : PlanLimits

    Returns
    -------
    Layout
        Not yet checked: pass it to ``nesting.check`` before it is shown to anyone.

    Raises
    ------
    ValueError
        When ``prepared`` is of another job or was made with other limits, or ``workers`` or ``settings`` is less than
        1.
    """
    for name, value in (("workers", workers), ("settings", settings)):
        if value is not None and value < 1:
            raise ValueError(f"{name} is {value}: give 1 or more")
    if prepared is None:
        prepared = prepare(job, limits=limits)
    elif prepared.job is not job or prepared.limits != limits:
        raise ValueError("what is prepared is of another job, or made with other limits: prepare it anew")
    workers = cores() if workers is None else workers
    if stop.seconds is not None and stop.seconds < limits.least_crew_s:
        workers = 1
    kept_s = min(limits.whole_share * (stop.seconds or 0.0), limits.most_whole_s)
    clock = Clock(stop, progress, len(prepared.wishes), limits, kept_s)
    cut = frozenset(p.name for p in prepared.job.products if partial or p.partial)
    case, more = _case(prepared, settings or limits.settings_at_first, cut), None
    if settings is None and any(len(item.settings) > limits.settings_at_first for item in prepared.hides):
        more = _case(prepared, limits.settings_for_orders, cut)
    possible = _possible(prepared, more or case)
    case, more = replace(case, wishes=possible), more and replace(more, wishes=possible)
    made = arrange(case, clock, seed, more=more, workers=workers)
    return _layout(prepared, more or case, made, clock, seed)


def _case(prepared: Prepared, settings: int, partial: frozenset[str]) -> Case:
    """A search with up to so many settings a hide."""
    hides = {item.hide.id: item.with_settings(settings) for item in prepared.hides if item.open}
    wishes = tuple(prepared.wishes[index] for index in prepared.fitting)
    return Case(prepared.job.workshop, hides, wishes, prepared.limits, partial)


def _possible(prepared: Prepared, case: Case) -> tuple[Wish, ...]:
    """The wishes of a case without pieces of which some part could lie nowhere, were every hide empty."""
    wanted = Counter(wish.ordered for wish in prepared.wishes)
    kept = set[int]()
    for piece, indices in case.pieces.items():
        homes = [set(case.homes[index]) for index in indices]
        match = case.wishes[indices[0]].match
        whole = len(indices) == wanted[piece] and (set.intersection(*homes) if match else all(homes))
        if piece[1] in case.partial or whole:
            kept.update(index for index, home in zip(indices, homes) if home)
    return tuple(wish for index, wish in enumerate(case.wishes) if index in kept)


def _layout(prepared: Prepared, case: Case, made: Arrangement, clock: Clock, seed: int) -> Layout:
    wishes = case.wishes
    numbers = {wish.key: number for number, wish in enumerate(prepared.wishes)}
    placed = {numbers[wishes[index].key] for index in made.lies}
    hides = {item.hide.id: item for item in prepared.hides}
    panels = _panels(made)
    placements = tuple(
        _placement(wishes[index], lie, panels[lie.ground], hides[panels[lie.ground].hide])
        for index, lie in sorted(made.lies.items())
    )
    used = {(placement.hide, placement.setting) for placement in placements}
    more = {
        item.hide.id: tuple(s for s in item.settings[1:] if (item.hide.id, s.name) in used) for item in hides.values()
    }
    changed = prepared.limits.changed()
    return Layout(
        workshop=prepared.job.workshop,
        hides=tuple(item.hide for item in hides.values()),
        panels=tuple(panels.values()),
        settings={item.hide.id: item.setting for item in hides.values() if item.setting is not None},
        wanted=dict(Counter((wish.order, wish.product.name, wish.part.name) for wish in prepared.wishes)),
        placements=placements,
        unplaced=_unplaced(prepared, case, made, placed),
        seed=seed,
        iterations=clock.iterations,
        seconds=clock.seconds,
        cuts=tuple(cut for item in hides.values() for cut in _cuts(item, made, panels)),
        more_settings={hide: rest for hide, rest in more.items() if rest},
        limits={"planning": changed} if changed else {},
        partial=tuple(sorted(case.partial)),
        lines=prepared.job.orders,
        selling_prices=prepared.job.selling_prices,
    )


def _panels(made: Arrangement) -> dict[int, Panel]:
    """Panels that hold parts, by number of the ground, counted from 1 on each hide in the order they are cut."""
    panels: dict[int, Panel] = {}
    counts = Counter[str]()
    for number in sorted({lie.ground for lie in made.lies.values()}):
        ground = made.grounds[number]
        counts[ground.hide] += 1
        panels[number] = Panel(str(counts[ground.hide]), ground.hide, ground.polygon)
    return panels


def _cuts(item: Ready, made: Arrangement, panels: dict[int, Panel]) -> tuple[Cut, ...]:
    """The knife lines that the panels of a hide need."""
    cuts = tuple(cut for cut in made.cuts if cut.hide == item.hide.id)
    return needed(item.hide, cuts, [panel.polygon for panel in panels.values() if panel.hide == item.hide.id])


def _unplaced(prepared: Prepared, case: Case, made: Arrangement, placed: set[int]) -> tuple[Unplaced, ...]:
    """Every wish (by index) not placed, with the reason."""
    if len(placed) == len(prepared.wishes):
        return ()
    reasons = Reasons(prepared, Translator(case), made.grounds, made.lies)
    return tuple(
        Unplaced(
            wish.order,
            wish.product.name,
            wish.part.name,
            wish.piece,
            wish.copy,
            wish.mirrored,
            reasons.why(wish),
            wish.product.filler,
        )
        for index, wish in enumerate(prepared.wishes)
        if index not in placed
    )


def _placement(wish: Wish, lie: Lie, panel: Panel, item: Ready) -> Placement:
    part = wish.drawn
    window = item.window_mm(part.thickness_mm, lie.band) or (0.0, float("inf"))

    def put(drawn: Shape) -> Shape:
        return place(drawn, lie.x, lie.y, lie.angle_deg)

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
        cutouts=tuple(put(cutout) for cutout in part.cutouts),
        stitch=tuple(put(line) for line in part.stitch),
        engrave=tuple(put(line) for line in part.engrave),
        engrave_how=part.engrave_how,
        filler=wish.product.filler,
        zones=tuple(replace(zone, polygon=put(zone.polygon)) for zone in part.zones),
        setting=item.settings[lie.band].name if item.settings else "",
        under=item.map.under(outline, *window),
        kind=wish.kind,
        flesh_out=wish.product.flesh_out,
        same_lot=wish.product.same_lot,
    )
