"""What an evened frame shows of its own evenness with the roll: its rebate, and the middle of its picture.

The rebate got no light in the camera and all frames share it, so its scatter over a roll's evened negatives is how far
the roll is from being consistent, whatever was photographed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from wetside.laws.image.layers import highest, medians

NEAR = 0.08
FEWEST = 200
#: Samples along the shorter side; more cost a quarter of a frame's printing and change no figure.
SAMPLES = 200


@dataclass(frozen=True)
class Seen:
    """Densities r g b above the roll's base [D]: of the rebate (None where too little is seen) and of the picture's middle."""

    rebate: tuple[float, float, float] | None
    middle: tuple[float, float, float]

    def as_json(self) -> dict[str, Any]:
        return {
            "rebate": None if self.rebate is None else [round(v, 5) for v in self.rebate],
            "middle": [round(v, 5) for v in self.middle],
        }


def every_of(height: int, width: int) -> int:
    """How many rows and columns of a frame there are to one that is looked at."""
    return max(1, min(height, width) // SAMPLES)


class Sampled:
    """Every so manieth code of a frame's rows and columns, taken as its strips go by."""

    def __init__(self, height: int, width: int, every: int) -> None:
        self.every = every
        self.codes = np.empty((-(-height // every), -(-width // every), 3), np.uint16)

    def of(self, strips: Iterable[tuple[int, np.ndarray]]) -> Iterator[tuple[int, np.ndarray]]:
        """The strips themselves; `codes` is whole when the last was asked for."""
        for top, strip in strips:
            first = -top % self.every
            some = strip[first :: self.every, :: self.every]
            at = (top + first) // self.every
            self.codes[at : at + len(some)] = some
            yield top, strip


def seen_in(
    codes: np.ndarray,
    box: tuple[int, int, int, int] | None,
    base: tuple[float, float, float],
    shrink: int = 1,
) -> Seen:
    """What one evened frame (h, w, 3) uint16 shows; `box` x, y, w, h of its picture in file pixels, `shrink` of them to one of
    its codes."""
    above = _densities()[codes] - np.array(base, np.float32)
    inside = np.ones(above.shape[:2], bool)
    if box is not None:
        x, y, w, h = (int(v / shrink) for v in box)
        inside[...] = False
        inside[y + 1 : y + h - 1, x + 1 : x + w - 1] = True
        margin = max(2, min(above.shape[:2]) // 60)
        outside = np.ones(above.shape[:2], bool)
        outside[max(0, y - margin) : y + h + margin, max(0, x - margin) : x + w + margin] = False
        film = above[outside & (highest(np.abs(above)) < NEAR)]
    else:
        film = above[:0, 0]
    picture = above[inside] if inside.any() else above.reshape(-1, 3)
    middle = medians(picture)
    rebate = medians(film) if len(film) >= FEWEST else None
    return Seen(None if rebate is None else _rgb(rebate), _rgb(middle))


@cache
def _densities() -> np.ndarray:
    """Density (65536,) float32 [D] of every code."""
    return -np.log10(np.maximum(np.arange(65536, dtype=np.float32), 1.0) / 65535)


def _rgb(values: np.ndarray) -> tuple[float, float, float]:
    return (float(values[0]), float(values[1]), float(values[2]))


def consistency(
    files: Sequence[str], seen: Sequence[dict[str, Any]], before: dict[str, Any] | None = None
) -> dict[str, Any]:
    """The roll's figure from what each frame showed: scatter of the rebate over the frames, and the frame farthest off.

    `spread` is 1.4826 × the median distance from the median a layer [D]; `worst` the largest distance of any layer.
    `level_spread` [D] is that of the pictures' middles, green: it holds what was photographed as well. `before` is the
    figure of the scans as they came (`rebate_scatter`).
    """
    shown = [(f, s["rebate"]) for f, s in zip(files, seen) if s.get("rebate") is not None]
    middles = np.array([s["middle"] for s in seen]).reshape(-1, 3)
    level = float(_scatter(middles)[1]) if len(middles) > 1 else None
    if len(shown) < 2:
        return {
            "frames": len(shown), "spread": None, "worst": None, "worst_file": None, "level_spread": level, "before": before,
            "say": "too few frames show their rebate to say how consistent the roll is",
        }  # fmt: skip
    values = np.array([value for _, value in shown])
    away = np.abs(values - np.median(values, axis=0)).max(axis=1)
    worst = int(away.argmax())
    spread = _scatter(values)
    was = f"; it was {max(0.001, before['worst']):.3f} D in the scans" if before else ""
    return {
        "frames": len(shown), "spread": dict(zip("rgb", (float(v) for v in spread))), "worst": float(away[worst]),
        "worst_file": shown[worst][0], "level_spread": level, "before": before,
        "say": f"the rebate lies within {max(0.001, away[worst]):.3f} D of the roll's in all {len(shown)} frames that show it{was}",
    }  # fmt: skip


def rebate_scatter(bases: Sequence[Sequence[float] | None]) -> dict[str, Any] | None:
    """How far the rebates of a roll's scans lie apart before anything is done: {frames, spread, worst} [D]."""
    values = np.array([tuple(base) for base in bases if base is not None])
    if len(values) < 2:
        return None
    away = np.abs(values - np.median(values, axis=0)).max()
    return {
        "frames": len(values),
        "spread": dict(zip("rgb", (float(v) for v in _scatter(values)))),
        "worst": float(away),
    }


def _scatter(values: np.ndarray) -> np.ndarray:
    found: np.ndarray = 1.4826 * np.median(np.abs(values - np.median(values, axis=0)), axis=0)
    return found
