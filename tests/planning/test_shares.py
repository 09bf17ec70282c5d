from dataclasses import replace
from datetime import date

from planning_jobs import TAG, bits_of, job_of, translator_of
from shapely.geometry import box

from nesting.model import OrderLine, Part, Product
from nesting.planning.limits import DEFAULT, PlanLimits
from nesting.planning.shares import share_out, shared

PART = Part("plate", box(0, 0, 100, 100))


def hides_of(*widths, **facts):
    return tuple(
        replace(hide, outline=box(0, 0, width, 200), **facts) for hide, width in zip(bits_of(len(widths)), widths)
    )


def shares_of(job, limits=DEFAULT):
    translator = translator_of(job, limits)
    return translator.case, share_out(translator)


def test_what_one_hide_has_room_for_goes_to_the_smallest_that_has():
    _, shares = shares_of(job_of(hides=hides_of(900, 400, 600), quantity=4, parts=(PART,)))
    assert {hide: len(own) for hide, own in shares.items() if own} == {"h1": 4}


def test_every_wish_is_for_one_hide_at_most_and_no_hide_for_more_than_it_holds():
    case, shares = shares_of(job_of(hides=hides_of(900, 400, 600), quantity=60, parts=(PART,)))
    assert sum(map(len, shares.values())) == len(shared(shares)) < 60
    for hide, own in shares.items():
        area = case.hides[hide].hide.outline.area
        assert sum(case.sizes_mm2[index] for index in own) <= 0.72 * area
        assert own


def test_how_full_a_hide_is_taken_to_become_may_be_said():
    job = job_of(hides=hides_of(900), quantity=60, parts=(PART,))
    counts = [len(shared(shares_of(job, PlanLimits(full=full))[1])) for full in (0.3, 0.6, 0.9)]
    assert counts == sorted(set(counts))


def test_what_matches_is_for_one_hide_or_for_none():
    job = job_of(hides=hides_of(400, 400, 900), quantity=8, parts=(replace(PART, count=3),), same_hide="piece")
    case, shares = shares_of(job)
    where = {}
    for hide, own in shares.items():
        for index in own:
            where.setdefault(case.wishes[index].match, []).append(hide)
    assert where and all(len(hides) == 3 and len(set(hides)) == 1 for hides in where.values())


def test_the_most_urgent_have_the_first_choice_and_those_with_few_hides_come_before_others():
    stout = Part("stout", box(0, 0, 100, 100), thickness_mm=(1.7, 2.5))
    thin, thick = hides_of(500, 500)
    job = job_of(
        hides=(replace(thin, nominal_mm=1.5), replace(thick, nominal_mm=2.0)), quantity=6, parts=(PART,), rows=()
    )
    products = (*job.products, Product("stout", (stout,)))
    # of the same rank: what only the thick hide can hold comes first, though it is listed last
    lines = (*job.orders, OrderLine("A-2", "stout", 6, date(2026, 3, 2)))
    case, shares = shares_of(replace(job, products=products, orders=lines))
    stouts = {index for index, wish in enumerate(case.wishes) if wish.part.name == "stout"}
    assert stouts <= shares["h1"] and not stouts & shares["h0"]
    # what is due sooner is placed, and the stout parts find the room taken
    soon = replace(job.orders[0], quantity=40, due=date(2026, 1, 1))
    case, shares = shares_of(replace(job, products=products, orders=(soon, lines[1])))
    assert not {index for index, wish in enumerate(case.wishes) if wish.part.name == "stout"} & shared(shares)


def test_least_leather_is_cut_into_when_all_of_it_goes():
    # in the order given two hides would be cut into; on the big one alone everything has room
    _, shares = shares_of(job_of(hides=hides_of(300, 300, 500), quantity=6, parts=(PART,)))
    assert [hide for hide, own in shares.items() if own] == ["h2"]


def test_a_hide_without_room_or_none_at_all_gets_nothing():
    narrow = (replace(bits_of(1)[0], outline=box(0, 0, 500, 4)),)
    assert shared(shares_of(job_of(hides=narrow, quantity=2, parts=(TAG,)))[1]) == set()
    shut = hides_of(500, nominal_mm=9.0)
    assert shares_of(job_of(hides=shut, quantity=2))[1] == {}


def test_each_hide_gets_some_of_every_form_where_that_is_asked():
    small = Part("small", box(0, 0, 50, 50))
    job = job_of(hides=hides_of(900, 900), quantity=16, parts=(PART, small))
    translator = translator_of(job)
    case = translator.case

    def small_ones(mixed):
        shares = share_out(translator, mixed)
        return [sum(case.wishes[index].part.name == "small" for index in own) for own in shares.values() if own]

    assert min(small_ones(True)) > 3 > min(small_ones(False))
