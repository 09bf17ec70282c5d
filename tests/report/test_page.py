import base64
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from datetime import date
from decimal import Decimal
from html.parser import HTMLParser

import pytest

from nesting.costs.figures import figures
from nesting.files.layout import read_layout, write_layout
from nesting.laser.cautions import CAUTIONS
from nesting.model import OrderLine, Unplaced
from nesting.report.limits import DEFAULT
from nesting.report.page import page, write_report
from nesting.report.write import write_reports

VOID = {"meta", "img", "br", "link", "input", "hr", "base"}


class Reader(HTMLParser):
    """Checks that tags close in order, and keeps tags, attributes and text."""

    def __init__(self):
        super().__init__()
        self.open, self.tags, self.text = [], [], ""

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open and self.open[-1] == tag, f"</{tag}> closes {self.open[-3:]}"
        self.open.pop()

    def handle_data(self, data):
        if "style" not in self.open:
            self.text += data + " "


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def written(layout, tmp_path_factory):
    path = write_report(layout, figures(layout), tmp_path_factory.mktemp("out"))
    assert path.name == "report.html"
    return path


@pytest.fixture(scope="module")
def report(written) -> Reader:
    return read(written.read_text(encoding="utf-8"))


@pytest.fixture
def no_pictures(monkeypatch):
    """For tests of words alone: drawing takes most of the time."""
    monkeypatch.setattr("nesting.report.page.draw_hide", lambda *_: None)
    monkeypatch.setattr("nesting.report.page.draw_offcut", lambda *_: None)
    monkeypatch.setattr("nesting.report.drawing.picture", lambda *_: b"")


def reader_of(layout) -> Reader:
    return read(page(layout, figures(layout), []))


def flat(reader: Reader) -> str:
    return " ".join(reader.text.split())


def test_the_page_needs_nothing_from_elsewhere(written, report):
    html = written.read_text(encoding="utf-8")
    assert not {"script", "link", "iframe", "object", "embed", "base", "form"} & {tag for tag, _ in report.tags}
    for _, attributes in report.tags:
        assert not [name for name in attributes if name.startswith("on")]
        for name in ("src", "href"):
            assert attributes.get(name, "data:").startswith("data:")
    assert not re.search(r"url\(|@import|https?:", html)
    assert written.stat().st_size < 10_000_000


def test_the_pictures_are_whole_and_there_is_one_for_the_hide_and_each_offcut(layout, report):
    sources = [attributes["src"] for tag, attributes in report.tags if tag == "img"]
    numbers = figures(layout)
    assert len(sources) == 1 + len(numbers["hides"][0]["offcuts"])
    for source in sources:
        kind, content = source.split(";base64,")
        content = base64.b64decode(content, validate=True)
        if kind == "data:image/svg+xml":
            root = ElementTree.fromstring(content)
            assert not [
                value
                for e in root.iter()
                for key, value in e.attrib.items()
                if key.endswith("href") and value.startswith("http")
            ]
        else:
            assert kind == "data:image/png" and content.startswith(b"\x89PNG")


def test_totals_yields_and_units_are_told(layout, report):
    total, text = figures(layout)["total"], flat(report)
    assert f"{total['placed']} parts on 1 hide for {total['cost']} EUR" in text
    for whole, words in (
        ("hide", "of the whole hide"),
        ("usable", "of the usable area"),
        ("consumed", "of the leather consumed"),
    ):
        assert f"{100 * total[f'yield_of_{whole}']:.1f} % {words}" in text
    assert f"Leather consumed {total['consumed_mm2'] / 1e4:.1f} {total['consumed_mm2'] / 92903.04:.2f}" in text


def test_what_share_of_the_price_of_offcuts_is_credited_and_for_how_much_leather_is_told(layout, report):
    kept = f"{figures(layout)['total']['offcuts_mm2'] / 1e4:.1f} dm²"
    assert re.search(rf"less offcuts kept, {kept} \([\d.]+ sq ft\) at 50 % of their price", report.text)


def test_costs_of_every_line_and_piece_are_told(layout, report):
    costs, text = figures(layout)["costs"], flat(report)
    for row in costs["lines"]:
        cells = (
            row["order"],
            row["product"],
            f"{row['complete']} of {row['pieces']}",
            row["leather"],
            row["masking"],
            row["machine"],
        )
        assert " ".join(cells) in text
    for row in costs["pieces"]:
        told = f"{row['order']} {row['product']} {row['piece']} {row['placed']} of {row['parts']} {row['leather']}"
        assert (told in text) == (row["placed"] > 0)
    assert f"Total, shared by all parts {costs['total']}" in text


def test_the_page_begins_with_the_pieces_made_then_what_is_left_out_then_money_then_leather(report):
    text = flat(report)
    assert "17 of 20 ordered pieces whole, 3 of 5 orders complete" in text.split("Checked.")[0]
    heads = ["Cutting plan", "17 of 20", "Left out", "Money", "Cost by order line", "Leather", "Hide shoulder-7"]
    places = [text.index(f" {head} ") for head in heads[1:]]
    assert places == sorted(places) and text.count("Cutting plan") == 2


def test_the_day_by_which_a_piece_left_out_is_late_is_told_from_the_layout_alone(layout, tmp_path, no_pictures):
    lines = (OrderLine("1005", "satchel", 2, date(2126, 9, 18)), OrderLine("1003", "key fob", 6, date(2126, 9, 14)))
    write_layout(tmp_path / "layout.json", replace(layout, lines=lines), {})
    read = read_layout(tmp_path / "layout.json")
    text = flat(reader_of(read))
    assert "late if not cut by Wednesday 18 September: 1005; not complete: 1002 Håkon & Søn." in text


def test_pieces_left_out_share_a_row_with_their_reason(report):
    text = flat(report)
    assert "1002 Håkon & Søn belt 3 no region of its grade" in text
    assert "1005 satchel 1 to 2 too big for any hide" in text
    assert "Left out: 3 ordered pieces ; the reasons are below." in text


def test_what_helps_a_hide_with_few_readings_that_refused_a_part_stands_below_what_is_left_out(layout, no_pictures):
    first, *rest = layout.unplaced
    why = replace(first, reason="thickness: 1.00 to 1.20 mm is 12% sure at best on side-2 (about 2.00 mm), 90% asked")
    text = flat(reader_of(replace(layout, unplaced=(why, *rest))))
    assert "hide side-2 has 0 thickness readings" in text and "or spread_mm under thickness in workshop.toml)." in text


def test_margins_are_told_where_there_is_a_selling_price(layout, report, no_pictures):
    assert "a margin of" not in flat(report) and "bring in" not in flat(report)
    priced = replace(layout, selling_prices={"key fob": Decimal("9.50")})
    sold, text = figures(priced)["costs"]["sold"], flat(reader_of(priced))
    assert f"a margin of {sold['margin']} EUR on 6 pieces, {100 * sold['share']:.1f} % of their price" in text.replace(
        "\xa0", " "
    )
    assert f"1003 key fob 6 57.00 {sold['cost']} {sold['margin']} {sold['each']}" in text
    assert "The margin is the selling price less what the pieces cost; its share is of the price." in text


def test_the_cautions_are_told(report):
    for caution in CAUTIONS:
        assert " ".join(caution.split()) in flat(report)
    text = flat(report).lower()
    for word in (
        "extract",
        "never leave",
        "fire extinguisher",
        "manual",
        "iec 60825-1",
        "local rules",
        "vegetable-tanned",
        "chrome",
    ):
        assert word in text


def test_leather_that_is_not_laser_safe_is_named_with_the_reason(layout, report, no_pictures):
    assert "side-2" in flat(report) and "hexavalent chromium" in flat(report)
    unknown = replace(layout, hides=(replace(layout.hides[0], tannage="unknown"), layout.hides[1]))
    assert "No laser files are made for this hide" in flat(read(page(unknown, figures(unknown), [])))


def test_leather_that_is_never_burnt_has_no_bed_loads(layout, no_pictures):
    synthetic = replace(layout, hides=tuple(replace(hide, tannage="synthetic") for hide in layout.hides), settings={})
    text = flat(read(page(synthetic, figures(synthetic), [])))
    assert "bed load" in flat(read(page(layout, figures(layout), [])))
    assert "bed load" not in text and "cut by knife from the whole hide" in text


def test_a_sound_layout_is_said_to_be_checked(report):
    assert "Checked." in flat(report) and "no piece is cut in part." in flat(report)


def test_a_piece_cut_in_part_is_told(layout, no_pictures):
    half = replace(
        layout, unplaced=(*layout.unplaced, Unplaced("1001", "card holder", "flap", 2, 1, False, "too thin"))
    )
    text = flat(reader_of(half))
    assert "no piece is cut in part" not in text and "1001 card holder 2 too thin (2 of 3 parts are cut)" in text


def test_a_layout_with_faults_is_never_said_to_be_checked(layout, tmp_path, no_pictures):
    broken = replace(layout, placements=(*layout.placements, replace(layout.placements[0], piece=9)))
    text = flat(read(write_report(broken, figures(broken), tmp_path).read_text(encoding="utf-8")))
    assert "must not be cut" in text and "Checked." not in text


def test_hostile_names_are_escaped(layout):
    name = '"><script>alert(1)</script><img src=x onerror=alert(2)>{{7*7}}'
    hide = replace(layout.hides[0], colour=name)
    unplaced = (*layout.unplaced, Unplaced(name, name, name, 1, 1, False, name))
    placements = tuple(replace(p, order=name) if p.order == "1003" else p for p in layout.placements)
    hostile = replace(layout, hides=(hide, layout.hides[1]), placements=placements, unplaced=unplaced)
    reader = read(page(hostile, figures(hostile), [name]))
    assert not [tag for tag, attributes in reader.tags if tag == "script" or "onerror" in attributes]
    assert name in flat(reader)


def test_a_layout_with_nothing_placed_still_gives_a_page(layout):
    empty = replace(layout, placements=())
    text = flat(read(page(empty, figures(empty), [])))
    assert "0 of 3 ordered pieces whole, 0 of 2 orders complete" in text and "0 parts on 0 hides" in text


def test_the_pictures_of_many_hides_are_files_beside_the_page(layout, tmp_path):
    few = write_reports(layout, tmp_path / "few")
    many = write_reports(layout, tmp_path / "many", limits=replace(DEFAULT, most_hides_pictured=0))
    assert [file.name for file in many] == [file.name for file in few]
    reader = read((tmp_path / "many" / "report.html").read_text(encoding="utf-8"))
    shown = [facts for tag, facts in reader.tags if tag == "img" and facts.get("class") == "map"]
    assert shown and all((tmp_path / "many" / facts["src"]).is_file() and facts["loading"] == "lazy" for facts in shown)
    # drawn in other processes, they are the same
    assert all(one.read_bytes() == other.read_bytes() for one, other in zip(few, many) if one.suffix != ".html")
