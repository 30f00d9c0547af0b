"""How to make home control strips: what to expose, how to age, freeze and cut it, and how many there will be.

A home strip is one even frame of a six-step grey scale; a batch is one roll of such frames, all exposed alike. The
latent image changes most in its first two days, so it is aged two days and then frozen (storage chapters of the
maker's handbook, published). Where no source is named a line is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

from wetside.laws.reel.gauges import Gauge

AGED_DAYS = 2
FREEZER_C = -18
WARM_UP_HOURS = {"16still": "1 to 1½", "16cine": "1 to 1½", "110": "1 to 1½", "135": "3 to 5"}
REFERENCES = 3
LEADER_MM = 250.0
FRAMES_A_STRIP = 2


@dataclass(frozen=True)
class MakingSheet:
    """Strips wanted and references, frames to expose, length of a strip and of film [mm], and the steps in order."""

    gauge: str
    strips: int
    frames: int
    strip_mm: float
    film_mm: float
    steps: tuple[tuple[str, str], ...]


def making_sheet(gauge: Gauge, strips: int) -> MakingSheet:
    """The sheet for a number of strips; two frames a strip, so that a cut through one leaves the other whole."""
    frames = strips * FRAMES_A_STRIP
    strip_mm = FRAMES_A_STRIP * gauge.frame_pitch_mm
    return MakingSheet(
        gauge.name,
        strips,
        frames,
        strip_mm,
        frames * gauge.frame_pitch_mm + LEADER_MM,
        _steps(gauge, strips, frames, strip_mm),
    )


def _steps(gauge: Gauge, strips: int, frames: int, strip_mm: float) -> tuple[tuple[str, str], ...]:
    return (
        ("Set up", "A six-step grey scale, evenly lit by one lamp that has burned ten minutes; camera on a tripod, no metering between frames, one shutter time not shorter than 1/60 s."),
        ("Expose", f"{frames} frames alike, the middle step as the meter says. {FRAMES_A_STRIP} frames make a strip. Leave the last frame blank with the lens capped: it is the batch's D-min."),
        ("Age", f"{AGED_DAYS} days at room temperature in the can: the latent image changes most in its first two days."),
        ("Cut", f"In the dark, against a gauge of {strip_mm:.0f} mm cut from card: {strips} strips. Notch the end that was exposed first; keep the pieces in order."),
        ("Freeze", f"Each strip in foil, all in one bag with the air pressed out, dated, at −{-FREEZER_C} °C or colder. Note the batch in the book."),
        ("Set the aim", f"Run {REFERENCES} strips with runs that you trust, one of them through a laboratory if you can. Their mean is the aim."),
        ("Use one", f"Take it out {WARM_UP_HOURS[gauge.name]} h before, unopened. It goes into the tank with the roll, in the same turn of the reel each time."),
        ("Read it", "Scan it with the open gate at the same exposure, and read the same steps each time: on the glass an area round the steps, or wetside strip FILE --batch NAME --run RUN."),
        ("Change over", f"When {REFERENCES} strips are left, make the next batch and run one of each together {REFERENCES} times, so that the new aim stands on the old."),
    )  # fmt: skip
