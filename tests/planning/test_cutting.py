from dataclasses import replace

import pytest
import shapely
from planning_jobs import TAG, job_of, sound, translator_of, wavy
from shapely.geometry import box

from nesting.costs.figures import figures
from nesting.costs.offcuts import largest_rectangle
from nesting.engine import Stop
from nesting.geometry import wide_enough
from nesting.leather.knife import Way, cut_up, reach, ways
from nesting.model import Margins, Part, Zone
from nesting.planning.case import Fill, Ground, Lie, Spot, by_ground
from nesting.planning.cutting import cut_one_way
from nesting.planning.limits import DEFAULT, PlanLimits
from nesting.planning.measures import consumed_mm2, outline, used_up_mm2


def cut(job, effort, patient, way=0, own=None, limits=DEFAULT, told=None):
    translator = translator_of(job, limits)
    every = range(len(translator.case.wishes))
    own = frozenset(every if own is None else own)
    ranks = {index: int(index not in own) for index in every}
    way = ways(job.hides[0], translator.case.bed_mm)[way]
    return cut_one_way(translator, "h", way, ranks, own, effort, patient, 1, told)


def test_a_try_in_a_hurry_makes_do_with_first_layouts_when_there_is_no_time():
    job = job_of(wavy(900, 700, 4), 25)
    short, long = cut(job, Stop(seconds=0.0), False), cut(job, Stop(), False)
    assert short.lies and short.iterations < long.iterations
    assert long.iterations >= DEFAULT.start_iterations * len(long.grounds)


def test_patience_takes_the_effort_there_is():
    job = job_of(box(0, 0, 760, 500), 60)
    hurried, patient = cut(job, Stop(iterations=80), False), cut(job, Stop(iterations=80), True)
    assert hurried.iterations < 40 <= patient.iterations and patient.score < hurried.score


def test_patience_ends_where_nothing_can_lie_however_many_iterations_are_left():
    job = job_of(box(0, 0, 1800, 390), 3)
    narrow = replace(job, workshop=replace(job.workshop, margins=Margins(edge_mm=200)))
    tried = cut(narrow, Stop(iterations=1000), True)
    assert tried.lies == {} and tried.grounds == () and tried.iterations == 0


def test_a_hide_is_cut_for_its_own_parts_only_and_guests_fill_gaps():
    job = job_of(box(0, 0, 1800, 390), 40)
    few, none = cut(job, Stop(), False, own=range(5)), cut(job, Stop(), False, own=())
    assert set(range(5)) <= set(few.lies) and len(few.grounds) == 1 and len(few.lies) > 5
    assert none.lies == {} and none.grounds == () and none.cuts == ()


def test_a_panel_more_costs_what_it_is_said_to_cost():
    job = job_of(box(0, 0, 1190, 395), 40)
    dear, cheap = (cut(job, Stop(), False, limits=PlanLimits(panel_cost=cost)) for cost in (1.0, 0.0))
    assert dear.lies == cheap.lies and len(dear.grounds) == 2
    assert dear.score[-1] - cheap.score[-1] == pytest.approx(2 * 600 * 400)


def test_the_knife_goes_down_behind_the_last_part_of_a_panel():
    job = job_of(box(0, 0, 1600, 395), 4)
    found = cut(job, Stop(), False)
    (ground,) = found.grounds
    translator = translator_of(job)
    away = ground.towards_deg + 180.0
    front = max(reach(outline(translator.case, index, lie), away)[1] for index, lie in found.lies.items())
    end = reach(ground.polygon, away)[1]
    assert end - front == pytest.approx(max(3.0, translator.case.half_mm), abs=0.01) or end < 600


def test_how_far_it_has_come_is_told():
    told = []
    found = cut(job_of(box(0, 0, 1190, 395), 40), Stop(), False, told=told.append)
    assert told == sorted(told) and 0 < told[-1] <= found.iterations


def test_leather_is_used_up_as_the_report_counts_it():
    job = job_of(wavy(1000, 800, 5), 10)
    layout = sound(job)
    lies = {n: Lie(0, p.x, p.y, p.angle) for n, p in enumerate(layout.placements)}
    case = translator_of(job).case
    pieces, smallest = cut_up(job.hides[0], layout.cuts), layout.workshop.smallest_offcut_mm
    used = sum(used_up_mm2(case, piece, lies) for piece in pieces)
    # the report keeps no bit that only a disc can reach, with no rectangle in it as wide
    parts = shapely.union_all([p.outline.buffer(layout.workshop.margins.kerf_mm) for p in layout.placements])
    wide = [bit for piece in pieces for bit in wide_enough(piece.difference(parts), smallest)]
    used += sum(bit.area for bit in wide if largest_rectangle(bit, least_mm=smallest)[2] < smallest)
    assert used == pytest.approx(figures(layout)["hides"][0]["consumed_mm2"], abs=1.0)


def test_leather_is_consumed_from_the_packed_end_to_the_farthest_part():
    case = translator_of(job_of(box(0, 0, 500, 300), 2)).case
    ground = Ground("h", box(0, 0, 500, 300))
    assert TAG.outline.bounds[2:] == (130, 85)
    assert consumed_mm2(case, ground, {0: Lie(0, 10, 10, 0)}) == pytest.approx(140 * 300)
    assert consumed_mm2(case, ground._replace(towards_deg=0.0), {0: Lie(0, 10, 10, 0)}) == pytest.approx(490 * 300)
    assert consumed_mm2(case, ground, {}) == 0.0


def test_a_fill_that_lies_is_taken_as_it_is():
    job = job_of(box(0, 0, 1800, 1200), 40, (Part("plate", box(0, 0, 130, 86)),))
    translator = translator_of(job)
    form, own = translator.case.wishes[0].shape, frozenset(range(40))
    spots = [Spot(form, 10 + 133.0 * column, 10 + 93.0 * row, 0.0) for column in range(3) for row in range(4)]
    fill = Fill(tuple(spots), 416.0)
    way = next(way for way in ways(job.hides[0], translator.case.bed_mm) if way.long_mm > way.wide_mm)
    way = way._replace(inner=True)
    found = cut_one_way(translator, "h", way, dict.fromkeys(own, 0), own, Stop(), False, 1, None, [fill])
    assert set(found.lies) == own
    counts = [len(lies) for lies in by_ground(found.lies).values()]
    assert counts[:3] == [12, 12, 12] and sum(counts) == 40


def test_a_fill_goes_where_the_leather_allows_all_of_it_and_what_is_left_goes_elsewhere():
    # a flaw that the second panel of the row would lie on: it begins beyond it, and the gap is an offcut
    plate = Part("plate", box(0, 0, 130, 86), grade="A")
    job = job_of(box(0, 0, 1800, 399), 36, (plate,), zones=(Zone(box(430, 100, 470, 300), "C"),))
    translator = translator_of(job)
    form, own = translator.case.wishes[0].shape, frozenset(range(36))
    spots = [Spot(form, 10 + 133.0 * column, 10 + 93.0 * row, 0.0) for column in range(3) for row in range(4)]
    way = Way(0.0, 90.0, 599.0, 399.0, inner=True)
    fill = Fill(tuple(spots), 416.0)
    found = cut_one_way(translator, "h", way, dict.fromkeys(own, 0), own, Stop(), False, 1, None, [fill])
    assert set(found.lies) == own and len(found.grounds) == 3
    (first, *later) = sorted(ground.polygon.bounds[::2] for ground in found.grounds)
    assert first == pytest.approx((0.0, 416.0))
    assert later[0][0] >= 460 and all(high - low == pytest.approx(416.0) for low, high in later)
