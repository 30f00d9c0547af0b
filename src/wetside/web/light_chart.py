"""A light's hue over the days it was seen, as places on an SVG: red and blue against green, and the bound of 0.01 D."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wetside.stages.negative.measured.calibration import MOVED

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 380, 190, 52, 12, 12, 26


def light_chart(seen: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Lines and points of red and blue [D] over the sights, the bounds, and the days of the first and the last."""
    most = max([2 * MOVED, *(abs(one[key]) * 1.15 for one in seen for key in ("red_green", "blue_green"))])

    def x(index: int) -> float:
        return round(LEFT + (index + 0.5) * (WIDTH - LEFT - RIGHT) / max(len(seen), 3), 1)

    def y(value: float) -> float:
        return round(TOP + (HEIGHT - TOP - BOTTOM) * (1 - value / most) / 2, 1)

    points = {
        layer: [(x(i), y(one[key])) for i, one in enumerate(seen)]
        for layer, key in (("r", "red_green"), ("b", "blue_green"))
    }
    return {
        "width": WIDTH, "height": HEIGHT, "left": LEFT, "floor": HEIGHT - BOTTOM, "zero": y(0.0), "points": points,
        "lines": {layer: " ".join(f"{px},{py}" for px, py in own) for layer, own in points.items()},
        "bounds": [(y(MOVED), f"+{MOVED}"), (y(-MOVED), f"−{MOVED}")],
        "days": [(x(i), seen[i]["happened_at"]) for i in sorted({0, len(seen) - 1})],
    }  # fmt: skip
