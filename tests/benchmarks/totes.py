"""A made job of few large pieces and many small ones: three bags of six parts for two bellies that hold two of them.

python tests/benchmarks/totes.py FOLDER; python tests/benchmarks/whole.py FOLDER
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

PARTS = {"front": (420, 340), "back": (420, 340), "gusset": (700, 110), "base": (300, 110), "handle": (560, 28)}
SMALL = {"collar": (330, 26), "fob": (90, 28), "tray": (110, 110)}
COUNTS = {"handle": 2}
ORDERS = (
    "bag,tote,3,2026-03-06,1,,",
    "pets,collar,26,2026-03-09,2,,",
    "keys,fob,30,2026-03-09,2,,",
    "stall,tray,20,2026-03-30,9,,",
)

WORKSHOP = """[machine]
name = "a bed that is fed through"
bed_width_mm = 1100
bed_height_mm = 760
rated_w = 60

[[setting]]
name = "vegetable 2.0"
thickness_mm = 2.0
power_percent = 70
speed_mm_s = 18
passes = 1
thinnest_mm = 1.6
thickest_mm = 2.4

[prices]
currency = "EUR"
labour_per_hour = 20
"""


def main() -> None:
    folder = Path(sys.argv[1])
    (folder / "patterns").mkdir(parents=True)
    (folder / "hides").mkdir()
    products = [_product(folder, "tote", PARTS, "B")]
    for name, size in SMALL.items():
        products.append(_product(folder, name, {name: size}, "C", "filler = true\n" if name == "tray" else ""))
    (folder / "products.toml").write_text("\n".join(products))
    (folder / "workshop.toml").write_text(WORKSHOP)
    (folder / "orders.csv").write_text("\n".join(["order,product,quantity,due,priority,thread,note", *ORDERS]) + "\n")
    for number, (width, height) in enumerate(((1060, 700), (1030, 720)), 1):
        angles = [2 * math.pi * n / 90 for n in range(90)]
        outline = [
            [width / 2 * (1 + _wave(a, number) * _box(a, 0)), height / 2 * (1 + _wave(a, number) * _box(a, 1))]
            for a in angles
        ]
        hide = {"format": "nesting-hide", "version": 1, "id": f"belly-{number}", "outline": outline, "price": "60.00"}
        hide |= {"tannage": "vegetable", "nominal_mm": 2.0}
        (folder / "hides" / f"belly-{number}.json").write_text(json.dumps(hide))


def _product(folder: Path, name: str, parts: dict[str, tuple[int, int]], grade: str, facts: str = "") -> str:
    """Write the pattern of a product, its parts one above the other; gives its lines of products.toml."""
    shapes, lines, y = [], [f'[[product]]\nname = "{name}"\npattern = "patterns/{name}.svg"\n{facts}'], 0
    for part, (width, height) in parts.items():
        shapes.append(f'<g id="{part}"><rect id="outline" y="{y}" width="{width}" height="{height}"/></g>')
        lines.append(f'[[product.part]]\nname = "{part}"\ngrade = "{grade}"\ncount = {COUNTS.get(part, 1)}\n')
        y += height + 10
    sheet = f'<svg xmlns="http://www.w3.org/2000/svg" width="1000mm" height="{y}mm" viewBox="0 0 1000 {y}">'
    (folder / "patterns" / f"{name}.svg").write_text(sheet + "".join(shapes) + "</svg>")
    return "\n".join(lines)


def _box(angle: float, axis: int) -> float:
    """One coordinate of a square with round corners, seen under an angle."""
    value = (math.cos(angle), math.sin(angle))[axis]
    return math.copysign(abs(value) ** 0.5, value)


def _wave(angle: float, number: int) -> float:
    return 0.97 + 0.03 * math.sin(3 * angle + number)


if __name__ == "__main__":
    main()
