"""From a roll's reading to what its frames are printed with: the light, the levels, the cast, and the tone by a door."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.printing.corrections import (
    ASKED,
    cast_name,
    corrections,
    drift_stays,
    drifts_of,
    evenness,
    roll_drift,
)
from wetside.app.printing.recipe import Recipe, law_versions
from wetside.app.printing.softening import refuse_unknown, stains_of
from wetside.app.reading.lengths import opened
from wetside.app.reading.lights import lights
from wetside.app.sensitometry.crosstalk import calibration_told, calibration_words
from wetside.figures.curves import Curves
from wetside.figures.finding import CannotSay, Finding, Unusable
from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading, RollReading
from wetside.stages.negative.measured.calibration import Profile
from wetside.stages.negative.scanner.turned import gradient_from
from wetside.stages.negative.scanner.veil_off import unveiled
from wetside.stages.negative.scanner.working import Light, Working, light_of, working
from wetside.stages.positive.exposure import age_untold, base_words, exposure_words
from wetside.stages.positive.fit import ToneFit, fitted_tone, own_tone, tone_of_greys
from wetside.stages.positive.rebate import rebate_scatter
from wetside.store.scans.folder import FolderListing

EXCHANGE = "Academy density exchange; the scan's densities are taken as calibrated"
MOST_SAMPLED = 24
#: Places along a frame that a plane of light is reckoned at.
GRID = 200


@dataclass(frozen=True)
class Wanted:
    """How a roll is to be printed: by which door, into which space and kind of file, and what is to stay in.

    leave       names of corrections that are not made; those that must be asked for are in it unless they were
    greys       places that were neutral, for the fitted door: file and rectangle [px of the file]
    boxes       marks to take off where they are stains, by file [px of the file]; those that stay are said
    by          a calibration of this light and scanner, whose matrix comes before the layers' curves; `curves` are then in its densities
    """

    door: str = "fitted"
    space: str = "sRGB"
    kind: str = "tiff"
    negative: str | None = None
    leave: tuple[str, ...] = ASKED
    curves: Curves | None = None
    open_gate: Path | None = None
    boxes: Mapping[str, Sequence[Rectangle]] = field(default_factory=dict)
    greys: tuple[tuple[str, Rectangle], ...] = ()
    by: Profile | None = None

    @property
    def matrix(self) -> np.ndarray | None:
        """The calibration's matrix (3, 3)."""
        return None if self.by is None else self.by.fit.matrix


def roll_transform(
    files: FolderListing, reading: RollReading, wanted: Wanted
) -> tuple[Recipe, dict[str, Any]]:
    """The recipe of a roll and what is to be said of it; Unusable when no positive can be printed from its reading."""
    _refuse(files, reading, wanted)
    open_gate, dark, _ = lights(files, wanted.open_gate)
    light = light_of(open_gate, dark)
    if open_gate is None:
        light = _by_half_a_turn(replace(light, exposure_s=reading.frames[0].exposure_s), files, reading)
    base = np.array(reading.base.density) if reading.base else _thinnest(files, reading, light)
    drift = roll_drift(reading) if reading.base else None
    shifts, drifts = _shifts(reading, drifts_of(reading, drift))
    tone, chosen = None, _chosen(reading)
    seen = [piece - base for piece in _sampled(files, chosen, light, shifts)]
    to = np.eye(3) if wanted.matrix is None else wanted.matrix
    pieces = [piece @ to.T for piece in seen]
    if wanted.door != "exchange":
        greys = (_greys(files, reading, light, wanted.greys, shifts) - base) @ to.T if wanted.greys else None
        tone = _tone(pieces, wanted, greys)
    words = exposure_words(pieces, [frame.file for frame in chosen], tone)
    words += base_words(base, reading.base is not None, open_gate is not None)
    words += drift_stays(drift)
    if wanted.by is not None:
        words += calibration_words(wanted.by, open_gate, seen, base)
    factor = _factor(light)
    across, cast = _profile(reading)
    refuse_unknown(wanted.boxes, files)
    stains, stay = stains_of(files, reading, light, wanted.boxes)
    recipe = Recipe(
        wanted.door, wanted.space, wanted.kind, wanted.negative, (float(base[0]), float(base[1]), float(base[2])),
        None if tone is None else tone.table, factor, light.dark, light.exposure_ratio, light.exposure_s, across, cast,
        {frame.file: tuple(frame.picture) for frame in reading.frames}, shifts=shifts, drifts=drifts, veils=_veils(reading), forms=_forms(reading), stains=stains,  # type: ignore[misc]
        cast_name=cast_name(reading), leave=wanted.leave, laws=law_versions(),
        light_width=light.file_width or 0, matrix=wanted.matrix, skews={frame.file: frame.skew for frame in reading.frames if frame.skew},
    )  # fmt: skip
    untold = age_untold(tone)
    made = corrections(reading, factor, shifts, wanted.leave, stains, drift)
    about = {
        "base": reading.base.as_json() if reading.base else None, "evenness": evenness(reading, made), "corrections": made,
        "before": rebate_scatter([frame.base for frame in reading.frames]), "say": tone.say if tone else EXCHANGE,
        "gradients": list(tone.gradients) if tone else None, "assumed": tone.assumed if tone else False,
        "findings": [f.as_json() for f in (*reading.findings, *words, *_stay(stay))], "marks_left": stay,
        "exposure": [word.say for word in words], "untold": untold.as_json() if untold else None, "drift": drift.as_json() if drift else None, "calibration": calibration_told(wanted.by),
    }  # fmt: skip
    return recipe, about


def _by_half_a_turn(light: Light, files: FolderListing, reading: RollReading) -> Light:
    """The light with the gradient that a frame turned half round shows, where there is one.

    A film that is even has the whole gradient in its cast's profile, and it comes off with that.
    """
    found = reading.footing.turned
    if found is None or reading.cast.kind == "light" or any(frame.part for frame in reading.frames):
        return light
    scan = opened(next(path for path in files.frames if path.name == reading.frames[0].file))
    wide, tall = scan.width * scan.shrink, scan.height * scan.shrink
    field = gradient_from(found).field(max(2, round(GRID * tall / wide)), GRID, scan.full_scale - light.dark)
    return replace(light, field=field + np.float32(light.dark), file_width=wide)


def _stay(left: list[dict[str, Any]]) -> list[Finding]:
    """One line a mark that was to be taken off and is not."""
    where = "{x},{y},{w},{h}"
    return [
        Finding(
            "mark-stays",
            "note",
            one["file"],
            f"the mark at {where.format(**one['box'])} stays: {one['say']}",
            one["would_help"],
        )
        for one in left
    ]


def _refuse(files: FolderListing, reading: RollReading, wanted: Wanted) -> None:
    if reading.rung == 0:
        raise Unusable(
            "these files are gamma-coded: no positive can be printed from them; scan linear, 16 bits",
            str(files.folder),
        )
    if wanted.door == "own" and wanted.curves is None:
        raise Unusable(
            "the own door needs this stock's curves: `wetside stock FOLDER` with a stock.json beside the scans",
            "--door",
        )


def _factor(light: Light) -> np.ndarray | None:
    """The factor (h, w, 3) from scan values less their dark level to transmittance; None without an open gate."""
    if light.field is None:
        return None
    factor: np.ndarray = (1 / np.maximum(light.field - np.float32(light.dark), 1e-6)).astype(np.float32)
    return factor


def _tone(pieces: list[np.ndarray], wanted: Wanted, greys: np.ndarray | None) -> ToneFit:
    if wanted.door == "own" and wanted.curves is not None:
        return own_tone(wanted.curves, np.concatenate([piece.reshape(-1, 3) for piece in pieces]))
    if greys is None:
        return fitted_tone(pieces)
    found = tone_of_greys(greys, pieces)
    if isinstance(found, CannotSay):
        raise Unusable(f"{found.reason}; what would help: {found.would_help}", "--grey")
    return found


def _greys(
    files: FolderListing,
    reading: RollReading,
    light: Light,
    named: Sequence[tuple[str, Rectangle]],
    shifts: Mapping[str, float],
) -> np.ndarray:
    """Densities (n, 3) of the greys that were named, free of stray light and levelled; Unusable where one cannot be read."""
    places = {path.name: path for path in files.frames}
    frames = {frame.file: frame for frame in reading.frames}
    found = []
    for file, box in named:
        if file not in frames or file not in places:
            raise Unusable(
                f"{file[:60]!r} is not a frame here; frames: {', '.join(list(frames)[:4])} …", "--grey"
            )
        frame = frames[file]
        own = box if frame.part is None else frame.part.in_part(box)
        small = unveiled(working(opened(places[file]), light), frame.flare)
        x, y, w, h = (round(v / small.shrink) for v in own)
        spot = small.density[max(0, y) : y + max(1, h), max(0, x) : x + max(1, w)].reshape(-1, 3)
        if not len(spot):
            raise Unusable(f"the grey at {x},{y} lies outside {file}", "--grey")
        found.append(np.median(spot, axis=0) - shifts.get(file, 0.0))
    return np.array(found)


def _shifts(reading: RollReading, along: Mapping[str, float]) -> tuple[dict[str, float], dict[str, float]]:
    """Density by which frames were scanned denser than the roll, by file, where its base is known; and what of it is drift.

    A frame without a shift of its own, which lies near the roll or shows no rebate, lies where the drift puts it.
    """
    if reading.base is None:
        return {}, {}
    drifts = {file: value for file, value in along.items() if value}
    shifts = {frame.file: frame.shift or drifts.get(frame.file, 0.0) for frame in reading.frames}
    return {file: value for file, value in shifts.items() if value}, drifts


def _veils(reading: RollReading) -> dict[str, tuple[float, float, float, float]]:
    """Stray light by file: its level r g b as a transmittance, and its share of the frame's mean light."""
    return {f.file: (*f.flare.level, f.flare.share) for f in reading.frames if f.flare is not None}


def _forms(reading: RollReading) -> dict[str, np.ndarray]:
    """Where each frame's stray light lies, by file, as shares of its level, where it does not lie everywhere alike."""
    return {
        f.file: np.array(f.flare.over, np.float32)
        for f in reading.frames
        if f.flare is not None and f.flare.over
    }


def _thinnest(files: FolderListing, reading: RollReading, light: Light) -> np.ndarray:
    """Without a rebate: the thinnest densities of the first frames that could be read stand in for the base, and are said to."""
    places = {path.name: path for path in files.frames}
    lows = [
        np.percentile(working(opened(places[frame.file]), light).density.reshape(-1, 3), 0.5, axis=0)
        for frame in reading.frames[:8]
    ]
    found: np.ndarray = np.min(lows, axis=0)
    return found


def _chosen(reading: RollReading) -> Sequence[FrameReading]:
    """The frames that tell the roll's tone: at most 24, evenly spread."""
    return reading.frames[:: max(1, -(-len(reading.frames) // MOST_SAMPLED))]


def _sampled(
    files: FolderListing, chosen: Sequence[FrameReading], light: Light, shifts: dict[str, float]
) -> list[np.ndarray]:
    """Densities (h, w, 3) of these frames' pictures, free of stray light and levelled, thinned."""
    places = {path.name: path for path in files.frames}
    parts = []
    for frame in chosen:
        small = unveiled(working(opened(places[frame.file]), light), frame.flare)
        parts.append(_inside(small, frame) - shifts.get(frame.file, 0.0))
    return parts


def _inside(small: Working, frame: FrameReading) -> np.ndarray:
    x, y, w, h = (int(v / small.shrink) for v in frame.picture)
    return small.density[y + h // 30 : y + h - h // 30 : 4, x + w // 30 : x + w - w // 30 : 4]


def _profile(reading: RollReading) -> tuple[np.ndarray, np.ndarray] | tuple[None, None]:
    """Places and densities of the roll's cast across the film, where it has one."""
    if not cast_name(reading):
        return None, None
    points = reading.cast.profile
    return np.array([p.across for p in points]), np.array([tuple(p.density) for p in points])
