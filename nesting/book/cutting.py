"""Layouts and bed loads in the book: planned, cut, and what that leaves of a hide."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from math import floor
from typing import Any

from shapely.geometry import Polygon
from shapely.ops import unary_union
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ..atomic import json_bytes
from ..costs.money import Cost, costs, share
from ..costs.offcuts import Offcut, offcuts
from ..errors import FileError
from ..files.hides import hide_to_dict
from ..geometry import areal
from ..leather.knife import cut_up, same_leather
from ..model import Layout, Panel, PartKey, Placement, Spot
from . import shelf
from .leather import fingerprint, known, on_grid, remaining
from .limits import DEFAULT
from .orders import LineKey, known_lines, refresh
from .shelf import gone_words, money, units
from .store import LAYOUT, PLAN_AGAIN, PanelKey, Work
from .tables import BookLayout, BookLoad, BookOrder, Change, CutPart, ShelfHide, Step

_SAME = 0.01
"""Places and angles that differ by less, mm and degrees, are the same: files round them."""


def fits(session: Session, layout: Layout, hides: Collection[str] | None = None, unknown: bool = True) -> list[str]:
    """Why a layout cannot be cut any more, in words: leather it needs is gone. Empty where all of it is there.

    Parameters
    ----------
    session : Session
    layout : Layout
    hides : collection of str, optional
        Look at these only; at all that it has parts to cut from by default.
    unknown : bool
        Whether to tell of hides that the book has not.
    """
    waiting = {p.hide for p in layout.placements if not layout.is_burnt(p)}
    names = sorted(waiting if hides is None else waiting & set(hides))
    rows = {row.name.lower(): row for row in session.scalars(select(ShelfHide).where(_name_in(names)))}
    said = []
    for name in names:
        row = rows.get(name.lower())
        if row is None and not unknown:
            continue
        elif row is None:
            said.append(f"hide {name} is not in the book: put its file into hides/, and say nesting shelf add")
        elif row.state not in shelf.THERE:
            said.append(gone_words(row))
        else:
            said += _unknown(session, row, layout)
    return said


def unknown_cuts(session: Session, layout: Layout) -> list[str]:
    """What was cut from hides that are on the shelf and a layout does not know of, in words."""
    opened = session.scalars(select(ShelfHide).where(ShelfHide.state == "opened"))
    return [why for row in opened for why in _unknown(session, row, layout)]


def _unknown(session: Session, row: ShelfHide, layout: Layout) -> list[str]:
    burnt = [fingerprint(one.panel.polygon) for one in layout.burnt if one.panel.hide.lower() == row.name.lower()]
    cuts = session.execute(
        select(BookLoad, BookLayout.mark)
        .join(BookLayout, BookLoad.layout == BookLayout.id)
        .where(BookLoad.hide == row.id, BookLoad.state == "cut")
    )
    return [
        f"panel {load.panel} of hide {row.name} was cut on {(load.at or '')[:10]}, of layout {mark}"
        for load, mark in cuts
        if not known(load.print, burnt)
    ]


def _name_in(names: Collection[str]) -> Any:
    return func.lower(ShelfHide.name).in_([name.lower() for name in names])


def note_layout(work: Work, layout: Layout, check: bool = True) -> BookLayout:
    """Make a layout the one at hand: its loads are planned, and those of the one before are not any more.

    Raises
    ------
    FileError
        When leather that it needs is gone.
    """
    session = work.session
    if check:
        refuse(work, layout)
    for other in session.scalars(select(BookLayout).where(BookLayout.current == 1)):
        other.current = 0
    row = session.scalar(select(BookLayout).where(BookLayout.mark == layout.mark))
    if row is None:
        row = BookLayout(mark=layout.mark, made=work.at, current=1, wanted=0, placed=0)
        session.add(row)
    row.current, row.wanted, row.placed = 1, sum(layout.wanted.values()), len(layout.placements)
    session.flush()
    for load in session.scalars(select(BookLoad).where(BookLoad.state == "planned")):
        session.delete(load)
    hides = {hide.name.lower(): hide for hide in session.scalars(select(ShelfHide).where(_name_in(_used(layout))))}
    for panel in layout.panels:
        parts = [p for p in layout.placements if (p.hide, p.panel) == (panel.hide, panel.id)]
        if parts and not layout.is_burnt(panel):
            session.add(
                BookLoad(
                    layout=row.id, hide=hides[panel.hide.lower()].id, panel=panel.id,
                    print=fingerprint(panel.polygon), state="planned", count=len(parts), panel_mm2=panel.polygon.area,
                    parts_mm2=0.0, kerf_mm2=0.0, scrap_mm2=0.0, offcuts_mm2=0.0,
                )
            )  # fmt: skip
    lines = known_lines(work, layout)
    _renumber(session, layout)
    others = session.scalars(select(BookOrder).where(BookOrder.planned > 0))
    refresh(session, [*lines.values(), *(one for one in others if (one.name, one.product) not in lines)], layout)
    return row


def refuse(work: Work, layout: Layout, hides: Collection[str] | None = None) -> None:
    """Refuse a layout that needs leather that is gone, by its mark and the leather's name."""
    gone = fits(work.session, layout, hides)
    if gone:
        raise FileError(work.store.folder / LAYOUT, f"layout {layout.mark}", "; ".join(gone), PLAN_AGAIN)


def _used(layout: Layout) -> set[str]:
    return {placement.hide for placement in layout.placements}


def _renumber(session: Session, layout: Layout) -> None:
    """Give parts that were cut the numbers of the pieces that a later layout counts them to."""
    for burnt in layout.burnt:
        rows = session.execute(
            select(CutPart, BookOrder.name, BookOrder.product, BookLoad.print)
            .join(BookLoad, CutPart.load == BookLoad.id)
            .join(BookOrder, CutPart.line == BookOrder.id)
            .join(ShelfHide, BookLoad.hide == ShelfHide.id)
            .where(func.lower(ShelfHide.name) == burnt.panel.hide.lower(), BookLoad.panel == burnt.panel.id)
        ).all()
        here = [row for row in rows if known(row[3], [fingerprint(burnt.panel.polygon)])]
        for key, spot in burnt.parts:
            for row, name, product, _ in here:
                if key[:3] == (name, product, row.part) and _lies(row, spot):
                    row.piece = key[3]


def _lies(row: CutPart, at: Spot | Placement) -> bool:
    """Whether a part that was cut lay there."""
    turned = abs((row.angle - at.angle + 180) % 360 - 180)
    return abs(row.x - at.x) < _SAME and abs(row.y - at.y) < _SAME and turned < _SAME


def cut(work: Work, layout: Layout, panels: Sequence[PanelKey], currency: str) -> tuple[str, ...]:
    """Write panels down as cut that ``layout`` has as burnt: parts, what they cost, and what is left of the hides.

    That its leather is there is for `refuse` to see to before. Gives the names of the offcuts that are new.
    """
    session = work.session
    row = session.scalars(select(BookLayout).where(BookLayout.current == 1)).one()
    lines = known_lines(work, layout)
    new: list[str] = []
    for name in dict.fromkeys(hide for hide, _ in panels):
        here = [panel for hide, panel in panels if hide == name]
        new += _Cutter(work, layout, row, name, lines, currency).cut(here)
    refresh(session, list(lines.values()), layout)
    return tuple(new)


def put_back(work: Work, layout: Layout, name: str, currency: str) -> tuple[str, ...]:
    """Give up the loads still planned of a hide that is cut in part: what is left of it goes back as offcuts."""
    row = work.session.scalars(select(BookLayout).where(BookLayout.current == 1)).one()
    cutter = _Cutter(work, layout, row, name, {}, currency)
    gone = [p for p in layout.placements if p.hide == name and not layout.is_burnt(p)]
    cutter.layout = replace(layout, placements=tuple(p for p in layout.placements if p not in gone))
    new = cutter.close()
    rows = known_lines(work, layout)
    refresh(work.session, list(rows.values()), cutter.layout)
    return tuple(new)


class _Cutter:
    """Writes down what is cut from one hide."""

    def __init__(
        self, work: Work, layout: Layout, row: BookLayout, name: str, lines: dict[LineKey, BookOrder], currency: str
    ) -> None:
        self.work, self.layout, self.row, self.lines, self.currency = work, layout, row, lines, currency
        self.session = work.session
        self.hide = next(hide for hide in layout.hides if hide.id == name)
        self.shelf_row = shelf.find(self.session, name, work.store.path)
        self.names: list[str] = []

    def cut(self, panels: Sequence[str]) -> list[str]:
        """Some panels of it; the hide is closed with the last that holds parts."""
        left = self._left()
        price = self._costs(left)
        for name in panels:
            panel = next(p for p in self.layout.panels if (p.hide, p.id) == (self.hide.id, name))
            self._load(panel, left, price)
        waiting = [p for p in self.layout.on(self.hide.id) if not self.layout.is_burnt(p)]
        if waiting:
            self.shelf_row.state = "opened"
        else:
            self.close(left)
        return self.names

    def _left(self) -> list[Offcut]:
        only = replace(self.layout, hides=(self.hide,))
        return offcuts(only, self.hide.id)[0]

    def _costs(self, left: list[Offcut]) -> dict[PartKey, Cost]:
        on = self.layout.on(self.hide.id)
        # the leather of a hide whose price changed hands in the book is what the book says
        hide = replace(
            self.hide, price=None if self.shelf_row.price is None else money(self.shelf_row.price, self.currency)
        )
        return costs(replace(self.layout, hides=(hide,), placements=on), {self.hide.id: left}).parts

    def _load(self, panel: Panel, left: Sequence[Offcut], price: dict[PartKey, Cost]) -> None:
        lost = [p for p in self.layout.lost if (p.hide, p.panel) == (panel.hide, panel.id)]
        parts = [p for p in self.layout.on(panel.hide) if p.panel == panel.id]
        load = self.session.scalar(
            select(BookLoad).where(
                BookLoad.hide == self.shelf_row.id, BookLoad.panel == panel.id, BookLoad.state == "planned"
            )
        )
        if load is None:
            load = BookLoad(layout=self.row.id, hide=self.shelf_row.id, panel=panel.id, count=0, panel_mm2=0.0)
            self.session.add(load)
        load.state, load.at, load.print = "cut", self.work.at, fingerprint(panel.polygon)
        self._measure(load, panel.polygon, [*parts, *lost])
        self.session.flush()
        for part in parts:
            cost = price[part.key]
            self.session.add(
                CutPart(
                    load=load.id, line=self.lines[part.order, part.product].id, part=part.part, piece=part.piece,
                    copy=part.copy, mirrored=int(part.mirrored), state="cut", x=part.x, y=part.y, angle=part.angle,
                    area_mm2=part.area_mm2,
                    **{kind: units(getattr(cost, kind), self.currency)
                       for kind in ("leather", "masking", "machine", "labour")},
                )
            )  # fmt: skip
        here = [one for one in left if panel.polygon.covers(one.polygon.representative_point())]
        self._keep(load, here)

    def _measure(self, load: BookLoad, leather: Polygon, parts: Sequence[Placement]) -> None:
        """Areas of a load, its offcuts not yet taken off the scrap."""
        kerf_mm = self.layout.workshop.margins.kerf_mm
        gone = unary_union([part.outline.buffer(kerf_mm) for part in parts])
        left = areal(leather.difference(gone)).area if parts else leather.area
        fallen = sum(cutout.area for part in parts for cutout in part.cutouts)
        load.count, load.panel_mm2 = len(parts), leather.area
        load.parts_mm2 = sum(part.area_mm2 for part in parts)
        load.scrap_mm2, load.offcuts_mm2 = left + fallen, 0.0
        load.kerf_mm2 = max(leather.area - load.parts_mm2 - load.scrap_mm2, 0.0)

    def _keep(self, load: BookLoad, left: Sequence[Offcut]) -> None:
        """Put what a load leaves on the shelf."""
        credited = self._credited()
        for one in left:
            outline = on_grid(one.polygon)
            credit = self._credit(load, outline.area)
            name = self._name(one.id)
            price = None if credit is None else money(credit - credited, self.currency)
            credited += (credit or 0) - credited
            hide = remaining(self.hide, outline, name, price)
            path = f"hides/{name}.json"
            row = shelf.add(
                self.work, hide, path, self.currency, parent=self.shelf_row.id, load=load.id,
                wide_mm=one.width_mm, high_mm=one.height_mm, supplier=self.shelf_row.supplier,
            )  # fmt: skip
            self.work.write(path, json_bytes(self.work.store.folder / path, hide_to_dict(hide)))
            self.names.append(row.name)
            load.offcuts_mm2 += outline.area
            load.scrap_mm2 -= outline.area
            self.session.flush()

    def _credited(self) -> int:
        """Minor units that the offcuts of the hide are credited with so far."""
        query = select(func.coalesce(func.sum(ShelfHide.price), 0)).where(
            ShelfHide.parent == self.shelf_row.id, ShelfHide.load.is_not(None)
        )
        return int(self.session.scalar(query) or 0)

    def _credit(self, load: BookLoad, more_mm2: float) -> int | None:
        """Minor units that the hide's offcuts are worth together with one more of such an area."""
        if self.shelf_row.price is None:
            return None
        query = select(func.coalesce(func.sum(BookLoad.offcuts_mm2), 0.0)).where(BookLoad.hide == self.shelf_row.id)
        self.session.flush()
        area = Fraction(float(self.session.scalar(query) or 0.0)) + Fraction(more_mm2)
        part = min(area / Fraction(self.shelf_row.area_mm2), Fraction(1))
        worth = self.shelf_row.price * Fraction(str(self.layout.workshop.prices.offcut_credit)) * part
        return floor(worth + Fraction(1, 2))

    def _name(self, wished: str) -> str:
        if len(wished) > DEFAULT.longest_name:
            wished = f"offcut-{next(shelf.codes(wished))}"
        stem = wished.rstrip("0123456789").rstrip("-")
        return shelf.free_name(self.session, wished, lambda number: f"{stem}-{number}")

    def close(self, left: Sequence[Offcut] | None = None) -> list[str]:
        """Nothing more is cut from it as it is: what is left beside its loads goes to the shelf, its file aside."""
        left = self._left() if left is None else left
        gone = [one.panel.polygon for one in self.layout.burnt if one.panel.hide == self.hide.id]
        bits = [
            bit for bit in cut_up(self.hide, self.layout.cuts) if not any(same_leather(bit, panel) for panel in gone)
        ]
        if bits:
            load = BookLoad(
                layout=self.row.id, hide=self.shelf_row.id, panel="", print="0 0 0", state="rest", at=self.work.at,
                count=0, panel_mm2=sum(bit.area for bit in bits), parts_mm2=0.0, kerf_mm2=0.0,
                scrap_mm2=sum(bit.area for bit in bits), offcuts_mm2=0.0,
            )  # fmt: skip
            self.session.add(load)
            self.session.flush()
            beside = [one for one in left if any(bit.covers(one.polygon.representative_point()) for bit in bits)]
            self._keep(load, beside)
        for load in self.session.scalars(
            select(BookLoad).where(BookLoad.hide == self.shelf_row.id, BookLoad.state == "planned")
        ):
            self.session.delete(load)
        self._share_leather()
        self._put_aside()
        return self.names

    def _share_leather(self) -> None:
        """Share what was paid for the hide, less what its offcuts are credited with, over all parts cut from it."""
        parts = self.session.scalars(
            select(CutPart).join(BookLoad, CutPart.load == BookLoad.id).where(BookLoad.hide == self.shelf_row.id)
            .order_by(CutPart.id)
        ).all()  # fmt: skip
        if parts and self.shelf_row.price is not None:
            for part, amount in zip(parts, share(self.shelf_row.price - self._credited(), [p.area_mm2 for p in parts])):
                part.leather = amount

    def _put_aside(self) -> None:
        old = self.shelf_row.file
        kept = f"hides/cut/{old.rsplit('/', 1)[1]}"
        content = json_bytes(self.work.store.folder / kept, hide_to_dict(self.hide))
        self.work.write(kept, content)
        self.work.write(old, None)
        self.shelf_row.state, self.shelf_row.gone, self.shelf_row.file = "cut", self.work.at, kept


def spoil(work: Work, part: Placement) -> None:
    """Say of a part that was cut that it was spoiled, so that it is wanted again.

    Raises
    ------
    FileError
        When the book has no such part as cut.
    """
    session = work.session
    rows = session.scalars(
        select(CutPart)
        .join(BookLoad, CutPart.load == BookLoad.id)
        .join(ShelfHide, BookLoad.hide == ShelfHide.id)
        .where(func.lower(ShelfHide.name) == part.hide.lower(), BookLoad.panel == part.panel, CutPart.part == part.part)
    )
    for row in rows:
        if row.state == "cut" and _lies(row, part):
            row.state = "spoiled"
            line = session.get(BookOrder, row.line)
            assert line is not None  # held by a foreign key
            refresh(session, [line])
            return
    raise FileError(work.store.path, "part", part.name, "the book has no such part as cut")


def when_cut(session: Session, layout: Layout, key: PanelKey) -> str:
    """When a panel that is burnt in a layout was cut, and whether going back a step takes that back, in words."""
    panel = next(one.panel for one in layout.burnt if (one.panel.hide, one.panel.id) == key)
    loads = session.scalars(
        select(BookLoad)
        .join(ShelfHide, BookLoad.hide == ShelfHide.id)
        .where(func.lower(ShelfHide.name) == panel.hide.lower(), BookLoad.state == "cut")
    )
    load = next((one for one in loads if known(one.print, [fingerprint(panel.polygon)])), None)
    if load is None:
        return "it is cut already"
    told = f"it is cut already, since {(load.at or '')[:16].replace('T', ' ')}"
    last = session.scalar(select(Step).where(Step.undone.is_(None)).order_by(Step.id.desc()).limit(1))
    if last is None:
        return told
    changes = session.scalars(
        select(Change.was).where(Change.step == last.id, Change.thing == "loads", Change.row == load.id)
    )
    if any(was is None or json.loads(was)["state"] != "cut" for was in changes):
        return f"{told}: nesting undo takes that back"
    return f"{told}; nesting undo would not take that back, for the last step is another: {last.words}"


def what_became(session: Session, parts: Iterable[Placement]) -> Counter[str]:
    """Of parts that were cut and that no open order has, how many are of pieces ``made``, ``spoiled``, or cut for what
    is ``no longer wanted``; those that the book has not are not counted."""
    parts = list(parts)
    good = (
        select(CutPart.line, CutPart.piece, func.count().label("parts"))
        .where(CutPart.state == "cut")
        .group_by(CutPart.line, CutPart.piece)
        .subquery()
    )
    rows = session.execute(
        select(CutPart, ShelfHide.name, BookLoad.panel, good.c.parts == BookOrder.parts_each)
        .join(BookLoad, CutPart.load == BookLoad.id)
        .join(ShelfHide, BookLoad.hide == ShelfHide.id)
        .join(BookOrder, CutPart.line == BookOrder.id)
        .outerjoin(good, (CutPart.line == good.c.line) & (CutPart.piece == good.c.piece))
        .where(_name_in({part.hide for part in parts}))
    )
    here = defaultdict(list)
    for row, hide, panel, whole in rows:
        here[hide.lower(), panel, row.part].append((row, whole))
    found: Counter[str] = Counter()
    for part in parts:
        for row, whole in here[part.hide.lower(), part.panel, part.part]:
            if _lies(row, part):
                found["spoiled" if row.state == "spoiled" else "made" if whole else "no longer wanted"] += 1
                break
    return found


def loads_of(layout: Layout) -> list[PanelKey]:
    """The panels of a layout that hold parts and are still to be burnt."""
    used = {(part.hide, part.panel) for part in layout.placements}
    return [(p.hide, p.id) for p in layout.panels if (p.hide, p.id) in used and not layout.is_burnt(p)]
