"""One frame bleached or fixed again and scanned again, or its twin from another process: did it change, and how?

Needs two scans with one light and exposure.
A light or an exposure that drifted moves thin and dense parts, and all layers, alike. What a bath had left does not: silver
and leuco dye go with the picture, so the difference between dense and thin parts tells them; halide is a yellow haze over
everything, so blue against red in the thin parts tells it. "Cannot say" between a clear change and a clear none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wetside.figures.finding import CannotSay
from wetside.laws.image.laid_over import laid_over, likeness, small

#: A change of density that matters, and one that is none [D]; the first is the action limit of D-min (H-24.01 table 1-5).
MATTERS, NONE = 0.03, 0.02
#: The same between two processes: the action limit of HD−LD (H-24.01 table 1-5), and what two good ones may differ by (judged).
TWIN_MATTERS, TWIN_NONE = 0.05, 0.03
#: What two scans of one frame differ by on one scanner (judged, not measured) [D].
AGAIN = 0.004
SHARE, RIM = 0.15, 0.06
WORDS = ("red", "green", "blue")


@dataclass(frozen=True, slots=True)
class Changed:
    """Density gained by r, g, b in the thin and in the dense parts [D], the error of one, whether it changed, and in words."""

    thin: tuple[float, float, float]
    dense: tuple[float, float, float]
    error: float
    answer: str
    say: str


@dataclass(frozen=True, slots=True)
class Largest:
    """The change [D] of the layer that changed most, and in words."""

    size: float
    say: str


@dataclass(frozen=True, slots=True)
class Bounds:
    """From where a change matters and under what it is none [D], and what either is called."""

    matters: float
    none: float
    changed: str
    same: str


REDO = Bounds(MATTERS, NONE, "changed", "same")


def redone(before: np.ndarray, after: np.ndarray, by: str) -> Changed | CannotSay:
    """What bleaching ("re-bleach one frame") or fixing again ("re-fix one frame") did to densities (h, w, 3) [D]."""
    gains = _gains(before, after, "the same frame, before and after the redo")
    if isinstance(gains, CannotSay):
        return gains
    thin, dense, error = gains
    if by == "re-bleach one frame":
        seen, where = dense - thin, "in dense parts against thin ones"
    else:
        seen, where = thin - thin[0], "in thin parts against red"
    return _judged(thin, dense, _largest(seen, where, error), error)


def twinned(home: np.ndarray, laboratory: np.ndarray) -> Changed | CannotSay:
    """How a frame processed at home parts from its twin's, exposed alike and processed elsewhere: densities (h, w, 3) [D].

    A light that drifted moves all alike, so the thin parts' mean over the layers is taken off. Answers "twin good" where they
    part by what a control chart acts on, "twin alike" where they do not.
    """
    gains = _gains(laboratory, home, "two frames of one subject, taken from one place, one processed at home")
    if isinstance(gains, CannotSay):
        return gains
    thin, dense, error = gains
    even = thin.mean()
    parts = (thin - even, "in thin parts"), (dense - even, "in dense parts")
    most = max((_largest(seen, f"{where} beside the twin", error) for seen, where in parts), key=lambda one: abs(one.size))  # fmt: skip
    return _judged(thin, dense, most, error, Bounds(TWIN_MATTERS, TWIN_NONE, "twin good", "twin alike"))


def _gains(
    before: np.ndarray, after: np.ndarray, help_: str
) -> tuple[np.ndarray, np.ndarray, float] | CannotSay:
    """What the thin and the dense parts (3,) [D] of a frame gained from one scan to the next, and the error of one."""
    first, second = small(before), small(after)
    if first.shape != second.shape:
        return CannotSay(
            "the two scans differ in size", "the same frame scanned again with the same settings"
        )
    second, _ = laid_over(first, second)
    inner = tuple(slice(int(n * RIM), n - int(n * RIM)) for n in first.shape[:2])
    first, second = first[inner], second[inner]
    if likeness(first, second) < 0.7:
        return CannotSay("the two scans do not show the same frame", help_)
    grey = first.mean(axis=2)
    low, high = np.quantile(grey, (SHARE, 1 - SHARE))
    thin, thin_error = _gained(first, second, grey <= low)
    dense, dense_error = _gained(first, second, grey >= high)
    return thin, dense, float(np.sqrt(thin_error**2 + dense_error**2 + AGAIN**2))


def _gained(first: np.ndarray, second: np.ndarray, where: np.ndarray) -> tuple[np.ndarray, float]:
    """Median gain [D] of the parts of a mask, and its error: neighbours within 5 pixels count as one."""
    gain = (second - first)[where]
    middle = np.median(gain, axis=0)
    spread = 1.4826 * np.median(np.abs(gain - middle), axis=0)
    return middle, float(spread.max() / np.sqrt(max(1.0, len(gain) / 25)))


def _largest(seen: np.ndarray, where: str, error: float) -> Largest:
    """The layer that changed most of (3,) [D], in words."""
    most = int(np.abs(seen).argmax())
    say = f"{WORDS[most]} {seen[most]:+.3f} ± {error:.3f} D {where}".replace("-", "−", 1)
    return Largest(float(seen[most]), say)


def _judged(
    thin: np.ndarray, dense: np.ndarray, most: Largest, error: float, bounds: Bounds = REDO
) -> Changed | CannotSay:
    if abs(most.size) >= max(bounds.matters, 3 * error):
        answer = bounds.changed
    elif abs(most.size) < bounds.none and 3 * error < bounds.matters:
        answer = bounds.same
    else:
        return CannotSay(
            f"neither a clear change nor clearly none: {most.say}",
            "scan both again with one light and exposure, or try it on another frame",
        )
    return Changed(tuple(map(float, thin)), tuple(map(float, dense)), error, answer, most.say)  # type: ignore[arg-type]
