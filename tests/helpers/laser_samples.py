"""Small layouts for the tests of what is burnt."""

from shapely.geometry import LineString, Point, Polygon, box

from nesting.geometry import place
from nesting.model import Direction, Hide, Layout, Machine, Margins, Panel, Placement, Setting, Workshop

SETTING = Setting("1.5 mm", 1.5, 10, 60, 2, 1.3, 1.7)
LEAF = Polygon([(0, 0), (60, 0), (60, 20), (30, 20), (30, 40), (0, 40)])
"""An L: neither turned nor mirrored does it look the same."""


def placement(
    number=1,
    x=20.0,
    y=20.0,
    angle=0.0,
    outline=LEAF,
    cutouts=(),
    stitch=(),
    engrave=(),
    order="A-1",
    part="body",
    **others,
):
    def put(shape):
        return place(shape, x, y, angle)

    where = {"hide": "h1", "panel": "1", "mirrored": False} | others
    return Placement(
        order=order, product="tag", part=part, piece=number, copy=1, grade="A", x=x, y=y, angle=angle, match="",
        direction=Direction(), thickness_mm=None, outline=put(outline), cutouts=tuple(map(put, cutouts)),
        stitch=tuple(map(put, stitch)), engrave=tuple(map(put, engrave)), **where,
    )  # fmt: skip


def hide(id="h1", tannage="vegetable", outline=None):
    return Hide(id, outline or box(0, 0, 500, 300), tannage=tannage, nominal_mm=1.5)


MACHINE = Machine("bench laser", 600, 400, 40, travel_mm_s=200, engrave_mm_s=50, acceleration_mm_s2=0)
SHALLOW = Setting("mark", 1.5, 100, 15, 1, operation="engrave shallow")
DEEP = Setting("dig", 1.5, 80, 30, 1, operation="engrave deep", line_spacing_mm=0.1)


def layout_of(
    placements, tannage="vegetable", setting=SETTING, kerf=0.2, hides=None, panels=None, machine=MACHINE, **others
):
    hides = hides or (hide(tannage=tannage),)
    workshop = Workshop(machine, (SETTING,), Margins(kerf_mm=kerf), **others)
    return Layout(
        workshop=workshop,
        hides=tuple(hides),
        panels=tuple(panels or (Panel("1", each.id, each.outline) for each in hides)),
        settings={each.id: setting for each in hides} if setting else {},
        wanted={("A-1", "tag", "body"): len(placements)},
        placements=tuple(placements),
        unplaced=(),
    )


def rich_part(**others):
    """A part with a cutout, a round stitch hole, an open slit and a line of engraving."""
    hole = LineString(Point(10, 30).buffer(1.0, quad_segs=32).exterior.coords)
    return placement(
        cutouts=[box(5, 5, 15, 12)],
        stitch=[hole, LineString([(40, 5), (40, 8)])],
        engrave=[LineString([(20, 5), (23, 5), (23, 8)])],
        **others,
    )
