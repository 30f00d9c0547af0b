"""The tank's two constants, from what its own log shows.

Unknown are the vessel's heat capacity C (which decides the drop at the pour) and the time constant τ (which decides
the drift). Prior: log-normal about what the scale and the material give. A bath that stands alone follows
T(t) = Ts + (T0 − Ts)·e^(−t/τ); T0 is the balance of bottle and vessel where both were read, else free. T0 enters
linearly and is integrated out exactly; C and τ are summed over a grid. Source: computed; the test plants tanks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wetside.figures.figure import Figure
from wetside.laws.thermal.tank import Tank

#: One spread of ln C and of ln τ before any log: how far tanks of one weight and material differ (inference).
PRIOR_CAPACITY, PRIOR_TIME = 0.3, 0.5
#: °C: a reading in the tank; how far the liquid is from one temperature just after the pour; a start not known.
READING, MIXING, UNKNOWN = 0.15, 0.2, 15.0
STEPS, REACH, LOOKS = 19, 4.0, 3

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Constants:
    """Heat capacity of the vessel [J/K] and time constant [s], each with spread, and how many readings made them."""

    vessel: Figure
    time: Figure
    readings: int = 0


@dataclass(frozen=True, slots=True)
class Standing:
    """One bath left alone: J/K of liquid, °C of bottle and vessel before (None: not read), °C around, (s, °C) read."""

    liquid: float
    bottle: float | None
    vessel: float | None
    around: float
    readings: tuple[tuple[float, float], ...]


def prior_constants(tank: Tank) -> Constants:
    """What weight and material give, before any log."""
    capacity, time = max(tank.vessel_capacity, 1.0), tank.time_constant
    return Constants(
        Figure(capacity, PRIOR_CAPACITY * capacity, "J/K", "computed"),
        Figure(time, PRIOR_TIME * time, "s", "computed"),
    )


def refitted(prior: Constants, baths: list[Standing]) -> Constants:
    """The posterior of both constants; the prior itself where no reading tells anything."""
    count = sum(len(bath.readings) for bath in baths)
    if count == 0:
        return prior
    middle = (math.log(prior.vessel.value), math.log(prior.time.value))
    found = middle, (PRIOR_CAPACITY, PRIOR_TIME)
    for _ in range(LOOKS):
        found = looked(baths, middle, *found)
    (c, t), (dc, dt) = found
    return Constants(
        Figure(math.exp(c), dc * math.exp(c), "J/K", "own log"),
        Figure(math.exp(t), dt * math.exp(t), "s", "own log"),
        count,
    )


def looked(baths: list[Standing], prior: Pair, about: Pair, width: Pair) -> tuple[Pair, Pair]:
    """(mean, spread) of (ln C, ln τ) over a grid of `width` spreads about a point; closer at every look."""
    across = [REACH * (2 * n / (STEPS - 1) - 1) for n in range(STEPS)]
    capacities = [about[0] + u * width[0] for u in across]
    times = [about[1] + v * width[1] for v in across]
    points = [(c, t) for t in times for c in capacities]
    scores: list[float] = []
    for t in times:
        fades = [(bath, faded(bath, math.exp(t))) for bath in baths]
        for c in capacities:
            far = ((c - prior[0]) / PRIOR_CAPACITY) ** 2 + ((t - prior[1]) / PRIOR_TIME) ** 2
            capacity = math.exp(c)
            scores.append(-far / 2 + sum(log_likelihood(bath, capacity, fade) for bath, fade in fades))
    top = max(scores)
    weights = [math.exp(score - top) for score in scores]
    (c, dc), (t, dt) = (mean_and_spread([p[n] for p in points], weights) for n in (0, 1))
    fine = REACH / (STEPS - 1)  # half a step of the grid: no spread is told below it
    spread = max(dc, fine * width[0]), max(dt, fine * width[1])
    return (c, t), spread


def faded(bath: Standing, time: float) -> tuple[float, float, float]:
    """(Σr², Σa·r, Σa²) of a bath's readings: a what is left of its start after t, r the reading less the room's part."""
    squares = along = left = 0.0
    for t, celsius in bath.readings:
        a = math.exp(-t / time)
        rest = celsius - bath.around * (1 - a)
        squares, along, left = squares + rest * rest, along + a * rest, left + a * a
    return squares, along, left


def log_likelihood(bath: Standing, capacity: float, fade: tuple[float, float, float]) -> float:
    """Of the readings of one bath, its start integrated out: a Gaussian with covariance σ²·1 + s²·a·aᵀ."""
    start, doubt = start_of(bath, capacity)
    whole, with_start, left = fade
    squares = whole - 2 * start * with_start + start * start * left
    along = with_start - start * left
    gain = doubt**2 * left / READING**2
    chi = squares / READING**2 - doubt**2 * along**2 / READING**4 / (1 + gain)
    return -(chi + math.log1p(gain)) / 2


def start_of(bath: Standing, capacity: float) -> tuple[float, float]:
    """(°C, spread) just after the pour."""
    if bath.bottle is None or bath.vessel is None:
        return bath.readings[0][1] if bath.readings else bath.around, UNKNOWN
    whole = bath.liquid + capacity
    return (bath.liquid * bath.bottle + capacity * bath.vessel) / whole, MIXING


def mean_and_spread(logs: list[float], weights: list[float]) -> Pair:
    """Mean and standard deviation of natural logs, each counted by its weight."""
    total = sum(weights)
    mean = sum(w * x for w, x in zip(weights, logs)) / total
    return mean, math.sqrt(sum(w * (x - mean) ** 2 for w, x in zip(weights, logs)) / total)
