"""Is the true exposure index inside the stated 90 % interval? `python -m benchmarks.stock_cards [trials]`.

Grey scales are exposed through film whose curve is a softened ramp, not the spline that is fitted; shutters, meters and
patch readings err at random, in some conditions more than the card takes them to.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from benchmarks.causes import interval
from wetside.figures.finding import CannotSay
from wetside.laws.sensitometry.speed import THRESHOLD, grey_exposure, speed_iso5800
from wetside.stages.stock.card import STOP, Step, stock_card

#: A printed scale of six greys, reflection density; the middle one is a mid-grey.
SCALE = (0.05, 0.25, 0.50, 0.75, 1.10, 1.50)
MIDDLE = 0.745
FINE = np.linspace(-7, 4, 22_001)


@dataclass(frozen=True, slots=True)
class Condition:
    """How a grey scale was exposed and read: frames a stop apart, sd of shutter and meter [log10], of a patch [D]."""

    say: str
    frames: int
    shutter: float = 0.07
    meter: float = 0.05
    patch: float = 0.006
    flare: float = 0.0


CONDITIONS = (
    Condition("five frames", 5),
    Condition("three frames", 3),
    Condition("three frames, a worse shutter (0.12)", 3, shutter=0.12),
    Condition("five frames, patches to 0.015 D", 5, patch=0.015),
    Condition("five frames, 0.5 % camera flare", 5, flare=0.005),
)


@dataclass(frozen=True, slots=True)
class Film:
    """Three layers as softened ramps: where each begins [log10 lx·s], slope [D], softness of toe and shoulder [log10]."""

    toe: np.ndarray
    slope: np.ndarray
    soft: np.ndarray
    reach: float

    def density(self, log_h: np.ndarray) -> np.ndarray:
        """Density above base (…, 3) at log exposures (…)."""
        x = np.asarray(log_h)[..., None]

        def rise(at: np.ndarray) -> np.ndarray:
            return self.soft * np.logaddexp(0, (x - at) / self.soft)

        return self.slope * (rise(self.toe) - rise(self.toe + self.reach))

    def index(self) -> float:
        """Its speed by the construction of ISO 5800, read off the curve itself."""
        over = self.density(FINE) >= THRESHOLD
        reached = FINE[over.argmax(axis=0)]
        return speed_iso5800(float(reached[1]), float(reached.max()))


def film(rng: np.random.Generator) -> Film:
    """An invented stock of index 30 to 800."""
    middle = rng.uniform(-3.0, -1.6)
    return Film(
        middle + rng.normal(0, 0.06, 3),
        np.array([0.50, 0.56, 0.60]) * rng.uniform(0.85, 1.15),
        rng.uniform(0.12, 0.3, 3),
        rng.uniform(2.6, 3.6),
    )


def exposed(rng: np.random.Generator, stock: Film, condition: Condition) -> list[Step]:
    """Readings of the scale in frames a stop apart, metered at an index within a stop of the true one."""
    rated = stock.index() * 2 ** rng.uniform(-1, 1)
    meter = rng.normal(0, condition.meter)
    first = -(condition.frames // 2)
    steps = []
    for frame in range(condition.frames):
        shutter = rng.normal(0, condition.shutter)
        nominal = grey_exposure(rated) + STOP * (first + frame) - (np.array(SCALE) - MIDDLE)
        light = 10**nominal
        true = np.log10(light + condition.flare * light.mean()) + meter + shutter
        read = stock.density(true) + rng.normal(0, condition.patch, (len(SCALE), 3))
        steps += [
            Step(frame, float(h), (float(d[0]), float(d[1]), float(d[2])), condition.patch)
            for h, d in zip(nominal, read)
        ]
    return steps


def covered(trials: int, condition: Condition, seed: int) -> tuple[int, int, list[float]]:
    """Trials whose interval held the true index, trials that could say, and errors of the index [stops]."""
    rng = np.random.default_rng(seed)
    held, said, errors = 0, 0, []
    for _ in range(trials):
        stock = film(rng)
        card = stock_card("invented", exposed(rng, stock, condition))
        if isinstance(card, CannotSay):
            continue
        low, high = card["working_ei"]["interval_90"]
        said += 1
        held += low <= stock.index() <= high
        errors.append(float(np.log2(card["working_ei"]["value"] / stock.index())))
    return held, said, errors


def main(trials: int = 200) -> None:
    """Print coverage, its own 95 % interval, and the errors, for each condition."""
    for number, condition in enumerate(CONDITIONS):
        held, said, errors = covered(trials, condition, 100 + number)
        low, high = interval(held, said)
        print(
            f"{condition.say:<38} {held / said:.2f} ({low:.2f}–{high:.2f}) of {said}/{trials}; "
            f"error {np.mean(errors):+.2f} ± {np.std(errors):.2f} stop",
            flush=True,
        )


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
