"""Candidates for marks: compact areas that stand out of the net's answer, and what is measured on each.

The answer is cut at several heights; an area is measured by how sure the net is inside and around it, its shape, and whether
the step at its outline agrees with what the net takes for added. What those signs together are worth is one number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from io import BytesIO
from typing import NamedTuple

import cv2
import numpy as np

from wetside.figures.place import Rectangle
from wetside.laws.image.layers import areas_of
from wetside.stages.causes.signs.chance import Chance, chance_of_marks
from wetside.stages.causes.signs.outline import NOTHING, Step, middles, outline_of, scattered, step_at

LEVELS = (-3.0, -2.0, -1.0, 0.5, 2.0)  # heights of the log-odds at which the net's answer is cut
SMALLEST = 0.03  # [D]
LARGEST = 0.12  # share of the picture
ALIKE = 0.95  # an area that fills this share of the one at the height below is the same
#: Log-odds that a tenth of an area must pass to be measured: below it none of 4,700 candidates was worth 0.5.
FAINT = -1.0
#: The surest place of an area lies so far over the height of its cut at the least.
SURER = 0.5
#: How far from an area its surroundings reach: three pixels.
CLOSE_BY = np.ones((7, 7), np.uint8)


class Signs(NamedTuple):
    """What is measured on a candidate, in the order of the judge's weights (`marks.npz`); logarithms are natural."""

    #: Log-odds inside the area and round it: mean, and what a tenth passes.
    odds: float
    high_odds: float
    odds_around: float
    high_odds_around: float
    #: Logarithms of the area [px at half size] and of the strongest layer's ΔD [D].
    size: float
    strength: float
    #: The weakest and the middle layer's share of the strongest.
    weakest: float
    middle: float
    #: Shape: area over its hull's, logarithms of the box's long side over its short one and of the share of it that is filled.
    solid: float
    longer: float
    filled: float
    #: Height of the cut, and whether the picture's rim cuts the area (0 or 1).
    level: float
    at_rim: float
    #: How the step at the outline agrees with what the net takes for added (`outline.Agreement`).
    agreed: float
    agreed_close: float
    alike: float
    raised: float
    over_around: float
    calm_within: float
    aside: float
    #: Logarithms: scatter of what the net takes for added over the ΔD; share of the frame over this height; the picture's
    #: texture, and the ΔD over it; what the net takes for added over what the edge says.
    uneven: float
    busy: float
    texture: float
    over_texture: float
    answered: float


@dataclass(frozen=True)
class Candidate:
    """A compact area (bool mask within `box` of the picture at half size), the height of its cut, and what was measured on it."""

    box: Rectangle
    area: np.ndarray
    step: Step
    signs: Signs
    level: float


@dataclass(frozen=True, slots=True)
class Cut:
    """A height of the log-odds, and the natural log of the share of the frame over it."""

    level: float
    busy: float


def candidates(half: np.ndarray, unusable: np.ndarray) -> list[Candidate]:
    """Every compact area that stands out of the net's answer at some height, measured: density (h, w, 3) [D] and areas at half size."""
    chance = chance_of_marks(half)
    chance.odds[unusable] = -9
    return candidates_in(chance, half)


def candidates_in(chance: Chance, half: np.ndarray) -> list[Candidate]:
    """The candidates of the net's answer over a density (h, w, 3) [D] at half size."""
    found: list[Candidate] = []
    before: tuple[np.ndarray, np.ndarray] | None = None
    for level in LEVELS:
        on = (chance.odds > level).astype(np.uint8)
        labels, stats = areas_of(on)
        cut = Cut(level, float(np.log(stats[1:, cv2.CC_STAT_AREA].sum() / on.size + 1e-4)))
        sure = np.unique(labels[chance.odds >= max(level + SURER, FAINT)])
        for i in _worth_measuring(sure[sure > 0], labels, stats, before):
            measured = _measured(stats[i], labels, i, chance, half, cut)
            if measured is not None:
                found.append(measured)
        before = labels, stats
    return found


def _worth_measuring(
    numbers: np.ndarray, labels: np.ndarray, stats: np.ndarray, before: tuple[np.ndarray, np.ndarray] | None
) -> list[int]:
    """Those numbers of areas of a fit size that are not nearly those of the height below."""
    found = []
    for i, (x, y, w, _, area) in zip(numbers.tolist(), stats[numbers].tolist()):
        if area < 6 or area > LARGEST * labels.size:
            continue
        if before is not None:
            first = x + int((labels[y, x : x + w] == i).argmax())
            if area > ALIKE * before[1][before[0][y, first], cv2.CC_STAT_AREA]:
                continue
        found.append(i)
    return found


def _measured(
    stat: np.ndarray, labels: np.ndarray, number: int, chance: Chance, half: np.ndarray, cut: Cut
) -> Candidate | None:
    """A candidate with its step; None where the net is unsure all over it or nothing of the size of a mark was added."""
    box = _room(stat, labels.shape)
    area, odds, patch = labels[box.slices] == number, chance.odds[box.slices], half[box.slices]
    inside = np.sort(odds[area])
    if inside[-1] < cut.level + SURER or _passed_by_a_tenth(inside) < FAINT:
        return None
    own = chance.added(box)[area]
    taken = middles(own)
    answered = float(np.abs(taken).max())
    outline, solid = outline_of(area)
    step = step_at(patch, outline, area, taken)
    if np.abs(step.delta).max() < SMALLEST:
        return None
    if answered < 0.5 * SMALLEST:
        # Too wide a mark for the net to say what was added inside it: its edge says it.
        taken = step.delta
        step = step_at(patch, outline, area, taken)
    signs = Signs(
        *_certainty(odds, area, inside), *_amount(taken, int(stat[cv2.CC_STAT_AREA])), *_shape(stat, solid),
        cut.level, float(_at_rim(stat, labels.shape)), *step.agreement, *_beside(taken, own, answered, patch, cut),
    )  # fmt: skip
    return Candidate(box, area, step, signs, cut.level)


def _room(stat: np.ndarray, size: tuple[int, ...]) -> Rectangle:
    """An area's box with some room round it, within the picture's size (h, w)."""
    x, y, w, h, _ = stat.tolist()
    pad = 4 + (w + h) // 8
    return Rectangle(x - pad, y - pad, w + 2 * pad, h + 2 * pad).clipped_to(size[1], size[0])


def _at_rim(stat: np.ndarray, size: tuple[int, ...]) -> bool:
    x, y, w, h, _ = stat.tolist()
    return bool(x == 0 or y == 0 or x + w == size[1] or y + h == size[0])


def _passed_by_a_tenth(ordered: np.ndarray) -> float:
    """What a tenth of ordered values (n,) is over."""
    return float(ordered[int(0.9 * (len(ordered) - 1))])


def _certainty(odds: np.ndarray, area: np.ndarray, inside: np.ndarray) -> tuple[float, float, float, float]:
    """`Signs` from `odds`: of the log-odds (h, w) in an area, ordered as `inside`, and in three pixels round it."""
    near = cv2.dilate(area.view(np.uint8), CLOSE_BY) > area.view(np.uint8)
    around = np.sort(odds[near]) if near.any() else inside[:1]
    of_area, of_around = float(inside.sum()) / len(inside), float(around.sum()) / len(around)
    return of_area, _passed_by_a_tenth(inside), of_around, _passed_by_a_tenth(around)


def _amount(taken: np.ndarray, pixels: int) -> tuple[float, float, float, float]:
    """`Signs` from `size`: of the ΔD (3,) [D] taken for added."""
    strongest = float(np.abs(taken).max())
    weakest, middle = float(np.abs(taken).min()), abs(sorted(taken.tolist())[1])
    return math.log(pixels), math.log(strongest), weakest / strongest, middle / strongest


def _shape(stat: np.ndarray, solid: float) -> tuple[float, float, float]:
    _, _, w, h, count = stat.tolist()
    return solid, math.log(max(w, h) / min(w, h)), math.log(count / (w * h))


def _beside(
    taken: np.ndarray, own: np.ndarray, answered: float, patch: np.ndarray, cut: Cut
) -> tuple[float, float, float, float, float]:
    """`Signs` from `uneven`: of what the net takes for added at each place of the area (n, 3) [D], and the picture (h, w, 3)."""
    strongest, texture = float(np.abs(taken).max()), _texture(patch) + 1e-3
    uneven = sum(scattered(layer) for layer in own.T) / 3
    edge_says = math.log((answered + NOTHING) / (strongest + NOTHING))
    return (
        math.log(uneven / strongest + 0.02), cut.busy, math.log(texture), math.log(strongest / texture), edge_says,
    )  # fmt: skip


def _texture(patch: np.ndarray) -> float:
    """Mean change [D] of all layers' mean from pixel to pixel."""
    mean = cv2.transform(patch, np.full((1, 3), 1 / 3, np.float32))
    down, across = cv2.absdiff(mean[1:], mean[:-1]), cv2.absdiff(mean[:, 1:], mean[:, :-1])
    return float(cv2.mean(down)[0] + cv2.mean(across)[0])


def apart(best_first: list[Candidate]) -> list[Candidate]:
    """The best candidate of each place: no two kept boxes overlap by more than a fifth."""
    kept: list[Candidate] = []
    for candidate in best_first:
        box = tight(candidate)
        if all(overlap(box, tight(other)) < 0.2 for other in kept):
            kept.append(candidate)
    return kept


def tight(candidate: Candidate) -> Rectangle:
    """The box of the area itself, in the picture at half size."""
    rows, columns = np.nonzero(candidate.area)
    left, top = int(columns.min()), int(rows.min())
    w, h = int(columns.max()) - left + 1, int(rows.max()) - top + 1
    return Rectangle(candidate.box.x + left, candidate.box.y + top, w, h)


def overlap(a: Rectangle, b: Rectangle) -> float:
    """Shared area over the smaller box."""
    w = min(a.x + a.w, b.x + b.w) - max(a.x, b.x)
    h = min(a.y + a.h, b.y + b.h) - max(a.y, b.y)
    return max(0, w) * max(0, h) / max(1, min(a.w * a.h, b.w * b.h))


def worth(found: Sequence[Candidate]) -> np.ndarray:
    """What candidates' signs are worth: the chance, 0 to 1, that each is a mark (n,)."""
    if not found:
        return np.zeros(0)
    signs, judge = np.array([one.signs for one in found], np.float32), _judge()
    return np.asarray(1 / (1 + np.exp(-(signs @ judge["weights"] + judge["constant"]))))


@cache
def _judge() -> dict[str, np.ndarray]:
    with np.load(BytesIO((files("wetside.stages.causes.signs") / "marks.npz").read_bytes())) as kept:
        return dict(kept)
