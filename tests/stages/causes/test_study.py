"""The confusion study and the pattern study, small enough for a test: another model of film, other reels."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks import causes, patterns
from benchmarks.faulty_rolls import departures, emulsion, made_rolls

from wetside.laws.sensitometry.faults import FAULTS, Fault
from wetside.stages.causes.ranking.words import share_true


@pytest.mark.independent(
    how="500 rolls by a model of curves, stains and crosstalk that the ranking does not hold"
)
def test_causes_are_right_or_named_inseparable_and_the_words_keep_what_they_say() -> None:
    found = causes.study(made_rolls(500, 4))
    right = {kind: float(np.mean(own)) for kind, own in found["right"].items()}
    assert right["strip and log"] >= 0.8 and right["a clean roll"] >= 0.95 and right["marks or a cast"] >= 0.8
    words = {word: float(np.mean(true)) for word, true in found["words"].items()}
    assert words["likely"] >= 0.75 and 0.1 <= words["possible"] <= 0.5 and words["unlikely"] <= 0.03
    for word, true in found["words"].items():  # what the page says of the words is what is measured here
        low, high = causes.interval(round(share_true(word) * len(true)), len(true))
        assert low - 0.03 <= words[word] <= high + 0.03


@pytest.mark.independent(how="curves, stains and silver computed forwards, against the table of signs")
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_the_film_of_the_study_moves_the_way_the_table_of_signs_says(fault: Fault) -> None:
    rng = np.random.default_rng(3)
    moved = np.mean([departures(emulsion(rng), fault.name, 0.9, rng) for _ in range(200)], axis=0)
    signs = np.array([fault.dmin, fault.ld, fault.hd_ld])
    clear = (np.abs(signs) >= 0.8) & (np.abs(moved) > 0.01)
    assert clear.any() and (np.sign(moved[clear]) == signs[clear] / np.abs(signs[clear])).all()


@pytest.mark.independent(how="planted marks on reels whose figures differ from the hint, 20 % strays")
def test_repeats_are_named_and_seldom_wrongly() -> None:
    rng = np.random.default_rng(6)
    answers = []
    for repeat in patterns.REPEATS[:3] * 5:
        film = patterns.reeled(rng, exact=False)
        along, across = patterns.planted(repeat, 16, film, rng)
        found = patterns.pattern(along, film.strip, film.hint, rng, across)
        answers.append((repeat, found.answer))
    assert np.mean([planted == said for planted, said in answers]) >= 0.7
    assert sum(said not in (planted, "cannot say", "scattered") for planted, said in answers) <= 1
