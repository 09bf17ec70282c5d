"""A small sound job folder for the tests of the files."""

import json
from pathlib import Path

import pytest

WORKSHOP = """\
[machine]
name = "bench laser"
bed_width_mm = 600
bed_height_mm = 400
rated_w = 60

[margins]
kerf_mm = 0.2
edge_mm = 4

[prices]
currency = "EUR"
machine_per_hour = "12.50"
labour_per_hour = 30
masking_per_m2 = 1.75

[offcuts]
smallest_mm = 50

[thickness]
confidence = 0.95

[colours]
outline = "#D55E00"

[[setting]]
name = "veg 1.2"
thickness_mm = 1.2
speed_mm_s = 20
power_percent = 40
passes = 1
thinnest_mm = 1.0
thickest_mm = 1.4

[[setting]]
name = "veg 2.3"
thickness_mm = 2.3
speed_mm_s = 12
power_percent = 55
passes = 2
thinnest_mm = 2.0
thickest_mm = 2.6
"""

PRODUCTS = """\
[[product]]
name = "card holder"
pattern = "patterns/holder.svg"
same_hide = "piece"

[[product.part]]
name = "body"
grade = "B"
direction = "along"
tolerance_deg = 15
turn = false
thickness_mm = [1.0, 1.4]

[[product.part]]
name = "pocket"
count = 2
mirrored_twin = true

[[product]]
name = "pocket spare"
pattern = "patterns/holder.svg"
filler = true

[[product.part]]
name = "pocket"
grade = "D"
"""

PATTERN = """\
<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="100mm" viewBox="0 0 300 100">
  <g id="body">
    <path id="outline" d="M 0 0 H 100 V 60 H 0 Z"/>
    <path id="cutout" d="M 40 20 H 60 V 40 H 40 Z"/>
  </g>
  <g id="pocket">
    <path id="outline-2" d="M 120 0 H 220 V 40 H 120 Z"/>
  </g>
</svg>
"""

ORDERS = """\
order,product,quantity,due,priority,thread,note
1001,card holder,3,2025-03-14,1,black linen,"initials, gilt"
1002,card holder,1,2025-03-21,,,
spare,pocket spare,5,2025-12-31,9,,
"""

HIDE = {
    "format": "nesting-hide",
    "version": 1,
    "id": "shoulder-1",
    "outline": [[0, 0], [900, 0], [950, 600], [400, 700], [0, 600]],
    "holes": [[[100, 100], [140, 100], [120, 140]]],
    "zones": [
        {"grade": "C", "kind": "scar", "polygon": [[300, 300], [360, 300], [330, 320]]},
        {"grade": "E", "kind": "belly", "polygon": [[-20, -20], [200, -20], [200, 40], [-20, 40]]},
    ],
    "readings": [{"x": 200, "y": 200, "mm": 1.25}, {"x": 700, "y": 400, "mm": 1.31}],
    "nominal_mm": 1.2,
    "backbone": [[0, 300], [900, 320]],
    "tannage": "vegetable",
    "colour": "natural",
    "price": "58.00",
    "photo": "shoulder-1.jpg",
    "trace": {"reference": "markers", "mm_per_pixel": 0.31, "expected_error_mm": 0.8},
}


@pytest.fixture
def hide_data() -> dict:
    """A fresh copy of the keys of a sound hide file."""
    return json.loads(json.dumps(HIDE))


@pytest.fixture
def job_folder(tmp_path: Path) -> Path:
    """A folder with every file of a sound job."""
    texts = {
        "workshop.toml": WORKSHOP,
        "products.toml": PRODUCTS,
        "orders.csv": ORDERS,
        "patterns/holder.svg": PATTERN,
        "hides/shoulder-1.json": json.dumps(HIDE),
        "hides/side-2.json": json.dumps(HIDE | {"id": "side-2", "tannage": "unknown", "holes": []}),
    }
    folder = tmp_path / "week 11"
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder
