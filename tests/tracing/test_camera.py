import numpy as np
import pytest
from render import render

from nesting.errors import FileError
from nesting.files.cameras import read_camera, write_camera
from nesting.tracing import TraceLimits, trace
from nesting.tracing.camera import measure_camera
from nesting.tracing.scale import Camera

LENS, FOCAL, SIZE = (0.02, -0.005), 0.85, (1600, 1200)


MADE = dict(size=SIZE, hide_mm=700, extent=2.0, sheets=5, focal=FOCAL, distortion=LENS[0], distortion2=LENS[1])


@pytest.fixture(scope="module")
def photos(rendered, tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheets")
    scenes = [rendered(seed=seed, tilt=tilt, **MADE) for seed, tilt in enumerate((30, 25, 12))]
    return [scene.save(folder / f"{seed}.jpg") for seed, scene in enumerate(scenes)]


@pytest.fixture(scope="module")
def measured(photos):
    return measure_camera(photos)


def test_focal_length_and_lens_are_found_within_their_stated_spread(measured):
    camera, residual, sheets = measured
    assert sheets >= 12 and residual < 0.3
    assert abs(np.log(camera.focal / FOCAL)) < 3 * camera.focal_spread < 0.2
    # At the corner of the picture the two terms add up; apart they are known less well.
    assert sum(camera.lens) == pytest.approx(sum(LENS), abs=0.004)


def test_a_profile_is_written_and_read_back(tmp_path):
    camera = Camera((0.02, -0.005), (0.001, 0.002), 0.85, 0.01)
    write_camera(tmp_path / "camera.json", camera, 0.1, 12)
    assert read_camera(tmp_path / "camera.json") == camera


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        '{"format": "nesting-camera", "version": 1, "lens": [9, 0], "lens_spread": [1, 1], "focal": 1,'
        ' "focal_spread": 0.1}',
    ],
)
def test_a_profile_that_cannot_be_right_is_refused(tmp_path, text):
    (tmp_path / "camera.json").write_text(text)
    with pytest.raises(FileError):
        read_camera(tmp_path / "camera.json")


def test_a_profile_makes_a_card_beside_a_bent_lens_good_enough(measured, rendered, tmp_path):
    # a card is too small for its edges to show how the lens bends
    made = MADE | {"size": (1600, 1200), "hide_mm": 300, "reference": "card", "extent": 1.75}
    scene = rendered(seed=26, floor="concrete", leather="cognac", tilt=15, **made)
    photo = scene.save(tmp_path / "photo.jpg")
    blind, known = (
        trace(photo, reference="card", camera=camera, limits=TraceLimits().accepting(50))
        for camera in (None, measured[0])
    )
    assert known.expected_error_mm < blind.expected_error_mm
    assert known.outline.area == pytest.approx(scene.outline.area, rel=0.006)


def test_a_profile_makes_paper_beside_a_bent_lens_good_enough(measured, rendered, tmp_path):
    made = MADE | {"size": (1600, 1200), "hide_mm": 500, "reference": "a4", "extent": 1.75}
    scene = rendered(seed=26, floor="concrete", leather="cognac", tilt=15, **made)
    known = trace(scene.save(tmp_path / "photo.jpg"), camera=measured[0], limits=TraceLimits().accepting(50))
    assert known.outline.area == pytest.approx(scene.outline.area, rel=0.006)


def test_photos_without_sheets_are_refused(tmp_path):
    scene = render(seed=1, size=(800, 600), reference="a4", hide_mm=500)
    with pytest.raises(FileError, match="marker sheets"):
        measure_camera([scene.save(tmp_path / "a.jpg")])


def test_photos_of_different_sizes_are_refused(photos, tmp_path):
    scene = render(seed=1, size=(800, 600), hide_mm=500)
    with pytest.raises(FileError, match="one camera"):
        measure_camera([photos[0], scene.save(tmp_path / "a.jpg")])
