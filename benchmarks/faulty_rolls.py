"""Rolls with a planted cause, by a model of film that the ranking does not hold.

Here each fault acts on a curve: development multiplies density above base by a power of time, stains and haze add, silver
follows the image, exposure slides along the curve. The ranking knows only signs. Stocks, layer order, scanner crosstalk,
the run's scatter (alike in all layers, with heavy tails) and what the log forgot or got wrong are drawn afresh for each roll.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from wetside.laws.sensitometry.faults import FAULTS
from wetside.stages.causes.ranking.local import LOCAL
from wetside.stages.causes.ranking.model import CLEAN

#: Departure of LD or of HD−LD [D] that a control chart of this process acts on, H-24.01 table 1-5; smaller faults are none.
ACTION = 0.07
WHOLE = tuple(fault.name for fault in FAULTS)
AREA = "{}_area_m2_per_litre"


@dataclass(frozen=True)
class Made:
    """One simulated roll: what was planted, what the tool is given, and which evidence it has."""

    truth: str
    given: dict[str, Any]
    kept: str


@dataclass(frozen=True)
class Emulsion:
    """A stock and a scanner: curve per layer, and how much each camera channel sees of its neighbours."""

    base: np.ndarray
    gamma: np.ndarray
    soft: np.ndarray
    crosstalk: np.ndarray
    layers: np.ndarray

    def above(self, log_h: float | np.ndarray, speed: np.ndarray | float = 0.0) -> np.ndarray:
        """Density above base of the three layers [D] at a log exposure, a toe of its own softness."""
        x = (log_h + speed) / self.soft
        return self.gamma * self.soft * np.log1p(np.exp(x))


def emulsion(rng: np.random.Generator) -> Emulsion:
    """An invented stock under an invented light."""
    gamma = rng.uniform(0.44, 0.66, 3)
    leak = rng.uniform(0.0, 0.14, (3, 3))
    np.fill_diagonal(leak, rng.uniform(0.8, 1.05))
    return Emulsion(
        rng.uniform(0.1, 0.9, 3), gamma, rng.uniform(0.15, 0.32, 3), leak, rng.permutation(rng.uniform(0.7, 1.35, 3))
    )  # fmt: skip


LOW, HIGH = 0.35, 2.0


@dataclass(frozen=True)
class Developed:
    """What a process made of an emulsion: what it did to exposure, to the image, and what it laid over the film."""

    film: Emulsion
    speed: float
    gain: np.ndarray
    deep: np.ndarray
    fog: np.ndarray
    stain: np.ndarray
    halide: float
    silver: float

    def density(self, log_h: float | np.ndarray | None) -> np.ndarray:
        """Camera density (…, 3) [D] by r, g, b at log exposures (…, 3) or one for all layers; None: never exposed."""
        haze = self.halide * np.array([0.08, 0.25, 1.0]) + self.film.base
        if log_h is None:
            return (self.fog + self.stain + haze) @ self.film.crosstalk.T
        image = self.film.above(log_h, self.speed) * self.gain
        image = image * (1 - self.deep * image / (1 + image))
        mean = image.mean(axis=-1, keepdims=True)
        seen = image + self.fog * np.exp(-image) + self.stain + self.silver * mean / (0.6 + mean)
        return (seen + haze) @ self.film.crosstalk.T


def developed(film: Emulsion, fault: str, size: float, rng: np.random.Generator) -> Developed:
    """What a fault of a size (0 none, 1 large) makes of an emulsion."""
    speed, gain, deep = 0.0, np.ones(3), np.zeros(3)
    fog, stain, halide, silver = np.zeros(3), np.zeros(3), 0.0, 0.0
    each = 1 + (film.layers - 1) * rng.uniform(0.3, 1.0)
    grow = size * each * rng.uniform(0.5, 0.9)
    match fault:
        case "developer hot or long":
            gain, speed, fog = (1 + 0.24 * grow), 0.10 * size, 0.03 * size * rng.uniform(0.3, 1.6, 3)
        case "developer cold or short":
            gain, speed = 1 / (1 + 0.30 * grow), -0.12 * size
        case "low agitation":
            deep, speed = 0.16 * grow, -0.03 * size
        case "developer too strong":
            gain, fog, speed = 1 + 0.22 * grow, 0.08 * size * rng.uniform(0.6, 1.4, 3), 0.08 * size
        case "developer dilute or spent":
            blue = np.array([1.0, 1.0, rng.uniform(1.1, 2.0)])
            gain, speed = 1 / (1 + 0.26 * grow * blue), -0.10 * size
        case "developer oxidised":
            gain, speed = 1 / (1 + 0.28 * grow), -0.35 * size
            fog = 0.09 * size * np.array([0.3, 0.8, 1.0]) * rng.uniform(0.6, 1.4, 3)
        case "bleach or fixer in the developer":
            gain, fog, speed = 1 / (1 + 0.30 * grow), 0.08 * size * rng.uniform(0.7, 1.3, 3), -0.25 * size
        case "weak bleach: retained silver":
            silver = 0.20 * size * rng.uniform(0.7, 1.2)
            fog = np.full(3, 0.02 * size)
        case "weak bleach: leuco-cyan":
            deep = np.array([0.28 * size * rng.uniform(0.7, 1.2), 0, 0])
        case "weak fixer: retained halide":
            halide = 0.22 * size * rng.uniform(0.6, 1.2)
        case "developer carried into the bleach":
            stain = 0.18 * size * np.array([0.5, 0.9, 1.0]) * rng.uniform(0.6, 1.4, 3)
        case "old stock":
            fog = 0.16 * size * np.array([0.5, 0.65, 1.0]) * rng.uniform(0.7, 1.3, 3)
            speed, gain = -0.5 * size * rng.uniform(0.7, 1.2), 1 / (1 + 0.16 * grow)
        case "underexposed":
            speed = -rng.uniform(0.3, 0.9)
        case "overexposed":
            speed = rng.uniform(0.3, 0.7)
    return Developed(film, speed, np.asarray(gain), deep, np.asarray(fog), stain, halide, silver)


def strip(film: Emulsion, fault: str, size: float, rng: np.random.Generator) -> np.ndarray:
    """Camera densities (3, 3): D-min, LD, HD by r, g, b, of a strip that went through a fault of a size (0 none, 1 large)."""
    made = developed(film, fault, size, rng)
    return np.array([made.density(None), made.density(LOW), made.density(HIGH)])


def departures(film: Emulsion, fault: str, size: float, rng: np.random.Generator) -> np.ndarray:
    """Departures (3, 3) [D] of D-min, LD, HD−LD from the aim, with the run's scatter and the reading's."""
    moved = strip(film, fault, size, rng) - strip(film, CLEAN, 0.0, rng)
    moved = np.array([moved[0], moved[1], moved[2] - moved[1]])
    alike = rng.standard_t(5, (3, 1)) * np.array([[0.004], [0.011], [0.011]])
    return moved + alike + rng.standard_t(5, (3, 3)) * 0.008


def log_of(fault: str, size: float, rng: np.random.Generator) -> dict[str, Any]:
    """What the run's log tells: the truth of its fault, ordinary variation in all the rest, half of it never noted."""
    log: dict[str, Any] = {
        "developer_temperature_off_c": rng.normal(0, 0.2), "developer_time_off_s": rng.normal(0, 3.0),
        "missed_agitation": bool(rng.random() < 0.04), "late_drain": bool(rng.random() < 0.04), "pushed": False,
        "stop_bath_used": bool(rng.random() < 0.85), "developer_age_days": rng.gamma(2.0, 4.0),
        "film_age_years": rng.gamma(1.5, 1.2), **{AREA.format(b): rng.gamma(1.5, 0.06) for b in ("developer", "bleach", "fixer")},
    }  # fmt: skip
    sign = {"developer hot or long": 1, "developer cold or short": -1}.get(fault)
    if sign and rng.random() < 0.7:
        log["developer_temperature_off_c"] += sign * 2.2 * size * rng.uniform(0.7, 1.3)
    elif sign and rng.random() < 0.7:
        log["developer_time_off_s"] += sign * 35 * size * rng.uniform(0.7, 1.3)
    match fault:
        case "low agitation":
            log["missed_agitation"] = rng.random() < 0.8
        case "developer dilute or spent":
            log[AREA.format("developer")] += rng.uniform(0.1, 0.6)
        case "developer oxidised":
            log["developer_age_days"] += rng.uniform(8, 50)
        case "weak bleach: retained silver" | "weak bleach: leuco-cyan":
            log[AREA.format("bleach")] += rng.uniform(0.05, 0.6)
        case "weak fixer: retained halide":
            log[AREA.format("fixer")] += rng.uniform(0.05, 0.6)
        case "developer carried into the bleach":
            log["stop_bath_used"] = bool(rng.random() < 0.25)
        case "old stock":
            log["film_age_years"] = rng.uniform(5, 25)
    return {key: value for key, value in log.items() if rng.random() < 0.7}  # fmt: skip


@dataclass(frozen=True)
class Look:
    """How a local cause shows, not as the ranking words it: mean ΔD by channel, share of sharp edges, its repeat."""

    delta: tuple[float, float, float] = (0.1, 0.1, 0.1)
    sharp: float = 0.5
    repeat: str = "scattered"
    cast: str = ""
    answers: dict[str, tuple[str, ...]] = field(default_factory=dict)


WET = {
    "stays with": ("the film", "the film", "not looked"),
    "same place in every roll": ("no", "only one roll"),
}
SCANNER = {
    "stays with": ("the scanner", "not looked"),
    "same place in every roll": ("yes", "only one roll"),
    "in unexposed film": ("yes", "not looked"),
}
BARE = {"in unexposed film": ("yes", "not looked"), **WET}
LOOKS: dict[str, Look] = {
    "air bells in the developer": Look((-0.2, -0.2, -0.2), 0.9, "scattered", answers={"in unexposed film": ("no", "not looked"), **WET}),
    "turns touching in the developer": Look((-0.4, -0.45, -0.4), 0.9, "touching turns", answers=WET),
    "turns touching in bleach or fixer": Look((0.2, 0.25, 0.35), 0.8, "touching turns", answers=BARE),
    "splash or slow pour": Look((0.1, 0.12, 0.1), 0.2, "one angle", answers=WET),
    "surge at the perforations": Look((0.1, 0.1, 0.12), 0.15, "perforation", answers=WET),
    "drying marks or residue on the surface": Look((0.08, 0.08, 0.09), 0.8, "scattered", answers=BARE),
    "light leak in the camera": Look((0.3, 0.25, 0.2), 0.15, "frame", answers={"stays with": ("the frame", "not looked"), "in unexposed film": ("yes", "no", "not looked")}),
    "dust or dirt in camera or scanner": Look((-0.1, -0.1, -0.1), 0.9, "frame", answers=SCANNER),
    "tank filled too low": Look(cast="with density", answers={"in unexposed film": ("no", "not looked"), **WET}),
    "stain carried over the film": Look(cast="additive", answers=BARE),
    "light under the negative": Look(cast="light", answers=SCANNER),
}  # fmt: skip


def seen_of(cause: str, rng: np.random.Generator) -> dict[str, Any]:
    """Marks, pattern, cast and answers of a local cause; the pattern is undecided in a third of the rolls."""
    look = LOOKS[cause]
    given: dict[str, Any] = {
        "answers": {q: str(rng.choice(a)) for q, a in look.answers.items() if rng.random() < 0.5}
    }
    if look.cast:
        given["cast"] = {"found": True, "kind": look.cast}
        return given
    marks = []
    # Dirt in the camera's gate thins the negative, dirt on the scanner's glass darkens the scan.
    sign = rng.choice([-1, 1]) if cause.startswith("dust") else 1
    for _ in range(int(rng.integers(3, 16))):
        stray = rng.random() < 0.15
        delta = rng.normal(0, 0.1, 3) if stray else sign * np.array(look.delta) * rng.uniform(0.5, 1.6)
        edge = "sharp" if rng.random() < (0.5 if stray else look.sharp) else "soft"
        marks.append({"delta": dict(zip("rgb", delta.tolist())), "edge": edge})
    undecided = len(marks) < 8 or rng.random() < 0.3
    return {**given, "marks": marks, "pattern": "cannot say" if undecided else look.repeat}


def whole_roll(truth: str, kept: str, rng: np.random.Generator) -> Made:
    """A roll with a whole-roll fault that a control chart would act on, or none; `kept` is what evidence there is."""
    film = emulsion(rng)
    while True:
        size = rng.uniform(0.35, 1.0)
        moved = departures(film, truth, size, rng)
        if truth == CLEAN or np.abs(moved).max() >= ACTION:
            break
    rows = {name: dict(zip("rgb", row.tolist())) for name, row in zip(("dmin", "ld", "hd_ld"), moved)}
    if kept == "part of a strip":
        rows.pop(str(rng.choice(list(rows))))
        rows = {name: {c: v for c, v in row.items() if rng.random() < 0.8} for name, row in rows.items()}
    given: dict[str, Any] = {} if kept == "log alone" else {"departures": rows, "spread": 0.01}
    if kept != "strip alone":
        given["log"] = log_of(truth, size, rng)
    return Made(truth, given, kept)


def local_roll(truth: str, rng: np.random.Generator) -> Made:
    """A roll whose strip held, with marks or a cast."""
    clean = whole_roll(CLEAN, "strip and log", rng)
    return Made(truth, {**clean.given, **seen_of(truth, rng)}, "marks or a cast")


def made_rolls(count: int, seed: int) -> list[Made]:
    """About `count` rolls: half with strip and log, the rest with less, a fifth of marks and casts, a fifth clean."""
    rng = np.random.default_rng(seed)
    found = []
    for i in range(count):
        part = i % 10
        if part < 2:
            found.append(local_roll(LOCAL[(i // 10 * 2 + part) % len(LOCAL)].name, rng))
        elif part < 4:
            found.append(whole_roll(CLEAN, "strip and log", rng))
        else:
            kept = (
                "strip and log",
                "strip and log",
                "strip and log",
                "part of a strip",
                "strip alone",
                "log alone",
            )[part - 4]
            found.append(whole_roll(WHOLE[int(rng.integers(len(WHOLE)))], kept, rng))
    return found
