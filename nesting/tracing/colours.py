"""Colours of pixels: evened light, CIE Lab, normal distributions of colours, and masks."""

from __future__ import annotations

from typing import TypeVar

import numpy as np

from .arrays import Floats, Mask, Picture
from .limits import METHOD

COLOURS = METHOD.colours

_Shown = TypeVar("_Shown", Picture, Floats)


def even_light(picture: Picture, floor: Mask) -> Picture:
    """The picture divided by the light on it, a quadratic in x and y fitted to the floor's log brightness."""
    import cv2

    step = max(1, max(floor.shape) // COLOURS.light_pixels)
    few = floor[::step, ::step]
    y, x = (np.linspace(-1, 1, side, dtype=np.float32) for side in few.shape)
    rows, columns = np.nonzero(few)
    if len(rows) < COLOURS.fewest_pixels:
        return picture
    bright = np.log(picture[::step, ::step].astype(np.float32).mean(axis=2) + COLOURS.dark_levels)[rows, columns]
    terms = np.stack([np.ones_like(bright), *_terms(x[columns], y[rows])], axis=-1)
    weight = np.ones(len(bright))
    for _ in range(COLOURS.light_rounds):
        fit = np.linalg.lstsq(terms * weight[:, None], bright * weight, rcond=None)[0]
        away = np.abs(bright - terms @ fit)
        weight = np.sqrt(1 / (1 + (away / (COLOURS.outlying_times * np.median(away) + 1e-3)) ** 2))
    light = sum(np.float32(share) * term for share, term in zip(fit[1:], _terms(x[None, :], y[:, None])))
    gain = np.exp(-np.clip(light, -COLOURS.most_light, COLOURS.most_light))
    gain = cv2.resize(gain, floor.shape[::-1], interpolation=cv2.INTER_LINEAR)
    evened: Picture = cv2.multiply(picture, cv2.merge([gain] * 3), dtype=cv2.CV_8U)
    return evened


def lab(picture: Picture | Floats) -> Floats:
    """CIE L*a*b* as float32, about equal steps to the eye."""
    import cv2

    colours: Floats = cv2.cvtColor(picture.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    return colours


def half_light(one: Floats, other: Floats) -> Floats:
    """CIE L*a*b* of half the light of each of two colours (L*a*b*, (h, w, 3) float32)."""
    import cv2

    light = sum(
        np.maximum(cv2.cvtColor(np.ascontiguousarray(colour, np.float32), cv2.COLOR_LAB2LRGB), 0)
        for colour in (one, other)
    )
    half: Floats = cv2.cvtColor(light / 2, cv2.COLOR_LRGB2LAB)
    return half


def from_black(colours: Floats) -> Floats:
    """Colours, (..., n), L* first, as they grow with the cube root of the light: of a*, b* and what is measured in L*
    it is in proportion, L* is 16 short of it."""
    grown: Floats = colours + np.float32(16) * (np.arange(colours.shape[-1]) == 0)
    return grown


class Colours:
    """A few normal distributions that describe a sample of colours (k-means, then a covariance each).

    Parameters
    ----------
    sample : (n, m) array
    count : int
        At most so many distributions.
    least_share : float
        Colours rarer than this share of the sample are left out.
    shading : float
        Standard deviation, as a share, by which light and shadow may scale a colour (L* first) and its roughness.
    """

    def __init__(
        self,
        sample: Floats,
        count: int = COLOURS.distributions,
        least_share: float = 0.0,
        shading: float = 0.0,
    ):
        import cv2

        chance = np.random.default_rng(0)
        sample = sample[chance.permutation(len(sample))[: COLOURS.most_sample]].astype(np.float32)
        count = max(1, min(count, len(sample) // COLOURS.fewest_each))
        cv2.setRNGSeed(1)
        stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, COLOURS.rounds, COLOURS.settled)
        _, labels, means = cv2.kmeans(sample, count, None, stop, 2, cv2.KMEANS_PP_CENTERS)
        self.means: list[Floats] = []
        self.whiten: list[Floats] = []
        self.rarity: list[float] = []
        for label in range(count):
            members = sample[labels.ravel() == label]
            share = len(members) / len(sample)
            if share < max(least_share, 1e-6):
                continue
            spread = np.cov(members.T) if len(members) > sample.shape[1] + 1 else np.zeros((sample.shape[1],) * 2)
            ray = shading * from_black(means[label])
            spread = spread + COLOURS.least_spread**2 * np.eye(len(spread)) + np.outer(ray, ray)
            self.means.append(means[label])
            self.whiten.append(np.linalg.cholesky(np.linalg.inv(spread)).astype(np.float32))
            self.rarity.append(np.linalg.slogdet(spread)[1] - 2 * np.log(share))

    def distances(self, features: Floats) -> Floats:
        """Squared Mahalanobis distance to each distribution, (..., count)."""
        import cv2

        flat = np.ascontiguousarray(features, dtype=np.float32).reshape(-1, 1, features.shape[-1])
        result = np.empty((len(self.means), len(flat)), np.float32)
        for row, mean, root in zip(result, self.means, self.whiten):
            if len(flat):
                away = cv2.transform(flat, np.c_[root.T, -mean @ root]).reshape(len(flat), -1)
                np.einsum("ij,ij->i", away, away, out=row)
        return np.moveaxis(result.reshape(len(self.means), *features.shape[:-1]), 0, -1)

    def surprise(self, features: Floats) -> Floats:
        """Minus twice the log likelihood under the likeliest distribution, but for a constant."""
        least: Floats = (self.distances(features) + np.array(self.rarity, np.float32)).min(axis=-1)
        return least


def nearest(picture: _Shown, known: Mask) -> _Shown:
    """The picture with every pixel that is not ``known`` painted like the nearest that is."""
    import cv2

    unknown = (~known).astype(np.uint8)
    _, labels = cv2.distanceTransformWithLabels(unknown, cv2.DIST_L2, 3, labelType=cv2.DIST_LABEL_PIXEL)
    colours = np.zeros((labels.max() + 1, picture.shape[2]), picture.dtype)
    colours[labels[known]] = picture[known]
    painted: _Shown = np.where(known[..., None], picture, colours[labels])
    return painted


def grown(mask: Mask, radius: float) -> Mask:
    """The mask widened by ``radius`` pixels."""
    import cv2

    wide: Mask = cv2.dilate(mask.astype(np.uint8), disc(round(radius))) > 0
    return wide


def disc(radius: int) -> Picture:
    """A round structuring element."""
    import cv2

    element: Picture = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))
    return element


def _terms(x: Floats, y: Floats) -> tuple[Floats, ...]:
    return x, y, x * y, x * x, y * y
