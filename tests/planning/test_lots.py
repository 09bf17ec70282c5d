"""Two plates go on each of these hides and no third, so that lots with room enough are known by hand."""

from dataclasses import replace
from datetime import date

import pytest
from planning_jobs import MACHINE, SETTING, sound
from shapely.geometry import box

from nesting.engine import Stop
from nesting.model import Direction, Hide, Job, Margins, OrderLine, Part, Product, Workshop

PLATE = Part("plate", box(0, 0, 100, 50), direction=Direction("fixed", turn=False))
HIDE = Hide("a", box(0, 0, 210, 60), nominal_mm=1.5, tannage="vegetable")
SET = Product("set", (PLATE,), same_lot=True)
STOP = Stop(iterations=10)


def job_of(lots, quantity, product=SET):
    workshop = Workshop(MACHINE, (SETTING,), Margins(0.2, 0.8, 3.0, 1.0), thickness_spread_mm=0.1)
    hides = tuple(replace(HIDE, id=f"h{n}", lot=lot) for n, lot in enumerate(lots))
    return Job(workshop, (product,), hides, (OrderLine("A", product.name, quantity, date(2026, 3, 2)),))


def test_an_order_of_one_lot_uses_several_hides_of_it():
    layout = sound(job_of(("x", "7", "Y", " 7"), 4), STOP)
    assert len(layout.placements) == 4 and {p.hide for p in layout.placements} == {"h1", "h3"}


def test_what_exceeds_the_largest_lot_is_left_out_though_other_hides_are_free():
    layout = sound(job_of(("7", "7", "8"), 5), STOP)
    assert len(layout.placements) == 4 and "h2" not in {p.hide for p in layout.placements}


def test_the_smallest_lot_with_room_enough_is_taken():
    layout = sound(job_of(("7", "7", "7", "8", "8"), 1), STOP)
    assert {p.hide for p in layout.placements} <= {"h3", "h4"}


def test_a_lot_is_taken_on_which_every_part_can_lie():
    job = job_of(("7", "7", "7", "8", "8"), 1, replace(SET, colour="black"))
    hides = tuple(replace(hide, colour="black" if n < 3 else "") for n, hide in enumerate(job.hides))
    layout = sound(replace(job, hides=hides), STOP)
    assert {p.hide for p in layout.placements} <= {"h0", "h1", "h2"} and len(layout.placements) == 1


@pytest.mark.parametrize("how", ["no", "piece"])
def test_pieces_of_one_hide_and_orders_of_one_lot_go_together(how):
    pair = Product("pair", (replace(PLATE, count=2),), how, same_lot=True)
    layout = sound(job_of(("7", "8", "7"), 2, pair), STOP)
    hides = [{p.hide for p in layout.placements if p.piece == piece} for piece in (1, 2)]
    assert len(layout.placements) == 4 and set.union(*hides) == {"h0", "h2"}
    assert how == "no" or all(len(used) == 1 for used in hides)
