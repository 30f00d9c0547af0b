"""What a roll's densities stand on beside the scan itself: enough to read a further spot as the roll's reading would."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wetside.figures.channels import RGB


@dataclass(frozen=True, slots=True)
class Footing:
    """`light` [D]: how much the light changes from scan to scan, and what shows it. `noise`: the scanner's two figures
    and the film's grain; None where the scans do not tell. `surface`: the light's fall-off as the rebate shows it, as
    the stage that fits it wrote it down; None with an open gate. `calibration`: the one that the reading went through.
    `turned`: the light's gradient as a frame turned half round shows it: density [D] gained from left to right and from
    top to bottom, counted from a place given as shares of the file.
    """

    light: RGB | None = None
    light_from: str = ""
    noise: Mapping[str, Any] | None = None
    surface: Mapping[str, Any] | None = None
    calibration: str | None = None
    turned: Mapping[str, Any] | None = None

    def as_json(self) -> dict[str, object]:
        return {
            "light": self.light.as_json() if self.light else None,
            "light_from": self.light_from,
            "noise": dict(self.noise) if self.noise else None,
            "surface": dict(self.surface) if self.surface else None,
            "calibration": self.calibration,
            "turned": dict(self.turned) if self.turned else None,
        }
