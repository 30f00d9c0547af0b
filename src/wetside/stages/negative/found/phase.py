"""Where a roll's perforations lie to its pictures, and which frames have it the other way round.

Answers, for film perforated on both sides: which frames were scanned turned half round or emulsion down? A camera's sprocket
stops at one place of the perforations, so every frame of it has the same phase; seen from the other end, or from behind, the
phase is the opposite. Says nothing where the phase is near its own opposite, or differs from frame to frame.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wetside.figures.finding import Finding
from wetside.stages.negative.found.geometry import perforated_edge
from wetside.stages.negative.found.shown import FilmOfFrame

#: Phases [shares of the pitch] this near are alike; a roll's lies this far from its opposite before a frame is called turned.
ALIKE, TELLS = 0.06, 0.2
#: Frames that must show their phase, and the share of them that must have the roll's.
FEWEST, MOST_ALIKE = 4, 0.6


def phase(film: FilmOfFrame) -> float | None:
    """How far the nearest hole lies to the right of the picture's middle, in shares of the pitch from 0 to 1; None where the frame
    shows no edge of its own or fewer than three holes."""
    if not film.seen or film.holes is None or not film.holes.pitch or len(film.holes.centres) < 3:
        return None
    away = (np.array(film.holes.centres) - (film.edges[0] + film.edges[2]) / 2) / film.holes.pitch
    return float(np.angle(np.exp(2j * np.pi * away).mean()) / (2 * np.pi) % 1)


def _apart(a: np.ndarray | float, b: float) -> np.ndarray:
    """Distance of phases on their circle, 0 to 0.5."""
    return np.abs((np.asarray(a) - b + 0.5) % 1 - 0.5)


def phase_of_roll(phases: Sequence[float | None]) -> float | None:
    """The phase that most frames have; None where too few show one or they differ."""
    known = np.array([value for value in phases if value is not None])
    if len(known) < FEWEST:
        return None
    near = [_apart(known, value) <= ALIKE for value in known]
    most = max(near, key=lambda alike: int(alike.sum()))
    if most.mean() < MOST_ALIKE:
        return None
    return float(np.angle(np.exp(2j * np.pi * known[most]).mean()) / (2 * np.pi) % 1)


def turned_by_phase(files: Sequence[str], films: Sequence[FilmOfFrame]) -> tuple[Finding, ...]:
    """One finding a frame whose perforations lie to its picture as the roll's would in a mirror."""
    phases = [phase(film) for film in films]
    usual = phase_of_roll(phases) if perforated_edge(films) == "both" else None
    if usual is None or _apart(usual, -usual % 1) < TELLS:
        return ()
    return tuple(
        Finding(
            "turned", "warning", file, "its perforations lie to the picture as the roll's would in a mirror: turned half round, or emulsion down",
            f"a hole {usual:.2f} of a pitch right of the picture's middle", f"{seen:.2f} of a pitch", "scan this frame again the same way round",
        )
        for file, seen in zip(files, phases)
        if seen is not None and _apart(seen, -usual % 1) <= ALIKE
    )  # fmt: skip
