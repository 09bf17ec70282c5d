"""Patterns of card read off photos: what is found, what is left out and said, what is refused."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from flat_rings import laid_upon
from flat_things import photograph, rounded
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from nesting.errors import FileError, ModelError
from nesting.tracing import cards
from nesting.tracing.cards import _radius, trace_cards
from nesting.tracing.cards_picture import MOST_LINES, NOTE_LETTERS, from_corner, shown_notes

A4 = np.array([(0, 0), (210, 0), (210, 297), (0, 297)], dtype=float)
FOB = Point(0, 0).buffer(18, quad_segs=64).union(box(-7, 0, 7, 60)).difference(Point(0, 0).buffer(5, quad_segs=64))


def taken(folder, name, things, size=(1600, 1200), **how):
    scene = photograph(
        things, seed=2, size=size, thick_mm=2.0, reference="markers", lying=[A4 - (250, 150), A4 + (90, -150)],
        extent_mm=640, tilt=9, contact=0.4, **how,
    )  # fmt: skip
    return scene.save(folder / name, 90, 0.8)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("cards")


@pytest.fixture(scope="module")
def dark(folder):
    """A dark keyfob and a tag on a light ground, and a card that the picture cuts off."""
    tag = affinity.translate(affinity.rotate(rounded(80, 40, 5), 30, (0, 0)), -10, 60)
    off = affinity.translate(box(0, 0, 60, 40), -30, 215)
    things = [affinity.translate(FOB, 0, -60), tag, off]
    return taken(folder, "dark.jpg", things, colour=(48, 44, 42), ground_colour=(176, 170, 160))


@pytest.fixture(scope="module")
def read(dark):
    return trace_cards(dark, thickness_mm=2.0, name="fob")


def test_dark_card_on_a_light_ground_is_true_to_less_than_half_a_mm(read):
    assert [part.name for part in read.parts] == ["fob-1", "fob-2"]
    fob = next(part for part in read.parts if part.cutouts)
    moved, _ = laid_upon(Polygon(fob.curves.outline.flattened(0.01)), Polygon(FOB.exterior))
    off = shapely.distance(shapely.points(shapely.get_coordinates(moved.exterior)), FOB.exterior)
    assert np.quantile(off, 0.95) < 0.4
    assert fob.curves.cutouts[0].circle.radius == pytest.approx(5, abs=0.2)


def test_what_the_picture_cuts_off_is_left_out_and_said(read):
    assert any("cut off by the edge of the photo" in note for note in read.notes)


def test_parts_lie_in_a_row_turned_square(read):
    boxes = [part.outline.bounds for part in read.parts]
    assert boxes[0][:2] == pytest.approx((0, 0), abs=1e-6) and boxes[1][0] > boxes[0][2] + 5
    tag = next(part for part in read.parts if not part.cutouts)
    x0, y0, x1, y1 = tag.outline.bounds
    assert sorted((x1 - x0, y1 - y0)) == pytest.approx([40, 80], abs=0.4)


def test_how_far_it_may_be_off_is_told(read):
    assert 0 < read.error_mm < 1 and 0 < read.scale_percent < 1


def test_the_thickness_that_was_assumed_is_told_with_what_it_may_be_wrong_by(dark):
    told = next(note for note in trace_cards(dark).notes if "taken to be 1 mm thick" in note)
    assert "--thickness" in told and re.search(r"if it is paper, all lengths are 0\.\d\d % too short", told)


def test_of_two_thicknesses_the_thicker_card_is_smaller(dark):
    thin, thick = (trace_cards(dark, thickness_mm=mm).parts[0].outline for mm in (0.1, 6.0))
    assert thick.length < thin.length


@pytest.mark.parametrize("mm", [0, -1, 21, math.nan])
def test_a_thickness_that_cannot_be_is_refused_before_the_photo_is_read(mm):
    with pytest.raises(FileError, match="thickness"):
        trace_cards("none.jpg", thickness_mm=mm)


def test_a_ground_with_nothing_on_it_is_refused_with_what_to_do(folder):
    photo = taken(
        folder, "bare.jpg", [box(0, 0, 5, 5)], size=(1200, 900), colour=(40, 40, 40), ground_colour=(170, 165, 160)
    )
    with pytest.raises(FileError, match=r"pattern: .*plain ground of another colour"):
        trace_cards(photo)


@pytest.mark.parametrize("radius", [0.5, 0.8, 2.0])
@pytest.mark.parametrize("shift", [0.0, 0.3, 0.7])
def test_a_hole_is_as_wide_as_what_shows_between_its_top_and_its_foot_tells(radius, shift):
    # area common to two equal circles, by shapely
    seen = Point(0, 0).buffer(radius, quad_segs=256).intersection(Point(shift, 0).buffer(radius, quad_segs=256)).area
    assert _radius(seen, shift) == pytest.approx(radius, abs=0.005)


@pytest.mark.parametrize("asked", ["letter", "a4"])
def test_asked_for_paper_that_is_not_there_it_takes_the_marker_sheets_in_view_and_says_so(dark, read, asked):
    found = trace_cards(dark, reference=asked, thickness_mm=2.0)
    assert found.reference == "markers" and any("marker sheets 1 and 2 in view instead" in one for one in found.notes)
    assert [part.outline.area for part in found.parts] == pytest.approx([part.outline.area for part in read.parts])


def test_what_was_asked_for_and_marker_sheets_that_disagree_are_told(dark):
    # a marker shows about as a bank card does
    found = trace_cards(dark, reference="card", thickness_mm=2.0)
    told = [note for note in found.notes if "marker sheets 1 and 2 came out" in note]
    assert found.reference == "card" and re.search(r"by a bank card, .* 2\.9 % shorter than they were drawn", told[0])


def test_a_scale_far_off_by_its_own_account_is_refused_before_patterns_are_read(dark, monkeypatch):
    honest = cards.find_scale

    def unsure(*given, **how):
        scale = honest(*given, **how)
        return replace(scale, spread=scale.spread * 1000)

    monkeypatch.setattr(cards, "find_scale", unsure)
    monkeypatch.setattr(cards, "_read", None)
    with pytest.raises(
        FileError, match=r"scale: lengths may be off by \d+\.\d %, outlines by \d.* mm: that is by marker"
    ):
        trace_cards(dark)


def test_what_comes_out_as_no_part_is_told_in_plain_words(dark, monkeypatch):
    def crossing(*given, **how):
        raise ModelError("cutout of part part", "Self-intersection[1.5 2.5]", "redraw it")

    monkeypatch.setattr(cards, "Part", crossing)
    with pytest.raises(FileError) as refused:
        trace_cards(dark)
    said = refused.value.value
    assert "pixel" in said and "come nearer" in said and "Self-intersection" not in said and "redraw" not in said


def test_a_width_may_be_off_at_both_its_edges(read, dark):
    assert 2 * read.error_mm < read.width_mm < 2 * read.error_mm + 0.5
    assert trace_cards(dark).width_mm > read.width_mm


def test_a_picture_has_room_for_its_notes():
    lines = shown_notes(["what lies at pixel 773,1542 has no clear edge, and is left out, " * 3] * 20)
    assert len(lines) == MOST_LINES and max(map(len, lines)) <= NOTE_LETTERS and "terminal" in lines[-1]
    assert shown_notes(["short"]) == ["short"]


def test_card_seen_aslant_is_told_by_how_wide_its_wall_shows(folder):
    hole = box(0, 0, 80, 60).difference(Point(40, 30).buffer(10, quad_segs=64))
    size = dict(size=(1200, 900), colour=(196, 164, 116), ground_colour=(52, 74, 70), wall=0.6)
    photo = taken(folder, "aslant.jpg", [affinity.translate(hole, -15, 120)], **size)
    found = trace_cards(photo, thickness_mm=2.0)
    wide = [re.search(r"shows up to (\d\.\d) mm wide", note) for note in found.notes]
    assert any(wide) and found.width_mm > 0.35
    true = 2 * found.parts[0].curves.cutouts[0].circle.radius
    assert abs(true - 20) < found.width_mm


@pytest.mark.parametrize(("corner", "far"), [(-550.3, -431.0), (12.7, 402.2), (0.0, 55.0)])
def test_the_axes_of_the_picture_begin_at_the_corner_of_the_patterns(corner, far):
    places, told = from_corner(corner, far)
    assert told[0] == "0" and places[0] == corner and 4 <= len(places) <= 10
    assert [place - corner for place in places] == pytest.approx(list(map(float, told)))
    assert places == sorted(places) and far - (places[2] - corner) <= places[-1] <= far
