"""A folder to start from: every file a job needs, every key with its meaning, unit and default."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..model import Part, units
from ..model.workshop import FIRST_W
from .orders import HEADER
from .patterns import Drawing

WORKSHOP = """\
# The workshop: what stays the same from week to week. Lengths are mm; text such as "20 in", "4.5 oz", "$14" works too.
# A line that begins with # is a remark: take the # away to use what stands there. What is left out has the value shown.

units = "{units}"                # what you are shown first: "mm", or "inch" for inches and ounces

[machine]
name = "laser"
# bed_width_mm = {width}          # the machine's working area: put yours here
# bed_height_mm = {height}
# rated_w = {watts}                 # rated power of the tube or diode, W
# bed_margin_mm = 0.0            # out of use along each side of the bed
# bed_stop = "bottom left"       # the corner where the bed's stops meet: bottom or top, left or right
# feed_through = "none"          # leather may be longer than the bed along its "width" or "height"
# overhang_mm = 0                # how far it may then reach over either end of the bed; 0: as far as it likes
# travel_mm_s = 200              # how fast the head moves between cuts, mm/s (for the times)
# engrave_mm_s = 100             # how fast it engraves, mm/s (for the times)
# acceleration_mm_s2 = 1000      # how fast it speeds up, mm/s2; 0 leaves that out of the times
# load_minutes = 5               # to lay and take away one bed load, minutes

[margins]
# kerf_mm = 0.2                  # width of leather the beam takes away; nesting kerf measures it
gap_mm = 1.0                     # leather left between two cuts
edge_mm = 3.0                    # leather left along the hide's edge
knife_mm = 1.5                   # leather left along knife lines, where that is less
flaw_mm = 1.0                    # leather left around flaws

[prices]
currency = "{currency}"                 # ISO 4217 code: EUR, USD, GBP ... all money here is in it
# machine_per_hour = "0"         # the laser, an hour: burning, and waiting while it is loaded
# labour_per_hour = "0"          # your own time, an hour
labour_minutes_per_part = 0.0    # your time for each part: picking, cleaning, sorting
# masking_per_m2 = "0"           # masking tape or paper, a square metre
# offcut_credit = 0.5            # share of a kept offcut's price by area that is credited back, 0 to 1

[offcuts]
smallest_mm = 60                 # narrower leather is scrap

[thickness]
confidence = 0.9                 # how sure the thickness under a part must be, 0.5 to below 1
spread_mm = 0.15                 # how much leather varies about its nominal thickness where nobody measured, mm

[engraving]
depth = "shallow"                # or "deep": which tested rows below engraving uses

# The colours of lines in files to burn, as your machine's program tells them apart.
# [colours]
# engrave = "#0072B2"
# stitch = "#009E73"
# cutout = "#E69F00"
# outline = "#D55E00"
# guide = "#000000"

# What colours, layers or names in your drawings mean: outline, cutout, stitch, engrave, fold, zone C or notes.
# [drawings]
# "#ff0000" = "outline"
# "crease" = "fold"

# The setting book: one [[setting]] for every test you cut. It is empty on purpose: a setting of another machine may
# set fire to leather. To find one: nesting swatch {folder} --thickness 1.8 --speed 10 --power 50, cut the swatch with
# extraction on and never alone, then nesting swatch record {folder} --swatch FILE --best C3 --clean 'B3 C3' writes a
# row like this:
# [[setting]]
# name = "vegetable 1.8"
# thickness_mm = 1.8             # of the leather it was tested on; "4.5 oz" works too
# speed_mm_s = 9                 # mm/s
# power_percent = 72             # % of the machine's power
# passes = 1
# thinnest_mm = 1.6              # thinnest and thickest leather in which it came out clean; 10 % either way if left out
# thickest_mm = 2.0
# operation = "cut"              # or "engrave shallow", "engrave deep"
# leather = ""                   # the name of the leather it is for, as hides have it; every leather if empty
# line_spacing_mm = 0.0          # of an engraving that fills closed shapes, mm; 0 follows their edges
# basis = "tested"               # where the row comes from, in words

# What a piece costs besides, one [[cost]] each: thread, hardware, boxes, fees, taxes.
# [[cost]]
# name = "thread"
# amount = "0.12"
# per = "piece"                  # or "part", "metre of stitching" (each part's stitch holes), "percent of price"
# product = ""                   # only for this product; all if empty
"""

PRODUCTS = """\
# What the workshop makes: one [[product]] each, with a [[product.part]] below it for every part of its drawing.
# Grades of leather: A is flawless and may show; B has marks seen only close by; C has marks a lining or a fold hides;
# D is for the inside of linings; E is still leather (belly, brand, scar). A part takes its grade and better.
"""

PRODUCT_KEYS = """\
# same_hide = "no"               # "piece": all parts of one piece from one hide; "order": of the whole order line
# same_lot = false               # all of the order line from hides of one lot
# filler = false                 # cut only from what is left over
# partial = false                # a piece may be cut in part; otherwise whole or not at all
# price = "0"                    # what one piece sells for; left out: not known
# burn = true                    # needs leather that may be burnt; left out: where it has stitch holes or engraving
# longer = "knife"               # parts longer than the bed: cut by knife by a paper template; "two loads": burnt, the
#                                # leather moved on between them; "refuse": left out
# flesh_out = false              # the flesh side shows: parts are laid mirrored
# leather = ""                   # what leather it asks for, as hides say it of themselves; a part may say it too
# colour = ""
# finish = ""
# tannage = ""                   # vegetable (veg), chrome, synthetic
"""

PART_KEYS = """\
# grade = "A"                    # the lowest grade it accepts, A to E
# direction = "free"             # to the backbone: "along", "across" or "fixed" (as drawn)
# tolerance_deg = 0.0            # how far it may turn from that, degrees
# turn = true                    # it may also lie the other way round
# thickness_mm = [1.2, 1.8]      # least and greatest; "3-4.5 oz" works too; left out: any
# mirrored_twin = false          # each comes with a twin flipped left to right
# mark_folds = false             # mark its fold lines lightly instead of only showing them
"""

SLEEVE = """\
<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"
     width="120mm" height="170mm" viewBox="0 0 120 170" fill="none" stroke-width="0.3">
  <!-- One group a part, its label the part's name; in it lines labelled outline, cutout, stitch, engrave or fold. -->
  <g id="sleeve" inkscape:label="sleeve">
    <path id="outline" inkscape:label="outline" stroke="#D55E00"
      d="M14,10 H106 A4,4 0 0 1 110,14 V156 A4,4 0 0 1 106,160 H14 A4,4 0 0 1 10,156 V14 A4,4 0 0 1 14,10 Z"/>
    <circle id="cutout" inkscape:label="cutout" stroke="#E69F00" cx="60" cy="22" r="6"/>
    <path id="fold" inkscape:label="fold" stroke="#CC79A7" stroke-dasharray="4 2" d="M10,85 H110"/>
    <g id="stitch" inkscape:label="stitch" stroke="#009E73">
{holes}
    </g>
  </g>
</svg>
"""


@dataclass(frozen=True)
class Listed:
    """A drawing to make a product of: where its pattern lies in the folder, and how it was understood, if it was."""

    pattern: str
    drawing: Drawing | None


def starter_files(
    folder: Path, listed: Sequence[Listed] = (), first: str = units.UNITS[0], sample: bool = True
) -> dict[str, str]:
    """The text of every file of a folder to start from.

    Parameters
    ----------
    folder : Path
        Named in the remarks.
    listed : sequence of Listed
        The drawings at hand.
    first : str
        Units to show first: ``inch`` also begins with a bed in inches and dollars.
    sample : bool
        An invented sleeve is made and ordered where there are no drawings.

    Returns
    -------
    dict of str to str
        By path from the folder.
    """
    inch = first == "inch"
    made = {
        "workshop.toml": WORKSHOP.format(
            folder=folder,
            units=first,
            width='"20 in"' if inch else 500,
            height='"12 in"' if inch else 300,
            watts=f"{FIRST_W:g}",
            currency="USD" if inch else "EUR",
        )
    }
    sample = sample and not listed
    if sample:
        holes = [(x, y) for x in (13, 107) for y in range(18, 154, 4)]
        circles = "\n".join(f'      <circle cx="{x}" cy="{y}" r="0.6"/>' for x, y in holes)
        made["patterns/card-sleeve.svg"] = SLEEVE.format(holes=circles)
    products = [product_table(one) for one in listed]
    if sample:
        products = [_table("card sleeve", "patterns/card-sleeve.svg", ["sleeve"])]
    made["products.toml"] = "\n".join([PRODUCTS, *products])
    names = ["card sleeve"] if sample else [_name(one) for one in listed]
    rows = [f"first,{_cell(name)},1,,3,," for name in names]
    made["orders.csv"] = "\n".join([",".join(HEADER), *rows, ""])
    return made


def product_table(one: Listed) -> str:
    """The table of a product made of a drawing, every key of it with its meaning."""
    parts: Sequence[Part] = one.drawing.parts if one.drawing else ()
    return _table(_name(one), one.pattern, [part.name for part in parts] or [_name(one)])


def _name(one: Listed) -> str:
    return Path(one.pattern).stem.replace("-", " ").replace("_", " ")


def _table(name: str, pattern: str, parts: Sequence[str]) -> str:
    rows = [f"[[product]]\nname = {_quoted(name)}\npattern = {_quoted(pattern)}\n{PRODUCT_KEYS}"]
    rows += [f"[[product.part]]\nname = {_quoted(part)}\ncount = 1\n{PART_KEYS}" for part in parts]
    return "\n".join(rows)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _cell(text: str) -> str:
    return f'"{text}"' if "," in text else text
