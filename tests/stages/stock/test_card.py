"""A stock's card against film whose curve is known: a softened ramp, not the spline that is fitted."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.stock_cards import CONDITIONS, Condition, exposed, film

from wetside.figures.finding import CannotSay
from wetside.stages.stock.card import STOP, Step, frame_shifts, stock_card


@pytest.mark.independent("film of another form than the fitted curve")
def test_the_interval_holds_the_true_index_and_the_errors_have_no_side() -> None:
    rng = np.random.default_rng(5)
    held, errors = 0, []
    for _ in range(14):
        stock = film(rng)
        card = stock_card("invented", exposed(rng, stock, CONDITIONS[0]))
        if isinstance(card, CannotSay):
            continue
        low, high = card["working_ei"]["interval_90"]
        held += low <= stock.index() <= high
        errors.append(np.log2(card["working_ei"]["value"] / stock.index()))
    assert len(errors) >= 10 and held >= 0.75 * len(errors)
    assert abs(float(np.mean(errors))) < 0.15


@pytest.mark.independent("the shutter's errors that were planted")
def test_a_frame_whose_shutter_ran_slow_is_found() -> None:
    rng = np.random.default_rng(2)
    steps = exposed(rng, film(rng), Condition("clean", 5, shutter=0.0, meter=0.0, patch=0.003))
    slow = [Step(s.frame, s.log_h - 0.1 * (s.frame == 2), s.density, s.spread) for s in steps]
    shifts = frame_shifts(slow) / STOP
    assert shifts[2] - np.median(np.delete(shifts, 2)) == pytest.approx(0.33, abs=0.06)


def test_a_scale_that_does_not_reach_the_toe_cannot_say() -> None:
    rng = np.random.default_rng(3)
    steps = [s for s in exposed(rng, film(rng), CONDITIONS[0]) if s.density[1] > 0.4]
    card = stock_card("invented", steps)
    assert isinstance(card, CannotSay) and "two stops under" in card.would_help
