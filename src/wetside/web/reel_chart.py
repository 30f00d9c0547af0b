"""Where marks lay on a reel, from above, and along the film: places in mm in, coordinates of the drawing out."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

SIZE, MIDDLE, OUTER, FLANGE = 440.0, 220.0, 196.0, 206.0
#: Half of the shaded side [rad]: so many circular standard deviations of its marks, within these.
SPREADS, SMALLEST_SIDE, LARGEST_SIDE = 1.6, 0.35, 1.2
#: Mates lie at one angle when within this [rad] of a turn.
AT_ONE = 0.35
#: Half height of a number's ground, radius of a mark, and how far from its mark a number may stand [units of the drawing].
HALF, DOT, REACHES = 9.0, 6.0, (19.0, 25.0, 32.0, 40.0, 50.0, 62.0, 76.0, 92.0)
#: Numbers farther than this from their mark are led to it by a line.
NEAR = 20.0
#: Of more marks than this only those get a number that has room close by; half width of a word.
FEW, WORD = 16, 20.0
#: Width of a figure on the strip, at the size a phone shows it in.
FIGURE = 10.0


def reel_drawing(
    places: Sequence[float],
    core: float,
    pitch: float,
    length: float,
    core_end: str = "head",
    answer: str = "",
) -> dict[str, Any]:
    """A reel from above, scaled to fill the drawing: its spiral, where places [mm from the head] lie on it, both ends.

    Every mark carries the same number on the reel and on the strip below it; numbers run from the head. Where the marks are
    said (`answer`) to gather at one angle that side is shaded, where turns touched mates are joined.
    """
    most = max([length, *places]) + 1.0
    reel = Reel(core, pitch, most, core_end)
    ordered = sorted(places)
    strip = [(on_strip(s, most), round(s)) for s in ordered]
    angles = [reel.angle(s) for s in ordered]
    marks = [reel.at(s) for s in ordered]
    numbers = [str(index + 1) for index in range(len(ordered))]
    side = gathered(angles) if answer == "one angle" else None
    return {
        "spiral": " ".join(f"{x},{y}" for x, y in (reel.at(most * i / 900) for i in range(901))),
        "band": round(min(6.0, 0.45 * pitch * reel.scale), 1), "marks": marks, "strip": strip,
        "turns": [int(angle // math.tau) + 1 for angle in angles],
        "side": side,
        "mates": mates(angles, marks) if answer == "touching turns" else [],
        "on_reel": beside(marks, numbers, [side["word"]] if side else []), "on_strip": grouped([x for x, _ in strip]), "length": round(most),
        "core": round(core * reel.scale, 1), "flange": FLANGE, "head": reel.at(0.0), "tail": reel.at(most),
    }  # fmt: skip


@dataclass(frozen=True)
class Reel:
    """A spiral reel [mm] with so much film on it, and which end of that lies at the core."""

    core: float
    pitch: float
    film: float
    core_end: str

    @property
    def scale(self) -> float:
        """Units of the drawing a mm."""
        return OUTER / self._radius(self.film)

    def _radius(self, from_core: float) -> float:
        return math.sqrt(self.core**2 + self.pitch / math.pi * max(0.0, from_core))

    def _from_core(self, s: float) -> float:
        return s if self.core_end == "head" else self.film - s

    def angle(self, s: float) -> float:
        """Angle [rad] along the spiral, from the core, of a place [mm from the head]."""
        return (self._radius(self._from_core(s)) - self.core) * math.tau / self.pitch

    def at(self, s: float) -> tuple[float, float]:
        """A place [mm from the head] on the drawing."""
        return _polar(self.scale * self._radius(self._from_core(s)), self.angle(s))


def _polar(r: float, theta: float) -> tuple[float, float]:
    return round(MIDDLE + r * math.cos(theta), 1), round(MIDDLE - r * math.sin(theta), 1)


def gathered(angles: Sequence[float]) -> dict[str, Any]:
    """The sector in which marks at angles [rad] gather, as a path round their circular mean, and where its word stands."""
    resultant = sum(cmath.exp(1j * theta) for theta in angles) / len(angles)
    middle, length = cmath.phase(resultant), min(abs(resultant), 1 - 1e-9)
    half = min(LARGEST_SIDE, max(SMALLEST_SIDE, SPREADS * math.sqrt(-2 * math.log(length or 1e-9))))
    (x0, y0), (x1, y1) = (_polar(FLANGE, middle + turn) for turn in (-half, half))
    word = _polar(FLANGE + 16, middle)
    return {"path": f"M{MIDDLE},{MIDDLE} L{x0},{y0} A{FLANGE},{FLANGE} 0 0 0 {x1},{y1} Z", "word": word}


def mates(angles: Sequence[float], marks: Sequence[tuple[float, float]]) -> list[tuple[float, ...]]:
    """Lines (x, y, x, y) between marks that lie one turn apart at one angle."""
    pairs = combinations(range(len(angles)), 2)
    return [(*marks[i], *marks[j]) for i, j in pairs if abs(abs(angles[i] - angles[j]) - math.tau) < AT_ONE]


def on_strip(s: float, most: float) -> float:
    """Where a place [mm from the head] lies on the drawing of the film."""
    return round(20 + s / most * 600, 1)


def beside(
    points: Sequence[tuple[float, float]], texts: Sequence[str], kept: Sequence[tuple[float, float]] = ()
) -> list[dict[str, Any]]:
    """Each text at the nearest free place beside its point, clear of all points, of words `kept`, and of the texts before it.

    One that has no free place is left out, and of many one that would lie far from its point: a tap tells its number.
    """
    placed: list[dict[str, Any]] = []
    reaches = REACHES if len(points) <= FEW else [reach for reach in REACHES if reach <= NEAR]
    words = [{"x": x, "y": y, "half": WORD} for x, y in kept]
    for (x, y), text in zip(points, texts):
        half = (4 + 7 * len(text) + 6) / 2
        tries = ((x + reach * c, y + reach * s) for reach in reaches for c, s in _directions(x, y))
        free = next((one for one in tries if _is_free(*one, half, points, [*words, *placed])), None)
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
