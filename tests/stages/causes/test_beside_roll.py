"""What a place on one frame is worth beside the roll: by hand, and against a logistic fit of a general library."""

from __future__ import annotations

import pytest

from wetside.figures.channels import rgb
from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading, Mark
from wetside.stages.causes.signs.beside_roll import (
    TAKEN,
    chances_beside_roll,
    claimed,
    claimed_alone,
    with_claims,
)
from wetside.stages.causes.signs.perhaps import Searched

BLUE, NEUTRAL, THIN = (0.02, 0.03, 0.15), (0.1, 0.1, 0.1), (-0.1, -0.1, -0.1)


def place(chance: float | None, delta: tuple[float, float, float] = BLUE, x: int = 0) -> Mark:
    return Mark(Rectangle(x, 0, 20, 20), None, None, rgb(delta), "sharp", "spot", chance=chance)


def roll(*frames: tuple[Mark, ...], of: int = 12) -> list[Searched]:
    """A roll of so many frames, those beyond the given ones empty."""
    return [Searched((), own) for own in frames] + [Searched()] * (of - len(frames))


def chance_of_first(seen: list[Searched]) -> float:
    return float(chances_beside_roll(seen)[0][0])


@pytest.mark.independent(
    "the rule by hand: many marks, and alike ones, speak for one more; an empty roll speaks against it"
)
def test_the_rest_of_the_roll_speaks_for_a_place() -> None:
    by_itself = chance_of_first(roll((place(0.5),)))
    among_many = chance_of_first(roll((place(0.5),), *[(place(0.95, THIN),)] * 8))
    among_its_like = chance_of_first(roll((place(0.5),), *[(place(0.95),)] * 8))
    assert by_itself < among_many < among_its_like
    assert by_itself < TAKEN < among_its_like


@pytest.mark.independent("the rule by hand: a sure place stands on the emptiest of rolls")
def test_a_sure_place_stands_by_itself() -> None:
    assert chance_of_first(roll((place(0.998),), of=200)) > TAKEN
    assert claimed_alone(Searched((), (place(0.998),))).marks


@pytest.mark.independent("the rule by hand: what stands for itself stays, and speaks for its like")
def test_marks_that_stand_for_themselves_stay() -> None:
    sure = place(None, x=60)
    with_it = claimed([Searched((sure,), (place(0.6),))])[0]
    assert with_it.marks == (sure, place(0.6))
    assert claimed_alone(Searched((), (place(0.6),))).marks == ()


@pytest.mark.independent(
    "the rule by hand: a mark keeps its own chance, a place that is left has the one beside the roll"
)
def test_frames_get_their_marks() -> None:
    own = [(place(0.95),), (place(0.95), place(0.15, NEUTRAL, 90)), (place(0.9),)]
    frames = [
        FrameReading(f"{i}.tif", Rectangle(0, 0, 300, 200), perhaps=places) for i, places in enumerate(own)
    ]
    first, second, third = with_claims(frames)
    assert first.marks == own[0] and third.marks == own[2] and first.perhaps == ()
    assert second.marks == own[1][:1]
    (left,) = second.perhaps
    assert left.box == own[1][1].box and left.chance != own[1][1].chance and 0 < (left.chance or 0) <= TAKEN


@pytest.mark.independent("degenerate rolls by hand")
def test_a_roll_without_places_has_no_marks() -> None:
    assert with_claims([]) == []
    assert [len(own) for own in chances_beside_roll(roll())] == [0] * 12
    flat = Searched((place(None, (0.0, 0.0, 0.0)),), ())
    assert claimed([flat]) == [flat]
