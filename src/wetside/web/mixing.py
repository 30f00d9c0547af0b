"""Mixing: the sheet on a page, what stands on the shelf, and labels to print."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, QueryParams
from starlette.responses import RedirectResponse, Response

from wetside.app.ink import line
from wetside.app.processing import bottles
from wetside.app.processing.mix import JARS, choices, mix
from wetside.app.processing.warmth import compared
from wetside.figures.finding import Unusable
from wetside.stages.bench.wanted import Kit, Warmth
from wetside.web.fields import GAUGES, LONGEST, Field, number_of
from wetside.web.pages import WAY, page

router = APIRouter(include_in_schema=False)
REELS = range(1, 5)
BENCH = next(place for place in WAY if place.path == "/bench")


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/mix")
async def the_sheet(request: Request) -> Response:
    asked, sheet, slip = request.query_params, None, None
    if asked.get("process"):
        try:
            sheet = await run_in_threadpool(sheet_of, home(request), asked)
        except Unusable as no:
            slip = no.what.replace("--", "")
    return page(
        request,
        "mix.html",
        status=422 if slip else 200,
        here=BENCH,
        asked=asked,
        sheet=sheet,
        slip=slip,
        drawing=tank_drawing(sheet) if sheet else None,
        reels=REELS,
        gauges=GAUGES,
        emptied=await told(request, "emptied"),
        compared=await told(request, "compared"),
        **await run_in_threadpool(choices, home(request)),
    )


async def told(request: Request, key: str) -> dict[str, Any] | None:
    """The line just written that the address names under a key."""
    name = request.query_params.get(key)
    return await run_in_threadpool(line, home(request), name) if name else None


@router.post("/mix/bottled")
async def write_down(request: Request) -> Response:
    form = await request.form()
    names = {role[5:]: str(name) for role, name in form.items() if role.startswith("name ")}
    volumes = {role: number(form, f"ml {role}") or 0.0 for role in names}
    if any(not 0 < volume <= 20_000 for volume in volumes.values()):
        raise Unusable("a bottle holds 1 to 20000 mL", "volume")
    process = str(form.get("process", ""))[:60]
    written = await run_in_threadpool(bottles.bottled, home(request), process, volumes, names)
    return RedirectResponse(f"/mix/labels?{urlencode({'bath': written}, doseq=True)}", status_code=303)


@router.post("/mix/emptied")
async def emptied(request: Request, bath: str = Form(min_length=1, max_length=200)) -> Response:
    line = await run_in_threadpool(bottles.empty, home(request), bath)
    return RedirectResponse(f"/mix?{urlencode({'emptied': line})}#shelf", status_code=303)


@router.post("/mix/thermometer")
async def compare(request: Request) -> Response:
    form = await request.form()
    read, true = number(form, "read_c"), number(form, "true_c")
    if read is None or true is None:
        raise Unusable("both what it read and what was true are needed", "thermometer")
    spread = number(form, "spread_c")
    name = str(form.get("thermometer", ""))
    written = await run_in_threadpool(
        compared, home(request), name, read, true, 0.1 if spread is None else spread
    )
    return RedirectResponse(f"/mix?{urlencode({'compared': written})}#gauges", status_code=303)


@router.get("/mix/labels")
async def the_labels(request: Request) -> Response:
    names = request.query_params.getlist("bath")
    labels = await run_in_threadpool(bottles.labels_of, home(request), names)
    return page(request, "mix_labels.html", here=BENCH, labels=labels)


def sheet_of(place: Path, asked: QueryParams) -> dict[str, Any]:
    """The sheet that the form asks for."""
    reels = [(asked.get(f"gauge{n}", ""), millimetres(asked, f"length{n}")) for n in REELS]
    book = bool(asked.get("tank") or asked.get("thermometer"))
    return mix(
        asked["process"],
        number(asked, "volume"),
        home=place if book else None,
        tank=asked.get("tank") or None,
        thermometer=asked.get("thermometer") or None,
        tank_volume=number(asked, "tank_ml"),
        tank_reels=None if (many := number(asked, "tank_reels")) is None else int(many),
        reels=tuple((gauge, length) for gauge, length in reels if gauge),
        warmth=warmth(asked),
        kit=kit(asked),
        dilution=dilution(asked),
        on_shelf={name: n for name in JARS if (n := number(asked, name)) is not None},
    )


def millimetres(asked: QueryParams, key: str) -> float | None:
    """A length that the form asks for in metres."""
    text = str(asked.get(key) or "").strip()
    return (
        number_of(text, Field(key, "Length, m", "number", unit=0.001, low=10, high=LONGEST), "")
        if text
        else None
    )


def warmth(asked: QueryParams) -> Warmth:
    return Warmth(
        mass=number(asked, "tank_g"),
        tank=number(asked, "tank_c"),
        room=number(asked, "room_c"),
        bath=number(asked, "bath_c"),
        material="steel" if asked.get("material") == "steel" else "plastic",
        hot=number(asked, "hot_c"),
        cold=number(asked, "cold_c"),
    )


def kit(asked: QueryParams) -> Kit | None:
    """A kit from four pairs of name and mL."""
    makes = number(asked, "kit_makes")
    parts = {
        asked.get(f"part{n}") or f"part {n}": amount
        for n in REELS
        if (amount := number(asked, f"part_ml{n}")) is not None
    }
    if makes is None and not parts:
        return None
    if makes is None or not parts:
        raise Unusable("a kit needs what it makes and the mL of each of its parts", "kit")
    return Kit(makes, parts, bool(asked.get("powder")))


def dilution(asked: QueryParams) -> tuple[float, float] | None:
    stock, water = number(asked, "stock"), number(asked, "water")
    if stock is None and water is None:
        return None
    if stock is None or water is None:
        raise Unusable("a dilution is parts of stock and parts of water", "dilution")
    return stock, water


def number(asked: QueryParams | FormData, key: str) -> float | None:
    """The number of a field, a comma allowed; None where it is empty."""
    text = str(asked.get(key) or "").strip().replace(",", ".").replace("−", "-")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if value != value or abs(value) > 1e9:
        raise Unusable(f"{key.replace('_', ' ')}: a number is expected; found {text[:40]!r}", key)
    return value


def tank_drawing(sheet: dict[str, Any]) -> dict[str, Any]:
    """The level of the liquid in a drawing 200 high, and the mark of what covers the reels."""
    cover = sheet["volumes"]["to_cover"]
    volume, whole = sheet["volume_ml"], max(sheet["volume_ml"], cover["value"] if cover else 0.0) * 1.15
    return {
        "level": round(200 * (1 - volume / whole), 1),
        "cover": round(200 * (1 - cover["value"] / whole), 1) if cover else None,
    }
