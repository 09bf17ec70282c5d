"""Whether what lies in a layout is drawn as the folder draws it now."""

from dataclasses import replace

from nesting.app.demo import demo_folder
from nesting.app.earlier import as_drawn
from nesting.engine import Stop
from nesting.files.job import read_job
from nesting.files.layout import layout_from_dict, layout_to_dict
from nesting.planning.plan import plan
from nesting.planning.wishes import wanted


def test_parts_lie_as_they_are_drawn_when_they_are_planned_and_when_the_layout_is_read_again():
    whole = read_job(demo_folder())
    fobs = next(line for line in whole.orders if line.product == "key fob")
    job = replace(whole, orders=(replace(fobs, quantity=2),), hides=whole.hides[:2])
    layout = plan(job, Stop(iterations=1), workers=1, explain=False)
    again = layout_from_dict(layout_to_dict(layout) | {"figures": {}}, "layout.json")
    wishes = {wish.key: wish for wish in wanted(job)}
    assert any(placement.stitch and placement.drawn for placement in layout.placements)
    for placement in (*layout.placements, *again.placements):
        assert as_drawn(placement, wishes[placement.key]), placement.name
