"""Print: the roll as a strip of positives, each with its light, and the printing of the real ones."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from wetside.app.printing import greyed, print_room, proofs
from wetside.app.printing.grey_lines import greys_from, greys_of
from wetside.app.printing.making import KINDS, Making, make
from wetside.app.printing.positive import FILM
from wetside.app.viewing import glass
from wetside.app.work import Work
from wetside.figures.finding import Unusable
from wetside.web.pages import page, sentence
from wetside.web.works import start, works

router = APIRouter(include_in_schema=False)
Trim = Annotated[float, Query(ge=-4, le=4, allow_inf_nan=False)]
Door = Annotated[str, Query(pattern="^(own|fitted|exchange)$")]
LEFT = r"^([a-z0-9-]{1,20}(\.[a-z0-9-]{1,20}){0,400})?$"
Left = Annotated[str, Query(pattern=LEFT)]
One = Annotated[float, Field(ge=-1.5, le=1.5, allow_inf_nan=False)]
LAYERS = (("r", "Red"), ("g", "Green"), ("b", "Blue"))


Greys = Annotated[list[str], Query(alias="grey", max_length=48)]


class KeptGreys(BaseModel):
    """Greys to keep, "FILE:x,y,w,h" each; none takes them back."""

    greys: list[Annotated[str, Field(max_length=300)]] = Field(max_length=48)


class Kept(BaseModel):
    """Trims to keep: by file r g b [D], "" the whole roll's balance."""

    trims: dict[str, tuple[One, One, One]] = Field(max_length=20_000)


def left_of(leave: str | None) -> frozenset[str] | None:
    """Names of corrections that stay in; None for what is usually left."""
    return None if leave is None else frozenset(leave.split("."))


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/print")
async def which_roll(request: Request) -> Response:
    rolls = await run_in_threadpool(glass.rolls_with_scans, home(request))
    return page(request, "print.html", rolls=rolls, room=None)


@router.get("/print/{roll}")
async def a_roll(request: Request, roll: str, frame: int = Query(1, ge=1, le=100_000)) -> Response:
    rolls = await run_in_threadpool(glass.rolls_with_scans, home(request))
    found = await run_in_threadpool(print_room.room, home(request), roll, frame)
    there = [one for one in found["frames"] if not one["lost"]] or found["frames"]
    shown = min(there, key=lambda one: abs(one["number"] - frame))
    going = works(request).get(roll)
    greys = await run_in_threadpool(greys_told, home(request), roll, found["ready"])
    return page(
        request,
        "print.html",
        rolls=rolls,
        room=found,
        frame=shown,
        layers=LAYERS,
        greys=greys,
        work=going.as_json() if going else None,
    )


def greys_told(at: Path, roll: str, ready: bool) -> dict[str, Any]:
    """The roll's greys as the page draws them, and what they say."""
    named = greys_of(at, roll) if ready else ()
    fed, say = greyed.words_of(at, roll, named)
    return {"spots": greyed.shown(at, roll, named), "fed": fed, "say": say}


@router.post("/print/{roll}/read")
async def read_roll(
    request: Request, roll: str, calibration: Annotated[str, Form(max_length=80)] = ""
) -> Response:
    await run_in_threadpool(glass.folder_of, home(request), roll)

    def call(work: Work) -> str:
        print_room.prepare(home(request), roll, work.progress, calibration)
        return "read"

    start(request, roll, "reading", call)
    return RedirectResponse(f"/print/{roll}", status_code=303)


@router.get("/print/{roll}/progress")
async def progress(request: Request, roll: str) -> dict[str, Any]:
    going = works(request).get(roll)
    return going.as_json() if going else Work("nothing", 0.0, ended=True).as_json()


@router.get("/print/{roll}/contact")
async def contact(request: Request, roll: str, whole: bool = False) -> Response:
    if not (await run_in_threadpool(print_room.room, home(request), roll))["ready"]:
        return RedirectResponse(f"/print/{quote(roll)}", status_code=303)
    sheet = await run_in_threadpool(proofs.contact, home(request), roll, not whole)
    return page(request, "print_sheet.html", sheet=sheet)


@router.get("/print/{roll}/contact.jpg")
async def contact_jpeg(request: Request, roll: str, whole: bool = False) -> Response:
    data = await run_in_threadpool(proofs.contact_jpeg, home(request), roll, not whole)
    return Response(data, media_type="image/jpeg")


@router.get("/print/{roll}/colourist")
async def colourist(request: Request, roll: str) -> Response:
    found = await run_in_threadpool(proofs.colourist, home(request), roll)
    return page(request, "print_colourist.html", roll=roll, facts=found)


@router.get("/print/{roll}/{file}/picture.jpg")
async def picture(
    request: Request,
    roll: str,
    file: str,
    r: Trim = 0.0,
    g: Trim = 0.0,
    b: Trim = 0.0,
    leave: Left | None = None,
    door: Door = "fitted",
    width: int = Query(800, ge=32, le=800),
    alone: bool = False,
    greys: Greys = [],  # noqa: B006
) -> Response:
    def made() -> bytes:
        bench = greyed.bench_with(home(request), roll, door, greys_from(greys))
        trim, left = (r, g, b), left_of(leave)
        return print_room.picture(home(request), roll, file, trim, left, door, width, bench, alone)

    try:
        data = await run_in_threadpool(made)
    except Unusable as no:
        return Response(no.what, 404, media_type="text/plain")
    return Response(data, media_type="image/jpeg", headers={"cache-control": "private, max-age=60"})


@router.get("/print/{roll}/{file}/grey")
async def grey(
    request: Request,
    roll: str,
    file: str,
    x: int = Query(ge=0, le=200_000),
    y: int = Query(ge=0, le=200_000),
    leave: Left | None = None,
    door: Door = "fitted",
    greys: Greys = [],  # noqa: B006
) -> dict[str, Any]:
    def found_at() -> print_room.Rows:
        bench = greyed.bench_with(home(request), roll, door, greys_from(greys))
        return print_room.grey_at(home(request), roll, file, x, y, left_of(leave), bench)

    try:
        found = await run_in_threadpool(found_at)
    except Unusable as no:
        return {"trim": None, "say": no.what}
    return {"trim": found, "say": ""}


@router.get("/print/{roll}/{file}/spot")
async def spot(
    request: Request, roll: str, file: str, x: int = Query(ge=0, le=200_000), y: int = Query(ge=0, le=200_000)
) -> dict[str, Any]:
    at = home(request)
    found = await run_in_threadpool(greyed.spot_at, at, roll, file, x, y)
    return (await run_in_threadpool(greyed.shown, at, roll, (found,)))[0]


@router.get("/print/{roll}/greys")
async def greys_say(request: Request, roll: str, greys: Greys = []) -> dict[str, Any]:  # noqa: B006
    fed, say = await run_in_threadpool(greyed.words_of, home(request), roll, greys_from(greys))
    return {"fed": fed, "say": say}


@router.post("/print/{roll}/greys")
async def keep_greys(request: Request, roll: str, kept: KeptGreys) -> dict[str, int]:
    return {"lines": await run_in_threadpool(greyed.keep, home(request), roll, greys_from(kept.greys))}


@router.post("/print/{roll}/trims")
async def keep(request: Request, roll: str, kept: Kept) -> dict[str, int]:
    return {"lines": await run_in_threadpool(print_room.keep, home(request), roll, dict(kept.trims))}


class Asked(BaseModel):
    """The form of what is to be made."""

    kind: Annotated[str, Field(pattern=f"^({'|'.join(KINDS)})$")] = "tiff"
    door: Annotated[str, Field(pattern="^(own|fitted|exchange)$")] = "fitted"
    leave: Annotated[str, Field(pattern=LEFT)] = "cast.mid-tones"
    negative: Annotated[str, Field(pattern="^(tiff|dpx|)$")] = ""
    overwrite: bool = False
    alone: bool = False
    sequence: Annotated[str, Field(pattern="^[A-Za-z0-9_-]{0,60}$")] = ""
    film: Annotated[str, Field(pattern="^(|16|18|24|25)$")] = ""

    def making(self) -> Making:
        """The same as the app takes it."""
        return Making(
            self.kind,
            self.door,
            frozenset(self.leave.split(".")),
            self.negative or None,
            self.overwrite,
            self.alone,
            self.sequence or None,
            float(self.film) if self.film else None,
        )


@router.post("/print/{roll}/make")
async def make_pictures(request: Request, roll: str, asked: Annotated[Asked, Form()]) -> Response:
    await run_in_threadpool(glass.folder_of, home(request), roll)

    def call(work: Work) -> str:
        return made_say(roll, make(home(request), roll, asked.making(), work.progress))

    start(request, roll, "printing", call)
    return RedirectResponse(f"/print/{roll}", status_code=303)


def made_say(roll: str, found: dict[str, Any]) -> str:
    """What was made, in words."""
    count = len(found["frames"])
    kept = f", {found['kept']} of them finished before" if found["kept"] else ""
    slips = [one for one in found["findings"] if one["id"] == "frame-not-printed"]
    left = f"; not printed: {', '.join(one['where'] for one in slips)}" if slips else ""
    film = "".join(f" {sentence(one['say'])}" for one in found["findings"] if one["where"] == FILM)
    pictures = f"{count} {'picture' if count == 1 else 'pictures'}"
    return f"{pictures} in positives/{roll}{kept}{left}. {sentence(found['consistency']['say'])}{film}"
