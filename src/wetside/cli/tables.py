"""Readings as plain text for people: short tables, unknown figures as a dash."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

TYPE_CHECKING = False
if TYPE_CHECKING:
    from wetside.figures.channels import RGB
    from wetside.figures.place import Rectangle
    from wetside.figures.reading import Mark, RollReading


def triple(values: Sequence[float] | None, signed: bool = False) -> str:
    """Three densities, or dashes."""
    if values is None:
        return "–      –      –"
    return "  ".join(f"{value:+.3f}" if signed else f"{value:.3f}" for value in values)


def upward(spread: RGB | None) -> Sequence[float] | None:
    """A spread to a thousandth, rounded away from nothing."""
    if spread is None or any(math.isnan(value) for value in spread):
        return None
    return [math.ceil(value * 1000 - 1e-6) / 1000 for value in spread]


def reading_table(reading: RollReading) -> str:
    """What `wetside read` prints."""
    lines = [f"rung {reading.rung}: {'; '.join(reading.reasons)}", f"density: {reading.density}"]
    if reading.base:
        base = reading.base
        lines.append(
            f"base r g b   {triple(base.density)}   ± {triple(upward(base.spread))}   from the {base.where}"
        )
    size = reading.geometry
    lines.append(
        f"scale {dash(size.px_per_mm)}{with_spread(size.px_per_mm_spread)} px/mm   frame pitch {dash(size.frame_pitch_mm)}{with_spread(size.frame_pitch_spread_mm)} mm   ({size.source})"
    )
    lines += [
        f"patch {p.file} {tuple(p.box)}   {triple(p.density)}   ± {triple(upward(p.spread))}"
        for p in reading.patches
    ]
    lines += frames_table(reading)
    lines.append(
        f"cast: {reading.cast.kind or 'none found'}   {triple(reading.cast.peak, True) if reading.cast.found else ''}   {reading.cast.basis}"
    )
    lines.append(f"pattern: {reading.pattern.answer}   {reading.pattern.reason}")
    lines += findings_lines([f.as_json() for f in reading.findings])
    return "\n".join(line.rstrip() for line in lines)


def findings_lines(findings: Sequence[Mapping[str, object]]) -> list[str]:
    """One line a finding, what is said alike of several files once."""
    from wetside.figures.finding import gathered

    return [
        f"{f['severity']}: {f['say']}" + (f" ({f['more']})" if f["more"] else "") for f in gathered(findings)
    ]


def frames_table(reading: RollReading) -> Sequence[str]:
    """One line a frame, and one a mark and a place to look at below it."""

    def known(mark: Mark) -> RGB | None:
        return mark.delta if reading.rung else None

    lines = []
    for frame in reading.frames:
        if not frame.in_full:
            continue
        x, y, w, h = frame.picture
        lines.append(f"{frame.file:<28} picture {w} × {h} at {x}, {y}   {len(frame.marks)} marks")
        for mark in frame.marks:
            place = f"{mark.film_mm:.1f} mm" if mark.film_mm is not None else "place unknown"
            lines.append(f"    {mark.kind:<7}{place:>14}   {triple(known(mark), True)}   {mark.edge}")
        for one in frame.perhaps:
            lines.append(f"    perhaps {_box(one.box)}   {triple(known(one), True)}   look there")
    if others := sum(not frame.in_full for frame in reading.frames):
        lines.append(f"and {others} frames of which exposure and base were measured")
    return lines


def _box(box: Rectangle) -> str:
    return f"{box.w} × {box.h} at {box.x}, {box.y}"


def with_spread(value: float | None) -> str:
    """ " ± 0.02", or nothing."""
    return "" if value is None else f" ± {value:.2f}"


def dash(value: float | None) -> str:
    """A number, or a dash."""
    return "–" if value is None else f"{value:.2f}"
