"""Marks: local density differences that the picture does not explain.

Theory. A stain, a bell or a streak adds (or takes) the same density over its area and leaves what lies under it alone;
a thing in the picture replaces what lies under it. A small net fitted on marks planted in photographs answers where
density was added and how much (`chance`). Its answer is cut at several heights into candidates; each is judged by the
net's certainty inside and around it, its shape, and whether the step measured at its outline agrees with what the net
takes for added, all the way round and in every layer (`outline`). One number says what the evidence is worth; of
candidates at one place the best stands. What unexposed film shows is found apart, without the net (`unexposed`, `over_rim`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.channels import rgb
from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.figures.place import Rectangle
from wetside.figures.reading import Mark
from wetside.laws.image.layers import areas_of, half_size
from wetside.stages.causes.signs.bare import bare_patches
from wetside.stages.causes.signs.chance import Chance, chance_of_marks, worth
from wetside.stages.causes.signs.outline import Step, kind_of, middles, outline_of, scattered, step_at
from wetside.stages.causes.signs.over_rim import Within, film_beside, gone_on, mark_on_film
from wetside.stages.causes.signs.stained import judged, stained_places
from wetside.stages.causes.signs.unexposed import Unexposed, unexposed_film

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
#: Worth from which a candidate counts as a mark; set on photographs that neither fit nor study uses (docs/marks.md).
TAKEN = 0.85
#: The same for others of a frame that holds a mark.
IN_COMPANY = 0.45
#: Of cuts that are all this sure, the one nearest to this height has the outline nearest to the truth (0.85 of the box shared).
SURE, TRUEST = 0.9, 0.5
#: The same for one that goes on where unexposed film shows a mark of its colour at the rim.
PROVED = 0.01


@dataclass(frozen=True)
class Candidate:
    """A compact area (bool mask within `box` of the picture at half size), the height of its cut, and what was measured on it."""

    box: Rectangle
    area: np.ndarray
    step: Step
    evidence: np.ndarray
    level: float


def marks_in_frame(frame: DensityFrame) -> tuple[Mark, ...]:
    """Marks of one frame, strongest evidence first; box and outline in pixels of the file as stored."""
    window = window_of(frame)
    if min(window.h, window.w) < 48:
        return ()
    half = half_size(frame.density)
    picture = Rectangle(*(v // 2 for v in window))
    left_out = frame.mask[window.slices][::2, ::2] & int(Left.CLIPPED | Left.PERFORATION | Left.OUTSIDE_FILM)
    found = candidates(half[picture.slices], left_out != 0)
    film = judged(unexposed_film(frame, half))
    sure = (*bare_patches(frame, window, half[picture.slices]), *_on_film(film, found, frame, window))
    others = (_mark(candidate, chance, frame, window, film) for candidate, chance in marks_among(found))
    return (*sure, *(mark for mark in others if all(_overlap(mark.box, one.box) < 0.2 for one in sure)))


def _on_film(
    film: Unexposed | None, found: list[Candidate], frame: DensityFrame, window: Rectangle
) -> Iterator[Mark]:
    """Marks that the unexposed film shows, with what of the picture they go on in, however unsure the net is of it."""
    places = stained_places(film) if film is not None else []
    if film is None or not places:
        return
    values = worth(np.array([c.evidence for c in found])) if found else np.zeros(0)
    best = [found[i] for i in np.argsort(-values) if values[i] > PROVED]
    within = [_within(candidate, window) for candidate in best]
    for place in places:
        number = gone_on(film, place, within)
        yield mark_on_film(film, place, None if number is None else within[number], 2 * frame.shrink)


def _within(candidate: Candidate, window: Rectangle) -> Within:
    left, top = window.x // 2 + candidate.box.x, window.y // 2 + candidate.box.y
    return Within(candidate.area, left, top, candidate.step.delta)


def marks_among(found: list[Candidate]) -> list[tuple[Candidate, float]]:
    """Candidates that count as marks and their worth, best first: none unless one is surely a mark, then its likely company.

    Marks come together: splashes, drops, bells. A frame that holds one is likelier to hold another than any frame is to hold one.
    """
    if not found:
        return []
    values = worth(np.array([c.evidence for c in found]))
    if values.max() <= TAKEN:
        return []
    likely = [(one, float(value)) for one, value in zip(found, values, strict=True) if value > IN_COMPANY]
    likely.sort(key=lambda pair: (-min(pair[1], SURE), abs(pair[0].level - TRUEST)))
    chances = {id(one): value for one, value in likely}
    return [(one, chances[id(one)]) for one in apart([one for one, _ in likely])]


def window_of(frame: DensityFrame) -> Rectangle:
    """The picture at working size, in whole cells of 2 × 2 pixels."""
    x, y, w, h = (v / frame.shrink for v in frame.picture)
    height, width = frame.density.shape[:2]
    left, top = (max(0, round(v) + 1) for v in (x, y))
    right, bottom = min(width, round(x) + round(w) - 1), min(height, round(y) + round(h) - 1)
    left, top = left + left % 2, top + top % 2
    return Rectangle(left, top, max(0, right - left) // 2 * 2, max(0, bottom - top) // 2 * 2)


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
        busy = float(np.log(stats[1:, cv2.CC_STAT_AREA].sum() / on.size + 1e-4))
        sure = np.unique(labels[chance.odds >= max(level + SURER, FAINT)])
        for i in _worth_measuring(sure[sure > 0], labels, stats, before):
            measured = _measured(stats[i], labels, i, chance, half, level, busy)
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
    stat: np.ndarray,
    labels: np.ndarray,
    number: int,
    chance: Chance,
    half: np.ndarray,
    level: float,
    busy: float,
) -> Candidate | None:
    """A candidate with its step; None where the net is unsure all over it or nothing of the size of a mark was added."""
    height, width = labels.shape
    x, y, w, h, count = stat.tolist()
    pad = 4 + (w + h) // 8
    box = Rectangle(x - pad, y - pad, w + 2 * pad, h + 2 * pad).clipped_to(width, height)
    area = labels[box.slices] == number
    odds = chance.odds[box.slices]
    inside = np.sort(odds[area])
    high = float(inside[int(0.9 * (count - 1))])
    if inside[-1] < level + SURER or high < FAINT:
        return None
    own = chance.added(box)[area]
    taken = middles(own)
    answered = float(np.abs(taken).max())
    outline, solid = outline_of(area)
    step = step_at(half[box.slices], outline, area, taken)
    if np.abs(step.delta).max() < SMALLEST:
        return None
    if answered < 0.5 * SMALLEST:
        # Too wide a mark for the net to say what was added inside it: its edge says it.
        taken = step.delta
        step = step_at(half[box.slices], outline, area, taken)
    near = cv2.dilate(area.view(np.uint8), CLOSE_BY) > area.view(np.uint8)
    around = np.sort(odds[near]) if near.any() else inside[:1]
    layers, log = sorted(taken.tolist()), math.log
    strongest = max(-layers[0], layers[2])
    least, middle = min(abs(layer) for layer in layers), abs(layers[1])
    cut = x == 0 or y == 0 or x + w == width or y + h == height
    texture = _texture(half[box.slices]) + 1e-3
    uneven = sum(scattered(layer) for layer in own.T) / 3
    evidence = np.array([
        inside.sum() / count, high, around.sum() / len(around), around[int(0.9 * (len(around) - 1))],
        log(count), log(strongest), least / strongest, middle / strongest, solid,
        log(max(w, h) / min(w, h)), log(count / (w * h)), level, float(cut), *step.evidence,
        log(uneven / strongest + 0.02), busy, log(texture),
        log(strongest / texture), log((answered + 0.004) / (strongest + 0.004)),
    ], np.float32)  # fmt: skip
    return Candidate(box, area, step, evidence, level)


def _texture(patch: np.ndarray) -> float:
    """Mean change [D] of all layers' mean from pixel to pixel."""
    mean = cv2.transform(patch, np.full((1, 3), 1 / 3, np.float32))
    down, across = cv2.absdiff(mean[1:], mean[:-1]), cv2.absdiff(mean[:, 1:], mean[:, :-1])
    return float(cv2.mean(down)[0] + cv2.mean(across)[0])


def apart(best_first: list[Candidate]) -> list[Candidate]:
    """The best candidate of each place: no two kept boxes overlap by more than a fifth."""
    kept: list[Candidate] = []
    for candidate in best_first:
        box = _tight(candidate)
        if all(_overlap(box, _tight(other)) < 0.2 for other in kept):
            kept.append(candidate)
    return kept


def _tight(candidate: Candidate) -> Rectangle:
    rows, columns = np.nonzero(candidate.area)
    left, top = int(columns.min()), int(rows.min())
    w, h = int(columns.max()) - left + 1, int(rows.max()) - top + 1
    return Rectangle(candidate.box.x + left, candidate.box.y + top, w, h)


def _overlap(a: Rectangle, b: Rectangle) -> float:
    """Shared area over the smaller box."""
    w = min(a.x + a.w, b.x + b.w) - max(a.x, b.x)
    h = min(a.y + a.h, b.y + b.h) - max(a.y, b.y)
    return max(0, w) * max(0, h) / max(1, min(a.w * a.h, b.w * b.h))


def place_of(candidate: Candidate, frame: DensityFrame, window: Rectangle) -> Rectangle:
    """The candidate's box in pixels of the file as stored."""
    x, y, w, h = _tight(candidate)
    scale = frame.shrink
    return Rectangle(
        round((window.x + 2 * x) * scale), round((window.y + 2 * y) * scale),
        max(1, round(2 * w * scale)), max(1, round(2 * h * scale)),
    )  # fmt: skip


def _mark(
    candidate: Candidate, chance: float, frame: DensityFrame, window: Rectangle, film: Unexposed | None
) -> Mark:
    box = place_of(candidate, frame, window)
    outline, _ = outline_of(candidate.area)
    left, top = window.x + 2 * candidate.box.x, window.y + 2 * candidate.box.y
    every = max(1, -(-len(outline) // 40))
    points = tuple(
        (round((left + 2 * px + 1) * frame.shrink), round((top + 2 * py + 1) * frame.shrink))
        for px, py in outline[::every].astype(int).tolist()
    )
    step = candidate.step
    kind = kind_of(box, int(candidate.area.sum()))
    beside = None if film is None else film_beside(film, _within(candidate, window))
    return Mark(
        box, None, None, rgb(step.delta), step.edge, kind, rgb(step.spread), beside, points, round(chance, 3)
    )
