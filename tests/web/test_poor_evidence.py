"""Evidence that is poor, mixed or at odds with itself, by the page and by the command: it is said, with what would help."""

from __future__ import annotations

import json
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.cli.calling import call

from wetside.book.kinds import BathMixed, Body, Judged, Measured, RollLoaded, RunStarted
from wetside.store.ledger import Ledger
from wetside.web.server import create_app

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the test client warns of its own HTTP library's name
    from fastapi.testclient import TestClient

CAST = {"found": True, "kind": "additive", "anchor": "rebate"}
MIXED = {"id": "two-rolls", "severity": "warning", "where": "roll", "say": "two rolls lie in this folder", "expected": "one roll",
         "found": "1.tif to 4.tif, 5.tif to 8.tif", "source": "scan each roll into a folder of its own"}  # fmt: skip


def read(**more: Any) -> dict[str, Any]:
    return {
        "schema": "wetside.read/1",
        "rung": 2,
        "frames": [],
        "pattern": {"answer": "cannot say"},
        "cast": {"found": False},
        "findings": [],
        **more,
    }


def roll(name: str) -> RollLoaded:
    return RollLoaded(roll=name, stock="DAY90", gauge="135", length_mm=700.0)


def run(name: str, of: str, **baths: str) -> RunStarted:
    return RunStarted(run=name, process="ecn-2", tank="T", rolls=({"roll": of},), baths=baths)


def said(about: str, subject: str, answer: str, of: str = "R1") -> Judged:
    return Judged(roll=of, about=about, subject=subject, answer=answer)


def changed_at_once() -> list[Body]:
    lines: list[Body] = []
    for i in range(6):
        old = i < 3
        lines += [roll(f"R{i}"), run(f"run {i}", f"R{i}", developer="D1", fixer="F1" if old else "F2", bleach="B1" if old else "B2"), said("frame", "roll", "bad" if old else "good", f"R{i}")]  # fmt: skip
    return lines


CASES: dict[str, tuple[Callable[[], list[Body]], str, str]] = {
    "answers that contradict the film": (lambda: [Measured(roll="R1", what="read", result=read(cast=CAST)), said("question", "in unexposed film", "no")],
                                         "but the rebate shows it", "look at the leader and the gaps again"),
    "answers that contradict each other": (lambda: [said("question", "seen on", "only the picture"), said("question", "in unexposed film", "yes")],
                                           "two answers contradict each other", "look again with a loupe"),
    "a log with gaps": (lambda: [BathMixed(bath="D", role="developer", volume_ml=600.0), run("run 1", "R1", developer="D")],
                        "the log says nothing of the developer's temperature", "note them in the next run"),
    "every suspect changed at once": (changed_at_once, "every suspect changed at once: bath:B1, bath:F1", "change one alone on the next roll"),
    "a roll without rebate": (lambda: [Measured(roll="R1", what="read", result=read(rung=1)), run("run 1", "R1")], "the scans show no rebate", "with the rebate or the leader in view"),
    "two rolls mixed": (lambda: [Measured(roll="R1", what="read", result=read(findings=[MIXED])), run("run 1", "R1")], "not of one roll", "a folder of its own"),
}  # fmt: skip


@pytest.fixture(params=list(CASES))
def case(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Path, str, str]:
    lines, say, helps = CASES[request.param]
    bodies = lines()
    with Ledger.open(tmp_path) as book:
        for body in ([] if any(isinstance(b, RollLoaded) for b in bodies) else [roll("R1")]) + bodies:
            book.append(body, happened_at=1.77e9 + book.count())
    return tmp_path, say, helps


def test_the_page_says_it_and_what_would_help(case: tuple[Path, str, str]) -> None:
    home, say, helps = case
    door = TestClient(create_app(home), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 5000))
    shown = door.get("/causes?of=R1")
    text = shown.text.replace("&#39;", "'").lower()
    assert shown.status_code == 200 and say.lower() in text and helps in text
    assert ">likely<" not in text or "rebate shows it" in say  # there the film is believed


def test_the_command_says_it_and_what_would_help(case: tuple[Path, str, str]) -> None:
    home, say, helps = case
    done = call("causes", "R1", home=home)
    assert done.returncode == 0 and say in done.stdout and helps in done.stdout
    told = json.loads(call("causes", "R1", "--json", home=home).stdout)
    assert any(say in one["say"] and helps in one["source"] for one in told["findings"])


def test_figures_that_are_refused_stay_as_typed_with_the_reason_beside_them(tmp_path: Path) -> None:
    with Ledger.open(tmp_path) as book:
        for body in (*changed_at_once(), Measured(roll="R1", what="read", result=read(cast=CAST))):
            book.append(body, happened_at=1.77e9 + book.count())
    door = TestClient(create_app(tmp_path), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 5000))
    typed = {"of": "R1", "test": "split roll: two fixers", "pairs": "0.82:0.86, 0.80"}
    shown = door.post("/causes/halves", data=typed)
    assert shown.status_code == 422 and shown.text.count("Expected densities in pairs") == 1
    own = shown.text.partition("Split roll: two fixers")[2].partition("</details>")[0]
    assert "Expected densities in pairs" in own and 'value="0.82:0.86, 0.80" autofocus' in own
    assert "autofocus" not in door.get("/causes?of=R1").text
