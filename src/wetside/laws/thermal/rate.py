"""How fast development goes at a temperature, and what time at the aim a logged temperature is worth.

Rate relative to the aim: k(T) = Q10^((T − aim) / 10). Prior Q10 2.5, spread 0.25 (inference; none published).
Time moves the mean density only: the balance between the layers is not repaired by it.
"""

from __future__ import annotations

import math
from itertools import pairwise

Reading = tuple[float, float]  # (time in s, °C)

#: Past this part of the aimed time the tool advises against mending temperature by time.
TIME_LIMIT = 0.15


def rate(temperature: float, aim: float, q10: float = 2.5) -> float:
    """Speed of development against its speed at `aim` °C. Valid within ±5 °C of the aim."""
    return q10 ** ((temperature - aim) / 10)


def equivalent_time(readings: list[Reading], start: float, end: float, aim: float, q10: float = 2.5) -> float:
    """Seconds at the aim that the bath from `start` to `end` was worth.

    Before the first reading the first holds, after the last the last; between them the temperature runs
    straight, and its rate is integrated exactly. No reading at all: the time itself.
    """
    if end <= start:
        return 0.0
    if not readings:
        return end - start
    known = sorted(readings)
    knots = sorted({start, end, *(t for t, _ in known if start < t < end)})
    total = 0.0
    for left, right in pairwise(knots):
        k1 = rate(temperature_at(known, left), aim, q10)
        k2 = rate(temperature_at(known, right), aim, q10)
        total += (right - left) * logarithmic_mean(k1, k2)
    return total


def logarithmic_mean(a: float, b: float) -> float:
    """∫ of an exponential that runs from a to b over a unit interval: (b − a) / ln(b / a)."""
    return a if math.isclose(a, b, rel_tol=1e-9) else (b - a) / math.log(b / a)


def temperature_at(known: list[Reading], when: float) -> float:
    """°C at a time, straight between sorted readings and flat outside them."""
    if when <= known[0][0]:
        return known[0][1]
    for (t1, c1), (t2, c2) in pairwise(known):
        if when <= t2:
            return c1 + (c2 - c1) * (when - t1) / (t2 - t1) if t2 > t1 else c2
    return known[-1][1]


def time_needed(
    readings: list[Reading], start: float, seconds: float, aim: float, q10: float = 2.5
) -> tuple[float, bool]:
    """(film time in s that is worth `seconds` at the aim, whether the stated limit was met on the way).

    The answer moves at most `TIME_LIMIT` of the aimed time.
    """
    low, high = seconds * (1 - TIME_LIMIT), seconds * (1 + TIME_LIMIT)
    if equivalent_time(readings, start, start + low, aim, q10) >= seconds:
        return low, True
    if equivalent_time(readings, start, start + high, aim, q10) <= seconds:
        return high, True
    for _ in range(40):
        middle = (low + high) / 2
        if equivalent_time(readings, start, start + middle, aim, q10) < seconds:
            low = middle
        else:
            high = middle
    return (low + high) / 2, False
