"""Where marks lay on a reel: the reel on which they gather best, and the pattern that goes with it."""

from __future__ import annotations

from dataclasses import dataclass

from wetside.figures.reading import Pattern


@dataclass(frozen=True, slots=True)
class ReelFit:
    """The reel on which marks gather best: core radius and groove pitch [mm], and their angle on it [rad]."""

    core_radius_mm: float
    pitch_mm: float
    angle: float

    def as_json(self) -> dict[str, object]:
        return {
            "core_radius_mm": round(self.core_radius_mm, 2),
            "pitch_mm": round(self.pitch_mm, 3),
            "angle": round(self.angle, 2),
        }


@dataclass(frozen=True, slots=True)
class ReelPattern(Pattern):
    """A pattern with the fitted reel, where the marks gather at one angle of one."""

    fit: ReelFit | None = None

    def as_json(self) -> dict[str, object]:
        return {**Pattern.as_json(self), "fit": self.fit.as_json() if self.fit else None}
