"""A cast that the frames of a roll share: its profile over the picture, what anchors it, and of what kind it is.

Pictures differ, a cast does not: the median over frames of density *gradients* keeps the cast and loses the pictures.
Its mean and its tilt are undetermined by pictures alone; the unexposed rebate gives both. An additive stain shows in
the rebate; uneven development scales with density, leaves the rebate alone, and no additive map can undo it.
A cast is reported only where it is larger than its own bootstrap error.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.density import DensityFrame
from wetside.figures.reading import Cast, ProfilePoint
from wetside.stages.causes.signs.uneven import uneven_profile

ROWS, COLUMNS = 48, 64
FEWEST = 4
BOOTSTRAPS = 200
SMALLEST = 0.012
#: One standard deviation [D] of a light's gradient told by turning a frame: within 0.01 D on twelve planted films.
BY_TURNING = 0.004
OPEN_GATE = "a scan of the light without film, at the same exposure"
FLATS = "two defocused frames of an even surface at two exposures on the next roll"


@dataclass
class CastField:
    """Collects frames (a 48 × 64 grid each, so memory stays small) and says what cast they share.

    `of_light` (3,) [D]: how much the light's own gradient grew from the file's top to its bottom, where a frame turned half
    round told it and it was taken off these frames. Then a gradient that is left is the film's; what is alike after
    half a turn stays untold.
    """

    light_known: bool
    of_light: np.ndarray | None = None
    grids: list[np.ndarray] = field(default_factory=list)
    sides: list[dict[str, RGB]] = field(default_factory=list)
    spans: list[float] = field(default_factory=list)
    bare: list[dict[str, RGB]] = field(default_factory=list)
    shares: list[float] = field(default_factory=list)

    @property
    def told(self) -> bool:
        """True where a gradient can only be the film's."""
        return self.light_known or self.of_light is not None

    @property
    def taken_off(self) -> str:
        """What a basis adds where the light's gradient was taken off first."""
        return (
            ""
            if self.of_light is None
            else "; the light's gradient, told by a frame turned half round, is taken off"
        )

    def odd(self, profile: np.ndarray) -> np.ndarray:
        """What of a profile (rows, 3) is known not to be the light's."""
        return profile if self.light_known or self.of_light is None else (profile - profile[::-1]) / 2

    def add(self, frame: DensityFrame) -> None:
        """Take one frame's picture, relative to its base where that is known."""
        grid = picture_grid(frame)
        if grid is not None:
            self.grids.append(grid)
            self.sides.append(dict(frame.sides))
            self.spans.append(frame.places.get("bottom", 1.0) - frame.places.get("top", 0.0))
            self.bare.append(dict(frame.bare))
            self.shares.append(frame.picture.h / frame.shrink / frame.density.shape[0])

    def cast(self) -> Cast:
        """The roll's cast; found is False, with what would help, where none stands out of its error."""
        if len(self.grids) < FEWEST:
            return _nothing(
                f"{len(self.grids)} frames; at least {FEWEST} are needed", "more frames of the same roll"
            )
        return _judged(self)


def picture_grid(frame: DensityFrame) -> np.ndarray | None:
    """Density above base of the picture, its rim left out, on a 48 × 64 grid; None for a picture too small."""
    x, y, w, h = (v / frame.shrink for v in frame.picture)
    rim = 0.015 * min(w, h) + 1
    top, bottom, left, right = int(y + rim), int(y + h - rim), int(x + rim), int(x + w - rim)
    picture = frame.density[max(0, top) : bottom, max(0, left) : right]
    if min(picture.shape[:2]) < 16:
        return None
    small = cv2.resize(picture, (COLUMNS, ROWS), interpolation=cv2.INTER_AREA)
    return small - np.asarray(frame.base or (0, 0, 0), np.float32)


def profile_across(grids: np.ndarray) -> np.ndarray:
    """Profile (ROWS, 3) [D] shared by grids (frames, ROWS, COLUMNS, 3): medians of gradients, summed; mean 0."""
    steps = np.diff(grids, axis=1)
    shared = np.median(steps.transpose(1, 0, 2, 3).reshape(ROWS - 1, -1, 3), axis=1)
    profile = np.vstack([np.zeros(3), np.cumsum(shared, axis=0)])
    return profile - profile.mean(axis=0)


def _judged(cast: CastField) -> Cast:
    grids = np.stack(cast.grids)
    rng = np.random.default_rng(len(grids))
    profile = profile_across(grids)
    draws = np.stack([
        profile_across(grids[rng.integers(0, len(grids), len(grids))][:, :, ::3]) for _ in range(BOOTSTRAPS)
    ])  # fmt: skip
    error = draws.std(axis=0)
    tilt = _rebate_tilt(cast)
    if tilt is None:
        return _unanchored(cast, profile, error)
    return _anchored(cast, grids, profile, error, *tilt)


def _rebate_tilt(cast: CastField) -> tuple[np.ndarray, np.ndarray] | None:
    """Rebate density at the bottom minus the top, for one picture height, median over frames, with that median's error."""
    both = [
        (side["top"], side["bottom"], span)
        for side, span in zip(cast.sides, cast.spans)
        if "top" in side and "bottom" in side
    ]
    if len(both) < FEWEST:
        return None
    steps = np.array([np.subtract(bottom, top) / max(span, 0.5) for top, bottom, span in both])
    error = (
        1.2533 * 1.4826 * np.median(np.abs(steps - np.median(steps, axis=0)), axis=0) / np.sqrt(len(steps))
    )
    error = np.maximum(error, 0.001)
    return np.median(steps, axis=0), error if cast.of_light is None else np.hypot(error, BY_TURNING)


def _anchored(
    cast: CastField,
    grids: np.ndarray,
    profile: np.ndarray,
    error: np.ndarray,
    tilt: np.ndarray,
    tilt_error: np.ndarray,
) -> Cast:
    place = (np.arange(ROWS) + 0.5) / ROWS - 0.5
    stain = bool((np.abs(tilt) > np.maximum(3 * tilt_error, SMALLEST)).any())
    grown, ratio_error = uneven_profile(grids)
    if stain:
        bent = profile - np.outer(place, profile[-1] - profile[0])
        bent = cast.odd(bent)
        bend = np.where(np.abs(bent).max(axis=0) > 3 * error.max(axis=0), bent, 0.0)
        field_ = np.outer(place, tilt) + bend - bend.mean(axis=0)
        spread = np.maximum(tilt_error / 2, np.where(bend.any(axis=0), error.max(axis=0), 0.0))
        kind, parted = ("additive", True) if cast.told else _light_or_stain(cast, tilt)
        remains = float(max(0.003, spread.max()))
        basis = (
            "rebate at both edges"
            + (" and the pictures' shared gradients" if bend.any() else "")
            + cast.taken_off
        )
        help_ = "" if cast.light_known else OPEN_GATE
        return replace(_found(kind, field_, spread, basis, remains, "rebate", help_), parted=parted)
    if grown is not None:
        level = float(np.median(grids.mean(axis=(1, 2))))
        field_ = grown * level
        return _found("with density", field_ - field_.mean(axis=0), ratio_error * level,
                      "grows with density in the pictures; the rebate is even at both edges",
                      float(np.abs(field_ - field_.mean(axis=0)).max()), "pictures", FLATS)  # fmt: skip
    if cast.of_light is not None and np.abs(cast.of_light).max() > SMALLEST:
        return _of_light(cast.of_light * float(np.median(cast.shares)), tilt_error)
    return _nothing(
        "the rebate is even at both edges, and the pictures share no gradient larger than its error", ""
    )


def _of_light(step: np.ndarray, error: np.ndarray) -> Cast:
    """A cast that stays with the scanner when the film is turned: the film beneath it is even."""
    place = (np.arange(ROWS) + 0.5) / ROWS - 0.5
    basis = "a frame turned half round: the gradient stays in place, so it is the light's; the film beneath it is even"
    spread = np.hypot(error, BY_TURNING) / 2
    return _found("light", np.outer(place, step), spread, basis, float(spread.max()), "rebate", OPEN_GATE)


def _light_or_stain(cast: CastField, tilt: np.ndarray) -> tuple[str, bool]:
    """Without an open gate the tilt is the light's unless bare light at both edges shows that it is not; and whether it showed."""
    both = [(side["top"], side["bottom"]) for side in cast.bare if "top" in side and "bottom" in side]
    if len(both) < FEWEST:
        return "light", False
    bare = np.median([np.subtract(bottom, top) for top, bottom in both], axis=0)
    return ("additive" if np.abs(tilt - bare).max() > 0.5 * np.abs(tilt).max() else "light"), True


def _unanchored(cast: CastField, profile: np.ndarray, error: np.ndarray) -> Cast:
    profile = cast.odd(profile)
    depth = np.abs(profile).max(axis=0)
    if not ((depth > 4 * error.max(axis=0)) & (depth > 2 * SMALLEST)).any():
        return _nothing(
            "no rebate at both edges, and the pictures share no gradient larger than its error", FLATS
        )
    kind = "additive" if cast.told else "light"
    basis = "gradients that the pictures share; no rebate anchors them" + cast.taken_off
    found = _found(kind, profile, error.max(axis=0), basis,
                   float(error.max() + 0.012), "pictures", "scans that show the rebate at both edges")  # fmt: skip
    return replace(found, parted=cast.told)


def _found(
    kind: str,
    field_: np.ndarray,
    spread: np.ndarray,
    basis: str,
    remains: float,
    anchor: str,
    would_help: str,
) -> Cast:
    centred = field_ - field_.mean(axis=0)
    peak = centred[np.abs(centred).argmax(axis=0), np.arange(3)]
    points = tuple(
        ProfilePoint((i + 0.5) / ROWS, rgb(centred[i])) for i in range(0, ROWS, 3)
    )  # fmt: skip
    return Cast(True, kind, rgb(peak), rgb(spread), basis, remains, would_help, anchor, points)  # type: ignore[arg-type]


def _nothing(basis: str, would_help: str) -> Cast:
    return Cast(False, None, None, None, basis, None, would_help)


def without_density() -> Cast:
    """What is said of files that carry no density."""
    return _nothing("gamma-coded files carry no density", "linear 16-bit scans with the rebate in view")
