"""What the strips say of the process, and whether a clip test is due before a roll that cannot be shot again.

One strip out: repeat it. Two in a row: act. A process within its limits is left alone (h-24-01). No verdict of in or
out under 5 strips: with fewer, three-sigma limits raise an alarm on 6 runs in 100 and more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wetside.laws.chemistry.limits import SAY, Limit
from wetside.laws.statistics.control import FEWEST_FOR_VERDICT
from wetside.stages.control.chart import Chart

State = Literal["cannot say", "in control", "repeat", "act"]
DAYS_TRUSTED = 14.0


@dataclass(frozen=True)
class Verdict:
    """The state of the process, in a sentence, and the reasons one by one."""

    state: State
    say: str
    why: tuple[str, ...]


def beyond(
    departure: Mapping[str, np.ndarray], limits: Mapping[str, Sequence[Limit]]
) -> list[tuple[str, str, float, str]]:
    """(measure, channel, departure, state) of every figure that lies beyond its action limit."""
    found: list[tuple[str, str, float, str]] = []
    for name, of_layers in limits.items():
        for channel, value, limit in zip("rgb", departure[name], of_layers):
            if np.isfinite(value) and (state := limit.state(float(value))) != "within":
                found.append((name, channel, float(value), state))
    return found


def verdict(
    departures_: Sequence[Mapping[str, np.ndarray]],
    limits: Mapping[str, Sequence[Limit]],
    charts: Mapping[tuple[str, str], Chart],
) -> Verdict:
    """The verdict on the last strip, from the departures of all in order and the charts of the last."""
    if not departures_:
        return Verdict("cannot say", "No strip has been read yet.", ())
    out = [any(state == "beyond control" for *_, state in beyond(d, limits)) for d in departures_]
    why = _said_by_measure(beyond(departures_[-1], limits))
    drift = _said_by_chart(charts)
    count = len(departures_)
    if count < FEWEST_FOR_VERDICT:
        last = (
            "The last one lies beyond the published limits: repeat it before anything is changed."
            if out[-1]
            else "The last one lies within the published control limits."
        )
        return Verdict(
            "cannot say", f"{count} of the {FEWEST_FOR_VERDICT} strips that a verdict needs. {last}", why
        )
    if len(out) > 1 and out[-1] and out[-2]:
        return Verdict(
            "act",
            "Two strips in a row lie beyond the control limits: change one thing before the next roll.",
            why + drift,
        )
    if out[-1] or drift:
        return Verdict(
            "repeat",
            "The last strip is out: run another strip through the same baths before you change anything.",
            why + drift,
        )
    return Verdict("in control", "Within its limits: leave the process alone.", why)


def _said_by_measure(found: Sequence[tuple[str, str, float, str]]) -> tuple[str, ...]:
    """One sentence a measure: its layers beyond a limit, and the worse of the limits."""
    said = []
    for name in dict.fromkeys(one[0] for one in found):
        own = [one for one in found if one[0] == name]
        worst = "control" if any(state == "beyond control" for *_, state in own) else "action"
        layers = " ".join(f"{channel} {value:+.2f}" for _, channel, value, _ in own).replace("-", "−")
        said.append(f"{SAY[name]} {layers} D: beyond the {worst} limit")
    return tuple(said)


def _said_by_chart(charts: Mapping[tuple[str, str], Chart]) -> tuple[str, ...]:
    """One sentence for the layers of a measure whose charts say the same."""
    layers: dict[tuple[str, str], list[str]] = {}
    for (name, channel), chart in charts.items():
        if chart.out:
            layers.setdefault((name, chart.out), []).append(channel)
    return tuple(f"{SAY[name]} {' '.join(own)}: {out}" for (name, out), own in layers.items())


@dataclass(frozen=True)
class ClipTest:
    """Whether to risk a clip first, why, and how."""

    answer: Literal["clip first", "not needed"]
    why: str
    how: tuple[str, ...]


HOW = (
    "Cut a clip from the roll's end in the dark: three frames, one of them a grey scale or a well-exposed scene.",
    "Process it with a control strip beside it, in the baths and the tank that the roll will see.",
    "Dry and scan both; go on when the strip lies within its control limits and the clip's rebate reads like the batch's D-min.",
    "Beyond the limits: hold the roll in its can in the freezer; change one thing; run another strip.",
)  # fmt: skip


def clip_test(state: State, strips: int, days_since: float | None, developer_is_new: bool) -> ClipTest:
    """Whether a clip goes first before an irreplaceable roll. Common practice."""
    if state in ("act", "repeat"):
        return ClipTest("clip first", "the last strip is out", HOW)
    if not strips:
        return ClipTest("clip first", "no control strip has been read against an aim", HOW)
    if state == "cannot say" or strips < FEWEST_FOR_VERDICT:
        few = "one strip is" if strips == 1 else f"{strips} strips are"
        return ClipTest("clip first", f"{few} too few to call the process in control", HOW)
    if developer_is_new:
        return ClipTest("clip first", "the developer was mixed after the last strip", HOW)
    if days_since is not None and days_since > DAYS_TRUSTED:
        return ClipTest(
            "clip first", f"the last strip is {days_since:.0f} days old, and mixed developer ages", HOW
        )
    return ClipTest(
        "not needed", "the process is in control, and the last strip went through the same developer", HOW
    )
