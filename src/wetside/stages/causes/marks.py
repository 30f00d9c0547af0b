"""Marks: local density differences that the picture does not explain.

Theory. A stain, a bell or a streak adds (or takes) the same density over its area and leaves what lies under it alone;
a thing in the picture replaces what lies under it. A small net fitted on marks planted in photographs answers where
density was added and how much (`chance`). Its answer is cut at several heights into candidates; each is judged by the
net's certainty inside and around it, its shape, and whether the step measured at its outline agrees with what the net
takes for added, all the way round and in every layer (`outline`). One number says what the evidence is worth; of
candidates at one place the best stands.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.channels import rgb
from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.figures.place import Rectangle
from wetside.figures.reading import Mark
from wetside.stages.causes.bare import bare_patches
from wetside.stages.causes.chance import Chance, chance_of_marks, worth
from wetside.stages.causes.outline import Step, outline_of, step_at

LEVELS = (-3.0, -2.0, -1.0, 0.5, 2.0)  # heights of the log-odds at which the net's answer is cut
SMALLEST = 0.03  # [D]
LARGEST = 0.12  # share of the picture
#: Worth from which a candidate counts as a mark; set on photographs that neither fit nor study uses (docs/marks.md).
TAKEN = 0.8


@dataclass(frozen=True)
class Candidate:
    """A compact area (bool mask within `box` of the picture at half size) and what was measured on it."""

    box: Rectangle
    area: np.ndarray
    step: Step
    evidence: np.ndarray


def marks_in_frame(frame: DensityFrame) -> tuple[Mark, ...]:
    """Marks of one frame, strongest evidence first; box and outline in pixels of the file as stored."""
    window = _window(frame)
    if min(window.h, window.w) < 48:
        return ()
    density = np.ascontiguousarray(frame.density[window.slices], np.float32)
    unusable = (frame.mask[window.slices] & int(Left.CLIPPED | Left.PERFORATION | Left.OUTSIDE_FILM)) != 0
    found = candidates(density, unusable)
    if not found:
        return bare_patches(frame, window)
    values = worth(np.array([c.evidence for c in found]))
    taken = sorted(((v, i) for i, v in enumerate(values) if v > TAKEN), reverse=True)
    chances = {id(found[i]): float(v) for v, i in taken}
    kept = apart([found[i] for _, i in taken])
    bare = bare_patches(frame, window)
    others = (_mark(candidate, chances[id(candidate)], frame, window) for candidate in kept)
    return (*bare, *(mark for mark in others if all(_overlap(mark.box, one.box) < 0.2 for one in bare)))


def _window(frame: DensityFrame) -> Rectangle:
    """The picture at working size."""
    x, y, w, h = (v / frame.shrink for v in frame.picture)
    height, width = frame.density.shape[:2]
    return Rectangle(round(x) + 1, round(y) + 1, round(w) - 2, round(h) - 2).clipped_to(width, height)


def candidates(density: np.ndarray, unusable: np.ndarray) -> list[Candidate]:
    """Every compact area that stands out of the net's answer at some height, measured. Areas are at half size."""
    chance = chance_of_marks(density)
    size = (chance.odds.shape[1], chance.odds.shape[0])
    half = cv2.resize(density, size, interpolation=cv2.INTER_AREA)
    if unusable.any():
        chance.odds[cv2.resize(unusable.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0] = -9
    found: list[Candidate] = []
    for level in LEVELS:
        found += _areas(chance, half, level)
    return found


def _areas(chance: Chance, half: np.ndarray, level: float) -> list[Candidate]:
    on = (chance.odds > level).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(on, connectivity=8)
    height, width = on.shape
    busy = np.log(float(on.mean()) + 1e-4)
    found = []
    for i in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[i])
        if area < 6 or area > LARGEST * on.size:
            continue
        pad = 4 + (w + h) // 8
        box = Rectangle(x - pad, y - pad, w + 2 * pad, h + 2 * pad).clipped_to(width, height)
        measured = _measured(box, labels[box.slices] == i, chance, half, level, busy)
        if measured is not None:
            found.append(measured)
    return found


def _measured(
    box: Rectangle, area: np.ndarray, chance: Chance, half: np.ndarray, level: float, busy: float
) -> Candidate | None:
    """A candidate with its step; None where nothing of the size of a mark was added."""
    odds, added = chance.odds[box.slices], chance.added[box.slices]
    inside = odds[area]
    if inside.max() < level + 0.5:
        return None
    taken = np.median(added[area], axis=0)
    if np.abs(taken).max() < 0.5 * SMALLEST:
        return None
    outline, solid = outline_of(area)
    step = step_at(half[box.slices], outline, area, taken)
    if np.abs(step.delta).max() < SMALLEST:
        return None
    near = cv2.dilate(area.astype(np.uint8), np.ones((7, 7), np.uint8)).astype(bool) & ~area
    around = odds[near] if near.any() else inside[:1]
    strongest = np.abs(taken).max()
    rows, columns = np.nonzero(area)
    w, h = int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1
    cut = box.x + columns.min() == 0 or box.y + rows.min() == 0
    cut |= box.x + columns.max() == chance.odds.shape[1] - 1 or box.y + rows.max() == chance.odds.shape[0] - 1
    texture = _texture(half[box.slices])
    evidence = np.array([
        inside.mean(), np.percentile(inside, 90), around.mean(), np.percentile(around, 90), np.log(float(len(inside))),
        np.log(strongest), np.abs(taken).min() / strongest, np.abs(np.median(taken)) / strongest, solid,
        np.log(max(w, h) / min(w, h)), np.log(len(inside) / (w * h)), level, float(cut), *step.evidence,
        np.log(added[area].std(axis=0).mean() / strongest + 0.02), busy, np.log(texture + 1e-3),
        np.log(strongest / (texture + 1e-3)),
    ], np.float32)  # fmt: skip
    return Candidate(box, area, step, evidence)


def _texture(patch: np.ndarray) -> float:
    """Mean change [D] of all layers' mean from pixel to pixel."""
    mean = patch.mean(axis=2)
    return float(np.abs(np.diff(mean, axis=0)).mean() + np.abs(np.diff(mean, axis=1)).mean())


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


def _mark(candidate: Candidate, chance: float, frame: DensityFrame, window: Rectangle) -> Mark:
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
    return Mark(
        box, None, None, rgb(step.delta), step.edge, kind, rgb(step.spread), None, points, round(chance, 3)
    )


def kind_of(box: Rectangle, area: int) -> str:
    """A short word for the shape: "streak" when four times longer than wide, "patch" when large, else "spot"."""
    long, short = max(box.w, box.h), max(1, min(box.w, box.h))
    if long > 4 * short:
        return "streak"
    return "patch" if area > 1000 else "spot"
