"""Causes of a run or a roll: evidence from a file or from the book's lines, ranked causes, the cheapest next test."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wetside.app.faults.filled import cast_of, filled_short, strip_of_run, without_the_edge
from wetside.app.faults.film_age import film_age
from wetside.app.faults.gathered import pattern_of, reel_noted
from wetside.app.faults.own_runs import own_runs
from wetside.app.faults.run_log import log_of_taps
from wetside.app.faults.told import Told, entries, rolls_of, run_of, told_of_book
from wetside.app.sensitometry.control import departures_of_run
from wetside.app.shelf import film_area
from wetside.app.viewing.verdicts import verdicts_of
from wetside.book.kinds import Judged
from wetside.book.line import Line
from wetside.figures.finding import Unusable
from wetside.stages.causes.ranking.company import suspects
from wetside.stages.causes.ranking.evidence import Evidence, evidence_from
from wetside.stages.causes.ranking.experiments import BY_NAME as EXPERIMENT_NAMED
from wetside.stages.causes.ranking.experiments import EXPERIMENTS, halves, plan
from wetside.stages.causes.ranking.limits import limits
from wetside.stages.causes.ranking.model import Ranked, as_json, limit_of, ranked_causes, signs_of
from wetside.stages.causes.ranking.next_test import cheapest_test
from wetside.stages.causes.ranking.words import worth_of_words
from wetside.stages.causes.signs.same_place import marks_of
from wetside.stages.causes.signs.verdicts import with_verdicts
from wetside.store import clock
from wetside.store.given import json_in
from wetside.store.ledger import Ledger

AIM_C = {"ecn-2": 41.1, "c-41": 37.8}
#: What a deviation noted in words is to the search for causes.
DEVIATIONS = {"missed agitation": "missed_agitation", "late pour": "late_drain", "late drain": "late_drain", "filled short": "tank_fill_short"}  # fmt: skip
#: What a log tells, by what it is: the value and the line that it rests on.
Deeds = dict[str, tuple[Any, str]]


def causes_of_file(file: Path) -> dict[str, Any]:
    """Causes for evidence in a JSON file."""
    return causes(evidence_from(json_in(file)))


def causes(evidence: Evidence, ranked: list[Ranked] | None = None) -> dict[str, Any]:
    """The `wetside.causes/1` object for evidence; `ranked`: its causes, where they were ranked already."""
    ranked = ranked_causes(evidence) if ranked is None else ranked
    found = as_json(ranked, evidence, cheapest_test(evidence, ranked))
    found["rests_on"], found["rung"] = evidence.kinds, evidence.scans.get("rung")
    found["company"] = suspects(evidence.company)
    found["layers"] = evidence.layers.as_json() if evidence.layers else None
    found["findings"] = [one.as_json() for one in limits(evidence)]
    found["worth"] = worth_of_words()
    return found


def causes_of_run(
    home: Path,
    name: str,
    told: Told | None = None,
    known: Evidence | None = None,
    ranked: list[Ranked] | None = None,
) -> dict[str, Any]:
    """Causes for a run or a roll of the book, from its lines (`told`, where they were read already) and its company's.

    `known`, `ranked`: its evidence and its causes where these were gathered already, here and in what a page shows beside it.
    """
    lines, runs = told or told_of_book(home, name)
    return {**causes(known or evidence_of(lines, name, runs), ranked), "of": name}


def signs_shown(
    home: Path,
    name: str,
    told: Told | None = None,
    known: Evidence | None = None,
    ranked: list[Ranked] | None = None,
) -> dict[str, Any]:
    """Departures of a run or a roll from the aim [D], the limit under which they say nothing, and each fault's nine signs."""
    lines, runs = told or told_of_book(home, name)
    evidence = known or evidence_of(lines, name, runs)
    return {
        "departures": evidence.departures, "limit": limit_of(evidence),
        "signs": {cause.name: signs for cause in ranked or ranked_causes(evidence) if (signs := signs_of(cause.name))},
    }  # fmt: skip


def experiments(
    home: Path,
    name: str,
    told: Told | None = None,
    known: Evidence | None = None,
    ranked: list[Ranked] | None = None,
) -> list[dict[str, Any]]:
    """Every experiment, planned for what is open on a run or roll: steps, minutes, what each outcome would mean."""
    lines, runs = told or told_of_book(home, name)
    evidence = known or evidence_of(lines, name, runs)
    weights = {cause.name: cause.weight for cause in ranked or ranked_causes(evidence)}
    said = said_of_tests(lines, rolls_of(runs, name))
    return [
        {**plan(one, weights), "came_out": evidence.tests.get(one.name), "say": said.get(one.name)}
        for one in EXPERIMENTS
    ]


def said_of_tests(lines: list[Line], rolls: list[str]) -> dict[str, str]:
    """What was read when an experiment's outcome was kept, by experiment."""
    found: dict[str, str] = {}
    for line in lines:
        body: dict[str, Any] = line.body
        if line.kind == "judged" and body.get("about") == "test" and body.get("roll") in rolls:
            found[str(body["subject"])] = str((body.get("fields") or {}).get("say") or "")
    return found


def note_outcome(
    home: Path, name: str, test: str, answer: str, fields: Mapping[str, object] | None = None
) -> str:
    """Keep an experiment's outcome as lines of its roll or rolls; Unusable for one that is not known."""
    _, runs = told_of_book(home, name)
    known = EXPERIMENT_NAMED.get(test)
    if known is None:
        raise Unusable(f"no experiment {test[:60]!r}; there are: {', '.join(EXPERIMENT_NAMED)}", "test")
    answers = [outcome.answer for outcome in known.outcomes]
    if answer not in answers:
        raise Unusable(f"{test}: {answer[:40]!r} is no outcome; outcomes: {', '.join(answers)}", "test")
    with Ledger.open(home) as book:
        kept = [
            book.append(
                Judged(roll=roll, about="test", subject=test, answer=answer, fields=dict(fields or {})),
                happened_at=clock.wall(),
            )
            for roll in rolls_of(runs, name)
        ]
    return kept[-1][0].id if kept else ""


def note_halves(home: Path, name: str, test: str, text: str) -> str:
    """Keep what the pairs of a split roll show, given as "0.82:0.86,0.80:0.85"; Unusable where they cannot say."""
    try:
        pairs = [(float(a), float(b)) for a, _, b in (pair.partition(":") for pair in text.split(","))]
        if not all(-1 <= d < 6 for pair in pairs for d in pair):
            raise ValueError
    except ValueError:
        raise Unusable(
            f"expected densities in pairs like 0.82:0.86,0.80:0.85, found {text[:60]!r}", "--pairs"
        ) from None
    answer, say = halves(pairs)
    if answer is None:
        raise Unusable(f"cannot say: {say}", "--pairs")
    note_outcome(home, name, test, answer, {"pairs": text, "say": say})
    return f"{answer}: {say}"


def evidence_of(lines: list[Line], name: str, runs: Mapping[str, Line]) -> Evidence:
    """What the book says of a run or a roll."""
    run = run_of(runs, name)
    rolls = rolls_of(runs, name)
    of_rolls = [one.body for one in lines if one.kind == "measured" and one.body.get("roll") in rolls]
    measured: list[tuple[object, dict[str, Any]]] = [(b.get("what"), _mapping(b["result"])) for b in of_rolls]
    departures: dict[str, Any] = next(
        (found for what, found in reversed(measured) if what == "departures"), {}
    )
    departures = departures or departures_of_run(lines, str(run.body["run"]) if run else "")
    uneven = strip_of_run(lines, str(run.body["run"]) if run else "")
    departures = without_the_edge(departures, *uneven) if uneven else departures
    read: dict[str, Any] = next(
        (found for _, found in reversed(measured) if found.get("schema") == "wetside.read/1"), {}
    )
    read = with_verdicts(read, [verdict for roll in rolls for verdict in verdicts_of(lines, roll)])
    cast = cast_of(read.get("cast") or {}, *uneven) if uneven else read.get("cast", {})
    marks = marks_of(read.get("frames", ()))
    of_reel = [noted for roll in rolls if (noted := reel_noted(lines, run, roll))]
    found = pattern_of(read, of_reel[0][0] if len(of_reel) == 1 else None)
    log, where = log_of(lines, run)
    answers, tests = judged_of(lines, rolls, "question"), judged_of(lines, rolls, "test")
    where |= {f"answer {said}": line for said, (_, line) in answers.items()}
    where |= {test: line for test, (_, line) in tests.items()}
    given = {
        "departures": {k: v for k, v in departures.items() if k in ("dmin", "ld", "hd_ld")} if isinstance(departures, dict) else {},
        "aim_of": departures.get("aim_of") if isinstance(departures, dict) else None,
        "log": log, "marks": marks, "frames": len(read.get("frames", ())) or None, "pattern": found["answer"], "cast": cast,
        "answers": {said: answer for said, (answer, _) in answers.items()}, "tests": {test: answer for test, (answer, _) in tests.items()},
        "company": company_of(lines, runs), "rolls": rolls, "own_runs": own_runs(lines, runs, run, log_of) if run else [],
    }  # fmt: skip
    evidence = evidence_from(given)
    return Evidence(
        **{**{f: getattr(evidence, f) for f in evidence.__dataclass_fields__}, "lines": where, "scans": read}
    )


def judged_of(lines: list[Line], rolls: list[str], about: str) -> dict[str, tuple[str, str]]:
    """The last word on each question or experiment of some rolls, and the line it was kept as."""
    return {
        str(one.body["subject"]): (str(one.body["answer"]), one.id)
        for one in lines
        if one.kind == "judged" and one.body.get("roll") in rolls and one.body.get("about") == about
    }


def log_of(lines: list[Line], run: Line | None) -> tuple[dict[str, Any], dict[str, str]]:
    """Deviations that a run's events tell, and the line each rests on."""
    if run is None:
        return {}, {}
    told = {**_by_hand(lines, run), **_of_baths(lines, run)}
    aged = film_age(lines, run)
    if aged is not None:
        told["film_age_years"] = aged
    tapped, taps = log_of_taps(lines, run)
    if tapped:  # a tapped run tells its own times and in which bath a trouble was; a bare word is for one that was not
        told = {key: value for key, value in told.items() if key not in ("missed_agitation", "late_drain")}
    log, where = ({key: pair[i] for key, pair in told.items()} for i in (0, 1))
    return log | tapped, where | taps


def _by_hand(lines: list[Line], run: Line) -> Deeds:
    """What a run's events say in words and figures noted by hand; the last of each counts."""
    aim = AIM_C.get(str(run.body.get("process")))
    told: Deeds = {}
    for line in lines:
        if line.kind != "run event" or line.body.get("run") != run.body["run"]:
            continue
        fields = _mapping(line.body.get("fields"))
        event, key = line.body.get("event"), DEVIATIONS.get(str(fields.get("what", "")))
        if event == "deviation" and key:
            told[key] = True, line.id
        # What was tapped at the sink says of what it was read, and is read with the run's state.
        by_hand = "of" not in fields and fields.get("step", "developer") == "developer"
        if event == "temperature" and aim and by_hand and fields.get("celsius") is not None:
            told["developer_temperature_off_c"] = float(fields["celsius"]) - aim, line.id
    return told


def _of_baths(lines: list[Line], run: Line) -> Deeds:
    """What the bottles of a run tell: a stop bath or none, the film each had seen, the developer's age."""
    baths = _mapping(run.body.get("baths"))
    told: Deeds = {}
    if short := filled_short(lines, run):
        told["tank_fill_short"] = True, short
    lines = [one for one in lines if one.kind in ("bath", "run", "roll")]
    if baths:  # a run of which no bath is noted says nothing of its stop
        told["stop_bath_used"] = bool(baths.get("stop")), run.id
    for role in ("developer", "bleach", "fixer"):
        used = _area_before(lines, str(baths.get(role, "")), run)
        if used is not None:
            told[f"{role}_area_m2_per_litre"] = used, run.id
    mixed = _mixed(lines, baths.get("developer"))
    if mixed is not None:
        told["developer_age_days"] = max(0.0, (run.happened_at - mixed.happened_at) / 86400), mixed.id
    return told


def _mixed(lines: list[Line], bath: object) -> Line | None:
    """The line by which a bath was mixed."""
    return next((one for one in lines if one.kind == "bath" and one.body.get("bath") == bath), None)


def _mapping(value: object) -> dict[str, Any]:
    """A body's field that is a mapping; empty where it is none."""
    return value if isinstance(value, dict) else {}


def _area_before(lines: list[Line], bath: str, run: Line) -> float | None:
    mixed = _mixed(lines, bath)
    if mixed is None or not float(mixed.body["volume_ml"]) > 0:  # type: ignore[arg-type]
        return None
    before = [
        one
        for one in lines
        if one.kind == "run"
        and one.happened_at < run.happened_at
        and bath in _mapping(one.body.get("baths")).values()
    ]
    names = [str(entry.get("roll")) for one in before for entry in entries(one)]
    wanted = set(names)
    sizes = {
        roll: film_area(one.body)
        for one in lines
        if one.kind == "roll" and (roll := str(one.body["roll"])) in wanted
    }
    return sum(sizes.get(name, 0.0) for name in names) / (float(mixed.body["volume_ml"]) / 1000)  # type: ignore[arg-type]


def company_of(lines: list[Line], runs: Mapping[str, Line]) -> list[dict[str, Any]]:
    """Every judged roll with the things its run touched."""
    verdicts = {
        str(one.body["roll"]): one.body["answer"]
        for one in lines
        if one.kind == "judged" and one.body.get("about") == "frame" and one.body.get("subject") == "roll"
    }
    found = []
    for roll, answer in verdicts.items():
        run = next((r for r in runs.values() if any(e.get("roll") == roll for e in entries(r))), None)
        things = [str(t) for t in run.touches if t.kind not in ("roll", "run")] if run else []
        things += [
            str(t)
            for one in lines
            if one.kind in ("roll", "exposed", "scan") and one.body.get("roll") == roll
            for t in one.touches
            if t.kind not in ("roll",)
        ]
        baths = _mapping(run.body.get("baths")) if run else {}
        roles = {f"bath:{bath}": role for role, bath in baths.items()}
        found.append({"id": roll, "bad": answer == "bad", "things": sorted(set(things)), "roles": roles})
    return found
