import numpy as np
import pytest
import shapely
from PIL import Image
from render import render

from nesting.files.errors import FileError
from nesting.trace import draw_check, trace_photo


def saved(scene, folder, quality=85):
    return scene.save(folder / "photo.jpg", quality)


def traced(tmp_path, **scene):
    scene = render(size=(1600, 1200), **scene)
    return scene, trace_photo(saved(scene, tmp_path))


def area_error(scene, trace):
    return abs(trace.outline.area - scene.outline.area) / scene.outline.area


def far_off(scene, trace):
    """Greatest distance between outlines laid over each other as well as moving and turning can."""
    from scipy.optimize import minimize

    found = shapely.get_coordinates(trace.outline.exterior.segmentize(10))
    centre, goal = np.array(trace.outline.centroid.coords[0]), np.array(scene.outline.centroid.coords[0])

    def moved(turn):
        cos, sin = np.cos(turn[2]), np.sin(turn[2])
        return (found - centre) @ np.array([[cos, sin], [-sin, cos]]) + goal + turn[:2]

    def misfit(turn):
        return (shapely.distance(scene.outline.exterior, shapely.points(moved(turn))) ** 2).mean()

    starts = [
        minimize(misfit, (0, 0, turn), method="Nelder-Mead", options={"maxiter": 200})
        for turn in np.arange(0, 6.28, 0.785)
    ]
    best = min(starts, key=lambda result: result.fun)
    best = minimize(misfit, best.x, method="Nelder-Mead", options={"maxiter": 600, "xatol": 1e-4, "fatol": 1e-4})
    return shapely.distance(scene.outline.exterior, shapely.points(moved(best.x))).max()


@pytest.mark.parametrize("seed, floor", [(1, "concrete"), (2, "wood"), (3, "gravel")])
def test_marker_sheets_give_the_outline_within_a_few_mm(tmp_path, seed, floor):
    scene, trace = traced(tmp_path, seed=seed, floor=floor)
    assert trace.reference == "markers"
    assert area_error(scene, trace) < 0.01
    assert far_off(scene, trace) < 8.0
    assert 0 < trace.expected_error_mm < 10


def test_a_sheet_of_a4_beside_the_hide_is_found(tmp_path):
    scene, trace = traced(tmp_path, seed=4, reference="a4", hide_mm=700)
    assert trace.reference == "a4" and area_error(scene, trace) < 0.03


def test_holes_are_found_and_brands_are_not_holes(tmp_path):
    scene, trace = traced(tmp_path, seed=5, holes=2)
    wide = [ring for ring in scene.outline.interiors if shapely.Polygon(ring).area > 300]
    assert len(wide) <= len(trace.outline.interiors) <= len(scene.outline.interiors)


def test_a_floor_without_leather_is_refused(tmp_path):
    noise = np.random.default_rng(1).normal(150, 4, (900, 1200, 3))
    path = tmp_path / "floor.png"
    Image.fromarray(np.clip(noise, 0, 255).astype(np.uint8)).save(path)
    corners = [((100, 800), (0, 0)), ((1100, 800), (1000, 0)), ((1100, 100), (1000, 700)), ((100, 100), (0, 700))]
    with pytest.raises(FileError) as error:
        trace_photo(path, reference="points", points=corners)
    assert "leather" in str(error.value)


def test_without_a_reference_it_says_what_to_lay_down(tmp_path):
    scene = render(seed=7, reference="points")
    with pytest.raises(FileError) as error:
        trace_photo(saved(scene, tmp_path))
    assert "marker sheets" in str(error.value)


def test_the_check_picture_is_drawn(tmp_path):
    _, trace = traced(tmp_path, seed=8)
    draw_check(trace, tmp_path / "check.png")
    assert Image.open(tmp_path / "check.png").size[0] > 600


@pytest.mark.parametrize(
    "content, word", [(b"", "picture"), (b"<svg/>", "picture"), (b"\x00\x00\x00\x18ftypheic", "HEIC")]
)
def test_what_is_no_picture_is_refused_in_one_line(tmp_path, content, word):
    path = tmp_path / "x.jpg"
    path.write_bytes(content)
    with pytest.raises(FileError) as error:
        trace_photo(path)
    assert word in str(error.value) and "\n" not in str(error.value)


def test_a_truncated_photo_is_refused(tmp_path):
    path = saved(render(seed=1, size=(800, 600)), tmp_path)
    path.write_bytes(path.read_bytes()[:20_000])
    with pytest.raises(FileError) as error:
        trace_photo(path)
    assert "damaged" in str(error.value)
