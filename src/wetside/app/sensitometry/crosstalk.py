"""A calibration as printing takes it: the matrix before the layers' curves, what is said of it, and what it must not be used for.

The matrix works on density above base, so its offset plays no part, and no open gate is needed; without one nobody can say
whether the light is still that of the calibration, and that is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from wetside.app.sensitometry.calibrate import fit_json, profile_of
from wetside.figures.finding import Finding, Unusable
from wetside.figures.scan import Scan
from wetside.stages.negative.measured.calibration import BEYOND, Profile, light_level, light_moved

#: Share of the pictures beyond the calibrated patches from which it is said.
SEEN = 0.01


def refuse_layers(by: Profile | None, door: str) -> None:
    """Unusable for the exchange door with a calibration to the layers, since it is made for the densities that a print sees."""
    if by is not None and not fits(by, door):
        raise Unusable(
            f"the calibration {by.name!r} takes the film's layers apart; the exchange door needs the density that a print sees: expected one "
            "to status M, or the door own or fitted", "--calibration",
        )  # fmt: skip


def fits(by: Profile, door: str) -> bool:
    """Whether a calibration serves a door."""
    return door != "exchange" or by.aim == "status M"


def calibration_told(by: Profile | None) -> dict[str, Any] | None:
    """What is kept of a calibration with a roll's transform; `calibration_kept` reads it back."""
    if by is None:
        return None
    level = by.level.as_json() if by.level else None
    return {"name": by.name, "source": by.source, "aim": by.aim, "level": level, "fit": fit_json(by.fit)}


def calibration_kept(told: dict[str, Any] | None) -> Profile | None:
    """The calibration that a roll was read with."""
    return None if told is None else profile_of(told, str(told["name"]), str(told["source"]))


def calibration_sheet(told: dict[str, Any] | None) -> dict[str, Any] | None:
    """What `positive.json` says of it: name, aim, matrix (3 × 3), its check r g b [D], how many patches."""
    if told is None:
        return None
    fit = told["fit"]
    return {
        "name": told["name"], "source": told["source"], "aim": told["aim"], "matrix": fit["matrix"],
        "check": dict(zip("rgb", fit["check"])), "patches": fit["patches"], "say": calibration_say(told),
    }  # fmt: skip


def calibration_say(told: dict[str, Any]) -> str:
    """One line on a calibration."""
    to = "the film's own layers" if told["aim"] == "layers" else "status M"
    fit = told["fit"]
    return f"“{told['name']}”, to {to}, from {fit['patches']} patches, each within {max(fit['check']):.3f} D when left out of the fit"


def calibration_words(
    by: Profile, open_gate: Scan | None, pieces: Sequence[np.ndarray], base: np.ndarray
) -> list[Finding]:
    """What speaks against a calibration on this roll: another light, and pictures (h, w, 3) above base [D] denser than its patches."""
    now = light_level(open_gate)[0] if open_gate else None
    found = list(light_moved(now, by.level, by.name))
    if now is None:
        say = f"no open gate: whether the light is still that of the calibration {by.name!r} cannot be said"
        found.append(Finding("light-not-seen", "note", "roll", say, "an open gate beside the scans"))
    highest = by.fit.highest - (base if by.aim == "status M" else 0.0) + BEYOND
    share = float(np.mean([(piece > highest).any(axis=2).mean() for piece in pieces]))
    if share > SEEN:
        say = f"{share:.0%} of the pictures is denser than any patch of the calibration {by.name!r}: its matrix is carried on there, not checked"
        found.append(Finding("beyond-calibration", "note", "roll", say, "denser patches in the calibration"))
    return found
