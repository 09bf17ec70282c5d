import runpy
from collections import Counter
from datetime import date
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from nesting.files.job import read_job
from nesting.leather.regions import usable
from nesting.leather.thickness import cuttable, thickness_map
from nesting.model import Hide
from nesting.planning.settings import choose_settings
from nesting.tracing import trace

DATA = Path(__file__).resolve().parents[2] / "data"
PHOTO = DATA / "photos" / "natural-shoulder.jpg"
TEXTS = (".toml", ".csv", ".svg", ".json")


@pytest.fixture(scope="module")
def job():
    return read_job(DATA)


@pytest.fixture(scope="module")
def script():
    return runpy.run_path(str(DATA / "make_demo.py"))


def copies(job, filler: bool) -> Counter:
    """How many of each (product, part) the orders ask for, twins counted."""
    count = Counter()
    for line in job.orders:
        product = job.product(line.product)
        if product.filler == filler:
            for part in product.parts:
                count[product.name, part.name] += line.quantity * part.count * (1 + part.mirrored_twin)
    return count


def parts(job):
    return [(product, part) for product in job.products for part in product.parts]


def part(job, product: str, name: str):
    return next(part for part in job.product(product).parts if part.name == name)


def size(shape) -> tuple[float, float]:
    left, low, right, high = shape.bounds
    return right - left, high - low


def test_the_script_writes_the_committed_text_files_byte_for_byte(script, tmp_path):
    script["write_demo"](tmp_path, photo=False)
    written = {path.relative_to(tmp_path): path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    committed = {path.relative_to(DATA): path.read_bytes() for path in DATA.rglob("*") if path.suffix in TEXTS}
    assert written == committed


def test_photos_and_the_whole_folder_are_small():
    sizes = {
        path: path.stat().st_size for path in DATA.rglob("*") if path.is_file() and "__pycache__" not in path.parts
    }
    assert all(size < 1_500_000 for path, size in sizes.items() if path.suffix == ".jpg")
    assert sum(sizes.values()) < 3_000_000


def test_the_orders_ask_for_86_parts_and_sixteen_fillers(job):
    assert copies(job, filler=False) == {
        ("card holder", "front"): 8, ("card holder", "back"): 8, ("card holder", "pocket"): 16, ("key fob", "fob"): 10,
        ("watch strap", "long"): 5, ("watch strap", "short"): 5, ("notebook cover", "cover"): 2,
        ("bag handle", "handle"): 12,
        ("glasses case", "front"): 4, ("glasses case", "back"): 4, ("coaster", "coaster"): 8,
        ("shears holster", "side"): 4,
    }  # fmt: skip
    assert copies(job, filler=False).total() == 86
    assert copies(job, filler=True) == {("cable tidy", "tidy"): 12, ("coin tray", "tray"): 4}


def test_every_order_is_due_in_one_week(job):
    assert {line.due.isocalendar()[:2] for line in job.orders} == {(2026, 38)}
    assert {line.due.weekday() for line in job.orders} <= {0, 1, 2, 3, 4}
    assert min(line.due for line in job.orders) == date(2026, 9, 14)
    assert {line.priority for line in job.orders if not job.product(line.product).filler} == {1, 2, 3}
    assert {"light linen", "dark brown", "black", "rust"} <= {line.thread for line in job.orders}


def test_every_product_sells_for_something_and_every_colour_asked_for_is_on_the_shelf(job):
    assert all(product.price for product in job.products)
    assert {line.colour for line in job.orders} == {"", "cognac", "dark brown"}
    for line in job.orders:
        product = job.product(line.product)
        for part in product.parts:
            assert any(line.kind(product, part).allows(hide) for hide in job.hides)


def test_thicker_settings_give_more_energy_to_each_millimetre(job):
    settings = job.workshop.settings
    assert [setting.thickness_mm for setting in settings] == [1.2, 1.5, 1.8, 2.2]
    energies = [setting.line_energy_j_mm(job.workshop.machine.rated_w) for setting in settings]
    assert all(less < more for less, more in pairwise(energies))


def test_the_windows_of_the_settings_leave_no_thickness_between_them(job):
    settings = job.workshop.settings
    assert all(thin.thickest_mm >= thick.thinnest_mm for thin, thick in pairwise(settings))


def test_the_known_hides_are_natural_outlines_of_vegetable_tanned_leather(job):
    assert {hide.id for hide in job.hides} == {"cognac-shoulder", "dark-bend", "cognac-offcut"}
    for hide in job.hides:
        assert hide.laser_safe
        assert 80 <= len(hide.outline.exterior.coords) - 1 <= 200
        corners = np.asarray(hide.outline.exterior.coords)
        steps = np.diff(np.vstack([corners, corners[1]]), axis=0)
        turns = np.degrees(
            np.arctan2(
                steps[:-1, 0] * steps[1:, 1] - steps[:-1, 1] * steps[1:, 0], (steps[:-1] * steps[1:]).sum(axis=1)
            )
        )
        assert np.abs(turns).max() < 60, f"{hide.id} has a kink"


def test_hides_have_the_sizes_flaws_and_readings_of_their_kind(job):
    shoulder, bend, offcut = (
        next(hide for hide in job.hides if hide.id == name)
        for name in ("cognac-shoulder", "dark-bend", "cognac-offcut")
    )
    assert size(shoulder.outline) == pytest.approx((1000, 620), abs=15)
    assert size(bend.outline) == pytest.approx((780, 560), abs=15)
    assert size(offcut.outline) == pytest.approx((420, 330), abs=15)
    assert len(shoulder.outline.interiors) == 1
    assert {zone.grade for zone in shoulder.zones} == {"B", "C", "D"}
    assert 10 <= len(shoulder.readings) <= 14 and 10 <= len(bend.readings) <= 14 and not offcut.readings
    assert min(r.mm for r in shoulder.readings) < 1.4 and max(r.mm for r in shoulder.readings) > 1.65


def test_zones_are_separate_and_lie_on_their_hide(job):
    for hide in job.hides:
        skin = Polygon(hide.outline.exterior).buffer(0.1)
        for zone in hide.zones:
            assert skin.covers(zone.polygon), f"{zone.kind} of {hide.id}"
        total = sum(zone.polygon.area for zone in hide.zones)
        assert shapely.union_all([zone.polygon for zone in hide.zones]).area == pytest.approx(total)


def test_every_hide_has_a_setting_that_cuts_nearly_all_of_it(job):
    for hide in job.hides:
        thickness = thickness_map(hide, job.workshop.thickness_spread_mm)
        setting = choose_settings(hide, thickness, job.workshop.settings, job.workshop.confidence)[0]
        area = cuttable(thickness, hide, setting.thinnest_mm, setting.thickest_mm, job.workshop.confidence).area
        assert area > 0.95 * hide.outline.area


def test_the_parts_fill_a_little_over_half_of_the_usable_leather(job, script):
    photographed = Hide("photographed", script["photographed_hide"](), nominal_mm=1.5)
    room = sum(usable(hide, job.workshop.margins, "C").area for hide in (*job.hides, photographed))
    wanted = sum(count * part(job, *name).outline.area for name, count in copies(job, filler=False).items())
    assert 0.55 < wanted / room < 0.62


def test_parts_are_drawn_at_real_size(job):
    assert size(part(job, "card holder", "front").outline) == pytest.approx((104, 76), abs=0.01)
    assert size(part(job, "key fob", "fob").outline) == pytest.approx((104, 36), abs=0.05)
    assert size(part(job, "watch strap", "short").outline) == pytest.approx((82, 22), abs=0.01)
    assert size(part(job, "notebook cover", "cover").outline) == pytest.approx((322, 222), abs=0.01)
    assert size(part(job, "bag handle", "handle").outline) == pytest.approx((380, 28), abs=0.02)
    assert size(part(job, "coaster", "coaster").outline) == pytest.approx((96, 96), abs=0.1)


def test_parts_lie_lengthwise_along_their_own_x_axis_where_direction_matters(job):
    limited = [part for _, part in parts(job) if part.direction.kind != "free"]
    assert {part.name for part in limited} == {"long", "short", "handle", "side"}
    assert all(size(part.outline)[0] > 2 * size(part.outline)[1] for part in limited)


def test_every_part_is_small_enough_for_half_a_hide_on_the_bed(job):
    for product, part in parts(job):
        long, short = sorted(size(part.outline), reverse=True)
        assert (long <= 340 and short <= 240) or (long <= 380 and short <= 30), f"{product.name} {part.name}"


def test_everything_on_a_part_keeps_inside_its_edge(job):
    for product, part in parts(job):
        inside = part.outline.buffer(-1.2)
        for line in (*part.stitch, *part.engrave, *(cutout.exterior for cutout in part.cutouts)):
            assert inside.covers(line), f"{product.name} {part.name}"
        for zone in part.zones:
            assert part.outline.buffer(0.02).covers(zone.polygon), f"zone of {product.name} {part.name}"


def test_stitch_holes_keep_clear_of_each_other_and_of_cutouts_and_are_not_too_many(job):
    for product, part in parts(job):
        areas = [Polygon(line).buffer(0) if line.is_closed else line.buffer(0.05) for line in part.stitch] + list(
            part.cutouts
        )
        assert len(part.stitch) < 150
        if areas:
            first, second = shapely.STRtree(areas).query(areas, predicate="dwithin", distance=0.5)
            assert (first == second).all(), f"{product.name} {part.name}"


@pytest.mark.parametrize("name", ["front", "back", "pocket"])
def test_the_stitch_holes_of_a_card_holder_are_1_mm_wide_4_mm_apart_and_3_mm_from_the_edge(job, name):
    drawn = part(job, "card holder", name)
    holes = [Polygon(line) for line in drawn.stitch]
    assert [size(hole)[0] for hole in holes] == pytest.approx([1.0] * len(holes), abs=0.03)
    middles = np.array([hole.centroid.coords[0] for hole in holes])
    assert [drawn.outline.exterior.distance(shapely.Point(middle)) for middle in middles] == pytest.approx(
        [3.0] * len(holes), abs=0.03
    )
    assert np.hypot(*np.diff(middles, axis=0).T).max() == pytest.approx(4.0, abs=0.02)


def test_the_holes_of_card_holder_pieces_fall_on_each_other_when_stacked(job):
    def holes(name):
        drawn = part(job, "card holder", name)
        left, low, *_ = drawn.outline.bounds
        return {
            (round(x - left, 1), round(y - low, 1))
            for x, y in (Polygon(line).centroid.coords[0] for line in drawn.stitch)
        }

    assert holes("front") == holes("back")
    assert holes("pocket") < holes("front")


def test_slits_and_engravings_are_open_lines_where_they_are_drawn_so(job):
    assert not any(line.is_closed for line in part(job, "notebook cover", "cover").stitch)
    assert len(part(job, "bag handle", "handle").engrave) == 2
    assert any(line.is_closed for line in part(job, "key fob", "fob").engrave)
    assert all(
        isinstance(line, LineString) and line.length < 2.5 for line in part(job, "notebook cover", "cover").stitch
    )


def test_covered_areas_are_zones_of_grade_c(job):
    zones = {
        (product.name, part.name): [zone.grade for zone in part.zones] for product, part in parts(job) if part.zones
    }
    assert zones == {("notebook cover", "cover"): ["C", "C"], ("glasses case", "back"): ["C"]}


def test_the_two_sides_of_a_holster_are_mirrored_twins_and_differ(job):
    side = part(job, "shears holster", "side")
    assert side.mirrored_twin
    turned = shapely.affinity.rotate(side.outline, 180, origin="centroid")
    flipped = side.mirrored.outline
    x, y = np.subtract(turned.centroid.coords[0], flipped.centroid.coords[0])
    assert turned.symmetric_difference(shapely.affinity.translate(flipped, x, y)).area > 0.05 * side.outline.area


def test_the_photo_is_traced_to_within_1_percent_of_the_true_area(script):
    truth = script["photographed_hide"]()
    assert truth.is_valid and size(truth) == pytest.approx((700, 500), abs=15)
    traced = trace(PHOTO)
    assert traced.reference == "markers"
    assert traced.outline.area == pytest.approx(truth.area, rel=0.01)
    assert [Polygon(hole).area for hole in traced.outline.interiors] == pytest.approx(
        [Polygon(hole).area for hole in truth.interiors], rel=0.1
    )
