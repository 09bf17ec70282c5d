import re
from pathlib import Path

import cv2
import numpy as np
import pytest
from render import camera
from shapely.geometry import Polygon, box

from nesting.errors import FileError
from nesting.tracing import references
from nesting.tracing.references import Reference, _other_kind, _outdo, find_scale
from nesting.tracing.scale import Camera, Seen, apply, solve_scale

PHOTO = Path("photo.jpg")
SIZE = (1200, 900)


@pytest.fixture
def a4(rendered):
    return rendered(seed=31, size=SIZE, floor="wood", leather="brown", hide_mm=700, reference="a4")


@pytest.fixture
def markers(rendered):
    return rendered(seed=32, size=SIZE, floor="brick", leather="black", hide_mm=900, tilt=25)


def length_error(scale, scene):
    """Greatest error of the distances between points of the hide, over its size."""
    points = np.asarray(scene.outline.exterior.coords)[::40]
    found = scale.to_mm(scene.to_pixels(points))
    apart = [np.hypot(*(p[:, None] - p[None]).transpose(2, 0, 1)) for p in (points, found)]
    return np.abs(apart[1] - apart[0]).max() / apart[0].max()


def test_marker_sheets_give_the_scale_within_one_in_a_thousand(markers):
    scale = find_scale(PHOTO, markers.picture, "auto")
    assert scale.kind == "markers" and len(scale.papers) == 4
    assert length_error(scale, markers) < 1e-3


def test_a4_paper_is_found_and_its_corners_are_placed_to_a_quarter_pixel(a4):
    scale = find_scale(PHOTO, a4.picture, "auto")
    assert scale.kind == "a4"
    found = scale.to_pixels(np.asarray(scale.papers[0].exterior.coords)[:4])
    true = a4.to_pixels(a4.reference_mm[0])
    assert max(np.hypot(*(true - corner).T).min() for corner in found) < 0.35
    assert length_error(scale, a4) < 0.02


def test_a_sheet_through_too_bent_a_lens_is_named_with_its_place(rendered):
    scene = rendered(
        seed=26, size=SIZE, floor="concrete", leather="natural", hide_mm=700, reference="a4", tilt=20, distortion=0.06
    )
    scale = find_scale(PHOTO, scene.picture, "auto")
    (note,) = scale.notes
    assert "is not quite A4 paper or letter paper, but nearest to A4 paper: it may not lie flat" in note
    # it is believed so much less: by more than the lens bends it
    hide = scene.to_pixels(np.asarray(scene.outline.exterior.coords)[::40])
    assert scale.shape_errors(hide)[1] > abs(Polygon(scale.to_mm(hide)).area / scene.outline.area - 1)
    place = [float(value) for value in note.split()[4].split(",")]
    assert np.hypot(*(scene.to_pixels(scene.reference_mm[0]).mean(axis=0) - place)) < 20


def test_a_bank_card_is_found_when_asked_for(rendered):
    scene = rendered(seed=28, size=SIZE, floor="gravel", leather="black", hide_mm=300, reference="card", tilt=28)
    assert length_error(find_scale(PHOTO, scene.picture, "card"), scene) < 0.02


@pytest.mark.parametrize("order", [[0, 1, 2, 3], [2, 1, 0, 3], [1, 2, 3, 0]])
def test_rough_corners_in_any_turn_are_drawn_to_the_edges_of_the_sheet(a4, order):
    rough = np.round(a4.to_pixels(a4.reference_mm[0])[order]) + (2, -1)
    scale = find_scale(PHOTO, a4.picture, Reference("a4", corners=rough))
    assert length_error(scale, a4) < 0.02 and scale.sigma_pixels < 1


def test_measured_points_keep_their_own_axes(a4):
    mm = np.array([(-300, -200), (300, -210), (320, 220), (-310, 200)], dtype=float)
    scale = find_scale(PHOTO, a4.picture, Reference("points", points=list(zip(a4.to_pixels(mm), mm))))
    assert scale.to_mm(a4.to_pixels(mm)) == pytest.approx(mm, abs=0.01)


@pytest.mark.parametrize("wrong_mm", [0, 100])
def test_four_points_that_no_camera_sees_so_are_refused(a4, wrong_mm):
    mm = np.array([(-300, -200), (300, -210), (320, 220), (-310, 200)], dtype=float)
    points = list(zip(a4.to_pixels(mm), mm + np.eye(4)[:, 2:3] * (wrong_mm, 0)))
    if wrong_mm:
        with pytest.raises(
            FileError, match=r"points: no camera sees them so: mm in x and in y differ by \d+ %: one is mistyped"
        ):
            find_scale(PHOTO, a4.picture, Reference("points", points=points))
    else:
        find_scale(PHOTO, a4.picture, Reference("points", points=points))


@pytest.mark.parametrize("wrong_mm", [0, 60])
@pytest.mark.parametrize("at", range(6))
def test_more_points_than_four_tell_that_one_is_mistyped(a4, wrong_mm, at):
    mm = np.array([(-300, -200), (0, -260), (300, -210), (320, 220), (0, 250), (-310, 200)], dtype=float)
    points = list(zip(a4.to_pixels(mm), mm + np.eye(6)[:, at : at + 1] * (wrong_mm, 0)))
    if wrong_mm:
        # refused, or each point taken to be off by several times the pixel and a half that pointing at it costs
        try:
            assert find_scale(PHOTO, a4.picture, Reference("points", points=points)).sigma_pixels > 6
        except FileError as refusal:
            assert re.search(r"points: off by \d+\.\d pixels: they do not agree: one is mistyped", str(refusal))
    else:
        assert find_scale(PHOTO, a4.picture, Reference("points", points=points)).to_mm(
            a4.to_pixels(mm)
        ) == pytest.approx(mm, abs=0.01)


REFUSED = {
    "no reference in sight": ("auto", {}, "neither marker sheets nor A4"),
    "an unknown reference": ("ruler", {}, "give one of auto"),
    "three points": ("points", {"points": [((1, 2), (3, 4))] * 3}, "3 pairs"),
    "points on a line": ("points", {"points": [((i, i * 2), (i, i)) for i in (1, 9, 30, 80)]}, "one line"),
    "points given upside down": (
        "points",
        {"points": [((10, 10), (0, 0)), ((500, 10), (500, 0)), ((500, 400), (500, 400)), ((10, 400), (0, 400))]},
        "y in mm upwards",
    ),
    "points outside": (
        "points",
        {"points": [((-90, 10), (0, 0)), ((500, 10), (5, 0)), ((500, 400), (5, -4)), ((10, 400), (0, -4))]},
        "outside the picture",
    ),
    "corners that cross": ("a4", {"corners": [(10, 10), (500, 400), (500, 10), (10, 400)]}, "in turn"),
    "corners of another shape": ("a4", {"corners": [(10, 10), (1100, 10), (1100, 80), (10, 80)]}, "shape of the sheet"),
    "corners that are words": ("a4", {"corners": "nonsense"}, "four corners"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_give_a_scale_is_refused(name):
    reference, given, message = REFUSED[name]
    plain = np.full((SIZE[1], SIZE[0], 3), 128, np.uint8)
    with pytest.raises(FileError, match=message):
        find_scale(PHOTO, plain, Reference(reference, **given))


def test_the_same_sheet_twice_is_refused(markers):
    twice = np.hstack([markers.picture, markers.picture])
    with pytest.raises(FileError, match="seen twice"):
        find_scale(PHOTO, twice, "markers")


def test_a_sheet_of_which_one_marker_shows_still_counts(markers):
    picture = markers.picture.copy()
    corners = markers.to_pixels(markers.reference_mm[0])
    # Three of its four markers are hidden under something plain.
    for along, up in ((0.25, 0.2), (0.75, 0.2), (0.75, 0.82)):
        low_left, low_right, _, up_left = corners
        middle = low_left + along * (low_right - low_left) + up * (up_left - low_left)
        reach = 0.2 * np.hypot(*(low_right - low_left))
        x, y = np.round(middle).astype(int)
        r = round(reach)
        picture[max(y - r, 0) : y + r, max(x - r, 0) : x + r] = 120
    scale = find_scale(PHOTO, picture, "markers")
    assert len(scale.papers) == 4 and length_error(scale, markers) < 1e-3


@pytest.mark.parametrize("kind", ["a4", "letter"])
def test_letter_and_a4_paper_are_told_apart_or_asked_about(kind, rendered):
    scene = rendered(seed=31, size=SIZE, floor="wood", leather="brown", hide_mm=700, reference=kind)
    try:
        assert find_scale(PHOTO, scene.picture, "auto").kind == kind
    except FileError as fault:
        assert "letter" in str(fault)
    assert length_error(find_scale(PHOTO, scene.picture, kind), scene) < 0.02


def test_more_than_one_radial_term_is_found_from_marker_sheets(rendered):
    scene = rendered(seed=36, size=(1600, 1200), hide_mm=900, sheets=6, distortion=0.03, distortion2=-0.01)
    assert length_error(find_scale(PHOTO, scene.picture, "markers"), scene) < 1e-3


@pytest.mark.parametrize(("kind", "bend"), [("a4", 0.01), ("letter", -0.02)])
def test_two_sheets_of_the_same_paper_show_how_the_lens_bends(kind, bend, rendered):
    made = dict(
        size=(1600, 1200), floor="wood", leather="brown", hide_mm=800, reference=kind, distortion=bend, extent=2.0
    )
    errors = []
    for seed in (61, 62, 65):
        stated = []
        for papers in (1, 2):
            scene = rendered(seed=seed, papers=papers, **made)
            scale = find_scale(PHOTO, scene.picture, kind)
            assert len(scale.papers) == papers
            pixels = scene.to_pixels(np.asarray(scene.outline.exterior.coords)[::6])
            errors.append(length_error(scale, scene)), stated.append(scale.shape_errors(pixels)[0])
        assert stated[1] < 0.6 * stated[0]
        assert scale.values[8] == pytest.approx(bend, abs=0.004)
    assert np.mean(errors[1::2]) < 1e-3 < np.mean(errors[::2])


@pytest.mark.parametrize("bend", [-0.03, 0.025])
def test_the_edges_of_a_lone_sheet_show_how_the_lens_bends(bend, monkeypatch, rendered):
    scenes = [
        rendered(
            seed=seed,
            papers=1,
            size=(1600, 1200),
            floor="wood",
            leather="brown",
            hide_mm=500,
            reference="a4",
            distortion=bend,
            extent=2.0,
        )
        for seed in (61, 62, 63)
    ]
    seeing = [find_scale(PHOTO, scene.picture, "a4") for scene in scenes]
    monkeypatch.setattr(references, "fit_sides", lambda *_: None)
    blind = [find_scale(PHOTO, scene.picture, "a4") for scene in scenes]
    off, off_blind = (
        [length_error(scale, scene) for scale, scene in zip(scales, scenes)] for scales in (seeing, blind)
    )
    assert np.mean(off) < 0.7 * np.mean(off_blind)


@pytest.mark.parametrize(
    ("kind", "bend", "seed"), [("a4", -0.12, 63), ("a4", 0.09, 62), ("letter", -0.12, 64), ("letter", 0.09, 61)]
)
def test_sheets_that_a_strong_bend_makes_disagree_one_by_one_are_used_together(kind, bend, seed, rendered):
    made = dict(size=(1600, 1200), floor="wood", leather="brown", hide_mm=800, tilt=20, extent=2.0)
    scene = rendered(seed=seed, reference=kind, papers=2, distortion=bend, **made)
    scale = find_scale(PHOTO, scene.picture, "auto")
    assert scale.kind == kind and len(scale.papers) == 2
    assert length_error(scale, scene) < 6e-3


def shortened(scene, cut_mm):
    """The picture with floor painted over one end of the second sheet."""
    first, right, upper, left = scene.reference_mm[1]
    short = cut_mm / np.hypot(*(left - first))
    end = np.array([left, upper, upper + short * (right - upper), left + short * (first - left)])
    end[:2] += 0.2 * (end[:2] - end[[3, 2]])
    return cv2.fillConvexPoly(
        scene.picture.copy(), np.round(scene.to_pixels(end)).astype(np.int32), scene.picture[5, 5].tolist()
    )


def test_sheets_of_two_sizes_are_not_taken_for_one_paper(rendered):
    scene = rendered(
        seed=61, size=(1600, 1200), floor="wood", leather="brown", hide_mm=800, reference="a4", papers=2, extent=2.0
    )
    with pytest.raises(FileError, match="2 sheets of A4 paper.* do not agree"):
        find_scale(PHOTO, shortened(scene, 10), "a4")
    scale = find_scale(PHOTO, shortened(scene, 30), "a4")
    assert len(scale.papers) == 1 and length_error(scale, scene) < 0.01


def test_something_grey_of_the_right_shape_is_not_taken_for_paper_beside_something_white(rendered):
    scene = rendered(
        seed=61, size=(1600, 1200), floor="wood", leather="brown", hide_mm=800, reference="a4", papers=2, extent=2.0
    )
    picture = shortened(scene, 30)
    grey = (
        cv2.fillConvexPoly(
            np.zeros(picture.shape[:2], np.uint8), np.round(scene.to_pixels(scene.reference_mm[0])).astype(np.int32), 1
        )
        > 0
    )
    picture[grey] = (picture[grey] * 0.8).astype(np.uint8)
    with pytest.raises(FileError, match=r"at pixel \d+,\d+ is something whiter than the sheet found") as refusal:
        find_scale(PHOTO, picture, "a4")
    place = [float(value) for value in refusal.value.value.split()[2].split(",")]
    assert np.hypot(*(scene.to_pixels(scene.reference_mm[1]).mean(axis=0) - place)) < 60


def test_tiles_that_agree_on_a_shape_do_not_outdo_a_white_sheet():
    def seen(left):
        return Seen(
            np.zeros((4, 2)), np.array([(left, 10), (left + 40, 10), (left + 40, 60), (left, 60)], dtype=float), None
        )

    picture = np.full((80, 260, 3), 90, np.uint8)
    sheet, *tiles = map(seen, (10, 80, 150))
    for grey, believed in ((160, False), (230, None), (254, True)):
        for one, level in ((sheet, 245 if grey < 250 else 200), *((tile, grey) for tile in tiles)):
            left = int(one.pixels[0, 0])
            picture[10:60, left : left + 40] = level
        if believed is None:
            with pytest.raises(FileError, match="3 things look like letter paper"):
                _outdo(PHOTO, picture, tuple(tiles), sheet, "letter paper")
        else:
            assert _outdo(PHOTO, picture, tuple(tiles), sheet, "letter paper") == believed
    assert _outdo(PHOTO, picture, (tiles[0], sheet), sheet, "letter paper")


def test_a_sheet_whose_corner_lies_in_less_light_is_found(rendered):
    scene = rendered(
        seed=61, size=(1600, 1200), floor="wood", leather="brown", hide_mm=800, reference="a4", gradient=0.0
    )
    corners = scene.to_pixels(scene.reference_mm[0])
    y, x = np.mgrid[: scene.picture.shape[0], : scene.picture.shape[1]].astype(np.float32)
    light = 1 - 0.35 * np.clip(1.2 - np.hypot(x - corners[3, 0], y - corners[3, 1]) / 150, 0, 1)
    scale = find_scale(PHOTO, (scene.picture * light[..., None]).astype(np.uint8), "a4")
    assert length_error(scale, scene) < 0.01


@pytest.mark.parametrize(("kind", "other"), [("a4", "letter"), ("letter", "a4")])
def test_a_sheet_that_may_be_of_two_kinds_is_taken_for_the_likelier_and_the_other_is_told(rendered, kind, other):
    scene = rendered(seed=41, size=SIZE, floor="wood", leather="brown", hide_mm=600, reference=kind, tilt=32, focal=1.0)
    scale = find_scale(PHOTO, scene.picture, "auto", Camera(focal=1.0, focal_spread=0.05))
    assert scale.kind == kind and length_error(scale, scene) < 0.02
    taken, otherwise = (find_scale(PHOTO, scene.picture, one) for one in (kind, other))
    named = _other_kind(taken, otherwise)
    name, but = (references.SHEETS[one][1] for one in (kind, other))
    said = re.fullmatch(
        rf"the sheet is taken for {name}; were it {but}, the hide would be (\d+) % (larger|smaller):"
        rf" then say --reference {other}",
        named,
    )
    hide = scene.to_pixels(np.asarray(scene.outline.exterior.coords)[::40])
    share = 100 * (Polygon(otherwise.to_mm(hide)).area / Polygon(taken.to_mm(hide)).area - 1)
    assert abs(int(said[1]) - abs(share)) < 6 and (said[2] == "larger") == (share > 0)


def test_two_sheets_of_one_kind_are_not_taken_for_the_other(rendered):
    for kind in ("a4", "letter"):
        scene = rendered(
            seed=43, size=(1600, 1200), floor="wood", leather="brown", hide_mm=700, reference=kind, papers=2, tilt=30,
            extent=2.3,
        )  # fmt: skip
        scale = find_scale(PHOTO, scene.picture, "auto")
        assert scale.kind == kind and len(scale.papers) == 2 and not scale.notes


def test_a_white_sheet_at_the_edge_of_the_picture_or_in_glare_is_told_apart_from_none():
    picture = np.full((900, 1200, 3), 90, np.uint8)
    with pytest.raises(FileError, match="neither marker sheets nor A4 paper or letter paper found") as refused:
        find_scale(PHOTO, picture, "auto")
    assert refused.value.mend.startswith(
        "lay a plain sheet of A4 paper or letter paper flat beside the hide or the patterns"
    )
    with pytest.raises(FileError, match="no bank card found: lay a bank card flat"):
        find_scale(PHOTO, picture, "card")
    cut = picture.copy()
    cut[300:500, 1050:] = 235
    with pytest.raises(
        FileError, match="what may be a sheet at pixel 112., *39. is cut off by the edge of the picture"
    ):
        find_scale(PHOTO, cut, "auto")
    glaring = picture.copy()
    cv2.circle(glaring, (600, 400), 150, (255, 255, 255), -1)
    with pytest.raises(FileError, match="what may be a sheet at pixel 600,400 is overexposed"):
        find_scale(PHOTO, glaring, "auto")


@pytest.mark.parametrize(
    ("length", "told"),
    [
        (((10, 10), (900, 700), 0.0), "give two pixels and the mm between them"),
        (((10, 10), (1e5, 700), 900.0), "outside the picture"),
        (((10, 10), (20, 10), 900.0), "measure across the whole hide"),
    ],
)
def test_a_length_that_cannot_be_is_refused(a4, length, told):
    with pytest.raises(FileError, match=f"length: .*{told}"):
        find_scale(PHOTO, a4.picture, Reference(lengths=[length]))


@pytest.mark.parametrize("times, fits", [(1.0, True), (1.004, True), (1.1, False), (0.9, False), (3.0, False)])
def test_a_length_that_a_sheet_of_paper_cannot_show_is_refused_with_what_it_shows(a4, times, fits):
    start, end = (150.0, 150.0), (1000.0, 700.0)
    true = find_scale(PHOTO, a4.picture, "auto").distance(start, end)[0]
    reference = Reference(lengths=[(start, end, times * true)])
    if fits:
        assert find_scale(PHOTO, a4.picture, reference).distance(start, end)[0] == pytest.approx(true, rel=5e-3)
    else:
        with pytest.raises(FileError, match=rf"length: .* from 150,150 to 1000,700 .*that is {true:.0f} mm, give or"):
            find_scale(PHOTO, a4.picture, reference)


def test_a_length_that_does_not_agree_with_marker_sheets_is_named(markers):
    with pytest.raises(FileError, match="length: 9000 mm from 100,100 to 1100,800 does not agree"):
        find_scale(PHOTO, markers.picture, Reference(lengths=[((100, 100), (1100, 800), 9000.0)]))


def test_a_lone_sheet_in_a_cropped_photo_is_not_held_to_the_pose_of_a_camera():
    """Its axis lies far from the middle of what is left: what was found without that is kept."""
    matrix = camera((0, 0), 1500, (2000, 1500), 25, 40, 0, 0.8)
    corners = np.array([(0, 297), (210, 297), (210, 0), (0, 0)], dtype=float)
    pixels = apply(matrix, corners + (-300, 100)) - (500, 0)
    seen = [Seen(corners, pixels, box(0, 0, 210, 297))]
    found = solve_scale("a4", seen, (1500, 1500), sigma_pixels=0.25)
    assert references._posed(found, seen, 0.25, None, ()) is found
    whole = [Seen(corners, pixels + (500, 0), box(0, 0, 210, 297))]
    found = solve_scale("a4", whole, (2000, 1500), sigma_pixels=0.25)
    posed = references._posed(found, whole, 0.25, None, ())
    ring = apply(matrix, np.array([(-400, -300), (400, -300), (400, 300), (-400, 300)], dtype=float))
    assert posed.outline_error(ring) < 0.8 * found.outline_error(ring)


def test_a_length_read_off_a_tape_makes_a_lone_sheet_surer(a4):
    ends = np.array([(-300.0, 0.0), (320.0, 40.0)])
    (start, end), mm = a4.to_pixels(ends), float(np.hypot(*(ends[1] - ends[0])))
    hide = a4.to_pixels(np.asarray(a4.outline.exterior.coords)[::40])
    alone, told = (find_scale(PHOTO, a4.picture, Reference(lengths=some)) for some in ((), [(start, end, mm)]))
    assert told.shape_errors(hide)[0] < 0.7 * alone.shape_errors(hide)[0]
    assert length_error(told, a4) < 0.005
