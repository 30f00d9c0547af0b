"""How a roll's frames lie along the film: lengths from the best there is, and each frame's place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wetside.app.reading.along import holes_by_file, lying
from wetside.app.reading.loaded import Loaded
from wetside.app.reading.read_options import ReadOptions
from wetside.figures.finding import Finding
from wetside.figures.reading import FrameReading, Geometry, Pattern
from wetside.laws.reel.gauges import GAUGES
from wetside.stages.causes.signs.film import Lie
from wetside.stages.causes.signs.pattern import Strip, pattern
from wetside.stages.negative.found.advance import with_advance
from wetside.stages.negative.found.film_findings import lies_otherwise
from wetside.stages.negative.found.geometry import (
    geometry,
    own_scales,
    perforated_edge,
    perforation_pitch_px,
    pitch_over_lengths,
    scale_spread,
    scanned_otherwise,
)
from wetside.stages.negative.found.phase import turned_by_phase
from wetside.stages.negative.found.shown import FilmOfRoll


@dataclass(frozen=True)
class Laid:
    """Lengths along the film, how scans lie on it, and what was noticed on the way."""

    lengths: Geometry
    lie: Lie
    numbers: Sequence[int]
    findings: tuple[Finding, ...]
    scales: tuple[float, ...]

    def of(self, index: int) -> tuple[int, Lie]:
        """A frame's number and lie; where frames lie unevenly, as the first frame of its own measured start."""
        lie = self.lie
        if self.scales[index] != 1.0 and lie.px_per_mm:
            lie = replace(lie, px_per_mm=lie.px_per_mm * self.scales[index])
        if not self.lengths.starts_mm:
            return self.numbers[index], lie
        return 1, replace(lie, first_frame_mm=lie.first_frame_mm + self.lengths.starts_mm[index])


def laid(loaded: Loaded, film: FilmOfRoll, options: ReadOptions) -> Laid:
    """Scale and pitches: as given, by the perforations of a frame, by those along a length, or of the gauge."""
    lengths, found = _scaled(loaded, film, options)
    pitch_given = options.frame_pitch is not None
    lengths, uneven = with_advance(lengths, lying(loaded.frames, loaded.scans, film), pitch_given)
    lengths = replace(lengths, perf_edge=perforated_edge(film.frames))
    lie = Lie(options.first_frame_mm, lengths.frame_pitch_mm, lengths.px_per_mm, options.from_right)
    otherwise = _lies_otherwise(lengths, options, len(film.frames))
    scales = own_scales(film.frames, [frame.shrink for frame in loaded.frames])
    files = [frame.file for frame in loaded.frames]
    odd = scanned_otherwise(files, scales, lengths.px_per_mm)
    otherwise = (*otherwise, *turned_by_phase(files, film.frames))
    return Laid(lengths, lie, loaded.numbers, (*found, *uneven, *otherwise, *odd), scales)


def _scaled(loaded: Loaded, film: FilmOfRoll, options: ReadOptions) -> tuple[Geometry, tuple[Finding, ...]]:
    shrinks = [frame.shrink for frame in loaded.frames]
    in_frames = perforation_pitch_px(film.frames, shrinks)
    over = None if in_frames else pitch_over_lengths(holes_by_file(loaded.frames, loaded.scans, film))
    pitch_px = in_frames or (over and over[0])
    lengths, found = geometry(
        options.gauge, options.frame_pitch, options.perf_pitch, options.px_per_mm, pitch_px
    )
    scale, spread = lengths.px_per_mm, None
    if scale and not options.px_per_mm:
        spread = scale * over[1] / over[0] if over else scale_spread(film.frames, shrinks, scale)
    return replace(lengths, px_per_mm_spread=spread), found


def _lies_otherwise(lengths: Geometry, options: ReadOptions, frames: int) -> tuple[Finding, ...]:
    """Whether the perforations speak against how the roll's scans are said to lie."""
    gauge = GAUGES.get(options.gauge or "")
    head = "left" if options.head == "right" else "right"
    one_sided = gauge is not None and not gauge.both_edges
    return lies_otherwise(lengths.perf_edge, options.perf, head, one_sided, frames)


def pattern_of(frames: Sequence[FrameReading], on: Laid, options: ReadOptions) -> Pattern:
    """Whether the marks' places along the film repeat."""
    placed = [mark for frame in frames for mark in frame.marks if mark.film_mm is not None]
    places = [mark.film_mm for mark in placed if mark.film_mm is not None]
    gauge = GAUGES.get(options.gauge or "")
    pitch, scale = on.lie.frame_pitch_mm or 1.0, on.lie.px_per_mm
    picture = float(np.median([frame.picture.w for frame in frames])) / scale if scale else pitch
    perf = options.perf_pitch or (gauge.perf_pitch_mm if gauge else None)
    strip = Strip(options.first_frame_mm, pitch, min(picture, pitch), frames[-1].number, perf, None, 0.3)
    return pattern(places, strip, options.reel, np.random.default_rng(20), [mark.across for mark in placed])
