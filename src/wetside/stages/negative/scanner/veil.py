"""Where stray light lies over a frame: everywhere alike, stronger at one end, or about what is bright.

Lens and film throw a part of all light over the whole frame, and a part of it not far from where it came. What an opaque
mask shows at many places, in frames of unlike pictures, tells how much of each; the same parts of a frame's own light
then give the veil over its picture. Skirts of several forms and widths are tried: the likeliest is taken, and how far the
others part from it, each by how well it fits, is its spread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

#: Longest side of the grid on which a veil is reckoned.
GRID = 96
#: Widths of the skirts that are tried, in shares of the frame's longer side, and the powers of the distance with which
#: they fall off; None: a bell.
WIDTHS, POWERS = (0.025, 0.05, 0.1, 0.2), (None, 4.0, 2.5)
SKIRTS = tuple((power, width) for power in POWERS for width in WIDTHS)
#: Places of one mask err together: no more than so many count as independent in each frame.
INDEPENDENT = 6
#: A fit is never held to be better than this share of the veil (common practice).
LEAST_ERROR = 0.005
#: What the forms here leave of a skirt of another form, as a share of its light: measured over pictures of four gauges.
FORM_ERROR = 0.06
#: How well the part of a skirt's light that falls outside the frame is known, as a share of the skirt: the same pictures.
OUTSIDE_ERROR = 0.2
#: A cell tells when so much of it is opaque, and fewer such cells than this do not tell a form.
TELLS, FEWEST = 0.15, 24
#: Rivals less likely than this are left out.
UNLIKELY = 0.01


@dataclass(frozen=True)
class Form:
    """How stray light comes of light: `weights` of the terms everywhere alike, the `slants` (1 along, 2 across) and a `skirt`.

    `doubt`: covariance of the weights; `share`: how likely it is among its rivals.
    """

    skirt: int | None
    slants: tuple[int, ...]
    weights: np.ndarray
    doubt: np.ndarray
    share: float = 1.0

    @property
    def lost(self) -> float:
        """The share of the light that is thrown about."""
        return float(self.weights[0] + (0.0 if self.skirt is None else self.weights[-1]))

    @property
    def doubt_of_lost(self) -> float:
        """Its variance."""
        of = [0] if self.skirt is None else [0, len(self.weights) - 1]
        return float(
            self.doubt[np.ix_(of, of)].sum()
            + (0.0 if self.skirt is None else OUTSIDE_ERROR * self.weights[-1]) ** 2
        )

    def terms(self, light: np.ndarray) -> np.ndarray:
        """Its terms (k, h, w, 3) for a frame's light."""
        skirts = () if self.skirt is None else (_thrown(light, (self.skirt,))[0],)
        return np.stack([*plain_terms(light, self.slants), *skirts])


@dataclass(frozen=True)
class Seen:
    """One frame's light (h, w, 3) on the grid, and how much stray light (n, 3) its mask shows at places x, y (n,) [cells].

    `film`: cells (h, w) where no mask lies.
    """

    light: np.ndarray
    x: np.ndarray
    y: np.ndarray
    stray: np.ndarray
    film: np.ndarray

    @property
    def level(self) -> np.ndarray:
        """The usual stray light (3,) over the mask."""
        return np.median(self.stray, axis=0)  # type: ignore[no-any-return]

    def at_places(self, over: np.ndarray) -> np.ndarray:
        """What of a field (h, w, 3) lies at the places (n, 3)."""
        x, y = (one.astype(np.float32)[:, None] for one in (self.x, self.y))
        field = np.ascontiguousarray(over, np.float32)
        return cv2.remap(field, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[:, 0]

    def both_ways(self) -> tuple[bool, bool]:
        """Whether the mask shows both ends of the frame from left to right, and from top to bottom."""

        def both(at: np.ndarray, length: int) -> bool:
            return bool((at < length / 3).any() and (at >= length * 2 / 3).any())

        return both(self.x, self.light.shape[1]), both(self.y, self.light.shape[0])


def seen_of(shine: np.ndarray, opaque: np.ndarray) -> Seen:
    """What a frame's light (h, w, 3) and its opaque part (h, w) tell, on the grid."""
    height, width = opaque.shape
    fine = max(1.0, max(height, width) / GRID)
    size = (max(2, round(width / fine)), max(2, round(height / fine)))

    def cells(of: np.ndarray) -> np.ndarray:
        return cv2.resize(of, size, interpolation=cv2.INTER_AREA)

    mask = opaque.astype(np.float32)
    part = cells(mask)
    told = part > TELLS
    x = cells(mask * np.arange(0.5, width, dtype=np.float32)) * (size[0] / width)
    y = cells(mask * np.arange(0.5, height, dtype=np.float32)[:, None]) * (size[1] / height)
    inside = cells(shine * mask[..., None])
    return Seen(
        cells(shine).astype(np.float16), x[told] / part[told] - 0.5, y[told] / part[told] - 0.5,
        inside[told] / part[told][:, None], part < TELLS,
    )  # fmt: skip


def plain_terms(light: np.ndarray, slants: Sequence[int]) -> list[np.ndarray]:
    """Veils (h, w, 3) of a share of 1: everywhere alike, and stronger at one end along (1) or across (2) the frame."""
    height, width = light.shape[:2]
    mean = np.broadcast_to(light.mean(axis=(0, 1), dtype=np.float64).astype(np.float32), light.shape)
    half = max(height, width) / 2
    u = ((np.arange(width) + 0.5 - width / 2) / half)[None, :, None].astype(np.float32)
    v = ((np.arange(height) + 0.5 - height / 2) / half)[:, None, None].astype(np.float32)
    return [mean, *(mean * (None, u, v)[slant] for slant in slants)]


def _thrown(light: np.ndarray, skirts: Sequence[int]) -> list[np.ndarray]:
    """Light (h, w, 3) thrown about itself by skirts; beyond the frame film or holder goes on."""
    height, width = light.shape[:2]
    wider = cv2.copyMakeBorder(
        light.astype(np.float32), height // 2, height // 2, width // 2, width // 2, cv2.BORDER_REPLICATE
    )
    far = np.fft.rfft2(wider, axes=(0, 1))
    cut = slice(height // 2, height // 2 + height), slice(width // 2, width // 2 + width)
    whole = wider.shape[:2]
    return [
        np.fft.irfft2(far * _skirt(skirt, whole, max(height, width))[..., None], whole, axes=(0, 1))[cut].astype(np.float32)
        for skirt in skirts
    ]  # fmt: skip


@lru_cache(maxsize=2 * len(SKIRTS))
def _skirt(number: int, whole: tuple[int, int], longer: int) -> np.ndarray:
    """A skirt's Fourier transform over a grid; its light sums to 1."""
    power, width = SKIRTS[number]
    y, x = (np.fft.fftfreq(length, 1 / length) / (width * longer) for length in whole)
    r2 = y[:, None] ** 2 + x[None, :] ** 2
    skirt = np.exp(-r2 / 2) if power is None else (1 + r2) ** (-power / 2)
    return np.asarray(np.fft.rfft2(skirt / skirt.sum()))


def forms(seen: Sequence[Seen]) -> tuple[Form, ...]:
    """Forms that the masks of a roll's frames allow, the likeliest first; empty where they show too few places."""
    if not seen or min(len(one.stray) for one in seen) < FEWEST:
        return ()
    slants = tuple(slant for slant, told in zip((1, 2), seen[0].both_ways()) if told)
    design, wanted = _fit_rows(seen, slants)
    plain, places = 1 + len(slants), INDEPENDENT * len(seen)
    found: list[tuple[float, Form]] = []
    for skirt in (None, *range(len(SKIRTS))):
        used = [*range(plain), *(() if skirt is None else (plain + skirt,))]
        weights, error, doubt = _fitted(design[:, used], wanted, places)
        if weights[0] < 0 or (skirt is not None and weights[-1] < 0):
            continue
        odds = -places * np.log(error) - 0.5 * (skirt is not None) * np.log(places)
        found.append((float(odds), Form(skirt, slants, weights, doubt)))
    return _weighed(found)


def _weighed(found: Sequence[tuple[float, Form]]) -> tuple[Form, ...]:
    """Forms with their shares, the likeliest first, from the logarithms of their odds."""
    best = max((odds for odds, _ in found), default=0.0)
    shares = np.array([np.exp(odds - best) for odds, _ in found])
    told = [
        Form(f.skirt, f.slants, f.weights, f.doubt, float(s))
        for s, (_, f) in zip(shares / shares.sum(), found)
    ]
    return tuple(sorted((form for form in told if form.share > UNLIKELY), key=lambda form: -form.share))


def _fit_rows(seen: Sequence[Seen], slants: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
    """All terms (n, k) and stray light (n,) at all places, as shares of each frame's and layer's own level."""
    rows, wanted = [], []
    for one in seen:
        each = [*plain_terms(one.light, slants), *_thrown(one.light, range(len(SKIRTS)))]
        rows.append(
            np.stack([one.at_places(term) / one.level for term in each], axis=-1).reshape(-1, len(each))
        )
        wanted.append((one.stray / one.level).ravel())
    return np.concatenate(rows).astype(float), np.concatenate(wanted).astype(float)


def _fitted(design: np.ndarray, wanted: np.ndarray, places: int) -> tuple[np.ndarray, float, np.ndarray]:
    """Least squares, places far off (dust, a leak) left out: weights, the error that is left (rms), the weights' covariance
    as if so many places were independent."""
    keep = np.ones(len(wanted), bool)
    for _ in range(3):
        weights = np.linalg.lstsq(design[keep], wanted[keep], rcond=None)[0]
        left = np.abs(design @ weights - wanted)
        error = max(LEAST_ERROR, float(np.sqrt((left[keep] ** 2).mean())))
        keep = left <= 3 * max(LEAST_ERROR, 1.4826 * float(np.median(left)))
    doubt = np.linalg.pinv(design[keep].T @ design[keep]) * error**2 * (keep.sum() / places)
    return weights, error, doubt


def veil(seen: Seen, found: Sequence[Form]) -> tuple[np.ndarray, np.ndarray]:
    """The likeliest veil (h, w, 3) over a frame, at the level that its own mask shows, and one standard deviation of it."""
    made = []
    for form in found:
        each = form.terms(seen.light)
        over = np.tensordot(form.weights, each, 1)
        own = seen.level / np.median(seen.at_places(over), axis=0)
        made.append(over * own)
        if form is found[0]:
            variance = np.einsum("khwc,kl,lhwc->hwc", each, form.doubt, each) * own**2
    apart = sum(form.share * (one - made[0]) ** 2 for form, one in zip(found, made))
    skirt = (
        0.0 if found[0].skirt is None else FORM_ERROR * found[0].weights[-1] * found[0].terms(seen.light)[-1]
    )
    return made[0], np.sqrt(apart + variance + (LEAST_ERROR * made[0]) ** 2 + skirt**2)


def lost(found: Sequence[Form]) -> tuple[float, float]:
    """The share of a frame's light that is thrown about, and one standard deviation of it, as the forms have it."""
    shares, each = np.array([form.share for form in found]), np.array([form.lost for form in found])
    mean = float(np.average(each, weights=shares))
    return mean, float(np.sqrt(np.average((each - mean) ** 2, weights=shares) + found[0].doubt_of_lost))
