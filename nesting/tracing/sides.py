"""Learn the colours of leather and floor near each place along an edge, and tell them apart, whatever shadow falls
there."""

from __future__ import annotations

import numpy as np

from .arrays import Floats, Mask, Picture, Whole
from .colours import from_black, half_light, lab
from .limits import METHOD

SIDES = METHOD.sides


class Sides:
    """Colours of leather and floor near each place, learnt from one pixel in ``step`` each way, and how to tell them
    apart.

    For every ``SIDES.merged`` of these pixels each way ``ways`` holds the weights of L*, a* and b* and the offset that
    give the share of the way from floor to leather, ``steady`` the same where light and shadow shall count for little,
    ``facts`` the contrast, that share for a pixel half covered, and L* of the leather. ``hue_astray`` is how far a* and
    b* err beside an edge: hardly at all in a photo made half as large, which has as much of hue as of brightness.
    """

    def __init__(
        self,
        picture: Picture,
        leather: Mask,
        usable: Mask,
        deep: float,
        window: float = SIDES.window_pixels,
        step: int = SIDES.step,
        hue_astray: float = SIDES.hue_astray,
    ):
        import cv2

        self.step = step
        few = tuple(slice(None, side // (SIDES.merged * step) * SIDES.merged * step, step) for side in leather.shape)
        colours = lab(np.ascontiguousarray(picture[few]))
        inner, open_ground = leather[few].astype(np.uint8), usable[few]
        means: list[Floats] = []
        spreads: list[Floats] = []
        weights: list[Floats] = []
        for side in (inner, 1 - inner):
            depth = cv2.distanceTransform(side, cv2.DIST_L2, 3)
            sure = (depth > deep / step + 0.5) & (depth < SIDES.deepest_windows * window / step) & open_ground
            mean, spread, weight = _local(colours, sure, window / step)
            means.append(mean)
            spreads.append(spread)
            weights.append(weight)
        pooled = (spreads[0] + spreads[1]) / 2
        usual = pooled[(weights[0] > SIDES.known_share) & (weights[1] > SIDES.known_share)]
        usual = usual.mean(axis=0) if len(usual) else np.eye(3, dtype=np.float32)
        spread = SIDES.own_share * pooled + SIDES.usual_share * usual
        spread += SIDES.least_variance * np.eye(3, dtype=np.float32)
        ray = SIDES.shaded_share * from_black(means[1])
        self.steady = _ways(spread + ray[..., :, None] * ray[..., None, :], means[0], means[1])
        self.ways = _ways(
            spread + np.diag(np.square([0, hue_astray, hue_astray])).astype(np.float32), means[0], means[1]
        )
        slope = self.ways[..., :3]
        contrast = np.einsum("...i,...i", slope, means[0] - means[1])
        contrast /= np.sqrt(np.maximum(np.einsum("...i,...ij,...j", slope, spread, slope), 1e-9))
        middle = along(self.ways, half_light(means[0], means[1]))
        middle = np.clip(0.5 + SIDES.towards_light * (middle - 0.5), SIDES.least_middle, SIDES.most_middle)
        self.facts = np.dstack([contrast, middle, means[0][..., 0]]).astype(np.float32)

    def at(self, places: Floats | Whole) -> tuple[Floats, Floats, Floats, Floats]:
        """At (n, 2) places (column, row): the weights of the colours and the offset, (n, 4); the contrast, the middle
        and L* of the leather, (n,)."""
        within = self._within(places)
        contrast, middle, bright = _sampled(self.facts, within).T
        return _sampled(self.ways, within), contrast, middle, bright

    def _within(self, places: Floats | Whole) -> Floats:
        """Places in the maps of pixels of the picture."""
        return (np.asarray(places, dtype=np.float32) / self.step - (SIDES.merged - 1) / 2) / SIDES.merged

    def judged(self, picture: Picture, rows: Whole, columns: Whole) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Of n pixels: their ways, (n, 4), steady where shadow or light falls; how far each pixel is on its way, and on
        the plain one, from floor (0) to leather (1); the contrast and the middle, (n,)."""
        places = np.c_[columns, rows]
        ways, contrast, middle, _ = self.at(places)
        colours = lab_of(picture[rows, columns])
        plain = along(ways, colours)
        steady = along(_sampled(self.steady, self._within(places)), colours)
        share = _in_shadow(plain, steady, rows, columns, picture.shape[:2])
        some = np.flatnonzero(share)
        if len(some):
            ways[some] += share[some, None] * (_sampled(self.steady, self._within(places[some])) - ways[some])
        return ways, along(ways, colours), plain, contrast, middle

    def unlike(self, picture: Picture, places: Floats) -> Floats:
        """How unlike leather the picture is at (..., 2) places: 1 as much as the floor, or as a shadow is, and about 0
        on leather."""
        flat = np.asarray(places, dtype=np.float32).reshape(-1, 2)
        colours = lab_of(_sampled(picture, flat))
        ways, _, middle, bright = self.at(flat)
        floor = 1 - covered(along(ways, colours), middle)
        shadow = (bright - colours[:, 0]) / (SIDES.shade_share * np.maximum(bright, SIDES.least_bright))
        unlike: Floats = np.clip(np.maximum(floor, shadow), -0.5, 1.25)
        return unlike.reshape(places.shape[:-1])


def _sampled(picture: Floats | Picture, places: Floats) -> Floats:
    """The picture at (n, 2) places (column, row), (n, channels); (n,) if it has but one."""
    import cv2

    x, y = np.ascontiguousarray(places.T[..., None])
    rows = 30_000  # OpenCV takes less than 2^15
    runs = (np.s_[at : at + rows] for at in range(0, len(places), rows))
    return np.concatenate(
        [cv2.remap(picture, x[run], y[run], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[:, 0] for run in runs]
    )


def _local(colours: Floats, where: Mask, sigma: float) -> tuple[Floats, Floats, Floats]:
    """Mean and covariance of the colours ``where``, near each ``SIDES.merged`` pixels each way, and the share of the
    window that had any."""
    import cv2

    mask = where.astype(np.float32)
    planes = [mask, *(colours[..., one] * mask for one in range(3))]
    planes += [planes[1 + a] * colours[..., b] for a, b in _PAIRS]
    merged = cv2.resize(cv2.merge(planes), None, fx=1 / SIDES.merged, fy=1 / SIDES.merged, interpolation=cv2.INTER_AREA)
    size, sigma = merged.shape[1::-1], sigma / SIDES.merged
    near = cv2.GaussianBlur(merged, (0, 0), sigma)
    # A wide, faint second window reaches where the first finds nothing.
    small = tuple(max(1, side // 4) for side in size)
    wide = cv2.merge([cv2.resize(plane, small, interpolation=cv2.INTER_AREA) for plane in cv2.split(merged)])
    near += SIDES.wide_share * cv2.resize(cv2.GaussianBlur(wide, (0, 0), sigma), size, interpolation=cv2.INTER_LINEAR)
    # further away still, as in a hole too small to learn from far from the outer edge, all there is must do
    near += SIDES.faintest_share * merged.mean(axis=(0, 1)) / max(float(merged[..., 0].mean()), 1e-6)
    weight = np.maximum(near[..., :1], 1e-9)
    mean = near[..., 1:4] / weight
    spread = np.empty((*weight.shape[:2], 3, 3), np.float32)
    for (a, b), square in zip(_PAIRS, np.moveaxis(near[..., 4:] / weight, -1, 0)):
        spread[..., a, b] = spread[..., b, a] = square - mean[..., a] * mean[..., b]
    return mean, spread, near[..., 0]


_PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


def _solved(spread: Floats, apart: Floats) -> Floats:
    """``spread``^-1 ``apart`` for many symmetric 3 x 3 matrices, by Cramer's rule (five times faster than numpy's
    solver)."""
    (a, b, c), (_, d, e), (_, _, f) = (np.moveaxis(spread[..., row, :], -1, 0) for row in range(3))
    aa, bb, cc, dd, ee, ff = d * f - e * e, c * e - b * f, b * e - c * d, a * f - c * c, b * c - a * e, a * d - b * b
    x, y, z = np.moveaxis(apart, -1, 0)
    scaled = np.stack([aa * x + bb * y + cc * z, bb * x + dd * y + ee * z, cc * x + ee * y + ff * z], axis=-1)
    solved: Floats = scaled / (a * aa + b * bb + c * cc)[..., None]
    return solved


def _ways(spread: Floats, leather: Floats, floor: Floats) -> Floats:
    """The weights of the colours, and the offset, that give 0 on the floor and 1 on the leather."""
    apart = leather - floor
    turn = _solved(spread, apart)
    square = np.maximum(np.einsum("...i,...i", turn, apart), 1e-3)
    slope = turn / square[..., None]
    return np.dstack([slope, -np.einsum("...i,...i", floor, slope)]).astype(np.float32)


def lab_of(pixels: Floats | Picture) -> Floats:
    """L*a*b* of (n, 3) pixels."""
    return lab(pixels[:, None])[:, 0] if len(pixels) else np.zeros((0, 3), np.float32)


def along(ways: Floats, colours: Floats) -> Floats:
    """How far colours, (..., 3), are on ways, (..., 4), from floor (0) to leather (1)."""
    way: Floats = np.einsum("...i,...i", colours, ways[..., :3]) + ways[..., 3]
    return way


def _in_shadow(plain: Floats, steady: Floats, rows: Whole, columns: Whole, shape: tuple[int, ...]) -> Floats:
    """By which share each of some pixels is to be judged steadily, since the two judgements of it, (n,) each, and of
    its neighbours differ as where shadow or light falls: (n,)."""
    import cv2

    high, wide = (-(-side // SIDES.cell_pixels) for side in shape)
    cell = rows // SIDES.cell_pixels * wide + columns // SIDES.cell_pixels
    differ = np.clip(plain, 0, 1) - np.clip(steady, 0, 1)
    sums = (
        np.bincount(cell, weights, high * wide).reshape(high, wide).astype(np.float32) for weights in (differ, None)
    )
    differ, seen = (cv2.GaussianBlur(one, (0, 0), SIDES.strip_pixels / SIDES.cell_pixels) for one in sums)
    share = np.clip(np.abs(differ) / np.maximum(seen, 1e-3) / SIDES.differ - 1, 0, 1)
    return _sampled(share, (np.c_[columns, rows].astype(np.float32) - (SIDES.cell_pixels - 1) / 2) / SIDES.cell_pixels)


def covered(way: Floats, middle: Floats) -> Floats:
    """Share of a pixel covered, from how far its colour is on the way from floor to leather: 1/2 at the middle, 0 and 1
    at the ends, and beyond them in proportion."""
    within = np.clip(way, 0, 1)
    beyond = way - within
    return within * (1 - middle) / (within * (1 - 2 * middle) + middle) + beyond * np.where(
        way < 0, (1 - middle) / middle, middle / (1 - middle)
    )
