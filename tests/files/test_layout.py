import json
import re
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layouts import layout as tags
from layouts import put
from shapely.geometry import LineString, Polygon, box

from nesting.errors import FileError
from nesting.files.layout import layout_from_dict, layout_to_dict, read_layout, write_layout
from nesting.geometry import place
from nesting.model import (
    Cut,
    Direction,
    Hide,
    Kind,
    Layout,
    Machine,
    Margins,
    OrderLine,
    Panel,
    Placement,
    Prices,
    Reading,
    Setting,
    Unplaced,
    Workshop,
    Zone,
)
from nesting.planning.hands import pinned, spoiled
from nesting.referee.rules import check

HIDE = Hide(
    "side-1",
    Polygon(box(0, 0, 1200, 900).exterior, [box(300, 300, 340, 350).exterior]),
    zones=(Zone(box(1000, 0, 1250, 200), "D", "belly"),),
    readings=(Reading(100, 100, 1.2), Reading(800.00004, 500, 1.3)),
    nominal_mm=1.2,
    backbone=((0, 900), (1200, 900)),
    tannage="vegetable",
    price=Decimal("80.10"),
)
SETTING = Setting("veg 1.2", 1.2, 20, 40, 1, 1.0, 1.4)
PART = Polygon([(0, 0), (80, 0), (80, 1 / 3), (60, 50), (0, 50)])


def layout(x=100.0, y=100.0, angle=30.0, mirrored=False) -> Layout:
    put = lambda shape: place(shape, x, y, angle)  # noqa: E731
    placement = Placement(
        hide="side-1",
        panel="side-1.1",
        order="1001",
        product="card holder",
        part="body",
        piece=1,
        copy=2,
        grade="B",
        x=x,
        y=y,
        angle=angle,
        mirrored=mirrored,
        match="1001/card holder",
        direction=Direction("along", 20, False),
        thickness_mm=(1.0, 1.4),
        outline=put(PART),
        cutouts=(put(box(10, 10, 20, 20)),),
        stitch=(put(LineString([(5, 5), (6, 5), (6, 6), (5, 5)])),),
        engrave=(put(LineString([(30, 30), (40, 31.23456)])),),
        folds=(put(LineString([(5, 5), (5, 20)])),),
        engrave_how=("line",),
        zones=(Zone(put(box(0, 0, 10, 50)), "E", "overlap"),),
    )
    return Layout(
        workshop=Workshop(
            Machine("bench", 600, 400, 60), (SETTING,), Margins(gap_mm=0.8), Prices("GBP", Decimal("12.50"))
        ),
        hides=(HIDE, Hide("belly-2", box(0, 0, 400, 300))),
        panels=(
            Panel("side-1.1", "side-1", Polygon(box(0, 0, 590, 390).exterior, [box(300, 300, 340, 350).exterior])),
        ),
        settings={"side-1": SETTING},
        wanted={("1001", "card holder", "body"): 2, ("1001", "card holder", "pocket"): 1},
        placements=(placement,),
        unplaced=(Unplaced("1001", "card holder", "pocket", 1, 1, True, "too big for any hide", True),),
        seed=7,
        iterations=1200,
        seconds=3.25,
    )


def refusal(change, *keys) -> FileError:
    """What is said when the value at ``keys`` of a sound layout file is changed."""
    data = json.loads(json.dumps(layout_to_dict(layout())))
    inner = data
    for key in keys[:-1]:
        inner = inner.setdefault(key, {}) if isinstance(inner, dict) else inner[key]
    inner[keys[-1]] = change
    with pytest.raises(FileError) as caught:
        layout_from_dict(data, "layout.json")
    assert str(caught.value).startswith("layout.json: ")
    return caught.value


def assert_same(one: Layout, two: Layout) -> None:
    """Equal in everything but geometry, and in geometry to the rounding of the file."""
    for name in ("workshop", "settings", "wanted", "unplaced", "seed", "iterations", "seconds"):
        assert getattr(one, name) == getattr(two, name), name
    assert [geometry(hide.outline) for hide in one.hides] == [geometry(hide.outline) for hide in two.hides]
    for a, b in zip(one.hides, two.hides, strict=True):
        assert (a.id, a.nominal_mm, a.backbone, a.tannage, a.price) == (
            b.id,
            b.nominal_mm,
            b.backbone,
            b.tannage,
            b.price,
        )
        assert [(zone.grade, zone.kind, geometry(zone.polygon)) for zone in a.zones] == [
            (zone.grade, zone.kind, geometry(zone.polygon)) for zone in b.zones
        ]
        assert [reading.mm for reading in a.readings] == [reading.mm for reading in b.readings]
    for a, b in zip(one.panels, two.panels, strict=True):
        assert (a.id, a.hide, geometry(a.polygon)) == (b.id, b.hide, geometry(b.polygon))
    for a, b in zip(one.placements, two.placements, strict=True):
        assert (a.key, a.hide, a.panel, a.grade, a.match, a.filler) == (
            b.key,
            b.hide,
            b.panel,
            b.grade,
            b.match,
            b.filler,
        )
        assert (a.direction, a.thickness_mm) == (b.direction, b.thickness_mm)
        assert (a.x, a.y, a.angle) == pytest.approx((b.x, b.y, b.angle), abs=5.1e-5)
        assert a.angle == pytest.approx(b.angle, abs=5.1e-8)
        assert geometry(a.outline) == geometry(b.outline)
        for name in ("cutouts", "stitch", "engrave", "folds"):
            assert [geometry(shape) for shape in getattr(a, name)] == [geometry(shape) for shape in getattr(b, name)]
        assert [(zone.grade, zone.kind, geometry(zone.polygon)) for zone in a.zones] == [
            (zone.grade, zone.kind, geometry(zone.polygon)) for zone in b.zones
        ]


class geometry:
    """A shape that equals another when their points, in order, are within 1e-4 mm."""

    def __init__(self, shape):
        self.shape = shape

    def __eq__(self, other):
        return shapely.equals_exact(self.shape, other.shape, 1e-4)


def test_a_layout_survives_being_written_and_read(tmp_path):
    path = tmp_path / "out" / "layout.json"
    write_layout(path, layout(), {"total": {"cost": Decimal("12.30"), "yield": 0.75, "day": date(2025, 3, 14)}})
    assert_same(read_layout(path), layout())
    assert json.loads(path.read_text())["figures"] == {"total": {"cost": "12.30", "yield": 0.75, "day": "2025-03-14"}}


def test_a_layout_read_and_written_again_says_the_same(tmp_path):
    write_layout(tmp_path / "a.json", layout(), {})
    write_layout(tmp_path / "b.json", read_layout(tmp_path / "a.json"), {})
    assert json.loads((tmp_path / "a.json").read_text()) == json.loads((tmp_path / "b.json").read_text())


@settings(deadline=None)
@given(x=st.floats(-3000, 3000), y=st.floats(-3000, 3000), angle=st.floats(-360, 720), mirrored=st.booleans())
def test_any_placement_is_read_back_within_the_rounding(x, y, angle, mirrored):
    one = layout(x, y, angle, mirrored)
    assert_same(layout_from_dict(json.loads(json.dumps(layout_to_dict(one))), "layout.json"), one)


def test_the_keys_of_a_layout_file_are_the_published_ones():
    data = layout_to_dict(layout())
    assert sorted(data) == sorted(
        [
            "format",
            "version",
            "hides",
            "margins",
            "placements",
            "unplaced",
            "figures",
            "panels",
            "cuts",
            "more_settings",
            "bed",
            "settings",
            "wanted",
            "partial",
            "workshop",
            "run",
        ]
    )
    assert sorted(data["placements"][0]) == sorted(
        "hide panel order product part grade x y angle outline cutouts zones piece copy mirrored match filler "
        "direction thickness_mm stitch engrave engrave_how setting under folds".split()
    )
    # in this order, so that a layout written again is the same file
    assert list(data["placements"][0])[:9] == "hide panel order product part piece copy grade mirrored".split()
    assert sorted(data["unplaced"][0]) == sorted("order product part reason piece copy mirrored filler".split())
    assert data["placements"][0]["direction"] == {"kind": "along", "tolerance_deg": 20, "turn": False}
    assert data["bed"] == {"width_mm": 600, "height_mm": 400}
    assert data["run"] == {"seed": 7, "iterations": 1200, "seconds": 3.25}


def test_the_limits_it_was_made_with_are_kept_and_written_only_where_there_are_any(tmp_path):
    limits = {"planning": {"most_panels": 12, "patience": 0.25}, "leather": {}}
    path = tmp_path / "layout.json"
    write_layout(path, replace(layout(), limits=limits), {})
    assert json.loads(path.read_text())["limits"] == limits
    assert read_layout(path).limits == limits
    write_layout(path, layout(), {})
    assert "limits" not in json.loads(path.read_text())
    assert read_layout(path).limits == {}


LINES = (
    OrderLine("1001", "card holder", 2, date(2026, 9, 18), 1, "light linen", "gift", colour="cognac"),
    OrderLine("1002", "key fob", 1, date(2026, 9, 21)),
)


def test_order_lines_and_selling_prices_are_kept_and_written_only_where_there_are_any(tmp_path):
    path, prices = tmp_path / "layout.json", {"card holder": Decimal("48.50")}
    write_layout(path, replace(layout(), lines=LINES, selling_prices=prices), {})
    data = json.loads(path.read_text())
    assert data["lines"][1] == {
        "order": "1002", "product": "key fob", "quantity": 1, "due": "2026-09-21", "priority": 3
    }  # fmt: skip
    assert data["selling_prices"] == {"card holder": "48.50"}
    read = read_layout(path)
    assert (read.lines, read.selling_prices) == (LINES, prices)
    write_layout(path, layout(), {})
    assert not {"lines", "selling_prices"} & set(json.loads(path.read_text()))
    assert read_layout(path).lines == () and read_layout(path).selling_prices == {}


@pytest.mark.parametrize(
    ("change", "place", "mend"),
    [
        ({"due": "tomorrow"}, "lines[0].due", "2025-03-14"),
        ({"quantity": 0}, "lines[0].quantity", "give 1 to"),
        ({"priority": 12}, "lines[0].priority", "give 1 (first) to 9 (last)"),
        ({"tannage": "oak"}, "lines[0].tannage", "vegetable"),
    ],
)
def test_a_fault_in_an_order_line_is_named(change, place, mend):
    data = layout_to_dict(replace(layout(), lines=LINES))
    data["lines"][0] |= change
    with pytest.raises(FileError) as caught:
        layout_from_dict(data, "layout.json")
    assert caught.value.place == place and mend in caught.value.mend


def test_the_leather_asked_for_and_how_a_part_is_laid_are_kept_and_written_only_where_they_say_something(tmp_path):
    (bare,) = layout().placements
    asking = replace(bare, kind=Kind(colour="cognac", tannage="vegetable", burn=True), flesh_out=True, same_lot=True)
    path = tmp_path / "layout.json"
    write_layout(path, replace(layout(), placements=(asking,)), {})
    (written,) = json.loads(path.read_text())["placements"]
    assert written["kind"] == {"colour": "cognac", "tannage": "vegetable", "burn": True}
    assert written["flesh_out"] is written["same_lot"] is True
    (read,) = read_layout(path).placements
    assert (read.kind, read.flesh_out, read.same_lot) == (asking.kind, True, True)
    silent = layout_to_dict(layout())["placements"][0]
    assert not {"kind", "flesh_out", "same_lot"} & set(silent)
    (read,) = layout_from_dict(layout_to_dict(layout()), "layout.json").placements
    assert (read.kind, read.flesh_out, read.same_lot) == (Kind(), False, False)


def test_products_that_may_be_cut_in_part_are_kept_and_a_file_that_does_not_say_means_all(tmp_path):
    path = tmp_path / "layout.json"
    write_layout(path, replace(layout(), partial=("card holder",)), {})
    assert read_layout(path).partial == ("card holder",)
    data = layout_to_dict(layout())
    assert data["partial"] == [] and layout_from_dict(data, "layout.json").partial == ()
    assert 8 in {finding.rule for finding in check(layout_from_dict(data, "layout.json"))}
    del data["partial"]
    assert layout_from_dict(data, "layout.json").partial == ("card holder",)
    assert 8 not in {finding.rule for finding in check(layout_from_dict(data, "layout.json"))}


def test_limits_are_numbers_by_room_and_name():
    data = layout_to_dict(layout())
    for limits, where, mend in (
        ({"planning": {"most_panels": "12"}}, "limits.planning.most_panels", "give a number"),
        ({"planning": 12}, "limits.planning", "give a table of keys and values"),
        ([], "limits", "give a table of keys and values"),
    ):
        with pytest.raises(FileError) as caught:
            layout_from_dict(data | {"limits": limits}, "layout.json")
        assert (caught.value.place, caught.value.mend) == (where, mend)


def test_rings_do_not_repeat_their_last_point_and_closed_lines_do():
    placement = layout_to_dict(layout())["placements"][0]
    assert len(placement["outline"]) == 5 and placement["outline"][0] != placement["outline"][-1]
    assert len(placement["stitch"][0]) == 4 and placement["stitch"][0][0] == placement["stitch"][0][-1]


def test_coordinates_are_rounded_to_a_ten_thousandth():
    outline = layout_to_dict(layout())["placements"][0]["outline"]
    assert all(value == round(value, 4) for point in outline for value in point)


def test_a_newer_version_is_refused_before_its_keys_are_looked_at():
    data = {"format": "nesting-layout", "version": 2, "islands": []}
    with pytest.raises(FileError) as caught:
        layout_from_dict(data, "layout.json")
    assert str(caught.value) == "layout.json: version: 2: a newer program wrote this file: update this one to read it"


def test_a_hide_file_is_no_layout(job_folder):
    with pytest.raises(FileError, match='format: "nesting-hide": give a file of the format nesting-layout'):
        read_layout(job_folder / "hides" / "shoulder-1.json")


@pytest.mark.parametrize(
    ("change", "keys", "place", "value", "mend"),
    [
        (0.3, ("margins", "kerf_mm"), "margins.kerf_mm", "0.3", "says 0.2: make them equal"),
        (500, ("bed", "width_mm"), "bed.width_mm", "500", "says 600: make them equal"),
        ("x", ("placements", 0, "hide"), "placements[0].hide", "x", "hides in this layout: side-1, belly-2"),
        ("side-9", ("panels", 0, "hide"), "panels[0].hide", "side-9", "did you mean side-1?"),
        ("F", ("placements", 0, "grade"), "placements[0].grade", "F", "give 'A', 'B', 'C', 'D' or 'E'"),
        ("belly-2", ("hides", 0, "id"), "hides[1].id", "belly-2", "an id of its own"),
        (0, ("hides", 0, "nominal_mm"), "hides[0].nominal_mm", "0", "more than 0"),
        (
            [1.4, 1.0],
            ("placements", 0, "thickness_mm"),
            "placements[0].thickness_mm",
            "[1.4, 1.0]",
            "[least, greatest]",
        ),
        ([[0, 0], [9, 9], [9, 0], [0, 9]], ("placements", 0, "outline"), "placements[0].outline", "crosses", "redraw"),
        (
            [[1, 1], [1, 1], [2, 2]],
            ("placements", 0, "cutouts", 0),
            "placements[0].cutouts[0]",
            "fewer than three",
            "corners",
        ),
        ([[0, 0]], ("placements", 0, "stitch", 0), "placements[0].stitch[0]", "list of 1", "at least 2"),
        (91, ("placements", 0, "direction", "tolerance_deg"), "placements[0].direction.tolerance_deg", "91", "0 to 90"),
        (0, ("placements", 0, "copy"), "placements[0].copy", "0", "1 or more"),
        (1, ("placements", 0, "mirrored"), "placements[0].mirrored", "1", "true or false"),
        (
            True,
            ("placements", 0, "islands"),
            "placements[0].islands",
            "unknown key",
            "known keys: order, product, part, piece, copy",
        ),
        (101, ("settings", "side-1", "power_percent"), "settings.side-1.power_percent", "101", "at most 100"),
        (
            5,
            ("settings", "side-1", "power_procent"),
            "settings.side-1.power_procent",
            "unknown key",
            "did you mean power_percent?",
        ),
        (-1, ("workshop", "machine", "rated_w"), "workshop.machine.rated_w", "-1", "more than 0"),
        (1.5, ("workshop", "thickness", "confidence"), "workshop.thickness.confidence", "1.5", "0.5 to below 1"),
        ({"a": float("nan")}, ("figures",), "figures", "a table of 1", "finite numbers"),
        (-1, ("run", "seconds"), "run.seconds", "-1", "0 or more"),
        ("cognac", ("placements", 0, "kind"), "placements[0].kind", "cognac", "give a table of keys"),
        (7, ("placements", 0, "kind", "colour"), "placements[0].kind.colour", "7", "give text in quotes"),
        (1, ("placements", 0, "kind", "burn"), "placements[0].kind.burn", "1", "true or false"),
        ("x", ("placements", 0, "kind", "color"), "placements[0].kind.color", "unknown key", "did you mean colour?"),
        (1, ("placements", 0, "flesh_out"), "placements[0].flesh_out", "1", "true or false"),
        ("no", ("placements", 0, "same_lot"), "placements[0].same_lot", "no", "true or false"),
        ("card holder", ("partial",), "partial", "card holder", "give a list in [ ]"),
        ([""], ("partial",), "partial[0]", '""', "give a name"),
    ],
)
def test_a_fault_in_a_layout_file_is_named(change, keys, place, value, mend):
    error = refusal(change, *keys)
    assert (error.place, value in str(error.value), mend in error.mend) == (place, True, True), str(error)


def spots(value, path=()):
    """The way to every value inside lists and tables."""
    for key, inner in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        yield (*path, key)
        yield from spots(inner, (*path, key))


SOUND = layout_to_dict(layout())


@settings(max_examples=200, deadline=None)
@given(
    keys=st.sampled_from(list(spots(SOUND))),
    change=st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=5)
    | st.lists(st.floats(), max_size=3)
    | st.sampled_from([{}, [], [[]], 10**400, [[0, 0], [1, 1], [0, 1]], [[[0, 0], [1e5, 0], [0, 1]]]]),
)
def test_a_layout_with_anything_anywhere_loads_or_is_refused_in_one_line(keys, change):
    data = json.loads(json.dumps(SOUND))
    inner = data
    for key in keys[:-1]:
        inner = inner[key]
    inner[keys[-1]] = change
    try:
        assert layout_from_dict(data, "layout.json").hides is not None
    except FileError as error:
        assert str(error).startswith("layout.json: ") and all(str(fault).isprintable() for fault in error.all)


def test_settings_for_a_hide_that_is_not_there_are_refused():
    data = layout_to_dict(layout())
    data["settings"]["side-7"] = data["settings"]["side-1"]
    with pytest.raises(FileError, match="settings: side-7: did you mean side-1?"):
        layout_from_dict(data, "layout.json")


def test_a_part_wanted_twice_is_refused():
    data = layout_to_dict(layout())
    data["wanted"].append(data["wanted"][0])
    with pytest.raises(FileError, match=r"wanted\[2\]: 1001, card holder, body: listed twice"):
        layout_from_dict(data, "layout.json")


def test_figures_that_are_not_finite_are_not_written(tmp_path):
    with pytest.raises(FileError, match="finite"):
        write_layout(tmp_path / "layout.json", layout(), {"yield": float("inf")})
    assert not list(tmp_path.iterdir())


def test_pins_burnt_panels_and_lost_parts_are_kept(tmp_path):
    before = tags(put(), put(x=120.0, piece=2), put(x=220.0, piece=3))
    before = spoiled(pinned(before, {before.placements[1].key}), before.placements[0])
    write_layout(tmp_path / "layout.json", before, {})
    after = read_layout(tmp_path / "layout.json")
    assert (after.placements, after.burnt, after.lost) == (before.placements, before.burnt, before.lost)
    assert check(after) == []


def test_where_the_strokes_of_a_knife_line_meet_is_kept(tmp_path):
    cuts = (Cut("side-1", (0, 100), (500, 100), ((100.25, 120), (300, 90))), Cut("side-1", (0, 50), (500, 50)))
    write_layout(tmp_path / "layout.json", replace(layout(), cuts=cuts), {})
    assert read_layout(tmp_path / "layout.json").cuts == cuts
    four = [[10, 100], [20, 100], [30, 100]]
    data = layout_to_dict(replace(layout(), cuts=cuts))
    data["cuts"][0]["via"] = four
    with pytest.raises(FileError, match="via"):
        layout_from_dict(data, "layout.json")


def test_true_pins_a_placement_where_it_lies(tmp_path):
    data = layout_to_dict(tags(put())) | {"figures": {}}
    data["placements"][0]["pinned"] = True
    (part,) = layout_from_dict(data, "layout.json").placements
    assert part.pinned == part.spot
    data["burnt"] = [{"id": "1", "hide": "nowhere", "polygon": [[0, 0], [9, 0], [0, 9]], "parts": []}]
    with pytest.raises(FileError, match=re.escape("burnt[0].hide")):
        layout_from_dict(data, "layout.json")
