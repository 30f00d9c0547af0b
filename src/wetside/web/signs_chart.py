"""What the film shows beside what each cause would do, both as nine bars in one order: D-min, LD, HD−LD, each r, g, b."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

NAMES = (("dmin", "D-min"), ("ld", "LD"), ("hd_ld", "HD−LD"))
STEP, GROUP, LEFT = 28, 104, 12


def bars_at(index: int) -> float:
    """Left edge of one of the nine bars."""
    return LEFT + index // 3 * GROUP + index % 3 * STEP


def seen_chart(departures: Mapping[str, Sequence[float | None]], scatter: float) -> dict[str, Any] | None:
    """Bars of departures from the aim [D] over the band of a run's own scatter; None where nothing was measured."""
    values = [value for name, _ in NAMES for value in departures.get(name, (None,) * 3)]
    known = [abs(value) for value in values if value is not None]
    if not known:
        return None
    most = max(*known, 2 * scatter, 0.05)
    middle, reach = 74.0, 42.0
    bars = []
    for index, value in enumerate(values):
        tall = 0.0 if value is None else abs(value) / most * reach
        up = (value or 0.0) >= 0
        top = middle - tall if up else middle
        bars.append({
            "channel": "rgb"[index % 3], "value": value, "x": bars_at(index), "y": round(top, 1), "h": round(max(tall, 0.8), 1),
            "text_y": round(top - 5 if up else top + tall + 11, 1),
        })  # fmt: skip
    names = [(LEFT + 1 + group * GROUP + STEP * 1.4, word) for group, (_, word) in enumerate(NAMES)]
    return {"bars": bars, "names": names, "band": (round(middle - scatter / most * reach, 1), round(2 * scatter / most * reach, 1)), "middle": middle}  # fmt: skip


def expected_chart(
    signs: Sequence[float], departures: Mapping[str, Sequence[float | None]], scatter: float
) -> list[dict[str, Any]]:
    """Nine small bars of what a cause would do; each says whether what was measured agrees, speaks against, or is silent."""
    values = [value for name, _ in NAMES for value in departures.get(name, (None,) * 3)]
    bars = []
    for index, (sign, value) in enumerate(zip(signs, values)):
        tall = min(1.0, abs(sign)) * 14
        bars.append({
            "x": round(bars_at(index) / 2, 1), "y": 16 - tall if sign > 0 else 16.0, "h": max(tall, 1.0),
            "says": verdict(sign, value, scatter),
        })  # fmt: skip
    return bars


def verdict(sign: float, value: float | None, scatter: float) -> str:
    """ "agrees", "against" or "silent": within a run's own scatter a density says nothing of a sign."""
    if value is None or abs(value) <= scatter:
        return "silent"
    if abs(sign) < 0.25:
        return "against" if abs(value) > 2 * scatter else "silent"
    return "agrees" if value * sign > 0 else "against"
