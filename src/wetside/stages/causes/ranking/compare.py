"""What changed between two runs or rolls, what most plausibly matters first.

A figure's difference is given as the density it might move in the mid-tones [D]: for the developer from the rate law and an
elasticity of 0.7 (computed, 0.5–0.9), for the rest a prior set by hand (inference). A thing that merely is another one has
no size: it is ranked by what such a thing can do at most, and said to be of unknown size.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wetside.laws.thermal.rate import rate

ELASTICITY, MIDDLE = 0.7, 1.0
MATTERS = 0.01


@dataclass(frozen=True, slots=True)
class Fact:
    """What one run or roll tells of one thing: its value, and the line of the book it rests on."""

    value: Any
    line: str = ""


@dataclass(frozen=True, slots=True)
class Kind:
    """How a fact is worded, what a difference of it can do, and to what."""

    say: str
    touches: str
    per_unit: float | None = None
    most: float = 0.0


KINDS: dict[str, Kind] = {
    "developer_c": Kind("developer, °C", "density and contrast"),
    "developer_s": Kind("developer, film time in s", "density and contrast"),
    "developer_age_days": Kind("developer's age, days", "density, stain", 0.004),
    "developer_area_m2_per_litre": Kind("film through the developer before, m² a litre", "density, contrast", 0.25),
    "bleach_area_m2_per_litre": Kind("film through the bleach before, m² a litre", "retained silver", 0.35),
    "fixer_area_m2_per_litre": Kind("film through the fixer before, m² a litre", "haze", 0.30),
    "film_age_years": Kind("film's age, years", "base and speed", 0.012),
    "room_c": Kind("room, °C", "drift of the tank", 0.003),
    "process": Kind("process", "everything", most=0.5),
    "stock": Kind("stock", "base, curve", most=0.4),
    "stop_bath_used": Kind("stop bath", "stain from carried developer", most=0.15),
    "missed_agitation": Kind("agitation missed", "contrast, streaks", most=0.10),
    "late_drain": Kind("late drain", "density", most=0.10),
    "tank_fill_short": Kind("filled short", "one edge of the film", most=0.20),
    "developer": Kind("developer bottle", "density, stain", most=0.08),
    "bleach": Kind("bleach bottle", "retained silver", most=0.10),
    "fixer": Kind("fixer bottle", "haze", most=0.10),
    "prebath": Kind("prebath bottle", "backing", most=0.03),
    "stop": Kind("stop bottle", "stain", most=0.03),
    "reel": Kind("reel", "marks, touching turns", most=0.05),
    "tank": Kind("tank", "agitation, warmth", most=0.05),
    "thermometer": Kind("thermometer", "temperature", most=0.06),
    "camera": Kind("camera", "exposure, light leaks", most=0.15),
    "light": Kind("light of the scan", "evenness, colour", most=0.05),
    "scanner": Kind("scanner", "densities", most=0.05),
}  # fmt: skip


def differences(first: Mapping[str, Fact], second: Mapping[str, Fact]) -> dict[str, Any]:
    """Differences ranked by plausible effect, what is alike, and what one of the two does not tell."""
    found, alike, unknown = [], [], []
    for name, kind in KINDS.items():
        a, b = first.get(name), second.get(name)
        if a is None and b is None:
            continue
        if a is None or b is None or a.value is None or b.value is None:
            unknown.append(kind.say)
            continue
        if _same(a.value, b.value):
            alike.append(kind.say)
            continue
        effect, known = effect_of(name, kind, a.value, b.value)
        found.append(
            {"what": kind.say, "first": a.value, "second": b.value, "effect_d": round(effect, 3), "sized": known,
             "touches": kind.touches, "lines": [one for one in (a.line, b.line) if one]}
        )  # fmt: skip
    found.sort(key=lambda one: -abs(one["effect_d"]))
    return {"differences": found, "alike": alike, "unknown": unknown}


def effect_of(name: str, kind: Kind, first: Any, second: Any) -> tuple[float, bool]:
    """Density [D] that a difference may move at 1 D above base, signed second minus first; and whether it has a size."""
    if name == "developer_c":
        return ELASTICITY * MIDDLE * (rate(second, first) - 1), True
    if name == "developer_s":
        return ELASTICITY * MIDDLE * math.log(max(second, 1.0) / max(first, 1.0)), True
    if kind.per_unit is not None:
        return kind.per_unit * (second - first), True
    return kind.most, False


def _same(a: Any, b: Any) -> bool:
    if isinstance(a, bool) or isinstance(b, bool) or not isinstance(a, int | float):
        return bool(a == b)
    return math.isclose(a, b, rel_tol=1e-3, abs_tol=1e-3)


def in_words(found: Mapping[str, Any], first: str, second: str) -> str:
    """One sentence: what most plausibly matters, that nothing noted does, or that too little is noted of both."""
    large = [one for one in found["differences"] if abs(one["effect_d"]) >= MATTERS]
    told, all_ = len(found["alike"]) + len(found["differences"]), len(found["unknown"])
    if not large and told <= all_:
        return f"cannot say what changed between {first} and {second}: the book tells {told} of {told + all_} things of both, and none of those differs enough to matter"
    if not large:
        return f"nothing that the book tells of {first} and {second} differs enough to matter"
    best = large[0]
    size = (
        f"{first} about {abs(best['effect_d']):.2f} D {'thinner' if best['effect_d'] > 0 else 'denser'} by it"
        if best["sized"]
        else f"up to {best['effect_d']:.2f} D, its size unknown"
    )
    return (
        f"{best['what']}: {shown(best['first'])} against {shown(best['second'])}, {size} ({best['touches']})"
    )


def shown(value: Any) -> str:
    """A fact's value in words: a whole number as one, another to one decimal or, under one, to two."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, float):
        return str(value)
    return f"{value:.{0 if value.is_integer() else 1 if abs(value) >= 1 else 2}f}"
