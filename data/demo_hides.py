"""The leather of the invented workshop: three hides that are known, and the one that is still to be traced."""

from __future__ import annotations

import math
import random
from decimal import Decimal

import numpy as np
from shapely.geometry import Polygon

from nesting.model import Hide, Reading, Zone


def known_hides() -> tuple[Hide, ...]:
    """The hides whose files lie in hides/: a shoulder and a double bend with readings, and a kept offcut."""
    return (_cognac_shoulder(), _dark_bend(), _cognac_offcut())


def photographed_hide() -> Polygon:
    """The true outline of the hide that is only given as a photo, in mm, y up; one natural hole."""
    outer = _smooth(
        [(50, 62), (120, 34), (215, 40), (310, 22), (405, 30), (500, 12), (590, 24), (655, 52), (684, 108),
         (662, 170), (640, 232), (668, 290), (700, 352), (690, 420), (630, 456), (556, 438), (494, 446), (440, 486),
         (360, 500), (284, 488), (232, 446), (176, 424), (112, 448), (46, 440), (10, 388), (24, 318), (62, 262),
         (58, 200), (24, 142), (22, 92)],
        points=160, ripple=1.6, seed=4,
    )  # fmt: skip
    return Polygon(outer, [_blob(206, 318, 14, 11, 25, points=32, seed=42)])


def _cognac_shoulder() -> Hide:
    outline = _smooth(
        [(70, 24), (190, 14), (330, 20), (470, 8), (610, 14), (740, 6), (860, 16), (945, 40), (986, 110),
         (978, 190), (962, 268), (984, 345), (1000, 420), (972, 486), (898, 502), (830, 494), (770, 520),
         (722, 572), (650, 606), (560, 612), (500, 602), (440, 614), (350, 618), (272, 590), (222, 532), (166, 500),
         (96, 510), (26, 486), (2, 418), (20, 340), (38, 262), (20, 184), (8, 112), (28, 54)],
        points=180, ripple=1.8, seed=1,
    )  # fmt: skip
    zones = (
        Zone(Polygon(_along(outline, (900, 30), (1000, 330), 34, seed=11)), "D", "loose belly edge"),
        Zone(Polygon(_along(outline, (10, 330), (40, 60), 26, seed=12)), "D", "loose belly edge"),
        Zone(Polygon(_blob(300, 262, 58, 5.5, 28, bend=9, seed=13)), "D", "scar"),
        Zone(Polygon(_blob(688, 388, 36, 6, 112, bend=5, seed=14)), "C", "scar"),
        Zone(Polygon(_blob(508, 566, 74, 15, 3, bend=-7, seed=15)), "B", "neck wrinkles"),
        Zone(Polygon(_blob(812, 300, 30, 20, 60, seed=16)), "B", "tick bites"),
    )
    places = [
        (80, 110), (230, 90), (400, 75), (560, 80), (730, 85), (900, 110), (110, 400), (270, 330), (420, 250),
        (590, 260),
        (750, 210), (890, 400), (380, 520), (620, 520),
    ]  # fmt: skip
    return Hide(
        "cognac-shoulder",
        Polygon(outline, [_blob(588, 158, 13, 10, 70, points=24, seed=17)]),
        zones,
        # Firm along the spine, thinner towards both bellies and up the neck.
        _readings(places, lambda x, y: 1.69 - 0.40 * abs(x / 500 - 1) ** 1.8 - 0.15 * (y / 620) ** 2, seed=1),
        nominal_mm=1.5,
        backbone=((503.0, 12.0), (497.0, 604.0)),
        tannage="vegetable",
        colour="cognac",
        price=Decimal("92.00"),
    )


def _dark_bend() -> Hide:
    outline = _smooth(
        [(26, 14), (110, 8), (230, 12), (350, 4), (470, 9), (590, 3), (690, 12), (752, 20), (770, 70), (772, 160),
         (779, 260), (774, 360), (778, 450), (766, 530), (724, 551), (620, 549), (500, 557), (390, 551), (270, 559),
         (150, 551), (60, 548), (14, 526), (4, 440), (9, 340), (2, 240), (10, 140), (6, 50)],
        points=150, ripple=1.0, seed=2,
    )  # fmt: skip
    zones = (
        Zone(Polygon(_blob(640, 128, 34, 24, 20, points=44, bend=4, seed=21)), "C", "brand"),
        Zone(Polygon(_blob(150, 430, 40, 4.5, 75, bend=6, seed=22)), "D", "scar"),
        Zone(Polygon(_along(outline, (772, 300), (700, 552), 24, seed=23)), "C", "loose flank"),
    )
    places = [
        (60, 60), (210, 90), (388, 70), (570, 90), (720, 70), (70, 280), (240, 290), (389, 280), (540, 280), (715, 285),
        (90, 490), (300, 480), (480, 490), (690, 490),
    ]  # fmt: skip
    return Hide(
        "dark-bend",
        Polygon(outline),
        zones,
        _readings(places, lambda x, y: 2.27 - 0.10 * abs(x / 390 - 1) ** 2 + 0.04 * (y / 560 - 0.5), seed=2),
        nominal_mm=2.2,
        backbone=((391.0, 6.0), (388.0, 552.0)),
        tannage="vegetable",
        colour="dark brown",
        price=Decimal("84.00"),
    )


def _cognac_offcut() -> Hide:
    # Left over from an earlier week: its upper right follows parts cut then.
    outline = _smooth(
        [(18, 12), (100, 6), (190, 9), (280, 5), (372, 11), (408, 24), (416, 80), (410, 150), (418, 220),
         (402, 262), (352, 272), (296, 258), (246, 276), (220, 314), (160, 328), (84, 324), (26, 306), (8, 250),
         (12, 160), (5, 80), (6, 30)],
        points=110, ripple=0.8, seed=3,
    )  # fmt: skip
    return Hide(
        "cognac-offcut",
        Polygon(outline),
        nominal_mm=1.5,
        backbone=((0.0, 160.0), (420.0, 166.0)),
        tannage="vegetable",
        colour="cognac",
        price=Decimal("9.50"),
    )


def _smooth(corners, points: int, ripple: float = 0.0, seed: int = 0) -> list[tuple[float, float]]:
    """A closed curve through the corners (uniform Catmull-Rom), with a fine irregular ripple, to 0.1 mm."""
    p1 = np.array(corners, float)
    p0, p2, p3 = np.roll(p1, 1, axis=0), np.roll(p1, -1, axis=0), np.roll(p1, -2, axis=0)
    t = np.linspace(0, 1, 40, endpoint=False)[:, None, None]
    fine = 0.5 * (2 * p1 + (p2 - p0) * t + (2 * p0 - 5 * p1 + 4 * p2 - p3) * t**2 + (3 * p1 - p0 - 3 * p2 + p3) * t**3)
    fine = fine.transpose(1, 0, 2).reshape(-1, 2)
    lengths = np.hypot(*(np.roll(fine, -1, axis=0) - fine).T)
    walked = np.concatenate([[0.0], np.cumsum(lengths)])
    closed = np.vstack([fine, fine[:1]])
    at = np.linspace(0, walked[-1], points, endpoint=False)
    even = np.column_stack([np.interp(at, walked, closed[:, axis]) for axis in (0, 1)])
    along = np.roll(even, -1, axis=0) - np.roll(even, 1, axis=0)
    normal = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(*along.T)[:, None]
    even += ripple * _ripple(points, seed)[:, None] * normal
    return [(round(float(x), 1), round(float(y), 1)) for x, y in even]


def _ripple(points: int, seed: int) -> np.ndarray:
    """An irregular wave around a ring, about -1 to 1."""
    chance = random.Random(seed)
    turn = np.linspace(0, 2 * math.pi, points, endpoint=False)
    waves = [(n, chance.random() * 2 * math.pi, 0.3 + 0.7 * chance.random()) for n in (7, 11, 16, 23, 31)]
    return sum(size * np.sin(n * turn + phase) for n, phase, size in waves) / 2.2


def _blob(x, y, long, short, turn_deg, points=32, bend=0.0, seed=0) -> list[tuple[float, float]]:
    """An uneven oval about (x, y) with the given half axes, its long axis turned and bent sideways by ``bend`` mm."""
    chance = random.Random(seed)
    phases = [chance.random() * 2 * math.pi for _ in range(3)]
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    ring = []
    for step in range(points):
        angle = 2 * math.pi * step / points
        swell = 1 + sum(0.06 * math.sin(wave * angle + phase) for wave, phase in zip((2, 3, 4), phases))
        u, v = long * swell * math.cos(angle), short * swell * math.sin(angle)
        v += bend * ((u / long) ** 2 - 0.4)
        ring.append((round(x + u * cos - v * sin, 1), round(y + u * sin + v * cos, 1)))
    return ring


def _along(outline, start, end, wide, seed=0) -> list[tuple[float, float]]:
    """A strip along the outline, counter-clockwise from near ``start`` to near ``end``, thinning to its ends."""
    ring = np.array(outline)
    first, last = (int(np.argmin(np.hypot(*(ring - place).T))) for place in (start, end))
    edge = ring[np.arange(first, last + (len(ring) if last < first else 0) + 1) % len(ring)]
    ahead = np.gradient(edge, axis=0)
    inward = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.hypot(*ahead.T)[:, None]
    share = np.linspace(0, 1, len(edge))
    depth = wide * np.sin(np.pi * share) ** 0.6 * (1 + 0.18 * np.sin(11 * share + seed))
    inner = (edge + inward * depth[:, None])[-2:0:-1]
    return [(float(x), float(y)) for x, y in edge] + [(round(float(x), 1), round(float(y), 1)) for x, y in inner]


def _readings(places, thickness, seed) -> tuple[Reading, ...]:
    """What a hand gauge shows: the thickness there, to about 0.02 mm, read to 0.01 mm."""
    chance = random.Random(100 + seed)
    return tuple(
        Reading(float(x), float(y), round(thickness(x, y) + chance.uniform(-0.025, 0.025), 2)) for x, y in places
    )
