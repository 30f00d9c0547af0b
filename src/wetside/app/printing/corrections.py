"""What is taken out of a roll before it is printed: how much, why, what stays, and whether it was left in on purpose."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from wetside.figures.finding import Finding
from wetside.figures.reading import RollReading
from wetside.figures.stain import Stain
from wetside.stages.positive.drift import Drift, drift_along
from wetside.stages.positive.rebate import rebate_scatter

#: In the order in which they are applied.
NAMES = ("light", "flare", "drift", "level", "cast", "mid-tones")
#: Those that are only made when asked for.
ASKED = ("cast", "mid-tones")


def cast_name(reading: RollReading) -> str:
    """Under which name the roll's cast may be taken out: "cast", "mid-tones", or "" where there is none."""
    cast = reading.cast
    if not cast.found or not cast.profile:
        return ""
    return "mid-tones" if cast.kind == "with density" else "cast"


def corrections(
    reading: RollReading,
    light: np.ndarray | None,
    shifts: dict[str, float],
    left: Iterable[str],
    stains: Mapping[str, Mapping[str, Stain]] | None = None,
    drift: Drift | None = None,
) -> list[dict[str, Any]]:
    """Every correction that this roll offers: {id, made, size [D], say, why, remains [D]}.

    light       (h, w, 3) factor of the open gate, None without one
    shifts      density by which frames lie off the roll, by file
    left        names of those that stay in
    stains      stains that can be taken off, by file and name
    drift       of the rebates along the roll; what its layers share is taken out apart from the frames' own levels
    """
    out = set(left)
    found = [
        _light(light, reading),
        _flare(reading),
        _drift(drift),
        _level(reading, shifts, drift),
        _cast(reading),
        *_stains(reading, stains or {}),
    ]
    return [{**one, "made": one["id"] not in out} for one in found if one is not None]


def _entry(name: str, size: float, say: str, why: str, remains: float | None = None) -> dict[str, Any]:
    return {"id": name, "made": True, "size": round(size, 4), "say": say, "why": why, "remains": remains}


def _light(light: np.ndarray | None, reading: RollReading) -> dict[str, Any] | None:
    if light is None:
        return None
    size = float(np.ptp(np.log10(np.maximum(light, 1e-9)), axis=(0, 1)).max())
    turned = reading.footing.turned
    if turned is not None:
        return _entry("light", size, f"the light's gradient, {size:.2f} D from one end to the other",
                      f"{turned['frame']} was scanned again turned half round ({turned['scan']}): what stayed in place is the light's; a fall to all corners is not told and stays")  # fmt: skip
    return _entry("light", size, f"the light's unevenness, {size:.2f} D from its brightest to its weakest place",
                  "the open gate is a scan of the light without film: what varies there is not on the film")  # fmt: skip


def _flare(reading: RollReading) -> dict[str, Any] | None:
    shares = [frame.flare.share for frame in reading.frames if frame.flare is not None]
    if not shares:
        return None
    share = float(np.median(shares))
    lies = ", as it lies over them" if any(f.flare.over for f in reading.frames if f.flare) else ""
    say = f"stray light, {share:.1%} of a frame's mean light, off {len(shares)} frames{lies}"
    return _entry("flare", -float(np.log10(1 - share)), say, "light is seen over the opaque holder, where none can come through the film")  # fmt: skip


def roll_drift(reading: RollReading) -> Drift | None:
    """How the roll's rebates drift from the first frame to the last, where they do."""
    return drift_along([frame.base for frame in reading.frames])


def drifts_of(reading: RollReading, drift: Drift | None) -> dict[str, float]:
    """Density by which the drift that the layers share puts each frame over the roll's middle, by file [D]."""
    along = drift.of_frames(len(reading.frames)) if drift is not None and drift.shared else []
    return {frame.file: value for frame, value in zip(reading.frames, along)}


def _drift(drift: Drift | None) -> dict[str, Any] | None:
    if drift is None or not drift.shared:
        return None
    why = (
        f"unexposed film has one density on the whole roll, and a straight line explains how it lies in the {drift.frames} "
        "frames that show it; "
    ) + (
        "the layers drift together, as the light and the scan's exposure do" if drift.alike
        else f"the layers drift apart, as a process or a light that changes colour does: the {abs(drift.shared):.2f} D that they share are taken out"
    )  # fmt: skip
    return _entry("drift", abs(drift.shared), drift.say(), why, round(drift.stays, 4) or None)


def drift_stays(drift: Drift | None) -> list[Finding]:
    """A line on a drift of which nothing is taken out, since the layers share too little of it."""
    if drift is None or drift.shared:
        return []
    say = f"{drift.say()}; the layers drift apart, as a process or a light that changes colour does, and it stays in the pictures"
    return [Finding("drift-stays", "note", "roll", say, "a balance in the print room, or a trim a frame")]


def _level(reading: RollReading, shifts: dict[str, float], drift: Drift | None) -> dict[str, Any] | None:
    along = drifts_of(reading, drift)
    own = [abs(value - along.get(file, 0.0)) for file, value in shifts.items()]
    moved = [value for value in own if value >= 0.0005]
    if not moved:
        return None
    before = rebate_scatter([frame.base for frame in reading.frames])
    was = f"; its scatter was {before['worst']:.2f} D at most" if before else ""
    was += ", the drift included" if along and before else ""
    return _entry("level", max(moved), f"{len(moved)} frames brought to the roll's exposure, by up to {max(moved):.2f} D",
                  f"the rebate has one density on the whole roll, so where it differs the scan's exposure did{was}")  # fmt: skip


def _stains(reading: RollReading, stains: Mapping[str, Mapping[str, Stain]]) -> list[dict[str, Any]]:
    """One entry a stain: what it adds, where, and what shows that it adds the same everywhere."""
    found = []
    for frame in reading.frames:
        for name, one in stains.get(frame.file, {}).items():
            adds = " ".join(f"{value:+.3f}" for value in one.density)
            x, y = (round(v) for v in one.box.centre)
            say = f"a stain on {frame.file} round {x}, {y}: {adds} D r g b, by its own soft outline"
            why = (
                f"the unexposed film beside the picture shows that density, and the picture {one.share:.2f} ± {one.doubt:.2f} of "
                "it, so it lies on the film and adds the same everywhere; nothing under it is made up"
            )
            found.append(_entry(name, max(abs(v) for v in one.density), say, why, round(one.remains, 4)))
    return found


def stays_out(name: str, leave: Iterable[str]) -> bool:
    """Whether `leave` names a correction that there is: one of `NAMES`, or a stain by its number."""
    return name in leave and (name in NAMES or name.startswith("stain-"))


def _cast(reading: RollReading) -> dict[str, Any] | None:
    cast, name = reading.cast, cast_name(reading)
    if not name:
        return None
    size = max(abs(value) for point in cast.profile for value in point.density)
    if name == "cast":
        return _entry(
            name, size, f"an additive cast across the film, up to {size:.2f} D", cast.basis, cast.remains
        )
    say = (
        f"a cast that grows with density, up to {size:.2f} D, in the mid-tones only: at the base it is put in where none "
        f"was, by up to {size:.2f} D, and at twice the mid-tones' density as much stays"
    )
    return _entry(name, size, say, cast.basis, size)


def evenness(reading: RollReading, made: list[dict[str, Any]]) -> dict[str, Any]:
    """The roll's evenness in a few words: what was taken out, what remains [D], what it must be labelled with."""
    taken = {one["id"] for one in made if one["made"]}
    cast, label = reading.cast, ""
    if cast.found and cast.kind == "with density":
        label = "Mid-tones only: the cast grows with density and no additive map can undo it"
        if "mid-tones" in taken:
            label = f"Mid-tones only: {next(one['say'] for one in made if one['id'] == 'mid-tones')}"
    light, turned = "light" in taken, reading.footing.turned is not None
    what = "the light's gradient, told by a turned frame," if turned else "the open gate's unevenness"
    return {
        "light": light, "cast": "cast" in taken, "remains": cast.remains if cast.found else None, "label": label,
        "say": f"{what} is taken out" if light else "no open gate: the light's unevenness stays"
        if not any(one["id"] == "light" for one in made) else "the light's unevenness is left in, as asked",
    }  # fmt: skip
