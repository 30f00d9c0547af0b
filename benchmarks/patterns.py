"""Is the repeat of planted marks named? `python -m benchmarks.patterns [reels] [seed]`: reels, gauges and errors drawn afresh."""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np

from benchmarks.causes import interval
from wetside.laws.reel.spiral import TURN, length_to_angle
from wetside.stages.causes.pattern import ReelHint, Strip, pattern

REPEATS = ("one angle", "touching turns", "frame", "perforation", "scattered")
COUNTS = (8, 12, 16)
STRAY = 0.2


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


def planted(repeat: str, count: int, film: Reeled, rng: np.random.Generator) -> list[float]:
    """Places [mm] of so many marks: a fifth strays, 25° of spread on the reel, the rest at their repeat."""
    at, phase = rng.uniform(0, TURN), rng.uniform(0, 1)
    most = film.strip.end
    turns = int(np.searchsorted(length_to_angle(np.arange(1, 40) * TURN, film.core, film.pitch), most))
    first = rng.integers(0, max(1, turns - 3))
    found: list[float] = []
    while len(found) < count:
        if repeat == "scattered" or rng.random() < STRAY:
            place = anywhere(film, rng)
        elif repeat == "one angle":
            place = on_reel(at + TURN * rng.integers(0, turns + 1) + rng.normal(0, np.radians(25)), film)
        elif repeat == "touching turns":
            theta = rng.uniform(0, TURN) + TURN * (first + rng.integers(0, 3))
            pair = [
                on_reel(theta + k * TURN + rng.normal(0, 0.08), film) + rng.normal(0, film.noise)
                for k in (0, 1)
            ]
            found += [p for p in pair if film.strip.first < p < most][: count - len(found)]
            continue
        else:
            step = film.strip.pitch if repeat == "frame" else film.strip.perforation or film.strip.pitch
            # Of holes, those near a run of frames are struck: surge is a thing of a stretch, at any of its holes.
            place = film.strip.first + step * (phase + rng.integers(0, int((most - film.strip.first) / step)))
            place += rng.normal(0, 0.06 * step)
        place += rng.normal(0, film.noise)
        if film.strip.first < place < most:
            found.append(float(place))
    return found


def anywhere(film: Reeled, rng: np.random.Generator) -> float:
    return float(
        film.strip.first
        + film.strip.pitch * rng.integers(film.strip.frames)
        + rng.uniform(0, film.strip.picture)
    )


def on_reel(theta: float, film: Reeled) -> float:
    return float(length_to_angle(theta, film.core, film.pitch))


def study(reels: int, seed: int) -> dict[tuple[str, int], Counter[str]]:
    """Answers for each planted repeat and number of marks."""
    rng = np.random.default_rng(seed)
    answers: dict[tuple[str, int], Counter[str]] = {}
    for repeat in REPEATS:
        for count in COUNTS:
            own = answers.setdefault((repeat, count), Counter())
            while sum(own.values()) < reels:
                film = reeled(rng, exact=repeat == "perforation")
                if repeat == "perforation" and film.strip.perforation is None:
                    continue
                own[pattern(planted(repeat, count, film, rng), film.strip, film.hint, rng).answer] += 1
    return answers


def wrong(repeat: str, answers: Counter[str]) -> int:
    return sum(n for answer, n in answers.items() if answer not in (repeat, "cannot say", "scattered"))


def main() -> None:
    """Print the table."""
    answers = study(
        int(sys.argv[1]) if len(sys.argv) > 1 else 40, int(sys.argv[2]) if len(sys.argv) > 2 else 5
    )
    print(
        "| planted | "
        + " | ".join(f"{n} marks: right, wrong" for n in COUNTS)
        + " |\n|---|"
        + "---|" * len(COUNTS)
    )
    for repeat in REPEATS:
        cells = []
        for count in COUNTS:
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
