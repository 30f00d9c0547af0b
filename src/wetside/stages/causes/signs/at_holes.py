"""Plumes at the perforations, as liquid that surges through the holes leaves them along the picture's edge.

Which question: is density along an edge of the pictures stronger beside most holes than between them? Needs three holes a
picture, their pitch, pictures above a known base, and five pictures that differ. A hole comes again every few millimetres and
a picture does not, so the steps of the logarithm of density that most holes share are what comes with the holes (`shared`);
how far that strays by itself is told by what is left, each picture moved along its holes by a phase at random. What comes with
the holes further in as well is no plume, nor is what is thin at the holes: that is the light that they let through.
Plumes at a few holes only are no share of most: those are asked by `at_few_holes`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from wetside.figures.channels import rgb
from wetside.figures.density import DensityFrame
from wetside.figures.finding import Finding
from wetside.figures.flags import Left
from wetside.figures.place import Rectangle, touch
from wetside.figures.reading import FrameReading, Mark
from wetside.stages.causes.signs.film import Lie, placed
from wetside.stages.causes.signs.unmoved import shared

#: How near steps must lie to be one [natural log]; phases a pitch is cut into; fewest holes a picture and fewest pictures.
NEAR, PHASES, HOLES, FEWEST = 0.03, 16, 3, 5
#: The stretch along an edge that is looked at, and the one further in that must be calmer, in parts of the pitch.
ALONG, INSIDE = (0.0, 0.4), (1.0, 1.8)
#: Least first harmonic of what comes with the holes [natural log], how many strays it must stand out, how many draws tell them.
LEAST, CLEAR, DRAWS = 0.01, 3.5, 12
#: How much of it may be left further in; how near to the holes [pitches] its crest must lie where holes are seen.
LEFT_INSIDE, BESIDE = 0.5, 0.25
#: Where a plume ends, as a share of its height; share of the holes that must show it; how many of the clearest are drawn.
FOOT, OF_HOLES, MOST = 0.4, 0.4, 40
#: How sure the share that grows with density must be known, 0 where all does and 1 where none does.
PARTED = 0.3
#: The chance of a plume that most holes of a roll show (judged: none was claimed on rolls without any, docs/studies.md).
CHANCE = 0.95
#: Pictures this thin above their base [D] tell nothing.
THINNEST = 0.06


#: Of a picture's plumes the boxes (x, y, w, h) in parts of it, and ΔD (3,).
Plumes = tuple[tuple[np.ndarray, np.ndarray], ...]


@dataclass(frozen=True)
class Holes:
    """A picture above its base (h, w, 3) [D], the pitch of its holes in columns, and where one lies; None where none is seen."""

    above: np.ndarray
    pitch: float
    at: float | None


@dataclass(frozen=True)
class AtHoles:
    """What comes with the holes along one edge, the top one or the bottom one (`below`).

    `profile` (PHASES,) [natural log, mean 0] from a hole to the next; `strays` that its first harmonic stands out; the share of
    the holes that show it; how far it reaches into the picture, a share of its height; whether it grows with density, None where that is
    not told; `marks`: the clearest plumes of each picture.
    """

    profile: np.ndarray
    strays: float
    below: bool
    share: float
    reach: float
    grows: bool | None
    marks: tuple[Plumes, ...]

    @property
    def size(self) -> float:
        """How much denser beside the holes than between them [natural log]."""
        return _size(self.profile)

    def holds(self, area: np.ndarray) -> bool:
        """Whether the middle of an area (h, w) bool of a picture lies along this edge, no further in than the plumes reach."""
        down = float(np.nonzero(area)[0].mean() + 0.5) / len(area)
        return (1 - down if self.below else down) < self.reach


def hole_seen(frame: DensityFrame, left: float, cell: float, pitch: float) -> float | None:
    """Column [cells right of `left`, a pixel of `frame`] at which a hole's middle lies, of holes this pitch [cells] apart."""
    columns = ((frame.mask & int(Left.PERFORATION)) != 0).sum(axis=0).astype(float)
    if not columns.any():
        return None
    turn = np.exp(2j * np.pi * (np.arange(len(columns)) + 0.5 - left) / (cell * pitch))
    mean = complex((columns * turn).sum() / columns.sum())
    return float(np.angle(mean) / (2 * np.pi) % 1 * pitch) if abs(mean) > 0.5 else None


def edges_with_holes(frame: DensityFrame) -> tuple[bool, bool]:
    """Whether holes are seen above and below the middle of a frame's picture."""
    middle = round((frame.picture.y + frame.picture.h / 2) / frame.shrink)
    holes = (frame.mask & int(Left.PERFORATION)) != 0
    return bool(holes[:middle].any()), bool(holes[middle:].any())


def at_holes(pictures: Sequence[Holes], counts: np.ndarray) -> list[AtHoles]:
    """What comes with the holes, along either edge; `counts` (n,): how much each picture counts, those of one view once."""
    if len(pictures) < FEWEST or counts.sum() < FEWEST - 0.5:
        return []
    if any(one.above.shape[1] < (HOLES + 1) * one.pitch for one in pictures):
        return []
    seen = all(one.at is not None for one in pictures)
    own = pictures if seen else [replace(one, at=0.0) for one in pictures]
    upside_down = [replace(one, above=one.above[::-1]) for one in own]
    found = [_along(own, counts, False, seen), _along(upside_down, counts, True, seen)]
    return [one for one in found if one is not None]


def _along(pictures: Sequence[Holes], counts: np.ndarray, below: bool, seen: bool) -> AtHoles | None:
    """What comes with the holes along the pictures' top edge."""
    blocks = [_steps(one, ALONG) for one in pictures]
    profile = _profile(blocks, counts)
    if _harmonic(profile) < LEAST:
        return None
    strays = _harmonic(profile) / _straying(blocks, profile, counts)
    away = abs((_crest(profile) + 0.5) % 1 - 0.5)
    if strays < CLEAR or _size(profile) < _size(-profile) or (seen and away > BESIDE):
        return None
    if _of_it([_steps(one, INSIDE) for one in pictures], profile, counts) > LEFT_INSIDE:
        return None
    speaks = [_speaks(block, profile) for block in blocks]
    every = np.concatenate(speaks)
    share = float(np.average(every > 0, weights=np.repeat(counts, [len(own) for own in speaks])))
    if share < OF_HOLES:
        return None
    deep = _depth(pictures, profile, counts)
    bound = max(0.0, float(np.sort(every)[::-1][: MOST + 1].min()))
    marks = tuple(_marks(one, own > bound, profile, deep) for one, own in zip(pictures, speaks))
    marks = _turned(marks) if below else marks
    grows = _grows(pictures, blocks, profile, counts, strays)
    reach = deep * pictures[0].pitch / pictures[0].above.shape[0]
    return AtHoles(profile, strays, below, share, reach, grows, marks)


def _turned(marks: tuple[Plumes, ...]) -> tuple[Plumes, ...]:
    """Plumes of pictures that stand upside down, as they lie upright."""
    return tuple(
        tuple((np.array([x, 1 - y - h, w, h]), delta) for (x, y, w, h), delta in own) for own in marks
    )


def _rows(one: Holes, stretch: tuple[float, float]) -> np.ndarray:
    """Rows (n, w, 3) of a picture over a stretch [pitches] from its top edge inwards."""
    first, last = (round(part * one.pitch) for part in stretch)
    return one.above[first : max(last, first + 1)]


def _places(one: Holes) -> np.ndarray:
    """Columns of the phases of every whole pitch in a picture, the last one's end included."""
    first = (one.at or 0.0) % one.pitch
    count = int((one.above.shape[1] - 1 - first) // one.pitch)
    return first + np.arange(count * PHASES + 1) * one.pitch / PHASES


def _steps(one: Holes, stretch: tuple[float, float]) -> np.ndarray:
    """Steps (holes, rows, PHASES) of the logarithm of density from phase to phase; NaN where the picture is thin."""
    part = _rows(one, stretch)
    thin = ~(part.min(axis=2) > THINNEST)
    logs = np.where(thin, np.nan, np.log(np.maximum(part.mean(axis=2), 0.03)))
    places = _places(one)
    left = np.minimum(places.astype(int), one.above.shape[1] - 2)
    share = (places - left).astype(np.float32)
    steps = np.diff(logs[:, left] * (1 - share) + logs[:, left + 1] * share, axis=1)
    return steps.reshape(len(part), -1, PHASES).transpose(1, 0, 2)


def _profile(blocks: Sequence[np.ndarray], counts: np.ndarray) -> np.ndarray:
    """Profile (PHASES,) [natural log, mean 0] that most rows at most holes share."""
    own = np.concatenate([block.reshape(-1, PHASES) for block in blocks])
    every = np.repeat(counts, [block.shape[0] * block.shape[1] for block in blocks])
    step, _ = shared(own, every, NEAR)
    profile = np.cumsum(step - step.mean())
    return profile - profile.mean()


def _harmonic(profile: np.ndarray) -> float:
    """First harmonic of a profile [natural log]."""
    turn = np.exp(-2j * np.pi * np.arange(PHASES) / PHASES)
    return float(abs((profile * turn).sum()) * 2 / PHASES)


def _straying(blocks: Sequence[np.ndarray], profile: np.ndarray, counts: np.ndarray) -> float:
    """How far the first harmonic strays [natural log], of what is left of pictures moved by phases at random."""
    rng = np.random.default_rng(len(blocks))
    left = [block - _own_steps(profile) for block in blocks]
    draws = [
        _profile([np.roll(one, int(rng.integers(PHASES)), axis=2) for one in left], counts)
        for _ in range(DRAWS)
    ]
    return float(np.sqrt(np.mean([_harmonic(one) ** 2 for one in draws]))) + 1e-5


def _own_steps(profile: np.ndarray) -> np.ndarray:
    return np.diff(profile, prepend=profile[-1])


def _crest(profile: np.ndarray) -> float:
    """Phase of the densest part [pitches from a hole]."""
    turn = np.exp(2j * np.pi * (np.arange(PHASES) + 1) / PHASES)  # a step to phase i + 1 ends there
    return float(np.angle((np.maximum(profile - FOOT * profile.max(), 0) * turn).sum()) / (2 * np.pi) % 1)


def _size(profile: np.ndarray) -> float:
    return float(profile.max() - np.median(np.sort(profile)[: PHASES // 2]))


def _of_it(blocks: Sequence[np.ndarray], profile: np.ndarray, counts: np.ndarray) -> float:
    """How much of a profile other steps show: 1 where they hold it all, 0 where none."""
    return float(_profile(blocks, counts) @ profile / (profile @ profile))


def _speaks(block: np.ndarray, profile: np.ndarray) -> np.ndarray:
    """How much each hole's steps (holes, rows, PHASES) speak for the profile rather than for none (holes,) [natural log]."""
    want = _own_steps(profile)
    ratio = np.log1p((block / NEAR) ** 2) - np.log1p(((block - want) / NEAR) ** 2)
    return np.asarray(np.nan_to_num(ratio).sum(axis=(1, 2)))


def _depth(pictures: Sequence[Holes], profile: np.ndarray, counts: np.ndarray) -> float:
    """How far from the edge the plumes reach [pitches]: where less than their foot is left of them."""
    for part in np.arange(0.1, 1.0, 0.1):
        blocks = [_steps(one, (part, part + 0.15)) for one in pictures]
        if _of_it(blocks, profile, counts) < FOOT:
            return float(part)
    return 1.0


def _grows(
    pictures: Sequence[Holes],
    blocks: Sequence[np.ndarray],
    profile: np.ndarray,
    counts: np.ndarray,
    strays: float,
) -> bool | None:
    """Whether plumes grow with the density under them, by the thinner and the denser half of the holes; None if not told."""
    levels = [_levels(one) for one in pictures]
    known = np.concatenate(levels)
    middle = float(np.median(known))
    apart = float(np.log(np.median(known[known > middle]) / np.median(known[known <= middle])))
    thin, dense = (
        _of_it([block[(own > middle) == dense] for own, block in zip(levels, blocks)], profile, counts)
        for dense in (False, True)
    )
    if min(thin, dense) <= 0.1 or np.sqrt(2) / strays > PARTED * apart:
        return None
    added = float(np.log(thin / dense)) / apart
    return None if abs(added - 0.5) < PARTED / 2 else added < 0.5


def _levels(one: Holes) -> np.ndarray:
    """Density above base from each hole to the next (holes,) [D], the layers' mean, along the edge."""
    row = np.nan_to_num(_rows(one, ALONG)).mean(axis=(0, 2))
    found = [row[int(a) : int(b)].mean() for a, b in pairwise(_places(one)[::PHASES])]
    return np.maximum(np.array(found), 0.01)


def _marks(one: Holes, shown: np.ndarray, profile: np.ndarray, deep: float) -> Plumes:
    """Boxes and ΔD of the plumes of a picture's holes (holes,) bool."""
    tall, wide = one.above.shape[:2]
    half = max(2, int((profile > FOOT * profile.max()).sum())) * one.pitch / PHASES / 2
    inside, found = _rows(one, (0.0, deep)), []
    for hole in np.flatnonzero(shown):
        middle = _places(one)[hole * PHASES] + _crest(profile) * one.pitch
        left, right = max(0.0, middle - half), min(float(wide), middle + half)
        level = np.nanmedian(inside[:, round(left) : round(right) + 1].reshape(-1, 3), axis=0)
        box = np.array([left / wide, 0.0, (right - left) / wide, deep * one.pitch / tall])
        found.append((box, (1 - np.exp(-_size(profile))) * level))
    return tuple(found)


def with_plumes(
    reading: FrameReading, inner: Rectangle, told: Sequence[AtHoles], index: int, number: int, lie: Lie
) -> FrameReading:
    """A frame's reading, the roll's `index`th, with its plumes added as marks where its own finder did not claim them."""
    rim = inner.y - reading.picture.y
    made = [_mark(box, delta, one, inner, rim) for one in told for box, delta in one.marks[index]]
    new = [m for m in made if not any(touch(m.box, known.box) for known in reading.marks)]
    return replace(reading, marks=(*reading.marks, *(placed(m, reading.picture, number, lie) for m in new)))


def _mark(box: np.ndarray, delta: np.ndarray, told: AtHoles, inner: Rectangle, rim: int) -> Mark:
    """A plume as a mark; its box goes on over the picture's rim, which was left out."""
    x, y, w, h = box * (inner.w, inner.h, inner.w, inner.h)
    top = round(inner.y + y) - (0 if told.below else rim)
    place = Rectangle(round(inner.x + x), top, max(1, round(w)), max(1, round(h)) + rim)
    kind = "spot" if told.grows is False else "plume"
    spread = rgb(np.abs(delta) / told.strays)
    return Mark(place, None, None, rgb(delta), "soft", kind, spread, None, (), CHANCE)


def said_of_holes(told: Sequence[AtHoles]) -> tuple[Finding, ...]:
    """One finding for each edge along which something comes with the holes."""
    how = {
        True: "it grows with the density under it, as developer that surges through the holes leaves it: turn the tank gently and not always alike",
        False: "it is alike in thin and dense parts, as light through the holes or a stain leaves it: look whether the rebate shows it",
        None: "these pictures cannot tell whether it grows with density: a grey frame on the next roll would",
    }  # fmt: skip
    return tuple(
        Finding("at-holes", "note", "roll", f"density comes again with the perforations along the {'bottom' if one.below else 'top'} edge, by {100 * np.expm1(one.size):.0f} % beside {100 * one.share:.0f} % of the holes",
                "pictures that know nothing of the holes", f"{one.strays:.0f} times what pictures moved at random give", how[one.grows])
        for one in told
    )  # fmt: skip
