"""Control: whether the process held, from the strips of the book; and the sheet by which strips are made."""

from __future__ import annotations

from pathlib import Path

from fastapi import APIRouter, Form, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from wetside.app import control
from wetside.app.book import append
from wetside.book.kinds import ControlAim
from wetside.figures.finding import Unusable
from wetside.laws.chemistry.limits import SAY, TELLS
from wetside.web.control_chart import control_chart
from wetside.web.pages import page

router = APIRouter(include_in_schema=False)
FIRST, MORE = ("dmin", "ld", "hd_ld"), ("md", "hd")


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/control")
async def the_control(request: Request, batch: str = Query("", max_length=80)) -> Response:
    found, slip = control.empty(None), None
    try:
        found = await run_in_threadpool(control.control, home(request), batch or None)
    except Unusable as no:
        slip = no.what
    drawn = {m: control_chart(m, found) for m in (*FIRST, *MORE)} if found["aim"] else {}
    return page(
        request,
        "control.html",
        found=found,
        slip=slip,
        drawn=drawn,
        first=FIRST,
        more=MORE,
        say=SAY,
        tells=TELLS,
    )


@router.post("/control/aim")
async def an_aim(
    request: Request,
    batch: str = Form(min_length=1, max_length=80),
    run: str = Form(min_length=1, max_length=80),
) -> Response:
    """Name the run that was good: its strip becomes the aim of the batch."""
    await run_in_threadpool(append, home(request), ControlAim(batch=batch, runs=(run,)))
    return RedirectResponse("/control", status_code=303)


@router.get("/control/sheet")
async def a_sheet(
    request: Request,
    gauge: str = Query("135", pattern="^(135|110|16still|16cine)$"),
    strips: int = Query(18, ge=4, le=200),
) -> Response:
    return page(request, "control_sheet.html", sheet=await run_in_threadpool(control.sheet, gauge, strips))
