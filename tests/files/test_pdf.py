import io
import math
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laser_samples import hide, layout_of, placement
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTCurve
from reportlab.pdfgen.canvas import Canvas
from shapely.geometry import LineString, Polygon, box

from nesting.errors import FileError
from nesting.files.bring import read_any
from nesting.files.pdf import read_pdf
from nesting.report.paper import write_templates

MM = 72 / 25.4
A4 = (210 * MM, 297 * MM)
"""ISO 216."""


def canvas(path, size=A4, **others):
    made = Canvas(str(path), pagesize=size, **others)
    made.scale(MM, MM)
    return made


def pouch(made):
    made.rect(20, 20, 100, 60)
    made.circle(50, 50, 5)
    made.setDash([2, 1])
    made.line(20, 40, 120, 40)
    made.setDash()
    for n in range(12):
        made.circle(25 + 4 * n, 25, 0.5)
    made.setFont("Helvetica", 5)
    made.drawString(30, 70, "Front")


def test_a_page_is_read_at_true_size(tmp_path):
    made = canvas(tmp_path / "x.pdf")
    pouch(made)
    made.save()
    drawing = read_any(tmp_path / "x.pdf")
    (part,) = drawing.parts
    assert part.name == "Front" and drawing.guessed and not drawing.told
    assert part.outline.bounds == pytest.approx((20, 20, 120, 80), abs=1e-4)
    assert (len(part.cutouts), len(part.stitch), len(part.folds)) == (1, 12, 1)
    # four cubics stand for a circle, as always in PDF: they are off by up to 2.7e-4 of its radius
    assert part.curves.cutouts[0].length == pytest.approx(10 * math.pi, rel=1e-3)


def test_a_form_that_is_moved_turned_and_scaled_lies_where_another_reader_sees_it(tmp_path):
    made = canvas(tmp_path / "x.pdf")
    made.beginForm("leaf")
    made.bezier(0, 0, 10, 30, 40, 30, 50, 0)
    made.line(0, 0, 50, 0)
    made.endForm()
    made.translate(60, 80)
    made.rotate(30)
    made.scale(1.5, 0.8)
    made.doForm("leaf")
    made.save()
    lines = [line.points for shape in read_pdf(tmp_path / "x.pdf", 0.01).drawn for line in shape.lines]
    (page,) = extract_pages(tmp_path / "x.pdf")
    theirs = [shape for figure in page for shape in figure if isinstance(shape, LTCurve)]
    ends = sorted((x / MM, y / MM) for shape in theirs for x, y in (shape.pts[0], shape.pts[-1]))
    ours = sorted(tuple(line[at]) for line in lines for at in (0, -1))
    assert np.array(ours) == pytest.approx(np.array(ends), abs=1e-3)


@pytest.mark.parametrize("turn, bounds", [(0, (20, 20, 120, 80)), (90, (20, 177, 80, 277)), (180, (90, 217, 190, 277))])
def test_a_page_lies_as_it_is_shown(tmp_path, turn, bounds):
    made = canvas(tmp_path / "x.pdf")
    made.setPageRotation(turn)
    made.rect(20, 20, 100, 60)
    made.save()
    (shape,) = read_pdf(tmp_path / "x.pdf", 0.01).drawn
    points = shape.lines[0].points
    assert (*points.min(axis=0), *points.max(axis=0)) == pytest.approx(bounds, abs=0.01)


def test_a_sheet_of_small_parts_lies_beside_a_template_over_several_sheets(tmp_path):
    long = placement(outline=box(0, 0, 420, 90), part="long")
    small = placement(2, outline=Polygon([(0, 0), (40, 0), (40, 20)]), part="small")
    layout = layout_of([long, small], tannage="chrome", hides=[hide(tannage="chrome", outline=box(0, 0, 900, 500))])
    drawing = read_any(write_templates(layout, "h1", tmp_path)[0])
    assert sorted(part.outline.area for part in drawing.parts) == pytest.approx([400, 420 * 90], rel=1e-3)
    assert "1 of the pages have no marks" in " ".join(drawing.told)


def test_a_template_over_several_sheets_is_put_together_by_its_marks(tmp_path):
    long = Polygon([(0, 0), (420, 0), (420, 60), (380, 90), (0, 90)])
    part = placement(outline=long, stitch=(LineString([(10, 10), (400, 10)]),))
    layout = layout_of([part], tannage="chrome", hides=[hide(tannage="chrome", outline=box(0, 0, 900, 500))])
    path, count = write_templates(layout, "h1", tmp_path)
    assert count > 2
    drawing = read_any(path)
    said = " ".join(drawing.told)
    assert "1 of the pages only tell where templates go" in said
    assert f"{count - 2} pages are joined by their marks" in said and "1 of the pages only check the printer's" in said
    (found,) = drawing.parts
    assert found.outline.area == pytest.approx(long.area, rel=1e-3)
    assert [fold.length for fold in found.folds] == pytest.approx([390], abs=0.1)


def tiles(path, shape, columns, rows, window=(180, 260), by_rows=True):
    """A shape cut up into pages without any mark, each with its lines cut off at the edge of the window."""
    made = canvas(path)
    wide, high = window
    spots = [(c, r) for r in range(rows) for c in range(columns)]
    for column, row in spots if by_rows else sorted(spots):
        x0, y0 = column * wide, (rows - 1 - row) * high
        for line in (shape.exterior, *shape.interiors):
            cut = LineString(line.coords).intersection(box(x0, y0, x0 + wide, y0 + high))
            for piece in getattr(cut, "geoms", [cut]):
                points = [(x - x0 + 15, y - y0 + 18) for x, y in piece.coords]
                for (xa, ya), (xb, yb) in pairwise(points):
                    made.line(xa, ya, xb, yb)
        made.showPage()
        made.scale(MM, MM)
    made.save()


@pytest.mark.parametrize("columns, rows, by_rows", [(2, 1, True), (2, 2, True), (2, 2, False), (3, 2, True)])
def test_pages_without_marks_are_joined_by_their_order_where_lines_meet(tmp_path, columns, rows, by_rows):
    wide, high = 180 * columns, 260 * rows
    edge = [(0, 0), (wide, 0), (wide - 30, high / 2 + 10), (wide, high), (wide / 2 + 7, high - 25), (0, high)]
    bag = Polygon(edge, [[(60, 60), (wide - 70, 70), (wide - 80, high - 90), (70, high - 60)]])
    tiles(tmp_path / "bag.pdf", bag, columns, rows, by_rows=by_rows)
    drawing = read_any(tmp_path / "bag.pdf")
    assert "joined by their order" in " ".join(drawing.told)
    (part,) = drawing.parts
    assert part.outline.area == pytest.approx(Polygon(edge).area, rel=1e-4)
    assert part.cutouts[0].area == pytest.approx(Polygon(edge).area - bag.area, rel=1e-4)


def test_pages_that_do_not_belong_together_are_taken_one_by_one_and_that_is_said(tmp_path):
    made = canvas(tmp_path / "x.pdf")
    made.rect(20, 20, 100, 60)
    made.showPage()
    made.scale(MM, MM)
    made.rect(30, 30, 50, 60)
    made.showPage()
    made.drawString(10, 10, "thank you")
    made.save()
    drawing = read_any(tmp_path / "x.pdf")
    assert [part.outline.area for part in drawing.parts] == pytest.approx([6000, 3000], rel=1e-4)
    told = " ".join(drawing.told)
    assert "each is taken by itself" in told and "1 pages without lines" in told


@pytest.mark.parametrize("content, value", [(b"", "empty"), (b"%PDF-1.4", "damaged"), (b"hello", "damaged")])
def test_what_is_no_pdf_is_refused_in_one_line(tmp_path, content, value):
    (tmp_path / "x.pdf").write_bytes(content)
    with pytest.raises(FileError) as caught:
        read_pdf(tmp_path / "x.pdf", 0.01)
    assert value in str(caught.value) and str(caught.value).isprintable()


def test_a_page_without_lines_is_refused(tmp_path):
    made = canvas(tmp_path / "x.pdf")
    made.drawString(10, 10, "no lines here")
    made.save()
    with pytest.raises(FileError, match="no lines: export it as a vector PDF"):
        read_pdf(tmp_path / "x.pdf", 0.01)


def test_a_locked_file_is_refused(tmp_path):
    made = canvas(tmp_path / "x.pdf", encrypt="secret")
    made.rect(20, 20, 100, 60)
    made.save()
    with pytest.raises(FileError, match="locked by a password|damaged"):
        read_pdf(tmp_path / "x.pdf", 0.01)


@cache
def sound():
    """The bytes of a sound drawing, the same all the while."""
    text = io.BytesIO()
    made = Canvas(text, pagesize=A4, pageCompression=0, invariant=True)
    made.scale(MM, MM)
    pouch(made)
    made.save()
    return text.getvalue()


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(st.floats(0, 0.999), st.integers(0, 8), st.binary(max_size=8)), min_size=1, max_size=4))
def test_any_damage_gives_lines_or_one_message(tmp_path_factory, damage):
    content = bytearray(sound())
    for share, length, other in damage:
        at = int(share * len(content))
        content[at : at + length] = other
    path = tmp_path_factory.mktemp("pdf") / "x.pdf"
    path.write_bytes(bytes(content))
    try:
        assert all(np.isfinite(line.points).all() for drawn in read_pdf(path, 0.05).drawn for line in drawn.lines)
    except FileError as error:
        assert str(error).isprintable()
