"""Whether few marks lie at one place of the picture in frames that differ: dirt or light that stays with the frame.

Which question: do marks of three frames and more lie so near to one another in the picture that chance hardly does it? Places along
the film alone need eight marks for a repeat; a place along and across the picture is so much rarer that three tell. What lies
along an edge does so for reasons of its own, so chance is reckoned as if marks lay on a third of the picture.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.special import bdtrc

from wetside.figures.reading import FrameReading, Mark

#: How near marks must lie along and across, in parts of the picture; fewest frames; the chance under which it is no chance.
NEAR, FEWEST, LEVEL = 0.03, 3, 0.003
#: Share of the picture on which marks are taken to lie (judged: edges and middles have more).
CROWDED = 1 / 3


def marks_of(frames: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Marks of frames as `wetside.read/1` gives them, each with its `frame` (a number) and its place `along` and `down` the picture."""
    found = []
    for number, frame in enumerate(frames):
        x, y, w, h = (float(frame["picture"][key]) for key in "xywh")
        for mark in frame["marks"]:
            place = {
                "along": (mark["x"] + mark["w"] / 2 - x) / max(w, 1),
                "down": (mark["y"] + mark["h"] / 2 - y) / max(h, 1),
            }
            found.append({**mark, "frame": number, **place})
    return found


def at_one_place(marks: Sequence[Mapping[str, Any]]) -> int:
    """In how many frames marks lie at one place of the picture; 0 where that is few or chance may do it, or places are not told.

    Marks of unexposed film do not count: holes, holder and the light's fall-off lie at one place beside every picture.
    """
    told = [one for one in marks if {"frame", "along", "down"} <= one.keys()]
    known = [one for one in told if not one.get("in_rebate") and 0 <= one["down"] <= 1]
    if len(known) < FEWEST:
        return 0
    at = np.array([[one["along"], one["down"]] for one in known])
    frame = np.array([one["frame"] for one in known])
    near = (np.abs(at[:, None] - at[None]) <= NEAR).all(axis=2)
    most = max(len(set(frame[own])) for own in near)
    by_chance = len(known) * float(bdtrc(most - 2, len(known) - 1, (2 * NEAR) ** 2 / CROWDED))
    return most if most >= FEWEST and by_chance < LEVEL else 0


def without_the_lights(frames: Sequence[FrameReading]) -> list[FrameReading]:
    """The frames without thin marks of the unexposed film that lie at one place beside most pictures.

    Nothing makes unexposed film thinner at one place of every frame, so that is the light's or the holder's.
    """
    thin = [[mark for mark in frame.marks if mark.in_rebate and sum(mark.delta) < 0] for frame in frames]

    def beside_most(frame: FrameReading, mark: Mark) -> bool:
        at = _beside(frame, mark)
        alike = [
            any(np.abs(_beside(other, m) - at).max() <= NEAR for m in own) for other, own in zip(frames, thin)
        ]
        return sum(alike) >= FEWEST and sum(alike) > len(frames) / 2

    return [
        replace(frame, marks=tuple(m for m in frame.marks if m not in own or not beside_most(frame, m)))
        for frame, own in zip(frames, thin)
    ]


def _beside(frame: FrameReading, mark: Mark) -> np.ndarray:
    """Place of a mark (2,) along and down from its picture's corner, in parts of the picture."""
    x, y = mark.box.centre
    return np.array([(x - frame.picture.x) / frame.picture.w, (y - frame.picture.y) / frame.picture.h])
