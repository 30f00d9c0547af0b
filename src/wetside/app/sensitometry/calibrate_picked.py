"""A calibration from spots that were picked on the glass: what the page asks for, judged and fitted, kept when it is wanted."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wetside.app.sensitometry.calibrate import fitted, keep
from wetside.app.viewing.by_hand import spots_of
from wetside.app.viewing.glass import folder_of, last_reading
from wetside.book.line import Line
from wetside.figures.channels import RGB, rgb
from wetside.figures.finding import Unusable

LAYERS = {"r": "red alone", "g": "green alone", "b": "blue alone", "none": "bare base"}


def rows_of(home: Path, roll: str) -> list[dict[str, Any]]:
    """The kept spots of a roll that hold camera densities: all others cannot calibrate."""
    return [spot for spot in spots_of(home, roll) if spot.get("kind") == "camera"]


def calibrate_picked(home: Path, roll: str, aim: str, told: Mapping[str, str]) -> dict[str, Any]:
    """The `wetside.calibration/1` object of a roll's kept spots.

    told   "r0", "g0", "b0" … the known densities of spot 0 …, or "layer0" … the layer that was exposed alone; a spot
           of which nothing is told is left out
    """
    patches, seen = [], []
    for index, spot in enumerate(rows_of(home, roll)):
        own = _told(aim, told, index)
        if own is not None:
            patches.append({"file": spot["file"], **{k: int(spot[k]) for k in "xywh"}, **own})
            seen.append(rgb(spot["density"]))
    if not patches:
        raise Unusable("nothing was told of any spot yet", "calibration")
    base = _base(home, roll)
    return fitted(folder_of(home, roll), {"aim": aim, "patches": patches}, seen, base)


def _told(aim: str, told: Mapping[str, str], index: int) -> dict[str, Any] | None:
    """What is told of one spot; None where it is left out; Unusable for half a spot or no number."""
    if aim == "layers":
        layer = told.get(f"layer{index}", "")
        return {"layer": layer} if layer in LAYERS else None
    words = [told.get(f"{c}{index}", "").strip().replace(",", ".").replace("−", "-") for c in "rgb"]
    if not any(words):
        return None
    try:
        values = [float(word) for word in words]
    except ValueError:
        raise Unusable(
            f"spot {index + 1}: expected three densities, found {' '.join(w or '–' for w in words)[:40]}",
            "calibration",
        ) from None
    if not all(-1 < value < 6 for value in values):
        raise Unusable(f"spot {index + 1}: a known density lies between −1 and 6", "calibration")
    return dict(zip("rgb", values))


def keep_picked(
    home: Path, roll: str, aim: str, told: Mapping[str, str], named: tuple[str, str, str]
) -> Line:
    """Fit once more and keep it under a name, for a light and a scanner."""
    name, light, scanner = named
    return keep(home, name, calibrate_picked(home, roll, aim, told), light, scanner)


def _base(home: Path, roll: str) -> RGB | None:
    reading, _ = last_reading(home, roll)
    base = (reading or {}).get("base") if (reading or {}).get("density") == "camera" else None
    return rgb(base) if base else None


def open_gate_of(home: Path, roll: str) -> Path | None:
    """The open gate beside a roll's scans."""
    from wetside.store.scans.folder import listing

    return listing(folder_of(home, roll)).open_gate
