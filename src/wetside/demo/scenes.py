"""What the camera saw: sample photographs shipped inside the scikit-image and scikit-learn packages, and test targets."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

#: Reflection densities of the six steps of the grey scale.
GREYS = (0.05, 0.25, 0.50, 0.75, 1.10, 1.55)
Box = tuple[int, int, int, int]
#: Lettering in a picture (x, y, w, h): softened, the demo names no maker.
LETTERING: dict[str, tuple[Box, ...]] = {
    "motorcycle_left.png": (
        (397, 186, 54, 30), (290, 275, 39, 22), (349, 324, 42, 28), (397, 50, 25, 46),
        (395, 105, 47, 27), (358, 120, 42, 22), (450, 65, 28, 25),
    ),
}  # fmt: skip


@lru_cache(maxsize=1)
def photographs() -> tuple[np.ndarray, ...]:
    """Linear pictures (h, w, 3), 0–1; Unusable-free: the demo's packages bring them."""
    import skimage
    import sklearn

    shipped = Path(skimage.__file__).parent / "data"
    others = Path(sklearn.__file__).parent / "datasets" / "images"
    names = [shipped / n for n in ("coffee.png", "rocket.jpg", "chelsea.png", "motorcycle_left.png")]
    names += [others / n for n in ("china.jpg", "flower.jpg")]
    found = [_softened(name) for name in names if name.exists()]
    return tuple(
        ((p[..., ::-1].astype(np.float32) / 255) ** 2.2 * 0.9 + 0.003) for p in found if p is not None
    )


def _softened(name: Path) -> np.ndarray | None:
    picture: np.ndarray | None = cv2.imread(str(name), cv2.IMREAD_COLOR)
    if picture is None:
        return None
    for x, y, w, h in LETTERING.get(name.name, ()):
        inside = np.zeros(picture.shape[:2], np.float32)
        inside[y + 4 : y + h - 4, x + 4 : x + w - 4] = 1
        share = cv2.GaussianBlur(inside, (0, 0), 3)[..., None]
        soft = cv2.GaussianBlur(picture, (0, 0), 7)
        picture = (share * soft + (1 - share) * picture).astype(np.uint8)
    return picture


def scene(what: str, width: int, height: int, rng: np.random.Generator) -> tuple[np.ndarray, list[Box]]:
    """A linear scene (height, width, 3) with grey at 0.18, and the places of its patches."""
    if what == "grey scale":
        return grey_scale(width, height)
    if what == "chart":
        return chart(width, height)
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


def chart_colours() -> np.ndarray:
    """Reflectance r g b (24, 3) of an invented chart: six hues at three lightnesses, then the steps of the grey scale."""
    hues = np.deg2rad(np.arange(6) * 60.0)[:, None] - np.deg2rad([0.0, 120.0, 240.0])
    coloured = [level * (1 + strength * np.cos(hues + turn)) for level, strength, turn in ((0.42, 0.5, 0.0), (0.20, 0.8, 0.5), (0.09, 0.65, 0.0))]  # fmt: skip
    greys = np.repeat(10.0 ** -np.array(GREYS)[:, None], 3, axis=1)
    return np.concatenate([*coloured, greys])


def chart(width: int, height: int) -> tuple[np.ndarray, list[Box]]:
    """Twenty-four patches in four rows of six on a dark card."""
    view = np.full((height, width, 3), 0.03, np.float32)
    boxes = []
    for i, colour in enumerate(chart_colours()):
        row, column = divmod(i, 6)
        x, y = int(width * (0.05 + 0.152 * column)), int(height * (0.07 + 0.222 * row))
        w, h = int(width * 0.13), int(height * 0.19)
        view[y : y + h, x : x + w] = colour
        boxes.append((x, y, w, h))
    return view, boxes
