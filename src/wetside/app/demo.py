"""Build the demo book and scans, then run the whole job on them and say what was found against what was planted."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.faults.causes import causes_of_run
from wetside.app.faults.look import look
from wetside.app.planning.plan import plan
from wetside.app.planning.plan_asked import example
from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.printing.print_room import notes_of
from wetside.app.processing.mix import mix
from wetside.app.reading.read import ReadOptions, read
from wetside.app.sensitometry.stock import stock
from wetside.book.kinds import Measured, ScanAttached
from wetside.book.line import Line
from wetside.book.text import line_of
from wetside.demo.roll import FIRST_MM, Roll, frames, open_gate
from wetside.demo.scenes import GREYS
from wetside.demo.story import BEGAN, REEL, rolls, told
from wetside.figures.progress import Progress, silent
from wetside.laws.reel.gauges import GAUGES
from wetside.stages.bench.wanted import Warmth
from wetside.stages.causes.signs.repeats import ReelHint
from wetside.store.ledger import Ledger
from wetside.store.scans.originals import write_dng, write_inverted_jpeg, write_log_dpx, write_tiff16
from wetside.store.scans.stamps import sha256

PX_PER_MM = {"135": 24.0, "110": 44.0, "16still": 52.0, "16cine": 76.0}
SUFFIX = {"tiff": ".tif", "dng": ".dng", "dpx": ".dpx", "jpeg": ".jpg"}


def demo(home: Path, progress: Progress = silent, *, full: bool = False) -> dict[str, Any]:
    """Build and run; may be run again without harm: files are remade alike, lines keep their ids."""
    scans = home / "scans"
    made = rolls()
    for done, roll in enumerate(made, 1):
        build_roll(roll, scans / roll.name, 99 + int(roll.name[1:]), 2.5 if full else 1.0)
        progress("exposing, processing and scanning", done, len(made))
    with Ledger.open(home) as book:
        book.append_lines([line_of(t.body, name=t.id, happened_at=t.at, noted_at=t.at + 600) for t in told()])
        book.append_lines(list(_scan_lines(scans, made)))
    return run_job(home, progress)


def build_roll(roll: Roll, folder: Path, seed: int, size: float) -> None:
    """One roll's scans, its open gate where a scanner of ours made them, and the truth beside the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    px = PX_PER_MM[roll.gauge] * size * (0.5 if roll.files == "dng" else 1.0)
    base = np.array(roll.stock.base) + np.array(roll.faults.fog) - np.log10(np.array([0.80, 0.84, 0.78]))
    truths = []
    for number, (pixels, truth) in enumerate(frames(roll, px, seed), 1):
        file = folder / f"{roll.name}_{number:02d}{SUFFIX[roll.files]}"
        _write(roll.files, file, pixels, base)
        truths.append({"file": file.name, **truth})
    if roll.files not in ("jpeg", "dpx"):
        _write(
            roll.files,
            folder / f"open_gate{SUFFIX[roll.files]}",
            open_gate(roll.gauge, px, roll.scanner, seed),
            base,
        )
    about = {
        "base": [b + f for b, f in zip(roll.stock.base, roll.faults.fog)],
        "px_per_mm": px,
        "note": roll.note,
        "frames": truths,
    }
    (folder.parent / f"{roll.name}.truth.json").write_text(json.dumps(about))
    _sidecar(roll, folder, truths)


def _write(kind: str, file: Path, pixels: np.ndarray, base: np.ndarray) -> None:
    if kind == "tiff":
        write_tiff16(file, pixels)
    elif kind == "dng":
        write_dng(file, pixels)
    elif kind == "dpx":
        write_log_dpx(file, pixels, base)
    else:
        write_inverted_jpeg(file, pixels, base)


def _sidecar(roll: Roll, folder: Path, truths: list[dict[str, Any]]) -> None:
    """`stock.json` for a roll with grey scales: where the patches lie is what a person would mark by hand."""
    shots = [(shot, truth) for shot, truth in zip(roll.shots, truths) if shot.what == "grey scale"]
    if not shots:
        return
    balance = "tungsten" if roll.stock.tungsten else "daylight"
    listed = [
        {"file": truth["file"], "stops": shot.stops, "ei": shot.index,
         "patches": [{"x": x, "y": y, "w": w, "h": h, "reflection_density": d} for (x, y, w, h), d in zip(truth["patches"], GREYS)]}
        for shot, truth in shots
    ]  # fmt: skip
    given = {"stock": roll.stock.name, "rated_ei": roll.stock.ei, "balance": balance, "frames": listed}
    (folder / "stock.json").write_text(json.dumps(given, indent=1))


def _scan_lines(scans: Path, made: tuple[Roll, ...]) -> Iterator[Line]:
    at = BEGAN.timestamp() + 61 * 86400
    for roll in made:
        files = sorted((scans / roll.name).glob(f"{roll.name}_*"))
        for number, file in enumerate(files, 1):
            body = ScanAttached(
                roll=roll.name, file=file.name, sha256=sha256(file), frame=number, light="tablet under opal", scanner="copy stand",
                film_mm=FIRST_MM + (number - 1) * GAUGES[roll.gauge].frame_pitch_mm,
            )  # fmt: skip
            yield line_of(
                body,
                name=f"demo-scan-{roll.name}-{number:02d}-{body.sha256[:8]}",
                happened_at=at,
                noted_at=at + 60,
            )


def run_job(home: Path, progress: Progress) -> dict[str, Any]:
    """The whole job on the demo: each answer beside what was planted."""
    scans = home / "scans"
    steps: list[tuple[str, Callable[[], dict[str, Any]]]] = [
        ("R02", lambda: _read_and_keep(home, "R02")), ("R06", lambda: _read_and_keep(home, "R06")), ("R03", lambda: _read_and_keep(home, "R03")),
        ("R01", lambda: _read_and_keep(home, "R01")),
        ("look R08", lambda: look(scans / "R08")), ("causes R03", lambda: causes_of_run(home, "R03")), ("causes R04", lambda: causes_of_run(home, "R04")),
        ("causes R06", lambda: causes_of_run(home, "R06")), ("stock R07", lambda: stock(str(scans / "R07"), home)),
        ("positive R09", lambda: _print(home, "R09")), ("positive R05", lambda: _print(home, "R05")), ("plan", lambda: plan(demo_request())),
        ("mix", lambda: mix("ecn-2", 600.0, warmth=Warmth(mass=350.0, tank=20.5, room=20.5))),
    ]  # fmt: skip
    answers = {}
    for number, (name, step) in enumerate(steps):
        answers[name] = step()
        progress("running the whole job", number + 1, len(steps))
    return {
        "schema": "wetside.demo/1",
        "home": str(home),
        "rolls": len(rolls()),
        "found": told_beside_truth(answers),
        "answers": answers,
    }


def _read_and_keep(home: Path, name: str) -> dict[str, Any]:
    """Read a roll and keep what was read as a line."""
    roll = next(r for r in rolls() if r.name == name)
    reel = ReelHint(REEL[1], REEL[2]) if roll.gauge == "135" else None
    reading = read(
        home / "scans" / name, ReadOptions(gauge=roll.gauge, first_frame_mm=FIRST_MM, reel=reel)
    ).as_json()
    at = BEGAN.timestamp() + 61.5 * 86400
    with Ledger.open(home) as book:
        body = Measured(roll=name, what="read", result=reading)
        line = line_of(body, name=f"demo-read-{name}-{_short(reading)}", happened_at=at, noted_at=at)
        book.append_lines([line])
    return reading


def _short(result: dict[str, Any]) -> str:
    import hashlib

    return hashlib.sha256(json.dumps(result, sort_keys=True).encode()).hexdigest()[:10]


def _print(home: Path, name: str) -> dict[str, Any]:
    out = home / "positives" / name
    notes = notes_of(home, name)
    return positive(
        home / "scans" / name,
        PositiveOptions(out, kind="jpeg", even=True, workers=2, overwrite=True, notes=notes),
    )


def demo_request() -> dict[str, Any]:
    """What the filmmaker asks the planner in week nine."""
    return example(date(2026, 5, 4))


def told_beside_truth(answers: dict[str, Any]) -> list[dict[str, str]]:
    """What was planted, and what the tool says."""

    def cause(name: str) -> str:
        found = answers[name]["causes"]
        apart = answers[name]["inseparable"]
        best = (
            f"{found[0]['how']}: {found[0]['cause']}, curable {found[0]['curable']}"
            if found
            else "cannot say"
        )
        return best + (f"; cannot be told apart: {' / '.join(apart[0])}" if apart else "")

    marks = sum(len(frame["marks"]) for frame in answers["R02"]["frames"])
    index = answers["stock R07"]["working_ei"]
    apart = next(
        (f["say"] for f in answers["positive R05"]["findings"] if f["id"] == "layers-apart"), "nothing of it"
    )
    return [
        {"planted": "R01, R02: tank filled too low, one edge thin", "found": _cast_words(answers["R02"]["cast"])},
        {"planted": "R02: two turns touching", "found": f"{marks} marks; {answers['R02']['pattern']['answer']}: {answers['R02']['pattern']['reason']}"},
        {"planted": "R03: tired bleach, retained silver", "found": cause("causes R03")},
        {"planted": "R04: push with a late drain, which cannot be told apart", "found": cause("causes R04")},
        {"planted": "R05: tungsten stock in daylight without its filter, the blue layer 1.8 stops over the red", "found": apart},
        {"planted": "R06: a cold tank", "found": cause("causes R06")},
        {"planted": "R07: expired stock, true EI 80", "found": f"working EI {index['value']:.0f}, 90 % {index['interval_90'][0]:.0f} to {index['interval_90'][1]:.0f}" if index else "cannot say"},
        {"planted": "R08: inverted JPEG, no density possible", "found": f"rung {answers['look R08']['rung']}: no density is given"},
    ]  # fmt: skip


def _cast_words(cast: dict[str, Any]) -> str:
    return (
        f"a cast of the kind: {cast['kind']} ({cast['basis']})"
        if cast["found"]
        else f"no cast found: {cast['basis']}"
    )
