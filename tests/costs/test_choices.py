from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from shapely import affinity
from small_job import small_job

from nesting.costs import choices as module
from nesting.costs.choices import Choices, compare, compare_bed, compare_settings, why, why_bed, why_settings
from nesting.costs.figures import figures
from nesting.costs.limits import CostLimits
from nesting.costs.money import Cost
from nesting.costs.yearly import Rate, saved_a_year, why_ways
from nesting.engine import Stop
from nesting.planning.keeping import keep
from nesting.planning.plan import plan
from nesting.planning.prepare import prepare
from nesting.referee.rules import check

STOP = Stop(iterations=2)


@pytest.fixture(scope="module")
def job():
    return small_job()


@pytest.fixture(scope="module")
def planned(job):
    return plan(job, STOP, workers=1)


@pytest.fixture(scope="module")
def choices(job, planned):
    return compare(job, STOP, workers=1, planned=planned)


def test_the_best_choice_is_no_worse_than_a_plan_at_hand_which_alone_may_show_its_hides_again(choices, planned):
    whole = figures(planned)["total"]["pieces_whole"]
    cost = Decimal(figures(planned)["total"]["cost"])
    assert (-choices[0].whole, choices[0].cost) <= (-whole, cost)
    assert len({(choice.hides, choice.planned) for choice in choices}) == len(choices) > 1


def test_choices_come_by_whole_pieces_and_then_by_cost(choices):
    assert [(-choice.whole, choice.cost) for choice in choices] == sorted((-c.whole, c.cost) for c in choices)
    best = choices[0]
    assert why(choices).startswith(f"Cut {best.name}: that makes {best.whole} of 6 ordered pieces for {best.cost} EUR")


def test_fillers_are_no_cost_of_what_is_ordered(planned):
    choice = module._choice("planned", planned, CostLimits())
    fillers = [placement for placement in planned.placements if placement.filler]
    assert fillers and choice.cost < Decimal(choice.figures["total"]["cost"])
    bare = replace(planned, placements=tuple(p for p in planned.placements if not p.filler))
    assert choice.cost == Decimal(figures(bare)["total"]["cost"])


def test_why_tells_the_runner_up_and_the_difference_in_money(choices):
    def like(name, hides, merit, cost):
        spent = Cost(leather=Decimal(cost))
        total = {"total": {"pieces_whole": int(sum(merit)), "pieces_wanted": 17}}
        return replace(choices[0], name=name, hides=hides, figures=total, merit=merit, spent=spent)

    best = like("offcut + bend", ("offcut", "bend"), (9, 6), "61.20")
    text = "Cut offcut + bend: that makes 15 of 17 ordered pieces for 61.20 EUR"
    for other, said in (
        (like("bend + side", ("bend", "side"), (9, 6), "69.40"), "offcut instead of side saves 8.20 EUR"),
        (like("all", ("offcut", "bend", "side"), (9, 6), "69.40"), "leaving side uncut saves 8.20 EUR"),
        (like("bend", ("bend",), (9, 6), "62.20"), "cutting offcut too saves 1.00 EUR"),
        (like("side", ("side",), (9, 6), "61.20"), "offcut and bend instead of side costs the same"),
        (like("side", ("side",), (9, 5), "51.20"), "the next best, side, makes 14 and costs 10.00 EUR less"),
        (like("side", ("side",), (9, 5), "61.30"), "the next best, side, makes 14 and costs 0.10 EUR more"),
        (like("side", ("side",), (8, 7), "61.20"), "makes 15, fewer of the urgent ones, and costs as much"),
        (like("at hand", ("offcut", "bend"), (9, 6), "62.20"), "saves 1.00 EUR against the plan at hand"),
    ):
        assert why([best, other]).startswith(text) and why([best, other]).endswith(f"{said}.")
    assert why([best]) == f"{text}."


def test_a_plan_at_hand_stands_for_its_hides_when_it_is_better(job, planned, monkeypatch):
    def nothing(job, stop, seed, **more):
        empty = plan(job, Stop(iterations=1), seed, **more)
        return replace(empty, placements=(), panels=(), cuts=())

    monkeypatch.setattr(module, "plan", nothing)
    monkeypatch.setattr(module, "check", lambda layout: [])
    assert compare(job, STOP, workers=1, planned=planned)[0].layout is planned
    bed, free = compare_bed(job, STOP, workers=1, planned=planned)
    assert bed.layout is planned and bed.name == "bed 200 mm x 200 mm"
    # what lies on the bed lies on one without end too
    assert (free.name, free.placed, free.whole) == ("no limit", bed.placed, bed.whole)
    assert [choice.layout is planned for choice in compare_settings(job, STOP, workers=1, planned=planned)] == [True]


def test_the_time_is_for_all_plans_together(job, monkeypatch):
    asked, told = [], []

    def noted(job, stop, seed, *, prepared, workers, **more):
        asked.append((len(prepared.hides), stop.seconds, stop.iterations, workers, seed))
        return plan(job, Stop(iterations=1), seed, prepared=prepared, workers=1, **more)

    now = iter([0.0, 0.0, 3.0, 5.0])
    monkeypatch.setattr(module, "monotonic", lambda: next(now, 5.0))
    monkeypatch.setattr(module, "plan", noted)
    compare(job, Stop(seconds=10, iterations=3), 7, workers=2, progress=told.append)
    # a hide alone is not worth a second process, and what the first takes too long the second has less
    assert asked == [(1, 2.5, 3, 1, 7), (1, 2.0, 3, 1, 7), (2, 5, 6, 2, 7)]
    assert told == ["small", "wide", "together"]
    compare_bed(job, Stop(iterations=3), workers=2)
    assert asked[3:] == [(2, None, 6, 2, 0)] * 2
    compare_settings(job, Stop(seconds=5))
    assert asked[5:] == [(2, 5, None, None, 0)]


def test_what_is_pinned_lies_where_it_lay_in_every_choice(job, planned):
    first = planned.placements[0]
    pinned = replace(planned, placements=(replace(first, pinned=first.spot), *planned.placements[1:]))
    prepared = prepare(job)
    kept = keep(prepared, pinned, resume=False)
    choices = compare(job, STOP, workers=1, planned=pinned, prepared=prepared, kept=kept)
    assert [choice.planned for choice in choices].count(True) == 1
    for choice in choices:
        assert first.hide in choice.hides
        assert next(p.spot for p in choice.layout.placements if p.key == first.key) == first.spot


def test_a_plan_made_before_is_judged_by_the_orders_as_they_stand(job, planned):
    old = replace(planned, lines=(), selling_prices={})
    assert module._of_job(planned, job) is planned
    assert module._of_job(old, job).lines == job.orders


def test_choices_print_themselves_as_a_table(choices):
    head, *rows = str(choices).splitlines()
    assert head.split() == "cut from pieces cost EUR dm2 used of hide of used panels changes".split()
    assert len(rows) == len(choices) and len({len(row) for row in (head, *rows)}) == 1
    best = choices[0]
    assert rows[0].startswith(best.name) and f"{best.whole} of 6  " in rows[0] and f"  {best.cost}  " in rows[0]
    assert str(Choices()).split() == "cut from pieces cost dm2 used of hide of used panels changes".split()


def test_the_bed_is_set_beside_none(job):
    bed, free = choices = compare_bed(job, STOP, workers=1)
    assert (bed.name, free.name) == ("bed 200 mm x 200 mm", "no limit")
    # without an end to the bed nothing has to be cut up, and the plan is of this job otherwise
    assert bed.layout.cuts and not free.layout.cuts
    assert bed.layout.wanted == free.layout.wanted and bed.layout.workshop.machine.bed_width_mm == 200
    share = {choice.name: choice.figures["total"]["yield_of_consumed"] for choice in choices}
    lost = 100 * (share["no limit"] - share["bed 200 mm x 200 mm"])
    assert (f"{lost:.1f} points" if lost > 0.05 else "no leather") in why_bed(choices)
    fewer = free.whole - bed.whole
    assert ("fewer can be made on it" in why_bed(choices)) == (fewer > 0)
    poorer = replace(bed, figures={"total": bed.figures["total"] | {"pieces_whole": free.whole - 2}})
    assert "2 ordered pieces fewer can be made on it" in why_bed([poorer, free])
    assert "fewer" not in why_bed([bed, replace(bed, name="no limit")]) and "None" in why_bed([])


def test_a_bed_without_end_makes_no_less_though_its_own_search_found_nothing(job, monkeypatch):
    real = module.plan

    def idle(job, stop, seed, **more):
        found = real(job, stop, seed, **more)
        if job.workshop.machine.bed_width_mm == 200:
            return found
        return replace(found, placements=(), panels=(), cuts=())

    monkeypatch.setattr(module, "plan", idle)
    bed, free = compare_bed(job, STOP, workers=1)
    assert (free.whole, free.merit) == (bed.whole, bed.merit) and bed.whole > 0
    # cut whole, the same parts cost no more: there is but one load a hide
    assert bed.layout.cuts and not free.layout.cuts and not check(free.layout) and free.cost <= bed.cost
    assert free.layout.workshop.machine.bed_width_mm > 200
    assert "cannot be told: without its end 1 ordered piece fewer" in why_bed(
        [free, replace(free, figures={"total": free.figures["total"] | {"pieces_whole": free.whole - 1}})]
    )


def test_a_bed_that_costs_urgent_pieces_is_said_to_though_fewer_are_made_without_it(choices):
    bed = choices[0]
    total = bed.figures["total"]
    urgent = replace(bed, merit=(bed.merit[0] + 1,), figures={"total": total | {"pieces_whole": bed.whole - 1}})
    said = "without its end more of these are made, though 1 ordered piece fewer in all"
    assert f"The bed costs urgent pieces: {said}." == why_bed([bed, urgent])


def test_making_fewer_pieces_is_no_saving(choices):
    best, rate = choices[0], Rate(dict.fromkeys(choices[0].each, Fraction(10)))
    cheap = replace(best, each={name: each / 2 for name, each in best.each.items()})
    fewer = replace(cheap, figures={"total": best.figures["total"] | {"pieces_whole": best.whole - 1}})
    assert saved_a_year(cheap, best, rate) > 0 and saved_a_year(fewer, best, rate) is None
    assert f"{fewer.name} makes 1 fewer of the ordered pieces, which is no saving" in why_ways([best, fewer], rate)


def test_how_long_a_bed_without_end_is_may_be_said(job):
    assert (
        compare_bed(job, STOP, workers=1, limits=CostLimits(no_bed_mm=900))[1].layout.workshop.machine.bed_width_mm
        == 900
    )


def test_more_settings_never_place_less(job, monkeypatch):
    found = iter([3, 1, 2])

    def fewer(job, stop, seed, *, settings, **more):
        layout = plan(job, STOP, seed, settings=1, **more)
        return replace(layout, placements=layout.placements[: next(found)])

    prepared = prepare(job)
    many = prepared.only(replace(item, settings=3 * item.settings[:1]) for item in prepared.hides)
    monkeypatch.setattr(module, "prepare", lambda job: many)
    monkeypatch.setattr(module, "plan", fewer)
    monkeypatch.setattr(module, "check", lambda layout: [])
    choices = compare_settings(job, STOP, workers=1)
    placed = [(choice.placed, choice.leather_mm2) for choice in choices]
    assert len(placed) == 3 and placed == sorted(placed) and placed[0] == placed[2]
    assert [choice.name for choice in choices] == [f"up to {n} setting{'s'[: n > 1]}" for n in (1, 2, 3)]
    assert "up to 3 settings make no more" in why_settings(choices)


def test_of_layouts_with_the_same_parts_the_cheaper_counts_wherever_they_lie(choices):
    dear = replace(choices[0], spent=Cost(leather=Decimal(9)))
    turned = [replace(p, outline=affinity.rotate(p.outline, 11.0, origin=(0, 0))) for p in dear.layout.placements]
    cheap = replace(dear, layout=replace(dear.layout, placements=tuple(turned)), spent=Cost(leather=Decimal(8)))
    assert cheap.leather_mm2 == pytest.approx(dear.leather_mm2)
    for pair in ([dear, cheap], [cheap, dear]):
        assert [one.cost for one in module._best("either", pair)] == [Decimal("8.00")]


def test_what_the_referee_faults_is_no_choice(job, monkeypatch):
    monkeypatch.setattr(module, "check", lambda layout: ["a fault"])
    for each in (compare, compare_bed, compare_settings):
        assert each(job, STOP, workers=1) == []
    assert "No hide holds any" in why([]) and "No setting cuts any" in why_settings([])
