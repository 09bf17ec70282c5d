import json
import subprocess
import sys

import numpy as np
import pytest
from shapely.geometry import Polygon

from nesting.errors import FileError
from nesting.files.hides import read_hide
from nesting.files.job import read_job


def test_a_whole_folder_is_read(job_folder):
    job = read_job(job_folder)
    assert [hide.id for hide in job.hides] == ["shoulder-1", "side-2"]
    assert [product.name for product in job.products] == ["card holder", "pocket spare"]
    assert [line.order for line in job.orders] == ["1001", "1002", "spare"]
    assert job.workshop.machine.bed_width_mm == 600


def test_hidden_files_beside_the_hides_are_left_out(job_folder):
    (job_folder / "hides" / "._side-2.json").write_bytes(b"\x00\x05\x16\x07")
    assert len(read_job(job_folder).hides) == 2


@pytest.mark.parametrize("name", ["workshop.toml", "products.toml", "orders.csv"])
def test_a_missing_file_is_named_with_what_a_job_folder_holds(job_folder, name):
    (job_folder / name).unlink()
    with pytest.raises(FileError) as caught:
        read_job(job_folder)
    assert str(caught.value) == (
        f"{job_folder / name}: file: not found: "
        "a job folder holds workshop.toml, products.toml, patterns/, hides/ and orders.csv"
    )


def test_a_missing_folder_is_refused(tmp_path):
    with pytest.raises(FileError, match="folder: not found: a job folder holds"):
        read_job(tmp_path / "nowhere")


def test_a_file_is_no_job_folder(job_folder):
    with pytest.raises(FileError, match="folder: not a folder"):
        read_job(job_folder / "orders.csv")


@pytest.mark.parametrize("also_folder", [False, True])
def test_a_folder_without_hides_is_refused(job_folder, also_folder):
    for path in (job_folder / "hides").iterdir():
        path.unlink()
    if also_folder:
        (job_folder / "hides").rmdir()
    with pytest.raises(FileError, match="hides: folder: no hides: trace a photo into it"):
        read_job(job_folder)


@pytest.mark.parametrize("name", ["shoulder-1", "Shoulder-1"])
def test_two_hides_of_one_id_are_refused(job_folder, name):
    path = job_folder / "hides" / "side-2.json"
    path.write_text(path.read_text().replace('"side-2"', f'"{name}"'))
    with pytest.raises(FileError, match=rf"side-2\.json: id: {name}: shoulder-1\.json has the same id"):
        read_job(job_folder)


def test_orders_for_far_too_many_parts_are_refused(job_folder):
    path = job_folder / "orders.csv"
    path.write_text(path.read_text().replace("card holder,3,", "card holder,10000,"))
    with pytest.raises(FileError, match="quantity: 50010 parts in all: order at most 50000"):
        read_job(job_folder)


def test_importing_the_package_of_the_files_loads_no_heavy_library():
    heavy = "('pydantic', 'shapely', 'numpy', 'cv2')"
    code = f"import sys, nesting.files, nesting.errors; print([m for m in {heavy} if m in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


def test_every_fault_in_every_file_is_told_in_one_go(job_folder):
    def spoil(name, old, new):
        path = job_folder / name
        assert old in path.read_text()
        path.write_text(path.read_text().replace(old, new))

    spoil("workshop.toml", "kerf_mm = 0.2", 'kerf_mm = "wide"')
    spoil("workshop.toml", "rated_w = 60", "rated_watt = 60\nbed_stop = 3")
    spoil("products.toml", 'grade = "B"', 'grade = "F"')
    spoil("orders.csv", "1002,card holder,1", "1002,card holdr,none")
    spoil("hides/side-2.json", '"nominal_mm": 1.2', '"nominal_mm": -1')
    (job_folder / "patterns" / "holder.svg").write_text("<svg")
    with pytest.raises(FileError) as caught:
        read_job(job_folder)
    told = [(fault.file.rpartition("/")[2], fault.place) for fault in caught.value.all]
    assert told == [
        ("workshop.toml", "machine > rated_watt"),
        ("workshop.toml", "machine > bed_stop"),
        ("workshop.toml", "margins > kerf_mm"),
        ("products.toml", "product 1 > part 1 > grade"),
        ("orders.csv", "row 3 > product"),
        ("orders.csv", "row 3 > quantity"),
        ("side-2.json", "nominal_mm"),
    ]
    assert str(caught.value).count("\n") == len(told) - 1


def test_lengths_prices_and_tannages_may_be_written_with_their_units(job_folder):
    def put(name, old, new):
        path = job_folder / name
        assert old in path.read_text()
        path.write_text(path.read_text().replace(old, new))

    put("workshop.toml", "bed_width_mm = 600", 'bed_width_mm = "20 in"')
    put("workshop.toml", "thickness_mm = 1.2", 'thickness_mm = "3 oz"')
    put(
        "workshop.toml", 'currency = "EUR"\nmachine_per_hour = "12.50"', 'currency = "USD"\nmachine_per_hour = "$12.50"'
    )
    put("products.toml", "thickness_mm = [1.0, 1.4]", 'thickness_mm = "2.5-3.5 oz"\ntannage = "veg"')
    put("hides/side-2.json", '"58.00"', '"$58.00"')
    put("hides/side-2.json", '"mm": 1.25', '"mm": "3 oz"')
    put("hides/side-2.json", '"unknown"', '"Veg-tan"')
    job = read_job(job_folder)
    assert job.workshop.machine.bed_width_mm == pytest.approx(508)
    assert job.workshop.settings[0].thickness_mm == pytest.approx(3 * 25.4 / 64)
    assert str(job.workshop.prices.machine_per_hour) == "12.50"
    body = job.products[0].parts[0]
    assert body.thickness_mm == pytest.approx((2.5 * 25.4 / 64, 3.5 * 25.4 / 64)) and body.tannage == "vegetable"
    side = job.hides[1]
    assert (str(side.price), side.tannage) == ("58.00", "vegetable")
    assert side.readings[0].mm == pytest.approx(3 * 25.4 / 64)


def test_a_price_in_another_currency_is_refused(job_folder):
    path = job_folder / "hides" / "side-2.json"
    path.write_text(path.read_text().replace('"58.00"', '"$58.00"'))
    with pytest.raises(FileError, match=r"side-2.json: price: .*workshop.toml counts in EUR"):
        read_job(job_folder)


def fine_hide(job_folder, points, teeth_mm):
    """The job's second hide with an edge of so many points, every second one so far in."""
    path = job_folder / "hides" / "side-2.json"
    turn = np.linspace(0, 2 * np.pi, points, endpoint=False)
    reach = 400 + 20 * np.sin(5 * turn) - teeth_mm * (np.arange(points) % 2)
    ring = np.column_stack([np.cos(turn), np.sin(turn)]) * reach[:, None] + 500
    hide = json.loads(path.read_text()) | {"outline": np.round(ring, 4).tolist(), "holes": [], "zones": []}
    path.write_text(json.dumps(hide | {"readings": []}))
    return path, Polygon(hide["outline"])


@pytest.mark.parametrize("points, teeth_mm, within_mm", [(40_000, 0.0, 0.06), (10_000, 2.0, 6.0)])
def test_a_hide_of_very_many_points_is_planned_with_a_plainer_one_inside_it(job_folder, points, teeth_mm, within_mm):
    path, drawn = fine_hide(job_folder, points, teeth_mm)
    hide = read_job(job_folder).hides[1]
    outline = hide.outline
    assert len(outline.exterior.coords) <= 5000
    assert drawn.covers(outline)
    told = hide.smoothed and (hide.smoothed.mm, hide.smoothed.area_mm2)
    assert told == (pytest.approx((within_mm, drawn.area - outline.area), abs=0.01) if teeth_mm else None)
    assert drawn.area - outline.area < within_mm * outline.length
    assert len(read_hide(path).outline.exterior.coords) == points + 1


def test_a_hide_whose_edge_is_all_long_teeth_is_refused_with_the_mend(job_folder):
    fine_hide(job_folder, 6000, 40.0)
    with pytest.raises(FileError, match=r"side-2\.json: outline: 6001 points, most of them teeth or spikes: smooth"):
        read_job(job_folder)


def test_a_part_of_very_many_points_is_planned_plainer_and_burnt_as_drawn(job_folder):
    turn = np.linspace(0, 2 * np.pi, 6000, endpoint=False)
    ring = np.column_stack([np.cos(turn), np.sin(turn)]) * (40 + 3 * np.sin(7 * turn))[:, None] + 60
    path = "M" + "L".join(f"{x:.5f} {y:.5f}" for x, y in ring) + "Z"
    (job_folder / "patterns" / "holder.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="120mm" viewBox="0 0 120 120">'
        + "".join(f'<g id="{name}"><path id="outline-{len(name)}" d="{path}"/></g>' for name in ("body", "pocket"))
        + "</svg>"
    )
    part = read_job(job_folder).products[0].parts[0]
    drawn = Polygon([(x, y) for x, y, _ in part.curves.outline.nodes])
    assert len(part.curves.outline.nodes) == 6000
    assert len(part.outline.exterior.coords) < 500
    assert part.outline.covers(drawn) and drawn.buffer(0.02).covers(part.outline)
