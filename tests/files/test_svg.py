import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import FileError
from nesting.files.svg import read_svg

MM_PER_PX = 25.4 / 96
PAGE = 'width="200mm" height="100mm" viewBox="0 0 200 100"'
NAMESPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:e="urn:editor"'
SQUARE = '<path d="M1 2h3v4h-3z"/>'


def read(folder, body, page=PAGE, tolerance_mm=0.05):
    path = folder / "drawing.svg"
    path.write_text(f"<svg {NAMESPACES} {page}>{body}</svg>", encoding="utf-8")
    return read_svg(path, tolerance_mm)


def box(drawn):
    """The bounds (left, bottom, right, top) of all lines of all shapes."""
    points = np.vstack([line.points for shape in drawn for line in shape.lines])
    return (*points.min(axis=0), *points.max(axis=0))


def faults(drawn):
    return [str(shape.fault.value) for shape in drawn if shape.fault]


@pytest.mark.parametrize(
    "page, expected",
    [
        ('width="200mm" height="100mm" viewBox="0 0 200 100"', (1, 94, 4, 98)),
        ('width="20cm" height="10cm" viewBox="0 0 400 200"', (0.5, 97, 2, 99)),
        ('width="20cm" height="10cm" viewBox="10 20 400 200"', (-4.5, 107, -3, 109)),
        ('width="96" height="96"', (MM_PER_PX, 25.4 - 6 * MM_PER_PX, 4 * MM_PER_PX, 25.4 - 2 * MM_PER_PX)),
        ('viewBox="0 0 96 96"', (MM_PER_PX, 25.4 - 6 * MM_PER_PX, 4 * MM_PER_PX, 25.4 - 2 * MM_PER_PX)),
        ('width="100mm" viewBox="0 0 10 20"', (10, 140, 40, 180)),
        ('height="100mm" viewBox="0 0 10 20"', (5, 70, 20, 90)),
        ('width="auto" height="100mm" viewBox="0 0 10 20"', (5, 70, 20, 90)),
        ("", (MM_PER_PX, -6 * MM_PER_PX, 4 * MM_PER_PX, -2 * MM_PER_PX)),
        ('width="40mm" height="20mm" viewBox="0 0 10 10"', (12, 8, 18, 16)),
        ('width="40mm" height="20mm" viewBox="0 0 10 10" preserveAspectRatio="none"', (4, 8, 16, 16)),
    ],
)
def test_the_page_gives_the_scale(tmp_path, page, expected):
    assert box(read(tmp_path, SQUARE, page)) == pytest.approx(expected)


@pytest.mark.parametrize(
    "page",
    [
        'width="0" height="10mm"',
        'width="10mm" height="-1"',
        'width="100%" height="100%" viewBox="0 0 9 9"',
        'width="10em" height="10mm"',
        'width="10 mm" height="10mm"',
        'width="10mm" height="10mm" viewBox="0 0 0 10"',
        'width="10mm" height="10mm" viewBox="0 0 10"',
        'width="10mm" height="10mm" viewBox="0 0 10 nan"',
        'width="10mm" height="10mm" viewBox="0 0 1e10 10"',
        'width="10mm" height="10mm" viewBox="0 0 9 9" preserveAspectRatio="middle"',
        'width="10mm" height="10mm" transform="scale(2)"',
        'width="10mm" height="10mm" clip-path="url(#c)"',
    ],
)
def test_a_page_without_a_real_size_is_refused(tmp_path, page):
    with pytest.raises(FileError) as caught:
        read(tmp_path, SQUARE, page)
    assert caught.value.place == "document"


def test_units_viewbox_transforms_and_use_work_together(tmp_path):
    # By hand: 1 unit = 2 mm. The path corner (1, 2) moves to (1+10, 2) by the use, doubles to (22, 4) by the group and
    # moves to (25, 9), which is 50 mm from the left and 18 mm from the top of a page 200 mm high.
    # Its size doubles twice.
    body = (
        f'<defs><g id="s">{SQUARE}</g></defs>'
        '<g transform="translate(3,5)"><g transform="scale(2)"><use xlink:href="#s" x="10"/></g></g>'
    )
    page = 'width="40cm" height="20cm" viewBox="0 0 200 100"'
    assert box(read(tmp_path, body, page)) == pytest.approx((50, 200 - 18 - 16, 50 + 12, 200 - 18))


def test_the_transform_of_a_use_is_outside_its_x_and_y(tmp_path):
    body = f'<defs><g id="s">{SQUARE}</g></defs><use href="#s" x="10" y="1" transform="rotate(90)"/>'
    # (x, y) -> (-y, x) after moving by (10, 1): corners (11, 3) to (14, 7) become (-7, 11) to (-3, 14).
    assert box(read(tmp_path, body)) == pytest.approx((-7, 86, -3, 89))


def test_a_nested_svg_has_a_viewport_of_its_own(tmp_path):
    # 40 x 20 mm at (10, 30) showing 10 x 10 units: scale 2, centred, so 10 mm to the right.
    body = f'<svg x="10" y="30" width="40" height="20" viewBox="0 0 10 10">{SQUARE}</svg>'
    assert box(read(tmp_path, body)) == pytest.approx((10 + 10 + 2, 100 - 30 - 12, 10 + 10 + 8, 100 - 30 - 4))


def test_percentages_are_of_the_nearest_viewport(tmp_path):
    body = '<svg width="50%" height="50%" viewBox="0 0 40 20"><rect x="25%" y="50%" width="10%" height="10%"/></svg>'
    # Half the page is 100 x 50 mm for 40 x 20 units: scale 2.5. The rect is at (10, 10) and 4 x 2 units.
    assert box(read(tmp_path, body)) == pytest.approx((25, 100 - 30, 35, 100 - 25))


def test_a_percentage_of_an_unknown_page_is_refused(tmp_path):
    assert faults(read(tmp_path, '<rect width="10%" height="9"/>', page="")) == ["width 10%"]


def test_lengths_inside_may_have_units(tmp_path):
    page = 'width="96px" height="96px"'
    assert box(read(tmp_path, '<rect x="1mm" width="1cm" height=".5in"/>', page)) == pytest.approx((1, 12.7, 11, 25.4))


@pytest.mark.parametrize("width", ["1em", "50vw", "1.2.3", "", "nan", "inf", "1e400", "0x10", "١"])
def test_a_length_that_cannot_be_known_is_refused(tmp_path, width):
    assert len(faults(read(tmp_path, f'<rect width="{width}" height="9"/>'))) == 1


def test_what_a_nested_svg_would_clip_is_refused(tmp_path):
    svg = '<svg width="5" height="5"{}><rect width="6" height="3"/></svg>'
    assert faults(read(tmp_path, svg.format(""))) == ["leaves the nested svg, symbol or clip that cuts it off"]
    assert faults(read(tmp_path, svg.format(' overflow="visible"'))) == []


@pytest.mark.parametrize(
    "shape, area, tolerance",
    [
        ('<rect x="5" y="6" width="20" height="10"/>', 200, 1e-9),
        ('<rect width="20" height="10" rx="2"/>', 200 - (4 - math.pi) * 4, 0.33),
        ('<rect width="20" height="10" rx="2" ry="1"/>', 200 - (4 - math.pi) * 2, 0.3),
        ('<rect width="20" height="10" ry="2"/>', 200 - (4 - math.pi) * 4, 0.33),
        ('<rect width="20" height="10" rx="50"/>', 200 - (4 - math.pi) * 10 * 5, 1.5),
        ('<circle cx="50" cy="50" r="20"/>', math.pi * 400, 6.3),
        ('<ellipse cx="50" cy="50" rx="20" ry="10"/>', math.pi * 200, 4.9),
        ('<ellipse cx="50" cy="50" ry="10"/>', math.pi * 100, 3.2),
        ('<polygon points="0,0 10,0 10,10 0,10"/>', 100, 1e-9),
    ],
)
def test_basic_shapes_enclose_their_areas(tmp_path, shape, area, tolerance):
    (drawn,) = read(tmp_path, shape)
    (line,) = drawn.lines
    x, y = line.points.T
    found = abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1))) / 2
    assert line.closed
    assert area - tolerance <= found <= area + 1e-9


@pytest.mark.parametrize(
    "shape", ['<line x1="1" y1="2" x2="4" y2="6"/>', '<polyline points="1 2,4 6"/>', '<polyline points="1,2 4,6"/>']
)
def test_lines_and_polylines_stay_open(tmp_path, shape):
    (drawn,) = read(tmp_path, shape)
    assert not drawn.lines[0].closed
    assert drawn.lines[0].points == pytest.approx(np.array([[1, 98], [4, 94]]))


@pytest.mark.parametrize(
    "shape",
    ['<polygon points="1 2 3"/>', '<rect width="-1" height="3"/>', '<circle r="-1"/>', '<polygon points="0 0 L 1 1"/>'],
)
def test_a_shape_with_wrong_numbers_is_refused(tmp_path, shape):
    assert len(faults(read(tmp_path, shape))) == 1


numbers = st.floats(-50, 50, allow_nan=False).map(lambda value: round(value, 3))
factors = st.floats(0.2, 3).map(lambda value: round(value, 3)).flatmap(lambda value: st.sampled_from([value, -value]))


def rotation(angle):
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]])


def shift(x, y):
    return np.array([[1, 0, x], [0, 1, y], [0, 0, 1]], dtype=float)


def shear(x, y):
    return np.array([[1, math.tan(math.radians(x)), 0], [math.tan(math.radians(y)), 1, 0], [0, 0, 1]])


transforms = st.one_of(
    st.tuples(numbers, numbers).map(lambda v: (f"translate({v[0]},{v[1]})", shift(*v))),
    numbers.map(lambda v: (f"translate({v})", shift(v, 0))),
    st.tuples(factors, factors).map(lambda v: (f"scale({v[0]} {v[1]})", np.diag([*v, 1.0]))),
    factors.map(lambda v: (f"scale({v})", np.diag([v, v, 1.0]))),
    numbers.map(lambda v: (f"rotate({v})", rotation(v))),
    st.tuples(numbers, numbers, numbers).map(
        lambda v: (f"rotate({v[0]}, {v[1]}, {v[2]})", shift(v[1], v[2]) @ rotation(v[0]) @ shift(-v[1], -v[2]))
    ),
    numbers.map(lambda v: (f"skewX({v})", shear(v, 0))),
    numbers.map(lambda v: (f"skewY({v})", shear(0, v))),
    st.tuples(factors, numbers, factors, numbers).map(
        lambda v: (
            f"matrix({v[0]},0.1,-0.2,{v[2]},{v[1]},{v[3]})",
            np.array([[v[0], -0.2, v[1]], [0.1, v[2], v[3]], [0, 0, 1]]),
        )
    ),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(transforms, min_size=1, max_size=3), min_size=1, max_size=5))
def test_nested_transforms_multiply_as_matrices_do(tmp_path_factory, levels):
    corners = np.array([[0, 0, 1], [7, 0, 1], [7, 3, 1], [2, 9, 1]], dtype=float)
    body = '<polygon points="0 0 7 0 7 3 2 9"/>'
    matrix = np.eye(3)
    for level in levels:
        for _, step in level:
            matrix = matrix @ step
    for level in reversed(levels):
        body = f'<g transform="{" ".join(text for text, _ in level)}">{body}</g>'
    (drawn,) = read(tmp_path_factory.mktemp("transforms"), body)
    expected = (corners @ matrix.T)[:, :2] * [1, -1] + [0, 100]
    assert drawn.lines[0].points == pytest.approx(expected, rel=1e-9, abs=1e-7)


@pytest.mark.parametrize(
    "text",
    [
        "scale(0)",
        "scale(1 0)",
        "matrix(1 2 2 4 0 0)",
        "turn(1)",
        "scale(1,2,3)",
        "rotate(1 2)",
        "rotate(45deg",
        "matrix(1)",
        "scale(1e9) scale(1e9)",
        "translate(nan)",
        "translate(10px)",
        "rotate",
        ")(",
    ],
)
def test_a_transform_that_means_nothing_is_refused(tmp_path, text):
    assert len(faults(read(tmp_path, f'<g transform="{text}">{SQUARE}</g>'))) == 1


def test_transforms_that_explode_when_nested_are_refused(tmp_path):
    body = SQUARE
    for _ in range(40):
        body = f'<g transform="scale(1e8)">{body}</g>'
    assert faults(read(tmp_path, body)) == ["transforms multiply to over 1e9"]


@pytest.mark.parametrize(
    "body, value",
    [
        ('<use href="#none"/>', "use of #none"),
        ("<use/>", "use of nothing"),
        ('<use href="other.svg#a"/>', "use of other.svg#a"),
        ('<use href="http://example.org/a.svg#a"/>', "use of http://example.org/a.svg#a"),
        ('<use href="file:///etc/passwd"/>', "use of file:///etc/passwd"),
        ('<use id="a" href="#a"/>', "use of #a"),
        ('<g id="a"><use href="#a"/></g>', "use of #a"),
        ('<defs><g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g></defs><use href="#a"/>', "use of #a"),
        ('<defs><g id="a"/><g id="a"/></defs><use href="#a"/>', "use of #a"),
        ('<clipPath id="c"/><use href="#c"/>', "use of #c"),
        ('<symbol id="s" refX="3"/><use href="#s"/>', "symbol with a reference point"),
        ('<image id="i"/><use href="#i"/>', "raster image"),
    ],
)
def test_a_use_that_cannot_be_followed_is_refused(tmp_path, body, value):
    assert value in faults(read(tmp_path, body))


def test_copies_of_copies_without_end_are_refused(tmp_path):
    body = "".join(f'<g id="n{i}">{f"""<use href="#n{i + 1}"/>""" * 10}</g>' for i in range(9))
    with pytest.raises(FileError, match="copies over 20000 elements by use"):
        read(tmp_path, f'<defs>{body}<g id="n9">{SQUARE}</g></defs><use href="#n0"/>')


def test_copies_nested_too_deep_are_refused(tmp_path):
    body = "".join(f'<g id="n{i}"><use href="#n{i + 1}"/></g>' for i in range(80))
    with pytest.raises(FileError, match="nested over 100 levels"):
        read(tmp_path, f'<defs>{body}<g id="n80">{SQUARE}</g></defs><use href="#n0"/>')


@pytest.mark.parametrize(
    "hidden",
    [
        '<g display="none">{}</g>',
        '<g style="fill:red;display: none">{}</g>',
        '<style>.h{{display:none}}</style><g class="a h">{}</g>',
        '<style>/* x */ g.h, #other {{ fill: red; display:none; }}</style><g class="h">{}</g>',
        '<style><![CDATA[#k{{display:none}}]]></style><g id="k">{}</g>',
        '<g visibility="hidden">{}</g>',
        "<defs>{}</defs>",
        "<symbol>{}</symbol>",
        "<pattern>{}</pattern>",
        '<metadata xmlns:k="urn:k"><k:g>{}</k:g></metadata>',
        '<k:data xmlns:k="urn:k">{}</k:data>',
    ],
)
def test_what_the_drawing_hides_is_left_out(tmp_path, hidden):
    assert read(tmp_path, hidden.format(SQUARE + "<text/>")) == ()


@pytest.mark.parametrize(
    "shown",
    [
        '<style>.h{{display:none}}</style><g class="h" style="display:inline">{}</g>',
        '<style>#k{{display:inline}} .h{{display:none}}</style><g id="k" class="h">{}</g>',
        '<style>.h{{display:none}} .i{{display:inline}}</style><g class="i h">{}</g>',
        '<style>path.h{{display:none}}</style><g class="h">{}</g>',
        "<style>@charset 'utf-8'; @font-face{{font-family:x;src:url(x)}} svg > path:hover{{fill:red}}</style>{}",
        '<g visibility="hidden"><g visibility="visible">{}</g></g>',
        '<switch><foreignObject requiredExtensions="x"/><g>{}</g></switch>',
        "<a>{}</a>",
    ],
)
def test_what_the_drawing_shows_is_read(tmp_path, shown):
    assert box(read(tmp_path, shown.format(SQUARE))) == pytest.approx((1, 94, 4, 98))


def test_a_style_may_transform_and_size(tmp_path):
    body = '<rect width="9" height="4" style="transform: translate(1, 2); width: 3px"/>'
    assert box(read(tmp_path, body)) == pytest.approx((1, 94, 4, 98))


@pytest.mark.parametrize(
    "style",
    [
        "g path{display:none}",
        "path:hover{d:none}",
        "@media print{g{display:none}}",
        "@import url(http://example.org/x.css);",
        ".h{display:none",
        ".h}display:none{",
        ".h{display:none !important}",
        "".join(f".a{i}{{display:none}}" for i in range(2001)),
    ],
)
def test_a_style_rule_that_might_hide_something_unseen_is_refused(tmp_path, style):
    with pytest.raises(FileError):
        read(tmp_path, f"<style>{style.replace('>', '&gt;')}</style>{SQUARE}")


@pytest.mark.parametrize(
    "attributes",
    [
        'clip-path="url(#c)"',
        'style="mask:url(#c)"',
        'style="rotate:45deg"',
        'transform="rotate(9)" transform-origin="5 5"',
        'systemLanguage="de"',
    ],
)
def test_effects_that_change_what_is_seen_are_refused(tmp_path, attributes):
    assert len(faults(read(tmp_path, f"<g {attributes}>{SQUARE}</g>"))) == 1


def test_the_trail_names_every_group_from_the_outermost(tmp_path):
    (drawn,) = read(tmp_path, '<g e:label=" Layer  1 "><g id="a_x0020_b"><path data-name="q" d="M0 0h1"/></g></g>')
    assert [(node.label, node.id) for node in drawn.trail] == [("Layer 1", ""), ("", "a b"), ("q", "")]


def test_too_many_points_are_refused(tmp_path):
    with pytest.raises(FileError, match="over 500000 points"):
        read(tmp_path, f'<path d="M0 0h{"1 " * 500_001}"/>')


@pytest.mark.parametrize("data", ["M0 0h1e8", "M0 0C1e9 0 0 1e9 1e9 1e9", "M0 0h1e9", "M0 0A1e9 1e9 0 0 1 1e9 1e9"])
def test_huge_numbers_are_refused(tmp_path, data):
    try:
        drawn = read(tmp_path, f'<path d="{data}"/>')
    except FileError as error:
        assert "points" in str(error)
    else:
        assert faults(drawn) == ["reaches beyond 1 km"]


def test_a_clip_that_cuts_nothing_off_does_no_harm(tmp_path):
    clip = '<clipPath id="c"><rect x="10" y="10" width="50" height="40"/></clipPath>'
    path = tmp_path / "x.svg"
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
    path.write_text(
        f'{head}{clip}<g transform="translate(5 5)" clip-path="url(#c)"><rect x="20" y="20" width="9" height="9"/>'
        '<rect x="50" y="20" width="20" height="9"/></g></svg>'
    )
    inside, outside = read_svg(path, 0.05)
    assert not inside.fault and inside.lines[0].points.min(axis=0).tolist() == pytest.approx([25, 46])
    assert "clip" in str(outside.fault)
    path.write_text(path.read_text().replace('id="c"', 'id="c" clipPathUnits="objectBoundingBox"'))
    assert all("release clips" in str(drawn.fault) for drawn in read_svg(path, 0.05))
