"""What the camera saw: sample photographs shipped inside the scikit-image and scikit-learn packages, and test targets."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

#: Reflection densities of the six steps of the grey scale.
GREYS = (0.05, 0.25, 0.50, 0.75, 1.10, 1.55)
Box = tuple[int, int, int, int]


@lru_cache(maxsize=1)
def photographs() -> tuple[np.ndarray, ...]:
    """Linear pictures (h, w, 3), 0–1; Unusable-free: the demo's packages bring them."""
    import skimage
    import sklearn

    shipped = Path(skimage.__file__).parent / "data"
    others = Path(sklearn.__file__).parent / "datasets" / "images"
    names = [shipped / n for n in ("coffee.png", "rocket.jpg", "chelsea.png", "motorcycle_left.png")]
    names += [others / n for n in ("china.jpg", "flower.jpg")]
    found = [cv2.imread(str(name), cv2.IMREAD_COLOR) for name in names if name.exists()]
    return tuple(
        ((p[..., ::-1].astype(np.float32) / 255) ** 2.2 * 0.9 + 0.003) for p in found if p is not None
    )


def scene(what: str, width: int, height: int, rng: np.random.Generator) -> tuple[np.ndarray, list[Box]]:
    """A linear scene (height, width, 3) with grey at 0.18, and the places of its patches."""
    if what == "grey scale":
        return grey_scale(width, height)
    pictures = photographs()
    picture = pictures[int(what.split()[-1]) % len(pictures)]
    return _cropped(picture, width, height, rng), []


def _cropped(picture: np.ndarray, width: int, height: int, rng: np.random.Generator) -> np.ndarray:
    tall, wide = picture.shape[:2]
    shape = width / height
    w = min(wide, tall * shape) * rng.uniform(0.75, 1.0)
    h = w / shape
    x, y = rng.uniform(0, wide - w), rng.uniform(0, tall - h)
    part = np.ascontiguousarray(picture[int(y) : int(y + h), int(x) : int(x + w)])
    return np.maximum(
        cv2.resize(part, (width, height), interpolation=cv2.INTER_AREA if w > width else cv2.INTER_CUBIC),
        1e-3,
    )


def grey_scale(width: int, height: int) -> tuple[np.ndarray, list[Box]]:
    """Six steps in two rows of three on a dark card."""
    view = np.full((height, width, 3), 0.03, np.float32)
    boxes = []
    for i, density in enumerate(GREYS):
        row, column = divmod(i, 3)
        x, y = int(width * (0.08 + 0.30 * column)), int(height * (0.10 + 0.44 * row))
        w, h = int(width * 0.24), int(height * 0.36)
        view[y : y + h, x : x + w] = 10**-density
        boxes.append((x, y, w, h))
    return view, boxes
