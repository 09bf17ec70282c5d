from dataclasses import replace

import pytest
from planning_jobs import TAG, job_of, translator_of
from shapely.geometry import box

from nesting.model import Hide, Part, Product, Reading, Zone
from nesting.planning.case import Ground, Lie
from nesting.planning.prepare import prepare
from nesting.planning.reasons import Reasons

HIDE = Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, tannage="vegetable", colour="black")
SLAB = Part("slab", box(0, 0, 480, 150))


def reasons(job, lies=None):
    prepared = prepare(job)
    translator = translator_of(job)
    return prepared, Reasons(prepared, translator, tuple(Ground(h.id, h.outline) for h in job.hides), lies or {})


def told(part, hides, **facts):
    prepared, why = reasons(job_of(parts=(part,), hides=hides, quantity=1, **facts))
    return why.why(prepared.wishes[0])


@pytest.mark.parametrize(
    "part, hide, text",
    [
        (Part("slab", box(0, 0, 700, 20)), HIDE, "too big for any hide"),
        (
            TAG,
            replace(HIDE, zones=(Zone(box(-1, -1, 501, 301), "C"),)),
            "no region of its grade: A or better on h",
        ),
        (
            replace(TAG, thickness_mm=(2.0, 3.0)),
            HIDE,
            "thickness: 2.00 to 3.00 mm is asked, on h (about 1.50 mm) 1.5 mm cuts 1.20 to 1.80 mm",
        ),
        (
            replace(TAG, thickness_mm=(1.4, 1.6)),
            HIDE,
            "thickness: 1.40 to 1.60 mm is 68% sure at best on h (about 1.50 mm), 90% asked",
        ),
        (TAG, replace(HIDE, nominal_mm=4.0), "thickness: no tested setting covers h (about 4.00 mm)"),
        (TAG, replace(HIDE, nominal_mm=None), "thickness: nothing is known of h"),
        (replace(TAG, colour="cognac", tannage="vegetable"), HIDE, "no hide is cognac, there is black"),
        (
            replace(TAG, engrave=(box(9, 9, 19, 19).exterior,)),
            replace(HIDE, tannage="chrome"),
            "it is to be burnt, and no hide may be: there is h (chrome); with burn = false it is cut by knife",
        ),
        (
            replace(TAG, engrave=(box(9, 9, 19, 19).exterior,), colour="black"),
            replace(HIDE, tannage="chrome"),
            "it is to be burnt, and no hide that is black may be: there is h (chrome); "
            "with burn = false it is cut by knife",
        ),
        (replace(TAG, finish="waxed"), HIDE, "no hide is waxed, for no hide says its finish"),
    ],
)
def test_the_reason_for_leaving_a_part_out_is_the_true_one(part, hide, text):
    assert told(part, (hide,)) == text


def test_of_several_hides_the_one_where_the_part_comes_nearest_to_fitting_counts():
    thick, flawed = replace(HIDE, id="thick", nominal_mm=4.0), replace(HIDE, zones=(Zone(HIDE.outline, "C"),))
    assert told(TAG, (flawed, thick)).startswith("thickness: no tested setting covers thick")
    assert told(TAG, (flawed, thick, replace(HIDE, id="good"))).startswith("no place found in the time given")
    sloped = replace(
        HIDE, id="slope", readings=tuple(Reading(x, y, 1.1 + x / 1e3) for x in (9, 250, 490) for y in (9, 290))
    )
    near = told(replace(TAG, thickness_mm=(1.45, 1.55)), (HIDE, sloped))
    assert near.startswith("thickness: 1.45 to 1.55 mm is ") and "sure at best on" in near and "90% asked" in near


def test_of_a_piece_with_a_part_that_cannot_be_all_parts_name_that_part():
    job = job_of(
        parts=(TAG, Part("strap", box(0, 0, 900, 40))), hides=(replace(HIDE, outline=box(0, 0, 950, 300)),), quantity=1
    )
    prepared, why = reasons(replace(job, products=(replace(job.products[0], longer="refuse"),)))
    refused = 'too big for the bed, and its product says longer = "refuse"'
    assert [why.why(wish) for wish in prepared.wishes] == [f"left out with its piece: strap is {refused}", refused]
    apart = job_of(parts=(TAG, replace(TAG, name="red", colour="red")), hides=(HIDE,), quantity=1)
    prepared, why = reasons(apart)
    assert why.why(prepared.wishes[0]) == "left out with its piece, for red: no hide is red, there is black"


def test_a_piece_without_room_is_told_what_it_needs_and_what_there_is():
    job = job_of(parts=(SLAB,), hides=(HIDE,), quantity=2)
    prepared, why = reasons(job, {0: Lie(0, 10.0, 100.0, 0.0)})
    assert why.why(prepared.wishes[1]).startswith("no room left: slab (7.28 dm2) nowhere; the largest free place is ")


def test_a_piece_of_which_some_parts_fit_is_told_which_and_where():
    job = job_of(
        parts=(SLAB, replace(TAG, name="flap")),
        hides=(HIDE, replace(HIDE, id="small", outline=box(0, 0, 200, 120))),
        quantity=2,
    )
    prepared, why = reasons(job, {0: Lie(0, 10.0, 50.0, 0.0), 1: Lie(0, 10.0, 210.0, 0.0)})
    text = why.why(prepared.wishes[3])
    assert text.startswith("no room left: flap would fit on h, slab (7.28 dm2) nowhere; the largest free place is ")
    wide = replace(HIDE, outline=box(0, 0, 560, 390))
    job = job_of(parts=(SLAB, replace(TAG, name="flap")), hides=(wide,), quantity=2)
    prepared, why = reasons(job, {0: Lie(0, 10.0, 115.0, 0.0)})
    text = why.why(prepared.wishes[3])
    assert text.startswith(
        "no place found in the time given: flap would fit on h, slab (7.28 dm2) nowhere; the largest"
    )


def test_what_must_match_and_has_no_common_hide_is_told():
    parts = (replace(TAG, colour="black"), replace(TAG, name="red", colour="red"))
    hides = (HIDE, replace(HIDE, id="r", colour="red"))
    job = job_of(parts=parts, hides=hides, quantity=1)
    job = replace(job, products=(Product("set", parts, "piece"),))
    prepared = prepare(job)
    translator = translator_of(job)
    none = type(translator)(replace(translator.case, wishes=()))
    assert (
        Reasons(prepared, none, (), {}).why(prepared.wishes[0]) == "no hide can hold all of its parts, which must match"
    )


@pytest.mark.parametrize(
    "filler, text",
    [
        (False, "no place found in the time given: tag would fit on h; the largest free place is "),
        (True, "a filler is only cut from what is left over: tag would fit on h, which nothing else is cut from"),
    ],
)
def test_a_piece_of_one_part_that_would_fit_is_not_said_to_lack_room_for_others(filler, text):
    job = job_of(parts=(TAG,), hides=(HIDE,), quantity=1)
    job = replace(job, products=tuple(replace(product, filler=filler) for product in job.products))
    prepared, why = reasons(job)
    assert why.why(prepared.wishes[0]).startswith(text)


def test_a_filler_is_told_that_a_hide_bigger_than_the_bed_is_cut_up_for_nothing_else():
    hide = replace(HIDE, outline=box(0, 0, 900, 300))
    job = job_of(parts=(TAG,), hides=(hide,), quantity=1, filler=True)
    prepared = prepare(job)
    why = Reasons(prepared, translator_of(job), (), {}).why(prepared.wishes[0])
    assert why == "a filler is only cut from what is left over: nothing else is cut from h"
