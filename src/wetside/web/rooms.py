"""Pages that read the book: Shelf, Stocks, Ink."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Form, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from wetside.app import book, ink
from wetside.app.sensitometry.carried import carried, carry
from wetside.app.sensitometry.control_strip import LAID, StripPlace
from wetside.app.sensitometry.grey_frames import GreyFrame, show_scale
from wetside.app.sensitometry.stock import stock, stocks
from wetside.app.shelf import AREA_A_LITRE, shelf
from wetside.app.work import Work
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.store import clock
from wetside.web.charts import curve_chart
from wetside.web.pages import page
from wetside.web.works import under_way, works
from wetside.web.writing import was_written

router = APIRouter(include_in_schema=False)


Side = Annotated[int, Form(ge=0, le=200_000)]


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/shelf")
async def the_shelf(request: Request, wrote: str = "") -> Response:
    """The shelf; with `wrote`, what was just written down. On a book without film, baths or gear: the doors to begin at."""
    there = await run_in_threadpool(shelf, home(request))
    bare = not (there["rolls"] or there["baths"] or there["gear"])
    line = await run_in_threadpool(ink.line, home(request), wrote) if wrote else None
    return page(
        request,
        "shelf.html",
        shelf=there,
        per_litre=AREA_A_LITRE,
        bare=bare,
        wrote=line and was_written(line),
    )


@router.get("/stocks")
async def the_stocks(request: Request, name: str = "", shown: str = "", frame: int = 0) -> Response:
    """Every stock; the card of one, or how far the reading of its grey scale is; what was `shown` of a roll on the glass."""
    there = await run_in_threadpool(stocks, home(request))
    card, slip, work = None, None, None
    if name:
        own = next((one for one in there if one["stock"] == name), None)
        if own is None:
            slip = f"no stock {name[:60]!r} in the book"
        elif own["scale"] and own["card"] is None:
            work = await reading(request, name)
        else:
            card = await run_in_threadpool(stock, name, home(request))
    if work and work.ended and not work.slip:
        return RedirectResponse(f"/stocks?{urlencode({'name': name})}", status_code=303)
    chart = curve_chart(card["curve"]) if card and card["curve"] else None
    small = {
        one["stock"]: curve_chart(one["card"]["curve"])
        for one in there
        if one["card"] and one["card"]["curve"]
    }
    return page(
        request, "stocks.html", stocks=there, card=card, name=name, chart=chart, small=small, slip=slip, today=today(),
        work=work.as_json() if work else None,
        carried=await run_in_threadpool(carried, home(request), name, card) if card else [],
        shown=next((one for one in there if shown and one["scale"] == shown), None), frame=frame,
    )  # fmt: skip


def today() -> str:
    return date.fromtimestamp(clock.wall()).isoformat()


async def reading(request: Request, name: str) -> Work:
    """The reading of a stock's grey scale under way."""

    def call(work: Work) -> str:
        stock(name, home(request), work.progress)
        return "read"

    return await under_way(request, f"stock {name}", "reading", call)


@router.get("/stocks/progress")
async def how_far(request: Request, name: str = "") -> dict[str, Any]:
    going = works(request).get(f"stock {name}")
    return going.as_json() if going else Work("nothing", 0.0, ended=True).as_json()


@router.post("/stocks/scale")
async def a_scale(
    request: Request, roll: Annotated[str, Form(max_length=120)], file: Annotated[str, Form(max_length=140)],
    x: Side, y: Side, w: Side, h: Side, densities: Annotated[str, Form(max_length=200)],
    ei: Annotated[float, Form(allow_inf_nan=False)], stops: Annotated[float, Form(allow_inf_nan=False)] = 0.0,
    laid: Annotated[str, Form(pattern=f"^({'|'.join(LAID)})$")] = "row", frame: int = Form(1, ge=1, le=100_000),
) -> Response:  # fmt: skip
    """Keep a frame of a grey scale for the curve of its stock."""
    steps = tuple(float(n) for n in re.findall(r"[0-9]+(?:\.[0-9]+)?", densities))
    shown = GreyFrame(StripPlace(roll, file, Rectangle(x, y, w, h), laid), steps, ei, stops)
    try:
        await run_in_threadpool(show_scale, home(request), shown)
    except Unusable as no:
        there = await run_in_threadpool(stocks, home(request))
        back = f"/glass/{quote(roll)}?frame={frame}"
        return page(
            request, "stocks.html", status=422, stocks=there, small={}, slip=no.what, back=back, today=today()
        )
    return RedirectResponse(f"/stocks?{urlencode({'shown': roll, 'frame': frame})}", status_code=303)


@router.post("/stocks/carried")
async def carry_it(request: Request, name: str = Form(min_length=1, max_length=200)) -> Response:
    await run_in_threadpool(carry, home(request), name)
    return RedirectResponse(f"/stocks?{urlencode({'name': name})}#carried", status_code=303)


@router.get("/ink")
async def the_book(request: Request, thing: str = "", kind: str = "", sort: str = "") -> Response:
    read = await run_in_threadpool(ink.ink, home(request), thing or None, kind or None, sort or None)
    return page(request, "ink.html", sorts=ink.SORTS, filled={}, **read)


@router.get("/ink/line/{name}")
async def one_line(request: Request, name: str) -> Response:
    return page(request, "ink_line.html", line=await run_in_threadpool(ink.line, home(request), name))


@router.post("/ink")
async def a_note(
    request: Request, text: str = Form(min_length=1, max_length=4000), about: str = Form("", max_length=200)
) -> Response:
    things = tuple(part.strip() for part in about.split(",") if part.strip())
    try:
        await run_in_threadpool(book.free_note, home(request), text, things)
    except Unusable as no:
        read = await run_in_threadpool(ink.ink, home(request), None, None, None)
        filled = {"text": text, "about": about}
        return page(request, "ink.html", status=422, sorts=ink.SORTS, filled=filled, slip=no.what, **read)
    return RedirectResponse("/ink", status_code=303)


@router.post("/ink/line/{name}/strike")
async def strike(request: Request, name: str, reason: str = Form("", max_length=400)) -> Response:
    await run_in_threadpool(book.strike, home(request), name, reason)
    return RedirectResponse(f"/ink/line/{name}", status_code=303)
