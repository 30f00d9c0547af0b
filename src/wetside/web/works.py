"""Long work that a page asked for: begun once, watched from its page, its last word shown once."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable

from fastapi import Request
from starlette.concurrency import run_in_threadpool

from wetside.app.work import Work
from wetside.figures.finding import Unusable

SOON = 1.2
"""Seconds that a page waits for short work before it shows how far the work is."""


def works(request: Request) -> dict[str, Work]:
    """What is being done, by a name of its own: a roll that prints, a look, a stock."""
    if not hasattr(request.app.state, "works"):
        request.app.state.works, request.app.state.tasks = {}, set()
    found: dict[str, Work] = request.app.state.works
    return found


def start(request: Request, name: str, what: str, call: Callable[[Work], str]) -> None:
    """Begin something long; one of a name at a time."""
    going = works(request).get(name)
    if going is not None and not going.ended:
        raise Unusable(f"{going.what} is still going on for {name}", "print")
    work = works(request)[name] = Work(what, time.monotonic())

    async def run() -> None:
        try:
            work.said = await run_in_threadpool(call, work)
        except Unusable as slip:
            work.slip = f"{slip.where}: {slip.what}" if slip.where else slip.what
        finally:
            work.slip = work.slip or ("" if work.said else "it stopped; the server's own words say why")
            work.ended = True

    task = asyncio.get_running_loop().create_task(run())
    request.app.state.tasks.add(task)
    task.add_done_callback(request.app.state.tasks.discard)


def forget_ended(request: Request, name: str) -> Work | None:
    """The work of a name; forgotten where it has ended, so that its last word is shown once."""
    going = works(request).get(name)
    if going is not None and going.ended:
        works(request).pop(name)
    return going


async def under_way(request: Request, name: str, what: str, call: Callable[[Work], str]) -> Work:
    """The work of a name, begun if it is not; waits a moment for a short one. What went wrong is told once, then begun anew."""
    going = works(request).get(name)
    if going is not None and going.ended and going.slip:
        return works(request).pop(name)
    if going is None or going.ended:
        start(request, name, what, call)
    work = works(request)[name]
    until = time.monotonic() + SOON
    while not work.ended and time.monotonic() < until:
        await asyncio.sleep(SOON / 12)
    return work
