"""Marks: local density differences that the picture does not explain.

Theory. A stain, a bell or a streak adds (or takes) the same density over its area and leaves what lies under it alone;
a thing in the picture replaces what lies under it. A small net fitted on marks planted in photographs answers where
density was added and how much (`chance`). Its answer is cut at several heights into candidates; each is judged by the
net's certainty inside and around it, its shape, and whether the step measured at its outline agrees with what the net
takes for added, all the way round and in every layer (`outline`). One number says what the evidence is worth; of
candidates at one place the best stands, and whether it is claimed the whole roll says (`beside_roll`). What unexposed film shows is found apart, without the net (`unexposed`, `over_rim`).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

import numpy as np

from wetside.figures.channels import rgb
from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.figures.place import Rectangle
from wetside.figures.reading import Mark
from wetside.laws.image.layers import half_size
from wetside.stages.causes.signs.bare import bare_patches
from wetside.stages.causes.signs.beside_roll import claimed_alone
from wetside.stages.causes.signs.candidates import Candidate, apart, candidates, tight, worth
from wetside.stages.causes.signs.outline import kind_of, outline_of
from wetside.stages.causes.signs.over_rim import Within, film_beside, gone_on, mark_on_film
from wetside.stages.causes.signs.perhaps import HANDED_ON, LEAST, Searched, apart_from
from wetside.stages.causes.signs.stained import judged, stained_places
from wetside.stages.causes.signs.unexposed import Unexposed, unexposed_film

#: Of cuts that are all this sure, the one nearest to this height has the outline nearest to the truth (0.85 of the box shared).
SURE, TRUEST = 0.9, 0.5
#: Worth from which a candidate may go on where unexposed film shows a mark of its colour at the rim.
PROVED = 0.01


def marks_in_frame(frame: DensityFrame) -> tuple[Mark, ...]:
    """Marks of one frame of which nothing else is known; box and outline in pixels of the file as stored."""
    return claimed_alone(searched(frame)).marks


def searched(frame: DensityFrame) -> Searched:
    """What unexposed and bare film show for sure, and the places in the picture that may be marks, likeliest first."""
    window = window_of(frame)
    if min(window.h, window.w) < 48:
        return Searched()
    half = half_size(frame.density)
    picture = Rectangle(*(v // 2 for v in window))
    left_out = frame.mask[window.slices][::2, ::2] & int(Left.CLIPPED | Left.PERFORATION | Left.OUTSIDE_FILM)
    found = candidates(half[picture.slices], left_out != 0)
    film = judged(unexposed_film(frame, half))
    sure = (*bare_patches(frame, window, half[picture.slices]), *_on_film(film, found, frame, window))
    taken = [mark.box for mark in sure]
    free = (
        (one, chance)
        for one, chance in places_among(found)
        if apart_from(place_of(one, frame, window), taken)
    )
    places = tuple(_mark(one, chance, frame, window, film) for one, chance in islice(free, HANDED_ON))
    return Searched(sure, places)


def _on_film(
    film: Unexposed | None, found: list[Candidate], frame: DensityFrame, window: Rectangle
) -> Iterator[Mark]:
    """Marks that the unexposed film shows, with what of the picture they go on in, however unsure the net is of it."""
    places = stained_places(film) if film is not None else []
    if film is None or not places:
        return
    values = worth(found)
    best = [found[i] for i in np.argsort(-values) if values[i] > PROVED]
    within = [_within(candidate, window) for candidate in best]
    for place in places:
        number = gone_on(film, place, within)
        yield mark_on_film(film, place, None if number is None else within[number], 2 * frame.shrink)


def _within(candidate: Candidate, window: Rectangle) -> Within:
    left, top = window.x // 2 + candidate.box.x, window.y // 2 + candidate.box.y
    return Within(candidate.area, left, top, candidate.step.delta)


def places_among(found: list[Candidate]) -> list[tuple[Candidate, float]]:
    """Candidates that may be marks and their worth, best first, the best of each place."""
    likely = [(one, value) for one, value in zip(found, worth(found).tolist(), strict=True) if value > LEAST]
    likely.sort(key=lambda pair: (-min(pair[1], SURE), abs(pair[0].level - TRUEST)))
    chances = {id(one): value for one, value in likely}
    return [(one, chances[id(one)]) for one in apart([one for one, _ in likely])]


def window_of(frame: DensityFrame) -> Rectangle:
    """The picture at working size, in whole cells of 2 × 2 pixels."""
    x, y, w, h = (v / frame.shrink for v in frame.picture)
    height, width = frame.density.shape[:2]
    left, top = (max(0, round(v) + 1) for v in (x, y))
    right, bottom = min(width, round(x) + round(w) - 1), min(height, round(y) + round(h) - 1)
    left, top = left + left % 2, top + top % 2
    return Rectangle(left, top, max(0, right - left) // 2 * 2, max(0, bottom - top) // 2 * 2)


def place_of(candidate: Candidate, frame: DensityFrame, window: Rectangle) -> Rectangle:
    """The candidate's box in pixels of the file as stored."""
    x, y, w, h = tight(candidate)
    scale = frame.shrink
    return Rectangle(
        round((window.x + 2 * x) * scale), round((window.y + 2 * y) * scale),
        max(1, round(2 * w * scale)), max(1, round(2 * h * scale)),
    )  # fmt: skip


def _mark(
    candidate: Candidate, chance: float, frame: DensityFrame, window: Rectangle, film: Unexposed | None
) -> Mark:
    box = place_of(candidate, frame, window)
    outline, _ = outline_of(candidate.area)
    left, top = window.x + 2 * candidate.box.x, window.y + 2 * candidate.box.y
    every = max(1, -(-len(outline) // 40))
    points = tuple(
        (round((left + 2 * px + 1) * frame.shrink), round((top + 2 * py + 1) * frame.shrink))
        for px, py in outline[::every].astype(int).tolist()
    )
    step = candidate.step
    kind = kind_of(box, int(candidate.area.sum()))
    beside = None if film is None else film_beside(film, _within(candidate, window))
    return Mark(
        box, None, None, rgb(step.delta), step.edge, kind, rgb(step.spread), beside, points, round(chance, 3)
    )
