"""What a frame's densities stand on, from a roll just read or from a reading that the book keeps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.footing import Footing
from wetside.figures.place import Part, Rectangle
from wetside.figures.reading import Flare
from wetside.figures.scan import Scan
from wetside.laws.sensitometry.noise import Noise
from wetside.stages.negative.found.shown import FilmOfRoll
from wetside.stages.negative.measured.reckoned import Standing
from wetside.stages.negative.scanner.fall_off import FallOff
from wetside.stages.negative.scanner.light_surface import surface_from
from wetside.stages.negative.scanner.noise import noise_of_scans
from wetside.stages.negative.scanner.turned import Gradient
from wetside.stages.negative.scanner.working import STEP_ERROR

#: What bringing frames to one exposure leaves of a base [D]: measured on rolls of four gauges.
LEVELLED = 0.0003


def footing_of(
    film: FilmOfRoll, blocks: Sequence[np.ndarray], white: float, turned: Gradient | None = None
) -> Footing:
    """What the whole roll's densities stand on."""
    noise = noise_of_scans(blocks, white)
    return Footing(
        film.light,
        "the frames' own bases" if film.light else "common practice",
        noise.as_json() if noise else None,
        film.fall.surface.as_json() if film.fall else None,
        turned=turned.as_json() if turned else None,
    )


def standing_of(
    film: FilmOfRoll, index: int, counts_from: str, flare: Flare | None, lit: bool, noise: Noise | None
) -> Standing:
    """What the frame of an index stands on in a roll just read."""
    base = film.frames[index].base or (film.base.density if film.base else None)
    known = _base_spread(base, any(film.shifts))
    return Standing(counts_from, flare, film.shift(index), base, known, film.light, film.fall, lit, noise)


def standing_kept(reading: Mapping[str, Any], file: str, lit: bool) -> Standing:
    """The same for a frame of a reading that the book keeps; as for no reading at all where it is of an earlier kind."""
    footing = reading.get("footing") or {}
    frame: Mapping[str, Any] = next((one for one in reading.get("frames", ()) if one["file"] == file), {})
    counts_from = "above base" if reading.get("density") == "above base" else "camera"
    base = _triple(frame.get("base") or reading.get("base"))
    surface = footing.get("surface")
    return Standing(
        counts_from,
        flare_kept(frame),
        float(frame.get("shift") or 0.0),
        base,
        _base_spread(base, any(one.get("shift") for one in reading.get("frames", ()))),
        _triple(footing.get("light")),
        FallOff(surface_from(surface)) if surface else None,
        lit,
        _noise(footing.get("noise")),
    )


def _base_spread(base: RGB | None, levelled: bool) -> RGB:
    """How well (3,) [D] a frame's base is known; worse where the frames had to be brought to one exposure first."""
    if base is None:
        return RGB(0.0, 0.0, 0.0)
    return rgb(np.full(3, np.hypot(STEP_ERROR, LEVELLED if levelled else 0.0)))


def noise_in(footing: Footing) -> Noise | None:
    """The scanner's noise of a footing."""
    return _noise(footing.noise)


def _noise(found: Mapping[str, Any] | None) -> Noise | None:
    read, shot = (_triple((found or {}).get(key)) for key in ("read", "shot"))
    return None if read is None or shot is None else Noise(np.array(read), np.array(shot))


def flare_kept(frame: Mapping[str, Any]) -> Flare | None:
    """The stray light that a reading took off a frame."""
    found = frame.get("flare")
    level = _triple(found)
    if not found or level is None:
        return None
    over = tuple(tuple(rgb(cell) for cell in row) for row in found.get("over") or ())
    uneven, light = float(found.get("uneven") or 0.2), _triple(found.get("light"))
    return Flare(
        level,
        float(found["share"]),
        found.get("ceiling"),
        uneven,
        light,
        over,
        float(found.get("unsure") or 0.0),
    )


def _triple(found: Mapping[str, Any] | None) -> RGB | None:
    if not found or any(found.get(c) is None for c in "rgb"):
        return None
    return rgb([found[c] for c in "rgb"])


def frame_at(frames: Sequence[Scan], box: Rectangle) -> str:
    """The name of the frame whose middle lies nearest to a rectangle of its file."""

    def away(part: Part | None) -> float:
        return 0.0 if part is None else float(np.hypot(*np.subtract(part.box.centre, box.centre)))

    return min(frames, key=lambda frame: away(frame.part)).file
