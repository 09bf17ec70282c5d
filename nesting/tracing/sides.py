"""Learn the colours of leather and floor near each place along an edge, and tell them apart, whatever shadow falls there."""

from __future__ import annotations

import numpy as np

from .colours import from_black, half_light, lab

WINDOW, STEP, MERGED = 26.0, 4, 2
"""Standard deviation, in pixels, of the window in which leather and floor are learnt; one pixel in so many each way is
looked at, and so many of these each way become one before the window is laid over them, which changes little and is fast."""
FAINTEST = 1e-6
"""Share of the window that all that is known of a side counts for, where little of it is near."""
TOWARDS_LIGHT, MIDDLES = 0.5, (0.43, 0.75)
"""How far from the middle of two colours to the colour of half the light of each the edge is sought, and within which shares of the
way from floor to leather: further towards the floor, shadows and seams would pass for dark leather (measured)."""
SHADED, STRIP, CELL, DIFFER = 0.1, 4.0, 4, 0.15
"""Standard deviation, as a share, of what light and shadow do to the colour of a floor; that in pixels of a window, of cells of so many
each way, in which it is seen whether they do; and how far there the judgements with and without them must lie apart: floor is told
from leather by hue then, which JPEG stores at half the sharpness (measured on rendered photos)."""
HUE_ASTRAY = 1.4
"""Standard deviation of what JPEG leaves of a* and b* beside an edge, where it blurs and rounds hue; the flat of leather and floor does
not show it, and where hue was trusted as it is there, thin hairs of leather were lost (measured on rendered photos)."""
SHADE, LEAST_BRIGHT = 0.5, 25.0
"""Share of the L* of leather by which a shadow in it is as unlike leather as floor is; leather darker than this L* shows it less."""


class Sides:
    """Colours of leather and floor near each place, learnt from one pixel in ``step`` each way, and how to tell them apart.

    For every ``MERGED`` of these pixels each way ``ways`` holds the weights of L*, a* and b* and the offset that give the share of
    the way from floor to leather, ``steady`` the same where light and shadow shall count for little, ``facts`` the contrast, that
    share for a pixel half covered, and L* of the leather. ``hue_astray`` is how far a* and b* err beside an edge: hardly at all in a
    photo made half as large, which has as much of hue as of brightness.
    """

    def __init__(
        self, picture: np.ndarray, leather: np.ndarray, usable: np.ndarray, deep: float, window: float = WINDOW, step: int = STEP,
        hue_astray: float = HUE_ASTRAY,
    ):  # fmt: skip
        import cv2

        self.step = step
        few = tuple(slice(None, side // (MERGED * step) * MERGED * step, step) for side in leather.shape)
        colours = lab(np.ascontiguousarray(picture[few]))
        inner, open_ground = leather[few].astype(np.uint8), usable[few]
        means, spreads, weights = [], [], []
        for side in (inner, 1 - inner):
            depth = cv2.distanceTransform(side, cv2.DIST_L2, 3)
            sure = (depth > deep / step + 0.5) & (depth < 4 * window / step) & open_ground
            mean, spread, weight = _local(colours, sure, window / step)
            means.append(mean), spreads.append(spread), weights.append(weight)
        pooled = (spreads[0] + spreads[1]) / 2
        usual = pooled[(weights[0] > 0.1) & (weights[1] > 0.1)]
        usual = usual.mean(axis=0) if len(usual) else np.eye(3, dtype=np.float32)
        spread = 0.8 * pooled + 0.2 * usual + 0.5 * np.eye(3, dtype=np.float32)
        ray = SHADED * from_black(means[1])
        self.steady = _ways(spread + ray[..., :, None] * ray[..., None, :], *means)
        self.ways = _ways(spread + np.diag(np.square([0, hue_astray, hue_astray])).astype(np.float32), *means)
        slope = self.ways[..., :3]
        contrast = np.einsum("...i,...i", slope, means[0] - means[1])
        contrast /= np.sqrt(np.maximum(np.einsum("...i,...ij,...j", slope, spread, slope), 1e-9))
        middle = along(self.ways, half_light(*means))
        middle = np.clip(0.5 + TOWARDS_LIGHT * (middle - 0.5), *MIDDLES)
        self.facts = np.dstack([contrast, middle, means[0][..., 0]]).astype(np.float32)

    def at(self, places: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """At (n, 2) places (column, row): the weights of the colours and the offset, (n, 4); the contrast, the middle and L* of
        the leather, (n,)."""
        within = self._within(places)
        return _sampled(self.ways, within), *_sampled(self.facts, within).T

    def _within(self, places: np.ndarray) -> np.ndarray:
        """Places in the maps of pixels of the picture."""
        return (np.asarray(places, dtype=np.float32) / self.step - (MERGED - 1) / 2) / MERGED

    def judged(self, picture: np.ndarray, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, ...]:
        """Of n pixels: their ways, (n, 4), steady where shadow or light falls; how far each pixel is on its way, and on the plain one,
        from floor (0) to leather (1); the contrast and the middle, (n,)."""
        places = np.c_[columns, rows]
        ways, contrast, middle, _ = self.at(places)
        colours = lab_of(picture[rows, columns])
        plain = along(ways, colours)
        share = _in_shadow(
            plain, along(_sampled(self.steady, self._within(places)), colours), rows, columns, picture.shape[:2]
        )
        some = np.flatnonzero(share)
        if len(some):
            ways[some] += share[some, None] * (_sampled(self.steady, self._within(places[some])) - ways[some])
        return ways, along(ways, colours), plain, contrast, middle

    def unlike(self, picture: np.ndarray, places: np.ndarray) -> np.ndarray:
        """How unlike leather the picture is at (..., 2) places: 1 as much as the floor, or as a shadow is, and about 0 on leather."""
        flat = np.asarray(places, dtype=np.float32).reshape(-1, 2)
        colours = lab_of(_sampled(picture, flat))
        ways, _, middle, bright = self.at(flat)
        floor = 1 - covered(along(ways, colours), middle)
        shadow = (bright - colours[:, 0]) / (SHADE * np.maximum(bright, LEAST_BRIGHT))
        return np.clip(np.maximum(floor, shadow), -0.5, 1.25).reshape(places.shape[:-1])


def _sampled(picture: np.ndarray, places: np.ndarray) -> np.ndarray:
    """The picture at (n, 2) places (column, row), (n, channels); (n,) if it has but one."""
    import cv2

    x, y = np.ascontiguousarray(places.T[..., None])
    rows = 30_000  # OpenCV takes less than 2^15
    parts = (np.s_[at : at + rows] for at in range(0, len(places), rows))
    return np.concatenate(
        [
            cv2.remap(picture, x[part], y[part], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[:, 0]
            for part in parts
        ]
    )


def _local(colours: np.ndarray, where: np.ndarray, sigma: float):
    """Mean and covariance of the colours ``where``, near each ``MERGED`` pixels each way, and the share of the window that had any."""
    import cv2

    mask = where.astype(np.float32)
    planes = [mask, *(colours[..., one] * mask for one in range(3))]
    planes += [planes[1 + a] * colours[..., b] for a, b in _PAIRS]
    merged = cv2.resize(cv2.merge(planes), None, fx=1 / MERGED, fy=1 / MERGED, interpolation=cv2.INTER_AREA)
    size, sigma = merged.shape[1::-1], sigma / MERGED
    near = cv2.GaussianBlur(merged, (0, 0), sigma)
    # A wide, faint second window reaches where the first finds nothing.
    small = tuple(max(1, side // 4) for side in size)
    wide = cv2.merge([cv2.resize(plane, small, interpolation=cv2.INTER_AREA) for plane in cv2.split(merged)])
    near += 0.01 * cv2.resize(cv2.GaussianBlur(wide, (0, 0), sigma), size, interpolation=cv2.INTER_LINEAR)
    # further away still, as in a hole too small to learn from far from the outer edge, all there is must do
    near += FAINTEST * merged.mean(axis=(0, 1)) / max(float(merged[..., 0].mean()), 1e-6)
    weight = np.maximum(near[..., :1], 1e-9)
    mean = near[..., 1:4] / weight
    spread = np.empty((*weight.shape[:2], 3, 3), np.float32)
    for (a, b), square in zip(_PAIRS, np.moveaxis(near[..., 4:] / weight, -1, 0)):
        spread[..., a, b] = spread[..., b, a] = square - mean[..., a] * mean[..., b]
    return mean, spread, near[..., 0]


_PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


def _solved(spread: np.ndarray, apart: np.ndarray) -> np.ndarray:
    """``spread``^-1 ``apart`` for many symmetric 3 x 3 matrices, by Cramer's rule (five times faster than numpy's solver)."""
    (a, b, c), (_, d, e), (_, _, f) = (np.moveaxis(spread[..., row, :], -1, 0) for row in range(3))
    aa, bb, cc, dd, ee, ff = d * f - e * e, c * e - b * f, b * e - c * d, a * f - c * c, b * c - a * e, a * d - b * b
    x, y, z = np.moveaxis(apart, -1, 0)
    scaled = np.stack([aa * x + bb * y + cc * z, bb * x + dd * y + ee * z, cc * x + ee * y + ff * z], axis=-1)
    return scaled / (a * aa + b * bb + c * cc)[..., None]


def _ways(spread: np.ndarray, leather: np.ndarray, floor: np.ndarray) -> np.ndarray:
    """The weights of the colours, and the offset, that give 0 on the floor and 1 on the leather."""
    apart = leather - floor
    turn = _solved(spread, apart)
    square = np.maximum(np.einsum("...i,...i", turn, apart), 1e-3)
    slope = turn / square[..., None]
    return np.dstack([slope, -np.einsum("...i,...i", floor, slope)]).astype(np.float32)


def lab_of(pixels: np.ndarray) -> np.ndarray:
    """L*a*b* of (n, 3) pixels."""
    return lab(pixels[:, None])[:, 0] if len(pixels) else np.zeros((0, 3), np.float32)


def along(ways: np.ndarray, colours: np.ndarray) -> np.ndarray:
    """How far colours, (..., 3), are on ways, (..., 4), from floor (0) to leather (1)."""
    return np.einsum("...i,...i", colours, ways[..., :3]) + ways[..., 3]


def _in_shadow(
    plain: np.ndarray, steady: np.ndarray, rows: np.ndarray, columns: np.ndarray, shape: tuple[int, int]
) -> np.ndarray:
    """By which share each of some pixels is to be judged steadily, since the two judgements of it, (n,) each, and of its neighbours
    differ as where shadow or light falls: (n,)."""
    import cv2

    high, wide = (-(-side // CELL) for side in shape)
    cell = rows // CELL * wide + columns // CELL
    differ = np.clip(plain, 0, 1) - np.clip(steady, 0, 1)
    sums = (
        np.bincount(cell, weights, high * wide).reshape(high, wide).astype(np.float32) for weights in (differ, None)
    )
    differ, seen = (cv2.GaussianBlur(part, (0, 0), STRIP / CELL) for part in sums)
    share = np.clip(np.abs(differ) / np.maximum(seen, 1e-3) / DIFFER - 1, 0, 1)
    return _sampled(share, (np.c_[columns, rows].astype(np.float32) - (CELL - 1) / 2) / CELL)


def covered(way: np.ndarray, middle: np.ndarray) -> np.ndarray:
    """Share of a pixel covered, from how far its colour is on the way from floor to leather: 1/2 at the middle, 0 and 1 at the
    ends, and beyond them in proportion."""
    within = np.clip(way, 0, 1)
    beyond = way - within
    return within * (1 - middle) / (within * (1 - 2 * middle) + middle) + beyond * np.where(
        way < 0, (1 - middle) / middle, middle / (1 - middle)
    )
