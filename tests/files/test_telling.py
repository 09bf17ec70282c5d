import math
from dataclasses import replace

import pytest

from nesting.errors import FileError
from nesting.files.pattern_svg import write_pattern
from nesting.files.patterns import read_drawing, read_pattern

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" viewBox="0 0 300 200" stroke="black">'


def write(folder, body):
    path = folder / "pouch.svg"
    path.write_text(f"{HEAD}{body}</svg>")
    return path


def told(folder, body):
    drawing = read_drawing(write(folder, body))
    assert drawing.guessed
    return drawing


def row(count, step=4.0, radius=0.5, y=5):
    return "".join(f'<circle cx="{10 + step * n}" cy="{y}" r="{radius}"/>' for n in range(count))


def test_closed_shapes_in_closed_shapes_are_cutouts_and_small_equal_ones_in_rows_stitch_holes(tmp_path):
    body = (
        f'<rect width="100" height="60"/>{row(12)}<circle cx="80" cy="40" r="2"/><circle cx="20" cy="40" r="2"/>'
        '<path d="M40 20h20v10h-20z"/><rect x="150" width="80" height="60"/>'
    )
    drawing = told(tmp_path, body)
    pouch, plain = drawing.parts
    assert (pouch.name, plain.name) == ("pouch-1", "pouch-2")
    assert (len(pouch.stitch), len(pouch.cutouts), len(plain.stitch), len(plain.cutouts)) == (12, 3, 0, 0)


@pytest.mark.parametrize(
    "holes, stitches",
    [
        (row(3), 0),
        (row(4), 4),
        (row(6, 25, 2), 0),
        (row(6, 20, 1), 0),
        (row(5) + '<circle cx="90" cy="50" r="0.5"/>', 5),
        ("".join(f'<path d="M{10 + 4 * n} 5l1.5 1.5"/>' for n in range(8)), 8),
        ("".join(f'<path d="M{10 + 4 * n} 5l1 1l-1 1l-1 -1z"/>' for n in range(8)), 8),
    ],
    ids=["too few", "four", "large and far apart", "far apart", "one by itself", "slits", "diamonds"],
)
def test_only_small_equal_holes_side_by_side_are_stitch_holes(tmp_path, holes, stitches):
    (part,) = told(tmp_path, f'<rect width="160" height="60"/>{holes}').parts
    assert len(part.stitch) == stitches


def test_dashed_and_open_lines_are_folds_and_none_of_them_is_burnt(tmp_path):
    body = (
        '<rect width="100" height="60"/><path d="M0 30h100"/><g stroke-dasharray="4 2"><path d="M-5 40h110"/>'
        '<rect x="10" y="10" width="5" height="5"/></g><path style="stroke-dasharray: none" d="M5 50h20"/>'
    )
    (part,) = told(tmp_path, body).parts
    assert sorted(fold.length for fold in part.folds) == pytest.approx([20, 20, 100, 100])
    assert not (part.cutouts or part.stitch or part.engrave)


def test_lines_that_meet_are_joined_whatever_way_they_were_drawn(tmp_path):
    body = (
        '<line x1="0" y1="0" x2="100" y2="0"/><line x1="100" y1="60" x2="100" y2="0"/>'
        '<path d="M100 60 A50 50 0 0 1 0 60"/><line x1="0" y1="60" x2="0" y2="0.01"/>'
    )
    (part,) = told(tmp_path, body).parts
    assert part.outline.area == pytest.approx(6000 + math.pi * 50**2 / 2, rel=1e-3)
    assert part.curves.outline.length == pytest.approx(220 + math.pi * 50, abs=0.02)
    assert len(part.curves.outline.nodes) <= 6


def test_an_outline_left_open_by_mistake_is_told_with_its_gap(tmp_path):
    with pytest.raises(FileError, match=r"open: .* mm from .*: join the ends"):
        read_drawing(write(tmp_path, '<path d="M0 0h100v60h-100"/><circle cx="50" cy="30" r="2"/>'))


def test_a_small_gap_of_an_outline_is_closed_and_told(tmp_path):
    drawing = told(tmp_path, '<path d="M0 0h100a30 30 0 0 1 0 60h-100v-58"/><circle cx="50" cy="30" r="2"/>')
    (part,) = drawing.parts
    assert part.outline.area == pytest.approx(6000 + math.pi * 30**2 / 2, rel=1e-3) and len(part.cutouts) == 1
    assert part.curves.outline.length == pytest.approx(260 + math.pi * 30, abs=0.01)
    assert drawing.told == ("a line is open by 2 mm at (0.0, 200.0): it is taken as closed by a straight line",)


@pytest.mark.parametrize("beyond", [0.0, 0.02, 5.0], ids=["on it", "just short", "past it"])
def test_lines_that_end_on_the_middle_of_others_go_around_a_part_together(tmp_path, beyond):
    over = beyond if beyond > 1 else -beyond
    body = (
        f'<path d="M20 10v50h100v-50"/><path d="M{20 - over} 12h{100 + 2 * over}"/>'
        f'<path d="M70 {12 - over}v{48 + over}"/>'
        '<circle cx="40" cy="40" r="3"/>'
    )
    drawing = told(tmp_path, body)
    (part,) = drawing.parts
    assert part.outline.area == pytest.approx(100 * 48, rel=1e-3) and len(part.cutouts) == 1
    assert sum(fold.length for fold in part.folds) == pytest.approx(48, abs=0.2)
    assert any(text.startswith("lines that end on others") for text in drawing.told)


def test_folds_that_cross_within_a_part_are_no_cutout(tmp_path):
    folds = '<path d="M20 10L60 50"/><path d="M60 10L20 50"/><path d="M10 15h60"/>'
    (part,) = told(tmp_path, f'<rect width="100" height="60"/>{folds}').parts
    assert len(part.folds) == 3 and not part.cutouts


def test_text_is_a_note_and_names_the_part_it_stands_on(tmp_path):
    drawing = told(tmp_path, '<rect width="100" height="60"/><text x="20" y="30">Front</text>')
    assert drawing.parts[0].name == "Front" and drawing.notes[0].text == "Front"


def test_a_named_group_names_its_part(tmp_path):
    body = '<g id="flap"><rect width="100" height="60"/></g><g id="g12"><rect x="120" width="100" height="60"/></g>'
    assert [part.name for part in told(tmp_path, body).parts] == ["flap", "pouch"]


def test_what_fits_nowhere_is_left_out_and_said(tmp_path):
    body = (
        '<rect x="1" y="1" width="298" height="198"/><rect x="20" y="20" width="100" height="60"/>'
        '<rect x="20" y="20" width="100" height="60"/><circle cx="60" cy="50" r="8"/><path d="M200 100h50"/>'
    )
    drawing = told(tmp_path, body)
    assert [part.outline.area for part in drawing.parts] == [6000] and len(drawing.parts[0].cutouts) == 1
    said = " ".join(drawing.told)
    assert "frame around everything" in said and "drawn twice" in said
    assert "1 open line lies in no part and is left out, at (" in said


def test_nothing_is_planned_with_lines_that_nobody_agreed_to(tmp_path):
    with pytest.raises(FileError, match="its lines have no labels: look at what they are taken for with nesting look"):
        read_pattern(write(tmp_path, '<rect width="100" height="60"/>'))


LOGO = (
    '<g stroke="#ff0000"><rect width="100" height="60"/><circle cx="10" cy="10" r="2"/></g>'
    '<g stroke="#0000ff"><rect x="30" y="20" width="20" height="20"/><circle cx="40" cy="30" r="4"/>'
    '<rect x="60" y="20" width="10" height="20"/></g><rect x="80" y="20" width="5" height="5" stroke="none"/>'
)
"""A tag with a hole of its own colour, a letter with its counter and a stroke in blue, and a shape without a line."""


def test_closed_lines_of_another_colour_than_their_outline_are_asked_about(tmp_path):
    drawing = told(tmp_path, LOGO)
    (tag,) = drawing.parts
    assert len(tag.cutouts) == 4 and drawing.asked_colours == {"#0000ff": 3}
    assert sorted((one.number is None, one.curve.closed) for one in drawing.asked) == [(False, True)] * 2 + [
        (True, True)
    ]
    (question,) = drawing.questions
    assert question.startswith("3 closed lines of #0000ff in an outline of another colour") and "[drawings]" in question
    # where no line has a colour of its own there is nothing to ask, and the tag passes for the edge of a page
    assert told(tmp_path, LOGO.replace("#0000ff", "#f00")).asked == ()
    assert any("a frame around" in text for text in told(tmp_path, LOGO.replace("#0000ff", "#f00")).told)
    assert not any("a frame around" in text for text in drawing.told)


@pytest.mark.parametrize(("label", "cutouts", "engraved"), [("engrave", 2, 3), ("cutout", 4, 0), ("notes", 2, 0)])
def test_a_colour_that_the_workshop_has_a_word_for_is_not_asked_about(tmp_path, label, cutouts, engraved):
    path = write(tmp_path, LOGO)
    drawing = read_drawing(path, labels={"#0000ff": label})
    assert drawing.guessed and not drawing.asked
    (tag,) = drawing.parts
    assert (len(tag.cutouts), len(tag.engrave)) == (cutouts, engraved)
    # all of them known, nothing is told by what it looks like
    known = read_drawing(path, labels={"#0000ff": label, "#ff0000": "outline"}).guessed
    assert known is True


def test_what_is_asked_about_is_still_so_in_the_pattern_that_is_made_of_it(tmp_path):
    path, drawing = tmp_path / "tag.svg", told(tmp_path, LOGO)
    write_pattern(path, drawing)
    again = read_drawing(path)
    assert not again.guessed and again.asked_colours == {"#0000ff": 3}
    assert [len(again.parts[0].cutouts), sum(one.number is None for one in again.asked)] == [4, 1]
    engraved = read_drawing(path, labels={"#0000ff": "engrave"})
    assert not engraved.asked and (len(engraved.parts[0].engrave), len(engraved.parts[0].cutouts)) == (3, 2)
    write_pattern(path, replace(again, asked=()))
    assert not read_drawing(path).asked and len(read_pattern(path)[0].cutouts) == 4


HOLES = f'<g id="STITCH" fill="none">{row(8)}</g>'


def test_a_label_on_some_lines_leaves_the_others_what_they_would_be_without_any(tmp_path):
    body = f'<rect width="100" height="60" stroke="#000"/>{HOLES}<circle cx="50" cy="40" r="4" stroke="red"/>'
    drawing = told(tmp_path, body)
    (flap,) = drawing.parts
    assert (flap.name, flap.outline.area, len(flap.stitch), len(flap.cutouts)) == ("pouch", 6000, 8, 1)
    assert drawing.asked_colours == {"#ff0000": 1}
    assert "2 lines have no label, as others do: taken for what they look like" in drawing.told
    with pytest.raises(FileError, match="some of its lines have no labels: look at what they are taken for"):
        read_pattern(tmp_path / "pouch.svg")


def test_a_labelled_outline_in_no_group_holds_lines_without_labels_and_is_no_edge_of_a_page(tmp_path):
    letter = '<circle cx="50" cy="30" r="14" stroke="blue"/><path d="M45 36L50 22L55 36Z" stroke="blue"/>'
    drawing = told(tmp_path, f'<rect id="outline" width="100" height="60" stroke="#000"/>{HOLES}{letter}')
    (tag,) = drawing.parts
    assert (tag.outline.area, len(tag.stitch), len(tag.cutouts)) == (6000, 8, 1)
    assert drawing.asked_colours == {"#0000ff": 2} and not any("frame" in text for text in drawing.told)


def test_what_a_label_says_is_never_told_otherwise(tmp_path):
    seen = '<circle id="cutout" cx="50" cy="30" r="14"/><g id="cutout-2">{}</g><path id="engrave" d="M80 20h5v5h-5z"/>'
    (tag,) = told(tmp_path, f'<rect width="100" height="60"/>{seen.format(row(8))}').parts
    assert (len(tag.cutouts), len(tag.stitch), len(tag.engrave)) == (9, 0, 1)
    # a copy without a label of what has one is taken once, as its label says
    drawing = told(tmp_path, f'<rect width="100" height="60"/>{HOLES}{row(8)}')
    assert (len(drawing.parts[0].stitch), drawing.parts[0].cutouts) == (8, ())
    assert "8 lines are drawn twice: each is taken once" in drawing.told
    drawing = told(tmp_path, f'<rect width="100" height="60"/>{HOLES}<circle id="stich" cx="50" cy="30" r="4"/>')
    assert "stich is no label: did you mean stitch?" in drawing.told


def test_a_closed_line_without_a_label_outside_labelled_outlines_is_refused(tmp_path):
    body = '<rect id="outline" width="100" height="60"/><rect x="150" width="40" height="40"/>'
    with pytest.raises(FileError, match="belongs to no part"):
        read_drawing(write(tmp_path, body))
