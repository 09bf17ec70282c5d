from decimal import Decimal

import pytest

from nesting.errors import FileError
from nesting.files import products as module
from nesting.files.products import read_products
from nesting.files.workshop import read_workshop
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
longer = "two loads"
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
    assert (holder.longer, spare.longer, holder.pattern) == ("two loads", "knife", "patterns/holder.svg")
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


def folded(job_folder, keys):
    pattern = job_folder / "patterns" / "holder.svg"
    text = pattern.read_text().replace('<g id="body">', '<g id="body"><path id="fold" d="M50 0V60"/>')
    pattern.write_text(text)
    products = job_folder / "products.toml"
    products.write_text(products.read_text().replace('name = "body"\n', f'name = "body"\n{keys}'))
    return read_products(products, read_workshop(job_folder / "workshop.toml"))[0].parts[0]


def test_a_fold_line_is_shown_and_burnt_only_where_that_is_asked(job_folder):
    body = folded(job_folder, "")
    assert [fold.length for fold in body.folds] == [60] and not (body.engrave or body.stitch)


def test_a_fold_line_is_marked_as_a_line_of_engraving_where_that_is_asked(job_folder):
    body = folded(job_folder, "mark_folds = true\n")
    assert [line.length for line in body.engrave] == [60] and body.engrave_how == ("line",)
    assert len(body.curves.engrave) == 1 and len(body.folds) == 1


def test_a_fold_line_is_never_engraved_deep(job_folder):
    shop = job_folder / "workshop.toml"
    shop.write_text(shop.read_text() + '\n[engraving]\ndepth = "deep"\n')
    with pytest.raises(FileError, match=r"product 1 > part 1 > mark_folds: .*weakens a fold"):
        folded(job_folder, "mark_folds = true\n")
