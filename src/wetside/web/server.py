"""The web face, put together: the gate in front, the pages and the API behind it."""

from __future__ import annotations

import contextlib
import socket
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.openapi.utils import get_openapi
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from wetside import __version__
from wetside.figures.finding import Unusable
from wetside.web import (
    bench,
    calibration,
    causes,
    control,
    glass,
    health,
    look,
    mixing,
    pairing,
    places,
    planning,
    print_room,
    rooms,
    runs,
    strips,
    writing,
)
from wetside.web.gate import Gate
from wetside.web.pages import STATIC, page

LOOPBACK_HOSTS = frozenset({"localhost", "127.0.0.1", "::1"})


def lan_addresses() -> list[str]:
    """Addresses of this machine that other machines of the network can reach, the likeliest first."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
        probe.connect(("192.0.2.1", 9))  # a documentation address: nothing is sent, a route is chosen
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        entries = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
        found += [str(entry[4][0]) for entry in entries]
    return [address for address in dict.fromkeys(found) if not address.startswith("127.")]


def own_hosts(lan: bool) -> frozenset[str]:
    """The names under which this server answers."""
    if not lan:
        return LOOPBACK_HOSTS
    name = socket.gethostname().lower()
    return LOOPBACK_HOSTS | {name, f"{name}.local", *lan_addresses()}


def create_app(home: Path, *, lan: bool = False) -> FastAPI:
    """The web face on the book in `home`."""
    app = FastAPI(title="wetside", version=__version__, docs_url=None, redoc_url=None)
    app.state.home = home
    app.state.lan = lan
    app.state.devices = pairing.Devices(home)
    for router in (
        health.router,
        pairing.router,
        places.router,
        planning.router,
        rooms.router,
        writing.router,
        causes.router,
        look.router,
        glass.router,
        strips.router,
        print_room.router,
        control.router,
        calibration.router,
        runs.router,
        bench.router,
        mixing.router,
    ):
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.add_exception_handler(Unusable, unusable)
    app.add_exception_handler(HTTPException, said_no)
    app.add_exception_handler(RequestValidationError, malformed)
    app.openapi = lambda: described(app)  # type: ignore[method-assign]
    app.add_middleware(Gate, hosts=own_hosts(lan), paired=app.state.devices.knows)
    return app


def described(app: FastAPI) -> dict[str, object]:
    """The OpenAPI document: the API's routes alone, pages left out."""
    if app.openapi_schema is None:
        app.openapi_schema = get_openapi(title=app.title, version=app.version, routes=app.routes)
    return app.openapi_schema


def wants_json(request: Request) -> bool:
    return request.url.path.startswith("/api/")


def error(request: Request, status: int, what: str, where: str = "") -> Response:
    """One line, as an object for a script and as a page for a person."""
    if wants_json(request):
        return JSONResponse({"schema": "wetside.error/1", "what": what, "where": where}, status)
    return page(request, "error.html", status=status, what=what, where=where)


async def unusable(request: Request, slip: Exception) -> Response:
    assert isinstance(slip, Unusable)
    return error(request, 422, slip.what, slip.where)


async def said_no(request: Request, no: Exception) -> Response:
    assert isinstance(no, HTTPException)
    what = "there is no such page" if no.detail == "Not Found" else str(no.detail)
    answer = error(request, no.status_code, what, request.url.path)
    answer.headers.update(no.headers or {})
    return answer


async def malformed(request: Request, slip: Exception) -> Response:
    assert isinstance(slip, RequestValidationError)
    first = slip.errors()[0]
    where = ".".join(str(part) for part in first["loc"][1:]) or str(first["loc"][0])
    found = first.get("input")
    said = f"; found {found!r}" if isinstance(found, str | int | float) and len(repr(found)) < 60 else ""
    return error(
        request, 422, f"{where.replace('_', ' ')}: {first['msg'][0].lower()}{first['msg'][1:]}{said}", where
    )
