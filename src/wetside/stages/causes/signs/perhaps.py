"""Places that may be marks: measured, too unlikely to be claimed, likely enough that the user looks there.

Which question: where should one look? A frame's search hands on what it measured; the whole roll says what of it is claimed
(`beside_roll`), and of the rest the worthiest are few enough to look at one by one. They count for nothing until the user says
that one is a mark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading, Mark
from wetside.stages.causes.signs.candidates import overlap

#: A frame's search hands on so many places at the most, of at least this chance.
HANDED_ON, LEAST = 6, 0.1
#: Chance beside the roll from which a place is named; most a frame and a roll: set on photographs of neither fit nor study
#: (docs/studies.md).
WORTH, A_FRAME, A_ROLL = 0.1, 3, 12
#: Share of the smaller of two boxes from which they are one place.
SHARED = 0.2


class Searched(NamedTuple):
    """What a frame's search found: `marks` that stand for themselves, and the places that may be marks, likeliest first."""

    marks: tuple[Mark, ...] = ()
    perhaps: tuple[Mark, ...] = ()


def best_of_roll(frames: Sequence[FrameReading]) -> tuple[FrameReading, ...]:
    """The frames with the likeliest places of the roll left, and none where a mark was found after all."""
    free = [_likeliest(frame) for frame in frames]
    best = sorted((one for own in free for one in own), key=lambda one: -(one.chance or 0.0))
    named = {id(one) for one in best[:A_ROLL]}
    return tuple(
        replace(frame, perhaps=tuple(one for one in own if id(one) in named))
        for frame, own in zip(frames, free)
    )


def _likeliest(frame: FrameReading) -> list[Mark]:
    marked = [mark.box for mark in frame.marks]
    free = [one for one in frame.perhaps if (one.chance or 0.0) > WORTH and apart_from(one.box, marked)]
    return sorted(free, key=lambda one: -(one.chance or 0.0))[:A_FRAME]


def apart_from(box: Rectangle, others: Sequence[Rectangle]) -> bool:
    """Whether a box lies at another place than all others."""
    return all(overlap(box, other) < SHARED for other in others)
