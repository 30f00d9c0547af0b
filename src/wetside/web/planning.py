"""The Plan page: a form that starts from the shelf, the plan as days and as a drawing, kept or carried into a calendar."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.responses import RedirectResponse, Response

from wetside.app.demo import demo_request
from wetside.app.plan import calendar_of, keep_plan, plan
from wetside.app.plan_asked import asked
from wetside.figures.finding import Unusable
from wetside.web.pages import page
from wetside.web.plan_chart import plan_chart
from wetside.web.plan_form import ALONE, TABLES, alone_of, request_of, rows_of

router = APIRouter(include_in_schema=False)
WIDE, NARROW = 900, 380
MOST_TEXT = 400_000


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/plan")
async def the_plan(request: Request, kept: bool = False) -> Response:
    own = await run_in_threadpool(asked, home(request))
    return drawn(request, own or demo_request(), example=own is None, kept=kept)


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
        found = await run_in_threadpool(plan, given)
    except Unusable as no:
        return drawn(request, given, slip=no.what)
    return drawn(request, given, found)


@router.post("/plan/kept")
async def keep(request: Request) -> Response:
    given = _given(await request.form(max_fields=4000))
    found = await run_in_threadpool(plan, given)
    await run_in_threadpool(keep_plan, home(request), given, found)
    return RedirectResponse("/plan?kept=1", status_code=303)


@router.post("/plan/calendar")
async def the_days(request: Request) -> Response:
    given = _given(await request.form(max_fields=4000))
    days = calendar_of(await run_in_threadpool(plan, given))
    named = {"content-disposition": 'attachment; filename="plan.ics"'}
    return Response(days, media_type="text/calendar", headers=named)


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
) -> Response:
    """The page for a request, its plan if there is one, and the form filled with it."""
    charts = [plan_chart(given, found, width) for width in (WIDE, NARROW)] if found else []
    costs = [("this plan", found["cost"]), *((a["say"], a["cost"]) for a in found["alternatives"])] if found else []  # fmt: skip
    return page(
        request, "plan.html", plan=found, slip=slip, example=example, kept=kept, blank=blank, charts=[c for c in charts if c],
        costs=costs, dearest=max((cost or 0.0 for _, cost in costs), default=0.0) or 1.0,
        tables=TABLES, alone=ALONE, rows=rows_of(given, blank), single=alone_of(given), text=json.dumps(given, indent=2),
    )  # fmt: skip
