"""What a place on one frame is worth beside what the rest of the roll shows.

Theory. One cause marks a roll in many places, and what it leaves is alike: of one sign, in the same layers, of like
sharpness. Mistakes come a few a roll, and no two are of a kind. So how often a roll is marked and how like the others a
place is add to what the search itself says of it, in log-odds. The weights are those of a logistic fit on rolls of
photographs that no net saw, marked as one cause marks them or not at all (`benchmarks/beside_roll.py`); a frame alone is a roll of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wetside.figures.reading import FrameReading, Mark
from wetside.stages.causes.signs.perhaps import Searched

#: Chance from which a place counts as a mark: set on photographs of neither fit nor study (docs/studies.md).
TAKEN = 0.4
#: Weights of the search's own log-odds, of how often the roll is marked (natural log), of likeness (natural log); constant.
WEIGHTS = np.array([1.00, 1.99, 1.45, -1.09])
#: A place counts towards the others by the search's own chance, from this on.
COUNTED = 0.5
#: Marks a frame before any was seen, of as many frames as one; no roll is taken for marked more seldom (natural log).
BEFORE, SELDOM = 0.35, -2.2
#: How far colours of one cause's marks lie apart (ΔD over its strongest layer), and how much alike any two marks are by chance.
COLOUR, ANY = 0.3, 0.15
#: So much more or less alike are marks whose edges are of one sort or not.
EDGE = 0.3
#: As many marks of which nothing is known count beside the roll's own; likeness is worth no more than this (natural log).
UNKNOWN, ALIKE = 3.0, 2.0
#: The search's own chance counts within these.
LEAST, MOST = 0.001, 0.998


def with_claims(frames: Sequence[FrameReading]) -> list[FrameReading]:
    """The frames with those of their places (`perhaps`) among the marks that are likely beside all marks and places of the roll.

    A mark keeps the search's own chance; a place that is left gets its chance beside the roll.
    """
    seen = claimed([Searched(frame.marks, frame.perhaps) for frame in frames])
    return [
        replace(frame, marks=own.marks, perhaps=own.perhaps) for frame, own in zip(frames, seen, strict=True)
    ]


def claimed_alone(seen: Searched) -> Searched:
    """The same of a frame of which nothing else is known."""
    return claimed([seen])[0]


def claimed(roll: Sequence[Searched]) -> list[Searched]:
    """The same of what the searches of a roll's frames found."""
    return [_claimed(seen, own) for seen, own in zip(roll, chances_beside_roll(roll), strict=True)]


def _claimed(seen: Searched, chances: np.ndarray) -> Searched:
    pairs = list(zip(seen.perhaps, chances.tolist(), strict=True))
    left = [replace(place, chance=round(chance, 3)) for place, chance in pairs if chance <= TAKEN]
    return Searched((*seen.marks, *(place for place, chance in pairs if chance > TAKEN)), tuple(left))


def chances_beside_roll(roll: Sequence[Searched]) -> list[np.ndarray]:
    """For each frame the chances (n,) that its places are marks, from those of all frames and the marks that stand for themselves."""
    if not roll:
        return []
    chances = 1 / (1 + np.exp(-signs_beside_roll(roll) @ WEIGHTS))
    return np.split(chances, np.cumsum([len(seen.perhaps) for seen in roll])[:-1])


def signs_beside_roll(roll: Sequence[Searched]) -> np.ndarray:
    """What speaks for each place of a roll, (n, 4) in the order of `WEIGHTS`."""
    asked = [place for seen in roll for place in seen.perhaps]
    everything = [*asked, *(mark for seen in roll for mark in seen.marks if any(mark.delta))]
    if not asked:
        return np.zeros((0, len(WEIGHTS)))
    own = np.array([1.0 if mark.chance is None else mark.chance for mark in everything]).clip(LEAST, MOST)
    counted = np.where(own >= COUNTED, own, 0.0)
    others = counted.sum() - counted[: len(asked)]
    often = np.maximum(np.log((others + BEFORE) / len(roll)), SELDOM)
    like = (_likeness(everything)[: len(asked)] @ counted + UNKNOWN * ANY) / (others + UNKNOWN) / ANY
    odds = np.log(own / (1 - own))[: len(asked)]
    return np.stack([odds, often, np.log(like).clip(-ALIKE, ALIKE), np.ones(len(asked))], axis=1)


def _likeness(marks: Sequence[Mark]) -> np.ndarray:
    """How alike each two marks (n, n) are, about 1 where they are of one kind; 0 for a mark and itself."""
    delta = np.array([mark.delta for mark in marks], float)
    colour = delta / np.abs(delta).max(axis=1, keepdims=True)
    apart = ((colour[:, None] - colour[None]) ** 2).sum(axis=2) / COLOUR**2
    soft = np.array([mark.edge == "soft" for mark in marks])
    alike = np.exp(-0.5 * apart) * np.where(soft[:, None] == soft[None], 1 + EDGE, 1 - EDGE)
    np.fill_diagonal(alike, 0)
    return np.asarray(alike)
