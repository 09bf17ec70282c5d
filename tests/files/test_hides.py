import json
import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from nesting.errors import FileError
from nesting.files.hides import hide_from_dict, hide_to_dict, read_hide, write_hide
from nesting.model import Answer, Doubt, Hide, Reading, Smoothed, StatedError, Suggestion, Traced, Zone
from nesting.tracing import TraceLimits

NEEDED = {"format": "nesting-hide", "version": 1, "id": "h"}
SQUARE = [[0, 0], [500, 0], [500, 500], [0, 500]]


def refusal(data) -> FileError:
    with pytest.raises(FileError) as caught:
        hide_from_dict(data, "h.json", "")
    return caught.value


def test_every_key_is_read(job_folder):
    hide = read_hide(job_folder / "hides" / "shoulder-1.json")
    assert hide.id == "shoulder-1" and len(hide.outline.interiors) == 1
    assert hide.zones[0] == Zone(Polygon([(300, 300), (360, 300), (330, 320)]), "C", "scar")
    assert hide.readings == (Reading(200, 200, 1.25), Reading(700, 400, 1.31))
    assert (hide.nominal_mm, hide.backbone, hide.tannage) == (1.2, ((0, 300), (900, 320)), "vegetable")
    assert (hide.colour, str(hide.price), hide.photo) == ("natural", "58.00", "shoulder-1.jpg")


def test_finish_and_lot_are_kept_and_written_only_where_they_are_said(tmp_path):
    said = hide_from_dict(NEEDED | {"outline": SQUARE, "finish": "waxed", "lot": "7/26"}, "h.json", "")
    assert (said.finish, said.lot) == ("waxed", "7/26")
    write_hide(tmp_path / "h.json", said)
    again = read_hide(tmp_path / "h.json")
    assert (again.finish, again.lot) == ("waxed", "7/26")
    silent = hide_from_dict(NEEDED | {"outline": SQUARE}, "h.json", "")
    assert (silent.finish, silent.lot) == ("", "") and not {"finish", "lot"} & set(hide_to_dict(silent))


def test_format_version_id_and_outline_are_enough():
    hide = hide_from_dict(NEEDED | {"outline": SQUARE}, "h.json", "")
    assert (hide.zones, hide.readings, hide.nominal_mm, hide.backbone, hide.price, hide.tannage) == (
        (),
        (),
        None,
        None,
        None,
        "unknown",
    )
    assert hide.outline.area == 250_000


def test_the_last_point_may_repeat_the_first():
    assert hide_from_dict(NEEDED | {"outline": SQUARE + SQUARE[:1]}, "h.json", "").outline.area == 250_000


def test_a_zone_may_poke_over_the_edge_but_not_lie_outside():
    zone = {"grade": "E", "kind": "", "polygon": [[450, 450], [600, 450], [600, 600]]}
    assert len(hide_from_dict(NEEDED | {"outline": SQUARE, "zones": [zone]}, "h.json", "").zones) == 1
    error = refusal(NEEDED | {"outline": SQUARE, "zones": [zone | {"polygon": [[550, 450], [600, 450], [600, 600]]}]})
    assert (
        str(error)
        == "h.json: zones[0]: the zone at (550, 450): lies outside the leather: move it onto the hide or delete it"
    )


def test_a_reading_in_a_hole_is_refused_and_one_at_the_very_edge_is_not():
    hole = [[200, 200], [300, 200], [300, 300], [200, 300]]
    data = NEEDED | {"outline": SQUARE, "holes": [hole], "readings": [{"x": 500.5, "y": 100, "mm": 1.2}]}
    assert len(hide_from_dict(data, "h.json", "").readings) == 1
    data["readings"].append({"x": 250, "y": 250, "mm": 1.2})
    assert refusal(data).place == "reading 2"


def test_a_reading_of_leather_that_was_cut_off_may_lie_beside_what_is_left():
    reading = {"x": 900, "y": 250, "mm": 1.2}
    assert refusal(NEEDED | {"outline": SQUARE, "readings": [reading]}).place == "reading 1"
    data = NEEDED | {"outline": SQUARE, "readings": [reading | {"cut_off": True}]}
    hide = hide_from_dict(data, "h.json", "")
    assert hide.readings == (Reading(900, 250, 1.2, cut_off=True),)
    assert hide_to_dict(hide)["readings"] == data["readings"]
    data["readings"][0]["x"] = 5600
    assert refusal(data).place == "reading 1"
    data["readings"][0] |= {"x": 900, "cut_off": "yes"}
    assert refusal(data).place == "reading 1 > cut_off"


def test_the_place_inside_another_file_comes_first():
    with pytest.raises(FileError, match=r"^layout.json: hides\[3\]\.zones\[0\]\.grade: "):
        data = NEEDED | {"outline": SQUARE, "zones": [{"grade": "F", "polygon": SQUARE}]}
        hide_from_dict(data, "layout.json", "hides[3]")


def test_what_a_hide_may_hold_is_bounded():
    circle = [[math.cos(a / 1e5 * math.pi) * 900, math.sin(a / 1e5 * math.pi) * 900] for a in range(200_000)]
    assert len(hide_from_dict(NEEDED | {"outline": circle}, "h.json", "").outline.exterior.coords) == 200_001
    error = refusal(NEEDED | {"outline": circle, "holes": [[[1, 1], [2, 1], [2, 2]]]})
    assert error.value == "200003 points with holes and zones" and "at most 200000" in error.mend
    error = refusal(NEEDED | {"outline": circle + [[0, 0]]})
    assert (error.place, error.value) == ("outline", "a list of 200001")


def test_a_file_over_64_mb_is_refused_unparsed(tmp_path):
    path = tmp_path / "h.json"
    with path.open("wb") as stream:
        stream.truncate(64 * 1024 * 1024 + 1)
    with pytest.raises(FileError, match="over 64 MB"):
        read_hide(path)


def test_an_outline_in_metres_is_refused():
    assert "give coordinates in mm" in refusal(NEEDED | {"outline": [[0, 0], [2.1, 0], [2.1, 1.5]]}).mend


def test_a_nominal_thickness_may_be_a_range_as_leather_is_sold():
    hide = hide_from_dict(NEEDED | {"outline": SQUARE, "nominal_mm": "3-4 oz"}, "h.json", "")
    assert hide.nominal_mm == pytest.approx(3.5 * 25.4 / 64)


def test_what_was_smoothed_off_an_edge_is_written_and_read(tmp_path):
    hide = replace(hide_from_dict(NEEDED | {"outline": SQUARE}, "h.json", ""), smoothed=Smoothed(0.5, 120.25))
    write_hide(tmp_path / "h.json", hide)
    assert read_hide(tmp_path / "h.json") == hide


def test_a_hide_survives_being_written_and_read(job_folder, tmp_path):
    hide = read_hide(job_folder / "hides" / "shoulder-1.json")
    write_hide(tmp_path / "copy.json", hide)
    assert read_hide(tmp_path / "copy.json") == hide


def test_only_what_says_something_is_written():
    assert list(hide_to_dict(Hide("h", box(0, 0, 500, 500)))) == ["format", "version", "id", "outline", "tannage"]


def test_the_accuracy_of_a_trace_is_kept_in_the_file_and_checked(tmp_path):
    traced = Traced("a4", 0.4, 1.1, 0.12, (-20.0, 510.0), "h-straight.jpg")
    write_hide(tmp_path / "h.json", Hide("h", box(0, 0, 500, 500), traced=traced))
    assert json.loads((tmp_path / "h.json").read_text())["trace"]["expected_error_mm"] == 1.1
    assert read_hide(tmp_path / "h.json").traced == traced
    with pytest.raises(FileError, match="trace.mm_per_pixel: -1: give a number more than 0"):
        write_hide(tmp_path / "h.json", Hide("h", box(0, 0, 500, 500), traced=Traced("a4", -1, 1.1)))


def test_the_limits_that_a_trace_was_made_with_are_kept_where_they_differ(tmp_path):
    limits = TraceLimits(tolerance_mm=1.0).accepting(6).changed()
    hide = Hide("h", box(0, 0, 500, 500), traced=Traced("a4", 0.4, 1.1, limits=limits))
    write_hide(tmp_path / "h.json", hide)
    found = read_hide(tmp_path / "h.json").traced
    assert found == hide.traced and TraceLimits(**found.limits) == TraceLimits(tolerance_mm=1.0).accepting(6)
    plain = Hide("h", box(0, 0, 500, 500), traced=Traced("a4", 0.4, 1.1, limits=TraceLimits().changed()))
    assert "limits" not in hide_to_dict(plain)["trace"]


@pytest.mark.parametrize("limits", [{"error_mm": "6"}, {"error_mm": float("inf")}, [6]])
def test_limits_of_a_trace_that_cannot_be_are_refused(limits):
    trace = {"reference": "a4", "mm_per_pixel": 0.4, "expected_error_mm": 1.1, "limits": limits}
    with pytest.raises(FileError, match=r"h\.json: trace\.limits"):
        hide_from_dict(NEEDED | {"outline": SQUARE, "trace": trace}, "h.json", "")


def test_a_trace_noted_by_an_older_program_is_read():
    trace = {"reference": "a4", "mm_per_pixel": 0.4, "expected_error_mm": 1.1}
    assert hide_from_dict(NEEDED | {"outline": SQUARE, "trace": trace}, "h.json", "").traced == Traced("a4", 0.4, 1.1)


def test_a_straightened_photo_elsewhere_is_not_followed():
    trace = {"reference": "a4", "mm_per_pixel": 0.4, "expected_error_mm": 1.1, "picture": "../../secret.jpg"}
    assert hide_from_dict(NEEDED | {"outline": SQUARE, "trace": trace}, "h.json", "").traced.picture == ""


def test_suggestions_are_kept_apart_from_zones(tmp_path):
    mark = Suggestion(box(100, 100, 140, 130), "D", "scar", 0.7)
    write_hide(tmp_path / "h.json", Hide("h", box(0, 0, 500, 500), suggestions=(mark,)))
    back = read_hide(tmp_path / "h.json")
    assert back.zones == () and back.suggestions == (mark,)
    assert json.loads((tmp_path / "h.json").read_text())["suggestions"][0]["status"] == "suggested"


@pytest.mark.parametrize(
    "wrong",
    [{"grade": "F"}, {"confidence": 2}, {"status": "accepted"}, {"polygon": [[900, 900], [950, 900], [950, 950]]}],
)
def test_a_suggestion_that_cannot_be_is_refused(wrong):
    mark = {
        "grade": "C",
        "kind": "scar",
        "polygon": [[50, 50], [60, 50], [60, 60]],
        "confidence": 0.5,
        "status": "suggested",
    }
    assert "suggestions" in refusal(NEEDED | {"outline": SQUARE, "suggestions": [mark | wrong]}).place


@pytest.mark.parametrize("name", ["my hide", ".hidden", "a/b", "", "ä", "x" * 101])
def test_an_id_that_cannot_name_a_file_is_not_written(tmp_path, name):
    with pytest.raises(FileError, match="use letters a to z, digits, dash, underscore and dot"):
        write_hide(tmp_path / "h.json", Hide(name, box(0, 0, 500, 500)))
    assert not list(tmp_path.iterdir())


def test_leather_thinner_than_the_rounding_does_not_spoil_the_file():
    hole = [(40, 0.00002), (60, 0.00002), (60, 20), (40, 20)]
    outline = Polygon(box(0, 0, 100, 100).exterior, [hole])
    assert outline.is_valid and not shapely.transform(outline, lambda p: p.round(4)).is_valid
    assert hide_from_dict(hide_to_dict(Hide("h", outline)), "h.json", "").outline.equals_exact(outline, 0)


@settings(deadline=None)
@given(
    angles=st.lists(st.floats(0, 359), min_size=3, max_size=30, unique_by=lambda a: round(a)),
    radii=st.lists(st.floats(20, 2000), min_size=30, max_size=30),
    thickness=st.floats(0.5, 19),
)
def test_any_star_shaped_hide_is_read_back_within_the_rounding(angles, radii, thickness):
    corners = [
        (r * math.cos(math.radians(a)), r * math.sin(math.radians(a)))
        for a, r in zip(sorted(angles), radii, strict=False)
    ]
    outline = Polygon(corners)
    assume(outline.is_valid and outline.area > 100)
    hide = Hide("h", outline, readings=(Reading(*outline.representative_point().coords[0], thickness),))
    again = hide_from_dict(json.loads(json.dumps(hide_to_dict(hide))), "h.json", "")
    assert again.outline.equals_exact(outline, 1e-4, normalize=False)
    assert again.readings[0].mm == thickness
    assert (
        Point(again.readings[0].x, again.readings[0].y).distance(Point(hide.readings[0].x, hide.readings[0].y)) <= 1e-4
    )


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
KEYS = st.sampled_from(
    [
        "format",
        "version",
        "id",
        "outline",
        "holes",
        "zones",
        "readings",
        "nominal_mm",
        "backbone",
        "tannage",
        "price",
        "trace",
        "x",
    ]
)
COORDINATES = st.floats(-100, 600) | st.sampled_from(
    [0, 500, 1e300, 10**400, -(10**400), float("nan"), float("-inf"), True]
)
RINGS = st.lists(st.lists(COORDINATES, min_size=2, max_size=2), max_size=7)
SHAPED = st.fixed_dictionaries(
    {"format": st.just("nesting-hide"), "version": st.just(1), "id": st.just("h"), "outline": RINGS | st.just(SQUARE)},
    optional={
        "holes": st.lists(RINGS, max_size=2),
        "zones": st.lists(st.fixed_dictionaries({"grade": st.sampled_from("ABCDEF"), "polygon": RINGS}), max_size=2),
        "readings": st.lists(
            st.fixed_dictionaries({"x": COORDINATES, "y": COORDINATES, "mm": st.floats()}), max_size=2
        ),
        "price": ANYTHING,
        "backbone": st.lists(st.lists(COORDINATES, min_size=2, max_size=2), min_size=2, max_size=2),
        "nominal_mm": st.floats() | st.none(),
    },
)
MANGLED = st.builds(lambda data, key, value: data | {key: value}, SHAPED, KEYS | st.text(max_size=5), ANYTHING)


def loads_or_refuses(path):
    try:
        assert read_hide(path).outline.is_valid
    except FileError as error:
        assert (
            str(error).startswith(f"{path}: ")
            and all(str(fault).isprintable() for fault in error.all)
            and len(str(error.all[0])) < 1000
        )


@settings(
    max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None
)
@given(data=ANYTHING | SHAPED | MANGLED)
def test_any_json_loads_or_is_refused_in_one_line(tmp_path, data):
    path = tmp_path / "h.json"
    path.write_text(json.dumps(data))
    loads_or_refuses(path)


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(content=st.binary(max_size=60), start=st.integers(0, 2000), length=st.integers(0, 300))
def test_any_bytes_load_or_are_refused_in_one_line(tmp_path, hide_data, content, start, length):
    sound = json.dumps(hide_data).encode()
    path = tmp_path / "h.json"
    path.write_bytes(sound[:start] + content + sound[start + length :])
    loads_or_refuses(path)


@pytest.mark.parametrize(
    "text", ["[" * 100_000, '{"a":' * 100_000, '{"outline": ' + "[" * 900 + "]" * 900 + "}", "1" * 5000]
)
def test_deep_nesting_and_endless_digits_are_refused(tmp_path, text):
    path = tmp_path / "h.json"
    path.write_text(text)
    with pytest.raises(FileError):
        read_hide(path)


ERROR = {"x": [0, 500], "y": [0, 250, 500], "mm": [[1, 2], [1, 3], [1, 4.5]]}
DOUBT = {"kind": "slit or mark", "polygon": [[10, 10], [20, 10], [20, 20]], "number": 1}


def test_the_stated_error_grows_in_proportion_between_its_places_and_no_further_beyond_them():
    error = hide_from_dict(NEEDED | {"outline": SQUARE, "error_mm": ERROR}, "h.json", "").error
    assert error.at([(0, 0), (500, 0), (250, 125), (500, 500), (900, 900), (-50, 250)]).tolist() == pytest.approx(
        [1, 2, (1 + 2 + 1 + 3) / 4, 4.5, 4.5, 1]
    )


def test_doubts_stated_error_and_answers_survive_the_file(tmp_path):
    hide = Hide(
        "h",
        box(0, 0, 500, 500),
        error=StatedError((0.0, 500.0), (0.0, 500.0), ((1.0, 2.0), (1.25, 3.5))),
        doubts=(
            Doubt(box(10, 10, 30, 20), "slit or mark", 20.5, "look whether it is a slit", 2, (1200.0, 800.5)),
            Doubt(box(490, 490, 510, 510), "end"),
        ),
        traced=Traced("a4", 0.4, 3.5, answers=(Answer("cut", (100.0, 200.0), 1), Answer("leather", (5.0, 6.0)))),
    )
    write_hide(tmp_path / "h.json", hide)
    assert read_hide(tmp_path / "h.json") == hide


@pytest.mark.parametrize(
    ("change", "place", "mend"),
    [
        ({"error_mm": ERROR | {"x": [0, 0]}}, "error_mm.x", "each larger"),
        ({"error_mm": ERROR | {"x": [0]}}, "error_mm.x", "at least 2"),
        ({"error_mm": ERROR | {"mm": [[1, 2], [1, 3]]}}, "error_mm.mm", "one row for each y"),
        ({"error_mm": ERROR | {"mm": [[1, 2], [1, -3], [1, 1]]}}, "error_mm.mm", "from 0 to 1000"),
        ({"error_mm": ERROR | {"y": [0, 1, math.inf]}}, "error_mm.y[2]", "finite"),
        ({"error_mm": ERROR | {"y": list(range(200))}}, "error_mm.y", "at most 100"),
        ({"doubts": [DOUBT | {"polygon": [[0, 0], [10, 10], [10, 0], [0, 10]]}]}, "doubts[0].polygon", "cross"),
        ({"doubts": [DOUBT | {"polygon": [[600, 0], [700, 0], [700, 50]]}]}, "doubts[0]", "outside the leather"),
        ({"doubts": [DOUBT, DOUBT]}, "doubts[1].number", "a number of its own"),
        ({"doubts": [DOUBT | {"size_mm": -1}]}, "doubts[0].size_mm", "0 or more"),
        ({"doubts": [DOUBT | {"pixel": [1]}]}, "doubts[0].pixel", "at least 2"),
        ({"doubts": [DOUBT | {"sort": "slit"}]}, "doubts[0].sort", "known keys"),
    ],
)
def test_a_fault_in_what_is_in_doubt_is_told_with_its_place(change, place, mend):
    error = refusal(NEEDED | {"outline": SQUARE} | change)
    assert error.place == place and mend in str(error)


def test_an_answer_must_be_one_that_is_known():
    trace = {
        "reference": "a4",
        "mm_per_pixel": 0.5,
        "expected_error_mm": 1,
        "answers": [{"answer": "yes", "pixel": [1, 2]}],
    }
    error = refusal(NEEDED | {"outline": SQUARE, "trace": trace})
    assert error.place == "trace.answers[0].answer" and "'correct', 'cut', 'leather' or 'floor'" in str(error)


def test_a_hide_is_read_as_it_is_written_so_that_no_rounding_moves_a_zone_or_a_reading_off_it(tmp_path, hide_data):
    # each touches the leather as given, by less than what is rounded when it is written
    hide_data["outline"][1:3] = [[900.00004, 0], [900.00004, 600]]
    hide_data["zones"] = [{"grade": "C", "kind": "", "polygon": [[900.00004, 10], [950, 10], [950, 90]]}]
    hide_data["readings"] = [{"x": 901.00004, "y": 20, "mm": 1.2}]
    hide = hide_from_dict(hide_data, "h.json", "")
    assert hide.outline.bounds[2] == 900.0 and hide.readings[0].x == 901.0
    again = hide_from_dict(json.loads(json.dumps(hide_to_dict(hide), default=str)), "h.json", "")
    assert again.outline.equals(hide.outline) and again.zones == hide.zones and again.readings == hide.readings
