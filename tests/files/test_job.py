import subprocess
import sys

import pytest

from nesting.errors import FileError
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
