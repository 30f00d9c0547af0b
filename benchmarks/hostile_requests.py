"""Requests no honest page sends, to every door there is: `python -m benchmarks.hostile_requests [HOW MANY] [SEED]`.

Every route of the program itself is asked, with paths, queries, forms and bodies made of hostile values, bodies that are
cut off, nested a thousand deep, of another kind, or right but for one field. What must hold: an answer under 500, within
five seconds, and a book that still holds together. Bodies made from the published schema by another program's generator
are in the tests.
"""

from __future__ import annotations

import json
import random
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from wetside.app.book import check_book
from wetside.book.text import line_of
from wetside.demo.story import told
from wetside.store.ledger import Ledger
from wetside.web.server import create_app

SLOW = 5.0
WORDS = (
    "", " ", "0", "-1", "1e999", "NaN", "41,0", "−3", "1" * 400, "R01", "R03", "run 1", "run 3", "developer 1", "DAY90", "135", "ecn-2",
    "c-41", "../../etc/passwd", "..%2f..", "%00", "\x00", "\n", "a\r\nSet-Cookie: x=1", "<script>alert(1)</script>", "' OR 1=1 --",
    "{{7*7}}", "${7*7}", "ü" * 300, "\U0001f39e" * 40, "\u202e", "\ud7ff", "roll:R01", "roll:", ":", "R01_01.tif", "open_gate.tif",
    "true", "null", "[]", "{}", "0x10", "9" * 30, "2026-02-30", "2026-05-04", "x" * 9000,
)  # fmt: skip
THINGS: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 41.1, -1e308, 1e308, 10**400, 2**63, "", " ", "R01", "\x00", "\ud800", "x" * 5000, [], {}, [[]], [None],
    {"": ""}, {"roll": "R01"}, ["R01", 3], {"a": {"b": {"c": []}}},
)  # fmt: skip
#: Fields that some door knows; others are invented.
FIELDS = (
    "process", "tank", "volume", "gauge1", "length1", "tank_c", "room_c", "hot_c", "cold_c", "bath_c", "kit_makes", "part1", "part_ml1",
    "powder", "stock", "water", "of", "against", "thing", "kind", "name", "batch", "gauge", "strips", "thermometer", "read_c", "true_c",
    "spread_c", "name developer", "ml developer", "text", "about", "reason", "test", "answer", "token", "frame", "x", "y", "w", "h",
    "look", "file", "roll", "rolls", "kits", "labs", "today", "horizon_days", "all", "bath", "view", "size", "light", "exposure", "points",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ask:
    """A request: method, path with query, headers, body."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes


def doors(app: Any) -> list[tuple[str, str]]:
    """(method, path) of every route, found in the program itself."""
    found = set()

    def walk(routes: Any) -> None:
        for route in routes:
            inner = getattr(route, "original_router", None)
            if inner is not None:
                walk(inner.routes)
            for method in getattr(route, "methods", None) or ():
                found.add((method, route.path))

    walk(app.routes)
    return sorted(found | {("GET", "/static/{file}"), ("DELETE", "/api/runs/{run}"), ("PATCH", "/shelf")})


def asks(every: list[tuple[str, str]], chance: random.Random) -> Iterator[Ask]:
    """Requests without end."""
    while True:
        method, path = chance.choice(every)
        while "{" in path:
            start, end = path.index("{"), path.index("}")
            path = (
                path[:start]
                + quote(chance.choice(WORDS), safe="" if chance.random() < 0.9 else "/%.")
                + path[end + 1 :]
            )
        query = "&".join(
            f"{quote(field(chance))}={quote(chance.choice(WORDS))}"
            for _ in range(chance.choice((0, 0, 1, 2, 6)))
        )
        kind, body = body_of(chance) if method in ("POST", "PUT", "PATCH") else ("", b"")
        headers = {"content-type": kind} if kind else {}
        if chance.random() < 0.05:
            headers["cookie"] = chance.choice(("wetside_device=x", "=;;=", "a" * 3000))
        yield Ask(method, path + (f"?{query}" if query else ""), headers, body)


def field(chance: random.Random) -> str:
    return chance.choice(FIELDS) if chance.random() < 0.9 else "".join(chance.choices("abcß_ ", k=6))


def body_of(chance: random.Random) -> tuple[str, bytes]:
    """(content type, body): JSON of runs and events with one field wrong, forms, parts cut off, deep nests, noise."""
    way = chance.randrange(7)
    if way == 0:
        return "application/json", json.dumps(nearly(chance)).encode("utf-8", "surrogatepass")
    if way == 1:
        text = json.dumps(nearly(chance)).encode("utf-8", "surrogatepass")
        return "application/json", text[: chance.randrange(len(text))]
    if way == 2:
        return (
            "application/json",
            b"[" * 100_000 if chance.random() < 0.3 else b'{"a":' * 1000 + b"1" + b"}" * 1000,
        )
    if way == 3:
        pairs = (f"{quote(field(chance))}={quote(chance.choice(WORDS))}" for _ in range(chance.randrange(12)))
        return "application/x-www-form-urlencoded", "&".join(pairs).encode()
    if way == 4:
        part = (
            b'--b\r\nContent-Disposition: form-data; name="text"; filename="../../x"\r\n\r\n'
            + chance.randbytes(200)
        )
        return "multipart/form-data; boundary=b", part + (b"\r\n--b--" if chance.random() < 0.5 else b"")
    if way == 5:
        return chance.choice(("text/plain", "application/json; charset=utf-16", "")), chance.randbytes(
            chance.randrange(2000)
        )
    return "application/json", chance.choice((b"NaN", b"1e999", b'"\\ud800"', b"null", b"{}", b"\xff\xfe{", b'{"process": "ecn-2", "process": 1}'))  # fmt: skip


def nearly(chance: random.Random) -> dict[str, Any]:
    """A start, an event or a plan that is right, with up to two fields that are not."""
    right: dict[str, Any] = chance.choice(
        (
            {"process": "ecn-2", "rolls": [{"roll": "R10", "reel": "A", "core": "head"}], "baths": {"developer": "developer 1"}, "room_c": 21.0},
            {"process": "mine", "steps": [{"name": "Only", "seconds": 60, "kind": "aim", "role": "developer", "aim_c": 38.0}]},
            {"id": f"p{chance.random()}", "kind": "temperature", "happened_at": time.time(), "celsius": 41.0, "of": "tank"},
            {"id": f"p{chance.random()}", "kind": chance.choice(("fill", "full", "drain", "empty", "skip", "finish", "agitate")), "happened_at": time.time() - chance.random() * 1e4},
            {"id": "p", "kind": "strike", "happened_at": time.time(), "strikes": "demo-tap-001"},
            {"today": "2026-05-04", "rolls": [{"id": "S", "gauge": "135", "length_mm": 1622, "process": "ecn-2"}], "kits": [], "labs": []},
        )
    )  # fmt: skip
    for _ in range(chance.choice((0, 1, 1, 2))):
        right[chance.choice([*right, field(chance)])] = chance.choice(THINGS)
    return right


def began(home: Path) -> None:
    """The demo's story without its scans."""
    with Ledger.open(home) as book:
        book.append_lines([line_of(t.body, name=t.id, happened_at=t.at, noted_at=t.at) for t in told()])


def asked(home: Path, many: int, seed: int) -> tuple[Counter[int], list[str]]:
    """(answers by status, what must not be) of so many requests."""
    from starlette.testclient import TestClient

    chance, counts, wrong = random.Random(seed), Counter[int](), list[str]()
    app = create_app(home)
    with TestClient(app, base_url="http://127.0.0.1:8000", client=("127.0.0.1", 5000), raise_server_exceptions=False, follow_redirects=False) as door:  # fmt: skip
        for _, ask in zip(range(many), asks(doors(app), chance), strict=False):
            start = time.perf_counter()
            answer = door.request(ask.method, ask.path, content=ask.body, headers=ask.headers)
            took = time.perf_counter() - start
            counts[answer.status_code] += 1
            if answer.status_code >= 500 or took > SLOW or "Traceback" in answer.text[:20_000]:
                wrong.append(
                    f"{answer.status_code} after {took:.1f} s: {ask.method} {ask.path[:200]} {ask.headers} {ask.body[:300]!r}"
                )
    wrong += [str(fault) for fault in check_book(home)["faults"]]  # type: ignore[attr-defined]
    return counts, wrong


def main(many: int = 5000, seed: int = 1) -> int:
    """Print how many of each status, and everything that must not be."""
    warnings.simplefilter("ignore")
    with tempfile.TemporaryDirectory() as place:
        began(Path(place))
        counts, wrong = asked(Path(place), many, seed)
    print(f"{many} requests: " + ", ".join(f"{status}: {n}" for status, n in sorted(counts.items())))
    print("\n".join(wrong) or "none answered 500 or more, none took over 5 s, the book holds together")
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(main(*(int(word) for word in sys.argv[1:])))
