"""A comparison of a job folder: gaps, beds and drawings, what each would save a year, and the files written."""

import csv
import json
from dataclasses import replace
from fractions import Fraction

import pytest
from commands import run
from shapely.geometry import LineString, Polygon, box
from small_shop import TAG, small_shop

from nesting.app.actions.comparing import Against, _short_search, compare_folder, rate_of
from nesting.app.actions.job import prepare_folder
from nesting.app.options import against
from nesting.book.book import Book
from nesting.engine import Stop
from nesting.errors import FileError
from nesting.files.layout import write_layout
from nesting.files.pattern_svg import write_pattern
from nesting.files.patterns import Drawing
from nesting.files.products import read_products
from nesting.model import Part
from nesting.planning.plan import plan

STOP = Stop(iterations=1)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return small_shop(tmp_path_factory.mktemp("shop"))


def compared(folder, against):
    return compare_folder(prepare_folder(folder), folder, STOP, against=against, workers=1)


def test_a_drawing_of_which_only_the_engraving_changed_is_not_compared(folder, tmp_path):
    tag = folder / "patterns" / "tag.svg"
    engraved, same = tmp_path / "engraved.svg", tmp_path / "same.svg"
    write_pattern(engraved, Drawing((replace(TAG, engrave=(LineString([(20, 10), (50, 10)]),)),)))
    same.write_bytes(tag.read_bytes())
    narrow = tmp_path / "narrow.svg"
    write_pattern(narrow, Drawing((Part("tag", box(0, 0, 35, 30)),)))
    for new in (engraved, same):
        done = compared(folder, Against("patterns", patterns=((tag, new),)))
        assert done.why == f"tag.svg as {new.name}: nothing that is cut has changed, so there is nothing to compare."
        assert not done.files and not done.choices and not done.saved
    done = compared(folder, Against("patterns", patterns=((tag, engraved), (tag, narrow))))
    assert [choice.name for choice in done.choices] == ["as drawn now", "tag.svg as narrow.svg"]
    assert done.why.startswith("tag.svg as engraved.svg: nothing that is cut has changed")
    told = run("compare", folder, "--pattern", f"tag.svg={engraved}", "--seconds", 1, "--workers", 1)
    assert told.returncode == 0, told.stderr
    assert len(told.stdout.strip().splitlines()) <= 2 and "nothing that is cut has changed" in told.stdout


def test_a_plan_at_hand_that_makes_more_is_no_measure_of_ways_searched_anew(tmp_path):
    folder = small_shop(tmp_path / "shop")
    job = prepare_folder(folder)
    full = plan(job.job, Stop(iterations=1), workers=1)
    write_layout(folder / "out" / "layout.json", full, {})
    whole = sum(piece.whole for piece in full.pieces())
    first = compared(folder, Against("gaps", gaps=(2.0,))).choices[0]
    assert "plan at hand" not in _short_search(full, first) and whole == first.whole == 5
    figures = {"total": first.figures["total"] | {"pieces_whole": 3}}
    told = _short_search(full, replace(first, figures=figures))
    assert told.startswith("The plan at hand makes 5 of 5: here every way") and "not with the plan at hand" in told
    assert _short_search(None, first) == ""


def test_a_narrower_drawing_saves_what_its_leather_costs(folder, tmp_path):
    narrow = tmp_path / "narrow.svg"
    outline = Polygon([(0, 0), (35, 0), (35, 30), (10, 45), (0, 30)])
    write_pattern(narrow, Drawing((Part("tag", outline, cutouts=TAG.cutouts),)))
    done = compared(folder, Against("patterns", patterns=((folder / "patterns" / "tag.svg", narrow),)))
    now, then = done.choices
    assert [choice.name for choice in done.choices] == ["as drawn now", "tag.svg as narrow.svg"]
    assert now.whole == then.whole == 5 and then.figures["total"]["parts_mm2"] < now.figures["total"]["parts_mm2"]
    # five tags a week as in orders.csv, and 52 weeks a year
    less = (Fraction(now.cost) - Fraction(then.cost)) / 5
    assert done.rate.weeks is None and done.saved[0] == 0
    assert float(done.saved[1]) == pytest.approx(float(5 * 52 * less), abs=0.01) and done.saved[1] > 0
    assert f"tag.svg as narrow.svg saves {done.saved[1]} EUR a year" in done.why and "orders.csv" in done.why


def test_what_is_saved_is_told_as_the_cost_is_as_if_no_filler_were_cut(tmp_path):
    folder = small_shop(tmp_path)
    with (folder / "workshop.toml").open("a") as file:
        file.write('[[cost]]\nname = "box"\namount = "0.40"\n')
    filler = (
        '[[product]]\nname = "spare"\npattern = "patterns/spare.svg"\nfiller = true\n[[product.part]]\nname = "spare"\n'
    )
    with (folder / "products.toml").open("a") as file:
        file.write(filler)
    with (folder / "orders.csv").open("a") as file:
        file.write("stall,spare,40,,9,,\n")
    write_pattern(folder / "patterns" / "spare.svg", Drawing((Part("spare", box(0, 0, 20, 15)),)))
    done = compared(folder, Against("gaps", gaps=(3.0,)))
    for choice in done.choices:
        assert choice.whole == 5 and any(part.filler for part in choice.layout.placements)
        # the box of each piece is in both, once
        assert (
            float(choice.spent.other) == 2.0
            and 5 * choice.each["tag"] == Fraction(choice.cost)
            and set(choice.each) == {"tag"}
        )


def test_table_lists_and_picture_say_the_same(folder):
    done = compared(folder, Against("gaps", gaps=(0.0, 8.0)))
    picture, table, data = done.files
    assert picture.read_bytes().startswith(b"\x89PNG")
    with table.open(newline="") as file:
        rows = list(csv.DictReader(file))
    told = json.loads(data.read_text())
    assert [row["way"] for row in rows] == ["gap 1 mm", "gap 0 mm", "gap 8 mm"]
    for row, way, choice in zip(rows, told["ways"], done.choices):
        assert row["cost"] == way["cost"] == str(choice.cost)
        assert int(row["pieces_whole"]) == way["pieces_whole"] == choice.whole
    assert told["pieces_a_year"] == {"tag": 260.0}


def test_a_layout_for_a_wider_gap_stands_for_a_narrower_one_where_it_is_better(folder):
    done = compared(folder, Against("gaps", gaps=(0.0, 8.0)))
    worth = {choice.name: (choice.merit, -choice.cost) for choice in done.choices}
    assert worth["gap 0 mm"] >= worth["gap 1 mm"] >= worth["gap 8 mm"]
    assert [choice.layout.workshop.margins.gap_mm for choice in done.choices] == [1.0, 0.0, 8.0]


def test_a_bed_is_held_against_one_of_another_size(folder):
    done = compared(folder, Against("bed", beds=((120.0, 120.0), (400.0, 300.0))))
    assert [choice.layout.workshop.machine.usable_mm for choice in done.choices] == [(200, 200), (120, 120), (400, 300)]
    assert len(done.choices[1].layout.panels) > len(done.choices[2].layout.panels) == 1


def test_the_rate_is_that_of_the_stock_book_where_there_is_one(tmp_path):
    folder = small_shop(tmp_path)
    job = prepare_folder(folder).job
    assert rate_of(folder, job).pieces == {"tag": 5}
    book = Book.begin(folder)
    assert rate_of(folder, job).weeks is None
    book.take_orders(job.orders)
    book.take_orders([job.orders[0].__class__("C-3", "tag", 2, None)])
    assert (rate_of(folder, job).pieces, rate_of(folder, job).weeks) == ({"tag": 7}, 1)


def test_a_part_drawn_in_two_asks_what_the_one_before_asked(folder, tmp_path):
    two = tmp_path / "two.svg"
    write_pattern(two, Drawing((Part("tag 1", TAG.outline), Part("tag 2", TAG.outline))))
    (product,) = read_products(folder / "products.toml", None, (folder / "patterns" / "tag.svg", two))
    assert [(part.name, part.grade) for part in product.parts] == [("tag 1", "B"), ("tag 2", "B")]
    write_pattern(two, Drawing((Part("strap", TAG.outline),)))
    with pytest.raises(FileError, match="stands for in tag: tag"):
        read_products(folder / "products.toml", None, (folder / "patterns" / "tag.svg", two))
    with pytest.raises(FileError, match="no product is made from it"):
        read_products(folder / "products.toml", None, (folder / "patterns" / "no.svg", two))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ((True, True, [], [], []), "one thing at a time"),
        ((False, False, ["600"], [], []), "width and height"),
        ((False, False, ["0 x 4"], [], []), "width and height"),
        ((False, False, [], ["-1"], []), "0 to 100 mm"),
        ((False, False, [], [], ["new.svg"]), "old.svg=new.svg"),
    ],
)
def test_what_cannot_be_compared_is_told_with_the_mend(asked, said):
    with pytest.raises(FileError, match=said):
        against(*asked)


def test_lengths_are_typed_as_they_are_measured():
    assert against(False, False, ["24 in x 12 in"], [], []).beds[0] == pytest.approx((609.6, 304.8))
    assert against(False, False, [], ["0.5", "1/32 in"], []).gaps == pytest.approx((0.5, 0.79375))
