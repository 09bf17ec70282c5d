import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from nesting.geometry import place
from nesting.report.labels import NUMBER_SIZES, SIZES, extent, fit, shortened

POINTS_PER_MM = 0.6


def test_a_large_area_takes_the_first_text_level_and_large():
    label = fit(("1001 body", "1001\nbody"), box(0, 0, 300, 200), POINTS_PER_MM)
    assert (label.text, label.angle, label.size, label.x, label.y) == ("1001 body", 0.0, SIZES[0], 150, 100)


def test_a_narrow_upright_area_turns_the_text_to_read_upwards():
    assert fit(("1001 strap",), box(0, 0, 22, 300), POINTS_PER_MM).angle == 90


@pytest.mark.parametrize("angle", [35, 130, 215, 290])
def test_text_along_a_strap_is_never_upside_down(angle):
    label = fit(("1001 strap",), place(box(0, 0, 300, 22), 0, 0, angle), POINTS_PER_MM)
    assert -90 < label.angle <= 90
    assert (label.angle - angle) % 180 == pytest.approx(0, abs=0.01) or (label.angle - angle) % 180 == pytest.approx(
        180, abs=0.01
    )


def test_a_squarish_area_breaks_the_line():
    assert fit(("1001 a rather long name", "1001\na rather"), box(0, 0, 95, 80), POINTS_PER_MM).text == "1001\na rather"


def test_a_part_too_small_for_words_takes_none():
    assert fit(("1001 charm",), Point(0, 0).buffer(9), POINTS_PER_MM) is None


def test_a_number_fits_where_words_do_not():
    disc = Point(0, 0).buffer(9)
    label = fit(("12",), disc, POINTS_PER_MM, NUMBER_SIZES)
    assert disc.contains(label.box)


def test_an_empty_area_takes_no_label():
    assert fit(("x",), Polygon(), POINTS_PER_MM) is None


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 200), st.floats(0, 200)), min_size=3, max_size=7),
    st.text("abc $_{}\\", min_size=1, max_size=14),
)
def test_a_label_never_leaves_its_area(points, text):
    area = Polygon(points).convex_hull.difference(Point(100, 100).buffer(20))
    label = fit((text, "1"), area, POINTS_PER_MM, NUMBER_SIZES)
    if label is not None:
        assert area.buffer(1e-6).contains(label.box)


def test_a_label_takes_no_more_room_than_was_measured():
    from matplotlib.text import Text

    from nesting.report.canvas import new_figure, style

    with style():
        figure = new_figure(4, 4)
        for text in ("1001 body", "1001\nlong inner sleeve lining", "Çğ|_$x_1$"):
            drawn = figure.add_artist(Text(0.5, 0.5, text, fontsize=8.5, parse_math=False, linespacing=1.05))
            seen = drawn.get_window_extent(figure.canvas.get_renderer())
            width, height = extent(text, 8.5)
            assert seen.width * 72 / figure.dpi <= width and seen.height * 72 / figure.dpi <= height


def test_a_long_name_is_cut_in_its_middle_to_the_width_asked():
    short = shortened("a very long name of an order, its pocket", 7, 90)
    assert short.startswith("a very") and short.endswith("pocket") and "…" in short and len(short) < 30
    assert shortened("short", 7, 60) == "short"
    assert shortened("no room at all", 7, 0) == "…"
