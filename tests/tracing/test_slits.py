import cv2
import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from shapely.strtree import STRtree

from nesting.tracing.limits import METHOD
from nesting.tracing.slits import begins_at_edge, find_inner, find_slits, without_slits

SIZE = 300
SHALLOW = METHOD.slits.shallow_pixels
HIDE = box(40, 40, 260, 260)


def unlike(lines=(), strength=1.0, rough=0.05, seed=0):
    """How unlike leather each place is, with some lines drawn on the hide in it and blurred as a photo is."""
    field = np.random.default_rng(seed).normal(0, rough, (SIZE, SIZE)).astype(np.float32)
    for shape in lines:
        mask = np.zeros((4 * SIZE, 4 * SIZE), np.uint8)
        cv2.fillPoly(mask, [np.round((np.asarray(shape.exterior.coords) + 0.5) * 4 - 0.5).astype(np.int32)], 1)
        field += strength * cv2.resize(mask.astype(np.float32), (SIZE, SIZE), interpolation=cv2.INTER_AREA)
    field = cv2.GaussianBlur(field, (0, 0), 0.8)

    def at(places):
        flat = np.asarray(places, np.float32).reshape(-1, 2)
        return cv2.remap(field, flat[:, :1], flat[:, 1:], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[
            :, 0
        ].reshape(places.shape[:-1])

    return at


def lines_inward(hide, at):
    slits, lines = find_slits(hide, at)
    assert slits == []
    return lines


@pytest.mark.parametrize("wide", [1.5, 3.0, 5.0])
@pytest.mark.parametrize("turn", [0, 35, -35])
@pytest.mark.parametrize("long", [20, 90])
def test_a_line_is_followed_from_the_edge_to_its_end(wide, turn, long):
    way = np.array([np.sin(np.radians(turn)), np.cos(np.radians(turn))])
    end = np.array([150, 40]) + long * way
    (line,) = lines_inward(HIDE, unlike([LineString([(150, 30), (150, 40), end]).buffer(wide / 2, cap_style="flat")]))
    assert Point(line.coords[0]).distance(HIDE.exterior) == pytest.approx(SHALLOW, abs=1.5)
    assert Point(line.coords[-1]).distance(Point(end)) < 3
    assert line.hausdorff_distance(LineString([(150, 40), end])) < SHALLOW + 4


def test_two_lines_are_two():
    lines = [box(100, 30, 103, 80), box(180, 230, 183, 270)]
    found = lines_inward(HIDE, unlike(lines))
    assert sorted(STRtree(lines).nearest(found).tolist()) == [0, 1]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("rough", [0.02, 0.3])
def test_rough_leather_has_none(rough, seed):
    assert lines_inward(HIDE, unlike(rough=rough, seed=seed)) == []


@pytest.mark.parametrize(
    "mark",
    [box(100, 60, 103, 120), box(60, 47, 200, 50), Point(150, 46).buffer(5), box(140, 30, 160, 90)],
    ids=["away from the edge", "along the edge", "a spot", "wide"],
)
def test_other_marks_are_none(mark):
    assert lines_inward(HIDE, unlike([mark])) == []


def test_a_line_too_faint_for_a_slit_is_none():
    assert lines_inward(HIDE, unlike([box(150, 30, 155, 80)], strength=0.5)) == []


def test_a_line_that_goes_on_from_a_narrow_bay_is_a_slit():
    hide = HIDE.difference(Polygon([(145, 39), (155, 39), (151, 75), (149, 75)]))
    line = box(149, 70, 151.5, 130)
    slits, lines = find_slits(hide, unlike([line], strength=0.6))
    assert lines == [] and len(slits) == 1
    cut = without_slits(hide, slits)
    assert cut.exterior.distance(Point(150.2, 130)) < 3 and hide.exterior.distance(Point(150.2, 130)) > 50
    # the slit is open: what was taken away is one piece with the bay
    assert cut.geom_type == "Polygon" and not cut.interiors and 3 * 50 < hide.area - cut.area < 3 * 65


def test_a_hide_of_a_few_pixels_has_none():
    assert lines_inward(box(100, 100, 115, 115), unlike()) == []


@pytest.mark.parametrize("wide", [1.5, 3.0, 5.0])
@pytest.mark.parametrize("turn", [0, 30])
def test_a_line_within_the_leather_is_followed_to_both_ends(wide, turn):
    way = np.array([np.sin(np.radians(turn)), np.cos(np.radians(turn))])
    ends = [np.array([150, 150]) + at * way for at in (-30, 50)]
    drawn = LineString(ends)
    slits, lines = find_inner(
        HIDE, np.array([[150, 150, 0.0, 1.0]]), unlike([drawn.buffer(wide / 2, cap_style="flat")]), []
    )
    assert slits == [] and len(lines) == 1 and lines[0].hausdorff_distance(drawn) < 3
    assert not begins_at_edge(lines[0], HIDE)
    cut = without_slits(HIDE, lines)
    assert len(cut.interiors) == 1 and HIDE.area - cut.area == pytest.approx(3 * 80, rel=0.1)


@pytest.mark.parametrize(
    ("mark", "strength"),
    [
        (Point(150, 150).buffer(5), 1.0),
        (affinity.scale(Point(150, 150).buffer(10), 0.2, 1), 0.8),
        (box(147.5, 120, 152.5, 180), 0.5),
    ],
    ids=["a spot", "a longish blot", "a faint line"],
)
def test_other_marks_within_the_leather_are_none(mark, strength):
    assert find_inner(HIDE, np.array([[150, 150, 0.0, 1.0]]), unlike([mark], strength=strength), []) == ([], [])


def test_what_goes_on_from_a_narrow_hole_is_the_rest_of_a_slit():
    hide = HIDE.difference(box(148.5, 140, 151.5, 165))
    line = Polygon([(149, 120), (151, 120), (151.5, 140), (151.5, 165), (148.5, 165), (148.5, 140)])
    (slit,), lines = find_inner(hide, np.array([[150, 130, 0.0, 1.0]]), unlike([line], strength=0.6), [])
    assert lines == [] and Point(slit.coords[-1]).distance(Point(150, 120)) < 3
    cut = without_slits(hide, [slit])
    assert len(cut.interiors) == 1 and Polygon(cut.interiors[0]).bounds[1] == pytest.approx(120, abs=3)


def test_what_was_found_before_is_not_found_again():
    at = unlike([box(148.5, 120, 151.5, 180)])
    seeds = np.array([[150, 150, 0.0, 1.0], [150, 160, 0.0, 1.0]])
    _, lines = find_inner(HIDE, seeds, at, [])
    assert len(lines) == 1 and find_inner(HIDE, seeds, at, lines) == ([], [])
    # nor what was cut out
    assert find_inner(HIDE.difference(box(148.5, 120, 151.5, 180)), seeds, at, []) == ([], [])


def test_the_faint_end_of_a_narrow_hole_belongs_to_it():
    hole = Polygon([(148, 140), (152, 140), (150.5, 180), (149.5, 180)])
    at = unlike([hole, Polygon([(149.5, 178), (150.5, 178), (150.2, 200), (149.8, 200)]).buffer(0.3)])
    ((slit,), lines) = find_inner(HIDE.difference(hole), np.zeros((0, 4)), at, [])
    assert lines == [] and Point(slit.coords[-1]).distance(Point(150, 200)) < 5
    assert find_inner(HIDE.difference(hole), np.zeros((0, 4)), unlike([hole]), []) == ([], [])
    assert find_inner(
        HIDE.difference(Point(150, 150).buffer(4)), np.zeros((0, 4)), unlike([Point(150, 150).buffer(4)]), []
    ) == ([], [])


def test_a_slit_stays_open_at_an_edge_that_has_moved_away_from_it():
    line = LineString([(150, 46), (150, 100)])
    moved = HIDE.union(box(100, 25, 200, 60))
    assert without_slits(moved, [line]).interiors
    cut = without_slits(moved, [line], HIDE)
    assert not cut.interiors and cut.exterior.distance(Point(150, 98)) < 3
