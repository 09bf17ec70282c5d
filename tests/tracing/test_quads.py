import numpy as np
import pytest

from nesting.tracing import quads


@pytest.mark.parametrize("bend", [0.0, -0.02, -0.12])
def test_corners_of_sheets_are_placed_to_a_tenth_of_a_pixel_however_a_lens_bends_their_edges(bend, rendered):
    off = {"lines": [], "parabolas": []}
    for seed in (61, 62, 63):
        scene = rendered(
            seed=seed,
            papers=2,
            size=(1600, 1200),
            floor="wood",
            leather="brown",
            hide_mm=800,
            reference="letter",
            distortion=bend,
            extent=2.0,
        )
        true = np.vstack([scene.to_pixels(np.asarray(sheet)) for sheet in scene.reference_mm])
        for quad in quads.find_quads(scene.picture, white=True):
            if np.hypot(*(true[:, None] - quad).T).min(axis=1).max() < 8:
                for name, corners in (("lines", quad), ("parabolas", quads.fit_sides(scene.picture, quad)[0])):
                    off[name] += np.hypot(*(true[:, None] - corners).T).min(axis=1).tolist()
    assert len(off["lines"]) == 24
    assert np.mean(off["parabolas"]) < 0.1
    if bend == -0.12:
        assert np.mean(off["lines"]) > 0.5
