"""Pairing a phone: a token that works once, drawn as a QR code, buys a device secret that lasts.

The token travels in an address and may be seen; it is worth nothing once used or ten minutes later. The
secret is another random number, set as a cookie no script can read; only its hash is kept.
"""

from __future__ import annotations

import hashlib
import secrets
import time
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from wetside.store.devices import known_devices, remember_device
from wetside.web.gate import COOKIE, is_loopback
from wetside.web.pages import page

router = APIRouter(include_in_schema=False)
TOKEN_LIFE_S = 600.0
COOKIE_LIFE_S = 180 * 86400


def digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


class Devices:
    """The tokens that are open now, and the devices that were paired (kept beside the book)."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self.tokens: dict[str, float] = {}
        self.known = set(known_devices(home))

    def new_token(self) -> str:
        now = time.monotonic()
        self.tokens = {token: end for token, end in self.tokens.items() if end > now}
        token = secrets.token_urlsafe(16)
        self.tokens[token] = now + TOKEN_LIFE_S
        return token

    def is_open(self, token: str) -> bool:
        return self.tokens.get(token, 0.0) > time.monotonic()

    def secret_for(self, token: str) -> str | None:
        """The secret a token buys, once; None when it was used, is too old, or never was."""
        if self.tokens.pop(token, 0.0) <= time.monotonic():
            return None
        secret = secrets.token_urlsafe(32)
        remember_device(self.home, digest(secret))
        self.known.add(digest(secret))
        return secret

    def knows(self, secret: str) -> bool:
        return digest(secret) in self.known


def pairing_address(request: Request, token: str) -> str:
    """Where the phone goes: this server under the address by which the network reaches it."""
    from wetside.web.server import lan_addresses

    port = request.url.port or 80
    host = next(iter(lan_addresses()), request.url.hostname or "localhost")
    return f"http://{host}:{port}/pair?token={token}"


@router.get("/pair")
def pair_page(request: Request, token: str = "") -> Response:
    """What the phone sees: one button. The token is spent by pressing it, not by a look at the address."""
    return page(request, "pair.html", token=token, open=request.app.state.devices.is_open(token))


@router.post("/pair")
def pair(request: Request, token: Annotated[str, Form(max_length=100)] = "") -> Response:
    secret = request.app.state.devices.secret_for(token)
    if secret is None:
        raise HTTPException(403, "this code was used already or is too old; ask the computer for a new one")
    answer = RedirectResponse("/bench", status_code=303)
    answer.set_cookie(COOKIE, secret, max_age=COOKIE_LIFE_S, httponly=True, samesite="strict")
    return answer


@router.get("/devices")
def devices_page(request: Request) -> Response:
    """On the computer: a fresh code for one more device."""
    import segno

    if not request.app.state.lan:
        return page(request, "devices.html", address=None, picture=None)
    if not is_loopback(request.client.host if request.client else None):
        raise HTTPException(403, "a new device is paired at the computer itself")
    address = pairing_address(request, request.app.state.devices.new_token())
    picture = segno.make(address, error="m").svg_inline(
        scale=6, border=4, dark="#000", light="#fff", omitsize=True
    )
    return page(request, "devices.html", address=address, picture=picture)
