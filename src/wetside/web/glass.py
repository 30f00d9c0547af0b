"""Glass: the strip of a roll, a frame large, densities under the finger, and a look at files dropped here."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from wetside.app.reading.lie import keep_lie, lie_told
from wetside.app.sensitometry import control_strip, grey_frames
from wetside.app.viewing import by_hand, densitometer, glass, verdicts
from wetside.app.viewing.places import places_to_look
from wetside.app.work import Work
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.stages.negative.measured.density_map import legend
from wetside.web.charts import area_charts
from wetside.web.pages import page
from wetside.web.works import forget_ended, under_way, works

router = APIRouter(include_in_schema=False)
SHADES = "^(scanned|evened|shared|map[rgb]?)$"


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/glass")
async def which_roll(request: Request, to: str = Query("", max_length=120)) -> Response:
    """The way in: rolls, and where scans are dropped; `to`: the roll that they belong to."""
    return page(
        request,
        "glass.html",
        rolls=await run_in_threadpool(glass.rolls_with_scans, home(request)),
        strip=None,
        to=to,
        frame=None,
        shade="scanned",
        work=None,
        kinds=glass.KINDS,
    )


@router.get("/glass/{roll}")
async def a_roll(
    request: Request,
    roll: str,
    frame: int = Query(1, ge=1, le=100_000),
    shade: str = Query("scanned", pattern=SHADES),
    place: int = Query(0, ge=0, le=100_000),
) -> Response:
    """A roll and one of its frames; `place`: the one that shows so many of the places that may be marks."""
    strip = await run_in_threadpool(verdicts.judged_strip, home(request), roll, frame)
    places = places_to_look(strip["reading"])
    asked, place = place, ((place - 1) % len(places) + 1 if place and places else 0)
    if place and places[place - 1]["frame"] != frame:
        frame = places[place - 1]["frame"]
        strip = await run_in_threadpool(verdicts.judged_strip, home(request), roll, frame)
    shown = next((one for one in strip["frames"] if one["number"] == frame), strip["frames"][-1])
    rolls = await run_in_threadpool(glass.rolls_with_scans, home(request))
    going = forget_ended(request, f"read {roll}")
    work = going.as_json() if going and (going.slip or not going.ended) else None
    return page(
        request,
        "glass.html",
        rolls=rolls,
        strip=strip,
        frame=shown,
        shade=shade,
        places=places,
        at_place=place,
        asked_place=asked,
        work=work,
        spots=await run_in_threadpool(by_hand.spots_of, home(request), roll),
        legend=legend(),
        map_base=glass.map_base(strip["reading"], shown["file"]),
        hand=await run_in_threadpool(glass.hand_of, home(request), roll, shown["file"], strip["reading"]),
        doubt=[]
        if strip["long"]
        else await run_in_threadpool(glass.doubt_of, home(request), roll, shown["file"]),
    )


class SpotAt(BaseModel):
    """A place that was tapped, in pixels of the file."""

    file: str = Field(max_length=140)
    x: int = Field(ge=0, le=200_000)
    y: int = Field(ge=0, le=200_000)


class Spots(BaseModel):
    """The spots pinned on a frame or over a roll."""

    spots: list[SpotAt] = Field(min_length=1, max_length=by_hand.MOST)


@router.post("/glass/{roll}/spots", status_code=201)
async def keep_spots(request: Request, roll: str, body: Spots) -> dict[str, Any]:
    """Keep pinned spots as a line of the book; they are read anew here, never taken from the page."""
    at = [(one.file, one.x, one.y) for one in body.spots]
    return {"spots": await run_in_threadpool(by_hand.keep_spots, home(request), roll, at)}


@router.post("/glass/{roll}/read")
async def read_roll(
    request: Request,
    roll: str,
    gauge: str = Form("", pattern="^(16still|16cine|110|135|)$"),
    calibration: str = Form("", max_length=80),
    first: str = Form("", pattern="^[0-9]{0,6}$"),
    last: str = Form("", pattern="^[0-9]{0,6}$"),
    head: str = Form("", pattern="^(left|right|)$"),
    emulsion: str = Form("", pattern="^(up|down|)$"),
) -> Response:
    """Read the roll; a page with how far it is where it takes longer than a moment."""
    stretch = (int(first or last), int(last or first)) if first or last else None

    def call(work: Work) -> str:
        if head and emulsion and not roll.startswith("look-"):
            told = lie_told(glass.folder_of(home(request), roll))
            keep_lie(home(request), roll, replace(told, head=head, mirrored=emulsion == "down"))
        glass.read_and_keep(home(request), roll, gauge or None, calibration or None, stretch, work.progress)
        return "read"

    await run_in_threadpool(glass.folder_of, home(request), roll)
    forget_ended(request, f"read {roll}")
    await under_way(request, f"read {roll}", "reading", call)
    return RedirectResponse(f"/glass/{quote(roll)}", status_code=303)


@router.get("/glass/{roll}/read/progress")
async def how_far(request: Request, roll: str) -> dict[str, Any]:
    going = works(request).get(f"read {roll}")
    return going.as_json() if going else Work("nothing", 0.0, ended=True).as_json()


@router.get("/glass/{roll}/{file}/view.jpg")
async def view(
    request: Request,
    roll: str,
    file: str,
    width: int = Query(900, ge=64, le=2400),
    made: bool = False,
    shade: str = Query("scanned", pattern=SHADES),
) -> Response:
    try:
        data = await run_in_threadpool(glass.view, home(request), roll, file, width, made, shade)
    except Unusable as no:
        return Response(no.what, 404, media_type="text/plain")
    return Response(data, media_type="image/jpeg", headers={"cache-control": "private, max-age=300"})


@router.get("/glass/{roll}/{file}/density")
async def density(
    request: Request, roll: str, file: str, x: int = Query(ge=0, le=200_000), y: int = Query(ge=0, le=200_000)
) -> dict[str, Any]:
    return await run_in_threadpool(densitometer.density_at, home(request), roll, file, x, y)


Side = Annotated[int, Query(ge=0, le=200_000)]


@router.get("/glass/{roll}/{file}/area")
async def an_area(
    request: Request,
    roll: str,
    file: str,
    x: Side,
    y: Side,
    w: Side,
    h: Side,
    frame: int = Query(1, ge=1, le=100_000),
) -> Response:
    """A fragment of the page: the area's densities, its profiles and its histogram."""
    box = Rectangle(x, y, w, h)
    found = await run_in_threadpool(densitometer.area_at, home(request), roll, file, box)
    charts = area_charts(found.along, found.across, found.edges, found.counts)
    batches = await run_in_threadpool(control_strip.batches_noted, home(request))
    runs = await run_in_threadpool(control_strip.runs_noted, home(request)) if batches else []
    return page(
        request, "glass_area.html", found=found, box=box, charts=charts, roll=roll, file=file, frame=frame,
        batches=batches, runs=runs, laid=control_strip.LAID,
        scale=await run_in_threadpool(grey_frames.asked_of, home(request), roll, file, frame),
    )  # fmt: skip


@router.post("/glass/{roll}/{file}/shown")
async def shown(
    request: Request,
    roll: str,
    file: str,
    what: Annotated[str, Form(pattern="^(picture|base)$")],
    x: Annotated[int, Form(ge=0, le=200_000)],
    y: Annotated[int, Form(ge=0, le=200_000)],
    w: Annotated[int, Form(ge=0, le=200_000)],
    h: Annotated[int, Form(ge=0, le=200_000)],
    frame: Annotated[int, Form(ge=1, le=100_000)] = 1,
) -> Response:
    await run_in_threadpool(glass.show_place, home(request), roll, file, what, Rectangle(x, y, w, h))
    return RedirectResponse(f"/glass/{quote(roll)}?frame={frame}", status_code=303)


@router.post("/glass/{roll}/{file}/verdict")
async def a_verdict(
    request: Request,
    roll: str,
    file: str,
    answer: Annotated[str, Form(pattern="^(confirmed|not one|drawn)$")],
    frame: Annotated[int, Form(ge=1, le=100_000)],
    x: Annotated[int, Form(ge=0, le=200_000)],
    y: Annotated[int, Form(ge=0, le=200_000)],
    w: Annotated[int, Form(ge=0, le=200_000)],
    h: Annotated[int, Form(ge=0, le=200_000)],
    place: Annotated[int, Form(ge=0, le=100_000)] = 0,
) -> Response:
    """Keep a word on a mark; `place`: it was said on so many of the places to look at, and the next one is shown."""
    await run_in_threadpool(verdicts.judge_mark, home(request), roll, file, Rectangle(x, y, w, h), answer)
    on = f"&place={place}#places" if place else "#negative"
    return RedirectResponse(f"/glass/{quote(roll)}?frame={frame}{on}", status_code=303)


@router.put("/glass/dropped/{file}")
async def dropped(request: Request, file: str, into: str = "") -> dict[str, str]:
    content = await request.body()
    return {"folder": await run_in_threadpool(glass.keep_dropped, home(request), into or None, file, content)}
