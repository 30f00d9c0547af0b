"""The book's text form, lives and corrections."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wetside.book.kinds import Correction, Note, RollLoaded
from wetside.book.life import life, standing, struck_ids
from wetside.book.line import Line, Thing
from wetside.book.text import Malformed, line_of, read, written

json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)  # fmt: skip
times = st.floats(-1e9, 1e11, allow_nan=False)


@pytest.mark.independent(how="round trip through text, any Unicode and line breaks included")
@given(st.dictionaries(st.text(max_size=12), json_values, max_size=5), times, times)
def test_a_line_comes_back_from_its_text_to_the_byte(body: dict, happened: float, noted: float) -> None:
    line = Line("a.b-1", "of a later program", 9, happened, noted, (Thing("roll", "Rø 1\n"),), body)
    text = written(line)
    assert "\n" not in text
    assert written(read(text)) == text


@given(st.text(max_size=80))
def test_text_that_is_no_line_is_said_to_be_none(text: str) -> None:
    with pytest.raises(Malformed):
        read("x" + text)


def noted(body, name: str, at: float) -> Line:
    return line_of(body, name=name, happened_at=at, noted_at=at)


@settings(max_examples=30)
@given(st.permutations(range(4)))
def test_the_order_of_noting_does_not_change_what_stands(order: list[int]) -> None:
    lines = [
        noted(RollLoaded(roll="R1", stock="DAY90", gauge="135"), "a", 1),
        noted(Note(text="wrong", about=("roll:R1",)), "b", 2),
        noted(Correction(strikes="b"), "c", 3),
        noted(Correction(strikes="c", reason="it was right"), "d", 4),
    ]
    told = standing([lines[i] for i in order])
    assert [line.id for line in told] == ["a", "b"]
    assert [line.id for line in life([lines[i] for i in order], Thing("roll", "R1"))] == ["a", "b"]


@pytest.mark.independent(how="brute force over chains of corrections")
def test_a_struck_correction_no_longer_strikes() -> None:
    for depth in range(1, 6):
        chain = [noted(Note(text="x"), "l0", 0)] + [
            noted(Correction(strikes=f"l{i}"), f"l{i + 1}", i) for i in range(depth)
        ]
        for order in itertools.islice(itertools.permutations(chain), 24):
            assert ("l0" in struck_ids(order)) == (depth % 2 == 1)
