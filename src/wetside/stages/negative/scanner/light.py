"""Whether the open gate shows the light that the film was scanned with: bare light through a perforation reads 0 D."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from wetside.figures.channels import RGB
from wetside.figures.finding import Finding

#: How far bare light may read from 0 D. Flare into a perforation moves it by 0.01–0.02 D (common practice).
AGREES = 0.03
#: Frames that show bare light above and below, at the least, before its lean is said.
LEANING = 3
#: How far it may read apart: as much as flare into perforations moves it (common practice).
LEANS = 0.02
#: One standard deviation [D] of a light's fall-off between rebate and picture that nothing shows: 7 % (common practice).
UNTOLD = 0.03


def light_agrees(bare: Sequence[RGB], base: RGB | None = None) -> tuple[Finding, ...]:
    """One finding when bare light [D against the open gate] is not 0, or film is thinner than no film.

    Nothing where no perforation is in view that is not clipped and the base [D] is one that film can have.
    """
    if base is not None and min(base) < -AGREES:
        return (_thinner_than_light(base),)
    if len(bare) < 2:
        return ()
    level = np.median(np.array(bare), axis=0)
    if np.abs(level).max() <= AGREES:
        return ()
    alike = float(np.ptp(level)) < AGREES
    say = (
        "the open gate was scanned with another exposure than the film: camera densities are off by it in all layers"
        if alike
        else "the open gate shows another light than the film was scanned with: camera densities are off, layer by layer"
    )
    return (
        Finding(
            "light-differs", "warning", "open gate", say, "0.00 D through a perforation",
            " ".join(f"{c} {v:+.2f}" for c, v in zip("rgb", level)) + " D",
            "scan the open gate again with the film's light and exposure, or give --exposure-ratio",
        ),
    )  # fmt: skip


def light_leans(sides: Sequence[Mapping[str, RGB]]) -> tuple[Finding, ...]:
    """One finding when bare light above and below the pictures [D against the open gate, a frame] is not alike.

    Frames count that show both; under three of them nothing is said.
    """
    apart = np.array(
        [np.subtract(one["top"], one["bottom"]) for one in sides if {"top", "bottom"} <= set(one)]
    )
    if len(apart) < LEANING:
        return ()
    lean = np.median(apart, axis=0)
    if np.abs(lean).max() <= LEANS:
        return ()
    return (
        Finding(
            "light-leans", "warning", "open gate",
            "the open gate's light falls off another way than the film's: through the perforations above and below the pictures it is not the same share of it, so densities drift across the film by as much, and a cast of that size is the light's",
            f"within {LEANS} D of one another", "above less below " + " ".join(f"{c} {v:+.2f}" for c, v in zip("rgb", lean)) + " D",
            "scan the open gate again with the light and the holder as they were for the film; or leave it out, and the rebate tells the light",
        ),
    )  # fmt: skip


def _thinner_than_light(base: RGB) -> Finding:
    return Finding(
        "base-thinner-than-light", "error", "roll",
        "the base reads thinner than the light without film, which no film is: the scans have more exposure than their open gate, and may be clipped to white",
        "a base over 0 D", " ".join(f"{c} {v:+.2f}" for c, v in zip("rgb", base)) + " D",
        "scan film and open gate at one exposure, the rebate at three quarters of full scale; or give --exposure-ratio",
    )  # fmt: skip


def light_untold(spread: float) -> tuple[Finding, ...]:
    """A note that the light over the pictures is not known; `spread` [D] is what it adds to a patch."""
    return (
        Finding(
            "light-untold", "note", "roll",
            f"without an open gate, and with rebate on one side alone, the light's fall-off across the film cannot be told; it is taken as round about the middle, and {spread} D is added to the spread of every patch",
            "an open gate, or rebate on two opposite sides, or one frame scanned again turned half round, in the folder again", "none", "common practice",
        ),
    )  # fmt: skip
