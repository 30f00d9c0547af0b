"""Film as a length: widths, perforations, frames and default pitches of the four gauges this tool reads.

`source` stands behind the perforations' pitch of 16 and 35 mm film (SMPTE) and behind 110's width, frame and one hole a frame
(ISO 3029). From memory: the other widths, the sizes and edges of holes, the frames of 16 mm, and 110's pitch (25.3 to 25.4 mm).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Gauge:
    """One gauge. All lengths in mm; `frame_pitch_mm` and `perf_pitch_mm` are defaults and can be overridden."""

    name: str
    film_width_mm: float
    perf_pitch_mm: float
    perf_along_mm: float
    perf_across_mm: float
    perf_edge_mm: float
    both_edges: bool
    frame_along_mm: float
    frame_across_mm: float
    frame_pitch_mm: float
    source: str


GAUGES: dict[str, Gauge] = {
    gauge.name: gauge
    for gauge in (
        Gauge("16cine", 15.95, 7.605, 1.270, 1.829, 0.90, False, 7.49, 10.26, 7.605, "smpte-perforation"),
        Gauge("16still", 15.95, 7.605, 1.270, 1.829, 0.90, False, 14.0, 10.0, 15.21, "smpte-perforation"),
        Gauge("110", 16.0, 25.35, 1.270, 1.829, 0.90, False, 17.0, 13.0, 25.35, "iso-3029"),
        Gauge("135", 34.975, 4.750, 1.98, 2.79, 2.01, True, 36.0, 24.0, 38.0, "smpte-perforation"),
    )
}


def area_m2(gauge: Gauge, length_mm: float) -> float:
    """Film area [m²] that chemistry sees: width × length."""
    return gauge.film_width_mm * length_mm / 1e6
