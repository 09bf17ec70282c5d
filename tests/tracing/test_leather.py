from dataclasses import replace

import numpy as np
import pytest
from render import floor_tile, render, varied

from nesting.errors import FileError
from nesting.tracing import Hints, TraceLimits, trace

SIZE = (1000, 750)


def refusal(scene, tmp_path, **given):
    with pytest.raises(FileError) as caught:
        trace(scene.save(tmp_path / "photo.jpg"), **given)
    assert "\n" not in str(caught.value)
    return caught.value


@pytest.mark.parametrize("floor", ["concrete", "wood", "gravel"])
def test_leather_of_the_colour_of_the_floor_is_refused(tmp_path, floor):
    alike = tuple(floor_tile(floor).reshape(-1, 3).mean(axis=0))
    fault = refusal(render(seed=3, size=SIZE, floor=floor, leather=alike, hide_mm=800), tmp_path)
    assert fault.place.startswith("leather ") and "floor" in fault.mend


def test_leather_hardly_darker_than_the_floor_is_refused(tmp_path):
    nearly = tuple(floor_tile("concrete").reshape(-1, 3).mean(axis=0) - 15)
    fault = refusal(render(seed=3, size=SIZE, floor="concrete", leather=nearly, hide_mm=800), tmp_path)
    assert fault.place == "leather against floor"


def test_leather_that_leaves_the_photo_is_refused(tmp_path):
    scene = render(seed=4, size=SIZE, leather="cognac", hide_mm=800, extent=1.3)
    width = scene.picture.shape[1]
    left, right = np.sort(scene.to_pixels(np.asarray(scene.outline.exterior.coords))[:, 0])[[0, -1]]
    # Cut off the side that holds fewer sheets.
    sheets = scene.to_pixels(np.vstack(scene.reference_mm))[:, 0].reshape(-1, 4)
    middle = (left + right) / 2
    cut = slice(0, int(right - 80)) if (sheets.mean(axis=1) < middle).sum() >= 2 else slice(int(left + 80), width)
    cropped = replace(scene, picture=np.ascontiguousarray(scene.picture[:, cut]))
    assert refusal(cropped, tmp_path).place == "leather at the edge of the photo"


def test_a_sheet_across_the_edge_of_the_leather_is_refused(tmp_path):
    scene = render(seed=5, size=SIZE, floor="wood", leather="brown", hide_mm=800, reference="a4", reference_at="edge")
    assert refusal(scene, tmp_path).place == "leather under the reference"


def test_a_speck_of_leather_is_refused(tmp_path):
    scene = render(seed=5, size=SIZE, floor="plain", leather="brown", hide_mm=60, extent=20, holes=0, sheets=2)
    fault = refusal(scene, tmp_path)
    assert fault.place == "leather against floor"


def test_a_point_inside_picks_the_hide_beside_a_larger_mat(tmp_path):
    scene = render(seed=6, size=(1200, 900), floor="concrete", leather="cognac", hide_mm=500, extent=3.2, sheets=2)
    left = min(scene.to_pixels(np.asarray(scene.outline.exterior.coords))[:, 0])
    mat = scene.picture[:, : int(left) - 40]
    free = [corner for corner in scene.to_pixels(np.vstack(scene.reference_mm)) if corner[0] < left]
    top = 60 if not free or min(corner[1] for corner in free) > 450 else 480
    mat[top : top + 360, 60:] = mat[top : top + 360, 60:] * 0.2 + (10, 20, 90)
    hide = scene.to_pixels(np.array(scene.outline.representative_point().coords))
    limits = TraceLimits().accepting(10)
    blind = trace(scene.save(tmp_path / "photo.jpg"), limits=limits)
    shown = trace(tmp_path / "photo.jpg", shown=Hints(inside=hide), limits=limits)
    assert shown.outline.area == pytest.approx(scene.outline.area, rel=0.02)
    assert blind.outline.area > 1.2 * scene.outline.area


def test_a_rough_polygon_helps_where_a_larger_mat_misleads(tmp_path):
    scene = render(seed=6, size=(1200, 900), floor="concrete", leather="cognac", hide_mm=500, extent=2.2, sheets=3)
    rough = scene.to_pixels(np.asarray(scene.outline.buffer(25).exterior.simplify(10).coords))
    photo, limits = scene.save(tmp_path / "photo.jpg"), TraceLimits().accepting(10)
    shown = trace(photo, shown=Hints(rough=rough), limits=limits)
    assert shown.outline.area == pytest.approx(scene.outline.area, rel=0.02)


@pytest.mark.parametrize("rough", [[(10, 10), (20, 20)], [(10, 10), (200, 200), (200, 10), (10, 200)]])
def test_a_rough_polygon_that_encloses_nothing_is_refused(tmp_path, rough):
    scene = render(seed=6, size=SIZE, hide_mm=600)
    assert refusal(scene, tmp_path, shown=Hints(rough=rough)).place == "rough"


@pytest.mark.parametrize("seed", [606, 807, 1016])
def test_shadows_and_gleams_over_leather_and_floor_do_not_cut_the_leather_up(tmp_path, seed):
    """Photos whose shadow or gleam crosses the outline, or reaches the frame, and was once taken for leather or
    floor."""
    # How clear the outline is, is another question.
    limits = TraceLimits(least_contrast=4.0).accepting(20)
    made = varied(seed) | {"size": (1600, 1200), "blur": 0.5}
    scene = render(**made | {"noise": made["noise"] / 2.5})
    traced = trace(scene.save(tmp_path / "photo.jpg", 90), limits=limits)
    assert traced.outline.area == pytest.approx(scene.outline.area, rel=0.01)
