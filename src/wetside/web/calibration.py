"""Calibration on screen: kept spots with what they should be, the fit and its check, and the lights watched."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from wetside.app.sensitometry import calibrate, calibrate_picked
from wetside.app.viewing import glass
from wetside.figures.finding import Unusable
from wetside.web.light_chart import light_chart
from wetside.web.pages import page

router = APIRouter(include_in_schema=False)
AIM = "^(status M|layers)$"
Name = Annotated[str, Form(min_length=1, max_length=80)]


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/calibration")
async def the_calibrations(
    request: Request, roll: str = Query("", max_length=120), aim: str = Query("status M", pattern=AIM)
) -> Response:
    return await _page(request, roll, aim, {})


@router.post("/calibration")
async def fit(request: Request) -> Response:
    """Fit the kept spots of a roll; with a name, a light and a scanner keep the fit as a line."""
    form = await request.form(max_fields=800)
    told = {key: str(value)[:40] for key, value in form.items()}
    roll, aim = told.get("roll", ""), told.get("aim", "status M")
    if aim not in ("status M", "layers"):
        aim = "status M"
    named = (told.get("name", "").strip(), told.get("light", "").strip(), told.get("scanner", "").strip())
    try:
        if told.get("do") == "keep" and all(named):
            await run_in_threadpool(calibrate_picked.keep_picked, home(request), roll, aim, told, named)
            return RedirectResponse("/calibration", status_code=303)
        found = await run_in_threadpool(calibrate_picked.calibrate_picked, home(request), roll, aim, told)
    except Unusable as no:
        return await _page(request, roll, aim, told, slip=no.what)
    slip = "to keep it, name it, its light and its scanner" if told.get("do") == "keep" else None
    return await _page(request, roll, aim, told, found=found, slip=slip)


@router.post("/calibration/light")
async def a_sight(request: Request, roll: Name, light: Name, scanner: Name) -> Response:
    """Keep a sight of the light through a roll's open gate."""
    try:
        gate = await run_in_threadpool(calibrate_picked.open_gate_of, home(request), roll)
        if gate is None:
            raise Unusable(f"{roll} has no open gate beside its scans", "calibration")
        await run_in_threadpool(calibrate.watch, home(request), gate, light, scanner)
    except Unusable as no:
        return await _page(request, "", "status M", {}, slip=no.what)
    return RedirectResponse(f"/calibration#{quote('lights')}", status_code=303)


async def _page(
    request: Request,
    roll: str,
    aim: str,
    told: dict[str, str],
    found: dict[str, Any] | None = None,
    slip: str | None = None,
) -> Response:
    place = home(request)
    try:
        rows = await run_in_threadpool(calibrate_picked.rows_of, place, roll) if roll else []
    except Unusable:
        rows, slip = [], slip or f"no scans of {roll[:60]!r}"
    lights = await run_in_threadpool(calibrate.lights_seen, place)
    return page(
        request, "calibration.html", roll=roll, aim=aim, told=told, found=found, slip=slip, rows=rows,
        rolls=await run_in_threadpool(glass.rolls_with_scans, place), layers=calibrate_picked.LAYERS,
        profiles=await run_in_threadpool(calibrate.profiles, place), lights=[(one, light_chart(one["seen"])) for one in lights],
        last=_last(lights),
    )  # fmt: skip


def _last(lights: list[dict[str, Any]]) -> dict[str, str]:
    """The light and the scanner that were seen last: what a new sight or fit is most likely of."""
    latest = max(lights, key=lambda one: one["seen"][-1]["happened_at"], default={"light": "", "scanner": ""})
    return {key: str(latest[key] or "") for key in ("light", "scanner")}
