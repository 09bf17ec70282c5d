"""Dark card ends where it ends, not where its shadow does."""

import cv2
import numpy as np
import pytest
from shapely.geometry import LinearRing

from nesting.tracing.shadows import out_of_shadow

CARD = (40, 40, 160, 120)
"""Left, top, right and bottom of a card, pixels between the middles of those beside it."""


def picture(card, ground, shadow=1.0, wide=0):
    """A card on a ground, with ground in shadow to its right."""
    left, top, right, bottom = CARD
    seen = np.full((170, 210, 3), ground, np.float32)
    seen[top:bottom, right : right + wide] *= shadow
    seen[top:bottom, left:right] = card
    return np.clip(cv2.GaussianBlur(seen, (0, 0), 1.0), 0, 255).astype(np.uint8)


def ring(beyond=0.0):
    left, top, right, bottom = np.array(CARD) - 0.5
    return np.array(
        [(left, top), (right + beyond, top), (right + beyond, bottom), (left, bottom), (left, top)], dtype=float
    )


def right_edge(line):
    """Of the middle of the right side."""
    near = line[(np.abs(line[:, 1] - 80) < 20) & (line[:, 0] > 100)]
    return float(np.median(near[:, 0]))


@pytest.mark.parametrize("hole", [False, True])
def test_an_edge_drawn_around_a_shadow_comes_back_to_the_card(hole):
    card, ground = ((30, 30, 30), (160, 160, 160))
    seen = picture(card, ground, shadow=0.5, wide=6)
    if hole:
        # the same seen from the other side: a window of ground in dark card, its shadow at the right
        left, top, right, bottom = CARD
        seen = np.full(seen.shape, 30, np.float32)
        seen[top:bottom, left:right] = 160
        seen[top:bottom, right - 6 : right] = 80
        seen = np.clip(cv2.GaussianBlur(seen, (0, 0), 1.0), 0, 255).astype(np.uint8)
        assert right_edge(out_of_shadow(seen, ring(-6), 1.0, hole=True)) == pytest.approx(159.5, abs=0.6)
    else:
        assert right_edge(out_of_shadow(seen, ring(6), 1.0, hole=False)) == pytest.approx(159.5, abs=0.6)


def test_an_edge_without_a_shadow_stays():
    moved = out_of_shadow(picture((30, 30, 30), (160, 160, 160)), ring(), 1.0, hole=False)
    assert right_edge(moved) == pytest.approx(159.5, abs=0.1)


def test_bright_card_on_a_dark_ground_is_left_alone():
    given = ring()
    assert out_of_shadow(picture((200, 190, 180), (60, 60, 60), 0.5, 6), given, 1.0, hole=False) is given


def test_the_other_sides_stay_where_only_one_lies_in_shadow():
    moved = LinearRing(out_of_shadow(picture((30, 30, 30), (160, 160, 160), 0.5, 6), ring(6), 1.0, hole=False))
    assert moved.bounds[:2] == pytest.approx((39.5, 39.5), abs=0.3)
