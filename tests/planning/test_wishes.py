from dataclasses import replace
from datetime import date

from planning_jobs import MACHINE, TAG, job_of
from shapely.geometry import box

from nesting.model import ANY_KIND, OrderLine, Part, Product
from nesting.planning.limits import PlanLimits
from nesting.planning.wishes import fits_bed, wanted


def test_every_copy_of_every_part_of_every_piece_is_wanted():
    parts = (replace(TAG, count=2), replace(TAG, name="twin", mirrored_twin=True))
    wishes = wanted(job_of(box(0, 0, 500, 300), 3, parts))
    keys = [(w.part.name, w.piece, w.copy, w.mirrored) for w in wishes]
    assert len(keys) == len(set(keys)) == 3 * (2 + 2)
    assert [w.mirrored for w in wishes if w.part.name == "twin"] == [False, True] * 3
    twin = next(w for w in wishes if w.mirrored)
    assert twin.drawn == twin.part.mirrored and twin.shape == ("set", "twin", True, ANY_KIND, None)


def test_orders_are_ranked_by_priority_and_due_date_and_fillers_come_last():
    products = tuple(Product(name, (TAG,), filler=name == "stall") for name in ("set", "stall"))
    lines = (
        OrderLine("stall", "stall", 1, date(2026, 1, 1), 1),
        OrderLine("late", "set", 1, date(2026, 3, 9), 2),
        OrderLine("same", "set", 1, date(2026, 3, 2), 2),
        OrderLine("soon", "set", 1, date(2026, 3, 2), 2),
        OrderLine("first", "set", 1, date(2026, 12, 1), 1),
    )
    wishes = wanted(replace(job_of(box(0, 0, 500, 300)), products=products, orders=lines))
    assert [(w.order, w.rank) for w in wishes] == [("first", 0), ("same", 1), ("soon", 1), ("late", 2), ("stall", 3)]


def test_parts_match_by_piece_or_by_order():
    matches = {
        how: [w.match for w in wanted(job_of(box(0, 0, 500, 300), 2, same_hide=how))]
        for how in ("no", "piece", "order")
    }
    assert matches == {"no": ["", ""], "piece": ["A-1/set/1", "A-1/set/2"], "order": ["A-1/set", "A-1/set"]}


def test_what_must_be_of_one_lot_is_held_to_one_hide_where_no_two_hides_share_one():
    job = job_of(box(0, 0, 500, 300), 2, (TAG,))
    job = replace(job, products=tuple(replace(product, same_lot=True) for product in job.products))
    assert {(wish.match, wish.lot) for wish in wanted(job)} == {("A-1/set", "")}
    both = tuple(replace(job.hides[0], id=name, lot="7") for name in "ab")
    assert {(wish.match, wish.lot) for wish in wanted(replace(job, hides=both))} == {("", "A-1/set")}


def test_the_margin_of_a_knife_line_counts_when_a_part_is_held_against_the_bed():
    workshop = job_of(box(0, 0, 1400, 1000)).workshop
    assert fits_bed(Part("snug", box(0, 0, 596, 396)), workshop)
    assert not fits_bed(Part("tight", box(0, 0, 598, 398)), workshop)
    assert fits_bed(Part("tight", box(0, 0, 598, 398)), workshop, PlanLimits(rounding_mm=2.0))


def test_where_leather_is_fed_through_a_part_still_has_to_fit_the_bed():
    workshop = job_of(box(0, 0, 1400, 390), machine=replace(MACHINE, feed_through="width")).workshop
    assert fits_bed(Part("strap", box(0, 0, 550, 40)), workshop)
    assert not fits_bed(Part("strap", box(0, 0, 900, 40)), workshop)
