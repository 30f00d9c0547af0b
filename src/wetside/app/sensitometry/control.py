"""Control of the process: the strips of the book as departures from the aim, charts, a verdict, and the sheet to make strips."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from wetside.book.life import standing
from wetside.book.line import Line
from wetside.figures.channels import number
from wetside.figures.finding import CannotSay, Unusable
from wetside.laws.chemistry.limits import LIMITS, MEASURES, SAY, WHITE_LIGHT, Limit
from wetside.laws.reel.gauges import GAUGES
from wetside.stages.control.chart import Chart, chart_of
from wetside.stages.control.making import making_sheet
from wetside.stages.control.series import (
    Aim,
    StripOfRun,
    aim_of,
    batches,
    colour_spread,
    departures,
    strips_of,
)
from wetside.stages.control.verdict import ClipTest, Verdict, clip_test, verdict
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger

DAY = 86_400.0
#: Kinds of lines that a chart rests on.
KINDS = ("strip", "strip batch", "control aim", "run", "bath", "correction")
#: A camera's contrast lies between these, or its calibration is not of a negative.
CREDIBLE = (0.3, 1.6)
JUDGED = ("dmin", "ld", "hd_ld")
MAKE = "home control strips: `wetside control sheet` says how they are made; then `wetside strip FILE --batch NAME --run RUN`"


def control(home: Path, batch: str | None = None) -> dict[str, Any]:
    """The `wetside.control/1` object of a batch, the one used last when none is named."""
    lines = _lines(home)
    there = batches(lines)
    if batch is not None and batch not in there:
        raise Unusable(
            f"no batch of strips {batch!r} in the book; there are: {', '.join(there) or 'none yet'}", "batch"
        )
    if not there:
        return empty(CannotSay("no control strip has been read yet", MAKE))
    return control_of(lines, batch or there[0], there, clock.wall())


def _lines(home: Path) -> list[Line]:
    if not (home / FILE).exists():
        return []
    with Ledger.open(home) as book:
        return standing(book.lines(kind=KINDS, include_struck=True))


def control_of(lines: Sequence[Line], batch: str, there: Sequence[str], now: float) -> dict[str, Any]:
    """The object from lines alone, at a time."""
    strips = strips_of(lines, batch)
    process = next(
        (
            str(o.body.get("process"))
            for o in reversed(lines)
            if o.kind in ("strip", "strip batch") and o.body.get("batch") == batch
        ),
        "",
    )
    kind = strips[-1].density if strips else "camera"
    alike = [s for s in strips if s.density == kind]
    contrast, source = _contrast(lines, kind)
    limits = scaled_limits(process, contrast)
    aim = aim_of(lines, batch, alike)
    known = {"batch": batch, "batches": list(there), "process": process, "density": kind,
             "contrast": {**dict(zip("rgb", contrast)), "from": source}, "limits": _limits_json(process, limits),
             "left_out": len(strips) - len(alike)}  # fmt: skip
    if not strips or isinstance(aim, CannotSay):
        no = (
            aim
            if isinstance(aim, CannotSay) and strips
            else CannotSay("no strip of this batch has been read yet", MAKE)
        )
        return {**empty(no), **known, "strips": [_bare(s) for s in alike]}
    away = [departures(s, aim) for s in alike]
    charts = charts_of(away)
    said = verdict(away, limits, {key: one for key, one in charts.items() if key[0] in JUDGED})
    return {
        **empty(None), **known, "aim": _aim_json(aim),
        "strips": [{**_bare(s), "departures": {m: _rgb(d[m]) for m in MEASURES}, "colour_spread": colour_spread(d)} for s, d in zip(alike, away)],
        "charts": {m: {c: _chart_json(charts[m, c]) for c in "rgb"} for m in MEASURES if (m, "r") in charts},
        "verdict": {"state": said.state, "say": said.say, "why": list(said.why)},
        "clip_test": _clip(lines, said, alike, now),
        "would_help": _would_help(said, len(alike)),
    }  # fmt: skip


def empty(no: CannotSay | None) -> dict[str, Any]:
    """Every key of the object, with nothing in it."""
    return {
        "schema": "wetside.control/1", "batch": None, "batches": [], "process": None, "density": "none", "contrast": None, "limits": None,
        "left_out": 0, "aim": None, "strips": [], "charts": {}, "verdict": {"state": "cannot say", "say": no.reason if no else "", "why": []},
        "clip_test": clip_json(clip_test("cannot say", 0, None, False)), "cannot_say": no.reason if no else None, "would_help": no.would_help if no else "",
    }  # fmt: skip


def _contrast(lines: Sequence[Line], kind: str) -> tuple[tuple[float, ...], str]:
    """How much a reader's density grows for each 1 of status M, layer by layer, and where that comes from.

    By the book's last calibration to status M; assumed for a camera over white light where there is none.
    """
    if kind == "status M":
        return (1.0, 1.0, 1.0), "status M"
    for line in reversed(
        [one for one in lines if one.kind == "calibration" and one.body.get("aim") == "status M"]
    ):
        measured = _measured(line)
        if measured is not None:
            day = datetime.fromtimestamp(line.happened_at).date().isoformat()
            return measured, f"measured by the calibration {line.body['calibration']} of {day}"
    return WHITE_LIGHT, "assumed: a camera over white light (computed on synthetic dyes)"


def _measured(line: Line) -> tuple[float, ...] | None:
    """The contrast that a calibration's line tells; None for one that is damaged or beyond what a camera can be."""
    from wetside.app.sensitometry.calibrate import fit_from

    try:
        contrast = fit_from(line.body.get("fit"), line.id).contrast()
    except (Unusable, np.linalg.LinAlgError):
        return None
    low, high = CREDIBLE
    return tuple(float(v) for v in contrast) if ((contrast > low) & (contrast < high)).all() else None


def scaled_limits(process: str, contrast: Sequence[float]) -> dict[str, tuple[Limit, ...]]:
    """The published limits of a process, scaled layer by layer; empty for a process without any."""
    listed = LIMITS.get(process)
    if listed is None:
        return {}
    return {name: tuple(limit.scaled(c) for c in contrast) for name, limit in listed.by_measure.items()}


def charts_of(away: Sequence[dict[str, np.ndarray]]) -> dict[tuple[str, str], Chart]:
    """The chart of every measure and layer that is known for all strips."""
    found: dict[tuple[str, str], Chart] = {}
    for name in MEASURES:
        table = np.array([d[name] for d in away])
        known = table[np.isfinite(table).all(axis=1)]
        if len(known):
            found.update({(name, c): chart_of(known[:, i]) for i, c in enumerate("rgb")})
    return found


def _clip(lines: Sequence[Line], said: Verdict, strips: Sequence[StripOfRun], now: float) -> dict[str, Any]:
    last = strips[-1].at
    newer = any(
        one.kind == "bath" and one.body.get("role") == "developer" and one.happened_at > last for one in lines
    )
    found = clip_test(said.state, len(strips), (now - last) / DAY, newer)
    return clip_json(found)


def clip_json(found: ClipTest) -> dict[str, Any]:
    return {"answer": found.answer, "why": found.why, "how": list(found.how)}


def _would_help(said: Verdict, count: int) -> str:
    if said.state == "cannot say":
        wanting = max(1, 5 - count)
        return (
            "a strip with the next run" if wanting == 1 else f"a strip with each of the next {wanting} runs"
        )
    if count >= 11:
        return ""
    more = "one more run" if count == 10 else f"{11 - count} more runs"
    return f"{more}: then the process sets its own limits"


def _bare(strip: StripOfRun) -> dict[str, Any]:
    values: dict[str, Any] = {name: _rgb(strip.values[name]) for name in MEASURES}
    return {
        "line": strip.line,
        "run": strip.run,
        "happened_at": strip.at,
        "reference": strip.reference,
        **values,
        "spread": _rgb(strip.spread),
    }


def _rgb(values: np.ndarray) -> dict[str, float | None]:
    return {c: number(v) for c, v in zip("rgb", values)}


def _aim_json(aim: Aim) -> dict[str, Any]:
    return {**{name: _rgb(aim.values[name]) for name in MEASURES}, "from": aim.say, "lines": list(aim.lines)}


def _limits_json(process: str, limits: dict[str, tuple[Limit, ...]]) -> dict[str, Any] | None:
    if not limits:
        return None
    named = {
        name: {"action": _rgb(np.array([x.action for x in of])), "control": _rgb(np.array([x.control for x in of])), "one_sided": of[0].one_sided}
        for name, of in limits.items()
    }  # fmt: skip
    return {**named, "colour_spread": LIMITS[process].colour_spread, "source": LIMITS[process].source}


def _chart_json(chart: Chart) -> dict[str, Any]:
    return {
        "method": chart.method, "values": [float(v) for v in chart.values], "centre": number(chart.centre), "low": number(chart.low),
        "high": number(chart.high), "average": None if chart.average is None else [float(v) for v in chart.average],
        "average_low": number(chart.average_low), "average_high": number(chart.average_high), "out": chart.out,
    }  # fmt: skip


def departures_of_run(lines: Sequence[Line], run: str) -> dict[str, Any]:
    """D-min, LD and HD−LD of a run's strip against its batch's aim, as causes take them, and of how many strips that is; empty where there is none."""
    return departures_of_runs(lines, [run])[0]


def departures_of_runs(lines: Sequence[Line], runs: Sequence[str]) -> list[dict[str, Any]]:
    """The same of several runs, in their order; each batch is looked through once."""
    last = {str(one.body.get("run")): one for one in lines if one.kind == "strip"}
    known: dict[tuple[str, str], dict[str, dict[str, Any]]] = {}
    found = []
    for run in runs:
        own = last.get(run) if run else None
        key = ("", "") if own is None else (str(own.body["batch"]), str(own.body.get("density", "camera")))
        if own is not None and key not in known:
            known[key] = _departures_by_line(lines, *key)
        found.append({} if own is None else known[key].get(own.id, {}))
    return found


def _departures_by_line(lines: Sequence[Line], batch: str, density: str) -> dict[str, dict[str, Any]]:
    """Departures of every strip of a batch that was read with one kind of density, by its line; none without an aim."""
    strips = [s for s in strips_of(lines, batch) if s.density == density]
    aim = aim_of(lines, batch, strips)
    if isinstance(aim, CannotSay):
        return {}
    away = {strip.line: departures(strip, aim) for strip in strips}
    strips_of_aim = len([s for s in strips if s.line in aim.lines])
    return {
        line: {**{name: _rgb(one[name]) for name in JUDGED}, "aim_of": strips_of_aim}
        for line, one in away.items()
    }


def sheet(gauge: str, strips: int) -> dict[str, Any]:
    """The `wetside.control-sheet/1` object: how to make so many strips."""
    if gauge not in GAUGES:
        raise Unusable(f"no gauge {gauge!r}; one of {', '.join(GAUGES)}", "gauge")
    if not 4 <= strips <= 200:
        raise Unusable(f"expected 4 to 200 strips, found {strips}", "strips")
    made = making_sheet(GAUGES[gauge], strips)
    return {
        "schema": "wetside.control-sheet/1", "gauge": made.gauge, "strips": made.strips, "frames": made.frames, "strip_mm": made.strip_mm,
        "film_mm": made.film_mm, "steps": [{"do": do, "say": say} for do, say in made.steps],
    }  # fmt: skip


def named(measure: str) -> str:
    """A measure's name as the trade writes it."""
    return SAY[measure]
