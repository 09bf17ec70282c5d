import itertools
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from shapely.geometry import box

from nesting.costs import choices as module
from nesting.costs.choices import compare
from nesting.costs.limits import DEFAULT, CostLimits
from nesting.costs.sets import Sets
from nesting.engine import Stop
from nesting.model import Direction, Hide, Job, Machine, Margins, OrderLine, Part, Prices, Product, Setting, Workshop
from nesting.planning.plan import plan
from nesting.planning.prepare import prepare

SETTINGS = (Setting("thin", 1.2, 12, 60, 1, 1.0, 1.4), Setting("thick", 2.0, 10, 60, 2, 1.8, 2.2))
SQUARE = Part("square", box(0, 0, 50, 50), direction=Direction("fixed"))
THICK = replace(SQUARE, name="thick square", thickness_mm=(1.7, 2.3))
DUE, LATER = date(2026, 3, 2), date(2026, 3, 9)
STOP = Stop(iterations=4)


def hide(name, squares, price, mm=1.2, high=70):
    """A strip that holds so many squares side by side."""
    return Hide(name, box(0, 0, 10 + 55 * squares, high), nominal_mm=mm, tannage="vegetable", price=Decimal(price))


def job_of(hides, *lines, price=None):
    """So many of squares, or of what else is named, for strips of leather."""
    products = (
        Product("square", (SQUARE,), price=price),
        Product("thick square", (THICK,), price=price),
        Product("pair", (SQUARE, replace(SQUARE, name="other")), same_hide="piece"),
        Product("spare", (replace(SQUARE, name="spare"),), filler=True),
    )
    orders = tuple(OrderLine(f"A-{n}", name, count, due) for n, (name, count, due) in enumerate(lines, 1))
    machine = Machine("laser", 400, 400, 40)
    return Job(Workshop(machine, SETTINGS, Margins(), Prices("EUR"), thickness_spread_mm=0.05), products, hides, orders)


FOUR = (hide("a", 1, "9.00"), hide("b", 2, "14.00"), hide("c", 3, "40.00"), hide("d", 2, "8.00", mm=2.0))


def best_of_all_sets(job):
    """What every set of hides alone comes to, the best of them."""
    prepared = prepare(job)
    sets = [some for n in range(1, 5) for some in itertools.combinations(prepared.open, n)]
    plans = [plan(job, Stop(iterations=4 * len(some)), workers=1, prepared=prepared.only(some)) for some in sets]
    return min((module._choice("", layout, CostLimits()) for layout in plans), key=lambda choice: choice.place)


@pytest.mark.parametrize(
    "lines",
    [
        [("square", 3, DUE)],
        [("square", 4, DUE), ("thick square", 1, LATER)],
        [("thick square", 2, DUE), ("square", 1, LATER)],
        [("pair", 2, DUE), ("square", 1, LATER)],
    ],
)
def test_no_set_of_four_hides_is_better_than_the_one_advised(lines):
    job = job_of(FOUR, *lines)
    advised, best = compare(job, Stop(iterations=16), workers=1)[0], best_of_all_sets(job)
    assert (advised.place, set(advised.hides)) == (best.place, set(best.hides))


def test_two_cheap_hides_are_found_that_neither_one_hide_nor_all_would_show():
    advised = compare(job_of(FOUR, ("square", 3, DUE)), STOP, workers=1)[0]
    # c alone holds all three as well, and is dearer; d is cheapest of all with a
    assert advised.whole == 3 and advised.hides in {("a", "d"), ("b", "d"), ("a", "b")}


def noted(job, monkeypatch, limits=DEFAULT, seconds=80.0):
    """The sets of hides that a comparison plans, in turn, and the seconds each is given."""
    asked, now = [], [0.0]

    def short(job, stop, seed, *, prepared, **more):
        asked.append((tuple(item.hide.id for item in prepared.hides), stop.seconds))
        now[0] += stop.seconds if seconds > 1 else 1.0
        return plan(job, Stop(iterations=6), seed, prepared=prepared, **more)

    monkeypatch.setattr(module, "plan", short)
    monkeypatch.setattr(module, "monotonic", lambda: now[0])
    compare(job, Stop(seconds=seconds), workers=1, limits=limits)
    return asked


def test_all_sets_together_take_no_longer_than_the_hides_alone(monkeypatch):
    asked = noted(job_of(FOUR, ("square", 12, DUE)), monkeypatch)
    assert asked[:4] == [(name, 10.0) for name in [("a",), ("b",), ("c",), ("d",)]]
    assert asked[4] == (("a", "b", "c", "d"), 20.0)
    assert sum(seconds for _, seconds in asked[4:]) <= 40.0 + 1e-9
    longer = noted(job_of(FOUR, ("square", 12, DUE)), monkeypatch, CostLimits(all_hides_share=0.75))
    assert longer[4] == (("a", "b", "c", "d"), 30.0)


def test_no_set_has_its_turn_when_the_time_is_over(monkeypatch):
    asked = noted(job_of(FOUR, ("square", 12, DUE)), monkeypatch, seconds=1e-3)
    assert [names for names, _ in asked] == [("a",), ("b",), ("c",), ("d",), ("a", "b", "c", "d")]


def test_sets_that_had_no_turn_are_counted():
    job = job_of(FOUR, ("square", 12, DUE))
    assert compare(job, Stop(seconds=1e-3), workers=1).untried > 0
    assert compare(job_of(FOUR[:1], ("square", 1, DUE)), Stop(iterations=1), workers=1).untried == 0


def test_no_set_is_planned_that_is_dearer_than_one_that_makes_everything(monkeypatch):
    job = job_of(FOUR, ("square", 3, DUE))
    sets = Sets(prepare(job))
    asked = [names for names, _ in noted(job, monkeypatch)[5:]]
    # every other set has dearer leather at best than the first that makes all three
    assert asked and len(asked) < 11 and ("b", "c") not in asked and ("a", "c") not in asked
    assert [sets.bound(names).leather for names in asked] == sorted(sets.bound(names).leather for names in asked)


def test_what_came_nearest_is_searched_again_with_the_time_kept_for_it(monkeypatch):
    job = job_of(FOUR, ("square", 12, DUE))
    for share in (0.5, 0.25):
        asked = noted(job, monkeypatch, CostLimits(again_share=share))
        *quick, (names, seconds) = asked[5:]
        assert names in [*(some for some, _ in quick), asked[4][0]] and seconds >= share * 20 - 1e-9


def test_bounds_are_never_bettered_by_a_plan():
    job = job_of(FOUR, ("square", 4, DUE), ("thick square", 1, LATER), ("pair", 1, LATER))
    prepared = prepare(job)
    sets = Sets(prepared)
    for names in [("a",), ("a", "b"), ("b", "d"), ("a", "b", "c", "d")]:
        some = prepared.only(item for item in prepared.open if item.hide.id in names)
        choice = module._choice("", plan(job, Stop(iterations=6), workers=1, prepared=some), CostLimits())
        bound = sets.bound(choice.hides)
        assert choice.merit <= bound.merit
        assert choice.merit < bound.merit or choice.spent.leather >= bound.leather


def test_a_bound_asks_for_leather_thick_enough_and_for_one_hide_of_what_must_match():
    sets = Sets(prepare(job_of(FOUR, ("thick square", 2, DUE), ("pair", 1, LATER))))
    assert sets.bound(["a", "b", "c"]).merit == (0, 1)
    assert sets.bound(["d"]).merit == (2, 0) or sets.bound(["d"]).merit[0] == 2
    # two of the smallest hides hold both squares of a pair, but neither alone
    small = (hide("e", 1, 5), hide("f", 1, 5))
    assert Sets(prepare(job_of(small, ("pair", 1, DUE)))).bound(["e", "f"]).merit == (0,)


def test_dearer_pieces_bound_the_merit_by_their_prices():
    sets = Sets(prepare(job_of(FOUR, ("square", 8, DUE), price=Decimal("12.50"))))
    assert sets.bound(["a", "b", "c", "d"]).merit[0] <= 8 * Decimal("12.50") and sets.bound(["a"]).merit[0] < 50


def test_candidates_are_all_sets_of_few_hides_the_cheapest_leather_first():
    sets = Sets(prepare(job_of(FOUR, ("square", 1, DUE))))
    found = sets.candidates()
    assert len(found) == len(set(found)) == 11
    leather = [sets.bound(names).leather for names in found]
    assert leather == sorted(leather)
    greedy = Sets(prepare(job_of(FOUR, ("square", 1, DUE))), CostLimits(most_hides_in_all_sets=3)).candidates()
    assert len(greedy) < 11 and set(greedy) < set(found)


def test_of_many_hides_a_greedy_choice_passes_few_sets_and_finds_the_cheap_pair():
    dear = tuple(hide(f"x{n}", 3, 100 + n) for n in range(6))
    job = job_of((*dear, hide("a", 2, "9.00"), hide("b", 2, "14.00")), ("square", 4, DUE))
    found = Sets(prepare(job)).candidates()
    assert ("a", "b") in found and len(found) < 2 * 8


def test_a_hide_that_nothing_ordered_can_come_from_is_in_no_set():
    found = Sets(prepare(job_of(FOUR, ("thick square", 2, DUE), ("spare", 3, LATER)))).candidates()
    assert found == []


def test_of_few_hides_each_is_looked_at_alone_and_of_many_those_that_promise_most():
    few = [hide(f"h{n}", 1 + n, 10) for n in range(4)]
    many = [hide(f"h{n}", 1 + n % 8, 10) for n in range(8)]
    line = ("square", 20, DUE)
    assert Sets(prepare(job_of(few, line))).alone() == ["h0", "h1", "h2", "h3"]
    assert Sets(prepare(job_of(many, line))).alone() == ["h5", "h6", "h7"]
