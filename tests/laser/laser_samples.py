import math

from shapely.geometry import LineString, Point, Polygon, box

from nesting.model import Direction, Hide, Layout, Machine, Margins, Panel, Placement, Setting, Workshop, place

SETTING = Setting("1.5 mm", 1.5, 10, 60, 2, 1.3, 1.7)
LEAF = Polygon([(0, 0), (60, 0), (60, 20), (30, 20), (30, 40), (0, 40)])


def placement(number=1, x=20.0, y=20.0, angle=0.0, outline=LEAF, cutouts=(), stitch=(), engrave=(), order="A-1"):
    def put(shape):
        return place(shape, x, y, angle)

    return Placement(
        hide="h1", panel="1", order=order, product="tag", part="body", piece=number, copy=1, grade="A", x=x, y=y, angle=angle,
        mirrored=False, match="", direction=Direction(), thickness_mm=None, outline=put(outline), cutouts=tuple(map(put, cutouts)),
        stitch=tuple(map(put, stitch)), engrave=tuple(map(put, engrave)),
    )


def layout_of(placements, tannage="vegetable", setting=SETTING, kerf=0.2, hide_outline=box(0, 0, 500, 300)):
    hide = Hide("h1", hide_outline, tannage=tannage, nominal_mm=1.5)
    machine = Machine("bench laser", 600, 400, 40, travel_mm_s=200, engrave_mm_s=50)
    return Layout(
        Workshop(machine, (SETTING,), Margins(kerf_mm=kerf)), (hide,), (Panel("1", "h1", hide_outline),),
        {"h1": setting} if setting else {}, {("A-1", "tag", "body"): len(placements)}, tuple(placements), (),
    )


def rich_part():
    """A part with a cutout, a round stitch hole, an open slit and a line of engraving."""
    hole = LineString(Point(10, 30).buffer(1.0, quad_segs=32).exterior.coords)
    return placement(
        cutouts=[box(5, 5, 15, 12)], stitch=[hole, LineString([(40, 5), (40, 8)])], engrave=[LineString([(20, 5), (20 + math.pi, 5)])]
    )
