"""Tell leather from floor in a photo, roughly."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..errors import FileError
from .colours import Colours, disc, even_light, grown, lab, nearest

LEAST_SHARE = 0.01
SHADING, RELIT, TELLING, MOST_UNLIKE = 0.3, 6.0, 3.0, 25.0
"""By what share light and shadow may scale a colour; the distance in variances to which a colour is then the same in another
light; by how many leather must be nearer than floor, or floor than leather, to be told by that; beyond which all is unlike."""
FEWEST = 120
"""Pixels that a region has at least for its colours to be learnt at half the size."""
_MEND = "use a floor of another colour or brightness, or give points inside and outside the leather"


@dataclass(frozen=True)
class Ground:
    """The photo, made smaller, and what is already known about it, all in its pixels.

    ``picture`` (h, w, 3) uint8 RGB; ``seen`` where it shows the floor not too far away; ``paper`` the references;
    ``inside`` and ``outside`` (h, w) bool, what somebody said is leather, or not; ``rough`` (h, w) bool a polygon
    somebody drew roughly around the leather.
    """

    photo: Path
    picture: np.ndarray
    seen: np.ndarray
    paper: np.ndarray
    inside: np.ndarray
    outside: np.ndarray
    rough: np.ndarray | None = None


def find_leather(ground: Ground) -> np.ndarray:
    """Which pixels are the hide, its holes filled.

    The floor's colours and roughness are learnt along the frame of the picture and around the references; the light is
    evened out over them. The largest other region seeds a graph cut (Rother, Kolmogorov and Blake, GrabCut, 2004).

    Parameters
    ----------
    ground : Ground

    Returns
    -------
    (h, w) bool array

    Raises
    ------
    FileError
        If leather cannot be told from floor, reaches the edge of the photo, is tiny, or lies under a reference.
    """
    import cv2

    small, paper, inside, outside = ground.picture, ground.paper, ground.inside, ground.outside
    size = small.shape[1::-1]
    seen = cv2.erode(ground.seen.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=0) > 0
    depth = cv2.distanceTransform(np.pad(seen.astype(np.uint8), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    frame = seen & (depth < 0.035 * min(size))
    beside = grown(paper, 0.02 * max(size)) & ~grown(paper, 1)
    floor = ((frame | beside) & seen & ~grown(paper, 1) & ~inside) | outside
    small = _plain_paper(small, paper, seen)
    even = even_light(small, floor)
    features = _features(even)
    floor = _without_leather(floor, frame, features, depth) | outside
    if ground.rough is None:
        likely, certain = _strange(features, floor, seen & ~paper, inside, outside)
    else:
        depth = cv2.distanceTransform(ground.rough.astype(np.uint8), cv2.DIST_L2, 3)
        likely, certain = ground.rough & seen & ~paper, (depth > 0.35 * depth.max()) & ~outside
    mask = _graph_cut(even, likely, certain, frame, paper, seen, inside, outside)
    _refuse(ground, mask, paper, seen)
    return mask & ground.seen


def _features(even: np.ndarray) -> np.ndarray:
    """L*, a*, b* and twice the local roughness of L*."""
    import cv2

    colour = lab(even)
    mean = cv2.GaussianBlur(colour[..., 0], (0, 0), 2.0)
    rough = np.sqrt(np.maximum(cv2.GaussianBlur((colour[..., 0] - mean) ** 2, (0, 0), 2.0), 0))
    return np.dstack([cv2.GaussianBlur(colour, (0, 0), 0.8), 2 * rough])


def _without_leather(floor: np.ndarray, frame: np.ndarray, features: np.ndarray, depth: np.ndarray) -> np.ndarray:
    """The floor seeds less colours met on one stretch of the frame only and more often in the middle of the picture."""
    colours = Colours(features[floor])
    rows, columns = np.nonzero(floor)
    labels = colours.distances(features[floor]).argmin(axis=-1)
    middle = depth > 0.5 * depth.max()
    central = colours.distances(features[middle][::7]).argmin(axis=-1)
    shares = np.bincount(central, minlength=len(colours.means)) / max(len(central), 1)
    height, width = floor.shape
    bearing = np.floor((np.arctan2(rows - height / 2, columns - width / 2) / (2 * np.pi) + 0.5) * 36).astype(int) % 36
    keep = np.ones(len(labels), bool)
    for label, share in enumerate(shares):
        mine = labels == label
        counts = np.bincount(bearing[mine], minlength=36) / np.maximum(np.bincount(bearing, minlength=36), 1)
        if share > max(0.05, 2 * mine.mean()) and (counts > 0.3).sum() < 14:
            # Floor in shadow is met on one stretch of the frame only as well.
            others = Colours(features[floor][~mine], shading=SHADING) if (~mine).sum() > 100 else None
            relit = others is not None and np.median(others.distances(features[floor][mine]).min(axis=-1)) < RELIT
            keep &= ~mine | frame[floor] if relit else ~mine
    if keep.mean() < 0.3:
        return floor
    kept = np.zeros_like(floor)
    kept[rows[keep], columns[keep]] = True
    return kept


def _strange(features, floor, open_ground, inside, outside) -> tuple[np.ndarray, np.ndarray]:
    """The largest region unlike the floor, and what somebody pointed at as no leather (or the one somebody pointed at as leather), and
    its pixels that are very unlike it."""
    import cv2

    floors = Colours(features[floor])
    strangeness = np.sqrt(floors.distances(features).min(axis=-1))
    count, dots = cv2.connectedComponents(outside.astype(np.uint8))
    for dot in range(1, count):
        strangeness = np.minimum(strangeness, np.sqrt(Colours(features[dots == dot]).distances(features).min(axis=-1)))
    strangeness = cv2.GaussianBlur(strangeness, (0, 0), 1.2)
    if inside.any():
        near = np.sqrt(Colours(features[grown(inside, 4) & open_ground], 3).distances(features).min(axis=-1))
        likely = near < strangeness
    else:
        scaled = np.clip(strangeness * 12, 0, 255).astype(np.uint8)
        level, _ = cv2.threshold(scaled[open_ground].reshape(-1, 1), 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
        usual = np.quantile(strangeness[floor], 0.98)
        likely = strangeness > max(min(level / 12, 3 * usual), usual)
    likely, region = _region(likely & open_ground, open_ground, inside)
    if not inside.any():
        likely, region = _relit(features, floor, likely, region, strangeness, usual, open_ground)
    depth = cv2.distanceTransform(region.astype(np.uint8), cv2.DIST_L2, 3)
    heart = (depth > 0.35 * depth.max()) & (cv2.erode(likely.astype(np.uint8), disc(4)) > 0)
    if heart.any():
        # A patch of floor met nowhere on the frame is unlike the floor seeds, but even less like the leather.
        leather = Colours(features[heart], least_share=0.02).surprise(features)
        likely, region = _region(likely & (leather < floors.surprise(features)), open_ground, inside)
    certain = region & likely
    if certain.any():
        certain &= strangeness > 0.7 * np.median(strangeness[certain])
    return region, certain & (cv2.erode(region.astype(np.uint8), disc(6)) > 0)


def _relit(features, floor, likely, region, strangeness, usual, open_ground) -> tuple[np.ndarray, np.ndarray]:
    """The same, with leather in shadow or light added that the level missed, and floor in shadow or light taken away."""
    import cv2

    depth = cv2.distanceTransform(region.astype(np.uint8), cv2.DIST_L2, 3)
    heart = likely & (depth > 0.35 * depth.max())
    if heart.sum() < 100:
        return likely, region
    heart &= strangeness > 0.5 * np.median(strangeness[heart])
    floors, leathers = (
        Colours(features[some], 6, 0.02, SHADING).distances(features).min(axis=-1) for some in (floor, heart)
    )
    nearer = cv2.GaussianBlur(np.clip(floors, 0, MOST_UNLIKE) - np.clip(leathers, 0, MOST_UNLIKE), (0, 0), 2.0)
    likely = (strangeness > usual) & (nearer > TELLING) | likely & ((nearer > -TELLING) | (floors > MOST_UNLIKE))
    none = np.zeros_like(region)
    return _region(likely & open_ground, open_ground, heart if (heart & likely).any() else none)


def _region(likely: np.ndarray, open_ground: np.ndarray, inside: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The pixels less specks, and the largest region they make up when gaps are closed."""
    import cv2

    likely = cv2.morphologyEx(likely.astype(np.uint8), cv2.MORPH_OPEN, disc(1))
    closed = cv2.morphologyEx(likely, cv2.MORPH_CLOSE, disc(3)) > 0
    return likely > 0, _largest(closed & open_ground, inside)


def _graph_cut(even, likely, certain, frame, paper, seen, inside, outside) -> np.ndarray:
    import cv2

    if likely.sum() < FEWEST:
        return likely
    marks = np.where(likely, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    marks[certain] = cv2.GC_FGD
    far = cv2.distanceTransform((~likely).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE) > 0.12 * max(
        likely.shape
    )
    marks[far | frame & ~likely | paper | ~seen | outside] = cv2.GC_BGD
    marks[inside] = cv2.GC_FGD
    colours = np.clip(lab(even) * (2.55, 2, 2) + (0, 128, 128), 0, 255).astype(np.uint8)
    # the colours are learnt at half the size, and the cut is made once more at full size, in what is in question
    half = [
        cv2.resize(part, None, fx=0.5, fy=0.5, interpolation=how)
        for part, how in ((colours, cv2.INTER_AREA), (marks, cv2.INTER_NEAREST))
    ]
    models = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.setRNGSeed(1)
    cv2.grabCut(*half, None, *models, 3, cv2.GC_INIT_WITH_MASK)
    found = cv2.resize((half[1] & 1).astype(np.float32), marks.shape[::-1], interpolation=cv2.INTER_LINEAR) > 0.5
    marks = np.where(marks >= cv2.GC_PR_BGD, cv2.GC_PR_BGD + found, marks).astype(np.uint8)
    x, y, width, height = cv2.boundingRect((marks != cv2.GC_BGD).view(np.uint8))
    cut = np.s_[max(y - 1, 0) : y + height + 1, max(x - 1, 0) : x + width + 1]
    part = np.ascontiguousarray(marks[cut])
    cv2.grabCut(np.ascontiguousarray(colours[cut]), part, None, *models, 1, cv2.GC_EVAL)
    found = np.zeros_like(found)
    found[cut] = part & 1
    return _filled(_largest(found, inside if inside.any() else certain))


def _refuse(ground: Ground, mask, paper, seen) -> None:
    import cv2

    share = mask.sum() / max(seen.sum(), 1)
    if share < LEAST_SHARE:
        value = f"{100 * share:.1f} % of the picture differs from the floor"
        raise FileError(ground.photo, "leather against floor", value, _MEND)
    edge = mask & ~(cv2.erode(mask.astype(np.uint8), disc(1)) > 0)
    outer = cv2.erode(seen.astype(np.uint8), disc(3), borderValue=0) == 0
    touching = (edge & outer).sum() / max(edge.sum(), 1)
    if touching > 0.01:
        value = f"{100 * touching:.0f} % of the outline"
        mend = f"step back so that floor shows on every side; if leather and floor look alike, {_MEND}"
        raise FileError(ground.photo, "leather at the edge of the photo", value, mend)
    # what lies right beside the paper passes for floor there
    rim = grown(paper, 3) & ~grown(paper, 1)
    if (rim & mask).sum() > max(4, 0.02 * rim.sum()):
        mend = "lay sheets and cards on the floor beside the hide, 20 mm clear of it"
        raise FileError(ground.photo, "leather under the reference", "covered, touched or too near", mend)


def _plain_paper(small: np.ndarray, paper: np.ndarray, seen: np.ndarray) -> np.ndarray:
    """The references painted over with the floor beside them, so that their white is learnt by nobody."""
    cover = grown(paper, 1) | ~seen
    if not cover.any() or cover.all():
        return small
    return nearest(small, ~cover)


def _largest(mask: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """The connected regions that hold wanted pixels, else the largest region."""
    import cv2

    count, labels, facts, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count < 2:
        return mask
    held = np.unique(labels[wanted & mask])
    if len(held):
        return np.isin(labels, held[np.argmax(facts[held, cv2.CC_STAT_AREA])])
    return labels == 1 + int(np.argmax(facts[1:, cv2.CC_STAT_AREA]))


def _filled(mask: np.ndarray) -> np.ndarray:
    import cv2

    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return cv2.drawContours(np.zeros(mask.shape, np.uint8), contours, -1, 1, -1) > 0
