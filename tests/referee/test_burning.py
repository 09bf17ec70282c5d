"""Files to burn with planted faults: each is caught, and by what it is; true ones pass."""

import contextlib
import math
import random
import re
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from laser_samples import LEAF, MACHINE, SETTING, hide, layout_of, placement
from random_jobs import random_job
from shapely.geometry import LineString, Point, Polygon, box

from nesting.app.demo import demo_folder
from nesting.errors import FileError
from nesting.files.patterns import read_pattern
from nesting.geometry import place
from nesting.laser.export import export
from nesting.model import Burnt, Curve, Curves, Panel, Setting
from nesting.referee.burning import KINDS, prove_files

SLOT = LEAF.difference(box(10, 20, 10.08, 41))
"""A leaf with a slot from its upper edge, narrower than the beam."""


def sample(**others):
    """Two parts with every kind of line, round ones and bent ones, on a knife-cut panel of a larger hide."""
    turn = (5.0, 25.0, -0.4), (20.0, 30.0, 0.0), (12.0, 22.0, 0.0)
    bent = Curve(((30.0, 5.0, 0.5), (45.0, 5.0, 0.3), (45.0, 15.0, 0.0), (30.0, 15.0, 0.2)), True)
    rounds = tuple(Curve(((x + 0.5, 3.0, 1.0), (x - 0.5, 3.0, 1.0)), True) for x in (5.0, 9.0, 13.0))
    slit = Curve(((50.0, 5.0, 0.0), (50.0, 9.0, 0.0)))
    marks = (Curve(turn, True), Curve(((20.0, 8.0, 0.3), (26.0, 8.0, 0.0), (26.0, 12.0, 0.0))))
    drawn = Curves(Curve.of(LEAF), (bent,), (*rounds, slit), marks)

    def flat(curve):
        return curve.flattened(0.01)

    body = {
        "cutouts": [Polygon(flat(bent))],
        "stitch": [flat(curve) for curve in (*rounds, slit)],
        "engrave": [flat(curve) for curve in marks],
        "drawn": drawn,
    }
    parts = [placement(1, 30, 30, 25, **body), placement(2, 120, 100, -70, outline=SLOT, part="flap")]
    leather = hide(outline=box(0, 0, 800, 300))
    panel = Panel("1", "h1", box(0, 0, 500, 300))
    return layout_of(parts, hides=[leather], panels=[panel], **others)


LAYOUT = sample()


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """The text of the file of the sample, by kind."""
    folder = tmp_path_factory.mktemp("cut")
    return {kind: export(LAYOUT, folder / kind, kind=kind).files[0].read_text() for kind in ("svg", "dxf")}


def proved(folder, text, kind="svg", layout=LAYOUT, name="h1-panel-1"):
    (folder / f"{name}.{kind}").write_text(text)
    return prove_files(layout, folder)


@pytest.mark.parametrize("kind", ["svg", "dxf"])
def test_true_files_pass(written, tmp_path, kind):
    assert proved(tmp_path, written[kind], kind) == []


def group(text, name):
    """The lines of an SVG in one group."""
    return re.search(rf'<g id="{name}".*?</g>', text, re.S)[0]


def shifted(text, by, operation):
    """One operation moved along x."""
    old = group(text, operation)

    def path(found):
        pairs = re.sub(r"(-?[\d.]+),(-?[\d.]+)(?=[ \"LACZM])", lambda p: f"{float(p[1]) + by:.4f},{p[2]}", found[0])
        return re.sub(r"(A)(-?[\d.]+),", lambda p: f"A{float(p[2]) - by:.4f},", pairs)

    new = re.sub(r' d="[^"]*"', path, old)
    new = re.sub(r'cx="([\d.]+)"', lambda found: f'cx="{float(found[1]) + by:.4f}"', new)
    return text.replace(old, new)


def swapped(text, one, other):
    first, second = group(text, one), group(text, other)
    return text.replace(first, "@").replace(second, first).replace("@", second)


def without(text, pattern, count=1):
    found = re.sub(pattern, "", text, count=count)
    assert found != text
    return found


def twice(text, pattern):
    return re.sub(pattern, lambda found: found[0] + found[0], text, count=1)


def put(text, old, new, count=1):
    found = re.sub(old, new, text, count=count)
    assert found != text
    return found


CIRCLE = r"  <circle [^>]*/>\n"
FLAP = r'(  <path id="outline-\d+-A-1-flap[^\n]*\n)'


def more(by):
    """What puts the number up that a pattern found after what goes before it."""
    return lambda found: f"{found[1]}{float(found[2]) + by}"


def engraved_last(text):
    return text.replace(group(text, "engrave"), "").replace("</svg>", group(text, "engrave") + "</svg>")


def slot_last(text):
    return put(text, FLAP + r"((?:  <path[^\n]*\n)*?)" + FLAP, r"\3\2\1")


def on_another_bed(text):
    return put(text, 'width="600.0000mm"', 'width="700.0000mm"').replace("0 0 600.0", "0 0 700.0")


FAULTS = [
    # what is wrong, the change to the file, the kind of finding
    ("a hole moved by 0.02 mm", lambda s: put(s, r'cx="([\d.]+)"', lambda m: f'cx="{float(m[1]) + 0.02:.4f}"'), "kerf"),
    ("a hole too wide", lambda s: put(s, r' r="0.4"', ' r="0.42"'), "kerf"),
    ("a hole not moved by half the kerf", lambda s: put(s, r' r="0.4"', ' r="0.5"'), "kerf"),
    ("a hole left out", lambda s: without(s, CIRCLE), "part"),
    ("a hole burnt twice", lambda s: twice(s, CIRCLE), "part"),
    ("stitch holes left out", lambda s: s.replace(group(s, "stitch"), '<g id="stitch"></g>'), "part"),
    ("outlines moved by 0.02 mm", lambda s: shifted(s, 0.02, "outline"), "kerf"),
    ("cutouts moved by 0.02 mm", lambda s: shifted(s, -0.02, "cutout"), "kerf"),
    ("engraving moved by 0.02 mm", lambda s: shifted(s, 0.02, "engrave"), "line"),
    ("stitching moved by 0.02 mm", lambda s: shifted(s, 0.02, "stitch"), "kerf"),
    ("an outline left out", lambda s: without(s, r'  <path id="outline-\d+-A-1-body[^>]*/>\n'), "part"),
    ("an outline burnt twice", lambda s: twice(s, r'  <path id="outline-\d+-A-1-body[^>]*/>\n'), "part"),
    ("the cutout left out", lambda s: without(s, r'  <path id="cutout[^>]*/>\n'), "part"),
    ("the cutout burnt twice", lambda s: twice(s, r'  <path id="cutout[^>]*/>\n'), "part"),
    ("engraving left out", lambda s: without(s, r'  <path id="engrave-1[^>]*/>\n'), "part"),
    ("engraving burnt twice", lambda s: twice(s, r'  <path id="engrave-1[^>]*/>\n'), "part"),
    ("the slit left out", lambda s: without(s, r'  <path id="stitch[^>]*/>\n'), "part"),
    ("the slot left out", lambda s: without(s, r'  <path id="outline-\d+-A-1-flap[^>]*d="[^"Z]*"/>\n'), "part"),
    ("an outline that is not closed", lambda s: put(s, r'(<path id="outline-\d+-A-1-body[^>]*) Z"', r'\1"'), "part"),
    ("the outline before all", lambda s: swapped(s, "outline", "engrave"), "order"),
    ("cutouts before stitching", lambda s: swapped(s, "cutout", "stitch"), "order"),
    ("engraving last", engraved_last, "order"),
    ("the slot after the outline around it", slot_last, "order"),
    ("a line of no part", lambda s: put(s, r'(<g id="cutout"[^>]*>)', r'\1<path d="M300,300 L310,300"/>'), "line"),
    ("a line across a part", lambda s: put(s, r'(<g id="cutout"[^>]*>)', r'\1<path d="M80,350 L84,352"/>'), "line"),
    ("a line off the bed", lambda s: put(s, r'(<g id="cutout"[^>]*>)', r'\1<path d="M598,10 L601,10"/>'), "bed"),
    ("another pose", lambda s: put(s, r'(data-pose="\S+ )(\S+)', more(0.02)), "kerf"),
    ("a turned pose", lambda s: put(s, r'(data-pose=")(\S+)', more(0.02)), "kerf"),
    ("another layout", lambda s: put(s, r'data-layout="[0-9a-f]+"', 'data-layout="00000000"'), "file"),
    ("another panel", lambda s: put(s, "panel 1, layout", "panel 2, layout"), "file"),
    ("another bed", on_another_bed, "bed"),
    ("another unit", lambda s: s.replace('00mm"', '00cm"'), "file"),
    ("another scale", lambda s: put(s, 'viewBox="0 0 600.0', 'viewBox="0 0 300.0'), "file"),
    ("a transform", lambda s: put(s, "<circle ", '<circle transform="scale(2)" '), "file"),
    ("a transform of a group", lambda s: put(s, '<g id="stitch"', '<g id="stitch" transform="scale(2)"'), "file"),
    ("a text", lambda s: put(s, '<g id="stitch"', '<text>A</text><g id="stitch"'), "file"),
    ("an unknown group", lambda s: put(s, '<g id="cutout"', '<g id="score"'), "file"),
    ("a quadratic curve", lambda s: put(s, r'd="M', 'd="M1,1 Q2,2 3,1 M'), "file"),
    ("an ellipse for an arc", lambda s: put(s, r"A([\d.]+),[\d.]+", r"A\1,1"), "file"),
    ("not a number", lambda s: put(s, r' r="0.4"', ' r="nan"'), "file"),
    ("a circle of no size", lambda s: put(s, r' r="0.4"', ' r="0"'), "file"),
    ("a line of no length", lambda s: put(s, r'(<g id="cutout"[^>]*>)', r'\1<path d="M80,350 L80,350"/>'), "file"),
    ("an entity", lambda s: put(s, "<svg", '<!DOCTYPE svg [<!ENTITY a "b">]><svg'), "file"),
    ("half of it", lambda s: s[: len(s) // 2], "file"),
    ("nothing", lambda s: "", "file"),
    ("power of 6 % for 60 %", lambda s: put(s, "power 60 %", "power 6 %"), "setting"),
    ("twenty passes for two", lambda s: put(s, "passes 2", "passes 20"), "setting"),
    ("one pass for two", lambda s: put(s, "passes 2", "passes 1"), "setting"),
]


@pytest.mark.parametrize("change, kind", [row[1:] for row in FAULTS], ids=[row[0] for row in FAULTS])
def test_a_planted_fault_is_caught(written, tmp_path, change, kind):
    changed = change(written["svg"])
    assert changed != written["svg"]
    found = proved(tmp_path, changed)
    assert found and found[0].rule == 12, found
    assert kind in [one.what.rpartition(", ")[2] for one in found], found
    assert all("\n" not in str(one) for one in found)


END = "0\nENDSEC\n0\nEOF"


def hole(text):
    """The first circle of a DXF."""
    return re.search(r"0\nCIRCLE\n(?:.*\n)*?40\n.*\n", text)[0]


DXF_FAULTS = [
    ("a hole moved", lambda s: put(s, r"(CIRCLE\n(?:.*\n)*?10\n)([\d.]+)", more(0.02)), "kerf"),
    ("a hole too wide", lambda s: put(s, r"(CIRCLE\n(?:.*\n)*?40\n)([\d.]+)", more(0.02)), "kerf"),
    ("a hole left out", lambda s: s.replace(hole(s), ""), "part"),
    ("a hole twice", lambda s: s.replace(hole(s), hole(s) * 2), "part"),
    ("a bulge", lambda s: put(s, r"(POLYLINE\n8\ncutout\n(?:.*\n)*?42\n)(-?0\.\d+)", more(0.01)), "kerf"),
    ("outlines moved", lambda s: put(s, r"(VERTEX\n8\noutline\n70\n0\n10\n)([\d.]+)", more(0.02), 0), "kerf"),
    ("a hole last", lambda s: s.replace(hole(s), "").replace(END, hole(s) + END), "order"),
    ("a layer that means nothing", lambda s: s.replace("8\ncutout", "8\nscore"), "file"),
    ("a text", lambda s: s.replace(END, f"0\nTEXT\n8\nstitch\n10\n1\n20\n1\n40\n5\n1\nA\n{END}"), "file"),
    ("no pose", lambda s: put(s, r"999\npose.*\n", ""), "file"),
    ("another pose", lambda s: put(s, r"(999\npose \S+ )(\S+)", more(0.02)), "kerf"),
    ("another layout", lambda s: put(s, r"999\nlayout [0-9a-f]+", "999\nlayout 00000000"), "file"),
    ("half of it", lambda s: s[: len(s) // 2], None),
    ("nothing", lambda s: "", "file"),
    ("power of 6 % for 60 %", lambda s: put(s, "power 60 %", "power 6 %"), "setting"),
]


@pytest.mark.parametrize("change, kind", [row[1:] for row in DXF_FAULTS], ids=[row[0] for row in DXF_FAULTS])
def test_a_fault_planted_in_a_dxf_is_caught(written, tmp_path, change, kind):
    changed = change(written["dxf"])
    assert changed != written["dxf"]
    found = proved(tmp_path, changed, "dxf")
    assert found and (kind is None or kind in [one.what.rpartition(", ")[2] for one in found]), found


def test_a_whole_file_moved_off_its_stop_is_caught(written, tmp_path):
    text = written["svg"]
    for operation in ("engrave", "stitch", "cutout", "outline"):
        text = shifted(text, 1.0, operation)
    text = put(text, r'(data-pose="\S+ )(\S+)', more(1.0))
    assert re.search("against the (left|bottom) stop", text)
    assert [one.what for one in proved(tmp_path, text)] == ["files to burn, bed"]


def test_a_panel_without_a_file_and_a_file_too_many_are_caught(written, tmp_path):
    parts = [*LAYOUT.placements, placement(3, 600, 100, panel="2")]
    more = replace(LAYOUT, placements=tuple(parts), panels=(*LAYOUT.panels, Panel("2", "h1", box(500, 0, 800, 300))))
    (tmp_path / "x").mkdir()
    export(more, tmp_path / "x")
    assert prove_files(more, tmp_path / "x") == []
    (tmp_path / "x" / "h1-panel-2.svg").unlink()
    assert [one.who for one in prove_files(more, tmp_path / "x")] == ["panel 2 of hide h1"]
    assert prove_files(more, tmp_path / "x", without=[("h1", "2")]) == []
    burnt = replace(LAYOUT, burnt=(Burnt(LAYOUT.panels[0], tuple((p.key, p.spot) for p in LAYOUT.placements)),))
    text = written["svg"].replace(LAYOUT.mark, burnt.mark)
    assert [one.value for one in proved(tmp_path, text, layout=burnt)] == [
        f"is of Hide h1, panel 1, layout {burnt.mark}"
    ]


def test_a_part_burnt_in_two_files_is_caught(written, tmp_path):
    proved(tmp_path, written["svg"])
    found = proved(tmp_path, written["svg"], name="h1-panel-1-run-2")
    assert {"files to burn, order", "files to burn, part"} <= {one.what for one in found}


def test_a_folder_without_files_to_burn_has_no_faults(tmp_path):
    (tmp_path / "cards.html").write_text("")
    (tmp_path / "h1-panel-1-guide.svg").write_text("")
    assert prove_files(LAYOUT, tmp_path) == []


def test_runs_of_several_settings_pass_together(tmp_path):
    other = Setting("2 mm", 2.0, 6, 80, 2, 1.8, 2.2)
    parts = [replace(part, setting=name) for part, name in zip(LAYOUT.placements, ("1.5 mm", "2 mm"))]
    layout = replace(LAYOUT, placements=tuple(parts), more_settings={"h1": (other,)})
    assert layout.settings_on("h1") == (SETTING, other)
    assert len(export(layout, tmp_path).files) == 2
    assert prove_files(layout, tmp_path) == []


@pytest.mark.parametrize("kerf", [0.0, 0.05, 0.2, 1.0])
@pytest.mark.parametrize("name", ["card-holder", "glasses-case"])
def test_patterns_of_the_demo_pass_with_every_kerf(tmp_path, name, kerf):
    parts = []
    for number, part in enumerate(read_pattern(demo_folder() / "patterns" / f"{name}.svg"), 1):
        facts = {key: getattr(part, key) for key in ("outline", "cutouts", "stitch", "engrave", "engrave_how")}
        how = facts.pop("engrave_how")
        spot = {"x": 500.0, "y": 450.0 * number, "angle": 17.0 * number}
        parts.append(placement(number, part=part.name, drawn=part.curves, engrave_how=how, **spot, **facts))
    bed = replace(MACHINE, bed_width_mm=2000, bed_height_mm=2000)
    layout = layout_of(parts, hides=[hide(outline=box(0, 0, 1990, 1990))], machine=bed, kerf=kerf)
    export(layout, tmp_path)
    assert prove_files(layout, tmp_path) == []


def test_an_export_that_comes_out_wrong_leaves_the_one_before(tmp_path, monkeypatch):
    from nesting.laser import export as room

    before = [file.read_bytes() for file in export(LAYOUT, tmp_path).files]
    drawing = room.drawing
    monkeypatch.setattr(room, "drawing", lambda *facts: drawing(*facts).replace(' r="0.4"', ' r="0.43"'))
    with pytest.raises(FileError, match="kerf.*0.03.*nothing was written"):
        export(LAYOUT, tmp_path)
    assert [file.read_bytes() for file in sorted(tmp_path.glob("*-panel-1.svg"))] == before


def test_a_line_is_true_to_five_micrometres_and_a_little_rounding(written, tmp_path):
    moved = [shifted(written["svg"], by, "outline") for by in (0.002, 0.009)]
    assert proved(tmp_path, moved[0]) == []
    assert [one.what for one in proved(tmp_path, moved[1])][:1] == ["files to burn, kerf"]


def test_lines_to_follow_may_be_burnt_either_way(tmp_path):
    lines = [LineString([(5, 5), (20, 8)]), LineString([(6, 9), (20, 12), (28, 9)])]
    part = placement(engrave=lines)
    backwards = placement(engrave=[LineString(np.array(line.coords)[::-1]) for line in lines])
    layout, other = layout_of([part]), layout_of([backwards])
    text = export(other, tmp_path).files[0].read_text().replace(other.mark, layout.mark)
    assert proved(tmp_path, text, layout=layout) == []


@pytest.mark.parametrize("wide", [0.19, 0.199, 0.2, 0.201, 0.21])
def test_a_slot_about_as_wide_as_the_beam_passes(tmp_path, wide):
    ring = box(0, 0, 90, 80).difference(box(16, 16, 74, 64)).difference(box(70, 40 - wide / 2, 91, 40 + wide / 2))
    layout = layout_of([placement(outline=ring, angle=31.7, x=120, y=60)])
    export(layout, tmp_path)
    assert prove_files(layout, tmp_path) == []


@pytest.mark.parametrize("wider", [-0.01, 0.0, 1e-12, 0.001, 0.004, 0.006, 0.02])
def test_round_holes_about_as_wide_as_the_beam_pass_and_are_lines_of_some_length(tmp_path, wider):
    rounds = tuple(Curve(((x + 0.1 + wider, 9.0, 1.0), (x - 0.1 - wider, 9.0, 1.0)), True) for x in (9.0, 12.0))
    drawn = Curves(Curve.of(LEAF), (rounds[0],), (rounds[1],))
    flat = [curve.flattened(0.01) for curve in rounds]
    part = placement(cutouts=[Polygon(flat[0])], stitch=[flat[1]], drawn=drawn)
    layout = layout_of([part])
    export(layout, tmp_path)
    assert prove_files(layout, tmp_path) == []


def test_names_in_any_letters_pass(tmp_path):
    setting = replace(SETTING, name="Fläche 1,5 mm – ½")
    parts = [replace(part, panel="Ärmel") for part in LAYOUT.placements]
    named = replace(LAYOUT, settings={"h1": setting}, panels=(replace(LAYOUT.panels[0], id="Ärmel"),))
    named = replace(named, placements=tuple(parts))
    for kind in ("svg", "dxf"):
        export(named, tmp_path / kind, kind=kind)
        assert prove_files(named, tmp_path / kind) == []


def test_the_tip_of_a_slot_that_is_narrower_than_rounding_need_not_be_reached(tmp_path):
    notched = Polygon([(0, 80), (4.7, 80), (4.725, 19.6), (4.75, 80), (20, 80), (20, 0), (0, 0)])
    layout = layout_of([placement(outline=notched, x=60, y=60, angle=20)], kerf=0.35)
    (file,) = export(layout, tmp_path).files
    assert prove_files(layout, tmp_path) == []
    text = file.read_text()
    file.write_text(without(text, r'  <path id="outline-1-[^\n]*\n'))
    assert [one.what for one in prove_files(layout, tmp_path)] == ["files to burn, part"]


def test_a_narrow_hole_close_to_a_wide_one_passes(tmp_path):
    holes = (box(10, 8, 10.4, 12), box(10.8, 6, 16, 14))
    layout = layout_of([placement(cutouts=holes, angle=40)], kerf=1.4)
    export(layout, tmp_path)
    assert prove_files(layout, tmp_path) == []


def test_holes_that_overlap_pass(tmp_path):
    wide = Curve(((10.25, 9.0, 1.0), (9.75, 9.0, 1.0)), True)
    small = Curve(((9.9, 9.1, 0.0), (10.1, 8.9955, 0.0), (9.9955, 8.9, 0.0)), True)
    drawn = Curves(Curve.of(LEAF), (), (wide, small))
    part = placement(stitch=[wide.flattened(0.01), small.flattened(0.01)], drawn=drawn, angle=40)
    layout = layout_of([part], kerf=0.76)
    export(layout, tmp_path)
    assert prove_files(layout, tmp_path) == []


def test_a_slit_beside_a_small_hole_passes(tmp_path):
    hole = LineString([(29.9, 16.1), (30.1, 16.0573), (30.0573, 15.9), (29.9, 16.1)])
    slit = LineString([(29.9, 16.0), (30.1, 16.0)])
    layout = layout_of([placement(stitch=[slit, hole], angle=40)])
    export(layout, tmp_path)
    assert prove_files(layout, tmp_path) == []


@settings(max_examples=20, deadline=None)
# two stitch holes nearly upon each other
@example(3334800, 0.35, "svg")
@given(st.integers(0, 2**48 - 1), st.sampled_from([0, 0.1, 0.2, 0.35, 1.0]) | st.floats(0, 1.5), st.sampled_from(KINDS))
def test_random_drawings_come_out_true_with_every_kerf(number, kerf, kind):
    source = random.Random(number)
    parts = []
    with tempfile.TemporaryDirectory() as made:
        for text in (text for name, text in random_job(source).items() if name.startswith("patterns")):
            (drawing := Path(made) / "drawing.svg").write_text(text)
            with contextlib.suppress(FileError):
                for part in read_pattern(drawing):
                    turn = source.uniform(-180, 180)
                    middle = place(part.outline, 0, 0, turn).centroid
                    x, y = 200 + 350 * (len(parts) % 5) - middle.x, 200 + 380 * (len(parts) // 5) - middle.y
                    facts = {
                        key: getattr(part, key) for key in ("outline", "cutouts", "stitch", "engrave", "engrave_how")
                    }
                    drawn = part.curves if source.random() < 0.8 else None
                    parts.append(placement(len(parts) + 1, x, y, turn, part=part.name, drawn=drawn, **facts))
        bed = replace(MACHINE, bed_width_mm=1800, bed_height_mm=1200)
        layout = layout_of(parts, hides=[hide(outline=box(0, 0, 1790, 1190))], machine=bed, kerf=kerf)
        # the export proves what it writes
        assert not parts or len(export(layout, Path(made) / "cut", kind=kind).files) == 1


@pytest.mark.parametrize("way_deg", range(0, 360, 45))
def test_lines_around_parts_nearer_than_the_beam_is_wide_cross_and_are_in_any_order(tmp_path, way_deg):
    disc, way = Point(0, 0).buffer(4, quad_segs=16), math.radians(way_deg)
    spots = [(200, 150), (200 + 8.1 * math.cos(way), 150 + 8.1 * math.sin(way))]
    parts = [placement(n, x, y, outline=disc) for n, (x, y) in enumerate(spots, 1)]
    assert len(export(layout_of(parts, kerf=0.4), tmp_path / "cut").files) == 1
