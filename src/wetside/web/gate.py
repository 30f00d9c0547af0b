"""The gate: who may speak to this server, decided before any route is looked up.

Theory. The server listens on loopback, so the stranger to keep out is a page of another site in the user's
own browser; with `--lan` also any machine on the network. A request passes when
  1. its Host is one of ours (a name re-pointed at this machine by its owner is not);
  2. its path is plain: no dot segments, no encoded slashes, no backslashes, no NUL;
  3. it does not come from another site: an Origin, where there is one, is our own scheme and host on every
     unsafe method and every WebSocket, and Sec-Fetch-Site, where there is one, is ours unless the user followed
     a link to a page;
  4. its peer is this machine, or carries the secret it got when it was paired;
  5. its body is not larger than the door it knocks at takes.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
COOKIE = "wetside_device"
BODY_LIMIT = 1_000_000
UPLOAD_LIMIT = 600_000_000
UPLOAD_PATH = "/glass/dropped/"

#: Matched exactly, never by prefix: what a machine that is not paired yet may ask for.
OPEN_PATHS = frozenset({"/pair", "/static/tokens.css", "/static/shell.css", "/static/icon.svg"})

#: No inline script or style runs in any page, and no page of ours is shown inside another.
POLICY = (
    "default-src 'self'; img-src 'self' blob: data:; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'"
)
ANSWER_HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
)


class Refused(Exception):
    """The gate's no: an HTTP status and the reason in one line."""

    def __init__(self, status: int, reason: str) -> None:
        super().__init__(reason)
        self.status, self.reason = status, reason


def host_name(host: str) -> str:
    """The name or address in a Host header, without its port and brackets, in lower case."""
    host = host.strip().lower()
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.rpartition(":")[0] if host.count(":") == 1 else host


def is_loopback(peer: str | None) -> bool:
    """Whether the other end of the connection is this machine."""
    if peer is None:
        return False
    try:
        address = ipaddress.ip_address(peer)
    except ValueError:
        return False
    mapped = getattr(address, "ipv4_mapped", None)
    return bool((mapped or address).is_loopback)


def check_host(headers: Headers, hosts: frozenset[str]) -> None:
    given = headers.getlist("host")
    if len(given) != 1 or host_name(given[0]) not in hosts:
        raise Refused(421, f"this server answers as {', '.join(sorted(hosts))} only")


def check_path(scope: Scope) -> None:
    raw = scope.get("raw_path", scope["path"].encode()).split(b"?")[0].lower()
    dotted = any(part in (b".", b"..") for part in raw.replace(b"%2e", b".").split(b"/"))
    if dotted or any(bad in raw for bad in (b"%2f", b"%5c", b"%00", b"\\", b"\0", b"//")):
        raise Refused(400, "a path is plain: no dot segments, encoded slashes, backslashes or empty parts")


def check_site(scope: Scope, headers: Headers, loopback: bool) -> None:
    socket = scope["type"] == "websocket"
    unsafe = socket or scope["method"] not in SAFE
    origin, site = headers.get("origin"), headers.get("sec-fetch-site")
    scheme = {"ws": "http", "wss": "https"}.get(scope["scheme"], scope["scheme"])
    if unsafe and origin is not None and origin != f"{scheme}://{headers['host']}":
        raise Refused(403, "this came from a page of another site")
    if unsafe and origin is None and not loopback and not headers.get("authorization"):
        raise Refused(403, "a script on another machine needs its device's secret as a bearer")
    followed_link = not unsafe and headers.get("sec-fetch-mode") == "navigate"
    if site not in (None, "same-origin", "none") and not followed_link:
        raise Refused(403, "this came from a page of another site")


def device_secrets(headers: Headers) -> list[str]:
    """Secrets offered: the pairing cookie, or a bearer."""
    offered = []
    scheme, _, bearer = headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer" and bearer:
        offered.append(bearer.strip())
    try:
        cookie = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return offered
    return offered + ([cookie[COOKIE].value] if COOKIE in cookie else [])


def body_limit(path: str) -> int:
    return UPLOAD_LIMIT if path.startswith(UPLOAD_PATH) else BODY_LIMIT


class Gate:
    """Plain ASGI, in front of everything. `paired(secret)` says whether a device's secret is known."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str], paired: Callable[[str], bool]) -> None:
        self.app, self.hosts, self.paired = app, hosts, paired

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            return await self.app(scope, receive, send)
        try:
            self.check(scope)
        except Refused as no:
            return await refuse(scope, receive, send, no)
        if scope["type"] == "websocket":
            return await self.app(scope, receive, send)
        return await self.answered(scope, receive, send)

    def check(self, scope: Scope) -> None:
        headers = Headers(scope=scope)
        loopback = is_loopback((scope.get("client") or (None,))[0])
        check_host(headers, self.hosts)
        check_path(scope)
        check_site(scope, headers, loopback)
        if not loopback and scope["path"] not in OPEN_PATHS and not self.knows(headers):
            raise Refused(
                401, "pair this device first: on the computer, open the sheet and choose “Pair a device”"
            )
        if scope["type"] == "http" and declared_length(headers) > body_limit(scope["path"]):
            raise Refused(413, f"at most {body_limit(scope['path']):,} bytes go through this door")

    def knows(self, headers: Headers) -> bool:
        return any(self.paired(secret) for secret in device_secrets(headers))

    async def answered(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, counting the body as it comes and adding the headers every answer carries."""
        left = body_limit(scope["path"])

        async def counted() -> Message:
            nonlocal left
            message = await receive()
            left -= len(message.get("body", b""))
            if left < 0:
                raise Refused(413, f"at most {body_limit(scope['path']):,} bytes go through this door")
            return message

        started = False

        async def headed(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                message = {**message, "headers": [*message.get("headers", ()), *ANSWER_HEADERS]}
            await send(message)

        try:
            await self.app(scope, counted, headed)
        except Refused as no:
            if started:
                raise
            await refuse(scope, receive, send, no)


def declared_length(headers: Headers) -> int:
    text = headers.get("content-length", "0")
    if not text.isascii() or not text.isdigit():
        raise Refused(400, f"a length is a whole number, not {text[:20]!r}")
    return int(text)


async def refuse(scope: Scope, receive: Receive, send: Send, no: Refused) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008, "reason": no.reason[:120]})
        return
    answer: Response
    if scope["path"].startswith("/api/"):
        answer = JSONResponse(
            {"schema": "wetside.error/1", "what": no.reason, "where": scope["path"]}, no.status
        )
    else:
        answer = PlainTextResponse(no.reason + "\n", no.status)
    answer.headers["connection"] = "close"
    await answer(scope, receive, send)
