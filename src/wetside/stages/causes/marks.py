"""Marks: local density differences that the picture does not explain.

Theory. A stain, a bell or a streak adds (or takes) the same density over its area and leaves what lies under it alone;
a thing in the picture replaces what lies under it. So a candidate is a compact area that stands out of its
surroundings, and the evidence that it is a mark is that the *step* at its outline is alike all the way round, in
every layer, while the surroundings vary as they will. Candidates come from residuals against medians of several widths;
each is judged by its step's agreement, its contrast against the texture around it, and its layers: most things in a
picture darken all layers together, so a step in one layer alone needs less proof.
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

CODE = 0.008  # density of one code of the 8-bit images the medians run on
WIDTHS = (25, 71)  # median widths at working size
SMALLEST = 0.03
#: Directions in (r, g, b) that residuals are looked at along: all layers, each alone.
DIRECTIONS = np.array([[1, 1, 1], [2, -1, -1], [-1, 2, -1], [-1, -1, 2]], float)
DIRECTIONS = DIRECTIONS / np.linalg.norm(DIRECTIONS, axis=1, keepdims=True)

#: Logistic weights of the evidence, its constant last, and the score from which a candidate counts as a mark. Fitted on
#: marks planted in photographs; on photographs kept out of the fit 0.94 of what is taken is a mark (docs/studies.md).
WEIGHTS = np.array(
    [1.842, -1.315, -3.303, 0.602, -1.098, -0.236, -0.793, 3.383, 0.595, 1.588, 1.754, -15.262]
)
TAKEN = 0.8


@dataclass(frozen=True)
class Candidate:
    """A compact area (bool mask within `box` of the working image) and what was measured on it."""

    box: Rectangle
    area: np.ndarray
    delta: np.ndarray
    scatter: np.ndarray
    sharpness: float
    evidence: np.ndarray
    score: float


def marks_in_frame(frame: DensityFrame) -> tuple[Mark, ...]:
    """Marks of one frame, strongest evidence first; box and outline in pixels of the file as stored."""
    window = _window(frame)
    if min(window.h, window.w) < 24:
        return ()
    density = np.ascontiguousarray(frame.density[window.slices])
    usable = (frame.mask[window.slices] & int(Left.CLIPPED | Left.PERFORATION | Left.OUTSIDE_FILM)) == 0
    found = [c for c in candidates(density, usable) if c.score > TAKEN]
    kept = _apart(sorted(found, key=lambda c: -c.score))
    bare = bare_patches(frame, window)
    others = (_mark(candidate, frame, window) for candidate in kept)
    return (*bare, *(mark for mark in others if all(_overlap(mark.box, one.box) < 0.2 for one in bare)))


def _window(frame: DensityFrame) -> Rectangle:
    """The picture at working size."""
    x, y, w, h = (v / frame.shrink for v in frame.picture)
    height, width = frame.density.shape[:2]
    return Rectangle(round(x) + 1, round(y) + 1, round(w) - 2, round(h) - 2).clipped_to(width, height)


def candidates(density: np.ndarray, usable: np.ndarray) -> list[Candidate]:
    """Every compact area that stands out of a median background in some direction of the layers, measured."""
    smooth = cv2.GaussianBlur(density, (0, 0), 0.7)
    texture = _texture(smooth)
    found: list[Candidate] = []
    for width in WIDTHS:
        residual = smooth - background(smooth, width)
        for index, direction in enumerate(DIRECTIONS):
            along = cv2.transform(residual, direction[None].astype(np.float32))
            noise = 1.4826 * float(np.median(np.abs(along[::4, ::4])))
            for sign in (1, -1):
                found += _areas(sign * along, noise, smooth, texture, usable, index)
    return found


def background(density: np.ndarray, width: int) -> np.ndarray:
    """Median over `width` × `width`, from 8-bit codes of 0.008 D; wide ones on a reduced image."""
    reduce = max(1, width // 13)
    small = density
    if reduce > 1:
        size = (max(1, density.shape[1] // reduce), max(1, density.shape[0] // reduce))
        small = cv2.resize(density, size, interpolation=cv2.INTER_AREA)
    codes = np.clip(small / CODE, 0, 255).astype(np.uint8)
    middle = cv2.medianBlur(codes, (width // reduce) | 1).astype(np.float32) * CODE
    if reduce > 1:
        middle = cv2.resize(middle, (density.shape[1], density.shape[0]), interpolation=cv2.INTER_LINEAR)
    return middle + CODE / 2


def _texture(density: np.ndarray) -> np.ndarray:
    """Local standard deviation [D] of all layers' mean over 31 × 31 pixels."""
    mean = cv2.transform(density, np.full((1, 3), 1 / 3, np.float32))
    fine = mean - cv2.blur(mean, (9, 9))
    return np.sqrt(np.maximum(cv2.blur(fine * fine, (31, 31)), 0))


def _areas(
    along: np.ndarray, noise: float, density: np.ndarray, texture: np.ndarray, usable: np.ndarray, index: int
) -> list[Candidate]:
    threshold = max(SMALLEST * 0.8, 4.0 * noise)
    on = ((along > np.maximum(threshold, 2.0 * texture)) & usable).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(on, connectivity=4)
    height, total = on.shape
    x, y, w, h, area = (stats[1:, i] for i in range(5))
    compact = (area >= 40) & (area < 0.06 * on.size) & (np.minimum(w, h) >= 4) & (area > 0.3 * w * h)
    found = []
    for i in np.flatnonzero(compact) + 1:
        x0, y0, width, tall = (int(v) for v in stats[i, :4])
        pad = max(7, (width + tall) // 8)
        box = Rectangle(x0 - pad, y0 - pad, width + 2 * pad, tall + 2 * pad).clipped_to(total, height)
        measured = _measured(box, labels[box.slices] == i, density, texture, index)
        if measured is not None:
            found.append(measured)
    return found


def _measured(
    box: Rectangle, area: np.ndarray, density: np.ndarray, texture: np.ndarray, index: int
) -> Candidate | None:
    """Steps across the outline of an area, sampled along its normals."""
    outlines, _ = cv2.findContours(area.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(outlines, key=len)[:, 0, :].astype(np.float32)
    solid = _solidity(area, outline)
    if len(outline) < 12 or solid < 0.6:
        return None
    inner, outer, far = _sampled(density[box.slices], outline, area)
    if inner is None or outer is None or far is None:
        return None
    delta = np.median(inner - far, axis=0)
    along = (inner - outer) @ DIRECTIONS[index]
    middle = float(np.median(along))
    if np.abs(delta).max() < SMALLEST or abs(middle) < SMALLEST * 0.6:
        return None
    scatter = 1.4826 * np.median(np.abs(inner - far - delta), axis=0) + 0.004
    evidence = _evidence(inner, outer, far, delta, index, area, solid, float(texture[box.slices].mean()))
    if evidence[2] < 0.8:
        return None
    sharpness = abs(middle) / (abs(float(np.median((inner - far) @ DIRECTIONS[index]))) + 1e-3)
    return Candidate(
        box, area, delta, scatter, sharpness, evidence, float(evidence @ WEIGHTS[:-1] + WEIGHTS[-1])
    )


def _evidence(
    inner: np.ndarray,
    outer: np.ndarray,
    far: np.ndarray,
    delta: np.ndarray,
    index: int,
    area: np.ndarray,
    solid: float,
    texture: float,
) -> np.ndarray:
    """What speaks for a mark, as numbers: agreement and contrast of the step, its sign's constancy, shape, layers."""
    direction = DIRECTIONS[index]
    along = (inner - far) @ direction
    middle = float(np.median(along))
    deviation = 1.4826 * float(np.median(np.abs(along - middle))) + 0.006
    around = float(((far - np.median(far, axis=0)) @ direction).std()) + 0.006
    within = float(((inner - np.median(inner, axis=0)) @ direction).std()) + 0.006
    same = float((np.sign(along) == np.sign(middle)).mean())
    spread = float(delta.std() / (np.abs(delta).mean() + 0.01))
    worst = float(np.abs(along - middle).max()) + 0.006
    return np.array([
        np.log(abs(middle) / deviation), np.log(abs(middle) / around), same, np.log(solid), float(index > 0),
        np.log(abs(middle)), np.log(texture + 0.005), min(spread, 2.0), np.log(within / around),
        np.log(float(area.sum())), np.log(abs(middle) / worst),
    ])  # fmt: skip


def _sampled(
    patch: np.ndarray, outline: np.ndarray, area: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray] | tuple[None, None, None]:
    """Densities 1.5 px inside, 3 px and 5 px outside the outline, for the points where all three lie in the patch."""
    distance = cv2.distanceTransform(area.astype(np.uint8), cv2.DIST_L2, 3) - cv2.distanceTransform(
        1 - area.astype(np.uint8), cv2.DIST_L2, 3
    )
    distance = cv2.GaussianBlur(distance, (0, 0), 1.5)
    gx, gy = cv2.Sobel(distance, cv2.CV_32F, 1, 0), cv2.Sobel(distance, cv2.CV_32F, 0, 1)
    points = outline[:: max(1, len(outline) // 64)]
    at = points.astype(int)
    normal = np.stack([gx[at[:, 1], at[:, 0]], gy[at[:, 1], at[:, 0]]], axis=1)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True) + 1e-6
    depth = float(min(3.0, max(1.0, distance.max() * 0.6)))
    samples = [points + normal * d for d in (depth, -2.5, -5.0)]
    height, width = patch.shape[:2]
    inside = np.all(
        [(s >= 0).all(axis=1) & (s[:, 0] <= width - 1) & (s[:, 1] <= height - 1) for s in samples], axis=0
    )
    if inside.sum() < 8:
        return None, None, None
    values = [
        cv2.remap(
            patch, s[inside, :1].astype(np.float32), s[inside, 1:].astype(np.float32), cv2.INTER_LINEAR
        )[:, 0]
        for s in samples
    ]
    return values[0], values[1], values[2]


def _solidity(area: np.ndarray, outline: np.ndarray) -> float:
    """Area over the area of its convex hull."""
    hull = cv2.contourArea(cv2.convexHull(outline))
    return float(min(1.0, (float(area.sum()) + 1) / (hull + len(outline) / 2 + 1)))


def _apart(candidates_: list[Candidate]) -> list[Candidate]:
    """The best candidate of each place: no two kept boxes overlap by more than a fifth."""
    kept: list[Candidate] = []
    for candidate in candidates_:
        if all(_overlap(candidate.box, other.box) < 0.2 for other in kept):
            kept.append(candidate)
    return kept


def _overlap(a: Rectangle, b: Rectangle) -> float:
    """Shared area over the smaller box."""
    w = min(a.x + a.w, b.x + b.w) - max(a.x, b.x)
    h = min(a.y + a.h, b.y + b.h) - max(a.y, b.y)
    return max(0, w) * max(0, h) / max(1, min(a.w * a.h, b.w * b.h))


def _mark(candidate: Candidate, frame: DensityFrame, window: Rectangle) -> Mark:
    rows, columns = np.nonzero(candidate.area)
    scale = frame.shrink
    left, top = window.x + candidate.box.x, window.y + candidate.box.y
    box = Rectangle(
        round((left + columns.min()) * scale), round((top + rows.min()) * scale),
        max(1, round((columns.max() - columns.min() + 1) * scale)), max(1, round((rows.max() - rows.min() + 1) * scale)),
    )  # fmt: skip
    outlines, _ = cv2.findContours(
        candidate.area.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE
    )
    outline = max(outlines, key=len)[:, 0, :]
    points = tuple(
        (round((left + int(px)) * scale), round((top + int(py)) * scale)) for px, py in outline[::1][:40]
    )
    edge = "sharp" if candidate.sharpness > 0.8 else "soft"
    return Mark(
        box,
        None,
        None,
        rgb(candidate.delta),
        edge,
        kind_of(box, candidate),
        rgb(candidate.scatter),
        None,
        points,
    )  # type: ignore[arg-type]


def kind_of(box: Rectangle, candidate: Candidate) -> str:
    """A short word for the shape: "streak" when four times longer than wide, "patch" when large, else "spot"."""
    long, short = max(box.w, box.h), max(1, min(box.w, box.h))
    if long > 4 * short:
        return "streak"
    return "patch" if candidate.area.sum() > 4000 else "spot"
