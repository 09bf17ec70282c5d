import json
import re
from pathlib import Path

import pytest
from commands import run

from nesting.files.hides import read_hide
from nesting.files.job import read_job
from nesting.files.products import _Part, _Product
from nesting.files.schema import AskingTable
from nesting.files.starter import starter_files
from nesting.files.workshop import SettingTable, _Workshop, read_workshop
from nesting.model import Machine, Workshop
from nesting.model.workshop import ASKED

UNLABELLED = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="10in" height="5in" viewBox="0 0 10 5">'
    '<rect x="0.5" y="0.5" width="4" height="3"/><path d="M0.5 2h4" stroke-dasharray="0.1 0.05"/>'
    '<circle cx="1" cy="1" r="0.08"/><text x="1" y="3">Flap</text></svg>'
)
HIDE = {
    "format": "nesting-hide", "version": 1, "id": "side", "tannage": "veg", "nominal_mm": "4.5 oz", "price": "$60",
    "outline": [[0, 0], [480, 0], [480, 280], [0, 280]],
}  # fmt: skip


@pytest.fixture
def shop(tmp_path):
    """A folder begun with a drawing without labels, in inches."""
    (tmp_path / "my pouch.svg").write_text(UNLABELLED)
    done = run("init", tmp_path / "shop", tmp_path / "my pouch.svg", "--inch")
    assert done.returncode == 0, done.stderr
    return tmp_path / "shop"


def test_a_folder_begun_lacks_nothing_but_hides(tmp_path):
    done = run("init", tmp_path / "shop")
    assert done.returncode == 0 and "nesting look" in done.stdout
    done = run("look", tmp_path / "shop")
    assert done.returncode == 2 and len(done.stderr.splitlines()) == 1 and "no hides" in done.stderr
    assert "sleeve: 100.0 x 150.0 mm (3.94 x 5.91 in); 1 cutout, 68 stitch holes, 1 fold line" in done.stdout
    assert (tmp_path / "shop" / "look" / "card-sleeve.png").stat().st_size > 10_000
    (tmp_path / "shop" / "hides" / "side.json").write_text(json.dumps(HIDE | {"price": "60"}))
    job = read_job(tmp_path / "shop")
    assert job.orders[0].due is None and len(job.products[0].parts[0].folds) == 1
    done = run("look", tmp_path / "shop")
    assert done.returncode == 0 and "no settings" in done.stdout and "nothing is wrong" in done.stdout


def test_every_key_stands_in_the_files_to_start_from_with_its_default(tmp_path):
    texts = starter_files(tmp_path)
    keys = {name for text in texts.values() for name in re.findall(r"^#? ?(\w+) = ", text, re.MULTILINE)}
    tables = [_Product, _Part, SettingTable, *(entry.annotation for entry in _Workshop.model_fields.values())]
    for table in tables:
        wanted = set(getattr(table, "model_fields", {})) - ({"part"} | set(AskingTable.model_fields) - keys)
        assert wanted <= keys, table
    # taken out of their remarks, the defaults change nothing
    text = re.sub(r"^# (\w+ = )", r"\1", texts["workshop.toml"].partition("# The setting book")[0], flags=re.MULTILINE)
    text = text.replace("# [colours]", "[colours]")
    (tmp_path / "workshop.toml").write_text(text)
    assert read_workshop(tmp_path / "workshop.toml") == Workshop(Machine("laser", 500, 300, 40))
    for first, bed in (("mm", (500, 300)), ("inch", (508, 304.8))):
        (tmp_path / "workshop.toml").write_text(starter_files(tmp_path, first=first)["workshop.toml"])
        begun = read_workshop(tmp_path / "workshop.toml")
        assert begun.untold == set(ASKED)
        assert (begun.machine.bed_width_mm, begun.machine.bed_height_mm) == pytest.approx(bed)


def test_what_is_there_is_left_alone(shop):
    before = {path: path.read_bytes() for path in shop.rglob("*") if path.is_file()}
    done = run("init", shop)
    assert done.returncode == 0 and "left as it is" in done.stdout
    assert {path: path.read_bytes() for path in shop.rglob("*") if path.is_file()} == before


def test_drawings_at_hand_become_products_once_somebody_has_looked(shop):
    (shop / "hides" / "side.json").write_text(json.dumps(HIDE))
    asked = run("look", shop)
    assert asked.returncode == 2 and "its lines have no labels" in asked.stderr
    assert "Flap: 4.00 x 3.00 in (101.6 x 76.2 mm); 1 cutout, 1 fold line" in asked.stdout and "--yes" in asked.stdout
    agreed = run("look", shop, "--yes")
    assert agreed.returncode == 0, agreed.stderr
    assert (shop / "patterns" / "my-pouch.svg.before").read_text() == UNLABELLED
    job = read_job(shop)
    (part,) = job.products[0].parts
    assert (job.products[0].name, part.name, len(part.cutouts)) == ("my pouch", "Flap", 1)
    assert part.outline.area == pytest.approx(12 * 25.4**2)
    assert job.workshop.prices.currency == "USD" and job.workshop.machine.bed_width_mm == 508


def test_all_that_is_wrong_in_a_folder_is_told_at_once_with_status_2(shop):
    (shop / "hides" / "side.json").write_text(json.dumps(HIDE | {"price": "60 EUR", "nominal_mm": "thick"}))
    (shop / "orders.csv").write_text("order,product,quantity,due,priority,thread,note\n1,my poch,two,,,,\n")
    for command in (("look", shop), ("plan", shop)):
        done = run(*command)
        lines = done.stderr.splitlines()
        assert done.returncode == 2 and len(lines) == 5 and all(line.startswith("nesting: ") for line in lines)
        assert "did you mean my pouch?" in done.stderr and "counts in USD" in done.stderr


def test_a_drawing_that_cannot_be_read_is_told_and_the_others_are_brought_in(tmp_path):
    (tmp_path / "good.svg").write_text(UNLABELLED)
    (tmp_path / "bad.svg").write_text("<svg")
    done = run("init", tmp_path / "shop", tmp_path / "bad.svg", tmp_path / "good.svg", tmp_path / "x.doc")
    assert done.returncode == 2 and len(done.stderr.splitlines()) == 2
    products = (tmp_path / "shop" / "products.toml").read_text()
    assert 'name = "good"' in products and 'name = "bad"' in products and "x" not in products.split()
    assert (tmp_path / "shop" / "patterns" / "bad.svg").read_text() == "<svg"


def test_a_drawing_is_brought_in_with_its_lines_labelled_and_a_picture(tmp_path):
    (tmp_path / "a.svg").write_text(UNLABELLED)
    done = run("pattern", tmp_path / "a.svg", "-o", tmp_path / "b.svg")
    assert done.returncode == 0 and (tmp_path / "b-look.png").exists()
    assert 'inkscape:label="fold"' in (tmp_path / "b.svg").read_text()
    assert run("pattern", tmp_path / "a.svg", "-o", tmp_path / "b.txt").returncode == 2
    assert "give mm, cm" in run("pattern", tmp_path / "a.svg", "--units", "cubit").stderr


def test_the_demo_does_not_mix_its_files_with_a_job(tmp_path):
    run("init", tmp_path / "shop")
    before = sorted(tmp_path.rglob("*"))
    done = run("demo", "--to", tmp_path / "shop")
    assert done.returncode == 2 and "holds a job of its own" in done.stderr
    assert sorted(tmp_path.rglob("*")) == before


def test_the_hide_that_the_readme_writes_by_hand_is_read(tmp_path):
    readme = (Path(__file__).parents[2] / "README.md").read_text()
    (tmp_path / "x.json").write_text(re.search(r'(?ms)^    \{"format".*?\}\n\n', readme)[0])
    hide = read_hide(tmp_path / "x.json", "USD")
    assert (hide.id, hide.tannage, hide.nominal_mm) == ("belly-1", "vegetable", 4 * 25.4 / 64) and hide.readings
