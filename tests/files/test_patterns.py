import numpy as np
import pytest

from nesting.errors import FileError, ModelError
from nesting.files.patterns import read_drawing, read_pattern
from nesting.model import Direction

NAMESPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:e="urn:editor"'
OUTLINE = '<rect id="outline" width="60" height="40"/>'


def write(folder, body, size='width="200mm" height="100mm" viewBox="0 0 200 100"'):
    path = folder / "wallet.svg"
    path.write_text(f"<svg {NAMESPACES} {size}>{body}</svg>", encoding="utf-8")
    return path


def part(folder, inside, outline=OUTLINE):
    (only,) = read_pattern(write(folder, f'<g id="strap">{outline}{inside}</g>'))
    return only


def refusal(folder, body, **others):
    path = write(folder, body, **others)
    with pytest.raises(FileError) as caught:
        read_pattern(path)
    assert caught.value.file == str(path)
    assert str(caught.value).count("\n") == 0
    return caught.value


def test_a_part_is_read_at_real_size_with_y_up(tmp_path):
    strap = part(
        tmp_path,
        '<circle id="cutout" cx="10" cy="10" r="3"/><line id="stitch" x1="20" y1="5" x2="30" y2="5"/>'
        '<path id="engrave" d="M40 20h10"/><rect id="zone-D" x="50" y="0" width="10" height="40"/>',
    )
    assert strap.name == "strap"
    assert strap.outline.bounds == pytest.approx((0, 60, 60, 100))
    assert strap.cutouts[0].centroid.coords[0] == pytest.approx((10, 90))
    assert np.array(strap.stitch[0].coords) == pytest.approx(np.array([[20, 95], [30, 95]]))
    assert np.array(strap.engrave[0].coords) == pytest.approx(np.array([[40, 80], [50, 80]]))
    assert [(zone.grade, zone.polygon.area) for zone in strap.zones] == [("D", pytest.approx(400))]


@pytest.mark.parametrize(
    "label, how",
    [("engrave fill", "fill"), ("Engrave-line-2", "line"), ("engrave_fill_3", "fill"), ("engrave_x0020_fill", "fill")],
)
def test_a_shape_says_how_it_is_engraved(tmp_path, label, how):
    strap = part(tmp_path, f'<rect id="{label}" x="5" y="5" width="10" height="10"/><path id="engrave" d="M40 20h10"/>')
    assert (
        strap.engrave_how == (how, "") and len(strap.engrave) == 2 and strap.mirrored.engrave_how == strap.engrave_how
    )


def test_a_group_says_it_for_the_shapes_in_it_and_a_shape_for_itself(tmp_path):
    inner = (
        '<rect x="5" y="5" width="9" height="9"/><path id="engrave" d="M20 5h5v5z"/>'
        '<path id="engrave-line" d="M30 5h5v5z"/>'
    )
    assert part(tmp_path, f'<g id="engrave-fill">{inner}</g>').engrave_how == ("fill", "fill", "line")
    assert part(tmp_path, '<path id="engrave" d="M20 5h5v5z"/>').engrave_how == ()


def test_an_open_line_cannot_be_filled(tmp_path):
    fault = refusal(tmp_path, f'<g id="strap">{OUTLINE}<path id="engrave-fill" d="M20 5h5v5"/></g>')
    assert "cannot be filled" in str(fault) and "engrave line" in str(fault)


def test_a_part_has_the_default_needs(tmp_path):
    strap = part(tmp_path, "")
    assert (strap.grade, strap.direction, strap.thickness_mm, strap.count) == ("A", Direction(), None, 1)


@pytest.mark.parametrize(
    "label", ["outline", "Outline", "outline-2", "outline_3", "outline 4", "outline-67-5", "outline_1_"]
)
def test_numbers_after_a_label_do_not_matter(tmp_path, label):
    assert part(tmp_path, "", f'<rect e:label="{label}" width="60" height="40"/>').outline.area == pytest.approx(2400)


@pytest.mark.parametrize(
    "label, grade",
    [("zone", "E"), ("zone-2", "E"), ("zone C", "C"), ("zone_x0020_B", "B"), ("zone-D-2", "D"), ("zone_a", "A")],
)
def test_a_zone_says_its_grade(tmp_path, label, grade):
    assert part(tmp_path, f'<rect id="{label}" width="5" height="5"/>').zones[0].grade == grade


def test_a_zone_over_the_edge_is_cut_off_at_it(tmp_path):
    (zone,) = part(tmp_path, '<rect id="zone-C" x="50" y="-10" width="30" height="70"/>').zones
    assert zone.polygon.area == pytest.approx(10 * 40)


def test_a_label_goes_before_a_title_and_a_title_before_an_id(tmp_path):
    body = (
        '<g id="a" e:label="front"><title>other</title><rect id="zone" e:label="outline" width="9" height="9"/></g>'
        '<g id="b"><title>back</title><rect id="x1" width="9" height="9"><title>outline</title></rect></g>'
        '<g id="side"><rect id="outline" width="9" height="9"/></g>'
    )
    assert [found.name for found in read_pattern(write(tmp_path, body))] == ["front", "back", "side"]


def test_a_group_inside_gives_its_label_to_what_has_none(tmp_path):
    holes = '<g e:label="stitch"><circle cx="5" cy="5" r=".5"/><g><circle id="circle12" cx="9" cy="5" r=".5"/></g></g>'
    strap = part(tmp_path, holes)
    assert len(strap.stitch) == 2
    assert all(hole.is_ring for hole in strap.stitch)


def test_a_label_of_its_own_goes_before_that_of_the_group(tmp_path):
    strap = part(tmp_path, '<g e:label="stitch"><circle id="cutout-1" cx="5" cy="5" r="2"/></g>')
    assert (len(strap.stitch), len(strap.cutouts)) == (0, 1)


def test_groups_named_by_the_editor_alone_are_looked_through(tmp_path):
    body = f'<g e:label="Layer 1"><g id="strap"><g id="g12">{OUTLINE}</g><g><path id="stitch" d="M5 5h9"/></g></g></g>'
    (strap,) = read_pattern(write(tmp_path, body))
    assert strap.name == "strap"
    assert len(strap.stitch) == 1


def test_layers_around_parts_are_no_parts(tmp_path):
    body = f'<g e:label="Layer 1"><g e:label="front">{OUTLINE}</g><g e:label="back">{OUTLINE}</g></g>'
    assert [found.name for found in read_pattern(write(tmp_path, body))] == ["front", "back"]


def test_the_inner_subpaths_of_a_compound_outline_are_cutouts(tmp_path):
    strap = part(tmp_path, "", '<path id="outline" d="M0 0H60V40H0zM5 5h10v10h-10zM30 30h5v5h-5z"/>')
    assert sorted(hole.area for hole in strap.cutouts) == pytest.approx([25, 100])
    assert not strap.outline.interiors


def test_ends_that_nearly_meet_are_joined(tmp_path):
    strap = part(tmp_path, "", '<path id="outline" d="M0 0H60V40H0V0.04"/>')
    assert strap.outline.area == pytest.approx(2400, abs=2)
    assert len(strap.outline.exterior.coords) == 5


def test_copies_take_the_name_given_to_them(tmp_path):
    body = (
        f'<defs><g id="side">{OUTLINE}</g><path id="round" d="M5 5h5v5h-5z"/></defs>'
        '<use href="#side" e:label="left"/><use href="#side" id="right" transform="translate(180 0) scale(-1 1)"/>'
        f'<g id="back">{OUTLINE}<use href="#round" e:label="cutout"/></g>'
    )
    left, right, back = read_pattern(write(tmp_path, body))
    assert (left.name, right.name, back.name) == ("left", "right", "back")
    assert left.outline.bounds == pytest.approx((0, 60, 60, 100))
    assert right.outline.bounds == pytest.approx((120, 60, 180, 100))
    assert back.cutouts[0].area == pytest.approx(25)


def test_a_symbol_is_a_part_where_it_is_used(tmp_path):
    body = (
        f'<symbol id="s" viewBox="0 0 60 40">{OUTLINE}</symbol><use href="#s" id="tab" x="10" width="30" height="20"/>'
    )
    (tab,) = read_pattern(write(tmp_path, body))
    assert tab.name == "tab"
    assert tab.outline.bounds == pytest.approx((10, 80, 40, 100))


@pytest.mark.parametrize("label", ["notes", "guide", "Guide-2", "notes_1"])
def test_notes_and_guides_are_left_out_on_purpose(tmp_path, label):
    aside = f'<g id="{label}"><text>cut two</text><image href="x.png"/><path d="M0 0h1"/></g>'
    (strap,) = read_pattern(write(tmp_path, f'{aside}<g id="strap">{OUTLINE}{aside.replace("id=", "e:label=")}</g>'))
    assert (strap.stitch, strap.engrave) == ((), ())


def test_hidden_layers_are_left_out(tmp_path):
    body = f'<g style="display:none"><path d="M0 0h1"/><text>x</text></g><g id="strap">{OUTLINE}</g>'
    assert len(read_pattern(write(tmp_path, body))) == 1


def test_an_engraving_may_reach_a_curved_edge(tmp_path):
    round_part = '<circle id="outline" cx="50" cy="50" r="40"/>'
    turns = [f"M50 50L{50 + 40 * np.cos(t)} {50 + 40 * np.sin(t)}" for t in np.linspace(0.1, 6.2, 25)]
    assert len(part(tmp_path, f'<path id="engrave" d="{"".join(turns)}"/>', round_part).engrave) == 25


@pytest.mark.parametrize("tolerance", [0.0, -1.0, float("nan"), float("inf")])
def test_a_tolerance_that_is_none_is_refused(tmp_path, tolerance):
    with pytest.raises(ModelError):
        read_pattern(write(tmp_path, f'<g id="strap">{OUTLINE}</g>'), tolerance)


def test_an_unknown_label_is_refused_with_the_labels_there_are(tmp_path):
    error = refusal(tmp_path, f'<g id="strap">{OUTLINE}<path id="cutuot" d="M5 5h5v5z"/></g>')
    assert error.place == "part strap > cutuot"
    assert error.value == "unknown label"
    assert "did you mean cutout?" in error.mend and "engrave" in error.mend


def test_an_unnamed_shape_in_a_part_is_refused(tmp_path):
    assert refusal(tmp_path, f'<g id="strap">{OUTLINE}<path d="M5 5h5v5z"/></g>').place == "part strap > path"


def test_a_shape_outside_every_part_is_refused(tmp_path):
    error = refusal(tmp_path, f'<g id="strap">{OUTLINE}</g><rect id="rect7" width="5" height="5"/>')
    assert (error.place, error.value) == ("rect7", "belongs to no part")


def test_an_outline_in_no_group_is_a_part_with_what_lies_in_it_named_after_its_file(tmp_path):
    hole = '<circle id="cutout" cx="10" cy="10" r="3"/>'
    (only,) = read_pattern(write(tmp_path, f"{OUTLINE}{hole}"))
    assert only.name == "wallet" and len(only.cutouts) == 1
    second = '<rect id="outline-2" x="100" width="50" height="40"/><line id="stitch" x1="110" y1="5" x2="130" y2="5"/>'
    first, other = read_pattern(write(tmp_path, f"{OUTLINE}{second}{hole}"))
    assert (first.name, other.name) == ("wallet-1", "wallet-2")
    assert (len(first.cutouts), len(first.stitch), len(other.cutouts), len(other.stitch)) == (1, 0, 0, 1)


def test_a_labelled_shape_in_no_group_and_no_outline_is_refused(tmp_path):
    assert refusal(tmp_path, f'{OUTLINE}<path id="stitch" d="M150 5h9"/>').value == "in no part"


def test_a_kind_given_from_outside_the_part_does_not_count(tmp_path):
    body = f'<g id="stitch"><g id="strap">{OUTLINE}<path d="M5 5h9"/></g></g>'
    assert refusal(tmp_path, body).place == "stitch > path"


def test_a_part_without_an_outline_is_refused(tmp_path):
    error = refusal(tmp_path, '<g id="strap"><path id="stitch" d="M5 5h5"/></g>')
    assert (error.place, error.value) == ("part strap > stitch", "its part has no outline")


def test_a_part_with_two_outlines_is_refused(tmp_path):
    error = refusal(tmp_path, f'<g id="strap">{OUTLINE}<rect id="outline-2" x="70" width="60" height="40"/></g>')
    assert (error.place, error.value) == ("part strap > outline-2", "a second outline")


def test_a_compound_outline_of_two_pieces_is_refused(tmp_path):
    error = refusal(tmp_path, '<g id="strap"><path id="outline" d="M0 0h20v20h-20zM50 0h10v10h-10z"/></g>')
    assert "a second outline" in error.value


def test_two_parts_of_one_name_are_refused(tmp_path):
    error = refusal(tmp_path, f'<g e:label="strap">{OUTLINE}</g><g e:label="strap">{OUTLINE}</g>')
    assert (error.place, error.value) == ("part strap", "drawn twice")


def test_an_open_outline_is_refused_with_its_gap(tmp_path):
    error = refusal(tmp_path, '<g id="strap"><path id="outline" d="M0 0H60V40H0V0.06"/></g>')
    assert (error.place, error.value) == ("part strap > outline", "open: 0.06 mm from (0.0, 100.0) to (0.0, 99.9)")


@pytest.mark.parametrize("data", ["M0 0L60 40V0L0 40z", "M0 0H60V40H30V0H20V40H0z", "M0 0H60H10z", "M0 0H60z"])
def test_an_outline_that_crosses_itself_or_encloses_nothing_is_refused(tmp_path, data):
    error = refusal(tmp_path, f'<g id="strap"><path id="outline" d="{data}"/></g>')
    assert error.place == "part strap > outline"
    assert "crosses or touches itself" in error.value or "encloses nothing" in error.value


@pytest.mark.parametrize("x", [55, 60, 80, -10])
def test_a_cutout_that_is_not_inside_is_refused(tmp_path, x):
    error = refusal(tmp_path, f'<g id="strap">{OUTLINE}<rect id="cutout" x="{x}" y="5" width="10" height="5"/></g>')
    assert error.place == "part strap > cutout"
    assert "touches or leaves the outline" in error.value


def test_a_cutout_as_big_as_the_outline_is_refused(tmp_path):
    refusal(tmp_path, f'<g id="strap">{OUTLINE}{OUTLINE.replace("outline", "cutout")}</g>')


@pytest.mark.parametrize("second", ["M5 5h8v8h-8z", "M7 7h2v2h-2z", "M10 10h9v9h-9z"])
def test_cutouts_that_overlap_are_refused(tmp_path, second):
    inside = f'<path id="cutout" d="M5 5h8v8h-8z"/><path id="cutout-2" d="{second}"/>'
    error = refusal(tmp_path, f'<g id="strap">{OUTLINE}{inside}</g>')
    assert error.place == "part strap > cutout-2"
    assert "overlaps another cutout" in error.value


def test_an_open_cutout_is_refused(tmp_path):
    assert "open" in refusal(tmp_path, f'<g id="strap">{OUTLINE}<path id="cutout" d="M5 5h8v8"/></g>').value


@pytest.mark.parametrize("kind", ["stitch", "engrave"])
def test_a_line_that_leaves_the_outline_is_refused(tmp_path, kind):
    error = refusal(tmp_path, f'<g id="strap">{OUTLINE}<path id="{kind}" d="M50 10h20"/></g>')
    assert (error.place, error.value) == (f"part strap > {kind}", "leaves the outline at (70.0, 90.0)")


def test_a_stitch_that_is_only_a_dot_is_refused(tmp_path):
    assert "a dot" in refusal(tmp_path, f'<g id="strap">{OUTLINE}<path id="stitch" d="M5 5h0"/></g>').value


@pytest.mark.parametrize(
    "shape", ['<path id="stitch" d=""/>', '<circle id="stitch" r="0"/>', '<path id="stitch" d="M5 5"/>']
)
def test_a_shape_that_draws_nothing_is_refused(tmp_path, shape):
    assert refusal(tmp_path, f'<g id="strap">{OUTLINE}{shape}</g>').value == "draws nothing"


def test_a_zone_off_the_part_is_refused(tmp_path):
    assert (
        "outside"
        in refusal(tmp_path, f'<g id="strap">{OUTLINE}<rect id="zone" x="70" width="9" height="9"/></g>').value
    )


def test_a_zone_of_an_unknown_grade_is_refused(tmp_path):
    assert (
        refusal(tmp_path, f'<g id="strap">{OUTLINE}<rect id="zone F" width="9" height="9"/></g>').value
        == "unknown label"
    )


def test_a_zone_with_a_hole_is_refused(tmp_path):
    zone = '<path id="zone" d="M0 0h20v20h-20zM5 5h5v5h-5z"/>'
    assert refusal(tmp_path, f'<g id="strap">{OUTLINE}{zone}</g>').place == "part strap > zone"


@pytest.mark.parametrize("size, limit", [("0.9", "smaller than 1 mm"), ("5001", "bigger than 5 m")])
def test_a_part_of_an_absurd_size_is_refused_as_wrong_units(tmp_path, size, limit):
    error = refusal(tmp_path, f'<g id="strap"><rect id="outline" width="{size}" height="{size}"/></g>')
    assert limit in error.value and "units" in error.mend


@pytest.mark.parametrize("body", ["", "<defs/>", '<g id="strap"/>', '<g id="notes"><rect width="9" height="9"/></g>'])
def test_a_document_without_parts_is_refused(tmp_path, body):
    assert refusal(tmp_path, body).value == "no parts"


@pytest.mark.parametrize(
    "thing, value",
    [
        ('<g id="engrave"><text>cut</text></g>', "text"),
        ('<text id="stitch">cut</text>', "text"),
        ('<image href="x.png"/>', "raster image"),
        ('<foreignObject id="engrave"/>', "text"),
        ("<mesh/>", "mesh"),
        ("<script>1</script>", "script"),
        ('<path id="stitch" clip-path="url(#c)" d="M5 5h5"/>', "clip-path url(#c)"),
        ('<g id="stitch" style="mask: url(#m)"><path d="M5 5h5"/></g>', "mask url(#m)"),
        ('<path id="stitch" filter="url(#f)" d="M5 5h5"/>', "filter url(#f)"),
        ('<path id="stitch" transform="turn(3)" d="M5 5h5"/>', "transform turn(3)"),
        ('<path id="stitch" d="M5 5 q 1"/>', "path data 'q 1'"),
    ],
)
def test_what_cannot_be_read_as_a_line_is_named_and_refused(tmp_path, thing, value):
    error = refusal(tmp_path, f'<g id="strap">{thing}{OUTLINE}</g>')
    assert error.place.startswith("part strap > ")
    assert error.value == value


@pytest.mark.parametrize("tag", ["text", "flowRoot", "foreignObject"])
def test_text_is_a_note_wherever_it_stands(tmp_path, tag):
    words = f'<{tag} x="12" y="30">cut  two</{tag}>'
    drawing = read_drawing(write(tmp_path, f'<g id="strap">{OUTLINE}{words}</g><g e:label="Layer 2">{words}</g>'))
    assert [part.name for part in drawing.parts] == ["strap"] and not drawing.guessed
    assert [(note.text, note.x, note.y) for note in drawing.notes] == [("cut two", 12, 70)] * 2


def test_a_fold_line_is_kept_apart_from_what_is_burnt_and_ends_at_the_outline(tmp_path):
    strap = part(
        tmp_path, '<path id="fold-1" d="M-5 20h100"/><line e:label="Fold line" x1="20" y1="5" x2="20" y2="9"/>'
    )
    assert [fold.length for fold in strap.folds] == pytest.approx([60, 4])
    assert not (strap.stitch or strap.engrave or strap.cutouts)
    assert strap.mirrored.folds[1].coords[0] == pytest.approx((-20, 95))
    fault = refusal(tmp_path, f'<g id="strap">{OUTLINE}<path id="fold" d="M90 20h9"/></g>')
    assert "outside the outline" in str(fault)


def test_no_fold_line_is_taken_for_a_slip_of_outline(tmp_path):
    fault = refusal(tmp_path, f'<g id="strap">{OUTLINE}<path id="folding edge" d="M5 20h9"/></g>')
    assert fault.value == "unknown label" and "did you mean" not in fault.mend
    fault = refusal(tmp_path, f'<g id="strap">{OUTLINE}<path id="stich" d="M5 20h9"/></g>')
    assert "did you mean stitch?" in fault.mend


def test_colours_and_names_of_layers_mean_what_the_workshop_says(tmp_path):
    body = (
        '<g e:label="Layer 1"><rect stroke="#F00" width="60" height="40"/>'
        '<path style="stroke: blue" d="M5 20h9"/><g stroke="rgb(0,0,255)"><path d="M5 30h9"/></g></g>'
        '<g e:label="Crease"><path d="M30 0v40"/></g><path stroke="lime" d="M80 0h9"/>'
    )
    labels = {"#ff0000": "outline", "#0000ff": "stitch", "crease": "fold", "#00ff00": "notes"}
    (only,) = read_pattern(write(tmp_path, body), labels=labels)
    assert (only.name, only.outline.area, len(only.stitch), len(only.folds)) == ("wallet", 2400, 2, 1)


def test_every_fault_of_every_part_is_told_at_once(tmp_path):
    body = (
        f'<g id="strap">{OUTLINE}<path id="stich" d="M5 20h9"/><path id="cutout" d="M5 5h5v5"/></g>'
        '<g id="loop"><path id="outline" d="M100 0h30v9h-2"/></g>'
    )
    with pytest.raises(FileError) as caught:
        read_pattern(write(tmp_path, body))
    assert [fault.place for fault in caught.value.all] == [
        *("part strap > stich", "part strap > cutout", "part loop > outline"),
    ]


def test_a_clip_on_the_group_of_a_part_is_named_before_its_missing_outline(tmp_path):
    body = f'<g id="strap"><path id="stitch" d="M5 5h5"/><g id="g1" mask="url(#m)">{OUTLINE}</g></g>'
    error = refusal(tmp_path, body)
    assert (error.place, error.value) == ("strap > g1", "mask url(#m)")


def test_a_label_that_could_upset_a_terminal_is_escaped(tmp_path):
    error = refusal(tmp_path, '<g e:label="st\u202erap"><rect id="outline" width="9" height="9"/></g>')
    assert all(str(fault).isprintable() for fault in error.all)


def test_a_drawing_is_understood_once_until_it_its_name_or_what_its_labels_mean_is_changed(tmp_path):
    path = write(tmp_path, f'<g id="strap">{OUTLINE}<circle id="bead" cx="10" cy="10" r="3"/></g>')
    first, other = {"bead": "cutout"}, {"bead": "stitch"}
    once = read_drawing(path, labels=first)
    assert read_drawing(path, labels=first) is once
    assert len(read_drawing(path, labels=other).parts[0].stitch) == 1 and len(once.parts[0].cutouts) == 1
    write(tmp_path, f'<g id="strap">{OUTLINE}</g>')
    assert read_drawing(path, labels=first).parts[0].cutouts == ()
    alone = write(tmp_path, OUTLINE.replace('id="outline"', 'id="outline-1"'))
    named = alone.rename(tmp_path / "purse.svg")
    assert read_drawing(named).parts[0].name == "purse"
    assert read_drawing(named.rename(tmp_path / "case.svg")).parts[0].name == "case"
