"""Put a rough region right: holes and narrow bays where the floor shows, points of leather that were missed."""

from __future__ import annotations

import numpy as np

from .colours import Colours, disc, even_light, grown, lab, nearest

FLOOR_LIKE = 16.0
UNLIKE = 16.0
"""Squared distances in variances; 16 keeps 99.9 % of a normal colour (chi-square, three degrees of freedom)."""
MIXED, CLOSE = 0.08, 0.05
"""Share of the squared distance from leather to floor at which a pixel may be floor, or leather, blurred, and at which the middle of
a hole still is floor, in a gleam or in shadow."""
STAINED, SURELY, LARGE, TELLING, VARIED = 0.45, 0.85, 100, 1.2, 1.65
"""A spot less than the first share of the way from stained leather to floor is a stain, and less than the second may be one where it is
so many pixels large, so that its middle is no blur (measured on rendered photos: holes 0.88 and more but for four of 0.74 to 0.80, stains
0.66 to 0.73); a* and b* must differ by so much to tell, and by so many times as much as the floor's own do (of a normal distribution
5 % lie further to one side)."""
UNUSUAL = 3.0
"""Squared distance from the floor's colours, in variances, from which so large a spot may as well be a stain (measured on rendered
photos: 95 % of 368 holes were nearer, 16 of 23 stains further)."""
SHADED_UNLIKE, SHADED_ALONG, SHADED_ASIDE, SHADED_APART = 60.0, (0.5, 1.4), 0.2, 10.0
"""Floor in the shade of a hole: squared distance from leather, in variances, from which, on which part of the way from leather to floor
in a* and b*, how far aside of it at most, as a share of it, and how long it is at least, a darker spot is taken for that (measured on
rendered photos: floor seen through small holes 0.6 to 1.0, 0.01 to 0.13 and 19 and more; marks were less unlike leather)."""
LINE_UNLIKE, LINE_DEEP, LINE_WIDE, LINE_LONG, MOST_LINES = 25.0, 4, 9, 8, 60
"""Squared distance from leather, in variances, from which what lies so many pixels from the edge, is thinner than so many, and at least
so many long, may be a line; and how many are looked at, the longest first."""
ROUGH, SMOOTHEST, SMOOTH, GRAINED = 3.0, 0.05, 0.75, 1.5
"""Standard deviation of L* over a few pixels from which a floor is rough nearly everywhere; the share of it that is smoothest (the
faces of bricks between rough joints); how much of what varies there a hole must show (measured on rendered photos), and how much tells
for sure that it is one (our choice)."""


def mended(
    picture: np.ndarray, leather: np.ndarray, usable: np.ndarray, reach: float, smallest: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """The region with narrow bays and points put right, and its holes.

    A bay or a hole looks like floor and unlike the leather around it: a dark spot alone is neither.

    Parameters
    ----------
    picture : (h, w, 3) uint8 RGB
    leather : (h, w) bool
        The hide, known to within ``reach`` pixels, holes filled.
    usable : (h, w) bool
        Where floor and leather may be learnt: on the floor, not on a reference.
    reach : float
        Pixels.
    smallest : float
        Diameter in pixels of the smallest hole to be found.

    Returns
    -------
    whole, holes : (h, w) bool
        The region less its holes and bays, and these alone.
    unsure : (h, w) bool
        Holes that may as well be stains, for all that their colour tells.
    unlike : (h, w) float32
        Squared distance of each pixel from the leather near by, in variances.
    """
    import cv2

    colours = cv2.GaussianBlur(lab(even_light(picture, usable & ~leather)), (0, 0), 0.8)
    middle, spread = _leather_near(colours, leather & usable)
    unlike = ((colours - middle) ** 2 / spread).sum(axis=-1)
    # A point of leather that the region missed must not pass for floor.
    clear = usable & ~grown(leather, 2 * reach) & (unlike > UNLIKE)
    leather_like = max(UNLIKE, MIXED * float(np.median(unlike[clear]))) if clear.any() else UNLIKE
    clear &= unlike > leather_like
    sample = colours[::2, ::2][clear[::2, ::2]]
    if len(sample) < 50:
        return leather, np.zeros_like(leather), np.zeros_like(leather), unlike
    floor = Colours(sample)
    spots = leather & usable & (unlike > UNLIKE)
    strange = np.full(leather.shape, np.inf, np.float32)
    strange[spots] = floor.distances(colours[spots]).min(axis=-1)
    usual = np.median(sample, axis=0)
    shaded = spots & (unlike > SHADED_UNLIKE) & ~grown(~leather, 2 * reach)
    shaded[shaded] = _in_shade(colours[shaded], middle[shaded], usual)
    spots &= shaded | (strange < np.maximum(np.minimum(FLOOR_LIKE, unlike), MIXED * unlike))
    points = ~leather & usable & (unlike < leather_like) & grown(leather, 4 * reach)
    points[points] = floor.distances(colours[points]).min(axis=-1) > UNLIKE
    spots = cv2.morphologyEx(spots.astype(np.uint8), cv2.MORPH_CLOSE, disc(1))
    stained = np.full(leather.shape, np.nan, np.float32)
    stained[spots > 0] = _stained(colours[spots > 0], middle[spots > 0], sample, usual)
    keep, unsure = _floor_at_heart(spots, strange, unlike, stained, shaded, _grain(colours[..., 0], clear), smallest)
    spots = grown(keep, 1)
    points = cv2.morphologyEx((points | leather).astype(np.uint8), cv2.MORPH_CLOSE, disc(1)) > 0
    whole = (points | leather) & ~spots
    return whole, spots, unsure, unlike


def _leather_near(colours: np.ndarray, leather: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Median colour of the leather near each pixel, which holes do not sway, and the variance of pixels about it."""
    import cv2

    step = 8
    size = tuple(max(1, side // step) for side in leather.shape[::-1])
    few = cv2.resize(colours, size, interpolation=cv2.INTER_AREA)
    few = np.clip(few + (0, 128, 128), 0, 255).astype(np.uint8)
    sure = cv2.resize(leather.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.98
    if not sure.any():
        sure = cv2.resize(leather.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.5
    few = cv2.medianBlur(nearest(few, sure), 21).astype(np.float32) - np.float32([0, 128, 128])
    middle = cv2.resize(few, leather.shape[::-1], interpolation=cv2.INTER_LINEAR)
    away = np.abs(colours[::4, ::4] - middle[::4, ::4])[leather[::4, ::4]]
    spread = (1.4826 * np.median(away, axis=0)) ** 2 if len(away) else np.ones(3)
    return middle, (spread + 1.0).astype(np.float32)


def _floor_at_heart(
    spots,
    strange: np.ndarray,
    unlike: np.ndarray,
    stained: np.ndarray,
    shaded: np.ndarray,
    grain: np.ndarray | None,
    smallest: float,
) -> tuple[np.ndarray, np.ndarray]:
    """The spots that are large enough and, away from their rim, of the floor's own colour, or that in shade, and grain; and those of
    them that may have the colour of stained leather as well and have no grain to tell.

    In a small hole JPEG mixes the colour of the leather with that of the floor, and in a large one light may fall otherwise than
    beside the hide, so it is enough to be near it.
    """
    import cv2

    # Half-covered pixels at the rim look like neither, so a hole shows smaller than it is.
    least = np.pi / 4 * max(smallest - 2.0, 1.5) ** 2
    depth = cv2.distanceTransform(spots, cv2.DIST_L2, 3)
    _, labels, facts, _ = cv2.connectedComponentsWithStats(spots, connectivity=4)
    keep, unsure = np.zeros((2, len(facts)), bool)
    for label, (x, y, width, height, area) in enumerate(facts[1:], start=1):
        if area < least:
            continue
        cut = np.s_[y : y + height, x : x + width]
        inner = np.where(labels[cut] == label, depth[cut], 0)
        heart = inner >= 0.7 * inner.max()
        floor = np.median(strange[cut][heart])
        enclosed = x > 0 and y > 0 and x + width < spots.shape[1] and y + height < spots.shape[0]
        untold = np.isnan(stained[cut][heart])
        way = np.median(np.where(untold, 1, stained[cut][heart]))
        if enclosed and way < STAINED:
            continue
        wide = inner >= max(1.5, 0.4 * inner.max())
        rough = np.std(grain[cut][wide]) if grain is not None and wide.sum() > 25 else SMOOTH
        if rough < SMOOTH:
            continue
        keep[label] = (
            floor < FLOOR_LIKE or floor < CLOSE * np.median(unlike[cut][heart]) or shaded[cut][heart].mean() > 0.5
        )
        doubtful = untold.mean() > 0.5 or (area > LARGE and (way < SURELY or floor > UNUSUAL))
        unsure[label] = keep[label] and enclosed and rough < GRAINED and doubtful
    return keep[labels], unsure[labels]


def thin_places(unlike: np.ndarray, leather: np.ndarray) -> np.ndarray:
    """Places (column, row) in thin lines that are unlike leather, in variances, within a region, and their directions: (n, 4)."""
    import cv2

    deep = cv2.distanceTransform(leather.astype(np.uint8), cv2.DIST_L2, 3) > LINE_DEEP
    lines = (deep & (unlike > LINE_UNLIKE)).astype(np.uint8)
    lines &= ~cv2.dilate(cv2.morphologyEx(lines, cv2.MORPH_OPEN, disc(LINE_WIDE // 2)), disc(LINE_WIDE // 2))
    _, labels, facts, _ = cv2.connectedComponentsWithStats(lines, connectivity=8)
    long = np.hypot(facts[:, 2], facts[:, 3])
    found = []
    for label in np.argsort(-long)[: MOST_LINES + 1]:
        x, y, width, height, area = facts[label]
        if label == 0 or long[label] < LINE_LONG or area > LINE_WIDE * long[label]:
            continue
        rows, columns = np.nonzero(labels[y : y + height, x : x + width] == label)
        places = np.c_[columns, rows] + (x, y)
        place = places[np.argmin(np.hypot(*(places - np.median(places, axis=0)).T))]
        near = places[np.hypot(*(places - place).T) < LINE_LONG]
        found.append([*place, *np.linalg.svd(near - near.mean(axis=0), full_matrices=False)[2][0]])
    return np.array(found, dtype=float).reshape(-1, 4)


def _stained(colours: np.ndarray, leather: np.ndarray, sample: np.ndarray, floor: np.ndarray) -> np.ndarray:
    """How far each colour lies from darker or lighter leather on the way to floor of that brightness: 0 to 1; NaN where leather and floor,
    of which there is a sample too, are too much alike to tell."""
    if not len(colours):
        return np.empty(0, np.float32)
    along, apart, _ = _by_hue(colours, leather, floor)
    floor_along, floor_apart, _ = _by_hue(sample[::8], np.median(leather, axis=0), floor)
    return np.where(apart > max(TELLING, VARIED * float(np.std(floor_along * floor_apart))), along, np.nan)


def _in_shade(colours: np.ndarray, leather: np.ndarray, floor: np.ndarray) -> np.ndarray:
    """Whether each colour is that of darker floor, and clearly not of darker leather; brighter than leather it may be dirt."""
    along, apart, aside = _by_hue(colours, leather, floor)
    like = (along > SHADED_ALONG[0]) & (along < SHADED_ALONG[1]) & (aside < SHADED_ASIDE * apart)
    return like & (apart > SHADED_APART) & (colours[:, 0] < np.minimum(floor[0], leather[:, 0]))


def _by_hue(colours: np.ndarray, leather: np.ndarray, floor: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """How far each colour, (n, 3), lies from leather, (n, 3), on the way to floor, (3,), both made as bright as it; how long that way is in
    a* and b*; and how far aside of it the colour lies.

    Darker or lighter, a colour keeps the ratio of its a* and b* to L*, roughly.
    """
    bright = colours[..., :1]
    shaded = leather[..., 1:] * bright / np.maximum(leather[..., :1], 5)
    apart = floor[1:] * bright / max(floor[0], 5) - shaded
    square = np.maximum((apart**2).sum(axis=-1), 1e-6)
    away = colours[..., 1:] - shaded
    along = (away * apart).sum(axis=-1) / square
    return along, np.sqrt(square), np.sqrt(np.maximum((away**2).sum(axis=-1) - along**2 * square, 0))


def _grain(bright: np.ndarray, floor: np.ndarray) -> np.ndarray | None:
    """Brightness in units of how much it varies over a few pixels where the floor is smoothest; None if all of it is smooth."""
    import cv2

    rough = cv2.blur(bright * bright, (7, 7)) - cv2.blur(bright, (7, 7)) ** 2
    smoothest, usual = (
        np.sqrt(np.maximum(np.quantile(rough[floor], (SMOOTHEST, 0.5)), 1e-6)) if floor.any() else (0.0, 0.0)
    )
    return bright / smoothest if usual > ROUGH else None
