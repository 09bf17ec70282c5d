"""Jobs of one product on one hide or more, plans that the referee found sound, and grounds already filled."""

import math
from datetime import date

import numpy as np
from shapely.geometry import Polygon, box

from nesting.engine import Stop
from nesting.model import Hide, Job, Machine, Margins, OrderLine, Part, Product, Reading, Setting, Workshop
from nesting.planning.case import Case
from nesting.planning.limits import DEFAULT
from nesting.planning.plan import plan
from nesting.planning.prepare import prepare
from nesting.planning.translate import Translator
from nesting.referee.rules import check

MACHINE = Machine("laser", 600, 400, 40)
SETTING = Setting("1.5 mm", 1.5, 10, 60, 2, 1.2, 1.8)
THIN, THICK = Setting("thin", 1.3, 20, 60, 1, 1.0, 1.55), Setting("thick", 1.8, 10, 60, 1, 1.45, 2.1)
SLOPE = tuple(Reading(x, y, 1.2 + 0.0011 * x) for x in (20, 160, 300, 440, 580) for y in (30, 200, 370))
"""Of a hide 600 mm x 400 mm that is thin at the left and thick at the right."""
TAG = Part("tag", Polygon([(0, 0), (130, 0), (130, 60), (40, 85), (0, 60)]))
STOP = Stop(iterations=10)


def job_of(
    outline=None,
    quantity=20,
    parts=(TAG,),
    machine=MACHINE,
    rows=(SETTING,),
    filler=False,
    same_hide="no",
    hides=None,
    **facts,
):
    """A job of one order; ``facts`` are of the hide "h", or of the order line where ``hides`` are given."""
    workshop = Workshop(machine, rows, Margins(), thickness_spread_mm=0.1)
    of_line = facts if hides else {}
    hides = hides or (Hide("h", outline, **{"nominal_mm": 1.5, "tannage": "vegetable"} | facts),)
    line = OrderLine("A-1", "set", quantity, date(2026, 3, 2), **of_line)
    return Job(workshop, (Product("set", tuple(parts), same_hide, filler),), tuple(hides), (line,))


def sound(job, stop=STOP, workers=1, **more):
    """A plan that the referee found sound."""
    layout = plan(job, stop, workers=workers, **more)
    assert check(layout) == []
    return layout


def case_of(job, limits=DEFAULT, settings=1):
    prepared = prepare(job, limits=limits)
    hides = {item.hide.id: item.with_settings(settings) for item in prepared.open}
    return Case(job.workshop, hides, tuple(prepared.wishes[index] for index in prepared.fitting), limits)


def translator_of(job, limits=DEFAULT, settings=1):
    return Translator(case_of(job, limits, settings))


def wavy(width, height, waves):
    """An outline whose edge goes in and out so many times."""
    angles = np.linspace(0, 2 * math.pi, 90, endpoint=False)
    radii = 1 + 0.12 * np.sin(waves * angles)
    return Polygon(np.column_stack([width / 2 * radii * np.cos(angles), height / 2 * radii * np.sin(angles)]))


def bits_of(count, width=150.0, height=100.0, **facts):
    """Hides that are small bits of leather, h0, h1 and so on."""
    facts = {"nominal_mm": 1.5, "tannage": "vegetable"} | facts
    return tuple(Hide(f"h{n}", box(0, 0, width, height), **facts) for n in range(count))
