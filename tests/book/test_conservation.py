"""A random year of a shop: at every step all leather and all money is somewhere."""

import random
import tempfile
from pathlib import Path

import hypothesis.strategies as st
import shapely
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from shop import leather, plan, shop

from nesting.book.book import Book
from nesting.files.hides import read_hide, write_hide
from nesting.model import OrderLine


class Year(RuleBasedStateMachine):
    """Leather bought, ordered from, planned by luck, cut, spoiled, put back, retired and all that taken back."""

    @initialize(seed=st.integers(0, 10**6))
    def begin(self, seed):
        self.chance = random.Random(seed)
        self.away = tempfile.TemporaryDirectory()
        folder = shop(Path(self.away.name) / "shop", [leather("h0", 420, 180, "17.77")])
        self.book = Book.begin(folder)
        self.book.take_hides()
        self.count = 1

    def teardown(self):
        if hasattr(self, "away"):
            self.away.cleanup()

    @rule(width=st.integers(150, 700), cents=st.none() | st.integers(0, 9999))
    def buy(self, width, cents):
        price = None if cents is None else f"{cents // 100}.{cents % 100:02}"
        hide = leather(f"h{self.count}", width, 180, price)
        self.count += 1
        write_hide(self.book.folder / "hides" / f"{hide.id}.json", hide)
        assert hide.id in self.book.take_hides().added

    @rule(quantity=st.integers(1, 4))
    def order(self, quantity):
        self.book.take_orders([OrderLine(f"o{self.count}", "key fob", quantity, None)])
        self.count += 1

    @precondition(lambda self: self.book.orders() and self.book.hides())
    @rule()
    def plan(self):
        plan(self.book, self.chance)

    @precondition(lambda self: self._waiting())
    @rule(data=st.data())
    def cut(self, data):
        waiting = self._waiting()
        self.book.cut(data.draw(st.lists(st.sampled_from(waiting), min_size=1, max_size=3, unique=True)))

    @precondition(lambda self: self.book.layout() and self._burnt())
    @rule(data=st.data())
    def spoil(self, data):
        part = data.draw(st.sampled_from(self._burnt()))
        self.book.spoil(part)

    @precondition(lambda self: self.book.hides(("opened",)) and self.book.layout())
    @rule()
    def put_back(self):
        self.book.put_back(self.book.hides(("opened",))[0].name)

    @precondition(lambda self: self.book.hides(("shelf",)))
    @rule(data=st.data())
    def retire(self, data):
        self.book.retire(data.draw(st.sampled_from(self.book.hides(("shelf",)))).name, "sold")

    @precondition(lambda self: len(self.book.steps()) > 1)
    @rule(times=st.integers(1, 3))
    def undo(self, times):
        for _ in range(min(times, len(self.book.steps()) - 1)):
            self.book.undo()

    def _waiting(self):
        layout = self.book.layout()
        if layout is None or self.book.why_not(layout):
            return []
        known = {row.name for row in self.book.hides(("shelf", "opened", "cut"))}
        return self.book.waiting() if {part.hide for part in layout.placements} <= known else []

    def _burnt(self):
        layout = self.book.layout()
        cut = {(part.part, round(part.x, 2), round(part.y, 2)) for part in self.book.parts() if part.state == "cut"}
        return [
            part
            for part in layout.placements
            if layout.is_burnt(part) and (part.part, round(part.x, 2), round(part.y, 2)) in cut
        ]

    @invariant()
    def all_leather_is_somewhere(self):
        if not hasattr(self, "book"):
            return
        book = self.book
        rows = book.hides(("shelf", "opened", "cut", "retired"))
        for row in rows:
            loads = book.loads(row.name)
            for load in loads:
                apart = load.parts_mm2 + load.kerf_mm2 + load.scrap_mm2 + load.offcuts_mm2
                assert abs(load.panel_mm2 - apart) < 1 and min(load.scrap_mm2, load.kerf_mm2) >= 0
                offcuts = [read_hide(book.folder / one.file) for one in rows if one.load == load.id]
                # by the files that people open, not by the book
                assert abs(sum(one.outline.area for one in offcuts) - load.offcuts_mm2) < 1
            whole = read_hide(book.folder / row.file).outline
            bits = [read_hide(book.folder / one.file).outline for one in rows if one.parent == row.id]
            assert abs(shapely.union_all(bits).area - sum(bit.area for bit in bits)) < 1
            assert shapely.union_all(bits).difference(whole).area < 1
            if row.state == "cut":
                assert abs(sum(load.panel_mm2 for load in loads) - whole.area) < 1
            assert row.state not in ("shelf", "retired") or not loads

    @invariant()
    def all_money_is_somewhere(self):
        if not hasattr(self, "book"):
            return
        book = self.book
        hides = {load.id: load.hide for load in book.loads()}
        rows = book.hides(("shelf", "opened", "cut", "retired"))
        for row in rows:
            parts = [part.leather for part in book.parts() if hides[part.load] == row.id]
            offcuts = [one.price for one in rows if one.parent == row.id]
            if row.price is None:
                assert not any(parts) and not any(offcuts)
            elif row.state == "cut":
                assert sum(parts) + sum(offcuts) == row.price or (not parts and sum(offcuts) <= row.price)
            else:
                assert sum(parts) + sum(offcuts) <= row.price

    @invariant()
    def what_is_ordered_and_made_agrees_with_what_was_cut(self):
        if not hasattr(self, "book"):
            return
        good = {}
        for part in self.book.parts():
            if part.state == "cut":
                good.setdefault((part.line, part.piece), []).append((part.part, part.copy))
        assert all(len(parts) == len(set(parts)) for parts in good.values())
        for row in self.book.orders(None):
            whole = sum(len(parts) == 2 for (line, _), parts in good.items() if line == row.id)
            assert row.made == whole <= row.quantity


# a year is slow to make smaller: each of its steps writes to the disk
Year.TestCase.settings = settings(
    max_examples=6,
    stateful_step_count=14,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
)
TestYear = Year.TestCase
