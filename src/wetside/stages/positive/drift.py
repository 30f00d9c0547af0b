"""Does the roll drift from its first frame to its last? Its rebates say, frame by frame: they share one density.

A straight line through them in the frames' order, a layer, by least squares; its error is that of the slope, from what the
frames scatter about the line. Needs five frames that show their rebate; no drift is claimed below 0.02 D, within three errors,
or where the line explains less than most of what is there: frames that jump about are levelled, but they do not drift.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

FEWEST = 5
LEAST = 0.02
ERRORS = 3.0
#: Share of the rebates' variance that the line must explain, in the layer that drifts most.
EXPLAINED = 0.8


@dataclass(frozen=True)
class Drift:
    """Density by which the last frame lies above the first along the line, r g b [D], and one standard error of each."""

    density: tuple[float, float, float]
    error: tuple[float, float, float]
    frames: int

    @property
    def alike(self) -> bool:
        """Whether the layers drift together, as the light and the scan's exposure do and a developer seldom does."""
        apart = max(self.density) - min(self.density)
        return apart < max(LEAST, ERRORS * max(self.error))

    @property
    def shared(self) -> float:
        """What the layers share of it [D]: the middle one of the three; 0 where that is under what is claimed."""
        middle = sorted(self.density)[1]
        return middle if abs(middle) >= LEAST else 0.0

    def of_frames(self, frames: int) -> list[float]:
        """Density by which the shared line puts each of the roll's frames over its middle [D]."""
        return [self.shared * (place / max(1, frames - 1) - 0.5) for place in range(frames)]

    @property
    def stays(self) -> float:
        """What one layer keeps when the shared part is taken out [D]; 0 where the layers drift together."""
        return 0.0 if self.alike else max(abs(value - self.shared) for value in self.density)

    def as_json(self) -> dict[str, Any]:
        """{density, spread: r g b [D], shared [D], alike, frames, say}."""
        return {
            "density": dict(zip("rgb", self.density)), "spread": dict(zip("rgb", self.error)), "shared": self.shared,
            "alike": self.alike, "frames": self.frames, "say": self.say(),
        }  # fmt: skip

    def say(self) -> str:
        """The drift in words."""
        error = max(0.001, *self.error)
        by = " ".join(f"{value:+.3f}" for value in self.density) + " D r g b"
        if self.alike:
            by = f"{sum(self.density) / 3:+.3f} D in all layers"
        return f"the rebate drifts from the first frame to the last by {by} (± {error:.3f})"


def drift_along(bases: Sequence[Sequence[float] | None]) -> Drift | None:
    """The drift of a roll's rebates (r g b [D], None where a frame shows none), in the frames' order; None where there is none."""
    there = [(at, base) for at, base in enumerate(bases) if base is not None]
    if len(there) < FEWEST:
        return None
    at = np.array([place for place, _ in there], float) / max(1, len(bases) - 1)
    values = np.array([tuple(base) for _, base in there])
    x = at - at.mean()
    slope = x @ values / (x @ x)
    away = values - values.mean(axis=0) - np.outer(x, slope)
    error = np.sqrt((away**2).sum(axis=0) / (len(x) - 2) / (x @ x))
    most = int(np.abs(slope).argmax())
    explained = 1 - away[:, most].var() / max(float(values[:, most].var()), 1e-12)
    if abs(slope[most]) < max(LEAST, ERRORS * error[most]) or explained < EXPLAINED:
        return None
    r, g, b = (float(v) for v in slope)
    return Drift((r, g, b), (float(error[0]), float(error[1]), float(error[2])), len(there))
