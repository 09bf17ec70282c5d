"""Photos at the bench and at the bed, by the command line: patterns of card, and a panel where it really lies."""

import math
import re
import shutil

import numpy as np
import pytest
import shapely
from commands import run
from flat_things import honeycomb, photograph, rounded
from laser_samples import MACHINE, hide, layout_of, placement
from shapely import affinity
from shapely.geometry import Point, Polygon

from nesting.app.actions.bed import export_layout
from nesting.app.actions.job import write_plan
from nesting.files.patterns import read_pattern
from nesting.referee.cut_files import read_cut_file

PIECE = Polygon([(0, 0), (330, 0), (330, 90), (250, 120), (240, 170), (60, 190), (0, 120)])
"""A piece of leather that looks like itself in one way only."""
BED = (MACHINE.bed_width_mm, MACHINE.bed_height_mm)
CORNERS = np.array([(0, 0), (BED[0], 0), BED, (0, BED[1])])


def on_bed(pose, seed=1, piece=PIECE):
    """A photo of the piece on the bed as it lies by a pose (degrees, mm, mm), and the bed's corners in it."""
    lying = affinity.translate(affinity.rotate(piece, pose[0], (0, 0)), *pose[1:])
    scene = photograph(
        [lying], seed=seed, size=(1600, 1200), thick_mm=1.5, colour=(150, 84, 40), lying=[], extent_mm=780,
        centre=(300, 200), painted=honeycomb(BED, np.random.default_rng(seed)), skin=1.0,
    )  # fmt: skip
    return scene, " ".join(f"{x:.1f},{y:.1f}" for x, y in scene.to_pixels(CORNERS))


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("shop")
    made = layout_of([placement(x=60, y=60)], hides=[hide(outline=PIECE)], thickness_spread_mm=0.05)
    write_plan(made, folder / "out")
    export_layout(made, folder / "out" / "cut", folder)
    return folder


@pytest.fixture
def cut(shop):
    yield shop / "out" / "cut" / "h1-panel-1.svg"
    for path in (shop / "out" / "cut").glob("*-aligned*"):
        path.unlink()


@pytest.fixture(scope="module")
def scene(tmp_path_factory):
    taken, corners = on_bed((4.0, 70.0, 40.0))
    return taken.save(tmp_path_factory.mktemp("photo") / "bed.jpg", 90, 0.8), corners


@pytest.fixture(scope="module")
def aligned(shop, scene, tmp_path_factory):
    """What was said when a file was turned by the photo, and that file, in a folder of its own."""
    cut = shutil.copytree(shop, tmp_path_factory.mktemp("aligned") / "shop") / "out" / "cut" / "h1-panel-1.svg"
    done = run("align", scene[0], cut, "--corners", scene[1])
    assert done.returncode == 0, done.stderr
    return done.stdout, cut


def test_a_file_is_turned_to_where_its_panel_lies_and_the_old_one_stays(shop, aligned):
    _, cut = aligned
    before = (shop / "out" / "cut" / cut.name).read_bytes()
    new = read_cut_file(cut.with_name("h1-panel-1-aligned.svg"))
    assert cut.read_bytes() == before and cut.with_name("h1-panel-1-aligned-check.png").exists()
    # where the piece was put, and where the file has its corners
    angle, x, y = (math.radians(new.pose[0]), *new.pose[1:])
    there = shapely.get_coordinates(PIECE) @ np.array(
        [[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]]
    ) + (x, y)
    true = shapely.get_coordinates(affinity.translate(affinity.rotate(PIECE, 4, (0, 0)), 70, 40))
    assert np.hypot(*(there - true).T).max() < 1.0


def test_it_says_how_well_the_outline_fits_and_what_to_mind_at_an_open_machine(aligned):
    said = " ".join(aligned[0].split())
    assert re.search(r"turned by \+\d\.\d\d degrees and moved by \d+\.\d mm", said)
    assert re.search(r"95 % within 0\.\d mm", said)
    assert re.search(
        r"mm \(x [+-]\d+\.\d, y [+-]\d+\.\d\) from how its card lays it; parts may lie up to [01]\.\d mm", said
    )
    assert "within 0.0 mm" not in said
    for words in ("laser off", "do not lean", "pointer", "lowest power"):
        assert words in said


def test_an_aligned_file_does_not_disturb_the_proof_of_the_folder(aligned):
    done = run("check", aligned[1].parents[1])
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    "change, words",
    [
        (lambda cut: cut.with_suffix(".pdf"), "give a file to burn"),
        (lambda cut: cut.with_name("none.svg"), "not found"),
        (
            lambda cut: cut.with_name("h1-panel-1-guide.svg"),
            "is a guide, not a file to burn the panel by: give h1-panel-1.svg",
        ),
    ],
)
def test_what_is_no_file_to_burn_is_refused_before_the_photo_is_looked_at(cut, change, words):
    done = run("align", "no-photo.jpg", change(cut), "--corners", "0,0 1,0 1,1 0,1")
    assert done.returncode == 2 and words in done.stderr and len(done.stderr.strip().splitlines()) == 1


def test_a_file_of_another_layout_is_refused(cut, tmp_path, scene):
    changed = cut.with_name("h1-panel-1.dxf")
    changed.write_text("999\nlayout 00000000\n")
    done = run("align", scene[0], changed, "--corners", scene[1])
    changed.unlink()
    assert done.returncode == 2 and "export again" in done.stderr


def test_a_layout_that_breaks_a_rule_is_not_aligned(tmp_path, scene):
    made = layout_of([placement(x=60, y=60)], hides=[hide(outline=PIECE)], thickness_spread_mm=0.05)
    write_plan(made, tmp_path / "out")
    export_layout(made, tmp_path / "out" / "cut", tmp_path)
    file = tmp_path / "out" / "layout.json"
    file.write_text(file.read_text().replace('"nominal_mm": 1.5', '"nominal_mm": 1.6', 1))
    done = run("align", scene[0], tmp_path / "out" / "cut" / "h1-panel-1.svg", "--corners", scene[1])
    assert done.returncode != 0 and not list((tmp_path / "out" / "cut").glob("*-aligned*"))


@pytest.fixture(scope="module")
def cards(tmp_path_factory):
    """A holder with a row of stitch holes and a tag with a hole, beside a sheet of A4."""
    body = rounded(100, 70, 6)
    holes = [Point(12 + 5.0 * at, 62).buffer(0.75) for at in range(12)]
    body = affinity.rotate(body.difference(shapely.union_all(holes)), 8, (0, 0))
    tag = affinity.translate(rounded(60, 30, 0).difference(Point(10, 15).buffer(4)), 125, 20)
    scene = photograph(
        [body, tag], seed=3, size=(2000, 1500), thick_mm=1.5, colour=(196, 164, 116), ground_colour=(60, 74, 70),
        lying=[np.array([(297, 95), (297, 305), (0, 305), (0, 95)])],
        reference="a4", centre=(120, 150), extent_mm=470, tilt=8,
    )  # fmt: skip
    return scene.save(tmp_path_factory.mktemp("cards") / "cards.jpg", 90, 0.8)


def test_patterns_in_a_photo_become_parts_with_their_holes(cards, tmp_path):
    done = run("trace-pattern", cards, "-o", tmp_path / "holder.svg", "--thickness", "1.5", "--names", "body, tag")
    assert done.returncode == 0, done.stderr
    body, tag = read_pattern(tmp_path / "holder.svg")
    assert (body.name, tag.name) == ("body", "tag")
    for part, size in ((body, (100, 70)), (tag, (60, 30))):
        x0, y0, x1, y1 = part.outline.bounds
        assert (x1 - x0, y1 - y0) == pytest.approx(size, abs=0.5)
    assert len(body.stitch) == 12 and not body.cutouts
    assert len(tag.cutouts) == 1 and tag.curves.cutouts[0].circle.radius == pytest.approx(4, abs=0.15)
    assert len(tag.curves.outline.nodes) == 4 and len(body.curves.outline.nodes) == 8
    said = " ".join(done.stdout.split())
    pitch = float(re.search(r"12 stitch holes of 1\.\d mm, (\d\.\d\d) mm", said)[1])
    assert pitch == pytest.approx(5.0, abs=0.05) and (tmp_path / "holder-check.png").exists()
    assert "all put on lines or arcs at one pitch, moved by 0." in said
    middles = np.array([hole.centroid.coords[0] for hole in shapely.get_parts(shapely.union_all(
        [Polygon(curve.flattened(0.01)) for curve in body.curves.stitch]))])  # fmt: skip
    steps = np.diff(middles[np.argsort(middles @ (1.0, 1e-3))], axis=0)
    assert np.ptp(np.hypot(*steps.T)) < 0.02 and np.ptp(steps[:, 1]) < 0.02
    assert re.search(r"width of a part or a cutout may be off by up to [01]\.\d mm", said)
    assert "longest straight side lies along x or y" in said and "scale from A4 paper" in said


def test_a_second_photo_keeps_the_pattern_that_was_there_and_says_what_it_assumed(cards, tmp_path):
    (tmp_path / "x.svg").write_text("mine")
    done = run("trace-pattern", cards, "-o", tmp_path / "x.svg")
    said = " ".join(done.stdout.split())
    assert done.returncode == 0 and "x-1" in said and "taken to be 1 mm thick" in said
    assert (tmp_path / "x.svg.before").read_text() == "mine"


def test_names_that_do_not_match_the_patterns_are_refused_and_nothing_is_written(cards, tmp_path):
    done = run("trace-pattern", cards, "-o", tmp_path / "x.svg", "--names", "one")
    assert done.returncode == 2 and "give 2" in done.stderr and not (tmp_path / "x.svg").exists()


def test_a_pattern_is_written_as_svg_only(tmp_path):
    done = run("trace-pattern", "no.jpg", "-o", tmp_path / "x.dxf")
    assert done.returncode == 2 and ".svg" in done.stderr


def test_the_layout_is_read_from_beside_the_cut_folder(tmp_path):
    (tmp_path / "cut").mkdir()
    file = tmp_path / "cut" / "h1-panel-1.svg"
    file.write_text("<svg/>")
    done = run("align", "no.jpg", file)
    assert done.returncode == 2 and "layout.json" in done.stderr


def test_a_new_export_puts_what_was_aligned_aside_with_the_rest(shop, cut, scene):
    assert run("align", scene[0], cut, "--corners", scene[1]).returncode == 0
    done = run("export", shop / "out" / "layout.json")
    assert done.returncode == 0, done.stderr
    assert not list(cut.parent.glob("*-aligned*"))
    assert "not the new file: h1-panel-1-aligned.svg; nesting align turns that" in " ".join(done.stdout.split())


def test_a_length_alone_is_refused_with_what_it_is_for(cards, tmp_path):
    done = run("trace-pattern", cards, "-o", tmp_path / "x.svg", "--reference", "card", "--length", "10,10 800,10=200")
    assert done.returncode == 2 and "a length alone gives no scale" in done.stderr and "--corners" in done.stderr
    assert "beside the hide or the patterns" in done.stderr and not (tmp_path / "x.svg").exists()
