import numpy as np
import pytest
from render import lay_upon, render
from shapely.geometry import LineString, Point, Polygon, box

from nesting.model import Hide, Layout, Machine, Suggestion, Workshop
from nesting.referee.rules import check
from nesting.tracing import TraceLimits, suggest_flaws, trace

MM = 1.0
OUTLINE = box(20, 20, 580, 380)


def to_pixels(mm):
    return np.asarray(mm, dtype=float) * (1, -1) + (0, 400)


def leather(seed=0, spread=3.0):
    chance = np.random.default_rng(seed)
    return np.clip(np.array([150, 100, 60]) + chance.normal(0, spread, (401, 601, 1)), 0, 255).astype(np.uint8)


def marked(picture, polygon, factor):
    import cv2

    mask = np.zeros(picture.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(to_pixels(polygon.exterior.coords)).astype(np.int32)], 1)
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.0)[..., None]
    return np.clip(picture * (1 + soft * (factor - 1)), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(("factor", "kind"), [(0.5, "brand or stain"), (1.4, "light mark")])
def test_a_mark_is_outlined_where_it_is_and_named_by_its_brightness(factor, kind):
    mark = Point(200, 200).buffer(14)
    found = suggest_flaws(marked(leather(), mark, factor), OUTLINE, to_pixels, MM)
    assert [one.kind for one in found] == [kind]
    assert found[0].polygon.contains(mark.buffer(-1)) and found[0].polygon.area < 1.7 * mark.area


def test_a_long_pale_line_is_taken_for_a_scar():
    found = suggest_flaws(marked(leather(), box(100, 150, 190, 155), 1.35), OUTLINE, to_pixels, MM)
    assert [one.kind for one in found] == ["scar"]


def test_a_line_that_somebody_told_is_a_mark_is_suggested_once():
    line = LineString([(100, 150), (150, 152)])
    (unseen,) = suggest_flaws(leather(), OUTLINE, to_pixels, MM, [line])
    (seen,) = suggest_flaws(marked(leather(), line.buffer(2), 0.5), OUTLINE, to_pixels, MM, [line])
    assert unseen == seen and seen.polygon.contains(line) and (seen.kind, seen.grade) == ("scar", "C")
    # a bay cuts it in two: the longer part counts
    (part,) = suggest_flaws(leather(), OUTLINE.difference(box(110, 20, 115, 300)), to_pixels, MM, [line])
    assert part.polygon.bounds[0] == pytest.approx(115)


def test_a_fainter_mark_is_less_sure():
    strong, faint = (
        suggest_flaws(marked(leather(), Point(200, 200).buffer(14), factor), OUTLINE, to_pixels, MM)[0].confidence
        for factor in (0.4, 0.8)
    )
    assert strong > faint


def test_what_is_suggested_keeps_to_the_limits():
    picture = marked(marked(leather(), Point(200, 200).buffer(14), 0.5), Point(400, 200).buffer(4), 0.8)

    def count(**given):
        return len(suggest_flaws(picture, OUTLINE, to_pixels, MM, limits=TraceLimits(**given)))

    assert count() == 2 and count(most_flaws=1) == count(flaw_mm2=200.0) == count(flaw_unlike=12.0) == 1


def test_plain_leather_has_no_flaws():
    assert suggest_flaws(leather(), OUTLINE, to_pixels, MM) == ()


def test_a_gleam_is_no_flaw():
    y, x = np.mgrid[:401, :601]
    gleam = 90 * np.exp(-(((x - 300) / 90) ** 2) - ((y - 200) / 70) ** 2)
    assert suggest_flaws(np.clip(leather() + gleam[..., None], 0, 255).astype(np.uint8), OUTLINE, to_pixels, MM) == ()


def test_most_dark_brands_of_a_rendered_hide_are_suggested_and_little_else(tmp_path):
    scene = render(seed=41, size=(2000, 1500), leather="natural", floor="concrete", hide_mm=1000)
    traced = trace(scene.save(tmp_path / "photo.jpg"))
    found = suggest_flaws(traced.straight, traced.outline, traced.to_pixels, traced.mm_per_pixel)
    moved = lay_upon(traced.outline, scene.outline)
    from shapely import transform

    a, b = np.asarray(traced.outline.exterior.coords)[:-1], np.asarray(moved.exterior.coords)[:-1]
    turn, *_ = np.linalg.lstsq(np.c_[a, np.ones(len(a))], b, rcond=None)
    places = [transform(one.polygon, lambda p: np.c_[p, np.ones(len(p))] @ turn) for one in found]
    dark = [mark for mark in scene.marks[::2] if mark.area > 100 and scene.outline.contains(mark)]
    assert sum(any(place.intersects(mark) for place in places) for mark in dark) >= 0.6 * len(dark) > 0
    assert sum(not any(place.intersects(mark) for mark in scene.marks) for place in places) <= 3


def test_no_layout_is_judged_by_suggestions():
    everywhere = Suggestion(box(1, 1, 499, 499), "E", "stain", 0.9)
    workshop = Workshop(Machine("m", 600, 400, 60))
    findings = [
        check(Layout(workshop, (Hide("h", box(0, 0, 500, 500), suggestions=suggestions),), (), {}, {}, (), ()))
        for suggestions in ((), (everywhere,))
    ]
    assert findings[0] == findings[1]


def test_an_accepted_suggestion_is_a_zone_like_any_other():
    zone = Suggestion(Polygon([(0, 0), (9, 0), (9, 9)]), "D", "scar", 0.8).accepted()
    assert (zone.grade, zone.kind) == ("D", "scar")
