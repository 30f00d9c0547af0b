"""A veil kept on few cells, and read between them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from wetside.stages.negative.scanner.veil_off import lit_over, places_of, share_at


@pytest.mark.independent(how="the library's own enlarging of the same cells")
def test_a_veil_between_its_cells_is_what_straight_lines_give() -> None:
    over = np.random.default_rng(4).uniform(0.7, 1.3, (7, 11, 3)).astype(np.float32)
    whole = cv2.resize(over, (110, 70), interpolation=cv2.INTER_LINEAR)
    assert share_at(over, *places_of((70, 110))) == pytest.approx(whole, abs=1e-4)
    x, y = (np.array((at + 0.5) / length) for at, length in ((37, 110), (52, 70)))
    assert share_at(over, x, y) == pytest.approx(whole[52, 37], abs=1e-4)


@pytest.mark.independent(how="a light that falls off in a straight line, known at every pixel")
def test_a_light_known_on_a_coarse_grid_goes_on_straight_to_the_rim() -> None:
    line = np.linspace(1.0, 0.5, 241)
    true = np.repeat(((line[1:] + line[:-1]) / 2)[None, :, None], 120, axis=0) * np.ones(3)
    coarse = cv2.resize(true, (24, 24), interpolation=cv2.INTER_AREA).astype(np.float32)
    assert lit_over(coarse, true.shape) == pytest.approx(true, abs=1e-5)
