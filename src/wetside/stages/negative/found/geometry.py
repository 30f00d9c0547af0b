"""Lengths along the film: what was given, what the perforations show, what the gauge supplies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Literal

import numpy as np

from wetside.figures.finding import Finding
from wetside.figures.reading import Geometry
from wetside.laws.reel.gauges import GAUGES
from wetside.stages.negative.found.shown import FilmOfFrame

OF_FILM = 0.001
#: Perforations of one film, long or short pitch, differ by 0.2 %; one more or less of a few is found further off than this.
OTHER = 0.015


def perforation_pitch_px(films: Sequence[FilmOfFrame], shrinks: Sequence[float]) -> float | None:
    """Median pitch of the perforations [pixels of the file]; None when no frame shows two."""
    pitches = [
        film.holes.pitch * shrink for film, shrink in zip(films, shrinks) if film.holes and film.holes.pitch
    ]
    return float(np.median(pitches)) if pitches else None


def pitch_over_lengths(places: Sequence[Sequence[float]]) -> tuple[float, float] | None:
    """Pitch of the perforations [pixels of the file] and its spread, from holes along files of several frames.

    Where a frame shows one hole each (110, 16 mm cine) its neighbours' tell the pitch. A file needs three holes whose
    places lie within 1 % of an even row; holes that are missing or hidden are allowed for.
    """
    found = [pitch for row in places if (pitch := _even_pitch(np.unique(np.round(row, 2)))) is not None]
    if not found:
        return None
    pitches = np.array(found)
    scatter = 1.4826 * float(np.median(np.abs(pitches / np.median(pitches) - 1))) / len(found) ** 0.5
    pitch = float(np.median(pitches))
    return pitch, pitch * float(np.hypot(scatter, OF_FILM))


def _even_pitch(row: np.ndarray) -> float | None:
    if len(row) < 3:
        return None
    step = float(np.diff(row).min())
    numbers = np.round((row - row[0]) / step)
    pitch, start = np.polyfit(numbers, row, 1)
    return float(pitch) if np.abs(row - start - pitch * numbers).max() < 0.01 * pitch else None


def scale_spread(films: Sequence[FilmOfFrame], shrinks: Sequence[float], px_per_mm: float) -> float | None:
    """One standard deviation of a scale [px/mm] by the perforations; None when no frame shows two.

    The frames' own scatter over the root of their number, and a tenth of a per cent for the film: short and long
    pitches of one gauge differ by 0.2 %, and film shrinks.
    """
    pitches = np.array([f.holes.pitch * s for f, s in zip(films, shrinks) if f.holes and f.holes.pitch])
    if len(pitches) == 0:
        return None
    scatter = 1.4826 * float(np.median(np.abs(pitches / np.median(pitches) - 1))) / len(pitches) ** 0.5
    return px_per_mm * float(np.hypot(scatter, OF_FILM))


def own_scales(films: Sequence[FilmOfFrame], shrinks: Sequence[float]) -> tuple[float, ...]:
    """Each frame's scale as a share of the roll's, by its perforations: 1 unless it lies further off than `OTHER`."""
    pitches = np.array(
        [f.holes.pitch * s if f.holes and f.holes.pitch else np.nan for f, s in zip(films, shrinks)]
    )
    if np.isfinite(pitches).sum() < 3:
        return (1.0,) * len(films)
    shares = pitches / np.nanmedian(pitches)
    return tuple(float(share) if abs(share - 1) > OTHER else 1.0 for share in shares)


def scanned_otherwise(
    files: Sequence[str], scales: Sequence[float], px_per_mm: float | None
) -> tuple[Finding, ...]:
    """A note for every frame that was scanned at another scale than the roll."""
    of_roll = f"{px_per_mm:.1f} px/mm, as the roll" if px_per_mm else "the roll's perforation pitch"
    return tuple(
        Finding(
            "another-scale", "note", file, "scanned at another scale than the roll's other frames: its places along the film are counted at its own",
            of_roll, f"{px_per_mm * scale:.1f} px/mm" if px_per_mm else f"{scale:.2f} of it",
            "scan it again as the others, or its marks' sizes and its grain do not compare",
        )
        for file, scale in zip(files, scales)
        if scale != 1.0
    )  # fmt: skip


def perforated_edge(films: Sequence[FilmOfFrame]) -> Literal["top", "bottom", "both"] | None:
    """The edge at which most frames show holes; None when none does."""
    seen = Counter(film.holes.edge for film in films if film.holes)
    return seen.most_common(1)[0][0] if seen else None


def geometry(
    gauge: str | None,
    frame_pitch: float | None,
    perf_pitch: float | None,
    px_per_mm: float | None,
    pitch_px: float | None,
) -> tuple[Geometry, tuple[Finding, ...]]:
    """Frame pitch, perforation pitch and scale, each from the best there is; a missing scale stays None.

    Scale: as given; else perforation pitch in pixels over its length; else unknown.
    """  # fmt: skip
    known = GAUGES.get(gauge or "")
    frame_mm = frame_pitch or (known.frame_pitch_mm if known else None)
    perf_mm = perf_pitch or (known.perf_pitch_mm if known else None)
    said = ["frame pitch given" if frame_pitch else f"frame pitch of {gauge}" if known else ""]
    scale, findings = px_per_mm, list[Finding]()
    if px_per_mm:
        said.append("scale given")
        findings += _disagreement(px_per_mm, pitch_px, perf_mm)
    elif pitch_px and perf_mm:
        scale = pitch_px / perf_mm
        said.append("scale from the perforations' pitch")
    return Geometry(
        frame_mm, perf_mm, scale, "; ".join(word for word in said if word) or "nothing given"
    ), tuple(findings)


def _disagreement(px_per_mm: float, pitch_px: float | None, perf_mm: float | None) -> list[Finding]:
    if not pitch_px or not perf_mm:
        return []
    measured = pitch_px / perf_mm
    if abs(measured / px_per_mm - 1) < 0.02:
        return []
    return [
        Finding("scale-disagrees", "warning", "roll", "the scale given and the perforations' pitch disagree; the one given is used",
                f"{measured:.2f} px/mm by the perforations", f"{px_per_mm:.2f} px/mm given")
    ]  # fmt: skip
