"""The files of a job folder so small that a plan of it takes a second."""

from decimal import Decimal
from pathlib import Path

from shapely.geometry import Polygon, box

from nesting.files.hides import write_hide
from nesting.files.pattern_svg import write_pattern
from nesting.files.patterns import Drawing
from nesting.model import Hide, Part, Zone

WORKSHOP = """units = "mm"
[machine]
name = "laser"
bed_width_mm = 200
bed_height_mm = 200
rated_w = 40
[prices]
currency = "EUR"
machine_per_hour = "12"
[thickness]
spread_mm = 0.05
[[setting]]
name = "thin"
thickness_mm = 1.2
speed_mm_s = 12
power_percent = 60
passes = 1
thinnest_mm = 1.0
thickest_mm = 1.4
"""
PRODUCTS = """[[product]]
name = "tag"
pattern = "patterns/tag.svg"
price = "9.00"
[[product.part]]
name = "tag"
grade = "B"
"""
ORDERS = """order,product,quantity,due,priority,thread,note
A-1,tag,3,2026-03-02,1,,
B-2,tag,2,,3,,"for the stall"
"""
TAG = Part("tag", Polygon([(0, 0), (70, 0), (70, 30), (20, 45), (0, 30)]), cutouts=(box(5, 5, 10, 10),))
SCAR = Zone(box(140, 90, 150, 110), "C", "scar")


def small_shop(folder: Path) -> Path:
    """Write the files: one hide with a scar and room for six tags, five tags ordered."""
    for name, text in (("workshop.toml", WORKSHOP), ("products.toml", PRODUCTS), ("orders.csv", ORDERS)):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)
    write_pattern(folder / "patterns" / "tag.svg", Drawing((TAG,)))
    hide = Hide("calf", box(0, 0, 190, 130), (SCAR,), nominal_mm=1.2, tannage="vegetable", price=Decimal(20))
    write_hide(folder / "hides" / "calf.json", hide)
    return folder
