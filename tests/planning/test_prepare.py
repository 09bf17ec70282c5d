from dataclasses import replace

from planning_jobs import TAG, bits_of, job_of
from shapely.geometry import box

from nesting.model import Part
from nesting.planning.limits import PlanLimits
from nesting.planning.prepare import prepare

STRAP = Part("strap", box(0, 0, 900, 40))


def test_what_is_wanted_and_what_of_it_fits_the_bed_is_known():
    prepared = prepare(job_of(box(0, 0, 1400, 1000), 2, (STRAP, replace(TAG, mirrored_twin=True))))
    assert [wish.part.name for wish in prepared.wishes] == ["strap", "tag", "tag"] * 2
    assert prepared.fitting == (1, 2, 4, 5)
    assert list(prepared.parts) == [("set", "strap"), ("set", "tag")]


def test_hides_are_made_ready_and_their_faults_told():
    hides = (*bits_of(2), replace(bits_of(1)[0], id="thick", nominal_mm=4.0))
    prepared = prepare(job_of(hides=hides))
    assert [item.hide.id for item in prepared.open] == ["h0", "h1"]
    assert len(prepared.warnings) == 1 and "hide thick" in prepared.warnings[0]
    assert [item.hide.id for item in prepare(job_of(hides=hides), ["thick", "h1"]).hides] == ["h1", "thick"]
    assert prepared.only(prepared.open).warnings == () and prepared.only(prepared.open).wishes is prepared.wishes


def test_the_limits_are_handed_on():
    job = job_of(box(0, 0, 1400, 1000), 1, (Part("tight", box(0, 0, 598, 398)),))
    assert prepare(job).fitting == () and prepare(job, limits=PlanLimits(rounding_mm=2.0)).fitting == (0,)
    assert prepare(job, limits=PlanLimits(rounding_mm=2.0)).limits.rounding_mm == 2.0
