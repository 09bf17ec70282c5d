import io
import xml.etree.ElementTree as ElementTree
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
import shapely
from matplotlib.colors import to_rgb
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from PIL import Image
from shapely.geometry import LineString, MultiPoint, Polygon, box

from nesting.costs.choices import Choice
from nesting.costs.money import Cost
from nesting.costs.offcuts import offcuts
from nesting.errors import FileError
from nesting.model import Cut, Doubt, Panel
from nesting.report.canvas import style
from nesting.report.drawing import Drawn, draw_compare, draw_hide, draw_offcut, picture, save
from nesting.report.layers import order_look


@pytest.fixture(scope="module")
def figure(layout):
    return draw_hide(layout, "shoulder-7")


def texts(figure) -> list[str]:
    written = [text.get_text() for axes in figure.axes for text in axes.texts]
    return (
        written + [text.get_text() for text in figure.texts] + [label.get_label() for label in labels(figure.axes[0])]
    )


def labels(axes) -> list:
    return [patch for patch in axes.patches if not patch.get_label().startswith("_") and patch.get_label()]


def shapes(patch) -> int:
    """How many outer edges there are in a patch without holes."""
    return int((patch.get_path().codes == Path.MOVETO).sum())


def patches(axes, **look) -> list:
    found = [patch for patch in axes.patches if isinstance(patch, PathPatch)]
    return [patch for patch in found if all(getattr(patch, f"get_{name}")() == value for name, value in look.items())]


def test_every_part_is_drawn_in_its_orders_colour(layout, figure):
    drawn = Counter()
    for patch in patches(figure.axes[0], zorder=4):
        drawn[tuple(np.round(patch.get_facecolor()[:3], 6))] += shapes(patch)
    asked = Counter(tuple(np.round(to_rgb(order_look(layout, p.order)["facecolor"]), 6)) for p in layout.placements)
    assert drawn == asked
    assert len(asked) == 5


def test_more_orders_than_colours_are_told_apart_by_hatching(layout):
    many = replace(layout, wanted={(f"{n}", "p", "q"): 1 for n in range(20)})
    looks = {(order_look(many, f"{n}")["facecolor"], order_look(many, f"{n}")["hatch"]) for n in range(20)}
    assert len(looks) == 20


def test_cutouts_zones_offcuts_and_readings_are_drawn(layout, figure):
    axes = figure.axes[0]
    white = [patch for patch in patches(axes, zorder=5) if patch.get_facecolor() == (1, 1, 1, 1)]
    assert sum(map(shapes, white)) == sum(len(p.cutouts) for p in layout.placements) > 0
    assert len(patches(axes, zorder=2)) == len(layout.hides[0].zones)
    assert len({patch.get_hatch() for patch in patches(axes, zorder=2)}) == 3
    kept = offcuts(layout, "shoulder-7")[0]
    assert len(patches(axes, zorder=3.5)) == len(patches(axes, zorder=3.4)) == len(kept) > 0
    assert any(len(line.get_xdata()) == len(layout.hides[0].readings) for line in axes.lines)


def test_thickness_is_shaded_with_a_bar_in_mm_and_oz(figure):
    assert len(figure.axes[0].images) == 1
    shown = texts(figure)
    assert {"mm", "oz"} <= set(shown)
    assert any("map from 10 readings" in text for text in shown)
    bar = next(axes for axes in figure.axes if axes.child_axes)
    figure.draw_without_rendering()
    low, high = bar.get_xlim()
    ounces = bar.child_axes[0].get_xlim()
    assert ounces == pytest.approx((low / 0.396875, high / 0.396875))


def test_the_title_names_the_hide_and_what_each_yield_is_of(figure):
    shown = " ".join(texts(figure))
    assert "Hide shoulder-7" in shown
    for whole in ("of the whole hide", "of its usable area", "of the leather consumed"):
        assert whole in shown


def test_the_legend_names_orders_zones_backbone_and_offcuts(figure):
    shown = texts(figure)
    for text in (
        "1001 (8)",
        "1002 Håkon & Søn (2)",
        "zone of grade C",
        "backbone",
        "offcut worth keeping",
        "thickness reading",
    ):
        assert text in shown


def test_small_parts_carry_a_number_that_the_key_explains(figure):
    shown = texts(figure)
    assert "spare charm" in shown
    assert shown.count("1") == 9 + 1


def test_labels_lie_on_their_own_part_and_overlap_nothing(layout, figure):
    axes = figure.axes[0]
    names = {p.label for p in layout.placements} | {f"{p.order}\n{p.part}" for p in layout.placements}
    areas = [(text.get_label(), MultiPoint(text.get_path().vertices).convex_hull) for text in labels(axes)]
    assert len(areas) > 20
    for index, (text, area) in enumerate(areas):
        for other, another in areas[index + 1 :]:
            assert not area.intersects(another), (text, other)
        touched = [p for p in layout.placements if p.outline.intersects(area)]
        if text in names or text.isdigit():
            assert len(touched) == 1 and touched[0].outline.contains(area), text
        else:
            assert not touched, text


def test_the_scale_bar_is_as_long_as_it_says(figure):
    assert "200 mm (7.9 in)" in texts(figure)
    axes = figure.axes[0]
    width = axes.get_window_extent().width / (axes.get_xlim()[1] - axes.get_xlim()[0])
    bars = [artist for artist in figure.artists if isinstance(artist, Rectangle)]
    halves = [patch for patch in bars if patch.get_height() == pytest.approx(0.06)]
    assert len(halves) == 2
    assert sum(half.get_width() for half in halves) * figure.dpi == pytest.approx(200 * width)


def test_knife_lines_part_the_panels(layout, figure):
    hide = layout.hides[0]
    left = Polygon(hide.outline.intersection(box(-50, -50, 450, 800)).exterior)
    right = hide.outline.difference(box(-50, -50, 450, 800))
    cut = Cut(
        hide.id,
        *shapely.get_coordinates(hide.outline.intersection(LineString([(450, -50), (450, 800)])))[[0, -1]].tolist(),
    )
    two = replace(layout, panels=(Panel("1", hide.id, left), Panel("2", hide.id, right)), cuts=(cut,))
    drawn = draw_hide(two, hide.id)
    assert {"panel 1", "panel 2", "knife line between panels"} <= set(texts(drawn))
    knife = [line for line in drawn.axes[0].lines if line.get_linewidth() == 1.6]
    assert knife and all(np.allclose(line.get_xdata(), 450) for line in knife)
    assert "knife line between panels" not in texts(figure)


def test_what_the_photo_leaves_in_doubt_is_hatched(layout):
    hide = layout.hides[0]
    x, y = hide.outline.representative_point().coords[0]
    doubts = tuple(Doubt(box(x + step, y, x + step + 20, y + 30), "hole or stain", number=step + 1) for step in (0, 40))
    figure = draw_hide(replace(layout, hides=(replace(hide, doubts=doubts), *layout.hides[1:])), hide.id)
    hatched = patches(figure.axes[0], zorder=3.2)
    assert len(hatched) == 2
    assert all(patch.get_hatch() == "////" for patch in hatched)
    assert "in doubt, kept out" in texts(figure)
    assert "in doubt, kept out" not in texts(draw_hide(layout, hide.id))


def test_an_untouched_hide_can_be_drawn(layout):
    drawn = draw_hide(layout, "side-2")
    assert any("Nothing is cut from it" in text for text in texts(drawn))


def test_a_hide_that_is_taller_than_wide_has_its_legend_beside_it(layout):
    tall = replace(layout.hides[1], outline=box(0, 0, 300, 900))
    drawn = draw_hide(replace(layout, hides=(layout.hides[0], tall)), "side-2")
    assert drawn.get_size_inches()[0] == pytest.approx(8.2)
    assert drawn.get_size_inches()[1] < 10


def test_hostile_names_are_drawn_as_they_are(layout):
    name = "$\\frac{$ <b>&\x1b[31m\x00\u202e漢"
    placements = tuple(replace(p, order=name) if p.order == "1003" else p for p in layout.placements)
    wanted = {(name if key[0] == "1003" else key[0], *key[1:]): count for key, count in layout.wanted.items()}
    zones = tuple(replace(zone, kind="$_{$--><script>") for zone in layout.hides[0].zones)
    hide = replace(layout.hides[0], zones=zones)
    drawn = draw_hide(replace(layout, hides=(hide, layout.hides[1]), placements=placements, wanted=wanted), hide.id)
    root = ElementTree.fromstring(picture(drawn, "svg"))
    assert not [element for element in root.iter() if element.tag.endswith("script")]


def test_a_picture_is_saved_as_png_and_svg(figure, tmp_path):
    png, svg = save(figure, tmp_path / "out" / "hide-v1.2")
    assert (png.name, svg.name) == ("hide-v1.2.png", "hide-v1.2.svg")
    with Image.open(png) as image:
        assert image.width == pytest.approx(8.2 * 150, abs=1)
        assert len(image.convert("L").getcolors(256)) > 50
    assert ElementTree.fromstring(svg.read_bytes()).tag == "{http://www.w3.org/2000/svg}svg"


def test_the_same_figure_gives_the_same_bytes(layout):
    kept = offcuts(layout, "shoulder-7")[0][0]
    for kind in ("svg", "png"):
        assert picture(draw_offcut(kept), kind) == picture(draw_offcut(kept), kind)


def test_a_png_shows_what_matplotlib_writes_and_says_its_scale(layout):
    # Pillow reads it and checks its sums; Matplotlib's own PNG of the figure is the reference.
    drawn, reference = draw_offcut(offcuts(layout, "shoulder-7")[0][0]), io.BytesIO()
    for dpi in (80, 150):
        with Image.open(io.BytesIO(picture(drawn, "png", dpi))) as image, style():
            reference.seek(0)
            drawn.savefig(reference, format="png", dpi=dpi)
            reference.seek(0)
            assert np.array_equal(np.asarray(image), np.asarray(Image.open(reference).convert("RGB")))
            assert image.info["dpi"] == pytest.approx((dpi, dpi), abs=0.02)


def test_a_drawing_is_made_once_for_all_its_uses(layout, monkeypatch):
    drawn, made = Drawn(draw_offcut(offcuts(layout, "shoulder-7")[0][0])), []
    monkeypatch.setattr("nesting.report.drawing.picture", lambda figure, kind, *_: made.append(kind) or b"")
    for _ in range(2):
        assert drawn.svg == drawn.png == drawn.coarser(150) == b""
    assert sorted(made) == ["png", "svg"]


def test_a_picture_that_cannot_be_written_is_a_file_error(layout, tmp_path):
    (tmp_path / "out").write_text("a file, not a folder")
    with pytest.raises(FileError):
        save(draw_offcut(offcuts(layout, "shoulder-7")[0][0]), tmp_path / "out" / "x")


def test_an_offcut_is_drawn_with_its_rectangle_and_size(layout):
    kept = offcuts(layout, "shoulder-7")[0][0]
    drawn = draw_offcut(kept)
    assert len([patch for patch in patches(drawn.axes[0]) if patch.get_zorder() < 5]) == 2
    assert f"{int(kept.width_mm)} × {int(kept.height_mm)} mm" in [text.replace("\n", " ") for text in texts(drawn)]


def choice(layout, name, whole, share, consumed_mm2, cost) -> Choice:
    total = {
        "pieces_whole": whole, "pieces_wanted": 10,
        "yield_of_consumed": share, "consumed_mm2": consumed_mm2, "cost": cost,
    }  # fmt: skip
    return Choice(name, (name,), layout, {"total": total}, True, (Fraction(whole),), Cost(Decimal(cost)))


def test_a_comparison_has_a_bar_for_each_choice_and_measure(layout):
    choices = [choice(layout, "a + b", 8, 0.75, 5e5, "90.10"), choice(layout, "$x_{$", 3, 0.5, 2e5, "30.00")]
    drawn = draw_compare(choices, choices[0])
    assert [axes.get_title(loc="left") for axes in drawn.axes] == [
        "ordered pieces whole",
        "yield of leather consumed",
        "leather consumed",
        "cost, EUR",
    ]
    for axes, key in zip(drawn.axes, ("pieces_whole", "yield_of_consumed", "consumed_mm2", "cost")):
        assert [bar.get_width() for bar in axes.patches] == [float(each.figures["total"][key]) for each in choices]
    labels = [label.get_text() for label in drawn.axes[0].get_yticklabels()]
    assert labels == ["▶ a + b", "$x_{$"]
    assert {"8 of 10", "75.0 %", "50.0 dm²\n5.38 sq ft", "90.10"} <= set(texts(drawn))
    assert Image.open(io.BytesIO(picture(drawn, "png"))).width > 1000


def test_all_hides_of_a_choice_are_named(layout):
    hides = " + ".join(f"cognac-shoulder-{n}" for n in range(6))
    drawn = draw_compare([choice(layout, hides, 8, 0.75, 5e5, "90.10"), choice(layout, "a", 1, 0.5, 1e5, "9.10")])
    named = drawn.axes[0].get_yticklabels()[0].get_text()
    assert " ".join(named.split()) == hides
    short = draw_compare([choice(layout, name, 8, 0.75, 5e5, "90.10") for name in "ab"])
    assert drawn.get_size_inches()[1] > short.get_size_inches()[1]


def test_no_choice_is_marked_where_none_is_the_best(layout):
    drawn = draw_compare([choice(layout, "a", 8, 0.75, 5e5, "90.10")])
    assert drawn.axes[0].get_yticklabels()[0].get_text() == "a"
    assert [text.get_text() for text in drawn.texts] == ["The same orders"]


def test_a_comparison_without_rows_is_still_a_picture():
    assert picture(draw_compare([]), "png").startswith(b"\x89PNG")
