"""A belt of 1000 mm burnt in two loads on a bed of 600 mm x 400 mm."""

from dataclasses import replace
from decimal import Decimal
from functools import cache

import numpy as np
import pytest
import shapely
from planning_jobs import job_of, sound
from shapely.geometry import LineString, Point, box

from nesting.costs.money import costs
from nesting.laser.export import export
from nesting.laser.load import bed_loads
from nesting.laser.time import load_seconds
from nesting.model import Hide, Part
from nesting.referee.burning import prove_files

HOLES = tuple(Point(40 + 60 * n, 20).buffer(3, 16) for n in range(16))
BELT = Part("belt", box(0, 0, 1000, 40).buffer(-8).buffer(8), HOLES, (LineString([(300, 6), (700, 6)]),))
SIDE = Hide("side", box(0, 0, 1300, 300), nominal_mm=1.5, tannage="vegetable")


@cache
def planned(longer):
    job = job_of(parts=(BELT,), hides=(SIDE,), quantity=1)
    return sound(replace(job, products=(replace(job.products[0], longer=longer),)))


@pytest.fixture(scope="module", params=["bottom left", "top right", "bottom right"])
def loads(request):
    layout = planned("two loads")
    machine = replace(layout.workshop.machine, bed_stop=request.param)
    layout = replace(layout, workshop=replace(layout.workshop, machine=machine))
    return layout, bed_loads(layout, "side")


def test_every_line_lies_on_the_bed_and_both_loads_together_burn_the_whole_belt(loads):
    layout, made = loads
    assert [(load.stage.number, load.stage.of) for load in made] == [(1, 2), (2, 2)]
    for load in made:
        on_bed = [load.pose.put(burn.line) for burn in load.lines]
        x0, y0, x1, y1 = shapely.total_bounds(on_bed)
        assert min(x0, y0) >= 0 and x1 <= 600 and y1 <= 400
    burnt = shapely.union_all([burn.line for load in made for burn in load.lines if burn.operation == "outline"])
    # moved outwards by half the kerf of 0.2 mm, and nothing of it left out
    edge = layout.placements[0].outline.buffer(0.1).exterior
    assert burnt.buffer(0.05).covers(edge) and edge.buffer(0.05).covers(burnt)
    twice = sum(burn.line.length for load in made for burn in load.lines if burn.operation == "outline") - edge.length
    # two sides of the belt, 1 mm each
    assert twice == pytest.approx(2.0, abs=0.1)


def test_every_hole_is_burnt_whole_and_once(loads):
    _, made = loads
    holes = [burn for load in made for burn in load.lines if burn.operation == "cutout"]
    assert len(holes) == len(HOLES) and all(burn.curve.closed for burn in holes)


def test_the_leather_is_marked_before_the_first_load_and_moved_on_to_the_mark(loads):
    layout, (first, second) = loads
    mark = first.stage.marks["S2"]
    laid = Point(second.pose.put(Point(mark)))
    machine = layout.workshop.machine
    end = 0.0 if "left" in machine.bed_stop else machine.bed_width_mm
    assert laid.x == pytest.approx(end, abs=1e-6)
    assert np.hypot(*np.subtract(first.pose.put(Point(mark)).coords[0], laid.coords[0])) == pytest.approx(
        second.stage.step_mm
    )


def test_both_loads_are_loaded_and_cost_their_time(loads):
    layout, made = loads
    minutes = layout.workshop.machine.load_minutes
    assert [load_seconds(load, layout.workshop.machine)["loading"] for load in made] == [60 * minutes] * 2


def test_a_belt_cut_by_knife_has_no_file_and_costs_no_machine_time(tmp_path):
    layout = planned("knife")
    done = export(layout, tmp_path)
    assert done.files == () and done.refusals == () and bed_loads(layout, "side") == ()
    prices = replace(layout.workshop.prices, machine_per_hour=Decimal(60))
    found = {"knife": layout, "two loads": planned("two loads")}
    paid = {
        longer: costs(replace(one, workshop=replace(one.workshop, prices=prices))).total.machine
        for longer, one in found.items()
    }
    assert paid["knife"] == 0 and paid["two loads"] > 2 * layout.workshop.machine.load_minutes


def test_files_of_both_loads_are_written_with_their_guides(tmp_path):
    done = export(planned("two loads"), tmp_path)
    stems = ["side-panel-L1-stage-1-of-2", "side-panel-L1-stage-2-of-2"]
    assert [path.stem for path in done.files] == stems and len(done.guides) == 2


def test_the_files_written_are_proved_and_a_load_that_is_missing_or_twice_there_is_found(tmp_path):
    layout = planned("two loads")
    first, second = export(layout, tmp_path).files
    assert prove_files(layout, tmp_path) == []
    kept = second.read_bytes()
    second.unlink()
    assert prove_files(layout, tmp_path)
    second.write_bytes(first.read_bytes())
    assert prove_files(layout, tmp_path)
    second.write_bytes(kept)
    assert prove_files(layout, tmp_path) == [] and prove_files(planned("knife"), tmp_path)
