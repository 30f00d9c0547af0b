"""Whether a run's tank was filled too low, by its control strip and by what the book knows of tank and developer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from wetside.book.line import Line
from wetside.laws.chemistry.volumes import reel_share
from wetside.laws.reel.gauges import GAUGES
from wetside.stages.causes.signs.uneven_strip import ThinEdge, thin_edge

#: Under this share of what covers the reels a developer is called short: that figure is known to a tenth.
SHORT = 0.85


def strip_of_run(lines: Sequence[Line], run: str) -> tuple[Mapping[str, Any], ThinEdge] | None:
    """A run's last control strip and its thin edge beside the strips that set the aim of its batch; None where it has none."""
    strips: list[dict[str, Any]] = [one.body for one in lines if one.kind == "strip"]
    own = next((one for one in reversed(strips) if run and one.get("run") == run), None)
    if own is None or not own.get("across"):
        return None
    like = (own.get("batch"), own.get("density"))
    good = [
        _profile(one)
        for one in strips
        if one.get("reference") and one.get("across") and one is not own
        and (one.get("batch"), one.get("density")) == like
    ]  # fmt: skip
    edge = thin_edge(_profile(own), good)
    return None if edge is None else (own, edge)


def _profile(strip: Mapping[str, Any]) -> np.ndarray:
    return np.array([[float(part[c]) for c in "rgb"] for part in strip["across"]])


def cast_of(read: Mapping[str, Any], strip: Mapping[str, Any], edge: ThinEdge) -> Mapping[str, Any]:
    """The roll's cast as read, or, where pictures show none but a light's, the one that its strip shows."""
    if read.get("found") and read.get("kind") != "light":
        return read
    level = [float(strip["hd"][c]) - float((strip.get("dmin") or strip["ld"])[c]) for c in "rgb"]
    peak = {c: float(size * d) for c, size, d in zip("rgb", edge.size, level, strict=True)}
    spread = {c: float(edge.error * d) for c, d in zip("rgb", level, strict=True)}
    return {"found": True, "kind": "with density", "peak": peak, "spread": spread, "of": "strip"}


def without_the_edge(
    departures: Mapping[str, Any], strip: Mapping[str, Any], edge: ThinEdge
) -> dict[str, Any]:
    """Departures of a strip as they are away from its thin edge, which is no fault of the whole roll."""
    more = dict(zip("rgb", np.exp(-edge.mean) - 1, strict=True))
    base = strip.get("dmin") or {}
    lifted = {name: dict(row) for name, row in departures.items() if isinstance(row, Mapping)}
    for c in "rgb":
        if lifted.get("hd_ld", {}).get(c) is not None:
            lifted["hd_ld"][c] += float(more[c]) * (float(strip["hd"][c]) - float(strip["ld"][c]))
        if lifted.get("ld", {}).get(c) is not None and base.get(c) is not None:
            lifted["ld"][c] += float(more[c]) * (float(strip["ld"][c]) - float(base[c]))
    return {**departures, **lifted}


def filled_short(lines: Sequence[Line], run: Line) -> str | None:
    """The line by which the developer was mixed, where it is too little to cover the tank's reels; None where it is enough or not known."""
    baths = run.body.get("baths")
    developer = baths.get("developer") if isinstance(baths, Mapping) else None
    bath = next((one for one in lines if one.kind == "bath" and one.body.get("bath") == developer), None)
    tank = next((o for o in lines if o.kind == "tank" and o.body.get("tank") == run.body.get("tank")), None)
    entries: Any = run.body.get("rolls") or ()
    gauges = {str(o.body["roll"]): str(o.body.get("gauge")) for o in lines if o.kind == "roll"}
    of_rolls = [gauges.get(str(entry.get("roll"))) for entry in entries]
    if bath is None or tank is None or not tank.body.get("volume_ml"):
        return None
    if not of_rolls or any(gauge not in GAUGES for gauge in of_rolls):
        return None
    each = float(tank.body["volume_ml"]) / max(1, int(tank.body.get("reels") or 1))  # type: ignore[arg-type, call-overload]
    cover = each * sum(reel_share(str(gauge)) for gauge in of_rolls)
    return bath.id if float(bath.body["volume_ml"]) < SHORT * cover else None  # type: ignore[arg-type]
