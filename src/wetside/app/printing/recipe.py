"""What every frame of a roll is printed with, once the roll has been read: small, and the same on every machine."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import PyOpenColorIO as ocio

from wetside import __version__
from wetside.figures.channels import rgb
from wetside.figures.place import Rectangle
from wetside.figures.stain import Stain
from wetside.laws.image import evenness, least_change
from wetside.stages.causes.signs import stain
from wetside.stages.positive import (
    drift,
    evening,
    fit,
    lattice,
    lattice_code,
    neutral,
    path,
    softening,
    transform,
    turn,
)
from wetside.stages.positive.fit import ToneFit
from wetside.stages.positive.transform import exchange_group, tone_group, trimmed
from wetside.store.scans.arrays import read_arrays, write_arrays
from wetside.store.scans.stamps import sha256

Rows = tuple[float, float, float]
NONE: Rows = (0.0, 0.0, 0.0)
#: What a frame's own key holds for its own part, so that one frame's change prints that frame alone anew.
PER_FRAME = (
    "boxes", "trims", "balance", "notes", "names", "shifts", "drifts", "veils", "forms", "stains", "cuts", "skews", "turns", "hashed",
)  # fmt: skip


@dataclass(frozen=True)
class Recipe:
    """The one transform and the one map of a roll. Plain figures and small arrays: it travels, pixels never do.

    base        densities r g b of the unexposed film [D]
    table       (POINTS, 3) log10 scene exposure over density above base; None for the exchange door
    matrix      (3, 3) of a calibration, from camera density above base to the table's; None without one
    light       (h, w, 3) factor that turns values less `dark` to transmittance; None without an open gate
    light_width  width of the light's file [px]
    exposure_s  what the light's file says of its exposure, or the roll's first frame
    across, cast  places (n,) and densities (n, 3) of the cast's profile across the film; `cast_name` which correction
                it belongs to
    shifts      density by which frames lie over the roll, by file; `drifts` what of it is the drift along the roll
    veils       stray light by file: its level r g b as a transmittance, and its share of the frame's mean light
    forms       where it lies, by file: cells (rows, columns, 3) of the frame, as shares of the level; alike where there are none
    stains      stains by file and name, as they were measured
    leave       names of the corrections that are not made
    shifts      density by which a frame was scanned denser than the roll, all layers alike, where exposure was not locked
    boxes       picture rectangle x, y, w, h a file [px]
    cuts        rectangle x, y, w, h a file [px] that is printed; empty where the whole scan is
    trims       density added to a frame r g b [D]; `balance` the same for the whole roll
    names       what a file's pictures are called, where not as the scan: frames of a sequence
    notes       what is written into the pictures: roll, stock, EI, process; numbers a file
    skews       degrees by which pictures lie turned in their scans, clockwise; `turns` by which they are turned back
    written     whether the transform is gone through by code written for the machine, within a code of the library's way
    hashed      hash and stamp by file as the roll was read, so that a file that stands is not hashed again
    """

    door: str
    space: str
    kind: str
    negative: str | None
    base: Rows
    table: np.ndarray | None = None
    light: np.ndarray | None = None
    dark: float = 0.0
    ratio: float = 1.0
    exposure_s: float | None = None
    across: np.ndarray | None = None
    cast: np.ndarray | None = None
    boxes: dict[str, tuple[int, int, int, int]] = field(default_factory=dict)
    shifts: dict[str, float] = field(default_factory=dict)
    trims: dict[str, Rows] = field(default_factory=dict)
    balance: Rows = NONE
    notes: dict[str, Any] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    veils: dict[str, tuple[float, float, float, float]] = field(default_factory=dict)
    stains: dict[str, dict[str, Stain]] = field(default_factory=dict)
    cast_name: str = ""
    leave: tuple[str, ...] = ()
    laws: str = ""
    light_width: int = 0
    matrix: np.ndarray | None = None
    drifts: dict[str, float] = field(default_factory=dict)
    cuts: dict[str, tuple[int, int, int, int]] = field(default_factory=dict)
    hashed: dict[str, tuple[str | int, ...]] = field(default_factory=dict)
    skews: dict[str, float] = field(default_factory=dict)
    turns: dict[str, float] = field(default_factory=dict)
    forms: dict[str, np.ndarray] = field(default_factory=dict)
    written: bool = False

    def group(self) -> ocio.GroupTransform:
        """The roll's transform, trims and balance left out."""
        to = "ACES2065-1" if self.space == "ADX10" else self.space
        if self.table is None:
            return exchange_group(self.base, to, self.matrix)
        return tone_group(ToneFit(self.table, NONE, False, ""), self.base, to, self.matrix)

    def trim(self, file: str) -> Rows:
        """Density r g b added to a frame: its own trim and the roll's balance [D]."""
        own = self.trims.get(file, NONE)
        return (own[0] + self.balance[0], own[1] + self.balance[1], own[2] + self.balance[2])

    def group_of(self, file: str) -> ocio.GroupTransform:
        """The transform of one frame, its trim before the roll's."""
        return trimmed(self.group(), self.trim(file), adx10=self.space == "ADX10")

    def gain(self, file: str, exposure_s: float | None) -> float:
        """What a frame's light is multiplied by to lie at the roll's: exposures as told, and its shift where it has one."""
        told = self.exposure_s / exposure_s if self.exposure_s is not None and exposure_s is not None else 1.0
        return float(self.ratio * told * 10 ** self.shift(file))

    def shift(self, file: str) -> float:
        """Density a frame is brought lighter by [D]: its own level and its part of the drift, each unless it is left as scanned."""
        drift = self.drifts.get(file, 0.0)
        level = self.shifts.get(file, 0.0) - drift
        return (0.0 if "level" in self.leave else level) + (0.0 if "drift" in self.leave else drift)

    def veil(self, file: str) -> tuple[float, float, float, float]:
        """Stray light that is taken off a frame: level r g b as a transmittance, and share; zeros where none is."""
        return (0.0, 0.0, 0.0, 0.0) if "flare" in self.leave else self.veils.get(file, (0.0, 0.0, 0.0, 0.0))

    def form(self, file: str) -> np.ndarray | None:
        """Where the stray light lies that is taken off a frame; None where it is none, or alike."""
        return self.forms.get(file) if any(self.veil(file)) else None

    def picture_at(self, file: str) -> tuple[int, int, int, int]:
        """x, y, w, h of a frame's picture in what is printed of its scan [px of the file]; reaches out of a cut that is smaller."""
        x, y, w, h = self.boxes[file]
        left, top = self.cuts.get(file, (0, 0))[:2]
        return x - left, y - top, w, h

    def softened(self, file: str) -> dict[str, Stain]:
        """Stains that are taken off a frame, by name."""
        return {name: one for name, one in self.stains.get(file, {}).items() if name not in self.leave}

    def lit(self) -> np.ndarray | None:
        """The light's factor (h, w, 3); its mean all over where the light's unevenness stays in."""
        if self.light is None or "light" not in self.leave:
            return self.light
        # In single precision the sum of a million alike logarithms is off by some 0.03 D.
        mean = np.exp(np.log(self.light).mean(axis=(0, 1), keepdims=True, dtype=np.float64))
        return np.broadcast_to(mean.astype(np.float32), self.light.shape)

    def profile(self) -> tuple[np.ndarray, np.ndarray] | None:
        """The cast's profile, where it is taken out."""
        if self.across is None or self.cast is None or self.cast_name in self.leave:
            return None
        return self.across, self.cast

    def plain(self) -> dict[str, Any]:
        """All but the arrays, as JSON takes it."""
        return {
            "door": self.door, "space": self.space, "kind": self.kind, "negative": self.negative, "base": list(self.base),
            "dark": self.dark, "ratio": self.ratio, "exposure_s": self.exposure_s, "notes": self.notes, "laws": self.laws,
            "balance": list(self.balance), "boxes": {k: list(v) for k, v in self.boxes.items()},
            "trims": {k: list(v) for k, v in self.trims.items()}, "names": self.names, "shifts": self.shifts, "drifts": self.drifts,
            "veils": {k: list(v) for k, v in self.veils.items()}, "cast_name": self.cast_name, "leave": list(self.leave),
            "light_width": self.light_width, "written": self.written, "cuts": {k: list(v) for k, v in self.cuts.items()}, "hashed": {k: list(v) for k, v in self.hashed.items()}, "skews": self.skews, "turns": self.turns,
            "forms": {file: list(form.shape) for file, form in self.forms.items()},
            "stains": {f: {n: _told(s) for n, s in own.items()} for f, own in self.stains.items()},
        }  # fmt: skip

    def arrays(self) -> dict[str, np.ndarray]:
        """The arrays that are there."""
        found = {
            "table": self.table,
            "matrix": self.matrix,
            "light": self.light,
            "across": self.across,
            "cast": self.cast,
        }
        return {name: value for name, value in found.items() if value is not None}

    def of_frames(self) -> dict[str, np.ndarray]:
        """What belongs to single frames: the stains' weights by the stain's name, and the forms of stray light in a row."""
        weights = {name: one.weight for own in self.stains.values() for name, one in own.items()}
        forms = np.concatenate([np.empty(0, np.float32), *(one.ravel() for one in self.forms.values())])
        return weights | {"forms": forms.astype(np.float32)}

    def shared_key(self) -> str:
        """SHA-256 of all that is the same for every frame."""
        about = {k: v for k, v in self.plain().items() if k not in PER_FRAME}
        about["leave"] = [name for name in self.leave if not name.startswith("stain-")]
        digest = hashlib.sha256(json.dumps(about, sort_keys=True).encode())
        for name, value in sorted(self.arrays().items()):
            digest.update(name.encode() + str(value.dtype).encode() + str(value.shape).encode())
            digest.update(np.ascontiguousarray(value).tobytes())
        return digest.hexdigest()

    def frame_key(self, file: str, source: str, shared: str) -> str:
        """SHA-256 of all that makes one frame's picture: its bytes, the roll's transform and map, its own trim."""
        box = list(self.boxes.get(file, ())) if self.profile() is not None else []
        notes = {k: v for k, v in self.notes.items() if k != "numbers"}
        number = self.notes.get("numbers", {}).get(file)
        scan = [
            source,
            box,
            self.shift(file),
            list(self.veil(file)),
            *self.cuts.get(file, ()),
            *([self.turns[file]] if file in self.turns else []),
        ]
        form = self.form(file)
        scan += [] if form is None else [hashlib.sha256(form.tobytes()).hexdigest()]
        stains = [
            [_told(s), hashlib.sha256(s.weight.tobytes()).hexdigest()] for s in self.softened(file).values()
        ]
        own = json.dumps([scan, shared, list(self.trim(file)), notes, number, stains], sort_keys=True)
        return hashlib.sha256(own.encode()).hexdigest()


def _told(one: Stain) -> dict[str, Any]:
    """A stain but for its weight, as JSON takes it."""
    return {
        "box": list(one.box),
        "mark": list(one.mark),
        "density": list(one.density),
        "spread": list(one.spread),
        "share": one.share,
        "doubt": one.doubt,
    }


def _stain(told: dict[str, Any], weight: np.ndarray) -> Stain:
    return Stain(
        Rectangle(*told["box"]),
        Rectangle(*told["mark"]),
        weight,
        rgb(told["density"]),
        rgb(told["spread"]),
        told["share"],
        told["doubt"],
    )


def law_versions() -> str:
    """What the pictures' figures were computed by: this program's modules by content, and the colour library."""
    modules = {
        module.__name__.rsplit(".", 1)[-1]: module
        for module in (
            evenness,
            least_change,
            stain,
            drift,
            evening,
            softening,
            neutral,
            fit,
            lattice,
            lattice_code,
            path,
            transform,
            turn,
        )
    }
    content = {name: sha256(Path(str(module.__file__)))[:12] for name, module in modules.items()}
    # by its name: it cannot be imported without the extra
    content["lattice_text"] = sha256(Path(lattice_code.__file__).with_name("lattice_text.py"))[:12]
    return " ".join(
        [
            f"wetside {__version__}",
            f"OpenColorIO {ocio.__version__}",
            *(f"{n} {h}" for n, h in content.items()),
        ]
    )


def write_recipe(place: Path, recipe: Recipe, about: dict[str, Any]) -> None:
    """Keep a recipe and what was found with it."""
    write_arrays(place, recipe.arrays() | recipe.of_frames(), {"recipe": recipe.plain(), "about": about})


def read_recipe(place: Path) -> tuple[Recipe, dict[str, Any]] | None:
    """A recipe and what was found with it; None when there is none that can be read."""
    found = read_arrays(place)
    if found is None:
        return None
    arrays, text = found
    try:
        plain = dict(text["recipe"])
        for name in ("base", "balance"):
            plain[name] = tuple(plain[name])
        plain["leave"] = tuple(plain["leave"])
        for name in ("boxes", "trims", "veils", "cuts", "hashed"):
            plain[name] = {key: tuple(value) for key, value in plain[name].items()}
        plain["stains"] = {
            file: {name: _stain(told, arrays.pop(name)) for name, told in own.items()}
            for file, own in plain["stains"].items()
        }
        plain["forms"] = _unpacked(arrays.pop("forms"), plain["forms"])
        return Recipe(**{**plain, **arrays}), text["about"]
    except (KeyError, TypeError):
        return None


def _unpacked(row: np.ndarray, shapes: dict[str, list[int]]) -> dict[str, np.ndarray]:
    """Arrays by file, of their shapes, out of one that holds them in a row."""
    ends = np.cumsum([0, *(int(np.prod(shape)) for shape in shapes.values())])
    return {
        file: row[first:end].reshape(shape)
        for (file, shape), first, end in zip(shapes.items(), ends, ends[1:])
    }
