"""Where marks lay on a reel, from above, and along the film: places in mm in, coordinates of the drawing out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

SIZE, MIDDLE, OUTER = 440.0, 220.0, 196.0
#: Half height of a number's ground, radius of a mark, and how far from its mark a number may stand [units of the drawing].
HALF, DOT, REACHES = 9.0, 6.0, (19.0, 25.0, 32.0, 40.0, 50.0, 62.0, 76.0, 92.0)
#: Numbers farther than this from their mark are led to it by a line.
NEAR = 20.0
#: Width of a figure on the strip, at the size a phone shows it in.
FIGURE = 10.0


def reel_drawing(
    places: Sequence[float], core: float, pitch: float, length: float, core_end: str = "head"
) -> dict[str, Any]:
    """A reel from above, scaled to fill the drawing: its spiral, where places [mm from the head] lie on it, both ends.

    Every mark carries the same number on the reel and on the strip below it; numbers run from the head.
    """
    a = pitch / (2 * math.pi)
    most = max([length, *places]) + 1.0
    outer = math.sqrt(core * core + 2 * a * most)
    scale = OUTER / outer

    def at(s: float) -> tuple[float, float]:
        from_core = s if core_end == "head" else most - s
        r = math.sqrt(core * core + 2 * a * max(0.0, from_core))
        theta = (r - core) / a
        return round(MIDDLE + scale * r * math.cos(theta), 1), round(MIDDLE - scale * r * math.sin(theta), 1)

    steps = [most * i / 900 for i in range(901)]
    ordered = sorted(places)
    strip = [(round(20 + s / most * 600, 1), round(s)) for s in ordered]
    marks = [at(s) for s in ordered]
    head, tail = at(0.0), at(most)
    numbers = [str(index + 1) for index in range(len(ordered))]
    return {
        "spiral": " ".join(f"{x},{y}" for x, y in map(at, steps)), "marks": marks, "strip": strip,
        "on_reel": beside(marks, numbers), "on_strip": grouped([x for x, _ in strip]), "length": round(most),
        "core": round(core * scale, 1), "flange": round(outer * scale + 10, 1), "head": head, "tail": tail,
    }  # fmt: skip


def beside(points: Sequence[tuple[float, float]], texts: Sequence[str]) -> list[dict[str, Any]]:
    """Each text at the nearest free place beside its point, clear of all points and of the texts before it.

    One that has no free place is left out: its point keeps its number as a title.
    """
    placed: list[dict[str, Any]] = []
    for (x, y), text in zip(points, texts):
        half = (4 + 7 * len(text) + 6) / 2
        tries = ((x + reach * c, y + reach * s) for reach in REACHES for c, s in _directions(x, y))
        free = next((one for one in tries if _is_free(*one, half, points, placed)), None)
        if free is not None:
            led = math.dist(free, (x, y)) > NEAR
            placed.append(
                {
                    "x": round(free[0], 1),
                    "y": round(free[1], 1),
                    "half": half,
                    "text": text,
                    "from": (x, y),
                    "led": led,
                }
            )
    return placed  # fmt: skip


def _directions(x: float, y: float) -> list[tuple[float, float]]:
    """Sixteen directions, those along the film's turn first, where no neighbouring turn lies."""
    along = math.atan2(x - MIDDLE, y - MIDDLE)
    order = sorted(range(16), key=lambda k: min(k % 8, 8 - k % 8))
    return [(math.cos(-along + k * math.pi / 8), math.sin(-along + k * math.pi / 8)) for k in order]


def _is_free(
    x: float, y: float, half: float, points: Sequence[tuple[float, float]], placed: Sequence[dict[str, Any]]
) -> bool:
    """Whether a number's ground there lies within the drawing and covers neither a mark nor another number."""
    inside = half <= x <= SIZE - half and HALF <= y <= SIZE - HALF
    on_mark = any(abs(x - px) < half + DOT and abs(y - py) < HALF + DOT for px, py in points)
    return (
        inside
        and not on_mark
        and not any(abs(x - o["x"]) < half + o["half"] + 1 and abs(y - o["y"]) < 2 * HALF + 1 for o in placed)
    )


def grouped(xs: Sequence[float]) -> list[dict[str, Any]]:
    """Labels along a line in order: a number, or "4–6" at the middle of those that have no room for their own."""
    groups = [_label(xs, i, i) for i in range(len(xs))]
    i = 0
    while i + 1 < len(groups):
        first, second = groups[i], groups[i + 1]
        if second["x"] - first["x"] < FIGURE * (len(first["text"]) + len(second["text"]) + 1) / 2:
            groups[i : i + 2] = [_label(xs, first["first"], second["last"])]
            i = max(0, i - 1)
        else:
            i += 1
    return groups


def _label(xs: Sequence[float], first: int, last: int) -> dict[str, Any]:
    text = str(first + 1) if first == last else f"{first + 1}–{last + 1}"
    middle = sum(xs[first : last + 1]) / (last + 1 - first)
    return {"x": round(middle, 1), "text": text, "first": first, "last": last}
