"""A folder out/ holds files of one layout only, and says so when it does not."""

import shutil
from dataclasses import replace

import pytest
from laser_samples import hide, layout_of, placement
from pdfminer.high_level import extract_text
from shapely.geometry import box

from nesting.app.actions.bed import export_layout, write_paper_templates
from nesting.app.actions.job import check_file, write_plan
from nesting.files.layout import read_layout
from nesting.files.marks import read_mark
from nesting.model import Cut, Panel


def layout(*panels, x=20.0, **others):
    parts = [placement(n, x=x + 250 * (n - 1), panel=panel) for n, panel in enumerate(panels, 1)]
    halves = [Panel("1", "h1", box(0, 0, 250, 300)), Panel("2", "h1", box(250, 0, 500, 300))]
    made = layout_of(parts, panels=halves[: len(panels)], thickness_spread_mm=0.05, **others)
    return replace(made, cuts=(Cut("h1", (250, 0), (250, 300)),))


CARDS = ["cards.html", "cards.pdf"]


def burnt(panel):
    return [f"h1-panel-{panel}-guide.svg", f"h1-panel-{panel}.svg"]


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A plan with its files to burn, written once."""
    folder = tmp_path_factory.mktemp("stale")
    write_plan(layout("1", "2"), folder / "out")
    export_layout(layout("1", "2"), folder / "out" / "cut", folder)
    return folder / "out"


@pytest.fixture
def out(written, tmp_path):
    return shutil.copytree(written, tmp_path / "out")


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_plan_puts_files_to_burn_and_cards_of_the_run_before_aside(out):
    (out / "swatch-cut.svg").write_text("cut, not yet recorded")
    done = write_plan(layout("1"), out)
    pictures = [f"{name}-h1.{kind}" for name in ("cutting-guide", "hide") for kind in ("png", "svg")]
    assert names(out) == [*pictures[:2], "earlier", *pictures[2:], "layout.json", "report.html", "swatch-cut.svg"]
    assert names(done.kept / "cut") == [*CARDS, *burnt(1), *burnt(2)]
    assert read_layout(done.kept / "layout.json").mark == layout("1", "2").mark
    assert all(file.exists() for file in done.files)


def test_an_export_leaves_no_panel_of_another_layout_beside_its_cards(out):
    (out / "cut" / "own-panel.txt").write_text("a note")
    done = export_layout(layout("1"), out / "cut", out.parent)
    assert names(out / "cut") == [*CARDS, "earlier", *burnt(1), "own-panel.txt"]
    assert names(done.kept) == [*CARDS, *burnt(1), *burnt(2)]
    assert all(file.exists() for file in (*done.burnt, *done.cards))


def test_every_file_carries_the_mark_of_its_layout(out):
    made = layout("1", "2")
    write_paper_templates(made, out / "cut")
    export_layout(made, out / "framed", out, frame=True)
    files = [out / "report.html", *(out / "cut").iterdir(), *(out / "framed").glob("*.svg")]
    assert len(files) == 14 and {read_mark(file) for file in files} == {made.mark}
    assert f"layout {made.mark}" in (out / "cut" / "h1-panel-1.svg").read_text().split("</title>")[0]
    assert f"layout {made.mark}" in extract_text(out / "cut" / "cards.pdf")


def test_the_mark_outlives_the_file_and_tells_what_is_cut_otherwise():
    made = layout("1", "2", x=100 / 3)
    assert len(made.mark) == 8 and made.mark == layout("1", "2", x=100 / 3).mark
    slower = replace(made.settings["h1"], speed_mm_s=9)
    others = [
        layout("1", "2"), layout("1"), layout("1", "2", x=100 / 3, kerf=0.25), replace(made, settings={"h1": slower}),
        replace(made, hides=(hide(outline=box(0, 0, 500, 301)),)),
    ]  # fmt: skip
    assert len({made.mark, *(other.mark for other in others)}) == 6
    assert replace(made, seconds=9.0, unplaced=()).mark == made.mark


def test_a_layout_read_back_has_the_same_mark(tmp_path):
    made = layout("1", "2", x=100 / 3)
    write_plan(made, tmp_path)
    assert read_layout(tmp_path / "layout.json").mark == made.mark


def test_check_tells_of_a_folder_which_files_are_of_another_layout(out):
    assert check_file(out).stale == () and check_file(out.parent).stale == ()
    export_layout(layout("1", "2", x=30.0), out / "cut", out.parent)
    done = check_file(out)
    old, new = layout("1", "2", x=30.0).mark, layout("1", "2").mark
    assert not done.findings and len(done.stale) == 6
    assert (
        f"cut/h1-panel-1-guide.svg is of layout {old}, not of {new}: do not use it; run nesting export" in done.stale[0]
    )


def test_check_tells_a_file_that_says_nothing_of_its_layout(out):
    (out / "cut" / "h1-panel-3.svg").write_text("<svg/>")
    assert "h1-panel-3.svg is without the mark of a layout" in check_file(out).stale[0]


def test_a_file_to_burn_of_this_layout_that_was_changed_is_a_fault(out):
    assert not check_file(out).findings and not check_file(out).stale
    file = out / "cut" / "h1-panel-2.svg"
    text = file.read_text()
    file.write_text(text.replace(" L", " L1", 1))
    found = check_file(out.parent).findings
    assert {one.what for one in found} == {"files to burn, bed", "files to burn, line", "files to burn, part"}
    assert "A-1 tag body 2.1" in str(found)
    file.write_text(text)
    assert not check_file(out).findings
    file.unlink()
    (missing,) = check_file(out).findings
    assert missing.who == "panel 2 of hide h1"
