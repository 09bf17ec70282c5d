import json
import re
import subprocess
import sys

import pytest
from commands import run

from nesting.app.demo import copy_job, demo_folder
from nesting.files.workshop import read_workshop

DATA = demo_folder()


def small_week(folder):
    """A few of the demo's orders, for two of its hides, one of them bigger than the bed."""
    copy_job(DATA, folder)
    orders = folder / "orders.csv"
    head, *lines = orders.read_text().splitlines(keepends=True)
    kept = ("2638-01,card holder", "2638-02,notebook cover", "2638-05,key fob", "stall,coin tray")
    orders.write_text(head + "".join(line for line in lines if line.startswith(kept)))
    (folder / "hides" / "dark-bend.json").unlink()
    return folder


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    """A small week's folder, planned once."""
    folder = small_week(tmp_path_factory.mktemp("week") / "job")
    done = run("plan", folder, "--iterations", 4, "--workers", 1)
    assert done.returncode == 0, done.stderr + done.stdout
    return folder


def test_help_lists_the_commands():
    text = run("--help").stdout
    assert all(
        word in text
        for word in ("demo", "trace", "markers", "hide", "camera", "plan", "compare", "check", "report", "export")
    )


def test_help_loads_no_heavy_library():
    code = """
import sys, runpy
sys.argv = ["nesting", "--help"]
try:
    runpy.run_module("nesting", run_name="__main__")
except SystemExit:
    pass
heavy = ("numpy", "shapely", "numba", "cv2", "matplotlib")
print([name for name in heavy if name in sys.modules], file=sys.stderr)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stderr.strip() == "[]"


def test_a_plan_writes_layout_report_and_pictures(week):
    out = week / "out"
    data = json.loads((out / "layout.json").read_text())
    assert data["format"] == "nesting-layout" and data["placements"] and data["figures"]["total"]["placed"]
    assert (out / "report.html").exists()
    for hide in {placement["hide"] for placement in data["placements"]}:
        assert (out / f"hide-{hide}.png").stat().st_size > 10_000 and (out / f"hide-{hide}.svg").exists()


def test_a_plan_tells_the_pieces_made_first_and_its_file_keeps_what_that_takes(tmp_path):
    week = small_week(tmp_path / "job")
    done = run("plan", week, "--iterations", 1, "--workers", 1, "--hide", "cognac-offcut", "--partial")
    assert done.returncode == 0, done.stderr + done.stdout
    data = json.loads((week / "out" / "layout.json").read_text())
    total = data["figures"]["total"]
    told = f"{total['pieces_whole']} of {total['pieces_wanted']} ordered pieces whole"
    assert total["pieces_wanted"] > total["pieces_whole"] and told in done.stdout
    assert done.stdout.index(told) < done.stdout.index("Left out") < done.stdout.index("what they cost")
    assert "late already and left out, due on Monday 14 September: 2638-0" in " ".join(done.stdout.split())
    assert "due already: 2638-01" in done.stdout
    assert f"Next: nesting export {week}/out/layout.json" in done.stdout.replace("\n", "")
    assert {line["due"] for line in data["lines"]} >= {"2026-09-14", "2026-09-15"}
    assert "card holder" in data["partial"]
    assert "late already and left out, due on Monday 14 September: 2638-0" in (week / "out" / "report.html").read_text()


def test_a_hide_cut_into_panels_has_a_cutting_guide_that_the_report_links(week):
    data = json.loads((week / "out" / "layout.json").read_text())
    hides = {cut["hide"] for cut in data["cuts"]}
    assert hides
    for hide in hides:
        assert (week / "out" / f"cutting-guide-{hide}.png").stat().st_size > 10_000
        assert f'href="cutting-guide-{hide}.png"' in (week / "out" / "report.html").read_text()


def test_compare_shows_what_more_settings_would_gain(week):
    done = run("compare", week, "--settings", "--seconds", 0.2)
    assert done.returncode == 0 and "up to 1 setting" in done.stdout
    assert (week / "out" / "compare-settings.png").exists()


@pytest.mark.parametrize(
    "words, said",
    [
        (("plan", "x", "--seconds", "nan"), "--seconds: nan: "),
        (("swatch", "x", "--thickness=-2"), "--thickness: -2: "),
        (("markers", "--pages", "99"), "--pages: 99: "),
        (("plan",), "FOLDER"),
        (("plan", "x", "--wibble", "3"), "--wibble"),
        (("frobnicate",), "frobnicate"),
    ],
)
def test_a_wrong_option_is_told_in_one_line_with_its_value(words, said):
    done = run(*words)
    assert done.returncode == 2 and len(done.stderr.strip().splitlines()) == 1
    assert done.stderr.startswith("nesting: ") and said in done.stderr and done.stderr.strip().endswith("--help")


def test_compare_shows_what_the_bed_costs(week):
    done = run("compare", week, "--bed", "--seconds", 0.2)
    assert (
        done.returncode == 0
        and "bed 600 mm x 400 mm" in done.stdout
        and "no limit" in done.stdout
        and "The bed costs" in done.stdout
    )
    assert all(len(line) <= 80 for line in done.stdout.splitlines() if re.search(r"\d of \d", line))
    assert (week / "out" / "compare-bed.png").exists()
    both = run("compare", week, "--bed", "--settings")
    assert both.returncode == 2 and "--settings, --bed" in both.stderr


def test_a_bed_smaller_than_every_part_is_refused_in_one_line_and_nothing_written(tmp_path):
    copy_job(DATA, tmp_path / "job")
    shop = tmp_path / "job" / "workshop.toml"
    shop.write_text(
        shop.read_text()
        .replace("bed_width_mm = 600", "bed_width_mm = 40")
        .replace("bed_height_mm = 400", "bed_height_mm = 15")
    )
    products = tmp_path / "job" / "products.toml"
    products.write_text(products.read_text().replace("[[product]]", '[[product]]\nlonger = "refuse"'))
    done = run("plan", tmp_path / "job", "--iterations", 1)
    assert done.returncode == 2 and "no ordered part fits" in done.stderr and len(done.stderr.strip().splitlines()) == 1
    assert not (tmp_path / "job" / "out").exists()


def test_a_part_bigger_than_the_bed_is_named_before_the_search(tmp_path):
    small_week(tmp_path / "job")
    shop = tmp_path / "job" / "workshop.toml"
    shop.write_text(
        shop.read_text()
        .replace("bed_width_mm = 600", "bed_width_mm = 200")
        .replace("bed_height_mm = 400", "bed_height_mm = 150")
    )
    done = run("plan", tmp_path / "job", "--iterations", 1, "--workers", 1)
    assert (
        done.returncode == 0
        and "part cover of notebook cover, 322.0 x 222.0 mm (12.68 x 8.74 in), is bigger than the usable bed"
        in " ".join(done.stdout.split())
    )


def test_check_passes_a_good_layout_and_names_the_fault_of_a_bad_one(week, tmp_path):
    assert run("check", week / "out" / "layout.json").returncode == 0
    data = json.loads((week / "out" / "layout.json").read_text())
    first, second = data["placements"][:2]
    for key in ("x", "y", "angle", "outline", "cutouts", "stitch", "engrave", "zones", "hide", "panel", "drawing"):
        second.pop(key, None)
        if key in first:
            second[key] = first[key]
    bad = tmp_path / "bad.json"
    bad.write_text(json.dumps(data))
    done = run("check", bad)
    assert done.returncode == 1 and "rule 1" in done.stdout
    done = run("export", bad)
    assert done.returncode == 1 and "nothing written" in done.stdout and not (tmp_path / "cut").exists()


def test_export_writes_a_file_for_every_bed_load_and_cards(week):
    done = run("export", week / "out" / "layout.json")
    assert done.returncode == 0, done.stderr
    placements = json.loads((week / "out" / "layout.json").read_text())["placements"]
    loads = {f"{p['hide']}-panel-{p['panel']}" for p in placements}
    files = {path.stem for path in (week / "out" / "cut").glob("*.svg") if "-run-" not in path.stem}
    assert files == loads | {f"{load}-guide" for load in loads}
    assert (week / "out" / "cut" / "cards.pdf").read_bytes().startswith(b"%PDF")
    told = " ".join(done.stdout.split())
    assert "In the order in which to burn:" in told and "2638-01, 2638-02 (due Monday 14 September)" in told
    # Threads come from the orders of the folder.
    assert "light linen" in (week / "out" / "cut" / "cards.html").read_text()


def test_export_refuses_chrome_leather_says_why_and_offers_paper_templates(week, tmp_path):
    data = json.loads((week / "out" / "layout.json").read_text())
    for hide in data["hides"]:
        hide["tannage"] = "chrome"
    # as an older version wrote it, and no product insists on leather that may be burnt
    data = {key: value for key, value in data.items() if key not in ("asked", "made_from", "seal")}
    for placement in data["placements"]:
        placement.get("kind", {}).pop("burn", None)
    bad = tmp_path / "chrome.json"
    bad.write_text(json.dumps(data))
    done = run("export", bad)
    assert done.returncode == 1 and "hexavalent" in " ".join(done.stdout.split())
    files = {path.name for path in (tmp_path / "cut").iterdir()}
    assert files == {f"{hide}-templates.pdf" for hide in {p["hide"] for p in data["placements"]}}


def test_a_swatch_is_made_recorded_and_planned_with(tmp_path):
    copy_job(DATA, tmp_path / "job")
    book = tmp_path / "job" / "workshop.toml"
    before = book.read_text()
    file = tmp_path / "s.svg"
    done = run("swatch", tmp_path / "job", "--thickness", 1.65, "--offcut", "cognac-offcut", "-o", file)
    assert done.returncode == 0 and file.exists() and "25 squares" in done.stdout
    done = run(
        "swatch", "record", tmp_path / "job", "--swatch", file, "--best", "c3", "--clean", "B3, C3 C4", "--name", "new"
    )
    assert done.returncode == 0, done.stderr
    assert book.read_text().startswith(before) and 'name = "new"' in book.read_text()
    done = run("kerf", tmp_path / "job", "--teeth", "5.83 5.82 5.84", "--record")
    assert "kerf 0.170 mm" in done.stdout and "kerf_mm = 0.17\n" in book.read_text()


def test_the_line_spacing_of_an_engraving_swatch_is_that_of_the_row_it_teaches(tmp_path):
    copy_job(DATA, tmp_path / "job")
    file, how = tmp_path / "s.svg", ("--operation", "engrave shallow", "--line-spacing")
    typed = ("--thickness", 1.65, "--speed", 250, "--power", 22, "--leather", "side")
    done = run("swatch", tmp_path / "job", *typed, *how, 0.12, "-o", file)
    assert done.returncode == 0 and "squares in lines 0.12 mm apart" in " ".join(done.stdout.split()), done.stderr
    assert "rows 0.12 mm apart" in file.read_text()
    record = ("swatch", "record", tmp_path / "job")
    taught = run(*record, "--swatch", file, "--best", "c3", "--clean", "C3", "--name", "taught")
    by_hand = run(*record, *typed, *how, 0.08, "--name", "typed")
    assert taught.returncode == by_hand.returncode == 0, taught.stderr + by_hand.stderr
    rows = {row.name: row.line_spacing_mm for row in read_workshop(tmp_path / "job" / "workshop.toml").engravings}
    assert (rows["taught"], rows["typed"]) == (0.12, 0.08)


def test_a_kerf_comb_is_made(tmp_path):
    copy_job(DATA, tmp_path / "job")
    done = run("kerf", tmp_path / "job", "--thickness", 1.5)
    assert done.returncode == 0 and "vegetable 1.5" in (tmp_path / "job" / "out" / "kerf-comb.svg").read_text()


def test_templates_are_made_for_any_hide(week, tmp_path):
    hide = json.loads((week / "out" / "layout.json").read_text())["placements"][0]["hide"]
    done = run("templates", week / "out" / "layout.json", "--hide", hide, "--to", tmp_path)
    assert done.returncode == 0 and [path.name for path in tmp_path.iterdir()] == [f"{hide}-templates.pdf"]


@pytest.mark.parametrize(
    "words, text",
    [
        (["--align", "nonsense"], "HIDE/PANEL A=x,y B=x,y"),
        (["--align", "h9/1 A=0,0 B=1,1"], "this layout has"),
        (["--align", "cognac-shoulder/1 A=0,0 B=9,1"], "each would miss by"),
    ],
)
def test_points_that_fit_no_panel_are_refused_and_nothing_is_written(week, tmp_path, words, text):
    done = run("export", week / "out" / "layout.json", "--to", tmp_path / "cut", *words)
    assert done.returncode == 2 and text in done.stderr and len(done.stderr.strip().splitlines()) == 1
    assert not (tmp_path / "cut").exists()


def test_compare_says_which_hide_to_cut_and_is_no_worse_than_the_plan_at_hand(week):
    done = run("compare", week, "--seconds", 0.1)
    assert done.returncode == 0 and (week / "out" / "compare.png").exists()
    data = json.loads((week / "out" / "layout.json").read_text())
    planned = data["figures"]["total"]["pieces_whole"]
    assert int(re.search(r"makes (\d+) of", " ".join(done.stdout.split()))[1]) >= planned > 0


@pytest.mark.parametrize(
    "words, text",
    [
        (["plan", "nowhere"], "nowhere"),
        (["check", "missing.json"], "missing.json"),
        (["trace", "missing.jpg", "-o", "x.json"], "missing.jpg"),
        (["trace", "{data}/photos/natural-shoulder.jpg", "-o", "x.json", "--points", "1,2=3"], "--points"),
        (["trace", "{data}/photos/natural-shoulder.jpg", "-o", "x.json", "--price", "cheap"], "cheap"),
        (["plan", "{data}", "--hide", "unicorn"], "unicorn"),
        (["kerf", "nowhere"], "nowhere"),
        (["kerf", "{data}", "--teeth", "5.8 5,8 wide"], "give widths in mm"),
        (["kerf", "{data}", "--teeth", "5.8"], "at least 3"),
        (["kerf", "{data}", "--record"], "give the measured widths"),
        (["kerf", "{data}", "--thickness", "9"], "cut a test piece from 9 mm"),
        (["swatch", "nowhere", "--thickness", "2"], "workshop.toml"),
        (["swatch", "{data}"], "--thickness"),
        (["swatch", "{data}", "--thickness", "2", "--operation", "etch"], "engrave deep"),
        (["swatch", "{data}", "--thickness", "2", "--offcut", "unicorn"], "unicorn"),
        (
            ["swatch", "{data}", "--thickness", "2", "--line-spacing", "0.1"],
            "--line-spacing: line spacing: 0.1 mm to cut",
        ),
        (["swatch", "record", "{data}"], "give the swatch file"),
        (["swatch", "record", "{data}", "--swatch", "missing.svg", "--best", "C3"], "missing.svg"),
        (["swatch", "record", "{data}", "--thickness", "3", "--speed", "90", "--power", "20"], "less energy"),
    ],
)
def test_bad_input_ends_in_one_line_and_status_2(words, text, tmp_path):
    done = run(*(word.format(data=DATA) for word in words), cwd=tmp_path)
    assert done.returncode == 2 and text in done.stderr
    assert "Traceback" not in done.stderr and len(done.stderr.strip().splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


def test_the_demo_runs_from_an_empty_folder(tmp_path):
    command = [sys.executable, "-m", "nesting", "demo", "--seconds", "3"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=900, cwd=tmp_path)
    assert done.returncode == 0, done.stderr + done.stdout
    out = tmp_path / "nesting-demo" / "out"
    assert (
        (out / "report.html").exists()
        and (out / "compare.png").exists()
        and len(list((out / "cut").glob("*.svg"))) >= 3
    )


def test_where_no_file_can_be_burnt_the_plan_says_why_and_names_paper_templates_next(tmp_path):
    week = small_week(tmp_path / "job")
    book = week / "workshop.toml"
    book.write_text(re.sub(r"\[\[setting\]\]\n(?:(?!\[).*\n)*", "", book.read_text()))
    done = run("plan", week, "--iterations", 1, "--workers", 1, "--hide", "cognac-offcut", "--partial")
    told = " ".join(done.stdout.split())
    assert done.returncode == 0, done.stderr + done.stdout
    assert "no file to burn can be written for it" in told
    assert "hide cognac-offcut: no file to burn: no tested setting covers it; cut a test piece" in told
    assert "Next: nesting templates" in told and "Next: nesting export" not in told
