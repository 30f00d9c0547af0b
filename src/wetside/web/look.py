"""The first ten minutes on the glass: a look with its progress, the contact sheet with marks, questions, and keeping it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Form, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from wetside.app.faults.first_lines import keep_look
from wetside.app.faults.look import look_again
from wetside.app.faults.more_scans import add_scans
from wetside.app.reading import looked
from wetside.app.reading.lengths import size_of_frame
from wetside.app.shelf import shelf
from wetside.app.viewing import glass
from wetside.app.viewing.verdicts import verdicts_at
from wetside.app.work import Work
from wetside.figures.finding import Unusable
from wetside.stages.causes.ranking.next_test import outcomes_of_test
from wetside.web.fields import GAUGES
from wetside.web.pages import page
from wetside.web.works import under_way, works

router = APIRouter(include_in_schema=False)
Name = Annotated[str, Form(min_length=1, max_length=60)]


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/glass/{roll}/look")
async def look(request: Request, roll: str) -> Response:
    """The look; a page with its progress while it is being taken. Answers stand in the address."""
    answers = {key: value for key, value in request.query_params.items() if value}
    kept = {key: answers.pop(key, "") for key in ("name", "stock", "slip", "to")}
    folder = await run_in_threadpool(glass.folder_of, home(request), roll)
    if await run_in_threadpool(looked.reading_kept, folder) is None:
        work = await looking(request, roll, folder)
        if not work.ended or work.slip:
            return page(request, "glass_look.html", roll=roll, seen=None, work=work.as_json())
    words = await run_in_threadpool(verdicts_at, home(request), roll)
    seen = await run_in_threadpool(look_again, folder, answers, words)
    frames = await run_in_threadpool(sheet, home(request), roll, seen)
    shown: dict[str, Any] = {
        "answers": answers,
        "frames": frames,
        "kept": kept,
        "gauges": GAUGES,
        "rolls": (laid := await run_in_threadpool(glass.rolls_with_scans, home(request))),
        "waiting": [
            one
            for one in (await run_in_threadpool(shelf, home(request)))["rolls"]
            if not one["scans"] and one["roll"] not in laid
        ],
        "work": None,
        "asked": outcomes_of_test(seen["next_test"]["what"]),
    }
    return page(request, "glass_look.html", roll=roll, seen=seen, new=roll.startswith("look-"), **shown)


async def looking(request: Request, roll: str, folder: Path) -> Work:
    """The look under way."""

    def call(work: Work) -> str:
        looked.take_look(folder, work.progress)
        return "looked"

    return await under_way(request, f"look {roll}", "looking", call)


def sheet(book: Path, roll: str, seen: dict[str, Any]) -> list[dict[str, Any]]:
    """Frames of the contact sheet with their size in the file's pixels."""
    folder = glass.folder_of(book, roll)
    sized = [(frame, size_of_frame(folder / frame["file"])) for frame in seen["frames"]]
    return [{**frame, "x": at.x, "y": at.y, "width": at.w, "height": at.h} for frame, at in sized]


@router.get("/glass/{roll}/look/progress")
async def progress(request: Request, roll: str) -> dict[str, Any]:
    going = works(request).get(f"look {roll}")
    return going.as_json() if going else Work("nothing", 0.0, ended=True).as_json()


@router.post("/glass/{roll}/keep")
async def keep(
    request: Request,
    roll: str,
    name: Name,
    stock: str = Form("", max_length=60),
    gauge: str = Form("", max_length=60),
) -> Response:
    """Keep dropped scans and what was seen: as the first lines of a roll, or as those a roll of the shelf waited for."""
    form = await request.form()
    answers = {str(k): str(v) for k, v in form.items() if k not in ("name", "stock", "gauge") and v}
    try:
        folder = await run_in_threadpool(glass.folder_of, home(request), roll)
        await run_in_threadpool(
            lambda: keep_look(home(request), folder, name.strip(), stock.strip(), gauge, answers, move=True)
        )
    except Unusable as slip:
        seen = urlencode({**answers, "name": name, "stock": stock, "slip": slip.what})
        return RedirectResponse(f"/glass/{quote(roll)}/look?{seen}#keep", status_code=303)
    return RedirectResponse(f"/causes?of={quote(name.strip())}", status_code=303)


@router.post("/glass/{roll}/add")
async def add(request: Request, roll: str, to: Name) -> Response:
    """Lay dropped scans with those of a roll that is there."""
    folder = await run_in_threadpool(glass.folder_of, home(request), roll)
    try:
        if not roll.startswith("look-"):
            raise Unusable("only dropped scans are added to a roll", "roll")
        await run_in_threadpool(lambda: add_scans(home(request), to, folder, move=True))
    except Unusable as slip:
        return RedirectResponse(
            f"/glass/{quote(roll)}/look?{urlencode({'slip': slip.what, 'to': to})}#keep", status_code=303
        )
    return RedirectResponse(f"/glass/{quote(to)}", status_code=303)
