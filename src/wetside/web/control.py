"""Control: whether the process held, from the strips of the book; and the sheet by which strips are made."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from wetside.app.book import append
from wetside.app.sensitometry import control, control_strip
from wetside.app.sensitometry.control_strip import LAID, StripPlace
from wetside.book.kinds import ControlAim, StripBatch
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.laws.chemistry.limits import SAY, TELLS
from wetside.web.control_chart import control_chart
from wetside.web.fields import GAUGES
from wetside.web.pages import page

router = APIRouter(include_in_schema=False)
FIRST, MORE = ("dmin", "ld", "hd_ld"), ("md", "hd")


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/control")
async def the_control(request: Request, batch: str = Query("", max_length=80)) -> Response:
    return await shown(request, batch)


async def shown(request: Request, batch: str, slip: str | None = None, back: str = "") -> Response:
    """The page; `slip`: why something asked of it was not done, `back`: the page that it was asked on."""
    found = control.empty(None)
    try:
        found = await run_in_threadpool(control.control, home(request), batch or None)
    except Unusable as no:
        slip = slip or no.what
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
        back=back,
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
    stocks = await run_in_threadpool(control_strip.stocks_noted, home(request))
    return page(
        request,
        "control_sheet.html",
        sheet=await run_in_threadpool(control.sheet, gauge, strips),
        stocks=stocks,
        gauges=GAUGES,
    )


Word = Annotated[str, Form(max_length=80)]
Name = Annotated[str, Form(min_length=1, max_length=80)]
Side = Annotated[int, Form(ge=0, le=200_000)]


@router.post("/control/batch")
async def a_batch(
    request: Request,
    batch: Name,
    stock: Name,
    process: Annotated[str, Form(pattern="^(ecn-2|c-41)$")],
    gauge: Annotated[str, Form(pattern="^(135|110|16still|16cine)$")],
    strips: Annotated[int, Form(ge=1, le=200)],
    steps: Annotated[str, Form(max_length=40)],
    frozen_on: Word = "",
) -> Response:
    """Note a batch of strips, so that strips can be read of it."""
    numbers = tuple(int(n) for n in re.findall(r"[0-9]{1,3}", steps))
    body = StripBatch(batch=batch.strip(), stock=stock.strip(), process=process, gauge=gauge, strips=strips, steps=numbers,
                      frozen_on=frozen_on.strip() or None)  # fmt: skip
    try:
        await run_in_threadpool(control_strip.note_batch, home(request), body)
    except (Unusable, ValueError) as no:
        return await shown(request, "", str(no), "/control/sheet")
    return RedirectResponse(f"/control?batch={quote(body.batch)}", status_code=303)


@router.post("/control/strip")
async def a_strip(
    request: Request, roll: Annotated[str, Form(max_length=120)], file: Annotated[str, Form(max_length=140)],
    x: Side, y: Side, w: Side, h: Side, batch: Name, run: Word = "", reference: bool = Form(False),
    laid: Annotated[str, Form(pattern=f"^({'|'.join(LAID)})$")] = "borders", frame: int = Form(1, ge=1, le=100_000),
) -> Response:  # fmt: skip
    """Read the scale that lies in a rectangle of a frame as a control strip of a batch."""
    place = StripPlace(roll, file, Rectangle(x, y, w, h), laid)
    try:
        await run_in_threadpool(
            control_strip.read_on_glass, home(request), place, batch, run.strip(), reference
        )
    except Unusable as no:
        return await shown(request, batch, no.what, f"/glass/{quote(roll)}?frame={frame}")
    return RedirectResponse(f"/control?batch={quote(batch)}", status_code=303)
