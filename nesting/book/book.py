"""The stock book of a workshop: its face."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import ColumnElement, func, select

from ..atomic import json_bytes
from ..errors import FileError
from ..model import Hide, Job, Layout, OrderLine, Placement, Product, Setting, Workshop, counted
from . import opening, orders, shelf
from .orders import TakenOrders
from .shelf import Taken, units, words
from .store import LAYOUT, WORKSHOP, Clock, PanelKey, Store, Work, _now, read
from .tables import BookLayout, BookLoad, BookOrder, BookSetting, CutPart, Fact, ShelfHide, Step

if TYPE_CHECKING:
    from .buying import ToBuy, Unkept
    from .money import Month, ShortMeasure, Spent, Yield

# What cuts, plans or reads files is imported where it is used: a look at the shelf needs none of it.


@dataclass(frozen=True)
class CutDone:
    """What was written down as cut: bed loads, and the names of the offcuts they left."""

    loads: tuple[str, ...]
    offcuts: tuple[str, ...]


def _state_in(states: Collection[str]) -> ColumnElement[bool]:
    return ShelfHide.state.in_(states)


class Book:
    """The stock book of a job folder.

    What it gives are plain records (see `tables`), as they were when it was asked. Each method that changes something
    is one step, done whole or not at all, together with the plain files of the folder; `undo` takes the last one back.

    Parameters
    ----------
    folder : str or Path
    now : callable, optional
        Tells the time, with its zone; that of the machine by default.

    Raises
    ------
    FileError
        When there is no book, it is damaged, or a newer program wrote it; it is not touched then.
    """

    def __init__(self, folder: str | Path, now: Clock = _now) -> None:
        self.folder = Path(folder)
        self._store = Store(self.folder, now)
        with self._store.reading() as session:
            self.currency = session.scalars(select(Fact.value).where(Fact.name == "currency")).one()

    @classmethod
    def begin(cls, folder: str | Path, now: Clock = _now) -> Book:
        """Begin the book of a job folder that has none.

        Raises
        ------
        FileError
            When there is a book already, or ``workshop.toml`` cannot be read.
        """
        from ..files.workshop import read_workshop

        folder = Path(folder)
        currency = read_workshop(folder / "workshop.toml").prices.currency
        opening.begin(folder / opening.NAME, {"currency": currency})
        return cls(folder, now)

    @staticmethod
    def there(folder: str | Path) -> bool:
        """Whether a folder has a book."""
        return (Path(folder) / opening.NAME).exists()

    @property
    def path(self) -> Path:
        """Its file."""
        return self._store.path

    def today(self) -> str:
        """The day, as the book has it."""
        return self._store.stamp()[:10]

    # the shelf

    def hides(self, states: Collection[str] = shelf.THERE) -> list[ShelfHide]:
        """Hides and offcuts in some states, those on the shelf by default, in the order in which they came."""
        with self._store.reading() as session:
            return list(session.scalars(select(ShelfHide).where(_state_in(states)).order_by(ShelfHide.id)))

    def hide(self, name: str) -> ShelfHide:
        """A hide by its name or the code on its label."""
        with self._store.reading() as session:
            return shelf.find(session, name, self.path)

    def left_mm2(self) -> dict[int, float]:
        """Of hides that are cut in part, by id, the leather that no load has been cut from."""
        with self._store.reading() as session:
            cut = (
                select(ShelfHide.id, ShelfHide.area_mm2, func.sum(BookLoad.panel_mm2))
                .join(BookLoad, BookLoad.hide == ShelfHide.id)
                .where(ShelfHide.state == "opened", BookLoad.state == "cut")
                .group_by(ShelfHide.id)
            )
            return {hide: float(area - gone) for hide, area, gone in session.execute(cut)}

    def parent_of(self, row: ShelfHide) -> ShelfHide | None:
        """The hide that an offcut is of; None of a whole hide."""
        with self._store.reading() as session:
            return None if row.parent is None else session.get(ShelfHide, row.parent)

    def offcuts_of(self, row: ShelfHide) -> list[ShelfHide]:
        """What is left of a hide, as hides of their own."""
        with self._store.reading() as session:
            return list(session.scalars(select(ShelfHide).where(ShelfHide.parent == row.id).order_by(ShelfHide.id)))

    def shape(self, row: ShelfHide) -> Hide:
        """The hide itself, from its file."""
        from ..files.hides import read_hide

        return read_hide(self._store.place(row.file), self.currency)

    def take_hides(self) -> Taken:
        """Take new and changed files of ``hides/`` in."""
        with self._store.step("shelf") as work:
            taken = shelf.take_in(work, self.currency)
            told = [
                f"{verb} {words(names)}"
                for verb, names in (("took in hides", taken.added), ("read again", taken.changed))
                if names
            ]
            work.step.words = "; ".join(told) or "looked at hides/"
        return taken

    def bought(
        self,
        names: Iterable[str],
        *,
        supplier: str | None = None,
        bought_mm2: float | None = None,
        price: Decimal | None = None,
    ) -> None:
        """Say of hides where they were bought, by which measure (mm2), and for how much."""  # fmt: skip
        with self._store.step("shelf") as work:
            rows = [shelf.find(work.session, name, self.path) for name in names]
            for row in rows:
                if supplier is not None:
                    row.supplier = supplier
                if bought_mm2 is not None:
                    row.bought_mm2 = bought_mm2
                if price is not None:
                    self._price(work, row, price)
            work.step.words = f"noted what was bought: {words([row.name for row in rows])}"

    def _price(self, work: Work, row: ShelfHide, price: Decimal) -> None:
        from ..files.hides import hide_to_dict

        if row.state != "shelf":
            raise FileError(self.path, f"hide {row.name}", row.state, "its price is shared out already: undo the cut")
        row.price = units(price, self.currency)
        hide = replace(self.shape(row), price=price)
        work.write(row.file, json_bytes(self.folder / row.file, hide_to_dict(hide)))

    def retire(self, name: str, why: str = "") -> ShelfHide:
        """Take a hide off the shelf: sold, given away, spoiled. Its file goes to ``hides/retired/``."""
        with self._store.step("shelf") as work:
            row = shelf.find(work.session, name, self.path)
            if row.state not in shelf.THERE:
                raise FileError(self.path, "hide", row.name, shelf.gone_words(row))
            if row.state == "opened":
                mend = f"it is cut in part: nesting shelf back {row.name} makes pieces of what is left, to retire each"
                raise FileError(self.path, "hide", row.name, mend)
            content = (self.folder / row.file).read_bytes() if (self.folder / row.file).exists() else None
            if content is not None:
                kept = f"hides/retired/{Path(row.file).name}"
                work.write(kept, content)
                work.write(row.file, None)
                row.file = kept
            row.state, row.gone, row.why = "retired", work.at, why
            work.step.words = f"retired {row.name}{f': {why}' if why else ''}"
        return row

    # orders

    def orders(self, states: Collection[str] | None = orders.OPEN, most: int | None = None) -> list[BookOrder]:
        """Order lines in some states, those still to be made by default (None: all), in the order they came; of many
        the last ``most``."""
        with self._store.reading() as session:
            query = select(BookOrder).order_by(BookOrder.id.desc()).limit(most)
            found = session.scalars(query if states is None else query.where(BookOrder.state.in_(states)))
            return list(found)[::-1]

    def take_orders(self, lines: Iterable[OrderLine], where: str | Path = "orders.csv") -> TakenOrders:
        """Take order lines in; such as the book has already are brought up to date."""
        with self._store.step("orders") as work:
            taken = orders.take_in(work, lines, where)
            told = [
                f"{verb} {counted(len(keys), 'order line')}"
                for verb, keys in (("took in", taken.added), ("changed", taken.changed))
                if keys
            ]
            work.step.words = " and ".join(told) or f"looked at {where}"
        return taken

    def set_done(self, order: str, product: str = "", done: bool = True) -> list[tuple[BookOrder, bool]]:
        """Say of an order, or one line of it, that it is done, or not after all; gives each line and whether that is
        new of it. Where it is new of none no step is taken."""
        with self._store.reading() as session:
            rows = orders.named(session, order, product, self.path)
        if all((row.done is not None) == done for row in rows):
            return [(row, False) for row in rows]
        with self._store.step("orders") as work:
            rows = orders.named(work.session, order, product, self.path)
            new = orders.set_done(work, rows, done)
            work.step.words = f"order {order}{f' {product}' if product else ''}: {'done' if done else 'not done'}"
        return [(row, row in new) for row in rows]

    # planning

    def job(self, workshop: Workshop, products: Sequence[Product]) -> Job:
        """What there is to plan: the hides on the shelf, and the order lines of which something is still to be made."""
        from ..files.job import check_orders

        self._same_currency(workshop)
        rows = [row for row in self.hides() if (self.folder / row.file).exists()]
        lines = tuple(map(orders.line_of, self.orders()))
        if not rows:
            raise FileError(self.path, "shelf", "no hides", "trace a photo into hides/, or put a hide's file there")
        if not lines:
            mend = "all is made: add rows to orders.csv, or say nesting orders take FILE"
            raise FileError(self.path, "orders", "nothing to make", mend)
        check_orders(self.path, lines, products)
        return Job(workshop, tuple(products), tuple(map(self.shape, rows)), lines)

    def layout(self) -> Layout | None:
        """The layout at hand, as ``out/layout.json`` has it; None where there is none."""
        from ..files.layout import read_layout

        file = self.folder / LAYOUT
        return read_layout(file) if file.exists() else None

    def to_go_on(self, layout: Layout | None) -> Layout | None:
        """The layout at hand without what is done with, so that a plan can go on from it.

        Where it does not know of a load cut from a hide that is on the shelf, the one that was written then stands in.
        """
        from ..files.layout import layout_from_dict
        from ..planning.hands import forgotten
        from . import cutting

        with self._store.reading() as session:
            if layout is None or cutting.unknown_cuts(session, layout):
                kept = self._store.last_written(session, LAYOUT)
                layout = layout_from_dict(kept, self.folder / LAYOUT) if kept is not None else layout
            if layout is None:
                return None
            there = {row.name.lower() for row in session.scalars(select(ShelfHide).where(_state_in(shelf.THERE)))}
            lines = session.scalars(select(BookOrder).where(BookOrder.state.in_(orders.OPEN)))
            wanted = {(line.name, line.product) for line in lines}
        used = {p.hide for p in layout.placements if layout.is_burnt(p) and (p.order, p.product) in wanted}
        closed = {one.panel.hide for one in layout.burnt if one.panel.hide.lower() not in there}
        return forgotten(layout, closed - used)

    def what_became(self, parts: Iterable[Placement]) -> dict[str, int]:
        """Of parts cut that no open order has any more, how many are ``made``, ``spoiled`` or ``no longer wanted``."""
        from . import cutting

        with self._store.reading() as session:
            return dict(cutting.what_became(session, parts))

    def planned(self, layout: Layout, *, written: bool = False) -> None:
        """Make a layout the one at hand: its order lines are planned, and ``out/layout.json`` is that layout.

        Parameters
        ----------
        layout : Layout
        written : bool
            Whether that file is it already, written with report and pictures.

        Raises
        ------
        FileError
            When leather that it needs was cut meanwhile.
        """
        from . import cutting

        self._same_currency(layout.workshop)
        with self._store.step("plan", f"planned layout {layout.mark}") as work:
            cutting.note_layout(work, layout)
            if not written:
                from ..costs.figures import figures

                self._write(work, layout, figures(layout))

    def why_not(self, layout: Layout) -> list[str]:
        """Why a layout cannot be cut any more, in words; empty where all its leather is there."""
        from . import cutting

        with self._store.reading() as session:
            return cutting.fits(session, layout, unknown=False)

    # cutting

    def waiting(self) -> list[PanelKey]:
        """The bed loads of the layout at hand that are still to be cut, by hide and panel."""
        from . import cutting

        layout = self.layout()
        return [] if layout is None else cutting.loads_of(layout)

    def cut(self, panels: Iterable[PanelKey]) -> CutDone:
        """Write bed loads of the layout at hand down as cut: orders move on, what is left of a hide goes to the shelf.

        ``out/layout.json`` has them as burnt then. With the last load of a hide its file goes to ``hides/cut/``.

        Raises
        ------
        FileError
            When there is no such load, or its leather is gone already.
        """
        from ..planning.hands import burnt
        from . import cutting

        panels = list(dict.fromkeys(panels))
        with self._store.step("cut") as work:
            layout, figures = self._at_hand()
            self._known(layout, panels)
            after = burnt(layout, set(panels))
            self._note(work, layout)
            cutting.refuse(work, layout, {hide for hide, _ in panels})
            new = cutting.cut(work, after, panels, self.currency)
            self._write(work, after, figures)
            names = tuple(f"{hide}/{panel}" for hide, panel in panels)
            work.step.words = f"cut {words(names)}"
        return CutDone(names, new)

    def spoil(self, part: Placement, figures: Callable[[Layout], dict[str, object]] | None = None) -> CutDone:
        """Say that a part of the layout at hand was spoiled at the machine: it is wanted again.

        Its bed load counts as cut. ``figures`` makes those that the layout's file keeps beside it.
        """
        from ..planning.hands import burnt, spoiled
        from . import cutting

        with self._store.step("spoil", f"spoiled {part.name}") as work:
            layout, numbers = self._at_hand()
            done = CutDone((), ())
            self._note(work, layout)
            if not layout.is_burnt(part):
                cutting.refuse(work, layout, {part.hide})
                panel = (part.hide, part.panel)
                layout = burnt(layout, {panel})
                done = CutDone((f"{part.hide}/{part.panel}",), cutting.cut(work, layout, [panel], self.currency))
            cutting.spoil(work, part)
            after = spoiled(layout, part)
            cutting.note_layout(work, after, check=False)
            self._write(work, after, numbers if figures is None else figures(after))
        return done

    def put_back(self, name: str) -> CutDone:
        """Give up what is still planned on a hide that is cut in part: what is left of it goes back to the shelf as
        pieces of their own."""
        from . import cutting

        with self._store.step("back") as work:
            row = shelf.find(work.session, name, self.path)
            if row.state != "opened":
                why = "nothing is cut from it" if row.state == "shelf" else shelf.gone_words(row)
                raise FileError(self.path, "hide", row.name, why)
            layout, _ = self._at_hand()
            self._note(work, layout)
            new = cutting.put_back(work, layout, row.name, self.currency)
            work.step.words = f"put back what is left of {row.name}"
        return CutDone((), new)

    def _at_hand(self) -> tuple[Layout, dict[str, object]]:
        from ..files.layout import layout_from_dict
        from ..files.source import read_json

        file = self.folder / LAYOUT
        data = read_json(file)
        figures = data.get("figures", {}) if isinstance(data, dict) else {}
        return layout_from_dict(data, file), figures

    def _note(self, work: Work, layout: Layout) -> None:
        """Make sure that the book knows the layout at hand."""
        from . import cutting

        self._same_currency(layout.workshop)
        current = work.session.scalar(select(BookLayout.mark).where(BookLayout.current == 1))
        if current != layout.mark:
            cutting.note_layout(work, layout)

    def _known(self, layout: Layout, panels: Sequence[PanelKey]) -> None:
        from . import cutting

        waiting = cutting.loads_of(layout)
        done = {(one.panel.hide, one.panel.id) for one in layout.burnt}
        for panel in panels:
            if panel in done:
                with self._store.reading() as session:
                    mend = cutting.when_cut(session, layout, panel)
            elif panel not in waiting:
                named = words([f"{hide}/{name}" for hide, name in waiting], 30)
                mend = f"give one that is still to be cut: {named or 'there is none'}"
            else:
                continue
            raise FileError(self.folder / LAYOUT, "load", "/".join(panel), mend)

    def _write(self, work: Work, layout: Layout, figures: dict[str, object]) -> None:
        from ..files.layout import layout_bytes

        work.write(LAYOUT, layout_bytes(self.folder / LAYOUT, layout, figures, hasty=True))

    def _same_currency(self, workshop: Workshop) -> None:
        if workshop.prices.currency != self.currency:
            mend = f"the book counts in {self.currency}: put that back, or begin a new book"
            raise FileError(self.folder / "workshop.toml", "prices > currency", workshop.prices.currency, mend)

    # history

    def steps(self, most: int = 20) -> list[Step]:
        """The last steps, the newest first."""
        with self._store.reading() as session:
            return list(session.scalars(select(Step).where(Step.undone.is_(None)).order_by(Step.id.desc()).limit(most)))

    def undo(self) -> Step | None:
        """Take the last step back, with the plain files it wrote; None where there is none.

        A file that was changed since is kept beside its place, as ``NAME.before``.
        """
        return self._store.undo()

    def loads(self, hide: str | None = None) -> list[BookLoad]:
        """The bed loads that were cut, and what remained beside them (state ``rest``), in order; of one hide or all."""
        with self._store.reading() as session:
            query = select(BookLoad).where(BookLoad.state != "planned").order_by(BookLoad.id)
            if hide is not None:
                query = query.where(BookLoad.hide == shelf.find(session, hide, self.path).id)
            return list(session.scalars(query))

    def parts(self, order: str | None = None) -> list[CutPart]:
        """The parts that were cut, of one order or all."""
        with self._store.reading() as session:
            query = select(CutPart).order_by(CutPart.id)
            if order is not None:
                query = query.join(BookOrder, CutPart.line == BookOrder.id).where(
                    func.lower(BookOrder.name) == order.lower()
                )
            return list(session.scalars(query))

    # the setting book

    def tested(
        self, record: Callable[[], Setting], swatch: str = "", best: str = "", clean: Iterable[str] = ()
    ) -> BookSetting:
        """Have a tested row put into ``workshop.toml``, and keep it with the swatch that taught it.

        ``record`` writes the file and gives the row.
        """
        with self._store.step("swatch") as work:
            before = read(self.folder / WORKSHOP)
            setting = record()
            work.wrote(WORKSHOP, before)
            names = (
                "name operation leather thickness_mm speed_mm_s power_percent passes thinnest_mm thickest_mm".split()
            )
            told = {name: getattr(setting, name) for name in names}
            row = BookSetting(at=work.at, swatch=swatch, best=best, clean=" ".join(clean), **told)
            work.session.add(row)
            work.step.words = f"tested setting {setting.name}"
        return row

    def settings(self) -> list[BookSetting]:
        """The rows of the setting book that were tested, in order."""
        with self._store.reading() as session:
            return list(session.scalars(select(BookSetting).order_by(BookSetting.id)))

    # leaving

    def export(self, to: str | Path) -> Path:
        """Write everything as the plain files of a job folder and lists (CSV), into a new folder."""
        from . import leaving

        return leaving.export(self._store, Path(to))

    def read_in(self, source: str | Path) -> None:
        """Fill this book, still empty, with what was taken out of another; files it names are copied as well."""
        from . import leaving

        source = Path(source)
        with self._store.step("read", f"read {source}") as work:
            leaving.read_in(work, source)
            for file in (*work.session.scalars(select(ShelfHide.file)), LAYOUT):
                content = read(source / self._store.place(file).relative_to(self.folder))
                if content is not None:
                    work.write(file, content)

    # what to buy, what to make

    def to_buy(self, products: Sequence[Product], ahead_weeks: int = 0, over_weeks: int = 26) -> list[ToBuy]:
        """Leather to buy, by kind: for orders that do not fit, and for some weeks to come at the rate of those past."""
        from . import buying

        with self._store.reading() as session:
            return buying.to_buy(
                session, self.currency, products, self._store.stamp(), ahead_weeks=ahead_weeks, over_weeks=over_weeks
            )

    def rates(self, over_weeks: int = 26) -> tuple[dict[str, Fraction], int]:
        """Pieces ordered a week, by product, over the last weeks; and how many those are, of a younger book fewer."""
        from . import buying

        with self._store.reading() as session:
            return buying.rates(session, self._store.stamp(), over_weeks)

    def unkept(self, products: Sequence[Product], older_days: int = 365) -> list[Unkept]:
        """Offcuts that are too old or too small to keep, and why."""
        from . import buying

        with self._store.reading() as session:
            return buying.unkept(session, products, self._store.stamp(), older_days)

    # money

    def spent(self, workshop: Workshop, products: Sequence[Product], by: str = "product") -> list[Spent]:
        """Money spent on what was cut, by ``product`` or ``order``."""
        from . import money

        self._same_currency(workshop)
        with self._store.reading() as session:
            return money.spent(session, self.currency, workshop, products, by)

    def yields(self, by: str = "hide") -> list[Yield]:
        """What became of the leather cut, by ``hide``, ``supplier``, ``kind`` or ``month``."""
        from . import money

        with self._store.reading() as session:
            return money.yields(session, self.currency, by)

    def months(self) -> list[Month]:
        """Money spent on what was cut and what it is worth, month by month."""
        from . import money

        with self._store.reading() as session:
            return money.months(session, self.currency)

    def short_measure(self, name: str) -> ShortMeasure | None:
        """What a hide lacks of the measure it was bought by; None where that is not known."""
        from . import money

        row = self.hide(name)
        return money.short_measure(row, self.shape(row), self.currency)
