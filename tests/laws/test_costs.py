"""What a laboratory asks for a roll, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wetside.laws.economy.costs import Laboratory, laboratory_price

BY_ROLL = Laboratory("L", ("135",), ("ecn-2",), True, 12.0, None, 0.0, 6.0, 4, 0.2, 10)
BY_METRE = replace(BY_ROLL, price_per_roll=None, price_per_m=0.8, minimum_m=30.0)


@pytest.mark.independent(how="by hand: 12 and a fifth; 0.8 a metre of 30 at the least, of 61 and a fifth")
def test_a_roll_is_charged_by_the_piece_or_by_the_metre_with_tax() -> None:
    assert laboratory_price(BY_ROLL, 1_600.0) == pytest.approx(14.40)
    assert laboratory_price(BY_METRE, 5_000.0) == pytest.approx(28.80)
    assert laboratory_price(BY_METRE, 61_000.0) == pytest.approx(58.56)
