"""Put a rough region right: holes and narrow bays where the floor shows, points of leather that were missed."""

from __future__ import annotations

import numpy as np

from .arrays import Floats, Mask, Picture
from .colours import Colours, disc, even_light, grown, lab, nearest
from .limits import METHOD

MEND = METHOD.mend


def mended(
    picture: Picture, leather: Mask, usable: Mask, reach: float, smallest: float
) -> tuple[Mask, Mask, Mask, Mask, Floats]:
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
    perhaps : (h, w) bool
        Spots that were taken for marks and are nearly of the floor's colour.
    unlike : (h, w) float32
        Squared distance of each pixel from the leather near by, in variances.
    """
    import cv2

    colours: Floats = lab(even_light(picture, usable & ~leather))
    colours = cv2.GaussianBlur(colours, (0, 0), MEND.smooth_pixels)
    middle, spread = _leather_near(colours, leather & usable)
    unlike = ((colours - middle) ** 2 / spread).sum(axis=-1)
    # A point of leather that the region missed must not pass for floor.
    clear = usable & ~grown(leather, MEND.clear_times * reach) & (unlike > MEND.unlike)
    leather_like = max(MEND.unlike, MEND.mixed_share * float(np.median(unlike[clear]))) if clear.any() else MEND.unlike
    clear &= unlike > leather_like
    sample = colours[::2, ::2][clear[::2, ::2]]
    if len(sample) < MEND.fewest_floor:
        none = np.zeros_like(leather)
        return leather, none, none, none, unlike
    floor = Colours(sample)
    spots = leather & usable & (unlike > MEND.unlike)
    strange = np.full(leather.shape, np.inf, np.float32)
    strange[spots] = floor.distances(colours[spots]).min(axis=-1)
    usual = np.median(sample, axis=0)
    shaded = spots & (unlike > MEND.shaded_unlike) & ~grown(~leather, MEND.clear_times * reach)
    shaded[shaded] = _in_shade(colours[shaded], middle[shaded], usual)
    spots &= shaded | (strange < np.maximum(np.minimum(MEND.floor_like, unlike), MEND.mixed_share * unlike))
    points = ~leather & usable & (unlike < leather_like) & grown(leather, MEND.point_times * reach)
    points[points] = floor.distances(colours[points]).min(axis=-1) > MEND.unlike
    spots = cv2.morphologyEx(spots.astype(np.uint8), cv2.MORPH_CLOSE, disc(1))
    stained = np.full(leather.shape, np.nan, np.float32)
    stained[spots > 0] = _stained(colours[spots > 0], middle[spots > 0], sample, usual)
    grain = _grain(colours[..., 0], clear)
    keep, unsure, perhaps = _floor_at_heart(spots, strange, unlike, stained, shaded, grain, smallest)
    perhaps |= _filled(strange < MEND.perhaps_share * unlike, leather & usable & (unlike > MEND.filled_unlike))
    spots = grown(keep, 1)
    points = cv2.morphologyEx((points | leather).astype(np.uint8), cv2.MORPH_CLOSE, disc(1)) > 0
    whole = (points | leather) & ~spots
    return whole, spots, unsure, perhaps & whole, unlike


def _leather_near(colours: Floats, leather: Mask) -> tuple[Floats, Floats]:
    """Median colour of the leather near each pixel, which holes do not sway, and the variance of pixels about it."""
    import cv2

    size = tuple(max(1, side // MEND.leather_step) for side in leather.shape[::-1])
    few = cv2.resize(colours, size, interpolation=cv2.INTER_AREA)
    few = np.clip(few + (0, 128, 128), 0, 255).astype(np.uint8)
    share = cv2.resize(leather.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    sure: Mask = share > MEND.sure_share
    if not sure.any():
        sure = share > MEND.half_share
    few = cv2.medianBlur(nearest(few, sure), MEND.leather_window).astype(np.float32) - np.array(
        [0, 128, 128], np.float32
    )
    middle = cv2.resize(few, leather.shape[::-1], interpolation=cv2.INTER_LINEAR)
    away = np.abs(colours[::4, ::4] - middle[::4, ::4])[leather[::4, ::4]]
    spread = (1.4826 * np.median(away, axis=0)) ** 2 if len(away) else np.ones(3)
    return middle, (spread + 1.0).astype(np.float32)


def _floor_at_heart(
    spots: Picture,
    strange: Floats,
    unlike: Floats,
    stained: Floats,
    shaded: Mask,
    grain: Floats | None,
    smallest: float,
) -> tuple[Mask, Mask, Mask]:
    """The spots that are large enough and, away from their rim, of the floor's own colour, or that in shade, and grain;
    those of them that may have the colour of stained leather as well and have no grain to tell, and others that are
    nearly of the floor's colour.

    In a small hole JPEG mixes the colour of the leather with that of the floor, and in a large one light may fall
    otherwise than beside the hide, so it is enough to be near it.
    """
    import cv2

    # Half-covered pixels at the rim look like neither, so a hole shows smaller than it is.
    least = np.pi / 4 * max(smallest - MEND.rim_pixels, MEND.least_spot_pixels) ** 2
    depth = cv2.distanceTransform(spots, cv2.DIST_L2, 3)
    _, labels, facts, _ = cv2.connectedComponentsWithStats(spots, connectivity=4)
    keep, unsure, perhaps = np.zeros((3, len(facts)), bool)
    for label, (x, y, width, height, area) in enumerate(facts[1:], start=1):
        if area < least:
            continue
        cut = np.s_[y : y + height, x : x + width]
        inner = np.where(labels[cut] == label, depth[cut], 0)
        heart = inner >= MEND.heart_share * inner.max()
        floor, other = np.median(strange[cut][heart]), np.median(unlike[cut][heart])
        # whatever hue and grain say of it: no part may lie on a hole
        perhaps[label] = floor < max(MEND.floor_like, MEND.perhaps_share * other)
        enclosed = x > 0 and y > 0 and x + width < spots.shape[1] and y + height < spots.shape[0]
        untold = np.isnan(stained[cut][heart])
        way = np.median(np.where(untold, 1, stained[cut][heart]))
        if enclosed and way < MEND.stained_way:
            continue
        wide = inner >= max(MEND.grain_depth_pixels, MEND.grain_share * inner.max())
        rough = np.std(grain[cut][wide]) if grain is not None and wide.sum() > MEND.fewest_grain else MEND.smooth_grain
        if rough < MEND.smooth_grain:
            continue
        keep[label] = (
            floor < MEND.floor_like or floor < MEND.close_share * other or shaded[cut][heart].mean() > MEND.shaded_share
        )
        doubtful = untold.mean() > 0.5 or (area > MEND.large_pixels and (way < MEND.surely_way or floor > MEND.unusual))
        unsure[label] = keep[label] and enclosed and rough < MEND.sure_grain and doubtful
    return keep[labels], unsure[labels], (perhaps & ~keep)[labels]


def _filled(near_floor: Mask, unlike: Mask) -> Mask:
    """Spots so small that blur all but fills them, by pixels in them that are nearly of the floor's colour, and what is
    unlike leather around these."""
    import cv2

    broad = cv2.morphologyEx(unlike.astype(np.uint8), cv2.MORPH_OPEN, disc(MEND.filled_pixels)) > 0
    small: Mask = grown(near_floor & ~grown(broad, MEND.filled_pixels), MEND.filled_pixels) & unlike
    return small


def thin_places(unlike: Floats, leather: Mask) -> Floats:
    """Places (column, row) in thin lines that are unlike leather, in variances, within a region, and their directions:
    (n, 4)."""
    import cv2

    deep = cv2.distanceTransform(leather.astype(np.uint8), cv2.DIST_L2, 3) > MEND.line_deep_pixels
    lines = (deep & (unlike > MEND.line_unlike)).astype(np.uint8)
    lines &= ~cv2.dilate(
        cv2.morphologyEx(lines, cv2.MORPH_OPEN, disc(MEND.line_wide_pixels // 2)), disc(MEND.line_wide_pixels // 2)
    )
    _, labels, facts, _ = cv2.connectedComponentsWithStats(lines, connectivity=8)
    long = np.hypot(facts[:, 2], facts[:, 3])
    found = []
    for label in np.argsort(-long)[: MEND.most_lines + 1]:
        x, y, width, height, area = facts[label]
        if label == 0 or long[label] < MEND.line_long_pixels or area > MEND.line_wide_pixels * long[label]:
            continue
        rows, columns = np.nonzero(labels[y : y + height, x : x + width] == label)
        places = np.c_[columns, rows] + (x, y)
        place = places[np.argmin(np.hypot(*(places - np.median(places, axis=0)).T))]
        near = places[np.hypot(*(places - place).T) < MEND.line_long_pixels]
        found.append([*place, *np.linalg.svd(near - near.mean(axis=0), full_matrices=False)[2][0]])
    return np.array(found, dtype=float).reshape(-1, 4)


def _stained(colours: Floats, leather: Floats, sample: Floats, floor: Floats) -> Floats:
    """How far each colour lies from darker or lighter leather on the way to floor of that brightness: 0 to 1; NaN where
    leather and floor, of which there is a sample too, are too much alike to tell."""
    if not len(colours):
        return np.empty(0, np.float32)
    along, apart, _ = _by_hue(colours, leather, floor)
    floor_along, floor_apart, _ = _by_hue(sample[::8], np.median(leather, axis=0), floor)
    return np.where(
        apart > max(MEND.telling, MEND.varied_times * float(np.std(floor_along * floor_apart))), along, np.nan
    )


def _in_shade(colours: Floats, leather: Floats, floor: Floats) -> Mask:
    """Whether each colour is that of darker floor, and clearly not of darker leather; brighter than leather it may be
    dirt."""
    along, apart, aside = _by_hue(colours, leather, floor)
    like = (along > MEND.shaded_from) & (along < MEND.shaded_to) & (aside < MEND.shaded_aside * apart)
    shaded: Mask = like & (apart > MEND.shaded_apart) & (colours[:, 0] < np.minimum(floor[0], leather[:, 0]))
    return shaded


def _by_hue(colours: Floats, leather: Floats, floor: Floats) -> tuple[Floats, Floats, Floats]:
    """How far each colour, (n, 3), lies from leather, (n, 3), on the way to floor, (3,), both made as bright as it; how
    long that way is in a* and b*; and how far aside of it the colour lies.

    Darker or lighter, a colour keeps the ratio of its a* and b* to L*, roughly.
    """
    bright = colours[..., :1]
    shaded = leather[..., 1:] * bright / np.maximum(leather[..., :1], MEND.least_bright)
    apart = floor[1:] * bright / max(floor[0], MEND.least_bright) - shaded
    square = np.maximum((apart**2).sum(axis=-1), 1e-6)
    away = colours[..., 1:] - shaded
    along = (away * apart).sum(axis=-1) / square
    return along, np.sqrt(square), np.sqrt(np.maximum((away**2).sum(axis=-1) - along**2 * square, 0))


def _grain(bright: Floats, floor: Mask) -> Floats | None:
    """Brightness in units of how much it varies over a few pixels where the floor is smoothest; None if all of it is
    smooth."""
    import cv2

    window = (MEND.rough_window, MEND.rough_window)
    rough: Floats = cv2.blur(bright * bright, window) - cv2.blur(bright, window) ** 2
    smoothest, usual = (
        np.sqrt(np.maximum(np.quantile(rough[floor], (MEND.smoothest_share, 0.5)), 1e-6)) if floor.any() else (0.0, 0.0)
    )
    return bright / smoothest if usual > MEND.rough else None
