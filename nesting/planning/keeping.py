"""Which parts of an earlier layout still hold, though orders, hides, settings or readings have changed since."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import replace
from functools import cached_property

import shapely
from shapely.geometry import Polygon

from .. import engine
from ..errors import ModelError
from ..geometry import areal, place
from ..leather.knife import bed_angle, cut_up, needed, same_leather
from ..leather.regions import clear_of_edge, flaws
from ..model import Burnt, Cut, Hide, Layout, Panel, PartKey, Placement, Setting
from .case import Case, Ground, Lie
from .kept import Kept
from .long_parts import KNIFE, TWO_LOADS, as_packed, cut_out, long_panel, ready_for, way_of
from .placements import placement_of
from .prepare import Prepared
from .translate import Translator
from .wishes import Wish

AS_BURNT = "{} (as burnt)"
"""What a setting is called that parts were burnt with, when the setting book has other values by its name now."""


def keep(prepared: Prepared, before: Layout, resume: bool = False) -> Kept:
    """What stays of an earlier layout: what is burnt, what is pinned and, to resume, all that still holds.

    A part holds where it is still wanted and may lie where it lay as it is drawn now, on the hides, with the margins
    and settings of now, all else that holds about it.

    Parameters
    ----------
    prepared : Prepared
    before : Layout
    resume : bool
        Whether parts that are not pinned stay too.

    Returns
    -------
    Kept

    Raises
    ------
    ModelError
        When a hide is drawn otherwise than when a panel of it was burnt.
    """
    return _Keeper(prepared, before).kept(resume)


class _Keeper:
    def __init__(self, prepared: Prepared, before: Layout) -> None:
        self.prepared, self.limits = prepared, prepared.limits
        self.wishes = {wish.key: wish for wish in prepared.wishes}
        self.before = _renumbered(before, self.wishes.keys())
        self.items = {item.hide.id: item for item in prepared.hides}
        self.dropped: dict[PartKey, tuple[Placement, str]] = {}
        self.long = {(one.panel.hide, one.panel.id): one.panel for one in before.burnt if one.panel.longer}
        self.panels: dict[str, dict[str, Polygon]] = {}

    def kept(self, resume: bool) -> Kept:
        before = self.before
        cut = [placement for placement in before.placements if before.is_burnt(placement)]
        done = [self._as_burnt(placement) for placement in cut if placement.key in self.wishes]
        lost = [*before.lost, *(placement for placement in cut if placement.key not in self.wishes)]
        stay = [p for p in before.placements if not before.is_burnt(p) and (resume or p.pinned is not None)]
        # what is longer than the bed was cut out first, and what is left of a hide depends on it
        hold = self._holding_long([p for p in stay if (p.hide, p.panel) in before.long_panels])
        self.panels = {hide_id: self._panels(item.hide) for hide_id, item in self.items.items()}
        hold += self._holding([p for p in stay if (p.hide, p.panel) not in before.long_panels])
        hold = self._matching(done, hold)
        burnt = tuple(before.burnt)
        for panel in burnt:
            self._still_there(panel)
        still = [p for p in hold if p.pinned is not None or (p.hide, p.panel) in self.long]
        loose = [p for p in hold if p.pinned is None and (p.hide, p.panel) not in self.long]
        used = {(placement.hide, placement.panel) for placement in hold}
        panels = [
            Panel(name, hide, polygon)
            for hide, found in self.panels.items()
            for name, polygon in found.items()
            if (hide, name) in used
        ]
        panels += [panel for place, panel in self.long.items() if place in used]
        panels += [one.panel for one in burnt]
        extra = {one.panel.hide for one in burnt} - self.items.keys()
        hides = tuple(hide for hide in before.hides if hide.id in extra)
        cuts = [
            line for hide in (*hides, *(item.hide for item in self.prepared.hides)) for line in self._cuts(hide, panels)
        ]
        settings: dict[str, tuple[Setting, ...]] = {}
        for placement in cut:
            setting = self._burnt_with(placement)
            if setting is not None and setting not in settings.setdefault(placement.hide, ()):
                settings[placement.hide] += (setting,)
        return Kept(
            (*done, *still), tuple(loose), tuple(panels), tuple(cuts), burnt, tuple(lost), settings, hides,
            tuple(self.dropped.values()),
        )  # fmt: skip

    def _panels(self, hide: Hide) -> dict[str, Polygon]:
        """The panels of the earlier layout that can still be cut from a hide, by name."""
        panels = [panel for panel in self.before.panels if panel.hide == hide.id and not panel.longer]
        cuts, out = tuple(cut for cut in self.before.cuts if cut.hide == hide.id), self._cut_out(hide.id)
        if not cuts and not out and not any(self.before.is_burnt(panel) for panel in panels):
            # a hide that is not cut up is its own panel, however it is drawn now
            return {panel.id: hide.outline for panel in panels[:1]} or {"": hide.outline}
        # a part that was cut out before and stays no longer gives its leather back to the panel around it
        was = shapely.union_all(self.before.cut_out(hide.id))
        bits = cut_up(hide, cuts, out=out)
        return {
            p.id: bit
            for p in panels
            for bit in bits
            if same_leather(areal(p.polygon.difference(was)), areal(bit.difference(was)))
        }

    def _cut_out(self, hide_id: str) -> tuple[Polygon, ...]:
        """What is cut out of a hide for parts longer than the bed that stay."""
        return tuple(panel.polygon for panel in self.long.values() if panel.hide == hide_id)

    def _still_there(self, burnt: Burnt) -> None:
        hide = burnt.panel.hide
        if hide not in self.items:
            return
        there = burnt.panel.id in self.panels[hide]
        if burnt.panel.longer:
            there = self.items[hide].hide.outline.buffer(self.limits.kept_mm).covers(burnt.panel.polygon)
        if not there:
            raise ModelError(
                f"hide {hide}",
                f"drawn otherwise than when its panel {burnt.panel.id} was burnt",
                "put its file back as it was, or take it out of hides/ and trace what is left of it under another id",
            )

    def _cuts(self, hide: Hide, panels: list[Panel]) -> tuple[Cut, ...]:
        here = [panel.polygon for panel in panels if panel.hide == hide.id and not panel.longer]
        cuts = tuple(cut for cut in self.before.cuts if cut.hide == hide.id)
        return needed(hide, cuts, here, out=self._cut_out(hide.id)) if here else ()

    def _burnt_with(self, placement: Placement) -> Setting | None:
        """The setting that a part was burnt with, by another name where its own now means another."""
        setting, item = self.before.setting_of(placement), self.items.get(placement.hide)
        now = () if item is None else item.settings
        if setting is not None and any(other.name == setting.name and other != setting for other in now):
            return replace(setting, name=AS_BURNT.format(setting.name))
        return setting

    def _as_burnt(self, placement: Placement) -> Placement:
        """A part that is cut, with what its order asks now."""
        wish, setting = self.wishes[placement.key], self._burnt_with(placement)
        return replace(
            placement,
            match=wish.match,
            kind=wish.kind,
            filler=wish.product.filler,
            same_lot=wish.product.same_lot,
            setting="" if setting is None else setting.name,
        )

    def _drop(self, placement: Placement, why: str) -> None:
        self.dropped[placement.key] = placement, why

    def _holding_long(self, placements: list[Placement]) -> list[Placement]:
        """Those of the parts longer than the bed that hold, with their panels as they are drawn now."""
        workshop, found = self.prepared.job.workshop, list[Placement]()
        for how in (TWO_LOADS, KNIFE):
            here = [p for p in placements if self.before.long_panels[p.hide, p.panel].longer == how]
            self.panels = {hide: {p.panel: item.hide.outline for p in here} for hide, item in self.items.items()}
            for p in self._holding(here, how):
                wish = self.wishes[p.key]
                self.long[p.hide, p.panel] = long_panel(p.panel, p.hide, wish, how, p.x, p.y, p.angle, workshop)
                found.append(p)
        return found

    def _holding(self, placements: list[Placement], how: str = "") -> list[Placement]:
        """Those that hold, as they are drawn now; pinned ones stand in the way of others, the urgent of the less so.

        ``how`` says what is longer than the bed is cut.
        """
        stay = []
        for placement in placements:
            why = self._why_not(placement, how)
            if why:
                self._drop(placement, why)
            else:
                stay.append(placement)
        stay.sort(key=lambda p: (p.pinned is None, self.wishes[p.key].rank))
        fits = self._fitting(stay, how)
        found: dict[int, Placement] = {}
        for number, placement in enumerate(stay):
            bands, near = fits[number]
            other = next((found[n] for n in sorted(near) if n in found), None)
            if not bands:
                self._drop(placement, self._where(placement, how))
            elif other is not None:
                self._drop(placement, f"it lies too near {other.name}")
            else:
                found[number] = self._laid(placement, bands[0], how)
        return list(found.values())

    def _why_not(self, placement: Placement, how: str) -> str:
        """What can be told without measuring; empty where that is nothing."""
        wish, item = self.wishes.get(placement.key), self.items.get(placement.hide)
        if wish is None:
            return "no order has it any longer"
        if item is None:
            return f"hide {placement.hide} is not among those to use"
        if how:
            if wish.key in self._fitting_bed:
                return "it is no longer than the bed now"
            way = way_of(wish, self.prepared.job.workshop)
            if way != how and not (how == KNIFE and way == TWO_LOADS and not item.settings):
                return f"what is longer than the bed is now cut otherwise: {way}"
        elif not item.open:
            return f"no setting covers hide {item.hide.id} any longer"
        if not wish.allows(item.hide):
            return f"hide {item.hide.id} is not {wish.kind}"
        panel = self.panels[item.hide.id].get(placement.panel)
        if panel is None:
            return f"panel {placement.panel} cannot be cut from hide {item.hide.id} as it is drawn now"
        bed = self.prepared.job.workshop.machine.usable_mm
        if not how and not item.hide.never_burnt and bed_angle(panel, *bed) is None:
            return f"panel {placement.panel} of hide {item.hide.id} does not fit the bed any longer"
        if not wish.drawn.direction.allows(placement.angle, item.hide.backbone_deg, self.limits.kept_turn_deg):
            return f"it is turned by {placement.angle:.1f} degrees, which is not allowed any longer"
        return ""

    @cached_property
    def _fitting_bed(self) -> frozenset[PartKey]:
        """The wishes that fit the bed."""
        return frozenset(self.prepared.wishes[number].key for number in self.prepared.fitting)

    def _fitting(self, placements: list[Placement], how: str) -> list[tuple[list[int], set[int]]]:
        """Of each part the bands it may be burnt with where it lies, that of its setting first, and the others (by
        number) that it is too near to."""
        prepared = self.prepared
        hides = {item.hide.id: item for item in prepared.hides if item.open or how == KNIFE}
        wishes = tuple(self.wishes[placement.key] for placement in placements)
        workshop = prepared.job.workshop
        if how:
            hides = {name: ready_for(item, how) for name, item in hides.items()}
            wishes = tuple(as_packed(wish, how, workshop) for wish in wishes)
            workshop = replace(workshop, machine=replace(workshop.machine, feed_through="none"))
        grounds = {
            (hide, name): Ground(hide, polygon)
            for hide, found in self.panels.items()
            for name, polygon in found.items()
        }
        numbers = {panel: number for number, panel in enumerate(grounds)}
        if not wishes:
            return []
        case = Case(workshop, hides, wishes, self.limits)
        choices = [(number, band) for number, p in enumerate(placements) for band in hides[p.hide].bands]
        question = Translator(case).question_of(list(grounds.values()), choices, {}, {})
        fits: list[tuple[list[int], set[int]]] = [([], set()) for _ in placements]
        if question is None:
            return fits
        containers = {ground: container for container, ground in enumerate(question.grounds)}
        poses: list[engine.Pose | None] = []
        for number, _ in choices:
            p = placements[number]
            container = containers.get(numbers[p.hide, p.panel])
            poses.append(None if container is None else engine.Pose(container, p.x, p.y, p.angle))
        wrong = engine.overlaps(question.problem, engine.Solution(tuple(poses), (), 0.0), self.limits.kept_mm)
        out = {item for item, other in wrong if other < 0}
        laid = [self._outline(placement, how) for placement in placements]
        for item, (number, band) in enumerate(choices):
            if poses[item] is not None and item not in out and self._inside(placements[number], laid[number]):
                fits[number][0].append(band)
        near = {(choices[item][0], choices[other][0]) for item, other in wrong if other >= 0}
        apart = prepared.job.workshop.margins.between_mm - self.limits.kept_true_mm
        close = shapely.STRtree(laid).query(laid, predicate="dwithin", distance=apart).T.tolist()
        near |= {(a, b) for a, b in close if placements[a].hide == placements[b].hide}
        for one, other in near:
            if one != other:
                fits[one][1].add(other)
                fits[other][1].add(one)
        for placement, (bands, _) in zip(placements, fits):
            names = [setting.name for setting in hides[placement.hide].settings]
            bands.sort(key=lambda band: band >= len(names) or names[band] != placement.setting)
        return fits

    def _where(self, placement: Placement, how: str) -> str:
        """Why a part may not lie where it lay."""
        item, margins = self.items[placement.hide], self.prepared.job.workshop.margins
        wish = self.wishes[placement.key]
        if not how and wish.key not in self._fitting_bed:
            return "it is too big for the bed now"
        laid = self._outline(placement, how)
        if not self._inside(placement, laid):
            return (
                f"it lies nearer than {margins.edge_mm:g} mm to an edge of hide {item.hide.id} "
                f"or {margins.from_knife_mm:g} mm to a knife line"
            )
        if not clear_of_edge(item.hide, margins.edge_mm).buffer(self.limits.kept_mm).covers(laid):
            return (
                f"it lies where the trace of hide {item.hide.id} leaves it in doubt, or its stated error near an edge"
            )
        worst = max([wish.drawn.grade, *(zone.grade for zone in wish.drawn.zones)])
        if flaws(item.hide, margins.flaw_mm, worst).intersects(laid):
            return f"it lies on a flaw of hide {item.hide.id}"
        if wish.drawn.zones and flaws(item.hide, margins.flaw_mm, wish.drawn.grade).intersects(laid):
            return f"it lies on a flaw of hide {item.hide.id}"
        return f"the leather under it is not surely of the right thickness with any setting of hide {item.hide.id}"

    def _outline(self, placement: Placement, how: str) -> Polygon:
        """The edge of a part as it is drawn now, or of what is cut out for it, where it lay."""
        wish = self.wishes[placement.key]
        drawn = cut_out(wish, how, self.prepared.job.workshop) if how else wish.drawn.outline
        return place(drawn, placement.x, placement.y, placement.angle)

    def _inside(self, placement: Placement, outline: Polygon) -> bool:
        """Whether an outline keeps its distances from the edges of the hide and of a part's panel."""
        panel, hide = self.panels[placement.hide][placement.panel], self.items[placement.hide].hide.outline
        slack, margins = self.limits.kept_true_mm, self.prepared.job.workshop.margins
        clear = ((panel, margins.from_knife_mm), (hide, margins.edge_mm))
        return panel.buffer(slack).covers(outline) and all(
            leather.boundary.distance(outline) >= least - slack for leather, least in clear
        )

    def _laid(self, placement: Placement, band: int, how: str) -> Placement:
        """A part as it is drawn now, where it lay."""
        lie = Lie(0, placement.x, placement.y, placement.angle, band)
        panel = Panel(placement.panel, placement.hide, Polygon())
        item = self.items[placement.hide]
        laid = placement_of(self.wishes[placement.key], lie, panel, ready_for(item, how) if how else item)
        return replace(laid, pinned=placement.pinned)

    def _matching(self, done: list[Placement], hold: list[Placement]) -> list[Placement]:
        """Those of the parts that hold which lie with the others that they must match."""
        hides = {hide.id: hide for hide in (*self.before.hides, *(item.hide for item in self.prepared.hides))}

        def dropped(groups: dict[PartKey, str], place: dict[str, str], what: str) -> list[Placement]:
            votes: dict[str, Counter[str]] = {}
            for placement, weight in (*((p, 10**9) for p in done), *((p, self._weight(p)) for p in hold)):
                if groups[placement.key]:
                    votes.setdefault(groups[placement.key], Counter())[place[placement.hide]] += weight
            chosen = {group: count.most_common(1)[0][0] for group, count in votes.items()}
            stay = []
            for placement in hold:
                if place[placement.hide] == chosen.get(groups[placement.key], place[placement.hide]):
                    stay.append(placement)
                else:
                    self._drop(placement, f"what it must match comes from another {what}")
            return stay

        hold = dropped(self._groups(done, hold, "match"), {name: name for name in hides}, "hide")
        return dropped(self._groups(done, hold, "lot"), {name: hide.lot_key for name, hide in hides.items()}, "lot")

    def _groups(self, done: Iterable[Placement], hold: Iterable[Placement], name: str) -> dict[PartKey, str]:
        return {p.key: str(getattr(self.wishes[p.key], name)) for p in (*done, *hold)}

    def _weight(self, placement: Placement) -> int:
        return 1 if placement.pinned is None else 10**4


def _renumbered(layout: Layout, wanted: Collection[PartKey]) -> Layout:
    """The layout with pieces that are cut or pinned, and of which fewer are wanted now, in the place of others."""
    numbers: dict[tuple[str, str], set[int]] = {}
    for order, product, _, piece, _, _ in wanted:
        numbers.setdefault((order, product), set()).add(piece)
    held: dict[tuple[str, str], dict[int, bool]] = {}
    for part in layout.placements:
        stays = layout.is_burnt(part) or part.pinned is not None
        pieces = held.setdefault((part.order, part.product), {})
        pieces[part.piece] = stays or pieces.get(part.piece, False)
    swaps: dict[tuple[str, str, int], int] = {}
    for line, pieces in held.items():
        over = sorted(piece for piece, stays in pieces.items() if stays and piece not in numbers.get(line, set()))
        # numbers that nothing has first
        free = sorted((n for n in numbers.get(line, ()) if not pieces.get(n)), key=lambda n: (n in pieces, n))
        for one, other in zip(over, free):
            swaps |= {(*line, one): other, (*line, other): one}

    def number(key: PartKey) -> int:
        return swaps.get((key[0], key[1], key[3]), key[3])

    def moved(parts: Iterable[Placement]) -> tuple[Placement, ...]:
        return tuple(replace(part, piece=number(part.key)) for part in parts)

    burnt = tuple(
        replace(one, parts=tuple(((*key[:3], number(key), *key[4:]), spot) for key, spot in one.parts))
        for one in layout.burnt
    )
    return replace(layout, placements=moved(layout.placements), lost=moved(layout.lost), burnt=burnt)


def less(prepared: Prepared, kept: Kept) -> Prepared:
    """What is still to be placed beside what stays: the wishes without those parts, bound to the hides that they must
    share with them; hides only what is burnt is on are closed."""
    from .ready import ready

    hides = {hide.id: hide for hide in (*kept.hides, *(item.hide for item in prepared.hides))}
    of = {wish.key: wish for wish in prepared.wishes}
    sites: dict[str, set[str]] = {}
    lots: dict[str, set[str]] = {}
    for placement in kept.placements:
        wish = of.get(placement.key)
        if wish is not None and wish.match:
            sites.setdefault(wish.match, set()).add(placement.hide)
        if wish is not None and wish.lot:
            lot = hides[placement.hide].lot_key
            lots.setdefault(wish.lot, set()).update(name for name, hide in hides.items() if hide.lot_key == lot)

    def bound(wish: Wish) -> Wish:
        may = [found for found in (sites.get(wish.match), lots.get(wish.lot)) if found is not None]
        return replace(wish, hides=frozenset(set.intersection(*may))) if may else wish

    numbers = [number for number, wish in enumerate(prepared.wishes) if wish.key not in kept.keys]
    fitting = set(prepared.fitting)
    closed = tuple(
        replace(ready(hide, prepared.job.workshop, prepared.limits), settings=(), warnings=(), open=False)
        for hide in kept.hides
    )
    return replace(
        prepared,
        hides=(*prepared.hides, *closed),
        wishes=tuple(bound(prepared.wishes[number]) for number in numbers),
        fitting=tuple(index for index, number in enumerate(numbers) if number in fitting),
    )
