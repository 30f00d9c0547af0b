"""From scans to causes: rolls with a planted cause are scanned, noted in a book and read as a user would: `python -m benchmarks.suite 200 SEED`.

Each roll has a stock, a scanner, a gauge and a book of its own. The grey scale on it is read as a control strip against
three earlier runs'; the log forgets and errs as `faulty_rolls` has it, partly as taps, partly as lines by hand.
"""

from __future__ import annotations

import sys
import tempfile
import time
import uuid
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.causes import interval
from benchmarks.faulty_rolls import ACTION, AREA, CLEAN, HIGH, LOOKS, LOW, WHOLE, developed, emulsion, log_of
from benchmarks.rolls import Setting
from benchmarks.scanned_rolls import (
    CASTS,
    CONTROL,
    CORE,
    GROOVE,
    MARKED_CAUSES,
    SCALE,
    STEPS,
    Film,
    film_with,
    roll_scatter,
    write_roll,
    write_scale,
)
from wetside.app.faults.causes import causes_of_run
from wetside.app.sensitometry.strip import StripOptions, read_and_note
from wetside.app.shelf import film_area
from wetside.app.viewing.glass import read_and_keep
from wetside.app.viewing.verdicts import judge_mark
from wetside.book.kinds import (
    BathMixed,
    Body,
    Judged,
    ReelOwned,
    RollLoaded,
    RunEvent,
    RunStarted,
    StockNoted,
    StripBatch,
)
from wetside.book.line import Line
from wetside.book.text import line_of
from wetside.figures.place import Rectangle
from wetside.laws.chemistry.processes import process_named
from wetside.stages.causes.ranking.local import LOCAL
from wetside.store.ledger import Ledger

DAY, NOW = 86_400.0, 1.77e9
GROUPS = ("whole roll", "clean", "marks", "cast", "scanner")
ROLL, RUN = "R1", "run 1"
WHERE = {cause.name: cause.where for cause in LOCAL}


def group_of(truth: str) -> str:
    """Which of the groups a planted cause belongs to."""
    if truth == CLEAN:
        return "clean"
    if WHERE.get(truth) == "scanner":
        return "scanner"
    return "marks" if truth in MARKED_CAUSES else "cast" if truth in CASTS else "whole roll"


@dataclass
class Told:
    """What came of one roll: the causes as read, as they stand after the user's taps on its marks, and what the read cost."""

    truth: str
    found: dict[str, Any]
    tapped: dict[str, Any]
    reading: dict[str, Any]
    seconds: float
    hits: int = 0
    claimed: int = 0
    planted: int = 0
    boxes: dict[str, list[Rectangle]] = field(default_factory=dict)


def truths(count: int, rng: np.random.Generator) -> Iterator[str]:
    """Half whole-roll faults, a fifth clean, the rest marks, casts and scanner faults in turn."""
    local, at = (*MARKED_CAUSES, *CASTS), 0
    for i in range(count):
        if i % 10 < 5:
            yield WHOLE[int(rng.integers(len(WHOLE)))]
        elif i % 10 < 7:
            yield CLEAN
        else:
            yield local[at % len(local)]
            at += 1


def film_of(truth: str, rng: np.random.Generator) -> tuple[Film, float]:
    """A roll of an invented stock with a fault that a control chart would act on, and the fault's size."""
    stock, gauge = emulsion(rng), str(rng.choice(list(SCALE)))
    stock = replace(
        stock, base=np.sort(stock.base) + np.array([0.0, 0.1, 0.2])
    )  # a mask, as all such film has
    frames = 4 if truth in WHOLE else 9 if truth in MARKED_CAUSES else int(rng.integers(5, 8))
    fine = SCALE[gauge] * (0.75 if truth in WHOLE else 1.0)  # a whole-roll fault is read off its grey scale
    gate = truth in WHOLE or (truth != "light under the negative" and rng.random() < 0.6)
    setting = Setting(
        gauge, frames, gate, falloff=rng.uniform(0.02, 0.12), grain=rng.uniform(0.003, 0.01), fine=fine
    )
    plain = Film(developed(stock, CLEAN, 0.0, rng), np.zeros((3, 3)), setting)
    while True:
        size = float(rng.uniform(0.35, 1.0))
        whole = truth if truth in WHOLE else CLEAN
        film = film_with(stock, developed(stock, whole, size, rng), setting, truth, rng)
        if truth not in WHOLE or np.abs(_moved(film) - _moved(plain)).max() >= ACTION:
            return film, size


def _moved(film: Film) -> np.ndarray:
    low = film.density(LOW)
    return np.array([film.density(None), low, film.density(HIGH) - low])


def lines_of(film: Film, truth: str, size: float, rng: np.random.Generator) -> list[tuple[float, Body]]:
    """(time, line) of the stock, the baths and what they did before, the run and what was noted during it."""
    log = log_of(truth, size, rng)
    today = date.fromtimestamp(NOW)
    age = log.get("film_age_years")
    expires = None if age is None else (today - timedelta(days=365.25 * (age - 2))).isoformat()
    gauge = film.setting.gauge
    found: list[tuple[float, Body]] = [
        (NOW - 90 * DAY, StockNoted(stock="FILM", expires_on=expires)),
        (NOW - 90 * DAY, ReelOwned(reel="A", inner_radius_mm=CORE + rng.normal(0, 0.7), pitch_mm=GROOVE)),
        (NOW - 80 * DAY, StripBatch(batch="B", stock="FILM", steps=CONTROL)),
        (NOW - 5 * DAY, RollLoaded(roll=ROLL, stock="FILM", gauge=gauge, length_mm=800.0)),
    ]
    baths = {}
    for role in ("developer", "bleach", "fixer"):
        baths[role] = f"{role} 1"
        found += _bath(role, log.get(AREA.format(role)), log.get("developer_age_days"))
    if log.get("stop_bath_used", rng.random() < 0.85):
        baths["stop"] = "stop 1"
    noted = rng.random() < 0.85
    run = RunStarted(run=RUN, process="ecn-2", tank="T", rolls=({"roll": ROLL, "reel": "A", "core": "head"},), baths=baths if noted else {})  # fmt: skip
    return [*found, (NOW, run), *(_taps(log) if rng.random() < 0.7 else _by_hand(log))]


def _bath(role: str, area: float | None, age: float | None) -> list[tuple[float, Body]]:
    """The bath mixed, and an earlier run that spent it; nothing of a bath of which the log says nothing."""
    mixed = NOW - DAY * (age if role == "developer" and age is not None else 10.0)
    if area is None and (role != "developer" or age is None):
        return []
    before = RollLoaded(roll=f"R {role}", stock="FILM", gauge="135", length_mm=1650.0)
    own = film_area({"gauge": "135", "length_mm": 1650.0})
    spent = area is not None and area > 0.005
    volume = 1000 * own / area if area is not None and spent else 1000.0
    found: list[tuple[float, Body]] = [(mixed, BathMixed(bath=f"{role} 1", role=role, volume_ml=volume))]
    if spent:
        earlier = RunStarted(run=f"before {role}", process="ecn-2", rolls=({"roll": before.roll},), baths={role: f"{role} 1"})  # fmt: skip
        found += [(mixed, before), ((mixed + NOW) / 2, earlier)]
    return found


def _by_hand(log: dict[str, Any]) -> list[tuple[float, Body]]:
    found: list[Body] = []
    if "developer_temperature_off_c" in log:
        fields = {"celsius": 41.1 + log["developer_temperature_off_c"], "step": "developer"}
        found.append(RunEvent(run=RUN, event="temperature", fields=fields))
    for key, what in (("missed_agitation", "missed agitation"), ("late_drain", "late drain")):
        if log.get(key):
            found.append(RunEvent(run=RUN, event="deviation", fields={"what": what}))
    return [(NOW + 60.0 * i, body) for i, body in enumerate(found, 1)]


def _taps(log: dict[str, Any]) -> list[tuple[float, Body]]:
    """A run tapped at the sink: each bath filled and drained, the developer's temperature in the tank."""
    found: list[tuple[float, str, dict[str, object]]] = []
    at = 100.0
    for step in process_named("ecn-2").steps:
        if step.role == "stop" and log.get("stop_bath_used") is False:
            found.append((at, "skip", {}))
            continue
        developer = step.role == "developer"
        film_s = step.seconds + (log.get("developer_time_off_s", 0.0) if developer else 3.0)
        found += [(at, "fill", {}), (at + 10, "full", {})]
        if developer and "developer_temperature_off_c" in log:
            celsius = step.aim_c + log["developer_temperature_off_c"]
            found.append((at + 60, "temperature", {"celsius": celsius, "of": "tank"}))
        if developer and log.get("missed_agitation"):
            found.append((at + 70, "deviation", {"what": "missed agitation"}))
        found += [(at + film_s, "drain", {}), (at + film_s + 10, "empty", {})]
        at += film_s + 25
    return [(NOW + when, RunEvent(run=RUN, event=event, fields=fields)) for when, event, fields in found]


def scanned_roll(home: Path, truth: str, rng: np.random.Generator) -> Told:
    """Make a roll and its book, read it, and ask for its causes, before and after the user's taps on its marks."""
    film, size = film_of(truth, rng)
    boxes = write_roll(home / "scans" / ROLL, film, rng)
    with Ledger.open(home) as book:
        lines = [*lines_of(film, truth, size, rng), *_earlier()]
        book.append_lines(_line(at, body) for at, body in sorted(lines, key=lambda pair: pair[0]))
    began = time.process_time()
    _strips(home, film, rng)
    reading = read_and_keep(home, ROLL, film.setting.gauge)
    _noted(home, _answers(truth, rng))
    found = causes_of_run(home, RUN)
    seconds = time.process_time() - began
    said, hits = _user_taps(reading, boxes)
    _noted(home, said)
    _drawn(home, reading, boxes, rng)
    planted = sum(len(b) for b in boxes.values())
    return Told(truth, found, causes_of_run(home, RUN), reading, seconds, hits, len(said), planted, boxes)


def _line(at: float, body: Body) -> Line:
    return line_of(body, name=uuid.uuid4().hex, happened_at=at, noted_at=at)


def _noted(home: Path, bodies: list[Body]) -> None:
    if bodies:
        with Ledger.open(home) as book:
            book.append_lines(_line(NOW + DAY, body) for body in bodies)


def _earlier() -> list[tuple[float, Body]]:
    return [
        (NOW - (20 + 10 * i) * DAY, RunStarted(run=f"good {i}", process="ecn-2", tank="T")) for i in range(3)
    ]


def _strips(home: Path, film: Film, rng: np.random.Generator) -> None:
    """Three earlier runs' grey scales as references, and this run's own."""
    plain = developed(film.made.film, CLEAN, 0.0, rng)
    runs = [(f"good {i}", Film(plain, roll_scatter(rng), film.setting)) for i in range(3)]
    for run, of in (*runs, (RUN, film)):
        file = home / "strips" / run / "scale.tif"
        write_scale(file, of, rng)
        options = StripOptions(grid=(len(STEPS), 1))
        read_and_note(home, file, options, "B", run, run != RUN)


def _answers(truth: str, rng: np.random.Generator) -> list[Body]:
    """Each of the five questions answered in half of the rolls with marks or a cast."""
    asked = LOOKS[truth].answers if truth in LOOKS else {}
    return [
        Judged(roll=ROLL, about="question", subject=q, answer=str(rng.choice(a)))
        for q, a in asked.items()
        if rng.random() < 0.5
    ]


def _user_taps(reading: dict[str, Any], boxes: dict[str, list[Rectangle]]) -> tuple[list[Body], int]:
    """The user's word on every mark that was found: confirmed where one was planted, else not one."""
    said: list[Body] = []
    hits = 0
    for frame in reading["frames"]:
        for mark in frame["marks"]:
            box = Rectangle(*(int(mark[key]) for key in "xywh"))
            true = any(_same(box, own) for own in boxes[_file_of(frame)])
            hits += true
            fields: dict[str, object] = {"file": frame["file"], **box.as_json()}
            subject = f"{frame['file']} {box.x},{box.y},{box.w},{box.h}"
            said.append(Judged(roll=ROLL, about="mark", subject=subject, answer="confirmed" if true else "not one", fields=fields))  # fmt: skip
    return said, hits


def _drawn(
    home: Path, reading: dict[str, Any], boxes: dict[str, list[Rectangle]], rng: np.random.Generator
) -> None:
    """Marks that the reading missed, drawn by the user as rectangles on the glass: seven of ten, a dozen at the most."""
    missed = []
    for frame in reading["frames"]:
        picture = Rectangle(*(int(frame["picture"][key]) for key in "xywh"))
        known = [Rectangle(*(int(mark[key]) for key in "xywh")) for mark in frame["marks"]]
        for own in boxes[_file_of(frame)]:
            left, top = max(own.x, picture.x), max(own.y, picture.y)
            w, h = (
                min(own.x + own.w, picture.x + picture.w) - left,
                min(own.y + own.h, picture.y + picture.h) - top,
            )
            if min(w, h) >= 5 and not any(_same(box, own) for box in known):
                missed.append((frame["file"], Rectangle(left, top, w, h)))
    for at in rng.permutation(len(missed))[: min(12, round(0.7 * len(missed)))]:
        file, place = missed[at]
        judge_mark(home, ROLL, file, place, "drawn")


def _file_of(frame: dict[str, Any]) -> str:
    """The scan of a frame, also where it was taken for a strip of several."""
    return str(frame["file"]).partition("#")[0]


def _same(box: Rectangle, own: Rectangle) -> bool:
    x, y = box.centre
    return own.x - 3 <= x <= own.x + own.w + 3 and own.y - 3 <= y <= own.y + own.h + 3


def right(found: dict[str, Any], truth: str) -> bool:
    """Whether the planted cause stands first, or is named inseparable from the first; of a clean roll only the first counts."""
    if not found["causes"]:
        return False
    first = found["causes"][0]["cause"]
    if first == truth:
        return True
    return truth != CLEAN and any(first in g and truth in g for g in found["inseparable"])


def study(count: int, seed: int) -> list[Told]:
    """So many rolls, one after the other; each leaves nothing on disk."""
    rng = np.random.default_rng(seed)
    found = []
    for number, truth in enumerate(truths(count, rng)):
        with tempfile.TemporaryDirectory() as folder:
            found.append(scanned_roll(Path(folder), truth, np.random.default_rng([seed, number])))
        print(number, truth, "|", found[-1].found["causes"][0]["cause"], f"{found[-1].seconds:.1f} s", file=sys.stderr)  # fmt: skip
    return found


def tables(told: list[Told]) -> Iterator[str]:
    """Shares by group, then what each cause was taken for."""
    yield "| group | right or inseparable | 95 % interval | right first | after the user's taps on its marks | rolls |\n|---|---|---|---|---|---|"
    for group in GROUPS:
        own = [one for one in told if group_of(one.truth) == group]
        hits = [right(one.found, one.truth) for one in own]
        low, high = interval(sum(hits), max(1, len(own)))
        first = np.mean([one.found["causes"][0]["cause"] == one.truth for one in own]) if own else 0.0
        taps = np.mean([right(one.tapped, one.truth) for one in own]) if own else 0.0
        yield f"| {group} | {np.mean(hits) if own else 0:.2f} | {low:.2f}–{high:.2f} | {first:.2f} | {taps:.2f} | {len(own)} |"
    yield "\n| planted | right | taken for |\n|---|---|---|"
    wrong: dict[str, Counter[str]] = defaultdict(Counter)
    for one in told:
        wrong[one.truth]["right" if right(one.found, one.truth) else one.found["causes"][0]["cause"]] += 1
    for truth in sorted(wrong):
        row = wrong[truth]
        rest = ", ".join(f"{name} {n}" for name, n in row.most_common() if name != "right")
        yield f"| {truth} | {row['right']} of {sum(row.values())} | {rest} |"
    marked = [one for one in told if one.truth in MARKED_CAUSES]
    seen, claimed, planted = (sum(getattr(one, k) for one in marked) for k in ("hits", "claimed", "planted"))
    yield f"\nMarks: {seen} of {claimed} claimed lie on one of {planted} planted; CPU a roll {np.mean([one.seconds for one in told]):.1f} s"


def main() -> None:
    """Print the tables."""
    count, seed = (int(v) for v in (sys.argv[1:3] + ["200", "1"][len(sys.argv) - 1 :]))
    for line in tables(study(count, seed)):
        print(line)


if __name__ == "__main__":
    main()
