"""Job folders made at random, awkward on purpose, and what must hold of whatever becomes of them.

A folder is made from a number alone, be it hypothesis that draws it or a program that counts.
"""

from __future__ import annotations

import json
import math
import random
import re
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from hypothesis import strategies as st
from shapely.geometry import Polygon

from nesting.app.actions.bed import export_layout
from nesting.app.actions.job import check_file, write_plan
from nesting.app.proof import prove
from nesting.costs.figures import figures
from nesting.engine import Stop
from nesting.errors import FileError
from nesting.files.job import read_job
from nesting.files.layout import as_written, read_stated, write_layout
from nesting.laser.export import export
from nesting.planning.limits import PlanLimits
from nesting.planning.plan import plan
from nesting.referee.reasons import untrue_reasons
from nesting.referee.rules import check

FEW_POINTS, MANY_POINTS = 60, 5000
HASTY = PlanLimits(start_iterations=1, least_squeeze_iterations=1, force_iterations=1, most_ways=4, force_tries=1)
"""Little is searched: what is proved is not how good a layout is."""


@dataclass(frozen=True)
class Outcome:
    """What became of a job: ``planned`` or ``refused``, and how many parts have a place of how many."""

    what: str
    placed: int = 0
    wanted: int = 0
    detail: str = ""


def job_folders(most_points: int = FEW_POINTS) -> st.SearchStrategy[dict[str, str]]:
    """Texts of all files of a job folder, by name."""
    return st.integers(0, 2**48 - 1).map(lambda number: job_of(number, most_points))


def job_of(number: int, most_points: int = FEW_POINTS) -> dict[str, str]:
    """The job of a number; every fifth has parts longer than most beds."""
    files = random_job(random.Random(number), most_points)
    return _with_belts(random.Random(f"belts {number}"), files) if number % 5 == 3 else files


def random_job(source: random.Random, most_points: int = FEW_POINTS) -> dict[str, str]:
    """A folder with a workshop, one to three products, one to three hides and one to four orders."""
    files, products, names = {}, [], []
    for number in range(1, source.randint(1, 3) + 1):
        name = f"product {number}"
        parts = [f"part {letter}" for letter in "abc"[: source.randint(1, 3)]]
        files[f"patterns/{number}.svg"] = _pattern(source, parts, most_points)
        products.append(_product(source, name, f"patterns/{number}.svg", parts))
        names.append(name)
    files["products.toml"] = "\n".join(products)
    files["workshop.toml"] = _workshop(source)
    for number in range(1, source.choice([1, 1, 2, 3]) + 1):
        files[f"hides/h{number}.json"] = json.dumps(_hide(source, f"h{number}", most_points))
    rows = {(f"{1000 + source.randint(1, 3)}", source.choice(names)) for _ in range(source.randint(1, 4))}
    lines = [
        f"{order},{name},{source.choice([1, 1, 2, 3, 6])},2026-03-{source.randint(1, 28):02},{source.randint(1, 5)},,"
        for order, name in sorted(rows)
    ]
    files["orders.csv"] = "order,product,quantity,due,priority,thread,note\n" + "\n".join(lines) + "\n"
    return files


def _with_belts(source: random.Random, files: dict[str, str]) -> dict[str, str]:
    """The job with some parts drawn out to belts, and what becomes of them said of some products."""
    changed = dict(files)
    for name, text in files.items():
        if name.startswith("patterns/"):
            wide = f"scale({source.choice([1, 3, 6])} 1)"
            changed[name] = re.sub(r"(translate\(50 \d+\))", rf"\1 {wide}", text, count=1).replace(
                'width="400mm"', 'width="900mm"'
            )
            changed[name] = changed[name].replace('viewBox="0 0 400 900"', 'viewBox="0 0 900 900"')
    ways = ["", 'longer = "two loads"\n', 'longer = "knife"\n', 'longer = "refuse"\n']
    tables = files["products.toml"].split("[[product.part]]")
    said = [re.sub("(same_hide = )", lambda found: source.choice(ways) + found[1], table) for table in tables]
    return changed | {"products.toml": "[[product.part]]".join(said)}


def write_files(files: dict[str, str], folder: Path) -> None:
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")


def run_job(files: dict[str, str], kind: str = "svg", pages: bool = False) -> Outcome:
    """Read, plan, prove, write, read back and export a job; with its report, pictures and cards where asked.

    Raises
    ------
    AssertionError
        When a layout is false, a part is lost, or an error is no single line that names its file. Any exception but a
        FileError is a fault too.
    """
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        write_files(files, folder)
        try:
            job = read_job(folder)
        except FileError as error:
            for one in error.all:
                told = str(one)
                assert told.strip() and "\n" not in told and len(told) < 2000, told
                assert any(name in told for name in (*files, "hides", "patterns")) and "Traceback" not in told, told
            return Outcome("refused", detail=str(error.all[0]).replace(made, ""))
        wanted: Counter[tuple[str, str, str, bool]] = Counter()
        for line in job.orders:
            product = next(product for product in job.products if product.name == line.product)
            for part in product.parts:
                for mirrored in (False, True) if part.mirrored_twin else (False,):
                    wanted[line.order, line.product, part.name, mirrored] += line.quantity * part.count
        layout = plan(job, Stop(iterations=1), workers=1, limits=HASTY)
        found = Counter((t.order, t.product, t.part, t.mirrored) for t in (*layout.placements, *layout.unplaced))
        assert found == wanted, (found - wanted, wanted - found)
        if pages:
            written = write_plan(layout, folder / "out")
            assert written.findings == [], written.findings
        else:
            layout = as_written(layout)
            assert check(layout) == [], check(layout)
            write_layout(folder / "out" / "layout.json", layout, figures(layout))
        stated = read_stated(folder / "out" / "layout.json")
        proved = prove(stated, folder)
        assert not proved.findings and not proved.changes, proved
        assert (untrue := untrue_reasons(stated.layout)) == [], untrue
        assert stated.layout.mark == as_written(layout).mark
        if pages:
            export_layout(stated.layout, folder / "out" / "cut", folder, kind=kind)
            checked = check_file(folder)
            assert not checked.findings and not checked.stale, checked
        else:
            # proves what it writes by reading it back
            export(stated.layout, folder / "out" / "cut", kind=kind)
        return Outcome("planned", len(layout.placements), sum(wanted.values()))


def _shape(source: random.Random, width: float, height: float, most_points: int) -> tuple[str, list[list[float]]]:
    """Path data of an awkward closed shape in a box of about so many mm, and its corners."""
    kind = source.choice(["box", "box", "ell", "star", "gear", "spike", "ring", "round", "sliver", "bean", "needle"])
    w, h = width, height
    if kind == "ell":
        a, b = source.uniform(0.2, 0.8), source.uniform(0.2, 0.8)
        corners = [[0, 0], [w, 0], [w, b * h], [a * w, b * h], [a * w, h], [0, h]]
    elif kind == "star":
        count = source.randint(3, 14)
        radii = [source.uniform(0.25, 0.5) for _ in range(count)]
        corners = [_polar(w, h, n / count, radius) for n, radius in enumerate(radii)]
    elif kind == "gear":
        count = source.randint(8, most_points)
        teeth, deep = source.randint(2, 40), source.uniform(0.001, 0.15)
        turns = np.arange(count) / count
        radii = 0.5 - deep * (1 + np.sin(2 * math.pi * teeth * turns)) / 2
        corners = [_polar(w, h, turn, radius) for turn, radius in zip(turns.tolist(), radii.tolist())]
    elif kind == "spike":
        at, wide, long = source.uniform(0.2, 0.6) * w, source.choice([0.05, 0.3, 2.0]), source.uniform(0.05, 0.9) * h
        way = source.choice([-1, 1])
        corners = [[0, 0], [at, 0], [at + wide / 2, -way * long * 0.9], [at + wide, 0], [w, 0], [w, h], [0, h]]
    elif kind == "ring":
        wall, gap = 0.2 * min(w, h), source.choice([0.01, 0.05, 0.2, 0.5, 3.0])
        corners = [[0, 0], [w, 0], [w, h / 2 - gap / 2], [w - wall, h / 2 - gap / 2], [w - wall, wall], [wall, wall]]
        corners += [[x, h - y] for x, y in corners[::-1]]
    elif kind == "sliver":
        corners = [[0, 0], [w, 0], [w, source.uniform(0.5, 3.0)], [0, source.uniform(0.5, 3.0)]]
    elif kind == "needle":
        corners = [[0, 0], [w, source.uniform(0.2, 2.0)], [0, source.uniform(0.5, 3.0)]]
    else:
        corners = [[0, 0], [w, 0], [w, h], [0, h]]
    if kind == "round":
        radius = min(w, h) / 2
        turns = [2 * math.pi * n / 24 for n in range(24)]
        corners = [[w + radius * (0.98 * math.cos(t) - 1), radius * (1 + 0.98 * math.sin(t))] for t in turns]
        data = f"M {_at(w, radius)} A {radius:.4f} {radius:.4f} 0 0 1 {_at(w - 2 * radius, radius)} "
        return data + f"A {radius:.4f} {radius:.4f} 0 0 1 {_at(w, radius)} Z", corners
    if kind == "bean":
        bends = [source.uniform(-0.3, 0.3) for _ in range(4)]
        corners = [[0, 0.3 * h], [w, 0.3 * h], [w, 0.7 * h], [0, 0.7 * h]]
        data = f"M 0,0 C {_at(w / 3, bends[0] * h)} {_at(2 * w / 3, bends[1] * h)} {_at(w, 0)} L {_at(w, h)} "
        return data + f"C {_at(2 * w / 3, h + bends[2] * h)} {_at(w / 3, h + bends[3] * h)} {_at(0, h)} Z", corners
    return "M " + " L ".join(_at(x, y) for x, y in corners) + " Z", corners


def _within(source: random.Random, area: Polygon, away: float) -> tuple[float, float] | None:
    """A place in an area that keeps away from its edge, more often than not just so far; now and then any place."""
    if source.random() < 0.01:
        return source.uniform(-5, 50), source.uniform(-5, 50)
    room = shapely.make_valid(area).buffer(-away)
    if room.is_empty:
        return None
    if source.random() < 0.6:
        place = room.boundary.interpolate(source.random(), normalized=True)
    else:
        place = source.choice([room.centroid, room.representative_point()])
        place = place if room.covers(place) else room.representative_point()
    return place.x, place.y


def _polar(w: float, h: float, turn: float, radius: float) -> list[float]:
    return [w / 2 + w * radius * math.cos(2 * math.pi * turn), h / 2 + h * radius * math.sin(2 * math.pi * turn)]


def _at(x: float, y: float) -> str:
    return f"{x:.4f},{y:.4f}"


def _pattern(source: random.Random, parts: list[str], most_points: int) -> str:
    groups = []
    for row, name in enumerate(parts):
        w, h = source.choice([8, 20, 45, 90, 140]), source.choice([8, 20, 45, 80])
        data, corners = _shape(source, w, h, most_points)
        rows = [f'<path id="outline-{row}" d="{data}"/>']
        area = Polygon(corners)
        for number in range(source.choice([0, 0, 1, 2, 4])):
            size = source.choice([0.1, 0.5, 2.0, 5.0])
            label = source.choice(["stitch", "cutout", "engrave", "engrave fill", "zone C", "zone E", "fold"])
            spot = _within(source, area, 1.5 * size + source.choice([0.03, 0.2, 1.0]))
            if spot is not None:
                rows.append(_inner(source, label, f"{row}-{number}", *spot, size))
        groups.append(f'<g id="{name}" transform="translate(50 {100 + 250 * row})">' + "".join(rows) + "</g>")
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
        'width="400mm" height="900mm" viewBox="0 0 400 900">' + "".join(groups) + "</svg>\n"
    ).replace("data-label", "inkscape:label")


def _inner(source: random.Random, label: str, number: str, x: float, y: float, size: float) -> str:
    head = f'data-label="{label}" id="{label.split()[0]}-{number}"'
    if label == "fold" or (label == "stitch" and source.random() < 0.3):
        return f'<path {head} d="M {_at(x - size, y)} L {_at(x + size, y)}"/>'
    if source.random() < 0.5:
        return f'<circle {head} cx="{x:.4f}" cy="{y:.4f}" r="{size / 2:.4f}"/>'
    tilt = source.uniform(-1, 1)
    corners = [(x - size, y - size), (x + size, y - size * tilt), (x + size * tilt, y + size)]
    return f'<path {head} d="M {" L ".join(_at(*corner) for corner in corners)} Z"/>'


def _product(source: random.Random, name: str, pattern: str, parts: list[str]) -> str:
    some = source.random
    lines = ["[[product]]", f'name = "{name}"', f'pattern = "{pattern}"']
    lines.append(f'same_hide = "{source.choice(["no", "no", "piece", "order"])}"')
    for key, odds in (("filler", 0.15), ("partial", 0.2), ("flesh_out", 0.15), ("same_lot", 0.1)):
        lines += [f"{key} = true"] if some() < odds else []
    for part in parts:
        lines += ["[[product.part]]", f'name = "{part}"', f"count = {source.choice([1, 1, 2, 3])}"]
        lines.append(f'grade = "{source.choice("ABCDE")}"')
        if some() < 0.4:
            kind = source.choice(["along", "across", "fixed"])
            lines += [f'direction = "{kind}"', f"turn = {source.choice(['true', 'false'])}"]
            lines += [f"tolerance_deg = {source.choice([0, 0.5, 10, 45, 90])}"] if kind != "fixed" else []
        if some() < 0.25:
            least = source.choice([0.8, 1.2, 1.4])
            lines.append(f"thickness_mm = [{least}, {least + source.choice([0.1, 0.4, 1.5])}]")
        lines += ["mirrored_twin = true"] if some() < 0.2 else []
    return "\n".join(lines) + "\n"


def _workshop(source: random.Random) -> str:
    wide, high = source.choice([(600, 400), (600, 400), (300, 200), (180, 120), (1300, 900)])
    rows = [
        "[machine]",
        f"bed_width_mm = {wide}",
        f"bed_height_mm = {high}",
        "rated_w = 60",
        f'bed_stop = "{source.choice(["bottom left", "top left", "bottom right", "top right"])}"',
        f"bed_margin_mm = {source.choice([0, 0, 5])}",
        f'feed_through = "{source.choice(["none", "none", "none", "width", "height"])}"',
        "[margins]",
        f"kerf_mm = {source.choice([0, 0.1, 0.2, 0.2, 0.35, 1.0])}",
        f"gap_mm = {source.choice([0, 0.5, 1, 2])}",
        f"edge_mm = {source.choice([0, 1, 3, 8])}",
        f"flaw_mm = {source.choice([0, 1, 2])}",
        "[thickness]",
        f"confidence = {source.choice([0.6, 0.9, 0.99])}",
        f"spread_mm = {source.choice([0.02, 0.1, 0.3])}",
    ]
    for number in range(source.choice([0, 1, 2, 2, 3, 3])):
        thick = 1.0 + 0.5 * number
        rows += ["[[setting]]", f'name = "row {number}"', f"thickness_mm = {thick}"]
        rows += [f"speed_mm_s = {30 - 8 * number}", f"power_percent = {50 + 10 * number}", f"passes = {1 + number}"]
        if source.random() < 0.6:
            rows += [f"thinnest_mm = {thick - 0.3:.2f}", f"thickest_mm = {thick + 0.4:.2f}"]
    if source.random() < 0.5:
        rows += ["[[setting]]", 'name = "mark"', "thickness_mm = 1.5", "speed_mm_s = 200", "power_percent = 15"]
        rows += ["passes = 1", 'operation = "engrave shallow"']
        rows += ["line_spacing_mm = 0.2"] if source.random() < 0.5 else []
    return "\n".join(rows) + "\n"


def _hide(source: random.Random, name: str, most_points: int) -> dict[str, object]:
    w, h = source.choice([60, 200, 320, 700, 1100]), source.choice([60, 200, 320, 600])
    _, corners = _shape(source, w, h, most_points)
    facts: dict[str, object] = {"format": "nesting-hide", "version": 1, "id": name, "outline": corners}
    facts["tannage"] = source.choice(["vegetable"] * 6 + ["unknown", "chrome"])
    if source.random() < 0.7:
        facts["nominal_mm"] = source.choice([1.0, 1.2, 1.5, 2.2])
    near = source.choice([0.05, 1.0, 5.0])
    if source.random() < 0.3:
        spot = _within(source, Polygon(corners), 3 + near)
        if spot is not None:
            x, y = spot
            facts["holes"] = [[[x - 3, y], [x + 2, y - 2], [x + 2, y + 2]]]
    zones, leather = [], Polygon(corners)
    for _ in range(source.choice([0, 0, 1, 2, 5])):
        size = source.choice([0.3, 5, 40])
        x, y = _within(source, leather, 0.0) or (0, 0)
        zone = [[x, y], [x + size, y + source.uniform(-1, 1) * size], [x + size / 2, y + size]]
        zones.append({"grade": source.choice("BCDE"), "kind": "scar", "polygon": zone})
    facts["zones"] = zones
    readings = []
    for _ in range(source.choice([0, 0, 1, 3, 8, 30])):
        mm = source.choice([source.gauss(1.3, 0.1), source.gauss(1.3, 0.1), source.uniform(0.8, 3.0)])
        place = source.choice(corners) if source.random() < 0.1 else _within(source, leather, 1.0) or (0, 0)
        readings.append({"x": place[0], "y": place[1], "mm": round(max(mm, 0.3), 2)})
        if source.random() < 0.1:
            readings.append(dict(readings[-1], mm=round(source.uniform(0.8, 3.0), 2)))
    facts["readings"] = readings
    if source.random() < 0.5:
        facts["backbone"] = [[0, h / 2], [w, h / 2 + source.uniform(-30, 30)]]
    if source.random() < 0.2:
        facts["error_mm"] = {"x": [0, w], "y": [0, h], "mm": [[0.3, 1.0], [0.5, 2.0]]}
    if source.random() < 0.2:
        x, y = _within(source, leather, 1.0) or (0, 0)
        facts["doubts"] = [{"kind": "slit", "polygon": [[x, y], [x + 20, y + 1], [x + 19, y + 3]]}]
    if source.random() < 0.3:
        facts["lot"] = source.choice(["a", "b"])
    if source.random() < 0.3:
        facts["price"] = "40.00"
    return facts
