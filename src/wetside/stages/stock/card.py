"""A stock's card: curves from a grey scale in several frames, speed, working exposure index, crossover, filters.

One grey card at many exposures cannot part flare or shutter error from the curve; a grey scale in three frames or more
can: each frame's error of exposure is an unknown with a prior, found together with the curve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from wetside.figures.curves import Curves
from wetside.figures.finding import CannotSay
from wetside.laws.sensitometry.curve import Curve, average_gradient, fitted_curve
from wetside.laws.sensitometry.speed import (
    THRESHOLD,
    log_speed_spread,
    mired_shift,
    speed_degrees,
    speed_iso5800,
    thirds,
)

STOP = 0.30103
SHUTTER = 0.07
METER = 0.05
DRAWS = 40
#: Least spread of a patch [D] that is believed.
LEAST = 0.004


@dataclass(frozen=True, slots=True)
class Step:
    """One patch: frame number, nominal log exposure [log10 lx·s], density above base r g b [D], its spread."""

    frame: int
    log_h: float
    density: tuple[float, float, float]
    spread: float


def stock_card(name: str, steps: Sequence[Step], balance: str = "unknown") -> dict[str, Any] | CannotSay:
    """The `wetside.stock/1` object, or what would help."""
    frames = sorted({step.frame for step in steps})
    if len(steps) < 6:
        return CannotSay(
            f"{len(steps)} patches of known exposure; at least 6 are needed",
            "a six-step grey scale in three to five frames, each a stop apart",
        )
    shifts = frame_shifts(steps)
    curves = curves_of(steps, shifts)
    draws = _draws(steps, shifts, curves)
    points = [_threshold(curve) for curve in curves]
    if any(p is None for p in points):
        return CannotSay(
            "no layer's curve passes D-min + 0.15 within these exposures",
            "a frame two stops under, so that the toe is seen",
        )
    log_h = np.array(points, float)
    layer = _threshold_spread(draws)
    speed = speed_iso5800(log_h[1], log_h.max())
    green_slowest = bool(np.argmax(log_h) == 1)
    log_sd = float(
        np.hypot(log_speed_spread(layer, green_slowest), np.hypot(SHUTTER / np.sqrt(len(frames)), METER))
    )
    low, high = speed * 10 ** (-1.645 * log_sd), speed * 10 ** (1.645 * log_sd)
    return {
        "schema": "wetside.stock/1", "stock": name, "frames": len(frames),
        "curve": {c: _points(curve, [drawn[i] for drawn in draws]) for i, (c, curve) in enumerate(zip("rgb", curves))},
        "average_gradient": {c: _figure(average_gradient(curve)) for c, curve in zip("rgb", curves)},
        "speed": {"value": speed, "degrees": speed_degrees(speed), "spread_stops": log_sd / STOP, "by": "the construction of ISO 5800 (from memory)"},
        "working_ei": {"value": speed, "rounded": thirds(speed) if log_sd / STOP < 0.34 else None, "interval_90": [low, high]},
        "crossover": crossover(curves, log_h), "filters": filters(balance),
        "frame_errors_stops": {str(f): float(s / STOP) for f, s in zip(frames, shifts)},
        "cannot_say": None, "would_help": "" if len(frames) >= 3 else "the same grey scale in three frames: with fewer, shutter error and curve cannot be parted",
    }  # fmt: skip


def _figure(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def frame_shifts(steps: Sequence[Step], rounds: int = 6, start: np.ndarray | None = None) -> np.ndarray:
    """Error of exposure [log10] of each frame against the common curve, shrunk towards none by the shutter's prior."""
    frames = sorted({step.frame for step in steps})
    shifts = np.zeros(len(frames)) if start is None else start
    if len(frames) < 2:
        return shifts
    penalty = None
    for _ in range(rounds):
        curve = fitted_curve(*_points_of(steps, shifts, 1), penalty)
        penalty = curve.penalty if start is not None else None
        shifts = np.array(
            [_shift(curve, [s for s in steps if s.frame == f], shifts[i]) for i, f in enumerate(frames)]
        )
        shifts -= shifts.mean()
    return shifts


def _shift(curve: Curve, own: Sequence[Step], now: float) -> float:
    tried = now + np.linspace(-0.06, 0.06, 25)
    log_h, green = np.array([s.log_h for s in own]), np.array([s.density[1] for s in own])
    misfit = (curve.at(log_h + tried[:, None]) - green) / 0.01
    cost = (misfit**2).sum(axis=1) + (tried / SHUTTER) ** 2
    return float(tried[int(np.argmin(cost))])


def _points_of(steps: Sequence[Step], shifts: np.ndarray, layer: int) -> tuple[np.ndarray, np.ndarray]:
    index = {f: i for i, f in enumerate(sorted({s.frame for s in steps}))}
    return (
        np.array([s.log_h + shifts[index[s.frame]] for s in steps]),
        np.array([s.density[layer] for s in steps]),
    )


def curves_of(steps: Sequence[Step], shifts: np.ndarray) -> list[Curve]:
    """The three layers' curves."""
    return [fitted_curve(*_points_of(steps, shifts, layer)) for layer in range(3)]


def _draws(steps: Sequence[Step], shifts: np.ndarray, curves: Sequence[Curve]) -> list[list[Curve]]:
    """The three curves found anew from densities drawn within their spread, the frames' errors found anew with them."""
    rng = np.random.default_rng(len(steps))
    return [_drawn(steps, shifts, curves, rng) for _ in range(DRAWS)]


def _drawn(
    steps: Sequence[Step], shifts: np.ndarray, curves: Sequence[Curve], rng: np.random.Generator
) -> list[Curve]:
    wrong = rng.normal(0, 1, (len(steps), 3)) * [[max(s.spread, LEAST)] for s in steps]
    moved = [
        replace(s, density=(s.density[0] + w[0], s.density[1] + w[1], s.density[2] + w[2]))
        for s, w in zip(steps, wrong)
    ]
    anew = frame_shifts(moved, 2, shifts)
    return [fitted_curve(*_points_of(moved, anew, i), curve.penalty) for i, curve in enumerate(curves)]


def _threshold(curve: Curve) -> float | None:
    return curve.exposure_at(THRESHOLD)


def _threshold_spread(draws: Sequence[Sequence[Curve]]) -> float:
    """sd of log H at the threshold, of the layer that varies most; a draw that does not reach it counts for nothing."""
    found = [[h for drawn in draws if (h := _threshold(drawn[layer])) is not None] for layer in range(3)]
    return max(float(np.std(one)) for one in found)


def _points(curve: Curve, draws: Sequence[Curve]) -> list[dict[str, float]]:
    spread = np.std([drawn.at(curve.log_h) for drawn in draws], axis=0)
    return [{"log_h": round(float(x), 5), "density": round(float(d), 5), "spread": round(float(s), 5)}
            for x, d, s in zip(curve.log_h[::5], curve.density[::5], spread[::5])]  # fmt: skip


def crossover(curves: Sequence[Curve], log_h: np.ndarray) -> dict[str, Any]:
    """How far red and blue run from green [stops] between 2 stops under and 3 over mid-scale, balanced in the middle."""
    middle = float(log_h[1]) + 1.0
    offsets = np.arange(-2, 4) * STOP
    green = average_gradient(curves[1]) or 0.55
    table = np.array([[float(c.at(middle + o)) for o in offsets] for c in curves])
    balanced = table - table[:, [2]]
    slopes = [average_gradient(c) or green for c in curves]
    stops = [((balanced[i] / slopes[i]) - (balanced[1] / slopes[1])) / STOP for i in (0, 2)]
    return {"stops_from_middle": [-2, -1, 0, 1, 2, 3], "red_minus_green": [round(float(v), 3) for v in stops[0]],
            "blue_minus_green": [round(float(v), 3) for v in stops[1]]}  # fmt: skip


def filters(balance: str) -> list[dict[str, Any]]:
    """What to carry: the conversion between the light and the stock's balance, in mireds."""
    cases = {"tungsten": ("daylight 5500 K", 5500.0, 3200.0), "daylight": ("tungsten 3200 K", 3200.0, 5500.0)}
    if balance not in cases:
        return []
    say, light, film = cases[balance]
    return [{"under": say, "mired_shift": round(mired_shift(light, film), 1), "costs_stops": round(2 / 3, 2) if balance == "tungsten" else 2.0,
             "source": "common practice"}]  # fmt: skip


def curves_for_printing(card: dict[str, Any]) -> Curves:
    """The card's curves as the positive takes them."""

    def column(channel: str, key: str) -> tuple[float, ...]:
        return tuple(float(point[key]) for point in card["curve"][channel])

    log_h, density, spread = ({c: column(c, key) for c in "rgb"} for key in ("log_h", "density", "spread"))
    return Curves(log_h, density, spread, str(card["stock"]))
