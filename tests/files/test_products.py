from decimal import Decimal

import pytest

from nesting.errors import FileError
from nesting.files import products as module
from nesting.files.products import read_products
from nesting.model import Direction


def test_geometry_and_needs_are_joined(job_folder):
    holder, spare = read_products(job_folder / "products.toml")
    body, pocket = holder.parts
    assert (holder.name, holder.same_hide, holder.filler) == ("card holder", "piece", False)
    assert (body.name, body.grade, body.thickness_mm, body.count) == ("body", "B", (1.0, 1.4), 1)
    assert body.direction == Direction("along", 15, False)
    assert body.outline.area == pytest.approx(6000) and body.cutouts[0].area == pytest.approx(400)
    assert (pocket.grade, pocket.count, pocket.mirrored_twin, pocket.direction) == ("A", 2, True, Direction())
    assert (spare.filler, spare.same_hide, spare.parts[0].grade) == (True, "no", "D")
    assert spare.parts[0].outline.equals(pocket.outline)


def test_a_pattern_that_two_products_share_is_read_once(job_folder, monkeypatch):
    calls = []
    read = module.read_pattern
    monkeypatch.setattr(module, "read_pattern", lambda path, **given: calls.append(path) or read(path))
    read_products(job_folder / "products.toml")
    assert len(calls) == 1


def test_a_fault_inside_a_pattern_names_the_pattern(job_folder):
    (job_folder / "patterns" / "holder.svg").write_text("<svg")
    with pytest.raises(FileError) as caught:
        read_products(job_folder / "products.toml")
    assert caught.value.file.endswith("holder.svg")


def test_a_pattern_reached_by_a_link_out_of_the_folder_is_refused(job_folder):
    outside = job_folder.parent / "outside.svg"
    (job_folder / "patterns" / "holder.svg").rename(outside)
    (job_folder / "patterns" / "holder.svg").symlink_to(outside)
    with pytest.raises(FileError, match="product 1 > pattern: patterns/holder.svg: keep the pattern inside the folder"):
        read_products(job_folder / "products.toml")


def test_a_job_folder_reached_by_a_link_is_read(job_folder):
    link = job_folder.parent / "this week"
    link.symlink_to(job_folder)
    assert read_products(link / "products.toml") == read_products(job_folder / "products.toml")


def test_what_a_product_says_of_its_pieces_and_of_leather_is_read(job_folder):
    path = job_folder / "products.toml"
    said = """same_hide = "piece"
partial = true
price = "45.50"
burn = false
flesh_out = true
same_lot = true
leather = "bridle  butt"
colour = "Cognac"
"""
    text = path.read_text().replace('same_hide = "piece"\n', said)
    path.write_text(
        text.replace('name = "body"\n', 'name = "body"\ncolour = "black"\nfinish = "waxed"\ntannage = "chrome"\n')
    )
    holder, spare = read_products(path)
    assert (holder.partial, holder.price, holder.burn, holder.flesh_out) == (True, Decimal("45.50"), False, True)
    assert (holder.same_hide, holder.same_lot, holder.leather, holder.colour) == (
        "piece",
        True,
        "bridle butt",
        "Cognac",
    )
    body, pocket = holder.parts
    assert (body.leather, body.colour, body.finish, body.tannage) == ("", "black", "waxed", "chrome")
    assert (pocket.leather, pocket.colour, pocket.finish, pocket.tannage) == ("", "", "", "")
    assert (spare.partial, spare.price, spare.burn, spare.flesh_out, spare.same_lot) == (
        False,
        None,
        None,
        False,
        False,
    )
