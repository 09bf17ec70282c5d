"""Cut card patterns, and panels on the bed, photographed by a renderer: how near what is read off the photos is.

    python tests/benchmarks/cameras.py patterns FOLDER [--first 0] [--count 40]
    python tests/benchmarks/cameras.py bed FOLDER [--first 0] [--count 40]

Photos are drawn by lot (tests/helpers/flat_things.py) and kept in FOLDER with their truth, so that a second run only
reads them. Of a pattern it is told which share of its outline lies within 0.4 mm of the truth, of a panel how far 95 %
of it would be burnt from where it belongs; ``--untold`` leaves the thickness of card untold.
"""

from __future__ import annotations

import argparse
import pickle
import sys
import time
from pathlib import Path

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent / "helpers")]

NEAR_MM, LONGEST_MM = 0.4, 300.0
GROUNDS = [(212, 208, 200), (60, 62, 66), (150, 152, 150), (46, 74, 62), (176, 140, 100), (96, 108, 132)]
CARDS = [(38, 36, 36), (92, 88, 84), (168, 160, 148), (228, 222, 210), (150, 60, 52), (196, 164, 116)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("patterns", "bed"))
    parser.add_argument("folder", type=Path)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--untold", action="store_true")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    seeds = range(given.first, given.first + given.count)
    if given.what == "patterns":
        _patterns(given.folder, seeds, given.untold)
    else:
        _beds(given.folder, seeds)


def _patterns(folder: Path, seeds: range, untold: bool) -> None:
    """Trace photos of patterns and print how near each is."""
    from nesting.errors import FileError
    from nesting.tracing.cards import trace_cards

    shares, extra = [], 0
    print("photo  what, thickness, s, error told mm | each: share within 0.4 mm, p95, greatest, pieces, holes")
    for seed in seeds:
        photo = folder / f"pattern-{seed:04d}.jpg"
        if not photo.exists():
            _card_photo(seed, photo)
        settings, things = pickle.loads(photo.with_suffix(".truth").read_bytes())
        began = time.perf_counter()
        try:
            found = trace_cards(photo, thickness_mm=None if untold else settings["thick_mm"])
        except FileError as error:
            print(f"{seed:4d}  refused: {error}")
            shares += [0.0] * len(things)
            continue
        seconds = time.perf_counter() - began
        told = []
        left = list(found.parts)
        for thing in things:
            part = min(left, key=lambda one: abs(one.outline.area - Polygon(thing.exterior).area), default=None)
            if part is None:
                told.append("missing")
                shares.append(0.0)
                continue
            left.remove(part)
            share, p95, worst, holes = _near(part, thing)
            shares.append(share)
            told.append(f"{100 * share:5.1f} % {p95:.2f} {worst:.2f} {len(part.curves.outline.nodes)}p {holes}")
        extra += len(left)
        what = f"{settings['reference']}x{settings['sheets']} {'+'.join(settings['kinds'])}"
        print(
            f"{seed:4d}  {what:28s} {settings['thick_mm']:.1f} {seconds:5.1f} {found.error_mm:6.2f} | "
            + "; ".join(told),
            flush=True,
        )
    print(
        f"{len(shares)} patterns: all but {sum(one < 0.95 for one in shares)} have 95 % of the outline within {NEAR_MM}"
        f" mm; {100 * np.mean(shares):.2f} % of all outlines; {extra} things too many"
    )


def _near(part, thing: Polygon) -> tuple[float, float, float, str]:
    """The share of an outline, cutouts with it, within 0.4 mm of the truth, the 95th percentile and the greatest
    distance, as a text what became of its holes."""
    from flat_rings import laid_upon

    outline = Polygon(part.curves.outline.flattened(0.005))
    moved, move = laid_upon(outline, Polygon(thing.exterior))
    there = shapely.points(shapely.get_coordinates(shapely.segmentize(moved.exterior, 0.5)))
    back = shapely.points(shapely.get_coordinates(shapely.segmentize(thing.exterior, 0.5)))
    off = np.concatenate([shapely.distance(there, thing.exterior), shapely.distance(back, moved.exterior)])
    holes = [Polygon(hole) for hole in thing.interiors]
    cut = [Polygon(curve.flattened(0.005)) for curve in (*part.curves.cutouts, *part.curves.stitch)]
    apart, size = [], []
    for hole in holes:
        near = min((move(one) for one in cut), key=lambda one: one.centroid.distance(hole.centroid), default=None)
        if near is not None:
            apart.append(near.centroid.distance(hole.centroid))
            size.append(2 * (np.sqrt(near.area / np.pi) - np.sqrt(hole.area / np.pi)))
    text = f"{len(cut)}/{len(holes)}" + (f" off {max(apart):.2f} wide {max(size, key=abs):+.2f}" if apart else "")
    return float((off < NEAR_MM).mean()), float(np.quantile(off, 0.95)), float(off.max()), text


def _card_photo(seed: int, path: Path, size: tuple[int, int] = (3200, 2400)) -> None:
    """One photo of one to three patterns."""
    from flat_things import PATTERNS, pattern, photograph

    chance = np.random.default_rng([5, seed])
    kinds = [PATTERNS[(seed + at * 3) % len(PATTERNS)] for at in range(1 + seed % 3)]
    things: list[Polygon] = []
    for kind in kinds:
        thing = pattern(kind, chance)
        while any(thing.buffer(14).intersects(other) for other in things):
            thing = affinity.translate(thing, 6 if len(things) == 1 else 0, 0 if len(things) == 1 else 6)
        things.append(thing)
    x0, y0, x1, y1 = shapely.union_all(things).bounds
    things = [affinity.translate(one, -(x0 + x1) / 2, -(y0 + y1) / 2) for one in things]
    ground, card = _unlike(chance)
    reference, sheets = (("a4", 1), ("a4", 2), ("markers", 2), ("letter", 1))[seed % 4]
    page = (215.9, 279.4) if reference == "letter" else (210.0, 297.0)
    a4 = box(-page[0] / 2, -page[1] / 2, page[0] / 2, page[1] / 2)
    lying = []
    for side in ((1,), (1, -1))[sheets - 1]:
        sheet = affinity.rotate(a4, chance.choice([0, 90]) + chance.uniform(-8, 8))
        wide, high = sheet.bounds[2] - sheet.bounds[0], (y1 - y0) / 2
        sheet = affinity.translate(sheet, side * ((x1 - x0) / 2 + 20 + wide / 2), chance.uniform(-high, high) / 2)
        # box begins at its lower right corner and goes on counter-clockwise
        lying.append(np.asarray(sheet.exterior.coords)[[3, 0, 1, 2]])
    around = shapely.union_all([*things, *map(Polygon, lying)]).bounds
    span = max(around[2] - around[0], (around[3] - around[1]) * 4 / 3)
    settings = dict(
        reference=reference,
        sheets=sheets,
        thick_mm=round(chance.uniform(1.0, 2.0), 2),
        colour=card,
        ground_colour=ground,
        ground=str(chance.choice(["plain", "cloth", "concrete"])),
        ground_contrast=chance.uniform(0.1, 0.4),
        extent_mm=span * chance.uniform(1.15, 1.3),
        tilt=chance.uniform(0, 20),
        focal=float(chance.choice([0.68, 0.74, 1.0])),
        distortion=chance.uniform(-0.006, 0.006),
        noise=chance.uniform(1.5, 4),
        blur=chance.uniform(0.6, 1.1),
        gradient=chance.uniform(0, 0.4),
        shadow=float(chance.choice([0.0, chance.uniform(0.1, 0.3)])),
        contact=chance.uniform(0.1, 0.5),
        wall=chance.uniform(0.55, 1.0),
    )
    centre = ((around[0] + around[2]) / 2, (around[1] + around[3]) / 2)
    scene = photograph(things, seed=seed, size=size, lying=lying, centre=centre, **settings)
    scene.save(path, 88, settings["focal"])
    path.with_suffix(".truth").write_bytes(pickle.dumps(({**settings, "kinds": kinds}, things)))


BED_MM, CLICK_PIXELS = (700.0, 500.0), 1.0
"""A bed, and how far corners of it are pointed at from where they are, one standard deviation each way."""
LEATHERS = [(196, 164, 118), (150, 84, 40), (88, 56, 36), (206, 178, 142), (138, 40, 36)]


def _beds(folder: Path, seeds: range) -> None:
    """Find the panel in photos of a bed and print how far its parts would be burnt from where they belong."""
    from shapes import hide_outline

    from nesting.errors import FileError
    from nesting.tracing.bed import find_panel

    misses = []
    print("photo  reference  leather                size mm  s     p95 off mm  fit: 95 % mm  notes")
    for seed in seeds:
        photo = folder / f"bed-{seed:04d}.jpg"
        if not photo.exists():
            bed_photo(seed, photo)
        told, panel, true, expected = pickle.loads(photo.with_suffix(".truth").read_bytes())
        edge = hide_outline(seed, 1200.0, 0).exterior
        began = time.perf_counter()
        try:
            found = find_panel(
                photo, panel, BED_MM, expected, corners=told["corners"], thickness_mm=told["thick_mm"], own=edge
            )
        except FileError as error:
            print(f"{seed:4d}  refused: {error}", flush=True)
            misses.append(np.inf)
            continue
        off = _displaced(panel, found.pose, true)
        misses.append(off)
        x0, y0, x1, y1 = panel.bounds
        print(
            f"{seed:4d}  {'corners' if told['corners'] is not None else 'sheets ':9s} {told['colour']!s:20s}"
            f" {x1 - x0:4.0f} x {y1 - y0:3.0f} {time.perf_counter() - began:5.1f}  {off:6.2f}  {found.off_mm:6.2f}   "
            + "; ".join(found.notes),
            flush=True,
        )
    near = np.array(misses) <= 1.0
    print(f"{len(misses)} photos: in {near.sum()} ({100 * near.mean():.0f} %) 95 % of the panel within 1 mm")


def _displaced(panel: Polygon, found, true) -> float:
    """How far 95 % of a panel's area would be burnt from where it belongs, mm."""
    x0, y0, x1, y1 = panel.bounds
    grid = np.stack(np.meshgrid(np.linspace(x0, x1, 40), np.linspace(y0, y1, 40)), axis=-1).reshape(-1, 2)
    grid = grid[shapely.contains_xy(panel, grid)]
    return float(np.quantile(np.hypot(*(_posed(grid, found) - _posed(grid, true)).T), 0.95))


def _posed(places, pose):
    angle, x, y = pose
    cos, sin = np.cos(angle), np.sin(angle)
    return places @ np.array([[cos, sin], [-sin, cos]]) + (x, y)


def bed_photo(seed: int, path: Path, size: tuple[int, int] = (3200, 2400)) -> None:
    """One photo of a panel on a honeycomb bed; with it what is told, the panel as it was traced, how it lies and how
    its card lays it."""
    from flat_things import honeycomb, photograph
    from shapes import hide_outline

    chance = np.random.default_rng([9, seed])
    sheets = seed % 3 == 2
    wide, high = (chance.uniform(180, 270), chance.uniform(120, 180)) if sheets else (
        chance.uniform(250, 600), chance.uniform(150, 400)
    )  # fmt: skip
    hide = hide_outline(seed, 1200.0, 0)
    x0, y0, _, y1 = hide.bounds
    # a piece of the hide's edge: knife lines on the other sides
    corner = (x0 + chance.uniform(0, 40), (y0 + y1) / 2 - high * chance.uniform(0.2, 0.8))
    window = shapely.box(corner[0], corner[1], corner[0] + wide, corner[1] + high)
    traced = max(shapely.get_parts(hide.intersection(window)), key=lambda part: part.area).simplify(0.5)
    # a knife follows each line to a mm, at either end
    left, low, right, up = corner[0], corner[1], corner[0] + wide, corner[1] + high
    a, b, c, d, e, f, g, h = chance.uniform(-1, 1, 8)
    cut = Polygon([(left + a, low + b), (right + c, low + d), (right + e, up + f), (left + g, up + h)])
    panel = max(shapely.get_parts(hide.intersection(cut)), key=lambda part: part.area)
    turn = np.radians(chance.choice([0, 90, 180, 270]) if wide < 480 and not sheets else chance.choice([0, 180]))
    expected = _into(traced, turn, sheets)
    loose = 2.0 if seed % 4 else 12.0
    while True:
        angle = turn + np.radians(chance.normal(0, loose / 3))
        _, x, y = _into(traced, angle, sheets)
        true = (angle, x + chance.uniform(-1, 1) * loose, y + chance.uniform(-1, 1) * loose)
        lying = affinity.translate(affinity.rotate(panel, np.degrees(angle), (0, 0)), *true[1:])
        if shapely.box(0, 0, *BED_MM).buffer(0.5).contains(lying):
            break
    settings = dict(
        thick_mm=round(chance.uniform(1.2, 3.5), 2),
        colour=LEATHERS[chance.integers(len(LEATHERS))],
        extent_mm=chance.uniform(820, 950),
        tilt=chance.uniform(0, 20),
        focal=float(chance.choice([0.68, 0.74])),
        distortion=chance.uniform(-0.003, 0.003),
        noise=chance.uniform(1.5, 4),
        blur=chance.uniform(0.6, 1.2),
        gradient=chance.uniform(0, 0.4),
        shadow=float(chance.choice([0.0, chance.uniform(0.1, 0.3)])),
        contact=chance.uniform(0.1, 0.5),
        wall=chance.uniform(0.55, 1.0),
        skin=1.0,
    )
    a4 = np.array([(0, 0), (210, 0), (210, 297), (0, 297)], dtype=float)
    lain = [a4 + chance.uniform(0, 0.4, 2), np.array(BED_MM) - a4 - chance.uniform(0, 0.4, 2)] if sheets else []
    scene = photograph(
        [lying], seed=seed, size=size, reference="markers", lying=lain, centre=np.array(BED_MM) / 2,
        painted=honeycomb(BED_MM, chance), ground="plain", **settings,
    )  # fmt: skip
    scene.save(path, 88, settings["focal"])
    bed = np.array([(0, 0), (BED_MM[0], 0), BED_MM, (0, BED_MM[1])])
    told = {**settings, "corners": None if sheets else scene.to_pixels(bed) + chance.normal(0, CLICK_PIXELS, (4, 2))}
    path.with_suffix(".truth").write_bytes(pickle.dumps((told, traced, true, expected)))


def _into(panel: Polygon, angle: float, sheets: bool):
    """The pose by which a panel turned so lies in the corner of the stops, or where sheets leave room."""
    moved = shapely.transform(panel, lambda places: _posed(places, (angle, 0.0, 0.0)))
    x0, y0, x1, _ = moved.bounds
    return (float(angle), float(BED_MM[0] - x1 - 4 if sheets else 1.0 - x0), float(1.0 - y0))


def _unlike(chance) -> tuple[tuple, tuple]:
    """Colours of a ground and a card that a person would lay on it."""
    while True:
        ground, card = GROUNDS[chance.integers(len(GROUNDS))], CARDS[chance.integers(len(CARDS))]
        if np.abs(np.subtract(ground, card)).max() > 70:
            return ground, card


if __name__ == "__main__":
    main()
