"""The unexposed film's density across its width as one smooth curve: gaps between frames and both rebates, fitted jointly.

Pooled over frames by medians, so dust, print and a frame that is off do not count. The curve is made of as few terms
(Legendre's polynomials) as stand out of their own bootstrap errors; what it leaves of the rows counts as its error too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import legvander

from wetside.figures.channels import RGB
from wetside.stages.causes.signs.gaps import middle_of

MOST_TERMS, BOOTSTRAPS = 8, 200
#: A term counts from so many of its errors, and from so much [D].
CLEAR, LEAST = 4.0, 0.0015
#: Nothing is known better than this [D]: a working step, the holder's own light.
FLOOR = 0.0005
#: Rows over which what the curve leaves is averaged before it counts as error.
SMOOTH = 5


@dataclass(frozen=True)
class FilmAcross:
    """Density (rows, 3) [D] over the picture's height, mean 0; its largest error (3,) [D]; frames that told it, whether both rebates did."""

    profile: np.ndarray
    error: np.ndarray
    frames: int
    ends: bool

    @property
    def where(self) -> str:
        """Where it was read, in words (plural)."""
        return f"the gaps beside {self.frames} pictures" + (
            " and the rebate at both edges" if self.ends else ""
        )


def film_across(
    gaps: Sequence[np.ndarray | None],
    sides: Sequence[Mapping[str, RGB]],
    places: Sequence[Mapping[str, float]],
    fewest: int,
) -> FilmAcross | None:
    """The film's profile from frames' gaps (2, rows, 3) [D], NaN where not told, and rebates; None where too few frames show one.

    sides, places   density [D] of each frame's rebates "top" and "bottom", and where across the picture they lie
    """
    shown = [(gap, side, place) for gap, side, place in zip(gaps, sides, places) if gap is not None]
    if len(shown) < fewest:
        return None
    rows = shown[0][0].shape[1]
    seen = np.stack([_levelled(gap, side) for gap, side, _ in shown])
    at, ends = _places(rows, [place for _, _, place in shown])
    known = np.isfinite(seen).all(axis=3).any(axis=1).mean(axis=0) > 0.5
    if known[:rows].sum() < rows // 2:
        return None
    seen, at = seen[:, :, known], at[known]
    rng = np.random.default_rng(len(seen))
    middle = _pooled(seen)
    draws = np.stack([
        _pooled(seen[rng.integers(0, len(seen), len(seen))]) for _ in range(BOOTSTRAPS)
    ])  # fmt: skip
    draws = np.where(np.isfinite(draws), draws, middle)
    profile, error = _curve(middle, draws, at, (np.arange(rows) + 0.5) / rows)
    return FilmAcross(profile, error, len(seen), ends)


def _levelled(gaps: np.ndarray, side: Mapping[str, RGB]) -> np.ndarray:
    """A frame's gaps, each with the rebates below it (2, rows + 2, 3) [D], less the gap's own middle."""
    ends = np.array([side.get(name, (np.nan,) * 3) for name in ("top", "bottom")])
    return np.concatenate([gaps, np.stack([ends, ends])], axis=1) - middle_of(gaps, axis=1)[:, None]


def _pooled(seen: np.ndarray) -> np.ndarray:
    """Middle (rows, 3) of all gaps (frames, 2, rows, 3)."""
    return middle_of(seen.reshape(-1, *seen.shape[2:]))


def _places(rows: int, places: Sequence[Mapping[str, float]]) -> tuple[np.ndarray, bool]:
    """Where across the picture the rows and the two rebates lie, and whether both rebates are shown."""
    shown = [[place[name] for place in places if name in place] for name in ("top", "bottom")]
    ends = [float(np.median(one)) if one else outside for one, outside in zip(shown, (0.0, 1.0))]
    return np.append((np.arange(rows) + 0.5) / rows, ends), all(shown)


def _curve(
    middle: np.ndarray, draws: np.ndarray, at: np.ndarray, wanted: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """The curve (rows, 3) at the `wanted` places and its largest error (3,), from values (n, 3) `at` places and draws of them."""
    low, high = min(0.0, at.min()), max(1.0, at.max())
    terms, over = (legvander(2 * (places - low) / (high - low) - 1, MOST_TERMS) for places in (at, wanted))
    weight = 1 / np.hypot(draws.std(axis=0).max(axis=1), FLOOR)
    count = _terms_that_count(terms, weight, middle, draws)
    solve = np.linalg.pinv(terms[:, : count + 1] * weight[:, None]) * weight
    curve = over[:, : count + 1] @ solve
    curve -= curve.mean(axis=0)
    scatter = np.einsum("ij,djc->dic", curve, draws).std(axis=0).max(axis=0)
    left = middle - terms[:, : count + 1] @ solve @ middle
    box = np.ones(SMOOTH) / SMOOTH
    missed = np.stack([np.convolve(left[:, c], box, mode="valid") for c in range(3)], axis=1)
    return curve @ middle, np.sqrt(scatter**2 + (missed**2).mean(axis=0) + FLOOR**2)


def _terms_that_count(terms: np.ndarray, weight: np.ndarray, middle: np.ndarray, draws: np.ndarray) -> int:
    """The highest term that stands out of its own error in some layer; 0 where the film is even."""
    solve = np.linalg.pinv(terms * weight[:, None]) * weight
    error = np.einsum("ij,djc->dic", solve, draws).std(axis=0)
    clear = (np.abs(solve @ middle) > np.maximum(CLEAR * error, LEAST)).any(axis=1)
    return int(np.flatnonzero(clear[1:]).max(initial=-1)) + 1
