"""The API of runs: commands by POST with the client's own ids, state and clock over one WebSocket."""

from __future__ import annotations

import asyncio
import contextlib
from collections import defaultdict
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request, WebSocket, WebSocketDisconnect
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response

from wetside.app.processing import bench, runs
from wetside.figures.finding import Unusable
from wetside.store import clock
from wetside.web.run_bodies import EventBody, RunBody, plain

router = APIRouter()


class Slip(BaseModel):
    """What was wrong, in one line."""

    model_config = ConfigDict(populate_by_name=True)
    schema_name: str = Field(alias="schema")
    what: str
    where: str


#: What the gate in front may answer to any call.
UNREADABLE: dict[int | str, dict[str, Any]] = {
    400: {"model": Slip, "description": "Not a plain path, or not readable"}
}


class RunState(BaseModel):
    """A run: its id, process, state and events."""

    model_config = ConfigDict(extra="allow")
    id: str
    process: str
    state: dict[str, Any]
    events: list[dict[str, Any]]


class Listening:
    """Who watches which run: one asyncio event a socket, set when the run has changed."""

    def __init__(self) -> None:
        self.waiting: dict[str, set[asyncio.Event]] = defaultdict(set)

    def tell(self, run: str) -> None:
        for bell in self.waiting.get(run, ()):
            bell.set()


listening = Listening()


def home(request: Request | WebSocket) -> Path:
    return Path(request.app.state.home)


def slip(status: int, what: str, where: str) -> Response:
    return JSONResponse({"schema": "wetside.error/1", "what": what, "where": where}, status)


@router.post(
    "/api/runs", status_code=201, response_model=RunState, responses=UNREADABLE | {422: {"model": Slip}}
)
async def start(request: Request, body: RunBody) -> Response:
    """Start a run. A repeat with the same id is the same run."""
    try:
        answer = await run_in_threadpool(runs.start_run, home(request), plain(body))
    except Unusable as no:
        return slip(422, no.what, no.where)
    return JSONResponse(answer, 201)


@router.get(
    "/api/runs/{run}",
    response_model=RunState,
    responses=UNREADABLE | {404: {"model": Slip}, 422: {"model": Slip}},
)
async def read(request: Request, run: str) -> Response:
    """A run: its process, its state now, and every event."""
    answer = await run_in_threadpool(runs.run, home(request), run)
    return slip(404, f"no run {run!r}", "run") if answer is None else JSONResponse(answer)


@router.post(
    "/api/runs/{run}/events",
    status_code=201,
    response_model=RunState,
    responses=UNREADABLE
    | {
        200: {"model": RunState, "description": "This event was noted before"},
        404: {"model": Slip, "description": "No such run"},
        409: {"model": Slip, "description": "The state refuses it, with the reason"},
        422: {"model": Slip, "description": "Malformed"},
        503: {"model": Slip, "description": "The book could not be written; send it again"},
    },
)
async def note(request: Request, run: str, body: EventBody) -> Response:
    """Note an event of a run; 201 once the line is durable."""
    given = plain(body)
    status, answer = await run_in_threadpool(runs.add_event, home(request), run, given)
    if status == 201:
        listening.tell(run)
    return JSONResponse(answer, status)


class Baths(BaseModel):
    """The bottles of a run, each with what it did and can still do."""

    baths: list[dict[str, Any]]


@router.get(
    "/api/runs/{run}/baths",
    response_model=Baths,
    responses=UNREADABLE | {404: {"model": Slip}, 422: {"model": Slip}},
)
async def baths(request: Request, run: str) -> Response:
    """What the bottles of a run have done, this run included, and can still do."""
    found = await run_in_threadpool(bench.baths_of, home(request), run)
    return slip(404, f"no run {run!r}", "run") if found is None else JSONResponse({"baths": found})


@router.websocket("/api/runs/{run}/ws")
async def watch(socket: WebSocket, run: str) -> None:
    """Pushes {type: "run", run, now} on every change; answers {ping: n} with {type: "pong", ping: n, now}."""
    await socket.accept()
    answer = await run_in_threadpool(runs.run, home(socket), run)
    if answer is None:
        await socket.close(4404, "no such run")
        return
    bell = asyncio.Event()
    listening.waiting[run].add(bell)
    try:
        await socket.send_json({"type": "run", "run": answer, "now": clock.wall()})
        pushing = asyncio.create_task(push(socket, run, bell))
        try:
            while True:
                await pong(socket)
        finally:
            pushing.cancel()
    except (WebSocketDisconnect, RuntimeError):
        pass
    finally:
        listening.waiting[run].discard(bell)


async def push(socket: WebSocket, run: str, bell: asyncio.Event) -> None:
    """Send the run whenever it changed, also when another process wrote the line (looked at every 2 s)."""
    seen = -1
    with contextlib.suppress(WebSocketDisconnect, RuntimeError):
        while True:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(bell.wait(), 2)
            bell.clear()
            answer = await run_in_threadpool(runs.run, home(socket), run)
            if answer and len(answer["events"]) != seen:
                seen = len(answer["events"])
                await socket.send_json({"type": "run", "run": answer, "now": clock.wall()})


async def pong(socket: WebSocket) -> None:
    try:
        said = await socket.receive_json()
    except ValueError:
        return
    if isinstance(said, dict) and isinstance(said.get("ping"), int | float):
        await socket.send_json({"type": "pong", "ping": said["ping"], "now": clock.wall()})
