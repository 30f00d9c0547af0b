"""The Bench: runs there are, one run at the sink, and what is printed of it."""

from __future__ import annotations

import json
from pathlib import Path

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import Response

from wetside.app.processing import bench
from wetside.web.pages import page

router = APIRouter(include_in_schema=False)


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/bench")
async def runs_there_are(request: Request) -> Response:
    most = None if request.query_params.get("all") else bench.LATEST
    return page(request, "bench.html", **await run_in_threadpool(bench.overview, home(request), most))


@router.get("/bench/{run}")
async def at_the_sink(request: Request, run: str) -> Response:
    shown = await run_in_threadpool(bench.sink, home(request), run)
    if shown is None:
        raise HTTPException(404, f"no run {run}")
    return page(request, "bench_run.html", shown=shown, carried=json.dumps(shown))


@router.get("/bench/{run}/record")
async def record(request: Request, run: str) -> Response:
    shown = await run_in_threadpool(bench.sink, home(request), run)
    if shown is None:
        raise HTTPException(404, f"no run {run}")
    baths = await run_in_threadpool(bench.baths_of, home(request), run)
    return page(request, "bench_record.html", shown=shown, baths=baths, labels=bench.labels(shown["run"]))


@router.get("/bench/{run}/sheet")
async def sheet(request: Request, run: str) -> Response:
    shown = await run_in_threadpool(bench.sink, home(request), run)
    if shown is None:
        raise HTTPException(404, f"no run {run}")
    return page(request, "bench_sheet.html", shown=shown)
