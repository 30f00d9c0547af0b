"""Is the repeat of planted marks named? `python -m benchmarks.patterns [reels] [seed] [marks…] [easy] [along] [scattered]`: reels, gauges, errors drawn afresh.

`easy`: clean data, 12° of spread on the reel and a tenth of strays. `along`: nothing is told of places across the film.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks.causes import interval
from wetside.laws.reel.spiral import TURN, length_to_angle
from wetside.stages.causes.signs.pattern import ReelHint, Strip, pattern

REPEATS = ("one angle", "touching turns", "frame", "perforation", "scattered")
COUNTS = (8, 12, 16)


@dataclass(frozen=True)
class Drawn:
    """How marks are drawn: share of strays, spread on the reel [rad], spread across the film of what lies at one place."""

    stray: float = 0.2
    spread: float = float(np.radians(25))
    across: float = 0.05


PLAIN, EASY = Drawn(), Drawn(0.1, float(np.radians(12)))


@dataclass(frozen=True)
class Reeled:
    """A film on a reel: how it lies [mm], the true reel and what the caller believes of it."""

    strip: Strip
    core: float
    pitch: float
    hint: ReelHint
    noise: float


def reeled(rng: np.random.Generator, exact: bool) -> Reeled:
    """A film of one of four gauges; the believed core is off by up to 2 mm, the groove by 2 %; places by 0.3–1.5 mm."""
    frame, picture, hole, frames = [(38.0, 36.0, 4.75, 36), (38.0, 36.0, 4.75, 24), (25.35, 17.0, 25.35, 24), (19.0, 14.0, 7.605, 48)][rng.integers(4)]  # fmt: skip
    core, pitch = rng.uniform(9.0, 22.0), rng.uniform(2.2, 3.0)
    noise = 0.25 if exact else rng.uniform(0.3, 1.5)
    strip = Strip(rng.uniform(30, 120), frame, picture, frames, None if hole == frame else hole, None, 0.3)
    believed = ReelHint(
        core + float(np.clip(rng.normal(0, 1), -2, 2)), pitch * (1 + rng.normal(0, 0.01)), 1.0
    )
    return Reeled(strip, core, pitch, believed, noise)


def planted(
    repeat: str, count: int, film: Reeled, rng: np.random.Generator, drawn: Drawn = PLAIN
) -> tuple[list[float], list[float]]:
    """Places of so many marks along the film [mm] and across it [0 to 1]: strays, the rest at their repeat.

    Marks of the frame lie at one place across as well, and mates on touching turns do; others lie anywhere across.
    """
    at, phase = rng.uniform(0, TURN), rng.uniform(0, 1)
    most = film.strip.end
    turns = int(np.searchsorted(length_to_angle(np.arange(1, 40) * TURN, film.core, film.pitch), most))
    first = rng.integers(0, max(1, turns - 3))
    found: list[float] = []
    level, beside = rng.uniform(0.05, 0.95), list[float]()
    while len(found) < count:
        if repeat == "scattered" or rng.random() < drawn.stray:
            place, place_across = anywhere(film, rng), rng.random()
        elif repeat == "one angle":
            place = on_reel(at + TURN * rng.integers(0, turns + 1) + rng.normal(0, drawn.spread), film)
            place_across = rng.random()
        elif repeat == "touching turns":
            theta = rng.uniform(0, TURN) + TURN * (first + rng.integers(0, 3))
            pair = [
                on_reel(theta + k * TURN + rng.normal(0, 0.08), film) + rng.normal(0, film.noise)
                for k in (0, 1)
            ]
            found += [p for p in pair if film.strip.first < p < most][: count - len(found)]
            own = rng.random()
            beside += [own + rng.normal(0, drawn.across) for _ in range(len(found) - len(beside))]
            continue
        else:
            step = film.strip.pitch if repeat == "frame" else film.strip.perforation or film.strip.pitch
            # Of holes, those near a run of frames are struck: surge is a thing of a stretch, at any of its holes.
            place = film.strip.first + step * (phase + rng.integers(0, int((most - film.strip.first) / step)))
            place += rng.normal(0, 0.06 * step)
            place_across = level + rng.normal(0, drawn.across) if repeat == "frame" else rng.random()
        place += rng.normal(0, film.noise)
        if film.strip.first < place < most:
            found.append(float(place))
            beside.append(float(place_across))
    return found, np.clip(beside, 0, 1).tolist()


def anywhere(film: Reeled, rng: np.random.Generator) -> float:
    return float(
        film.strip.first
        + film.strip.pitch * rng.integers(film.strip.frames)
        + rng.uniform(0, film.strip.picture)
    )


def on_reel(theta: float, film: Reeled) -> float:
    return float(length_to_angle(theta, film.core, film.pitch))


def study(
    reels: int,
    seed: int,
    counts: Sequence[int] = COUNTS,
    drawn: Drawn = PLAIN,
    told: bool = True,
    repeats: Sequence[str] = REPEATS,
) -> dict[tuple[str, int], Counter[str]]:
    """Answers for each planted repeat and number of marks; `told`: whether places across the film are."""
    rng = np.random.default_rng(seed)
    answers: dict[tuple[str, int], Counter[str]] = {}
    for repeat in repeats:
        for count in counts:
            own = answers.setdefault((repeat, count), Counter())
            while sum(own.values()) < reels:
                film = reeled(rng, exact=repeat == "perforation")
                if repeat == "perforation" and film.strip.perforation is None:
                    continue
                along, across = planted(repeat, count, film, rng, drawn)
                own[pattern(along, film.strip, film.hint, rng, across if told else None).answer] += 1
    return answers


def wrong(repeat: str, answers: Counter[str]) -> int:
    return sum(n for answer, n in answers.items() if answer not in (repeat, "cannot say", "scattered"))


def main() -> None:
    """Print the table."""
    words = sys.argv[1:]
    numbers = [int(word) for word in words if word.isdigit()]
    reels, seed, counts = (*numbers, 40, 5)[0], (*numbers[1:], 5)[0], numbers[2:] or COUNTS
    repeats = ("scattered",) if "scattered" in words else REPEATS
    answers = study(reels, seed, counts, EASY if "easy" in words else PLAIN, "along" not in words, repeats)
    print(
        f"| planted | {' | '.join(f'{n} marks: right, wrong' for n in counts)} |\n|---|"
        + "---|" * len(counts)
    )
    for repeat in repeats:
        cells = []
        for count in counts:
            own = answers[repeat, count]
            good = own[repeat] + (own["cannot say"] if repeat == "scattered" else 0)
            cells.append(f"{good / sum(own.values()):.2f}, {wrong(repeat, own) / sum(own.values()):.2f}")
        print(f"| {repeat} | " + " | ".join(cells) + " |")
    every = [(repeat, own) for (repeat, _), own in answers.items()]
    slips, total = sum(wrong(r, own) for r, own in every), sum(sum(own.values()) for _, own in every)
    low, high = interval(slips, total)
    print(f"\nwrong in all: {slips / total:.3f} ({low:.3f}–{high:.3f}) of {total}")


if __name__ == "__main__":
    main()
