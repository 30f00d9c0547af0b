"""How sure it is that something made a roll's marks, beside those that a search claims by mistake."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from wetside.stages.causes.ranking.evidence import evidence_from
from wetside.stages.causes.ranking.limits import limits
from wetside.stages.causes.signs.sure import (
    FOUND,
    MARKED,
    MAY_BE,
    MISTAKEN,
    ON_ROLL,
    OWN_SIGN,
    alike,
    chance_of,
    chance_of_any,
)


def mark(chance: float | None, amount: float = 0.1) -> dict[str, Any]:
    return {"delta": dict.fromkeys("rgb", amount), "edge": "sharp", "chance": chance}


@pytest.mark.independent(
    how="rolls drawn at random: Poisson counts of mistakes and of marks, chances of each kind drawn apart, then counted"
)
@pytest.mark.parametrize(("frames", "count"), [(6, 1), (6, 2), (12, 3), (36, 3)])
def test_the_chance_that_anything_made_the_marks_is_the_share_of_rolls_where_something_did(
    frames: int, count: int
) -> None:
    rng = np.random.default_rng(frames + count)
    n = 400_000
    marked = rng.random(n) < MARKED
    true = np.where(marked, rng.poisson(rng.choice(MAY_BE, n)), 0)
    false = rng.poisson(ON_ROLL * frames, n)
    # A claim is "sure" or "less sure": a true mark with 0.6, a mistake with 0.2. All that count are sure ones here.
    sure = rng.binomial(true, 0.6) + rng.binomial(false, 0.2)
    # The search's chance of a sure claim, where it was fitted: FOUND true ones and MISTAKEN false ones a frame.
    chance = FOUND * 0.6 / (FOUND * 0.6 + MISTAKEN * 0.2)
    likewise = (sure == count) & (true + false == count)
    by_counting = float(marked[likewise].mean())
    signs = {"delta": {}}  # which sign they are of says nothing here
    found = chance_of_any([{**mark(chance), **signs}] * count, frames)
    assert found == pytest.approx(by_counting, abs=4 * float(np.sqrt(0.25 / likewise.sum())) + 0.005)


def test_one_or_two_hardly_speak_and_three_alike_or_a_repeat_do() -> None:
    assert chance_of_any([mark(0.93)], 9) < 0.1
    assert chance_of_any([mark(0.93)] * 2, 9) < 0.5
    assert chance_of_any([mark(0.93)] * 3, 9) > 0.5 > chance_of_any([mark(0.93)] * 3, 36)
    assert chance_of_any([mark(0.93, 0.1), mark(0.93, 0.1), mark(0.93, -0.1)], 9) < 0.6
    assert chance_of_any([mark(0.93)] * 3, 36, repeat=True) > chance_of_any([mark(0.93)] * 3, 36)


def test_what_the_user_saw_or_a_file_tells_without_a_search_is_sure() -> None:
    assert chance_of_any([]) == 0
    assert chance_of(mark(None)) == chance_of_any([mark(None)]) == 1
    assert chance_of_any([{**mark(0.3), "verdict": "confirmed"}], 36) == 1


@pytest.mark.independent(how="signs by hand: nine of ten of one sign against a tossed coin")
def test_likeness_counts_by_how_much_likelier_one_cause_gives_it_than_a_coin() -> None:
    assert alike([mark(0.9)]) == pytest.approx(1)
    both = (OWN_SIGN**2 + (1 - OWN_SIGN) ** 2) / 2 / 0.25
    assert alike([mark(0.9), mark(0.9)]) == pytest.approx(both)
    assert alike([mark(0.9), mark(0.9, -0.1)]) == pytest.approx(OWN_SIGN * (1 - OWN_SIGN) * 4)


def test_a_roll_with_a_mark_or_two_says_that_the_search_claims_so_many_by_mistake() -> None:
    given = {"marks": [mark(0.92)], "frames": 9}
    assert "marks-by-mistake" in [f.id for f in limits(evidence_from(given))]
    seen = {"marks": [{**mark(0.92), "verdict": "confirmed"}], "frames": 9}
    assert "marks-by-mistake" not in [f.id for f in limits(evidence_from(seen))]
