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


def reel_drawing(
    places: Sequence[float], core: float, pitch: float, length: float, core_end: str = "head"
) -> dict[str, Any]:
    """A reel from above, scaled to fill the drawing: its spiral, where places [mm from the head] lie on it, both ends.

    Every mark carries the same number on the reel and on the strip below it; numbers run from the head.
    """
    a = pitch / (2 * math.pi)
    most = max([length, *places]) + 1.0
    outer = math.sqrt(core * core + 2 * a * most)
    scale = 196 / outer

    def at(s: float) -> tuple[float, float]:
        from_core = s if core_end == "head" else most - s
        r = math.sqrt(core * core + 2 * a * max(0.0, from_core))
        theta = (r - core) / a
        return round(220 + scale * r * math.cos(theta), 1), round(220 - scale * r * math.sin(theta), 1)

    steps = [most * i / 900 for i in range(901)]
    ordered = sorted(places)
    strip = [(round(20 + s / most * 600, 1), round(s)) for s in ordered]
    marks = [at(s) for s in ordered]
    head, tail = at(0.0), at(most)
    return {
        "spiral": " ".join(f"{x},{y}" for x, y in map(at, steps)), "marks": marks, "strip": strip,
        "on_reel": numbered(marks, 17.0), "on_strip": numbered([(x, 0.0) for x, _ in strip], 22.0), "length": round(most),
        "core": round(core * scale, 1), "flange": round(outer * scale + 10, 1), "head": head, "tail": tail,
    }  # fmt: skip


def numbered(points: Sequence[tuple[float, float]], room: float) -> list[dict[str, Any]]:
    """Labels of points in order: its number, or "4–6" at the middle of those that lie nearer than `room` to one another."""
    groups: list[list[int]] = []
    for index, point in enumerate(points):
        if groups and math.dist(point, points[groups[-1][-1]]) < room:
            groups[-1].append(index)
        else:
            groups.append([index])
    found = []
    for group in groups:
        x, y = (sum(points[i][k] for i in group) / len(group) for k in (0, 1))
        text = f"{group[0] + 1}–{group[-1] + 1}" if len(group) > 1 else str(group[0] + 1)
        found.append({"x": round(x, 1), "y": round(y, 1), "text": text, "wide": 4 + 7 * len(text)})
    return found


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
