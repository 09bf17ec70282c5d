"""A panel on the bed: how its outline is laid upon the one that was seen, and when that is refused."""

import math

import numpy as np
import pytest
import shapely
from flat_things import honeycomb, photograph
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.errors import FileError
from nesting.tracing.bed import _lying, _moved, find_panel, fit_outlines, rigid

PIECE = Polygon([(100, 50), (430, 50), (430, 140), (350, 170), (340, 220), (160, 240), (100, 170)])
BED = (600.0, 400.0)
STRAIGHT = (0.0, -80.0, -30.0)
"""How the card lays it."""


def points_of(shape, noise_mm=0.2, seed=1, step_mm=1.0):
    points = shapely.get_coordinates(shapely.segmentize(shape.exterior, step_mm))[:-1]
    return points + np.random.default_rng(seed).normal(0, noise_mm, points.shape)


def laid(shape, pose):
    return affinity.translate(affinity.rotate(shape, math.degrees(pose[0]), (0, 0)), *pose[1:])


def displaced(found, true):
    corners = shapely.get_coordinates(PIECE)
    there, should = (shapely.get_coordinates(laid(PIECE, pose)) for pose in (found, true))
    assert len(corners) == len(there)
    return float(np.hypot(*(there - should).T).max())


@settings(max_examples=6, deadline=None)
@given(st.floats(-math.pi, math.pi), st.floats(-300, 300), st.floats(-300, 300))
def test_however_it_lies_an_outline_is_laid_upon_what_was_seen_of_it(angle, x, y):
    true = (angle, x, y)
    miss, pose, over = fit_outlines(points_of(laid(PIECE, true)), PIECE)[0]
    assert not over and miss < 0.4 and displaced(pose, true) < 0.3


def test_what_is_hidden_by_a_stop_is_not_missed():
    true = (0.3, 40.0, 20.0)
    points = points_of(laid(PIECE, true))
    points = points[points[:, 0] > np.quantile(points[:, 0], 0.25)]
    assert displaced(fit_outlines(points, PIECE)[0][1], true) < 0.5


def test_a_knife_line_cut_askew_turns_the_rest_by_little():
    cut = PIECE.difference(Polygon([(90, 40), (440, 40), (440, 51.3), (90, 50.3)]))
    assert displaced(fit_outlines(points_of(cut), PIECE)[0][1], (0, 0, 0)) < 1.0


def test_an_outline_turned_over_fits_better_turned_over():
    points = points_of(affinity.scale(PIECE, -1, 1, origin=(0, 0)))
    fits = fit_outlines(points, PIECE)
    assert fits[0][2] and fits[0][0] < 0.4 < min(miss for miss, _, over in fits if not over)


def test_points_are_laid_upon_others_without_scaling():
    source = np.array([(0, 0), (10, 0), (0, 5)], dtype=float)
    angle, x, y = rigid(source, shapely.get_coordinates(laid(Polygon(source), (0.4, 3.0, -2.0)))[:3])
    assert (angle, x, y) == pytest.approx((0.4, 3.0, -2.0))


def taken(shape, tmp_path, name="bed.jpg", sheets=False, size=(1600, 1200), bed=BED):
    a4 = np.array([(0, 0), (210, 0), (210, 297), (0, 297)], dtype=float)
    scene = photograph(
        [shape], seed=5, size=size, thick_mm=2.0, colour=(176, 124, 80), reference="markers", extent_mm=1.3 * bed[0],
        lying=[a4, np.array(bed) - a4] if sheets else [], centre=np.array(bed) / 2, tilt=6, skin=1.0,
        painted=honeycomb(bed, np.random.default_rng(3)),
    )  # fmt: skip
    corners = scene.to_pixels(np.array([(0, 0), (bed[0], 0), bed, (0, bed[1])]))
    return scene.save(tmp_path / name, 90, 0.8), corners


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("beds")


def test_a_panel_is_found_by_two_marker_sheets_in_the_corners_of_the_bed(folder):
    bed, piece = (700.0, 500.0), affinity.scale(PIECE, 0.75, 0.75, origin=(0, 0))
    true = (math.radians(-5), 320.0, 10.0)
    photo, _ = taken(laid(piece, true), folder, "sheets.jpg", sheets=True, bed=bed)
    found = find_panel(photo, piece, bed, (0.0, 300.0, 0.0), thickness_mm=2.0)
    there, should = (shapely.get_coordinates(laid(piece, pose)) for pose in (found.pose, true))
    assert np.hypot(*(there - should).T).max() < 1.0 and found.off_mm < 1.0
    assert np.hypot(*(there - should).T).max() <= found.parts_mm < 2.0
    assert any("corners are 0." in note for note in found.notes)


@pytest.fixture(scope="module")
def plain(folder):
    """A rectangle, which looks the same turned by half and turned over."""
    true = (math.radians(3), 60.0, 50.0)
    return (*taken(laid(box(0, 0, 300, 160), true), folder, "plain.jpg"), true)


def test_of_two_ways_to_lie_the_one_of_the_card_is_taken_and_said(plain):
    photo, corners, true = plain
    found = find_panel(photo, box(0, 0, 300, 160), BED, (0.0, 50.0, 50.0), corners=corners, thickness_mm=2.0)
    assert found.pose == pytest.approx(true, abs=0.8)
    said = " ".join(found.notes)
    assert "turned by 180 degrees" in said and "grain side is up" in said


def test_a_panel_that_could_lie_either_way_is_refused_where_the_card_is_no_guide(plain):
    photo, corners, _ = plain
    with pytest.raises(FileError, match=r"fits as well turned by .* lay it about as its card shows"):
        find_panel(photo, box(0, 0, 300, 160), BED, (math.pi / 2, 0.0, 0.0), corners=corners, thickness_mm=2.0)


def test_another_panel_is_refused_with_what_to_do(plain):
    photo, corners, _ = plain
    with pytest.raises(
        FileError, match=r"95 % of its outline is within .* mm of the one traced.*trace the hide anew"
    ) as no:
        find_panel(photo, box(0, 0, 280, 180), BED, (0.0, 50.0, 50.0), corners=corners, thickness_mm=2.0)
    assert no.value.value == "no panel of this outline lies there" and no.value.mend.startswith("another panel?")


def test_a_panel_that_lies_flesh_side_up_is_refused(folder):
    over = affinity.translate(affinity.scale(PIECE, -1, 1), -20, 20)
    photo, corners = taken(over, folder, "over.jpg")
    with pytest.raises(FileError, match=r"flesh side up.*turn it over"):
        find_panel(photo, PIECE, BED, STRAIGHT, corners=corners, thickness_mm=2.0)


def test_without_sheets_and_corners_it_says_what_to_give(plain):
    with pytest.raises(FileError, match=r"marker sheets: 0 seen.*--corners"):
        find_panel(plain[0], PIECE, BED, STRAIGHT)


def test_three_corners_are_refused(plain):
    with pytest.raises(FileError, match="--corners: 3 corners"):
        find_panel(plain[0], PIECE, BED, STRAIGHT, corners=plain[1][:3])


def test_an_empty_bed_is_refused(folder):
    photo, corners = taken(box(5, 5, 25, 25), folder, "empty.jpg", size=(800, 600))
    with pytest.raises(FileError, match=r"panel: .*"):
        find_panel(photo, PIECE, BED, STRAIGHT, corners=corners, thickness_mm=2.0)


def test_corners_the_wrong_way_round_are_refused_with_the_right_way(plain):
    with pytest.raises(FileError, match=r"wrong way round: give them from the bottom left on to the bottom right"):
        find_panel(plain[0], PIECE, BED, STRAIGHT, corners=plain[1][::-1])


def test_a_bed_that_was_named_from_the_wrong_corner_is_told_by_how_the_panel_seems_to_lie(folder):
    photo, corners = taken(laid(PIECE, (0.05, -60.0, 20.0)), folder, "turned.jpg")
    found = find_panel(photo, PIECE, BED, STRAIGHT, corners=np.roll(corners, 2, axis=0), thickness_mm=2.0)
    assert any("turned by 17" in note and "begin at the bottom left" in note for note in found.notes)


def test_a_corner_pointed_at_wrong_is_told_with_how_far_parts_may_lie_off(plain):
    photo, corners, true = plain
    panel = box(0, 0, 300, 160)
    good = find_panel(photo, panel, BED, (0.0, 50.0, 50.0), corners=corners, thickness_mm=2.0)
    wrong = corners + [(0, 0), (8, -8), (0, 0), (0, 0)]
    found = find_panel(photo, panel, BED, (0.0, 50.0, 50.0), corners=wrong, thickness_mm=2.0)
    assert not any("corner" in note for note in good.notes)
    assert any("one may be pointed at some" in note and "look at the picture" in note for note in found.notes)
    for seen in (good, found):
        there, should = (shapely.get_coordinates(laid(panel, pose)) for pose in (seen.pose, true))
        assert np.hypot(*(there - should).T).max() <= seen.parts_mm
    assert good.parts_mm < 1.5 < found.parts_mm


def test_where_most_of_an_outline_fits_and_some_does_not_that_is_told(plain):
    photo, corners, _ = plain
    other = Polygon([(0, 0), (300, 0), (300, 160), (60, 160), (0, 155)])
    found = find_panel(photo, other, BED, (0.0, 50.0, 50.0), corners=corners, thickness_mm=2.0)
    assert found.off_mm > 1 and any("some is far off" in note for note in found.notes)
    assert found.parts_mm >= 2.5 * found.off_mm


def test_corners_begun_at_another_one_are_told_by_their_own_name(plain):
    with pytest.raises(
        FileError, match=r"--corners: no camera sees them so: begin at the bottom left.*1600 x 1200"
    ) as no:
        find_panel(plain[0], PIECE, BED, STRAIGHT, corners=np.roll(plain[1], 1, axis=0))
    assert "fifth" not in str(no.value)


A4 = np.array([(0, 0), (210, 0), (210, 297), (0, 297)], dtype=float)


@pytest.mark.parametrize(
    "turns, said", [(1, "its top to the left"), (2, "sheet 1 lies upside down"), (3, "its top to the right")]
)
def test_a_sheet_that_does_not_lie_upright_is_named_with_the_one_that_does(turns, said):
    turned = _moved(A4, (turns * math.pi / 2, 0, 0))
    turned -= turned.min(axis=0)
    aside = (0.4, 900.0, -300.0)
    papers = [(_moved(turned, aside), A4), (_moved(A4 + (BED[0] - 210, 0), aside), A4)]
    how, mend = _lying([1, 2], papers, np.array([(0, 0), (BED[0], 0), BED, (0, BED[1])]))
    assert said in how and "turn it upright" in mend and "sheet 2 lies right, in the bottom right corner" in mend


def test_a_sheet_in_no_corner_is_named_with_how_far_it_lies_from_one():
    papers = [(A4, A4), (A4 + (BED[0] - 210 - 60, 80), A4)]
    how, mend = _lying([1, 3], papers, np.array([(0, 0), (BED[0], 0), BED, (0, BED[1])]))
    assert how == "sheet 3 lies 64 mm from the top right corner" and "600 x 400 mm" in mend


def test_sheet_1_upside_down_on_the_bed_is_told(folder):
    bed = (700.0, 500.0)
    scene = photograph(
        [box(300, 20, 420, 120)], seed=5, size=(1200, 900), thick_mm=2.0, colour=(176, 124, 80), reference="markers",
        extent_mm=1.3 * bed[0], lying=[A4[[2, 3, 0, 1]], np.array(bed) - A4[[2, 3, 0, 1]]], centre=np.array(bed) / 2,
    )  # fmt: skip
    photo = scene.save(folder / "upside.jpg", 90, 0.8)
    with pytest.raises(
        FileError, match=r"marker sheets: sheet 1 lies upside down: turn it upright.*sheet 2 lies right"
    ):
        find_panel(photo, PIECE, bed, STRAIGHT)
