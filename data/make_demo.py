"""Write the invented demo workshop again: ``python make_demo.py FOLDER`` (by default the folder of this file).

Everything here is made up: the workshop, its hides, its patterns, its orders, its prices and the laser settings. Real
settings come from test pieces cut on the machine at hand.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from demo_hides import known_hides, photographed_hide
from demo_patterns import patterns

from nesting.atomic import write_text
from nesting.files.hides import write_hide

PHOTO = "photos/natural-shoulder.jpg"

WORKSHOP = """\
# Two Lamps Workshop: one bench, one desktop laser. Invented for the demo, as are all its figures.

[machine]
name = "desktop CO2 laser 600 x 400"
bed_width_mm = 600
bed_height_mm = 400
rated_w = 40
travel_mm_s = 200
engrave_mm_s = 120
load_minutes = 4
acceleration_mm_s2 = 1500
bed_stop = "bottom left"

[margins]
kerf_mm = 0.18
gap_mm = 1.0
edge_mm = 4.0
flaw_mm = 1.5

[prices]
currency = "EUR"
machine_per_hour = "14.00"
labour_per_hour = "28.00"
labour_minutes_per_part = 1.5
masking_per_m2 = "3.20"
offcut_credit = 0.5

[offcuts]
smallest_mm = 60

[engraving]
depth = "shallow"

[thickness]
confidence = 0.9
spread_mm = 0.15

# Invented figures: never use these rows. Cut test pieces on your own machine and leather; a row says what cut clean.
[[setting]]
name = "vegetable 1.2"
thickness_mm = 1.2
speed_mm_s = 14
power_percent = 65
passes = 1
thinnest_mm = 0.95
thickest_mm = 1.45

[[setting]]
name = "vegetable 1.5"
thickness_mm = 1.5
speed_mm_s = 11
power_percent = 68
passes = 1
thinnest_mm = 1.24
thickest_mm = 1.76

[[setting]]
name = "vegetable 1.8"
thickness_mm = 1.8
speed_mm_s = 9
power_percent = 72
passes = 1
thinnest_mm = 1.55
thickest_mm = 2.05

[[setting]]
name = "vegetable 2.2"
thickness_mm = 2.2
speed_mm_s = 14
power_percent = 75
passes = 2
thinnest_mm = 1.95
thickest_mm = 2.45

[[setting]]
name = "shallow mark, thin"
operation = "engrave shallow"
thickness_mm = 1.2
speed_mm_s = 130
power_percent = 14
passes = 1
thinnest_mm = 0.9
thickest_mm = 1.6

[[setting]]
name = "shallow mark, thick"
operation = "engrave shallow"
thickness_mm = 2.2
speed_mm_s = 120
power_percent = 14
passes = 1
thinnest_mm = 1.6
thickest_mm = 2.8

[[setting]]
name = "deep fill, thin"
operation = "engrave deep"
thickness_mm = 1.2
speed_mm_s = 110
power_percent = 24
passes = 1
thinnest_mm = 1.1
thickest_mm = 1.6
line_spacing_mm = 0.1

[[setting]]
name = "deep fill, thick"
operation = "engrave deep"
thickness_mm = 2.2
speed_mm_s = 100
power_percent = 26
passes = 1
thinnest_mm = 1.6
thickest_mm = 2.8
line_spacing_mm = 0.1
"""

PRODUCTS = """\
# What the workshop makes. Parts say the lowest grade they accept; areas of them that are covered say so in the pattern.

[[product]]
name = "card holder"
pattern = "patterns/card-holder.svg"
same_hide = "piece"
price = "48.00"

[[product.part]]
name = "front"
grade = "A"
thickness_mm = [1.2, 1.8]

[[product.part]]
name = "back"
grade = "A"
thickness_mm = [1.2, 1.8]

[[product.part]]
name = "pocket"
count = 2
grade = "B"
thickness_mm = [1.2, 1.8]

[[product]]
name = "key fob"
pattern = "patterns/key-fob.svg"
price = "14.00"

[[product.part]]
name = "fob"
grade = "B"

[[product]]
name = "watch strap"
pattern = "patterns/watch-strap.svg"
same_hide = "piece"
price = "56.00"

[[product.part]]
name = "long"
grade = "A"
direction = "along"
tolerance_deg = 5
thickness_mm = [1.2, 1.8]

[[product.part]]
name = "short"
grade = "A"
direction = "along"
tolerance_deg = 5
thickness_mm = [1.2, 1.8]

[[product]]
name = "notebook cover"
pattern = "patterns/notebook-cover.svg"
price = "92.00"

[[product.part]]
name = "cover"
grade = "B"
thickness_mm = [1.2, 1.8]

[[product]]
name = "bag handle"
pattern = "patterns/bag-handle.svg"
same_hide = "order"
price = "38.00"

[[product.part]]
name = "handle"
count = 2
grade = "B"
direction = "along"
tolerance_deg = 3
thickness_mm = [1.9, 2.5]

[[product]]
name = "glasses case"
pattern = "patterns/glasses-case.svg"
same_hide = "piece"
price = "46.00"

[[product.part]]
name = "front"
grade = "A"
thickness_mm = [1.2, 1.8]

[[product.part]]
name = "back"
grade = "A"
thickness_mm = [1.2, 1.8]

[[product]]
name = "coaster"
pattern = "patterns/coaster.svg"
price = "9.00"

[[product.part]]
name = "coaster"
grade = "B"
thickness_mm = [1.8, 2.6]

[[product]]
name = "shears holster"
pattern = "patterns/shears-holster.svg"
same_hide = "piece"
price = "52.00"

[[product.part]]
name = "side"
grade = "B"
direction = "along"
tolerance_deg = 20
thickness_mm = [1.9, 2.5]
mirrored_twin = true

[[product]]
name = "cable tidy"
pattern = "patterns/cable-tidy.svg"
filler = true
price = "4.50"

[[product.part]]
name = "tidy"
grade = "D"

[[product]]
name = "coin tray"
pattern = "patterns/coin-tray.svg"
filler = true
price = "16.00"

[[product.part]]
name = "tray"
grade = "C"
"""

ORDERS = """\
order,product,quantity,due,priority,thread,note,colour
2638-01,card holder,2,2026-09-14,1,light linen,"gift, wrap each one",cognac
2638-02,notebook cover,1,2026-09-14,1,light linen,,
2638-03,watch strap,2,2026-09-15,1,dark brown,,cognac
2638-04,bag handle,2,2026-09-15,2,,rivets are in the drawer,
2638-05,glasses case,2,2026-09-15,2,rust,,
2638-05,key fob,2,2026-09-15,2,rust,same customer as the glasses case,
2638-06,card holder,3,2026-09-16,2,dark brown,,
2638-07,shears holster,2,2026-09-16,2,light linen,,dark brown
2638-08,coaster,8,2026-09-17,3,,,
2638-09,bag handle,4,2026-09-17,3,,,dark brown
2638-10,notebook cover,1,2026-09-17,3,black,pen loop comes from stock,
2638-11,glasses case,2,2026-09-18,3,light linen,,
2638-12,watch strap,3,2026-09-18,,light linen,,
2638-13,card holder,3,2026-09-18,3,black,,
2638-14,key fob,8,2026-09-18,3,rust,for the market stall,
stall,cable tidy,12,2026-09-18,9,,only from what is left over,
stall,coin tray,4,2026-09-18,9,,only from what is left over,
"""


def write_demo(folder: Path, photo: bool = True) -> list[Path]:
    """Write the demo workshop into a folder.

    Parameters
    ----------
    folder : Path
        Made if it is missing; files of the same names are replaced, others left alone.
    photo : bool
        Whether to render the photo too, which takes most of the time.

    Returns
    -------
    list of Path
        The files written.
    """
    texts = {"workshop.toml": WORKSHOP, "products.toml": PRODUCTS, "orders.csv": ORDERS}
    texts |= {f"patterns/{name}": text for name, text in patterns().items()}
    for name, text in texts.items():
        write_text(folder / name, text)
    hides = known_hides()
    for hide in hides:
        write_hide(folder / "hides" / f"{hide.id}.json", hide)
    files = [*texts, *(f"hides/{hide.id}.json" for hide in hides)]
    if photo:
        from demo_photo import render_photo

        render_photo(photographed_hide(), folder / PHOTO)
        files.append(PHOTO)
    return [folder / name for name in files]


if __name__ == "__main__":
    for path in write_demo(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE):
        print(path)
