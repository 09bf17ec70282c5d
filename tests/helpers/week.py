"""A small week on one shoulder, laid out by hand, for the tests of figures and report."""

import math
from dataclasses import replace
from decimal import Decimal

from shapely.geometry import LineString, Point, Polygon, box

from nesting.geometry import place
from nesting.model import (
    Direction,
    Hide,
    Layout,
    Machine,
    Margins,
    Panel,
    Part,
    Placement,
    Prices,
    Reading,
    Setting,
    Unplaced,
    Workshop,
    Zone,
)


def wavy(width: float, height: float, wave: float = 12.0) -> Polygon:
    """A shoulder-like outline with wavy edges and one natural hole."""
    ring = []
    for step in range(120):
        turn = 2 * math.pi * step / 120
        cos, sin = math.cos(turn), math.sin(turn)
        x = width / 2 * (1 + math.copysign(abs(cos) ** 0.45, cos)) + wave * math.sin(5 * turn)
        y = height / 2 * (1 + math.copysign(abs(sin) ** 0.5, sin)) + wave * math.cos(7 * turn)
        ring.append((x, y))
    return Polygon(ring, [Point(690, 150).buffer(14, 6).exterior.coords])


def rounded(width: float, height: float, radius: float) -> Polygon:
    return box(radius, radius, width - radius, height - radius).buffer(radius, 5)


def parts() -> dict[str, tuple[str, Part]]:
    strap = rounded(520, 28, 13)
    holes = tuple(Point(x, 14).buffer(2.5, 4) for x in range(420, 500, 18))
    body = rounded(190, 120, 8)
    stitch = tuple(LineString(Point(x, 6).buffer(0.5, 3).exterior.coords) for x in range(12, 180, 6))
    return {
        "body": (
            "card holder",
            Part("body", body, stitch=stitch, engrave=(LineString([(80, 50), (95, 75), (110, 50)]),), grade="B"),
        ),
        "pocket": (
            "card holder",
            Part("pocket", rounded(95, 62, 6), cutouts=(Point(47, 58).buffer(9, 6).intersection(rounded(95, 62, 6)),)),
        ),
        "strap": ("belt", Part("strap", strap, cutouts=holes, grade="A", direction=Direction("along", 5))),
        "fob": ("key fob", Part("fob", rounded(64, 24, 10), cutouts=(Point(10, 12).buffer(3, 5),), grade="C")),
        "charm": ("charm", Part("charm", Point(9, 9).buffer(9, 8), grade="D")),
        "sleeve": (
            "sleeve",
            Part("long inner sleeve lining", rounded(150, 105, 15), zones=(Zone(box(0, 0, 150, 20), "D"),)),
        ),
    }


def put(kind: str, order: str, piece: int, copy: int, x: float, y: float, angle: float, panel: str = "1") -> Placement:
    product, part = parts()[kind]

    def moved(shape):
        return place(shape, x, y, angle)

    return Placement(
        hide="shoulder-7",
        panel=panel,
        order=order,
        product=product,
        part=part.name,
        piece=piece,
        copy=copy,
        grade=part.grade,
        x=x,
        y=y,
        angle=angle,
        mirrored=False,
        match="",
        direction=part.direction,
        thickness_mm=part.thickness_mm,
        outline=moved(part.outline),
        cutouts=tuple(map(moved, part.cutouts)),
        stitch=tuple(map(moved, part.stitch)),
        engrave=tuple(map(moved, part.engrave)),
        zones=tuple(replace(z, polygon=moved(z.polygon)) for z in part.zones),
        filler=kind == "charm",
    )


def shoulder() -> Hide:
    zones = (
        Zone(Polygon([(150, 446), (260, 486), (262, 492), (148, 453)]), "C", "scar"),
        Zone(Polygon([(820, 40), (905, 60), (905, 360), (850, 330)]), "E", "loose belly"),
        Zone(Point(420, 640).buffer(30, 8), "B", "wrinkles"),
    )
    places = [
        (80, 90),
        (260, 110),
        (450, 80),
        (650, 90),
        (820, 200),
        (90, 350),
        (300, 340),
        (520, 350),
        (760, 400),
        (450, 560),
    ]
    readings = tuple(
        Reading(x, y, round(1.62 - 0.3 * abs(x / 450 - 1) ** 1.6 + 0.1 * math.sin(y / 90), 2)) for x, y in places
    )
    return Hide(
        "shoulder-7",
        wavy(900, 700),
        zones,
        readings,
        nominal_mm=1.5,
        backbone=((0.0, 350.0), (900.0, 360.0)),
        tannage="vegetable",
        colour="natural",
        price=Decimal("64.90"),
    )


def week() -> Layout:
    """Twenty-eight parts of four orders and fillers on a shoulder; three parts not placed; a chrome side untouched."""
    placements = []
    for n in range(4):
        x, y = (66 + 195 * n, 62) if n < 3 else (330, 470)
        placements.append(put("body", "1001", n + 1, 1, x, y, 0))
        placements.append(put("pocket", "1001", n + 1, 1, 60 + 100 * n, 186, 0))
    placements += [put("strap", "1002 Håkon & Søn", n + 1, 1, 80, 262 + 33 * n, 0) for n in range(2)]
    placements += [put("fob", "1003", n + 1, 1, 640 + 29 * n, 262, 90) for n in range(6)]
    placements += [put("charm", "spare", n + 1, 1, 470 + 22 * n, 195, 0) for n in range(9)]
    placements += [put("sleeve", "1004", n + 1, 1, 60 + 160 * n, 326, 0) for n in range(3)]
    placements += [put("sleeve", "1004", n + 4, 1, 665 + 115 * n, 342, 84) for n in range(2)]
    missing = [Unplaced("1002 Håkon & Søn", "belt", "strap", 3, 1, False, "no region of its grade")]
    missing += [Unplaced("1005", "satchel", "front", n, 1, False, "too big for any hide") for n in (1, 2)]
    wanted = {}
    for thing in (*placements, *missing):
        key = (thing.order, thing.product, thing.part)
        wanted[key] = wanted.get(key, 0) + 1
    setting = Setting("veg 1.5", 1.5, 14, 55, 1, 1.15, 1.9)
    prices = Prices("EUR", Decimal("18.00"), Decimal("32.00"), 1.5, Decimal("4.20"), 0.5)
    hide = shoulder()
    return Layout(
        workshop=Workshop(Machine("bench laser", 950, 750, 60), (setting,), Margins(), prices),
        hides=(hide, Hide("side-2", box(0, 0, 400, 300), nominal_mm=2.0, tannage="chrome")),
        panels=(Panel("1", "shoulder-7", hide.outline),),
        settings={"shoulder-7": setting},
        wanted=wanted,
        placements=tuple(placements),
        unplaced=tuple(missing),
        seed=3,
        iterations=4000,
        seconds=12.5,
    )
