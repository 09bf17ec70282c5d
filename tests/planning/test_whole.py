import itertools
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
import shapely
from planning_jobs import MACHINE, SETTING, STOP, TAG, bits_of, job_of, sound
from shapely.geometry import box

from nesting.engine import Cancel, Stop
from nesting.model import Direction, Hide, Job, Margins, OrderLine, Part, Product, Workshop
from nesting.planning.case import Ground, Lie
from nesting.planning.clock import Clock
from nesting.planning.limits import PlanLimits
from nesting.planning.plan import _case, plan
from nesting.planning.prepare import prepare
from nesting.planning.translate import Translator
from nesting.planning.whole import Fitter, make_whole

AS_DRAWN = Direction("fixed", turn=False)
WORKSHOP = Workshop(
    MACHINE, (SETTING,), Margins(kerf_mm=0.0, gap_mm=0.0, edge_mm=0.0, flaw_mm=0.0), thickness_spread_mm=0.1
)


def blocks(*sizes, name="set", **facts):
    """A product of rectangles, so many cells of 60 mm wide and high, less a little play."""
    parts = tuple(
        Part(f"p{n}", box(0, 0, 60 * w - 0.5, 60 * h - 0.5), direction=AS_DRAWN) for n, (w, h) in enumerate(sizes)
    )
    return Product(name, parts, **facts)


def offcuts(*sizes):
    return tuple(
        Hide(f"h{n}", box(0, 0, 60 * w, 60 * h), nominal_mm=1.5, tannage="vegetable") for n, (w, h) in enumerate(sizes)
    )


def job(products, hides, quantities=None, priorities=None):
    lines = tuple(
        OrderLine(f"O{n}", product.name, (quantities or [1] * 99)[n], date(2026, 3, 2), (priorities or [2] * 99)[n])
        for n, product in enumerate(products)
    )
    return Job(WORKSHOP, tuple(products), hides, lines)


def most_whole(products, sizes):
    """The most pieces that can be whole, found by trying everything on the grid."""
    best = 0
    for count in range(len(products), 0, -1):
        for chosen in itertools.combinations(products, count):
            parts = [part.outline.bounds[2:] for product in chosen for part in product.parts]
            cells = sorted(((round(w / 60), round(h / 60)) for w, h in parts), key=lambda s: -s[0] * s[1])
            if fits(cells, [np.zeros(size, bool) for size in sizes]):
                return count
    return best


def fits(parts, grids):
    if not parts:
        return True
    (w, h), *rest = parts
    for grid in grids:
        for x, y in itertools.product(range(grid.shape[0] - w + 1), range(grid.shape[1] - h + 1)):
            here = grid[x : x + w, y : y + h]
            if not here.any():
                here[:] = True
                if fits(rest, grids):
                    return True
                here[:] = False
    return False


def whole(layout):
    return sum(piece.whole for piece in layout.pieces() if not piece.filler)


def assert_no_piece_cut(layout):
    assert all(piece.placed in (0, piece.wanted) for piece in layout.pieces())


@pytest.mark.parametrize("seed", range(8))
def test_small_jobs_have_as_many_whole_pieces_as_trying_everything_finds(seed):
    random = np.random.default_rng(seed)
    sizes = [tuple(int(v) for v in random.integers(1, 5, 2)) for _ in range(3)]
    products = [
        blocks(*(tuple(int(v) for v in random.integers(1, 4, 2)) for _ in range(random.integers(1, 4))), name=f"set{n}")
        for n in range(random.integers(3, 7))
    ]
    layout = sound(job(products, offcuts(*sizes)))
    assert_no_piece_cut(layout)
    assert whole(layout) == most_whole(products, sizes)


def test_a_hide_cut_into_its_own_pieces_and_one_more_leaves_out_one():
    columns, rows = 4, 3
    products = [blocks((1, 1), (1, 1), name=f"s{n}") for n in range(columns * rows // 2 + 1)]
    layout = sound(job(products, offcuts((columns, rows))))
    assert_no_piece_cut(layout)
    assert whole(layout) == len(products) - 1
    assert len({(u.order, u.piece) for u in layout.unplaced}) == 1


def test_the_most_urgent_pieces_are_whole_whatever_their_size():
    large, small = blocks((3, 2), (3, 2), name="large"), blocks((1, 1), name="small")
    hides = offcuts((3, 4))
    first = sound(job([small, large], hides, [12, 1], [2, 1]))
    assert {p.product for p in first.placements} == {"large"}
    second = sound(job([small, large], hides, [12, 1], [1, 2]))
    assert {p.product for p in second.placements} == {"small"} and whole(second) == 12


def test_of_one_rank_the_dearer_piece_is_made_whole_and_without_prices_most_pieces():
    one, two = blocks((2, 2), name="one", price=Decimal(90)), blocks((2, 1), name="two", price=Decimal(20))
    hides = offcuts((2, 2))
    assert {p.product for p in sound(job([two, one], hides, [2, 1])).placements} == {"one"}
    cheap = [replace(product, price=None) for product in (two, one)]
    assert {p.product for p in sound(job(cheap, hides, [2, 1])).placements} == {"two"}


def test_a_piece_may_be_cut_in_part_where_its_product_or_the_run_says_so():
    pair = blocks((2, 2), (2, 2), name="pair")
    hides = offcuts((2, 3))
    assert sound(job([pair], hides)).placements == ()
    assert len(sound(job([pair], hides), partial=True).placements) == 1
    assert len(sound(job([replace(pair, partial=True)], hides)).placements) == 1


def test_bags_of_large_parts_come_whole_before_many_small_orders():
    bag = blocks((5, 3), (5, 3), (5, 2), (2, 2), (3, 1), (3, 1), name="bag")
    fob, tray = blocks((1, 1), name="fob"), blocks((2, 1), name="tray", filler=True)
    hides = offcuts((10, 6), (10, 6))
    layout = sound(job([bag, fob, tray], hides, [3, 30, 20], [1, 3, 9]), Stop(iterations=30))
    assert_no_piece_cut(layout)
    bags = [piece for piece in layout.pieces() if piece.product == "bag"]
    assert sum(piece.whole for piece in bags) == 2
    assert all(piece.placed == 0 for piece in bags if not piece.whole)


@pytest.mark.parametrize("seed", range(30))
def test_whatever_the_job_no_piece_is_cut_and_no_filler_is_in_the_way(seed):
    random = np.random.default_rng(100 + seed)
    hides = tuple(
        Hide(f"h{n}", box(0, 0, *random.uniform(90, 330, 2)), nominal_mm=1.5, tannage="vegetable") for n in range(3)
    )
    products = []
    for n in range(4):
        parts = tuple(
            Part(f"p{k}", box(0, 0, *random.uniform(25, 150, 2)), direction=Direction("along", 4.0))
            for k in range(random.integers(1, 4))
        )
        products.append(Product(f"set{n}", parts, ("no", "piece", "order")[random.integers(3)], filler=n == 3))
    small = job(products, hides, [int(v) for v in random.integers(1, 4, 4)], [int(v) for v in random.integers(1, 3, 4)])
    layout = sound(small, Stop(iterations=4))
    assert_no_piece_cut(layout)
    prepared = prepare(small)
    case = _case(prepared, 1, frozenset())
    number = {h.id: n for n, h in enumerate(hides)}
    index = {(w.order, w.product.name, w.part.name, w.piece, w.copy, w.mirrored): i for i, w in enumerate(case.wishes)}
    lies = {index[p.key]: Lie(number[p.hide], p.x, p.y, p.angle) for p in layout.placements if not p.filler}
    grounds = [Ground(h.id, h.outline) for h in hides]
    for piece in case.unfinished(lies):
        fitter = Fitter(Translator(case), grounds, lies, case.pieces[piece])
        assert not fitter.put(case.pieces[piece], range(3)), piece


def test_no_time_is_enough_to_take_cut_pieces_off():
    cancel = Cancel()
    cancel.cancel()
    pair = blocks((2, 2), (2, 2), name="pair")
    layout = sound(job([pair], offcuts((4, 3), (3, 3)), [3]), Stop(seconds=30, cancel=cancel))
    assert_no_piece_cut(layout)
    assert layout.seconds < 10


def test_what_was_whole_stays_whole():
    hides = bits_of(2, 300.0, 100.0)
    made = job_of(hides=hides, quantity=5)
    translator = Translator(_case(prepare(made), 1, frozenset()))
    grounds = [Ground(h.id, h.outline) for h in hides]
    lies = {0: Lie(0, 5.0, 5.0, 0.0), 1: Lie(0, 150.0, 5.0, 0.0)}
    after = make_whole(translator, grounds, lies, Clock(STOP), None, 1)
    assert lies.keys() < after.keys() and len(after) == 4


def test_parts_are_cut_from_leather_of_their_kind_only():
    black, red = (replace(h, colour=c) for h, c in zip(bits_of(2, 500.0, 300.0), ("black", "red")))
    parts = (replace(TAG, colour="red"), replace(TAG, name="other"))
    layout = sound(job_of(parts=parts, hides=(black, red), quantity=4))
    assert {p.hide for p in layout.placements if p.part == "tag"} == {"h1"}
    assert len(layout.placements) == 8 and {str(p.kind) for p in layout.placements if p.part == "tag"} == {"red"}


def test_iterations_give_the_same_layout_again():
    products = [blocks((2, 1), (1, 2), name=f"s{n}") for n in range(6)]
    one, two = (plan(job(products, offcuts((3, 3), (3, 2))), STOP, 5, workers=1, limits=PlanLimits()) for _ in range(2))
    assert one.placements == two.placements and shapely.union_all([p.outline for p in one.placements]).area > 0


def test_fillers_are_cut_from_no_hide_that_nothing_else_is_cut_from():
    spare = blocks((1, 1), name="spare", filler=True)
    made = plan(job([blocks((1, 1)), spare], offcuts((2, 1), (3, 1)), [1, 4]), STOP, workers=1)
    ordered = {p.hide for p in made.placements if not p.filler}
    assert len(ordered) == 1 and {p.hide for p in made.placements if p.filler} == ordered
    alone = plan(job([spare], offcuts((2, 1), (3, 1)), [4]), STOP, workers=1)
    assert len(alone.placements) == 4


def test_a_part_that_must_match_goes_only_where_its_mate_lies():
    pair = blocks((2, 2), (2, 2), name="pair", same_hide="piece")
    made = prepare(job([pair], offcuts((2, 2), (4, 2))))
    case = _case(made, 1, frozenset())
    grounds = [Ground(h.id, h.outline) for h in made.job.hides]
    fitter = Fitter(Translator(case), grounds, {0: Lie(0, 0.2, 0.2, 0.0)}, [1])
    assert not fitter.put([1], [0, 1])
    fitter = Fitter(Translator(case), grounds, {}, [0, 1])
    assert not fitter.put([0, 1], [0]) and fitter.put([0, 1], [1])


def least_money(products, sizes, prices):
    """The cheapest hides on which all pieces fit, found by trying every set on the grid; None when none does."""
    parts = [part.outline.bounds[2:] for product in products for part in product.parts]
    cells = sorted(((round(w / 60), round(h / 60)) for w, h in parts), key=lambda s: -s[0] * s[1])
    costs = [
        sum(prices[n] for n in chosen)
        for count in range(1, len(sizes) + 1)
        for chosen in itertools.combinations(range(len(sizes)), count)
        if fits(cells, [np.zeros(sizes[n], bool) for n in chosen])
    ]
    return min(costs, default=None)


@pytest.mark.parametrize("seed", range(12))
def test_small_jobs_are_cut_from_the_cheapest_hides_that_trying_everything_finds(seed):
    random = np.random.default_rng(500 + seed)
    sizes = [tuple(int(v) for v in random.integers(2, 6, 2)) for _ in range(3)]
    prices = [int(v) for v in random.permutation([11, 23, 47])]
    hides = tuple(replace(h, price=Decimal(price)) for h, price in zip(offcuts(*sizes), prices))
    products = [
        blocks(*(tuple(int(v) for v in random.integers(1, 3, 2)) for _ in range(2)), name=f"set{n}") for n in range(3)
    ]
    best = least_money(products, sizes, prices)
    made = job(products, hides)
    # without credit for offcuts a hide costs its price as soon as it is cut into
    prices_of = replace(made.workshop.prices, offcut_credit=0.0)
    layout = sound(replace(made, workshop=replace(made.workshop, prices=prices_of)), Stop(iterations=20))
    if best is None:
        assert whole(layout) == most_whole(products, sizes)
    else:
        assert whole(layout) == len(products)
        assert sum(hides[int(name[1:])].price for name in {p.hide for p in layout.placements}) == best


def test_a_dear_hide_is_emptied_into_a_cheap_one_with_room():
    dear, cheap = (replace(h, price=Decimal(price)) for h, price in zip(offcuts((6, 4), (4, 3)), (90, 10)))
    made = prepare(job([blocks((2, 2), name="a"), blocks((1, 2), name="b")], (dear, cheap)))
    translator = Translator(_case(made, 1, frozenset()))
    grounds = [Ground(h.id, h.outline) for h in (dear, cheap)]
    lies = {0: Lie(0, 0.2, 0.2, 0.0), 1: Lie(0, 130.0, 0.2, 0.0)}
    after = make_whole(translator, grounds, lies, Clock(STOP), None, 1)
    assert after.keys() == lies.keys() and {lie.ground for lie in after.values()} == {1}


@pytest.mark.parametrize("seconds", [0.0, 0.5])
def test_what_fits_is_placed_even_when_the_time_is_over(seconds):
    products = [blocks((1, 1), (2, 1), name=f"s{n}") for n in range(6)]
    layout = sound(job(products, offcuts((3, 2), (3, 2), (3, 2))), Stop(seconds=seconds))
    assert whole(layout) == 6


def test_fillers_find_their_places_even_when_the_time_is_over():
    spare = blocks((1, 1), name="spare", filler=True)
    layout = sound(job([blocks((2, 1), (1, 1)), spare], offcuts((4, 3)), [1, 6]), Stop(seconds=0.0))
    assert len([p for p in layout.placements if p.filler]) == 6


def test_an_urgent_piece_gets_the_room_of_a_later_one_and_what_is_not_in_its_way_lies_still():
    made = prepare(job([blocks((3, 1), name="now"), blocks((1, 1), name="later")], offcuts((5, 1)), [1, 2], [1, 2]))
    case = _case(made, 1, frozenset())
    _, *later = sorted(range(3), key=lambda index: case.wishes[index].rank)
    grounds = [Ground("h0", made.hides[0].hide.outline)]
    lies = {later[0]: Lie(0, 60.2, 0.2, 0.0), later[1]: Lie(0, 240.2, 0.2, 0.0)}
    after = make_whole(Translator(case), grounds, lies, Clock(STOP), None, 1)
    assert set(after) == {0, 1, 2} and sum(after[index] == lies[index] for index in later) == 1


def test_parts_of_one_form_are_exchanged_between_pieces_cut_in_part():
    # a part of each of two pieces, so tight that none would be found a place again
    pair = Product("pair", (Part("half", box(0, 0, 120, 60), direction=AS_DRAWN, count=2),))
    translator = Translator(_case(prepare(job((pair,), offcuts((4, 1)), [3])), 1, frozenset()))
    lies = {0: Lie(0, 0.0, 0.0, 0.0), 2: Lie(0, 120.0, 0.0, 0.0)}
    after = make_whole(translator, [Ground("h0", box(0, 0, 240, 60))], lies, Clock(STOP), None, 1)
    assert sorted(after) == [0, 1]
