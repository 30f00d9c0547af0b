"""A strip read step by step: densities of a wedge, a grey scale or picked spots, as points for a curve or a control chart.

Answers: how dense is each step, and how sure is that? Needs a linear scan. Without the light (an open gate) the steps
count from the thinnest of them, and D-min cannot be said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.finding import CannotSay, Finding
from wetside.figures.place import Rectangle
from wetside.figures.scan import Scan
from wetside.laws.sensitometry.curve import average_gradient, fitted_curve
from wetside.stages.negative.measured.patches import spot
from wetside.stages.negative.measured.wedge import grid_cells, steps_along
from wetside.stages.negative.scanner.working import Light, working

How = Literal["found", "grid", "spots"]
NAMES = ("dmin", "ld", "md", "hd")


@dataclass(frozen=True)
class StepRead:
    """One step: number from the thinnest, its core, log exposure where told, density [D] and spread, or the reason."""

    step: int
    box: Rectangle
    log_h: float | None
    density: RGB | None
    spread: RGB | None
    reason: str = ""


@dataclass(frozen=True)
class StripReading:
    """The steps of one strip, how they were found, the skew [degrees] of a strip that was found."""

    steps: tuple[StepRead, ...]
    how: How
    skew: float | None
    absolute: bool


def strip_places(
    scan: Scan, light: Light, count: int, within: Rectangle | None, grid: tuple[int, int] | None
) -> tuple[tuple[Rectangle, ...], How, float | None] | CannotSay:
    """Where the steps lie, in pixels of the file: cells of a grid, or the steps found along the strip."""
    whole = Rectangle(0, 0, scan.width * scan.shrink, scan.height * scan.shrink)
    if grid is not None:
        return grid_cells(within or whole, *grid), "grid", None
    frame = working(scan, light)
    box = None
    if within is not None:
        inside = within.clipped_to(frame.width, frame.height)
        box = Rectangle(*(int(v / frame.shrink) for v in inside))
    found = steps_along(frame.density, count, box)
    if isinstance(found, CannotSay):
        return found
    boxes = tuple(Rectangle(*(round(v * frame.shrink) for v in b)) for b in found.boxes)
    return boxes, "found", found.skew


def strip_read(
    scan: Scan,
    boxes: Sequence[Rectangle],
    log_h: Sequence[float] | None,
    open_gate: Scan | None,
    light: Light,
) -> tuple[StepRead, ...]:
    """The steps at their places, thinnest first where log exposures are not told one by one."""
    read = []
    for number, box in enumerate(boxes, 1):
        found = spot(scan, box, open_gate, light.dark, light.ratio(scan))
        told = log_h[number - 1] if log_h is not None else None
        read.append(StepRead(number, box, told, found.density, found.spread, found.reason))
    return tuple(read)


def falls(steps: Sequence[StepRead]) -> bool:
    """Whether the steps run from dense to thin: their order against their density."""
    known = [(s.step, sum(s.density)) for s in steps if s.density is not None]
    return len(known) > 2 and float(np.corrcoef(np.array(known).T)[0, 1]) < 0


def above_thinnest(steps: Sequence[StepRead]) -> tuple[StepRead, ...]:
    """Densities counted from the thinnest step that can be read; the spread grows by that step's own."""
    known = [step for step in steps if step.density is not None]
    if not known:
        return tuple(steps)
    zero = min(known, key=lambda step: sum(step.density or ()))
    return tuple(
        step
        if step.density is None or step.spread is None or zero.density is None or zero.spread is None
        else replace(
            step,
            density=rgb(d - z for d, z in zip(step.density, zero.density)),
            spread=rgb(np.hypot(step.spread, zero.spread)),
        )
        for step in steps
    )


def gradients(steps: Sequence[StepRead]) -> RGB | None:
    """Average gradient of each layer from D-min + 0.15 over 1.0 log H; None where exposures or the range are lacking."""
    known = [s for s in steps if s.density is not None and s.log_h is not None]
    if len(known) < 6:
        return None
    x = np.array([s.log_h for s in known], float)
    found = []
    for layer in range(3):
        y = np.array([s.density[layer] for s in known if s.density is not None])
        gradient = average_gradient(fitted_curve(x, y - y.min()))
        if gradient is None:
            return None
        found.append(gradient)
    return rgb(found)


def control_densities(
    steps: Sequence[StepRead], numbers: Sequence[int], absolute: bool
) -> dict[str, RGB] | CannotSay:
    """D-min, LD, MD, HD and their spread from the steps that stand for them; D-min only against the light."""
    if len(numbers) != 4 or any(not 1 <= n <= len(steps) for n in numbers):
        return CannotSay(
            f"D-min, LD, MD and HD need four step numbers from 1 to {len(steps)}, found {', '.join(map(str, numbers)) or 'none'}",
            "--control-steps DMIN,LD,MD,HD, the same ones for every strip of a batch",
        )
    chosen = [steps[n - 1] for n in numbers]
    if bad := next((s for s in chosen if s.density is None), None):
        return CannotSay(f"step {bad.step} cannot be read: {bad.reason}", "another exposure of the scan")
    found = {name: s.density for name, s in zip(NAMES, chosen) if s.density is not None}
    if not absolute:
        found.pop("dmin")
    worst = np.max([s.spread for s in chosen if s.spread is not None], axis=0)
    return {**found, "spread": rgb(worst)}


def order_findings(steps: Sequence[StepRead], file: str) -> tuple[Finding, ...]:
    """Steps that cannot be read, and steps whose density falls where exposure rises."""
    found = [
        Finding("step-unreadable", "warning", file, f"step {s.step}: {s.reason}", "", str(tuple(s.box)))
        for s in steps
        if s.density is None
    ]
    levels = [(s.step, sum(s.density) / 3) for s in steps if s.density is not None]
    for (_, before), (number, after) in pairwise(levels):
        if after < before - 0.05:
            found.append(
                Finding("step-out-of-order", "warning", file, f"step {number} is thinner than the one before it",
                        "steps from the least exposed to the most", f"{after - before:+.2f} D")
            )  # fmt: skip
    return tuple(found)
