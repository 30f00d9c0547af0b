"""Figures as SVG coordinates: a curve, a reel seen from above. Drawing only; nothing is computed about film here."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

WIDTH, HEIGHT, LEFT, BOTTOM = 640, 360, 44, 34


def curve_chart(curve: dict[str, list[dict[str, float]]]) -> dict[str, Any]:
    """Paths, markers, ticks of a density–log exposure chart for r, g, b."""
    points = [p for channel in curve.values() for p in channel]
    low, high = min(p["log_h"] for p in points), max(p["log_h"] for p in points)
    top = max(1.0, math.ceil(max(p["density"] for p in points) * 2) / 2)

    def x(value: float) -> float:
        return round(LEFT + (value - low) / (high - low) * (WIDTH - LEFT - 12), 1)

    def y(value: float) -> float:
        return round(HEIGHT - BOTTOM - value / top * (HEIGHT - BOTTOM - 12), 1)

    lines = {c: " ".join(f"{x(p['log_h'])},{y(p['density'])}" for p in own) for c, own in curve.items()}
    bands = {
        c: " ".join(
            [f"{x(p['log_h'])},{y(p['density'] + 2 * p['spread'])}" for p in own]
            + [f"{x(p['log_h'])},{y(max(0, p['density'] - 2 * p['spread']))}" for p in reversed(own)]
        )
        for c, own in curve.items()
    }
    marks = {c: [(x(p["log_h"]), y(p["density"])) for p in own[3::8]] for c, own in curve.items()}
    ticks_x = [(x(v / 2), f"{v / 2:.1f}") for v in range(math.ceil(low * 2), math.floor(high * 2) + 1)]
    ticks_y = [(y(v / 2), f"{v / 2:.1f}") for v in range(int(top * 2) + 1)]
    return {
        "lines": lines,
        "bands": bands,
        "marks": marks,
        "ticks_x": ticks_x,
        "ticks_y": ticks_y,
        "width": WIDTH,
        "height": HEIGHT,
        "left": LEFT,
        "floor": HEIGHT - BOTTOM,
        "threshold": y(0.15),
    }


def area_charts(along: Any, across: Any, edges: Any, counts: Any) -> list[dict[str, Any]]:
    """Three small charts of an area: density along the film, across it, and the histogram, each with r, g, b lines."""
    width, left, floor = 320, 36, 126
    low = min(float(along.min()), float(across.min()))
    high = max(float(along.max()), float(across.max()), low + 0.05)

    def lines(xs: Sequence[float], ys: Any, bottom: float, top: float) -> dict[str, str]:
        first, last = xs[0], max(xs[-1], xs[0] + 1e-9)
        return {
            c: " ".join(
                f"{left + (x - first) / (last - first) * (width - left - 8):.1f},{floor - (float(y) - bottom) / (top - bottom) * (floor - 10):.1f}"
                for x, y in zip(xs, ys[:, i])
            )
            for i, c in enumerate("rgb")
        }

    def ends(values: tuple[float, float], where: tuple[float, float]) -> list[tuple[float, str]]:
        return [(place, f"{value:.2f}") for place, value in zip(where, values)]

    upright = ends((low, high), (floor, 14))
    return [
        {"name": "Density along the film", "lines": lines(range(len(along)), along, low, high), "ticks_y": upright, "ticks_x": []},
        {"name": "Density across the film", "lines": lines(range(len(across)), across, low, high), "ticks_y": upright, "ticks_x": []},
        {
            "name": "How often each density occurs",
            "lines": lines([float(e) for e in edges[:-1]], counts, 0.0, max(1e-6, float(counts.max()))),
            "ticks_y": [], "ticks_x": ends((float(edges[0]), float(edges[-1])), (left, width - 8)),
        },
    ]  # fmt: skip
