"""The strips of a batch in the order they were processed, their aim, and how each departs from it.

Answers: what did the process do, run by run, against the runs that were good? Needs strips of one batch read with one
kind of density. Without a reference or a named good run there is no aim, and it says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wetside.book.line import Line
from wetside.figures.finding import CannotSay
from wetside.laws.chemistry.limits import MEASURES

READ = 0.004


@dataclass(frozen=True)
class StripOfRun:
    """One strip: its line, when it was processed, its run, and densities (3,) [D] by measure; NaN where unknown."""

    line: str
    at: float
    run: str
    reference: bool
    density: str
    values: dict[str, np.ndarray]
    spread: np.ndarray
    light: str = ""


@dataclass(frozen=True)
class Aim:
    """What a strip of the batch should read (3,) [D] by measure; the lines it rests on."""

    values: dict[str, np.ndarray]
    lines: tuple[str, ...]
    say: str


def batches(lines: Sequence[Line]) -> list[str]:
    """Batches that strips were read of or made, the one used last first."""
    used = [str(one.body["batch"]) for one in lines if one.kind in ("strip batch", "strip")]
    return list(dict.fromkeys(reversed(used)))


def strips_of(lines: Sequence[Line], batch: str) -> list[StripOfRun]:
    """The batch's strips in the order of their runs: a run's own time where it is known, else the reading's."""
    began = {str(one.body["run"]): one.happened_at for one in lines if one.kind == "run"}
    found = []
    for one in lines:
        if one.kind != "strip" or one.body.get("batch") != batch:
            continue
        body = one.body
        values = {name: _triple(body.get(name)) for name in ("dmin", "ld", "md", "hd")}
        values["hd_ld"] = values["hd"] - values["ld"]
        spread = np.where(np.isnan(_triple(body.get("spread"))), READ, _triple(body.get("spread")))
        run = str(body.get("run", ""))
        found.append(
            StripOfRun(one.id, began.get(run, one.happened_at), run, bool(body.get("reference")), str(body.get("density", "camera")),
                       values, spread, str(body.get("light") or ""))
        )  # fmt: skip
    return sorted(found, key=lambda strip: (strip.at, strip.line))


def _triple(given: object) -> np.ndarray:
    if not isinstance(given, dict):
        return np.full(3, np.nan)
    return np.array([np.nan if given.get(c) is None else float(given[c]) for c in "rgb"])


def aim_of(lines: Sequence[Line], batch: str, strips: Sequence[StripOfRun]) -> Aim | CannotSay:
    """The mean of the strips of the runs named last as good; else of the reference strips."""
    named = [one for one in lines if one.kind == "control aim" and one.body.get("batch") == batch]
    if named:
        runs = [str(run) for run in named[-1].body.get("runs", ())]  # type: ignore[attr-defined]
        good, say = [s for s in strips if s.run in runs], f"the mean of {', '.join(runs)}"
        rests: tuple[str, ...] = (named[-1].id,)
    else:
        good, say, rests = [s for s in strips if s.reference], "the mean of the reference strips", ()
    if not good:
        return CannotSay(
            "there is no aim yet: no strip of the batch is a reference, and no good run is named",
            f'wetside note "control aim" batch={batch} runs=RUN, with the run that was good; or a strip read with --reference',
        )
    values: dict[str, np.ndarray] = {
        name: np.nanmean([s.values[name] for s in good], axis=0) if _any(good, name) else np.full(3, np.nan)
        for name in MEASURES
    }
    return Aim(values, (*rests, *(s.line for s in good)), say)


def _any(strips: Sequence[StripOfRun], name: str) -> bool:
    return any(np.isfinite(s.values[name]).all() for s in strips)


def departures(strip: StripOfRun, aim: Aim) -> dict[str, np.ndarray]:
    """How a strip departs from the aim (3,) [D] by measure."""
    return {name: strip.values[name] - aim.values[name] for name in MEASURES}


def colour_spread(departure: dict[str, np.ndarray]) -> float | None:
    """The widest gap [D] between the departures of two layers, in LD or in HD−LD. Definition: common practice."""
    gaps = [float(np.ptp(departure[name])) for name in ("ld", "hd_ld") if np.isfinite(departure[name]).all()]
    return max(gaps) if gaps else None
