"""Floors and leather to lay under a camera: photographs that scikit-image carries, and synthetic ones."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np

FLOORS = ("concrete", "wood", "brick", "gravel", "grass", "plain", "tile", "carpet", "cloth")
LEATHERS = {
    "natural": (206, 164, 118), "cognac": (150, 84, 40), "brown": (88, 56, 36), "black": (38, 35, 34),
    "red": (138, 40, 36), "green": (52, 74, 52), "cream": (226, 210, 180), "grey": (120, 118, 116),
    "navy": (40, 48, 78), "tan": (184, 128, 76), "white": (232, 230, 224),
}  # fmt: skip
PHOTOGRAPHS = {"brick": (120, (1.12, 0.9, 0.8)), "gravel": (130, (1.02, 1.0, 0.97)), "grass": (110, (0.8, 1.08, 0.6))}


@lru_cache(maxsize=12)
def floor_tile(kind: str, seed: int = 7, contrast: float = 0.6, tinted: bool = True) -> np.ndarray:
    """A texture of 1 mm a texel that repeats, (n, n, 3) uint8.

    ``contrast`` and ``tinted`` say how much of the photographs' own contrast is kept and whether they are coloured.
    """
    chance = np.random.default_rng(seed)
    if kind in PHOTOGRAPHS:
        import skimage.data

        bright, tint = PHOTOGRAPHS[kind]
        grey = getattr(skimage.data, kind)().astype(np.float32)
        tile = ((grey - grey.mean()) * contrast + bright)[..., None] * np.array(tint if tinted else (1, 1, 1))
    else:
        tile = globals()[f"_{kind}"](chance)
    return np.clip(tile, 0, 255).astype(np.uint8)


def leather_skin(chance: np.random.Generator) -> np.ndarray:
    """Relative brightness of leather, about 1 mm a texel: slow clouds, pores and creases; (1024, 1024) about 1."""
    clouds = _clouds(chance, 60, chance.uniform(0.01, 0.05))
    grain = _clouds(chance, chance.uniform(0.7, 1.5), chance.uniform(0.01, 0.04))
    creases = np.minimum(_clouds(chance, 2, 1, 15) + 1.5, 0)
    return (1 + clouds + grain + 0.03 * creases).astype(np.float32)


def _clouds(chance, size_mm: float, spread: float, stretch: float = 1.0) -> np.ndarray:
    """Smooth noise that repeats at its borders."""
    # Smooth noise of a coarser grid looks the same and is made much sooner.
    coarse = (max(1, 2 ** int(np.log2(max(size_mm / 3, 1)))), max(1, 2 ** int(np.log2(max(size_mm * stretch / 3, 1)))))
    noise = chance.standard_normal((1024 // coarse[0], 1024 // coarse[1]), dtype=np.float32)
    pad = int(min(4 * size_mm * stretch / coarse[1], 512)) + 4
    wide = np.pad(noise, pad, mode="wrap")
    soft = cv2.GaussianBlur(wide, (0, 0), sigmaX=size_mm * stretch / coarse[1], sigmaY=size_mm / coarse[0])
    wide = cv2.resize(soft, (soft.shape[1] * coarse[1], soft.shape[0] * coarse[0]), interpolation=cv2.INTER_LINEAR)
    soft = wide[pad * coarse[0] : -pad * coarse[0], pad * coarse[1] : -pad * coarse[1]]
    return soft * (spread / soft.std())


def _wood(chance):
    width = int(chance.choice([64, 128, 256]))
    boards = np.repeat(chance.normal(0, 10, 1024 // width), width)[:, None]
    tile = (chance.uniform(110, 165) + boards + _clouds(chance, 1.2, chance.uniform(5, 10), 33))[..., None]
    tile = tile + np.array([25, 0, -35]) * chance.uniform(0.5, 1.2)
    tile[::width] -= 60
    tile[1::width] -= 60
    return tile


def _concrete(chance):
    bright = chance.uniform(130, 185)
    grey = bright + _clouds(chance, 25, 10) + _clouds(chance, 1, chance.uniform(3, 8))
    return grey[..., None] * np.array([1.0, 0.99, 0.96])


def _plain(chance):
    return (205 + _clouds(chance, 25, 2) + _clouds(chance, 1, 1))[..., None] * np.array([1.0, 0.99, 0.96])


def _tile(chance):
    side = int(chance.choice([128, 256, 512]))
    shade = np.kron(chance.normal(0, 4, (1024 // side,) * 2), np.ones((side, side)))
    grey = chance.uniform(120, 215) + shade + _clouds(chance, 12, 3)
    joint = np.zeros((1024, 1024), bool)
    for step in range(3):
        joint[step::side] = joint[:, step::side] = True
    grey = np.where(joint, grey * 0.7, grey)
    return grey[..., None] * np.array([1.0, chance.uniform(0.94, 1.0), chance.uniform(0.85, 1.02)])


def _carpet(chance):
    colour = chance.uniform(50, 170, 3) * 0.5 + chance.uniform(60, 130) * 0.5
    pile = _clouds(chance, chance.uniform(1.0, 2.5), 0.14) + _clouds(chance, 40, 0.03)
    return colour * (1 + pile[..., None])


def _cloth(chance):
    colour = chance.uniform(60, 220, 3) * 0.4 + chance.uniform(70, 200) * 0.6
    y, x = np.mgrid[:1024, :1024]
    weave = 0.05 * np.sign(np.sin(x * np.pi / 2) * np.sin(y * np.pi / 2))
    folds = _clouds(chance, 30, 0.04, 4)
    return colour * (1 + weave + folds + _clouds(chance, 1, 0.02))[..., None]
