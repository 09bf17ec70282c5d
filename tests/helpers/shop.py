"""An invented shop with a stock book, and layouts put by hand at random, without any search."""

import random

from shapely.geometry import Polygon

from nesting.files.hides import write_hide
from nesting.files.job import read_job
from nesting.files.layout import write_layout
from nesting.geometry import place
from nesting.leather.knife import cut_across, cut_up, divide, reach, same_leather
from nesting.model import Hide, Layout, Panel, Placement, Unplaced
from nesting.planning.wishes import wanted

WORKSHOP = """
[machine]
bed_width_mm = 320
bed_height_mm = 220
rated_w = 40

[prices]
currency = "EUR"
machine_per_hour = "14"
labour_per_hour = "28"
labour_minutes_per_part = 1.5
masking_per_m2 = "3.20"

[offcuts]
smallest_mm = 40

[[setting]]
name = "1.5 mm"
thickness_mm = 1.5
speed_mm_s = 10
power_percent = 60
passes = 1
thinnest_mm = 1.0
thickest_mm = 2.0
"""
PRODUCTS = """
[[product]]
name = "key fob"
pattern = "patterns/fob.svg"
price = "14.00"

[[product.part]]
name = "fob"

[[product.part]]
name = "loop"
"""
PATTERN = """
<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm" viewBox="0 0 80 60">
  <g id="fob"><path id="outline" d="M 0 0 H 80 V 30 H 0 Z"/><circle id="cutout" cx="10" cy="15" r="4"/></g>
  <g id="loop"><path id="outline" d="M 0 40 H 40 V 55 H 0 Z"/></g>
</svg>
"""
HEADER = "order,product,quantity,due,priority,thread,note\n"
ORDERS = HEADER + "1,key fob,2,2026-01-05,1,,\n"


def leather(name, width=620, height=200, price="20.00", **facts):
    """A hide file's hide: four sides, one of them aslant."""
    outline = Polygon([(0, 0), (width, 0), (width - 20, height), (0, height - 15)])
    from decimal import Decimal

    return Hide(name, outline, nominal_mm=1.5, tannage="vegetable", price=Decimal(price) if price else None, **facts)


def shop(folder, hides=None, orders=ORDERS):
    """The plain files of a job folder."""
    files = {"workshop.toml": WORKSHOP, "products.toml": PRODUCTS, "orders.csv": orders, "patterns/fob.svg": PATTERN}
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)
    for hide in hides or [leather("bend")]:
        write_hide(folder / "hides" / f"{hide.id}.json", hide)
    return folder


def laid(job, chance=None, before=None, tries=60):
    """A layout of a job by luck: hides parted by upright knife lines, parts put where there is room.

    What is burnt in a layout ``before`` stays.
    """
    chance = chance or random.Random(0)
    wishes = wanted(job)
    by_key = {wish.key: wish for wish in wishes}
    burnt = () if before is None else before.burnt
    old = [] if before is None else [p for p in before.placements if before.is_burnt(p)]
    placements = [part for part in old if part.key in by_key]
    lost = [*(() if before is None else before.lost), *(part for part in old if part.key not in by_key)]
    gone = {one.panel.hide for one in burnt}
    hides = [*job.hides, *(h for h in (() if before is None else before.hides)
                           if h.id in gone and h.id not in {x.id for x in job.hides})]  # fmt: skip
    panels, cuts, room = [one.panel for one in burnt], [], []
    for hide in hides:
        shut = [one.panel for one in burnt if one.panel.hide == hide.id]
        lines = [cut for cut in before.cuts if cut.hide == hide.id] if shut else _lines(hide, chance)
        cuts += lines
        if hide not in job.hides:
            continue
        taken = {panel.id for panel in shut}
        for bit in cut_up(hide, tuple(lines)):
            if not any(same_leather(bit, panel.polygon) for panel in shut):
                name = next(str(n) for n in range(1, 99) if str(n) not in taken)
                taken.add(name)
                room.append((hide, Panel(name, hide.id, bit), []))
    done, margins = {part.key for part in placements}, job.workshop.margins
    unplaced = []
    for wish in wishes:
        if wish.key in done:
            continue
        put = _put(wish, room, chance, margins, tries)
        if put is None:
            unplaced.append(Unplaced(*wish.key[:3], wish.piece, wish.copy, wish.mirrored, "no room by luck"))
        else:
            placements.append(put)
    panels += [panel for _, panel, parts in room if parts]
    count = {}
    for wish in wishes:
        count[wish.key[:3]] = count.get(wish.key[:3], 0) + 1
    used = {part.hide for part in (*placements, *lost)} | gone
    settings = {hide.id: job.workshop.settings[0] for hide in hides}
    return Layout(
        job.workshop, tuple(hides), tuple(panels), settings, count, tuple(placements), tuple(unplaced),
        cuts=tuple(cut for cut in cuts if cut.hide in used), lines=job.orders, burnt=burnt, lost=tuple(lost),
        selling_prices=job.selling_prices, partial=tuple(product.name for product in job.products),
    )  # fmt: skip


def _lines(hide, chance):
    """Upright knife lines, no farther apart than the bed is long."""
    low, high = reach(hide.outline, 0.0)
    lines, at = [], low
    bit = hide.outline
    while high - at > 310:
        at += chance.uniform(180, 300)
        lines.append(cut_across(hide.id, bit, 0.0, at))
        bit = max(divide(bit, 0.0, at)[1], key=lambda one: one.area)
    return lines


def _put(wish, room, chance, margins, tries):
    for hide, panel, parts in chance.sample(room, len(room)):
        left, low, right, high = panel.polygon.bounds
        inner = panel.polygon.buffer(-margins.edge_mm - 0.01)
        for _ in range(tries // len(room) + 1):
            x, y, angle = chance.uniform(left, right), chance.uniform(low, high), chance.choice([0.0, 90.0, 33.0])
            outline = place(wish.drawn.outline, x, y, angle)
            if inner.covers(outline) and all(outline.distance(o) > margins.between_mm + 0.01 for o in parts):
                parts.append(outline)
                drawn = wish.drawn
                return Placement(
                    hide.id, panel.id, wish.order, wish.product.name, wish.part.name, wish.piece, wish.copy,
                    drawn.grade, x, y, angle, wish.mirrored, wish.match, drawn.direction, drawn.thickness_mm, outline,
                    cutouts=tuple(place(c, x, y, angle) for c in drawn.cutouts), filler=wish.product.filler,
                )  # fmt: skip
    return None


def plan(book, chance=None, told=True):
    """Plan what the book has to plan, and write the layout as the planner does."""
    job = read_job(book.folder)
    job = book.job(job.workshop, job.products)
    layout = laid(job, chance, book.to_go_on(book.layout()))
    write_layout(book.folder / "out" / "layout.json", layout, {})
    layout = book.layout()
    if told:
        book.planned(layout, written=True)
    return layout
