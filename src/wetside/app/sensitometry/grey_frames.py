"""A frame of a grey scale shown on the glass: where its steps lie and how it was exposed, kept in the roll's `stock.json`."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from wetside.app.sensitometry.control_strip import StripPlace, laid_as
from wetside.app.sensitometry.stock import SIDECAR, sidecar
from wetside.app.sensitometry.strip import strip
from wetside.app.viewing.glass import frame_of
from wetside.book.line import Thing
from wetside.figures.finding import Unusable
from wetside.store.ledger import FILE, Ledger
from wetside.store.scans.parts import whole
from wetside.store.scans.sinks import write_text

RIM = 0.15  # of a step's side left out at each edge
FEWEST = 3  # steps of a scale that can tell a slope


@dataclass(frozen=True, slots=True)
class GreyFrame:
    """A scale on a frame: reflection densities of its steps from light to dark, the index it was metered at, and stops over the meter."""

    place: StripPlace
    densities: tuple[float, ...]
    ei: float
    stops: float


def asked_of(home: Path, roll: str, file: str, number: int) -> dict[str, Any]:
    """What the form begins with: the stock, its index, the stops noted for the frame, the scale's densities as last shown, and the frames kept."""
    stock, kept = _stock_of(home, roll), _kept(home, roll)
    frames = kept.get("frames", [])
    own = next((one for one in frames if one["file"] == file), None)
    shown = own or (frames[-1] if frames else None)
    noted = _exposed(home, roll, number)
    return {
        "stock": stock.get("stock"),
        "ei": (own or noted).get("ei") or stock.get("rated_ei"),
        "stops": (own or noted).get("stops") or 0.0,
        "densities": [p["reflection_density"] for p in shown["patches"] if "reflection_density" in p] if shown else [],
        "frames": [one["file"] for one in frames],
    }  # fmt: skip


def show_scale(home: Path, one: GreyFrame) -> None:
    """Keep the frame in place of what was kept of it.

    Unusable with what would help where the steps are not found, are not in order, or the stock is not known.
    """
    _refuse(one)
    stock = _stock_of(home, one.place.roll)
    if not stock:
        raise Unusable(f"the book does not say which stock {one.place.roll} is: note the roll first", "stock")
    file = whole(frame_of(home, one.place.roll, one.place.file))
    kept = _kept(home, one.place.roll)
    frame = {"file": file.name, "stops": one.stops, "ei": one.ei, "patches": _patches(file, one)}
    frames = [other for other in kept.get("frames", []) if other["file"] != file.name]
    told = {
        "stock": stock["stock"], "rated_ei": stock.get("rated_ei"), "balance": stock.get("balance") or "unknown",
        **kept, "frames": sorted([*frames, frame], key=lambda other: str(other["file"])),
    }  # fmt: skip
    if told["rated_ei"] is None:
        del told["rated_ei"]
    write_text(file.parent / SIDECAR, json.dumps(told, indent=1, ensure_ascii=False) + "\n")


def _refuse(one: GreyFrame) -> None:
    steps = one.densities
    if len(steps) < FEWEST or any(dark <= light for light, dark in pairwise(steps)) or steps[0] < 0:
        raise Unusable(
            "the scale's densities were expected from light to dark, three at least, like 0.05, 0.25, 0.5, 0.75, 1.1, 1.55",
            "densities",
        )
    if not (math.isfinite(one.ei) and 0.1 <= one.ei <= 100_000 and abs(one.stops) <= 12):
        raise Unusable("an exposure index over 0 and at most 12 stops were expected", "ei")


def _patches(file: Path, one: GreyFrame) -> list[dict[str, Any]]:
    """The middles of the steps, light to dark; on the negative the light ones are dense."""
    found = strip(file, replace(laid_as(one.place, len(one.densities)), log_h=(), control=()))
    if found["cannot_say"]:
        raise Unusable(f"the steps were not found: {found['cannot_say']}; {found['would_help']}", "scale")
    levels = [(sum(step[c] for c in "rgb") / 3, step) for step in found["steps"] if step["r"] is not None]
    if len(levels) != len(one.densities):
        raise Unusable(f"{len(levels)} of {len(one.densities)} steps could be read there", "scale")
    if levels[0][0] < levels[-1][0]:
        levels.reverse()
    if any(dark >= light for (light, _), (dark, _) in pairwise(levels)):
        raise Unusable(
            "the steps found there do not go from light to dark: draw the area round the scale alone, or say how its steps lie",
            "scale",
        )
    return [
        {**_middle(step), "reflection_density": density}
        for (_, step), density in zip(levels, one.densities, strict=True)
    ]


def _middle(step: dict[str, Any]) -> dict[str, int]:
    x, y, w, h = (step[k] for k in "xywh")
    return {
        "x": round(x + RIM * w), "y": round(y + RIM * h), "w": round((1 - 2 * RIM) * w), "h": round((1 - 2 * RIM) * h),
    }  # fmt: skip


def _kept(home: Path, roll: str) -> dict[str, Any]:
    return sidecar(home / "scans" / roll) or {}


def _stock_of(home: Path, roll: str) -> dict[str, Any]:
    """The line of the stock that a roll was loaded from; empty where the book does not say."""
    if not (home / FILE).exists():
        return {}
    with Ledger.open(home) as book:
        loaded = book.lines(thing=Thing("roll", roll), kind="roll")
        if not loaded or not loaded[-1].body.get("stock"):
            return {}
        name = str(loaded[-1].body["stock"])
        noted = book.lines(thing=Thing("stock", name), kind="stock")
    return dict(noted[-1].body) if noted else {"stock": name}


def _exposed(home: Path, roll: str, number: int) -> dict[str, Any]:
    """What was noted of a frame's exposure, the last that was."""
    if not (home / FILE).exists():
        return {}
    with Ledger.open(home) as book:
        bodies: list[dict[str, Any]] = [
            dict(line.body) for line in book.lines(thing=Thing("roll", roll), kind="exposed")
        ]
    noted = [one for one in bodies if one["first_frame"] <= number <= one["last_frame"]]
    return noted[-1] if noted else {}
