"""Causes: what made this, where its marks lay on the reel, what changed since another run, and experiments that part causes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from wetside.app.faults.causes import (
    causes_of_run,
    evidence_of,
    experiments,
    note_halves,
    note_outcome,
    signs_shown,
)
from wetside.app.faults.compare import compare
from wetside.app.faults.outcomes import BY_SCANS, note_frames, scans_of, twins_of
from wetside.app.faults.reel import marks_on_reel
from wetside.app.faults.told import rolls_of, told_of_book
from wetside.app.shelf import shelf
from wetside.app.viewing.places import places_left
from wetside.figures.finding import Unusable
from wetside.figures.sources import named_in
from wetside.stages.causes.ranking.experiments import DRY_REEL, TWIN
from wetside.stages.causes.ranking.model import CLEAN, ranked_causes
from wetside.stages.causes.ranking.next_test import experiments_of
from wetside.web.pages import page
from wetside.web.reel_chart import on_strip, reel_drawing
from wetside.web.signs_chart import expected_chart, seen_chart

router = APIRouter(include_in_schema=False)
#: Whether it can be cured, in words.
CURES = {"tonight": "curable tonight", "in correction": "curable in correction", "lost": "lost in this roll"}

Name = Annotated[str, Form(min_length=1, max_length=120)]


@router.get("/causes")
async def what_causes(request: Request, of: str = "", against: str = "") -> Response:
    return await causes_page(request, of, against)


async def causes_page(
    request: Request,
    of: str,
    against: str = "",
    slip: str | None = None,
    typed: Mapping[str, str] | None = None,
) -> Response:
    """The page of one run or roll, with what was refused, if anything, and what was `typed` there: its experiment's fields."""
    home = Path(request.app.state.home)
    there = await run_in_threadpool(shelf, home)
    shown: dict[str, Any] = {"found": None, "slip": None, "drawing": None, "plans": [], "changed": None}
    if of:
        try:
            shown = await run_in_threadpool(shown_of, home, of, against)
        except Unusable as no:
            shown["slip"] = no.what
    shown["slip"] = slip or shown["slip"]
    return page(
        request, "causes.html", status=422 if slip else 200, shelf=there, of=of, against=against, typed=typed or {}, **shown
    )  # fmt: skip


def shown_of(home: Path, of: str, against: str) -> dict[str, Any]:
    """All that the page shows of one run or roll."""
    told = told_of_book(home, *((of, against) if against else (of,)))
    known = evidence_of(told[0], of, told[1])
    ranked = ranked_causes(known)
    found = causes_of_run(home, of, told, known, ranked)
    marks = marks_on_reel(home, of, told)
    marks = drawn(marks) if marks else None
    changed = compare(home, of, against, told) if against else None
    plans = in_order(experiments(home, of, told, known, ranked))
    scans = {**scans_of(home, of, told[1]), "twins": twins_of(home, of, *told)}
    shown = signs_shown(home, of, told, known, ranked)
    seen, limit = shown["departures"], shown["limit"]
    expected = {name: expected_chart(signs, seen, limit) for name, signs in shown["signs"].items()}
    return {
        "found": found,
        "slip": None,
        "drawing": marks,
        **listed(found),
        "plans": plans,
        "asked": (
            asked := [one for one in plans if one["name"] in experiments_of(found["next_test"]["what"])]
        ),
        "others": {one["name"] for one in plans if not (parts(one) or one["came_out"] or one in asked)},
        "dry": next(one for one in plans if one["name"] == DRY_REEL),
        "scans": scans,
        "scanned": {file.partition("/")[0] for file in scans["first"]},
        "rolls": (rolls := rolls_of(told[1], of)),
        "places": places_left(told[0], rolls),
        "by_scans": BY_SCANS,
        "twin": TWIN,
        "changed": changed,
        "seen": seen_chart(seen, limit),
        "expected": expected,
    }


def drawn(marks: dict[str, Any]) -> dict[str, Any]:
    """Marks of a roll with the drawing of their reel and film; of the film alone where the reel cannot be drawn."""
    if not marks["places"]:
        return marks
    core, pitch = marks["radius_pitch"] if marks["drawn"] else (20.0, 2.85)
    found = reel_drawing(marks["places"], core, pitch, marks["length"], marks["core_end"], marks["pattern"]["answer"])  # fmt: skip
    if not marks["drawn"]:
        found = {key: found[key] for key in ("strip", "on_strip", "length")}
    windows = [(on_strip(at, found["length"]), round(600 * wide / found["length"], 1)) for at, wide in marks["windows"]]  # fmt: skip
    return {**marks, **found, "windows": windows}


def listed(found: dict[str, Any]) -> dict[str, Any]:
    """The causes as the page shows them: those that are open, the rest folded, and a process that held by itself."""
    causes, alone = found["causes"], bool(found["causes"]) and set(found["rests_on"]) == {"log"}
    held = next((c for c in causes[:2] if c["cause"] == CLEAN and c["how"] == "likely" and c["for"]), None)
    open_ = [c for c in causes if c["how"] != "unlikely" and c is not held]
    if alone:
        open_ = [c for c in open_ if "log" in c["by"]]
    clean = held is not None and not open_
    open_ = open_ or ([] if clean or alone else causes[:2])
    rest = [] if alone else [c for c in causes if c not in open_ and c is not held and c["cause"] != CLEAN]
    said = [s for c in open_ for s in (*c["for"], *c["against"])] + [
        s for c in rest for s in c["against"][:1]
    ]
    return {
        "open": open_, "rest": rest,
        "held": held, "clean": clean, "alone": alone, "cures": CURES, "sources": named_in(said),
    }  # fmt: skip


def in_order(plans: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Experiments that would part the open causes first, and of those the quickest."""
    return sorted(plans, key=lambda one: (not parts(one), one["minutes"]))


def parts(one: dict[str, Any]) -> bool:
    """Whether an experiment's outcomes end on different causes."""
    return len({o["then"][0]["cause"] for o in one["outcomes"] if o["then"]}) > 1


@router.post("/causes/test")
async def a_test(request: Request, of: Name, test: Name, answer: Name) -> Response:
    """An experiment's outcome, tapped."""
    home = Path(request.app.state.home)
    return await kept(request, of, {}, lambda: note_outcome(home, of, test, answer))


@router.post("/causes/halves")
async def the_halves(
    request: Request, of: Name, test: Name, pairs: Annotated[str, Form(min_length=1, max_length=2000)]
) -> Response:
    """A split roll's halves, read in pairs."""
    home, typed = Path(request.app.state.home), {"test": test, "pairs": pairs}
    return await kept(request, of, typed, lambda: note_halves(home, of, test, pairs))


@router.post("/causes/scans")
async def two_scans(request: Request, of: Name, test: Name, first: Name, second: Name) -> Response:
    """Two scans of one frame, before and after."""
    home, typed = Path(request.app.state.home), {"test": test, "first": first, "second": second}
    return await kept(request, of, typed, lambda: note_frames(home, of, test, first, second))


async def kept(request: Request, of: str, typed: Mapping[str, str], note: Callable[[], str]) -> Response:
    """Note it and show the page anew, or show the page with the reason why it cannot be noted and what was typed."""
    try:
        await run_in_threadpool(note)
    except Unusable as no:
        return await causes_page(request, of, slip=no.what, typed=typed)
    return RedirectResponse(f"/causes?of={quote(of)}", status_code=303)
