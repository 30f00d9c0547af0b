"""Strips of one file shown by hand: the file as a whole, a rectangle drawn round each strip, and how it is cut by them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from wetside.app.reading.strips_shown import boxes_typed, show_strips
from wetside.app.viewing import glass
from wetside.figures.finding import Unusable
from wetside.web.pages import page

router = APIRouter(include_in_schema=False)


@router.get("/glass/{roll}/{file}/strips")
async def the_strips(request: Request, roll: str, file: str) -> Response:
    return await shown(request, roll, file)


@router.post("/glass/{roll}/{file}/strips")
async def show(
    request: Request,
    roll: str,
    file: str,
    do: Annotated[str, Form(pattern="^(strips|one|undo)$")],
    boxes: Annotated[str, Form(max_length=4000)] = "",
) -> Response:
    """Keep what was shown as a line; the page then says how the file is cut."""
    home = Path(request.app.state.home)
    try:
        told = boxes_typed(boxes) if do == "strips" else () if do == "one" else None
        if do == "strips" and not told:
            raise Unusable("draw a rectangle round each strip first", "strips")
        await run_in_threadpool(glass.frame_of, home, roll, file)
        await run_in_threadpool(show_strips, home, roll, file, told)
    except Unusable as no:
        return await shown(request, roll, file, no.what, boxes)
    return RedirectResponse(f"/glass/{quote(roll)}/{quote(file)}/strips", status_code=303)


async def shown(request: Request, roll: str, file: str, slip: str = "", typed: str | None = None) -> Response:
    """The page; `typed`: what was typed and could not be used, so that it is not lost."""
    found = await run_in_threadpool(glass.strips_of, Path(request.app.state.home), roll, file)
    lines = "\n".join(", ".join(map(str, box)) for box in found["shown"] or ())
    return page(
        request,
        "glass_strips.html",
        roll=roll,
        found=found,
        slip=slip,
        typed=lines if typed is None else typed,
    )
