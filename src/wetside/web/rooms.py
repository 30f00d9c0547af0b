"""Pages that read the book: Shelf, Stocks, Ink."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from wetside.app import book, ink
from wetside.app.carried import carried, carry
from wetside.app.shelf import shelf
from wetside.app.stock import stock, stocks
from wetside.figures.finding import Unusable
from wetside.web.charts import curve_chart
from wetside.web.pages import page

router = APIRouter(include_in_schema=False)


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/shelf")
async def the_shelf(request: Request) -> Response:
    return page(request, "shelf.html", shelf=await run_in_threadpool(shelf, home(request)))


@router.get("/stocks")
async def the_stocks(request: Request, name: str = "") -> Response:
    card, slip = None, None
    if name:
        try:
            plain = name if "/" not in name and name not in (".", "..") else "-"
            card = await run_in_threadpool(stock, plain, home(request))
        except Unusable as no:
            slip = no.what
    there = await run_in_threadpool(stocks, home(request))
    chart = curve_chart(card["curve"]) if card and card["curve"] else None
    small = {
        one["stock"]: curve_chart(one["card"]["curve"])
        for one in there
        if one["card"] and one["card"]["curve"]
    }
    return page(
        request, "stocks.html", stocks=there, card=card, name=name, chart=chart, small=small, slip=slip,
        carried=await run_in_threadpool(carried, home(request), name, card) if name and card else [],
    )  # fmt: skip


@router.post("/stocks/carried")
async def carry_it(request: Request, name: str = Form(min_length=1, max_length=200)) -> Response:
    await run_in_threadpool(carry, home(request), name)
    return RedirectResponse(f"/stocks?{urlencode({'name': name})}#carried", status_code=303)


@router.get("/ink")
async def the_book(request: Request, thing: str = "", kind: str = "") -> Response:
    return page(
        request, "ink.html", **await run_in_threadpool(ink.ink, home(request), thing or None, kind or None)
    )


@router.get("/ink/line/{name}")
async def one_line(request: Request, name: str) -> Response:
    return page(request, "ink_line.html", line=await run_in_threadpool(ink.line, home(request), name))


@router.post("/ink")
async def a_note(
    request: Request, text: str = Form(min_length=1, max_length=4000), about: str = Form("", max_length=200)
) -> Response:
    things = tuple(part.strip() for part in about.split(",") if part.strip())
    await run_in_threadpool(book.free_note, home(request), text, things)
    return RedirectResponse("/ink", status_code=303)


@router.post("/ink/line/{name}/strike")
async def strike(request: Request, name: str, reason: str = Form("", max_length=400)) -> Response:
    await run_in_threadpool(book.strike, home(request), name, reason)
    return RedirectResponse(f"/ink/line/{name}", status_code=303)
