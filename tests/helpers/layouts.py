"""A small sound layout, and parts put by hand, for tests that break or measure it."""

from dataclasses import replace

from shapely.geometry import Polygon, box

from nesting.geometry import place
from nesting.model import Hide, Layout, Machine, Margins, Panel, Part, Placement, Setting, Workshop
from nesting.referee.rules import check

TAG = Part("tag", Polygon([(0, 0), (60, 0), (60, 30), (20, 40), (0, 30)]))
MARGINS = Margins(kerf_mm=0.2, gap_mm=1.0, edge_mm=3.0, flaw_mm=1.0, knife_mm=3.0)
SETTING = Setting("1.5 mm", 1.5, 10, 60, 2, 1.2, 1.8)


def put(drawn=TAG, x=20.0, y=20.0, angle=0.0, piece=1, **more):
    part = drawn.mirrored if more.get("mirrored") else drawn
    facts = dict(
        hide="h",
        panel="1",
        order="A",
        product="tag",
        part=part.name,
        piece=piece,
        copy=1,
        grade=part.grade,
        x=x,
        y=y,
        angle=angle,
        mirrored=False,
        match="",
        direction=part.direction,
        thickness_mm=part.thickness_mm,
        outline=more.get("outline") or place(part.outline, x, y, angle),
        zones=tuple(replace(zone, polygon=place(zone.polygon, x, y, angle)) for zone in part.zones),
    )
    return Placement(**{**facts, **more})


def layout(*placements, hide=None, panels=None, unplaced=(), wanted=None, **more):
    hide = hide or Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, tannage="vegetable")
    count = {}
    for thing in (*placements, *unplaced):
        key = (thing.order, thing.product, thing.part)
        count[key] = count.get(key, 0) + 1
    facts = dict(
        workshop=Workshop(Machine("laser", 600, 400, 40), (SETTING,), MARGINS, thickness_spread_mm=0.1),
        hides=(hide,),
        panels=(Panel("1", "h", hide.outline),) if panels is None else panels,
        settings={"h": SETTING},
        wanted=count if wanted is None else wanted,
        placements=placements,
        unplaced=tuple(unplaced),
    )
    return Layout(**{**facts, **more})


def rules(*placements, **more):
    """The numbers of the rules that a layout breaks."""
    return {finding.rule for finding in check(layout(*placements, **more))}
