"""A small job folder, planned, whose layout file has something of everything that a layout can say."""

import json

from commands import run

WORKSHOP = """
[machine]
bed_width_mm = 320
bed_height_mm = 220
rated_w = 40

[margins]
edge_mm = 3

[prices]
currency = "EUR"
machine_per_hour = 12
labour_per_hour = 30
labour_minutes_per_part = 2

[[setting]]
name = "vegetable 1.5"
thickness_mm = 1.5
speed_mm_s = 10
power_percent = 60
passes = 1
thinnest_mm = 1.1
thickest_mm = 1.9

[[setting]]
name = "vegetable 2.2"
thickness_mm = 2.2
speed_mm_s = 8
power_percent = 75
passes = 2
thinnest_mm = 1.9
thickest_mm = 2.5
"""
PRODUCTS = """
[[product]]
name = "key fob"
pattern = "patterns/fob.svg"
same_hide = "piece"
price = "9.00"

[[product.part]]
name = "fob"
grade = "B"
direction = "along"
tolerance_deg = 5
thickness_mm = [1.2, 1.8]

[[product.part]]
name = "loop"
count = 2
mirrored_twin = true

[[product]]
name = "tag"
pattern = "patterns/tag.svg"
filler = true

[[product.part]]
name = "tag"

[[product]]
name = "case"
pattern = "patterns/case.svg"
same_lot = true

[[product.part]]
name = "front"

[[product]]
name = "banner"
pattern = "patterns/banner.svg"
longer = "refuse"

[[product.part]]
name = "banner"
"""
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="{0}mm" height="{1}mm" viewBox="0 0 {0} {1}">{2}</svg>'
PATTERNS = {
    "fob": SVG.format(
        80,
        60,
        '<g id="fob"><path id="outline" d="M 0 0 H 80 V 30 H 0 Z"/><path id="cutout" d="M 5 5 H 9 V 9 H 5 Z"/>'
        '<path id="stitch" d="M 20 5 H 21 V 6 H 20 Z"/></g>'
        '<g id="loop"><path id="outline" d="M 0 40 H 40 V 50 L 30 55 H 0 Z"/></g>',
    ),
    "tag": SVG.format(30, 20, '<g id="tag"><path id="outline" d="M 0 0 H 30 V 20 H 0 Z"/></g>'),
    "case": SVG.format(60, 40, '<g id="front"><path id="outline" d="M 0 0 H 60 V 40 H 0 Z"/></g>'),
    "banner": SVG.format(400, 60, '<g id="banner"><path id="outline" d="M 0 0 H 400 V 50 H 0 Z"/></g>'),
}
ORDERS = """order,product,quantity,due,priority,thread,note,colour
1,key fob,2,2026-01-05,1,,,
2,key fob,1,2026-01-06,2,,,
3,case,2,2026-01-07,3,,,tan
4,banner,1,,3,,,
5,case,1,,3,,,red
stall,tag,2,,9,,,
"""
HIDES = {
    "bend": {
        "outline": [[0, 0], [620, 0], [620, 200], [0, 200]],
        "zones": [{"grade": "C", "kind": "scar", "polygon": [[300, 90], [320, 90], [320, 110], [300, 110]]}],
        "colour": "tan",
        "price": "20.00",
        "lot": "spring",
    },
    "belly": {"outline": [[0, 0], [200, 0], [200, 120], [0, 120]], "colour": "tan", "lot": "autumn"},
}


def write_job(folder):
    """Write the folder; nothing of it is planned yet."""
    files = {"workshop.toml": WORKSHOP, "products.toml": PRODUCTS, "orders.csv": ORDERS}
    files |= {f"patterns/{name}.svg": text for name, text in PATTERNS.items()}
    for name, facts in HIDES.items():
        hide = {"format": "nesting-hide", "version": 1, "id": name, "nominal_mm": 1.5, "tannage": "vegetable"}
        files[f"hides/{name}.json"] = json.dumps(hide | facts)
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)
    return folder


def planned(folder):
    """The folder with a plan of it in ``out``."""
    write_job(folder)
    done = run("plan", folder, "--iterations", 4, "--workers", 1)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


def said(folder):
    """What the layout file of a folder says."""
    return json.loads((folder / "out" / "layout.json").read_text())


def say(folder, data):
    """Put other words into the layout file of a folder, as an editor would."""
    (folder / "out" / "layout.json").write_text(json.dumps(data))
