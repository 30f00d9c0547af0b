"""Read a strip: a wedge found along it, a grey scale in a frame, or picked spots; keep a control strip as a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.reading.lights import lights
from wetside.book.kinds import StripRead
from wetside.book.line import Line, Thing
from wetside.figures.channels import RGB, rgb
from wetside.figures.finding import CannotSay, Finding, Unusable
from wetside.figures.place import Rectangle
from wetside.figures.scan import Scan
from wetside.laws.sensitometry.noise import noise_of, pair_variance
from wetside.stages.negative.measured.across import developed_across
from wetside.stages.negative.measured.patches import shrunk_box
from wetside.stages.negative.measured.strip import (
    StripReading,
    above_thinnest,
    control_densities,
    falls,
    gradients,
    order_findings,
    strip_places,
    strip_read,
)
from wetside.stages.negative.scanner.working import Light, light_of
from wetside.store import clock
from wetside.store.ledger import Ledger
from wetside.store.scans.folder import listing
from wetside.store.scans.load import load
from wetside.store.scans.stamps import sha256

NOTHING = {"r": None, "g": None, "b": None}


@dataclass(frozen=True)
class StripOptions:
    """What the caller knows of a strip. `log_h`: first and spacing, or one value a step. `control`: D-min, LD, MD, HD."""

    open_gate: Path | None = None
    exposure_ratio: float | None = None
    steps: int = 21
    within: Rectangle | None = None
    grid: tuple[int, int] | None = None
    spots: tuple[Rectangle, ...] = ()
    first_log_h: float = 0.0
    step_log_h: float | None = None
    log_h: tuple[float, ...] = ()
    control: tuple[int, ...] = ()
    again: Path | None = None


#: A scan, its open gate, its light, and what was found on the way.
Seen = tuple[Scan, Scan | None, Light, tuple[Finding, ...]]


def strip(file: Path, options: StripOptions | None = None, seen: Seen | None = None) -> dict[str, Any]:
    """The `wetside.strip/1` object of one scan (`seen`, where it was loaded already); Unusable when it cannot be read or carries no density."""
    options = options or StripOptions()
    scan, open_gate, light, early = seen or _seen(file, options)
    placed = (options.spots, "spots", None) if options.spots else strip_places(
        scan, light, options.steps, options.within, options.grid
    )  # fmt: skip
    if isinstance(placed, CannotSay):
        return _said(file, None, early, options, placed)
    boxes, how, skew = placed
    steps = strip_read(scan, boxes, _exposures(options, len(boxes)), open_gate, light)
    if how == "grid" and not options.log_h and falls(steps):  # the scale lies the other way round
        steps = strip_read(scan, boxes[::-1], _exposures(options, len(boxes)), open_gate, light)
    found = (*early, *order_findings(steps, file.name))
    if open_gate is None:
        steps = above_thinnest(steps)
    noise = _noise(scan, open_gate, boxes, options.again) if options.again else None
    said = _said(file, StripReading(steps, how, skew, open_gate is not None), found, options, None)  # type: ignore[arg-type]
    return {**said, "noise": noise}


def _noise(scan: Scan, open_gate: Scan | None, boxes: Sequence[Rectangle], again: Path) -> dict[str, Any]:
    """The scanner's noise from a second scan of the strip, and the density over which 100 pixels know it to no better than 0.02 D."""
    if not again.is_file():
        raise Unusable("no such file", str(again))
    second = load(again)
    if second.pixels.shape != scan.pixels.shape or second.coding == "gamma":
        raise Unusable("expected a second linear scan of the same size, nothing moved", again.name)
    cores = [shrunk_box(b, scan.shrink).clipped_to(scan.width, scan.height).slices for b in boxes]
    if len(cores) < 3:
        raise Unusable("noise needs three steps at the least", "--again")
    levels = np.array([scan.pixels[c].reshape(-1, 3).mean(axis=0) for c in cores])
    noise = noise_of(levels, np.array([pair_variance(scan.pixels[c], second.pixels[c]) for c in cores]))
    light = (
        np.full(3, scan.full_scale)
        if open_gate is None
        else np.median(open_gate.pixels[::7, ::7].reshape(-1, 3), axis=0)
    )
    return {
        "read": rgb(noise.read).as_json(),
        "shot": rgb(noise.shot).as_json(),
        "ceiling": rgb(noise.ceiling(light)).as_json(),
    }


def _seen(file: Path, options: StripOptions) -> Seen:
    if not file.is_file():
        raise Unusable("no such file", str(file))
    scan = load(file)
    if scan.coding == "gamma":
        raise Unusable("a gamma-coded file yields no density; expected a linear 16-bit scan", file.name)
    open_gate, dark, early = lights(listing(file.parent), options.open_gate)
    return scan, open_gate, light_of(open_gate, dark, options.exposure_ratio), (*scan.findings, *early)


def _exposures(options: StripOptions, count: int) -> list[float] | None:
    if options.log_h:
        if len(options.log_h) != count:
            raise Unusable(
                f"expected {count} log exposures, one a step, found {len(options.log_h)}", "--log-h"
            )
        return list(options.log_h)
    if options.step_log_h is None:
        return None
    return [options.first_log_h + options.step_log_h * k for k in range(count)]


def _said(
    file: Path,
    reading: StripReading | None,
    found: Sequence[Finding],
    options: StripOptions,
    no: CannotSay | None,
) -> dict[str, Any]:
    steps = reading.steps if reading else ()
    gradient = gradients(steps)
    control = (
        control_densities(steps, options.control, reading.absolute) if reading and options.control else None
    )
    if isinstance(control, CannotSay):
        no, control = control, None
    return {
        "schema": "wetside.strip/1", "file": file.name,
        "density": "none" if reading is None else "camera" if reading.absolute else "above base",
        "how": reading.how if reading else None, "skew_degrees": reading.skew if reading else None,
        "steps": [
            {"step": s.step, **s.box.as_json(), "log_h": s.log_h, **(s.density.as_json() if s.density else NOTHING),
             "spread": s.spread.as_json() if s.spread else dict(NOTHING)}
            for s in steps
        ],
        "average_gradient": gradient.as_json() if gradient else None,
        "control": control_json(control) if control else None,
        "noise": None,
        "findings": [one.as_json() for one in found],
        "cannot_say": no.reason if no else None, "would_help": no.would_help if no else "",
    }  # fmt: skip


def control_json(control: dict[str, RGB]) -> dict[str, Any]:
    """D-min (null where it is not known), LD, MD, HD, HD−LD and the spread."""
    contrast = RGB(*(h - low for h, low in zip(control["hd"], control["ld"])))
    named: dict[str, RGB | None] = {
        "dmin": control.get("dmin"),
        **{k: control[k] for k in ("ld", "md", "hd", "spread")},
    }
    return {**{k: v.as_json() if v else dict(NOTHING) for k, v in named.items()}, "hd_ld": contrast.as_json()}


def batch_steps(home: Path, batch: str) -> tuple[tuple[int, ...], str]:
    """Which steps of a batch stand for D-min, LD, MD, HD, and its process; Unusable for a batch not noted."""
    with Ledger.open(home, must_exist=True) as book:
        made = book.lines(thing=Thing("strip", batch), kind="strip batch")
    if not made:
        raise Unusable(
            f"no batch {batch!r} in the book; note it once: wetside note \"strip batch\" batch={batch} stock=… steps=1,3,4,6", "--batch"
        )  # fmt: skip
    body = made[-1].body
    return tuple(int(n) for n in body.get("steps", ())), str(body.get("process", "ecn-2"))  # type: ignore[attr-defined]


def read_and_note(
    home: Path, file: Path, options: StripOptions, batch: str, run: str, reference: bool
) -> tuple[dict[str, Any], Line]:
    """Read a control strip of a batch and keep it as a line; Unusable where its four densities cannot be said."""
    numbers, process = batch_steps(home, batch)
    seen = _seen(file, options)
    found = strip(file, replace(options, control=options.control or numbers), seen)
    control = found["control"]
    if control is None:
        raise Unusable(f"not noted: {found['cannot_say']}; would help: {found['would_help']}", file.name)
    named = {k: ({} if control[k]["r"] is None else control[k]) for k in ("dmin", "ld", "md", "hd", "spread")}
    body = StripRead(
        batch=batch, run=run, process=process, density=found["density"], reference=reference, file=file.name,
        sha256=sha256(file), across=_across(seen, options, found), **named,
    )  # fmt: skip
    with Ledger.open(home) as book:
        line, _ = book.append(body, happened_at=clock.wall())
    return found, line


def _across(seen: Seen, options: StripOptions, found: dict[str, Any]) -> tuple[dict[str, float], ...]:
    """How evenly a strip that was read is developed across the film, part by part; empty where that is not told."""
    if options.grid is not None and min(options.grid) > 1:
        return ()  # steps above one another lie at places of their own across the film
    scan, open_gate, light, _ = seen
    boxes = [Rectangle(*(int(step[key]) for key in "xywh")) for step in found["steps"]]
    across = developed_across(scan, boxes, open_gate, light, options.grid is not None)
    return () if across is None else tuple(dict(zip("rgb", part.tolist(), strict=True)) for part in across)


def stock_sidecar(found: dict[str, Any], stock: str, rated_ei: float, balance: str) -> dict[str, Any]:
    """The strip as a `stock.json` for the stock's card; Unusable where the exposures were not told."""
    known = [s for s in found["steps"] if s["log_h"] is not None]
    if len(known) < 6:
        raise Unusable("a stock's curve needs the log exposures of at least six steps", "--step-log-h")
    patches = [{**{k: s[k] for k in "xywh"}, "log_h": s["log_h"]} for s in known]
    return {
        "stock": stock, "rated_ei": rated_ei, "balance": balance,
        "frames": [{"file": found["file"], "stops": 0, "ei": rated_ei, "patches": patches}],
    }  # fmt: skip
