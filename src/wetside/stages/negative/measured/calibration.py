"""A calibration as a reading takes it: camera densities of a roll turned to status M, spreads with them; the light watched.

Answers: what would a densitometer read? Needs camera densities (an open gate) and a calibration of the same light and
scanner. A light whose hue has moved since is named; densities beyond those that were fitted are named too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.finding import Finding
from wetside.figures.reading import Base, Cast, Mark, Patch, RollReading
from wetside.figures.scan import Scan
from wetside.figures.spread import Spread
from wetside.laws.sensitometry.crosstalk import Crosstalk
from wetside.stages.negative.measured.rung import rung_of

#: A hue of the light that moved by this [D] moves every camera density by as much.
MOVED = 0.01
BEYOND = 0.2
#: What a calibrated reading stands on: patches of known density, on top of what a camera density needs.
KNOWN_PATCHES = rung_of(linear=True, rebate=True, open_gate=True, patches_known=True)


@dataclass(frozen=True)
class Profile:
    """A calibration by its name: the fit, the light's level (3,) as a share of full scale when it was made, and whether it
    goes to "status M" or to the film's own "layers"."""

    name: str
    fit: Crosstalk
    level: RGB | None
    source: str
    aim: str = "status M"


def light_level(open_gate: Scan) -> tuple[RGB, RGB]:
    """The light's middle and its corners as shares of full scale, medians over a tenth of the picture."""
    pixels = open_gate.pixels
    height, width = pixels.shape[:2]
    small = cv2.resize(
        pixels, (60, max(10, round(60 * height / width))), interpolation=cv2.INTER_AREA
    ).astype(float)
    rows, columns = small.shape[0], small.shape[1]
    middle = small[rows // 3 : 2 * rows // 3, columns // 3 : 2 * columns // 3].reshape(-1, 3)
    reach = (max(1, rows // 6), max(1, columns // 6))
    corners = [
        small[a, b].reshape(-1, 3)
        for a in (slice(reach[0]), slice(-reach[0], None))
        for b in (slice(reach[1]), slice(-reach[1], None))
    ]
    return rgb(np.median(middle, axis=0) / open_gate.full_scale), rgb(
        np.median(np.vstack(corners), axis=0) / open_gate.full_scale
    )


def hue_moved(now: RGB, then: RGB) -> tuple[float, float]:
    """How red and blue of the light moved against green [D] since: positive is more of it."""
    away = np.log10(np.array(now) / np.array(then))
    return float(away[0] - away[1]), float(away[2] - away[1])


def hue_said(red: float, blue: float) -> str:
    """A light's change of hue [D] in words, with the sign that print has for less."""
    return f"red {red:+.3f}, blue {blue:+.3f} D against green".replace("-", "−")


def light_moved(now: RGB | None, then: RGB | None, name: str) -> tuple[Finding, ...]:
    """One finding when the light's hue is no longer that of the calibration."""
    if now is None or then is None or min(now) <= 0 or min(then) <= 0:
        return ()
    red, blue = hue_moved(now, then)
    if max(abs(red), abs(blue)) <= MOVED:
        return ()
    return (
        Finding(
            "light-moved", "warning", "open gate", f"the light has changed its hue since the calibration {name!r}: make a new one",
            f"within {MOVED} D", hue_said(red, blue), "wetside calibrate FOLDER",
        ),
    )  # fmt: skip


def calibrated(reading: RollReading, profile: Profile, light: RGB | None) -> RollReading:
    """The reading in status M where it holds camera densities; otherwise as it was, with a finding."""
    if reading.density != "camera":
        no = Finding("not-calibrated", "warning", "roll", f"the calibration {profile.name!r} was not used: it needs camera densities",
                     "an open gate of the same exposure", f"density: {reading.density}")  # fmt: skip
        return replace(reading, findings=(*reading.findings, no))
    fit = profile.fit
    base = reading.base and Base(
        _density(fit, reading.base.density),
        _spread(fit, reading.base.density, reading.base.spread),
        reading.base.where,
    )
    patches = tuple(_patch(fit, patch) for patch in reading.patches)
    frames = tuple(
        replace(
            f,
            marks=tuple(_mark(fit, m) for m in f.marks),
            perhaps=tuple(_mark(fit, m) for m in f.perhaps),
            base=_density(fit, f.base) if f.base else None,
        )
        for f in reading.frames
    )
    found = (
        *reading.findings,
        *light_moved(light, profile.level, profile.name),
        *_beyond(fit, reading.patches),
    )
    said = f"calibrated: {profile.name}, check ± {float(fit.check.max()):.3f} D"
    return replace(
        reading, rung=KNOWN_PATCHES.level, reasons=(*KNOWN_PATCHES.reasons, said),
        density="status M", base=base, frames=frames, patches=patches, cast=_cast(fit, reading.cast), findings=found,
        footing=replace(reading.footing, calibration=profile.name),
    )  # fmt: skip


def _density(fit: Crosstalk, camera: RGB) -> RGB:
    return rgb(fit.density(np.array(camera)))


def _spread(fit: Crosstalk, camera: RGB, spread: RGB) -> RGB:
    return rgb(fit.spread(np.array(camera), np.array(spread)))


def _patch(fit: Crosstalk, patch: Patch) -> Patch:
    if patch.density is None or patch.spread is None:
        return patch
    spread = _spread(fit, patch.density, patch.spread)
    return replace(
        patch, density=_density(fit, patch.density), spread=spread, parts=Spread(calibration=spread)
    )


def _mark(fit: Crosstalk, mark: Mark) -> Mark:
    spread = mark.spread and rgb(fit.difference_spread(np.array(mark.delta), np.array(mark.spread)))
    return replace(mark, delta=rgb(fit.difference(np.array(mark.delta))), spread=spread)


def _cast(fit: Crosstalk, cast: Cast) -> Cast:
    if cast.peak is None:
        return cast
    spread = cast.spread and rgb(fit.difference_spread(np.array(cast.peak), np.array(cast.spread)))
    profile = tuple(replace(p, density=rgb(fit.difference(np.array(p.density)))) for p in cast.profile)
    return replace(cast, peak=rgb(fit.difference(np.array(cast.peak))), spread=spread, profile=profile)


def _beyond(fit: Crosstalk, patches: tuple[Patch, ...]) -> tuple[Finding, ...]:
    return tuple(
        Finding("beyond-calibration", "warning", p.file, "a patch is denser than any that was calibrated: its status M density is carried on, not checked",
                f"up to {' '.join(f'{v:.2f}' for v in fit.highest)} D", " ".join(f"{v:.2f}" for v in p.density))
        for p in patches
        if p.density is not None and (np.array(p.density) > fit.highest + BEYOND).any()
    )  # fmt: skip
