"""Places that may be marks: which are named, and what the user's word makes of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.stages.causes.test_marks import candidate, disc, framed, ground

from wetside.app.viewing.places import places_to_look
from wetside.figures.channels import rgb
from wetside.figures.place import Rectangle, intersection_over_union
from wetside.figures.reading import FrameReading, Mark
from wetside.stages.causes.signs import beside_roll
from wetside.stages.causes.signs.beside_roll import claimed_alone
from wetside.stages.causes.signs.marks import places_among, searched
from wetside.stages.causes.signs.perhaps import A_ROLL, HANDED_ON, LEAST, best_of_roll
from wetside.stages.causes.signs.verdicts import Verdict, with_verdicts


def place(x: int, chance: float) -> Mark:
    return Mark(Rectangle(x, 10, 20, 20), None, None, rgb(np.full(3, 0.1)), "soft", "spot", chance=chance)


def frame(number: int, *places: Mark, marks: tuple[Mark, ...] = ()) -> FrameReading:
    return FrameReading(
        f"{number}.tif", Rectangle(0, 0, 900, 600), marks, number=number, perhaps=tuple(places)
    )


@pytest.mark.independent("the rule by hand: worthiest first, one a place, none under the bar")
def test_places_come_worthiest_first_and_faint_ones_are_not_named() -> None:
    likely, fair, faint = 0.6, LEAST + 0.05, LEAST - 0.05
    found = places_among([candidate(fair, 0), candidate(likely, 20), candidate(faint, 40), candidate(0.5, 2)])
    assert [one.box.x for one, _ in found] == [20, 2]
    assert [chance for _, chance in found] == pytest.approx([likely, 0.5], abs=0.01)
    assert places_among([]) == [] and len(places_among([candidate(fair, 0)])) == 1


@pytest.mark.independent(
    "planted truth: a disc that the bar of certainty is set over, beside one that is a mark"
)
def test_what_is_not_sure_enough_is_shown_as_a_place_and_never_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    pictured = framed(disc(ground(), (0.15, 0.15, 0.15), 1.5))
    as_mark = claimed_alone(searched(pictured))
    assert len(as_mark.marks) == 1 and not as_mark.perhaps
    monkeypatch.setattr(beside_roll, "TAKEN", 1.0)
    as_place = claimed_alone(searched(pictured))
    assert not as_place.marks and 1 <= len(as_place.perhaps) <= HANDED_ON
    assert intersection_over_union(as_place.perhaps[0].box, Rectangle(276, 176, 48, 48)) > 0.6


@pytest.mark.independent("counted by hand")
def test_a_roll_names_its_worthiest_places_and_none_where_a_mark_lies() -> None:
    frames = [frame(n, *(place(100 * k, 0.3 + 0.01 * n + 0.001 * k) for k in range(3))) for n in range(1, 9)]
    left = best_of_roll(frames)
    named = [(one.number, mark.chance) for one in left for mark in one.perhaps]
    assert len(named) == A_ROLL and {number for number, _ in named} == {5, 6, 7, 8}
    marked = best_of_roll([replace(frames[0], marks=(place(104, 0.9),))])
    assert [mark.box.x for mark in marked[0].perhaps] == [200, 0]


def word(answer: str, x: int, mark: dict | None = None) -> Verdict:
    return Verdict("1.tif", Rectangle(x, 10, 20, 20), answer, mark)


def test_a_word_on_a_place_makes_it_a_mark_or_ends_it() -> None:
    reading = {"frames": [frame(1, place(0, 0.5), place(100, 0.4), place(200, 0.3)).as_json()]}
    assert [one["x"] for one in places_to_look(reading)] == [0, 100, 200]
    left = with_verdicts(reading, [word("confirmed", 2), word("not one", 101)])
    assert [(m["x"], m["verdict"], m["chance"]) for m in left["frames"][0]["marks"]] == [
        (0, "confirmed", 0.5)
    ]
    assert [(one["x"], one["frame"], one["file"]) for one in places_to_look(left)] == [(200, 1, "1.tif")]
    changed = with_verdicts(reading, [word("confirmed", 2), word("not one", 2)])["frames"][0]
    assert changed["marks"] == [] and len(changed["perhaps"]) == 2
    drawn = with_verdicts(reading, [word("drawn", 0, {"kind": "drawn"})])["frames"][0]
    assert [m["kind"] for m in drawn["marks"]] == ["drawn"] and len(drawn["perhaps"]) == 2


def test_what_was_confirmed_outlives_a_reading_that_misses_it() -> None:
    seen = frame(1, place(0, 0.5)).as_json()["perhaps"][0]  # type: ignore[index]
    later = {"frames": [{"file": "1.tif", "marks": []}]}  # of an earlier day: it names no places
    left = with_verdicts(later, [word("confirmed", 0, seen)])["frames"][0]
    assert [m["verdict"] for m in left["marks"]] == ["confirmed"] and left["perhaps"] == []
    assert not with_verdicts(later, [word("confirmed", 0)])["frames"][0]["marks"]
