"""A spot or an area of a frame on the glass, read from linear data as the roll's last reading would have read it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.reading.lengths import part_at
from wetside.app.reading.standing import standing_kept
from wetside.app.sensitometry.calibrate import profile
from wetside.app.viewing.glass import frame_of, last_reading, lit
from wetside.figures.channels import rgb
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.figures.reading import Flare
from wetside.figures.scan import Scan
from wetside.figures.spread import Spread
from wetside.laws.sensitometry.crosstalk import Crosstalk
from wetside.stages.negative.measured.area import AreaReading, area
from wetside.stages.negative.measured.patches import Spot, shrunk_box, spot
from wetside.stages.negative.measured.reckoned import Standing, reckoned
from wetside.stages.negative.scanner.veil_off import At, lifted
from wetside.store.scans.parts import whole
from wetside.store.scans.recent import recent

SIDE = 15
KINDS = {
    "camera": "camera density",
    "above base": "above base",
    "status M": "status M",
    "none": "against the scan's full scale",
}


def density_at(home: Path, roll: str, file: str, x: int, y: int, size: int = SIDE) -> dict[str, Any]:
    """Density of a small square around a place, with its spread and what most of that is; null with the reason where it cannot be."""
    box = Rectangle(max(0, x - size // 2), max(0, y - size // 2), size, size)
    path = frame_of(home, roll, file)
    scan = recent(whole(path))
    if scan.coding == "gamma":
        return _said(Spot(None, None, "a gamma-coded file yields no density"), box, "none")
    seen = _read(home, roll, path, scan, box)
    return _said(seen.spot, box, seen.kind, seen.stands.flare)


def _said(found: Spot, box: Rectangle, kind: str, flare: Flare | None = None) -> dict[str, Any]:
    say = found.reason or KINDS[kind]
    if flare is not None and found.density is not None:
        say += ", stray light taken off"
        if flare.ceiling is not None and max(found.density) > flare.ceiling:
            say += f"; over {flare.ceiling:.1f} D it leaves more than 0.05 D uncertain"
    if found.density is not None and found.parts is not None and kind != "none":
        say += f"; the spread is mostly {found.parts.most()}"
    return {
        "density": found.density.as_json() if found.density else None,
        "spread": found.spread.as_json() if found.spread else None,
        "grain": found.grain.as_json() if found.grain and found.density else None,
        "spread_of": found.parts.as_json() if found.parts and found.density else None,
        "kind": kind, "say": say, **box.as_json(),
    }  # fmt: skip


def area_at(home: Path, roll: str, file: str, box: Rectangle) -> AreaReading:
    """A rectangle of a frame with its profiles and histogram; Unusable for a coded file or a place outside it."""
    path = frame_of(home, roll, file)
    scan = recent(whole(path))
    if scan.coding == "gamma":
        raise Unusable("a gamma-coded file yields no density", "glass")
    inside = shrunk_box(box, scan.shrink).clipped_to(scan.width, scan.height)
    if inside.w < 4 or inside.h < 4:
        raise Unusable("the rectangle lies outside the file or is smaller than 4 × 4 pixels", "glass")
    seen = _read(home, roll, path, scan, box)
    open_gate, light = lit(path.parent)
    at = _places(path, scan, inside)
    found = area(scan, box, open_gate, light, seen.spot, seen.stands.flare, seen.counted, at)
    return replace(found, kind=seen.kind)


@dataclass(frozen=True)
class Seen:
    """A rectangle as the roll has it: its spot, the kind of density, what it stands on, its density before (3,) [D]."""

    spot: Spot
    kind: str
    stands: Standing
    before: np.ndarray
    camera: np.ndarray
    fit: Crosstalk | None = None

    def counted(self, density: np.ndarray) -> np.ndarray:
        """Densities (n, 3) [D] near the rectangle, freed of stray light, as the roll counts them."""
        brought = density + (self.camera - self.before)
        return brought if self.fit is None else self.fit.density(brought)


def _read(home: Path, roll: str, path: Path, scan: Scan, box: Rectangle) -> Seen:
    """A rectangle of a file as the roll's last reading has it, in what kind of density, and by what."""
    open_gate, light = lit(path.parent)
    raw = spot(scan, box, open_gate, light.dark, light.ratio(scan))
    stands, kind, name = _stands(home, roll, path.name, open_gate is not None)
    centre, size = _place(path, box, scan)
    found = reckoned(raw, stands, centre, size)
    nothing = np.zeros(3)
    if raw.density is None or found.density is None:
        return Seen(found, kind, stands, nothing, nothing)
    before = np.array(raw.density)
    if stands.flare is not None:
        here = np.array(centre[0] / size[0]), np.array(centre[1] / size[1])
        before = lifted(before, stands.flare, raw.sampled.share if raw.sampled else None, here)
    camera, fit = np.array(found.density), profile(home, name).fit if name else None
    return Seen(found if fit is None else _calibrated(found, fit), kind, stands, before, camera, fit)


def _stands(home: Path, roll: str, file: str, lit_: bool) -> tuple[Standing, str, str | None]:
    """What a frame stands on by the last reading, the kind of its densities, and a calibration's name."""
    reading, _ = last_reading(home, roll)
    if reading is None or reading.get("density") == "none":
        return Standing("camera", lit=lit_), "camera" if lit_ else "none", None
    stands = standing_kept(reading, file, lit_)
    name = (reading.get("footing") or {}).get("calibration") if reading["density"] == "status M" else None
    return stands, "status M" if name else stands.counts_from, name


def _place(path: Path, box: Rectangle, scan: Scan) -> tuple[tuple[float, float], tuple[int, int]]:
    """A rectangle's centre in pixels of its frame, and the frame's size."""
    part = part_at(path)
    if part is None:
        return box.centre, (scan.width * scan.shrink, scan.height * scan.shrink)
    return part.in_part(box).centre, ((part.box.h, part.box.w) if part.down else (part.box.w, part.box.h))


def _places(path: Path, scan: Scan, inside: Rectangle) -> At:
    """Where a rectangle's pixels lie, as shares x, y of their frame; its middle alone in a file of several frames."""
    if part_at(path) is not None:
        (x, y), (width, height) = _place(path, Rectangle(*(v * scan.shrink for v in inside)), scan)
        return np.array(x / width), np.array(y / height)
    across = (np.arange(inside.w) + inside.x + 0.5) / scan.width
    down = (np.arange(inside.h) + inside.y + 0.5) / scan.height
    return np.broadcast_to(across, (inside.h, inside.w)), np.broadcast_to(down[:, None], (inside.h, inside.w))


def _calibrated(found: Spot, fit: Crosstalk) -> Spot:
    if found.density is None or found.spread is None:
        return found
    camera = np.array(found.density)
    spread = rgb(fit.spread(camera, np.array(found.spread)))
    return replace(found, density=rgb(fit.density(camera)), spread=spread, parts=Spread(calibration=spread))
