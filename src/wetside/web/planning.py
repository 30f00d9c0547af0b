"""The Plan page: a form that starts from the shelf, the plan as days and as a drawing, kept or carried into a calendar."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.responses import RedirectResponse, Response

from wetside.app.planning.plan import asked_for, calendar_of, keep_plan, pays_from, plan
from wetside.app.planning.plan_asked import asked, example
from wetside.app.work import Work
from wetside.figures.finding import Unusable
from wetside.web.pages import page
from wetside.web.plan_chart import plan_chart
from wetside.web.plan_form import ALONE, TABLES, alone_of, request_of, rows_of
from wetside.web.works import under_way, works

router = APIRouter(include_in_schema=False)
WIDE, NARROW = 900, 380
MOST_TEXT = 400_000
KEPT_IN_MIND = 20
"""Plans that the server remembers, so that keeping one does not make it anew."""


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/plan")
async def the_plan(request: Request, kept: bool = False, made: str = "") -> Response:
    """The form as the shelf fills it; with `made`, a request that was asked before, its plan or how far that is."""
    if made in minded(request):
        return await planned_page(request, minded(request)[made].given)
    own = await run_in_threadpool(asked, home(request))
    slip = "that plan is no longer in mind; plan again" if made else None
    return drawn(request, own or example(), example=own is None, kept=kept, slip=slip)


@router.post("/plan")
async def a_plan(request: Request) -> Response:
    """What the form asks: one row more, or a plan; a slip shows the form again as it was filled."""
    form = await request.form(max_fields=4000)
    try:
        given = _given(form)
    except Unusable as no:
        return drawn(request, _as_filled(form), slip=no.what)
    if more := str(form.get("more", "")):
        return drawn(request, given, blank=more)
    try:
        key = key_of(given)
    except Unusable as no:
        return drawn(request, given, slip=no.what)
    work, own = await planning(request, given)
    if work.ended:
        return drawn(request, given, own.found, slip=work.slip or None)
    return RedirectResponse(f"/plan?made={key}", status_code=303)


@router.get("/plan/progress")
async def progress(request: Request, made: str) -> dict[str, Any]:
    going = works(request).get(f"plan {made}")
    return going.as_json() if going else Work("nothing", 0.0, ended=True).as_json()


@router.post("/plan/kept")
async def keep(request: Request) -> Response:
    given, found = await _made(request)
    await run_in_threadpool(keep_plan, home(request), given, found)
    return RedirectResponse("/plan?kept=1", status_code=303)


@router.post("/plan/calendar")
async def the_days(request: Request) -> Response:
    _, found = await _made(request)
    named = {"content-disposition": 'attachment; filename="plan.ics"'}
    return Response(calendar_of(found), media_type="text/calendar", headers=named)


@dataclass
class Made:
    """A request, and its plan once it is made."""

    given: dict[str, Any]
    found: dict[str, Any] | None = None


def minded(request: Request) -> dict[str, Made]:
    """The latest plans, by their request's key."""
    if not hasattr(request.app.state, "plans"):
        request.app.state.plans = {}
    found: dict[str, Made] = request.app.state.plans
    return found


def key_of(given: Mapping[str, Any]) -> str:
    """A name for what a request asks, the same however it is written; Unusable when it asks nothing that can be planned."""
    return hashlib.sha256(asked_for(given).encode()).hexdigest()[:16]


async def planning(request: Request, given: dict[str, Any]) -> tuple[Work, Made]:
    """The plan of a request: the one in mind, or the work that makes it."""
    key, plans = key_of(given), minded(request)
    own = plans.setdefault(key, Made(given))
    while len(plans) > KEPT_IN_MIND:
        del plans[next(iter(plans))]
    if own.found is not None:
        return Work("planned", 0.0, ended=True), own

    def call(work: Work) -> str:
        own.found = plan(given, work.progress)
        return "planned"

    return await under_way(request, f"plan {key}", "planning", call), own


async def planned_page(request: Request, given: dict[str, Any]) -> Response:
    work, own = await planning(request, given)
    if work.ended:
        return drawn(request, given, own.found, slip=work.slip or None)
    return drawn(request, given, work=work)


async def _made(request: Request) -> tuple[dict[str, Any], dict[str, Any]]:
    """The form's request and its plan, made anew only when it is no longer in mind."""
    given = _given(await request.form(max_fields=4000))
    own = minded(request).get(key_of(given))
    if own is not None and own.found is not None:
        return given, own.found
    return given, await run_in_threadpool(plan, given)


def _given(form: FormData) -> dict[str, Any]:
    if "text" not in form:
        return request_of(form)
    text = str(form["text"])
    if len(text) > MOST_TEXT:
        raise Unusable(f"at most {MOST_TEXT:,} characters", "plan")
    try:
        given = json.loads(text)
    except (ValueError, RecursionError) as no:
        raise Unusable(f"expected JSON: {no}", "plan") from None
    if not isinstance(given, dict):
        raise Unusable("expected a JSON object", "plan")
    return given


def _as_filled(form: FormData) -> dict[str, Any]:
    """A form that could not be read, as it was filled: numbers stay the text they are."""
    given: dict[str, Any] = {field.key: form.get(field.key) for field in ALONE}
    for table in TABLES:
        names = [name for name in form if name.startswith(f"{table.key} ") and name.endswith(" id")]
        given[table.key] = [
            {
                f.key: form.getlist(name[:-2] + f.key) if f.kind == "choices" else form.get(name[:-2] + f.key)
                for f in table.fields
            }
            for name in names
        ]
    return given


def drawn(
    request: Request,
    given: Mapping[str, Any],
    found: Mapping[str, Any] | None = None,
    *,
    slip: str | None = None,
    blank: str | None = None,
    example: bool = False,
    kept: bool = False,
    work: Work | None = None,
) -> Response:
    """The page for a request, its plan or how far that is, and the form filled with it."""
    charts = [plan_chart(given, found, width) for width in (WIDE, NARROW)] if found else []
    costs = [("this plan", found["cost"]), *((a["say"], a["cost"]) for a in found["alternatives"])] if found else []  # fmt: skip
    return page(
        request, "plan.html", plan=found, work=work and work.as_json(), made=key_of(given) if work else "", slip=slip, example=example, kept=kept, blank=blank, charts=[c for c in charts if c],
        pays=pays_from(given) if found else [], costs=costs, dearest=max((cost or 0.0 for _, cost in costs), default=0.0) or 1.0,
        tables=TABLES, alone=ALONE, rows=rows_of(given, blank), single=alone_of(given), text=json.dumps(given, indent=2),
    )  # fmt: skip
