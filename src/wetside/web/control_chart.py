"""The control chart of one measure as places on an SVG: departures of r, g, b over the strips, with their limits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 380, 230, 46, 12, 12, 26
ASIDE = {"r": -5.0, "g": 0.0, "b": 5.0}


def control_chart(measure: str, found: dict[str, Any]) -> dict[str, Any] | None:
    """Lines, markers, limits and expected ranges of a measure; None where no strip knows it."""
    known = [
        (n, s["departures"][measure])
        for n, s in enumerate(found["strips"], 1)
        if s["departures"][measure]["r"] is not None
    ]
    if not known:
        return None
    limits = (found["limits"] or {}).get(measure)
    charts = found["charts"].get(measure, {})
    reach = _reach(known, limits, charts)
    count = len(found["strips"])

    def x(number: int, channel: str = "g") -> float:
        step = (WIDTH - LEFT - RIGHT) / max(count, 4)
        return round(LEFT + (number - 0.5) * step + ASIDE[channel] * min(1.0, step / 40), 1)

    def y(value: float) -> float:
        return round(TOP + (HEIGHT - TOP - BOTTOM) * (1 - (value / reach + 1) / 2), 1)

    points = {c: [(x(n, c), y(d[c]), _out(d[c], limits, c)) for n, d in known] for c in "rgb"}
    step = next(s for s in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 5.0) if reach / s <= 4.5)
    ticks = [round(k * step, 2) for k in range(-int(reach / step), int(reach / step) + 1)]
    return {
        "width": WIDTH, "height": HEIGHT, "left": LEFT, "floor": HEIGHT - BOTTOM, "zero": y(0.0),
        "lines": {c: " ".join(f"{px},{py}" for px, py, _ in own) for c, own in points.items()}, "points": points,
        "ticks_y": [(y(t), f"{t:+.2f}".replace("-", "−") if t else "0") for t in ticks],
        "ticks_x": [(x(n), str(n)) for n in range(1, count + 1, max(1, -(-count // 10)))],
        "limits": _lines(limits, y), "ranges": _ranges(charts, known[-1][0], x, y),
    }  # fmt: skip


def _reach(
    known: Sequence[tuple[int, dict[str, float]]], limits: dict[str, Any] | None, charts: dict[str, Any]
) -> float:
    values = [abs(d[c]) for _, d in known for c in "rgb"]
    values += [limits["control"]["b"]] if limits else []
    # An interval from two or three runs can be far wider than anything seen: it is cut off, not followed.
    most = 1.7 * max([*values, 0.02])
    values += [
        min(most, abs(one[k])) for one in charts.values() for k in ("low", "high") if one[k] is not None
    ]
    return 1.12 * max([*values, 0.04])


def _out(value: float, limits: dict[str, Any] | None, channel: str) -> bool:
    if limits is None:
        return False
    size = value if limits["one_sided"] else abs(value)
    return bool(size > limits["control"][channel] + 1e-9)


def _lines(limits: dict[str, Any] | None, y: Any) -> list[tuple[float, str, str]]:
    """Height, kind and word of each limit line: those of the layer with the least contrast."""
    if limits is None:
        return []
    found = []
    apart = abs(y(min(limits["action"].values())) - y(min(limits["control"].values()))) > 13
    for kind in ("action", "control"):
        value = min(limits[kind].values())
        found.append((y(value), kind, kind if apart or kind == "control" else ""))
        if not limits["one_sided"]:
            found.append((y(-value), kind, ""))
    return found


def _ranges(charts: dict[str, Any], last: int, x: Any, y: Any) -> dict[str, tuple[float, float, float]]:
    """Where the last strip was expected: place, top and bottom, kept inside the picture."""
    floor = HEIGHT - BOTTOM
    return {
        c: (x(last, c), max(TOP, y(one["high"])), min(floor, y(one["low"])))
        for c, one in charts.items()
        if one["low"] is not None
    }
