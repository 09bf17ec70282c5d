"""Tell leather from floor in a photo, roughly."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..errors import FileError
from .arrays import Floats, Mask, Picture
from .colours import Colours, disc, even_light, grown, lab, nearest
from .limits import METHOD, TraceLimits

LEATHER = METHOD.leather

_MEND = "use a floor of another colour or brightness, or give points inside and outside the leather"


@dataclass(frozen=True)
class Ground:
    """The photo, made smaller, and what is already known about it, all in its pixels.

    ``picture`` (h, w, 3) uint8 RGB; ``seen`` where it shows the floor not too far away; ``paper`` the references;
    ``inside`` and ``outside`` (h, w) bool, what somebody said is leather, or not; ``rough`` (h, w) bool a polygon
    somebody drew roughly around the leather.
    """

    photo: Path
    picture: Picture
    seen: Mask
    paper: Mask
    inside: Mask
    outside: Mask
    rough: Mask | None
    limits: TraceLimits


def find_leather(ground: Ground) -> Mask:
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
    seen: Mask = cv2.erode(ground.seen.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=0) > 0
    depth = cv2.distanceTransform(np.pad(seen.astype(np.uint8), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    frame = seen & (depth < LEATHER.frame_share * min(size))
    beside = grown(paper, LEATHER.beside_share * max(size)) & ~grown(paper, 1)
    floor = ((frame | beside) & seen & ~grown(paper, 1) & ~inside) | outside
    small = _plain_paper(small, paper, seen)
    even = even_light(small, floor)
    features = features_of(even)
    floor = _without_leather(floor, frame, features, depth) | outside
    if ground.rough is None:
        likely, certain = _strange(features, floor, seen & ~paper, inside, outside)
    else:
        depth = cv2.distanceTransform(ground.rough.astype(np.uint8), cv2.DIST_L2, 3)
        likely, certain = ground.rough & seen & ~paper, (depth > LEATHER.heart_share * depth.max()) & ~outside
    mask = _graph_cut(even, likely, certain, frame, paper, seen, inside, outside)
    _refuse(ground, mask, paper, seen)
    return mask & ground.seen


def features_of(even: Picture) -> Floats:
    """L*, a*, b* and twice the local roughness of L*."""
    import cv2

    colour = lab(even)
    mean = cv2.GaussianBlur(colour[..., 0], (0, 0), LEATHER.rough_pixels)
    rough = np.sqrt(np.maximum(cv2.GaussianBlur((colour[..., 0] - mean) ** 2, (0, 0), LEATHER.rough_pixels), 0))
    return np.dstack([cv2.GaussianBlur(colour, (0, 0), LEATHER.smooth_pixels), LEATHER.rough_times * rough])


def _without_leather(floor: Mask, frame: Mask, features: Floats, depth: Floats) -> Mask:
    """The floor seeds less colours met on one stretch of the frame only and more often in the middle of the picture."""
    colours = Colours(features[floor])
    rows, columns = np.nonzero(floor)
    labels = colours.distances(features[floor]).argmin(axis=-1)
    middle = depth > LEATHER.middle_share * depth.max()
    central = colours.distances(features[middle][::7]).argmin(axis=-1)
    shares = np.bincount(central, minlength=len(colours.means)) / max(len(central), 1)
    height, width = floor.shape
    around, many = np.arctan2(rows - height / 2, columns - width / 2) / (2 * np.pi) + 0.5, LEATHER.bearings
    bearing = np.floor(around * many).astype(int) % many
    keep = np.ones(len(labels), bool)
    for label, share in enumerate(shares):
        mine = labels == label
        met = np.bincount(bearing[mine], minlength=many) / np.maximum(np.bincount(bearing, minlength=many), 1)
        central_enough = share > max(LEATHER.central_share, LEATHER.central_times * mine.mean())
        if central_enough and (met > LEATHER.met_share).sum() < LEATHER.most_bearings:
            # Floor in shadow is met on one stretch of the frame only as well.
            relit = False
            if (~mine).sum() > LEATHER.fewest_others:
                others = Colours(features[floor][~mine], shading=LEATHER.shading)
                relit = bool(np.median(others.distances(features[floor][mine]).min(axis=-1)) < LEATHER.relit)
            keep &= ~mine | frame[floor] if relit else ~mine
    if keep.mean() < LEATHER.kept_share:
        return floor
    kept = np.zeros_like(floor)
    kept[rows[keep], columns[keep]] = True
    return kept


def _strange(features: Floats, floor: Mask, open_ground: Mask, inside: Mask, outside: Mask) -> tuple[Mask, Mask]:
    """The largest region unlike the floor, and what somebody pointed at as no leather (or the one somebody pointed at
    as leather), and its pixels that are very unlike it."""
    import cv2

    floors = Colours(features[floor])
    strangeness = np.sqrt(floors.distances(features).min(axis=-1))
    count, dots = cv2.connectedComponents(outside.astype(np.uint8))
    for dot in range(1, count):
        strangeness = np.minimum(strangeness, np.sqrt(Colours(features[dots == dot]).distances(features).min(axis=-1)))
    strangeness = cv2.GaussianBlur(strangeness, (0, 0), LEATHER.smooth_strange_pixels)
    if inside.any():
        told = features[grown(inside, LEATHER.told_pixels) & open_ground]
        near = np.sqrt(Colours(told, LEATHER.told_distributions).distances(features).min(axis=-1))
        likely = near < strangeness
    else:
        scaled = np.clip(strangeness * LEATHER.levels_each, 0, 255).astype(np.uint8)
        level, _ = cv2.threshold(scaled[open_ground].reshape(-1, 1), 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
        usual = np.quantile(strangeness[floor], LEATHER.usual_quantile)
        likely = strangeness > max(min(level / LEATHER.levels_each, LEATHER.unusual_times * usual), usual)
    likely, region = _region(likely & open_ground, open_ground, inside)
    if not inside.any():
        likely, region = _relit(features, floor, likely, region, strangeness, usual, open_ground)
    depth = cv2.distanceTransform(region.astype(np.uint8), cv2.DIST_L2, 3)
    sure = cv2.erode(likely.astype(np.uint8), disc(LEATHER.heart_pixels)) > 0
    heart = (depth > LEATHER.heart_share * depth.max()) & sure
    if heart.any():
        # A patch of floor met nowhere on the frame is unlike the floor seeds, but even less like the leather.
        leather = Colours(features[heart], least_share=LEATHER.rare_share).surprise(features)
        likely, region = _region(likely & (leather < floors.surprise(features)), open_ground, inside)
    certain = region & likely
    if certain.any():
        certain &= strangeness > LEATHER.certain_times * np.median(strangeness[certain])
    return region, certain & (cv2.erode(region.astype(np.uint8), disc(LEATHER.certain_pixels)) > 0)


def _relit(
    features: Floats,
    floor: Mask,
    likely: Mask,
    region: Mask,
    strangeness: Floats,
    usual: np.floating,
    open_ground: Mask,
) -> tuple[Mask, Mask]:
    """The same, with leather in shadow or light added that the level missed, and floor in shadow or light taken
    away."""
    import cv2

    depth = cv2.distanceTransform(region.astype(np.uint8), cv2.DIST_L2, 3)
    heart = likely & (depth > LEATHER.heart_share * depth.max())
    if heart.sum() < LEATHER.fewest_heart:
        return likely, region
    heart &= strangeness > LEATHER.relit_times * np.median(strangeness[heart])
    floors, leathers = (
        Colours(features[some], least_share=LEATHER.rare_share, shading=LEATHER.shading)
        .distances(features)
        .min(axis=-1)
        for some in (floor, heart)
    )
    nearer = np.clip(floors, 0, LEATHER.most_unlike) - np.clip(leathers, 0, LEATHER.most_unlike)
    nearer = cv2.GaussianBlur(nearer, (0, 0), LEATHER.smooth_nearer_pixels)
    stays = likely & ((nearer > -LEATHER.telling) | (floors > LEATHER.most_unlike))
    likely = (strangeness > usual) & (nearer > LEATHER.telling) | stays
    none = np.zeros_like(region)
    return _region(likely & open_ground, open_ground, heart if (heart & likely).any() else none)


def _region(likely: Mask, open_ground: Mask, inside: Mask) -> tuple[Mask, Mask]:
    """The pixels less specks, and the largest region they make up when gaps are closed."""
    import cv2

    opened = cv2.morphologyEx(likely.astype(np.uint8), cv2.MORPH_OPEN, disc(LEATHER.speck_pixels))
    closed = cv2.morphologyEx(opened, cv2.MORPH_CLOSE, disc(LEATHER.gap_pixels)) > 0
    return opened > 0, _connected(closed & open_ground, inside)


def _graph_cut(
    even: Picture,
    likely: Mask,
    certain: Mask,
    frame: Mask,
    paper: Mask,
    seen: Mask,
    inside: Mask,
    outside: Mask,
) -> Mask:
    import cv2

    if likely.sum() < LEATHER.fewest_cut:
        return likely
    marks = np.where(likely, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    marks[certain] = cv2.GC_FGD
    far = cv2.distanceTransform((~likely).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    far = far > LEATHER.far_share * max(likely.shape)
    marks[far | frame & ~likely | paper | ~seen | outside] = cv2.GC_BGD
    marks[inside] = cv2.GC_FGD
    colours = np.clip(lab(even) * (2.55, 2, 2) + (0, 128, 128), 0, 255).astype(np.uint8)
    # the colours are learnt at half the size, and the cut is made once more at full size, in what is in question
    half = [
        cv2.resize(each, None, fx=0.5, fy=0.5, interpolation=how)
        for each, how in ((colours, cv2.INTER_AREA), (marks, cv2.INTER_NEAREST))
    ]
    models = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.setRNGSeed(1)
    cv2.grabCut(half[0], half[1], None, *models, LEATHER.cut_rounds, cv2.GC_INIT_WITH_MASK)
    found = cv2.resize((half[1] & 1).astype(np.float32), marks.shape[::-1], interpolation=cv2.INTER_LINEAR) > 0.5
    marks = np.where(marks >= cv2.GC_PR_BGD, cv2.GC_PR_BGD + found, marks).astype(np.uint8)
    x, y, width, height = cv2.boundingRect((marks != cv2.GC_BGD).view(np.uint8))
    cut = np.s_[max(y - 1, 0) : y + height + 1, max(x - 1, 0) : x + width + 1]
    within = np.ascontiguousarray(marks[cut])
    cv2.grabCut(np.ascontiguousarray(colours[cut]), within, None, *models, 1, cv2.GC_EVAL)
    found = np.zeros_like(found)
    found[cut] = within & 1
    return _filled(_connected(found, inside if inside.any() else certain))


def _refuse(ground: Ground, mask: Mask, paper: Mask, seen: Mask) -> None:
    import cv2

    share = mask.sum() / max(seen.sum(), 1)
    if share < ground.limits.hide_share:
        value = f"{100 * share:.1f} % of the picture differs from the floor"
        raise FileError(ground.photo, "leather against floor", value, _MEND)
    edge = mask & ~(cv2.erode(mask.astype(np.uint8), disc(1)) > 0)
    outer = cv2.erode(seen.astype(np.uint8), disc(3), borderValue=0) == 0
    touching = (edge & outer).sum() / max(edge.sum(), 1)
    if touching > ground.limits.touching_share:
        value = f"{100 * touching:.0f} % of the outline"
        mend = f"step back so that floor shows on every side; if leather and floor look alike, {_MEND}"
        raise FileError(ground.photo, "leather at the edge of the photo", value, mend)
    # what lies right beside the paper passes for floor there
    rim = grown(paper, LEATHER.rim_pixels) & ~grown(paper, 1)
    if (rim & mask).sum() > max(LEATHER.fewest_rim, LEATHER.rim_share * rim.sum()):
        mend = "lay sheets and cards on the floor beside the hide, 20 mm clear of it"
        raise FileError(ground.photo, "leather under the reference", "covered, touched or too near", mend)


def _plain_paper(small: Picture, paper: Mask, seen: Mask) -> Picture:
    """The references painted over with the floor beside them, so that their white is learnt by nobody."""
    cover = grown(paper, 1) | ~seen
    if not cover.any() or cover.all():
        return small
    return nearest(small, ~cover)


def _connected(mask: Mask, wanted: Mask) -> Mask:
    """The connected regions that hold wanted pixels, else the largest region."""
    import cv2

    count, labels, facts, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count < 2:
        return mask
    found = np.unique(labels[wanted & mask])
    if len(found):
        return np.isin(labels, found[np.argmax(facts[found, cv2.CC_STAT_AREA])])
    largest: Mask = labels == 1 + int(np.argmax(facts[1:, cv2.CC_STAT_AREA]))
    return largest


def _filled(mask: Mask) -> Mask:
    import cv2

    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled: Mask = cv2.drawContours(np.zeros(mask.shape, np.uint8), contours, -1, 1, -1) > 0
    return filled
