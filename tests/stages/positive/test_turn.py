"""A picture set straight, against the scene drawn straight."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.stages.positive import turn
from wetside.stages.positive.turn import straightened, turns_of

HEIGHT, WIDTH = 300, 420
ROWS, COLUMNS = slice(60, 240), slice(70, 350)


def drawn(degrees: float, height: int = HEIGHT, width: int = WIDTH) -> np.ndarray:
    """Waves of density about the middle of the cut, turned clockwise, as codes."""
    y, x = np.mgrid[0:height, 0:width] + 0.5
    x, y = x - 210, y - 150
    a = np.radians(degrees)
    along, across = np.cos(a) * x + np.sin(a) * y, -np.sin(a) * x + np.cos(a) * y
    wave = 0.8 + 0.5 * np.sin(along / 5) + 0.2 * np.sin(across / 4 + 1)
    density = np.stack([wave, wave + 0.1, wave + 0.3], axis=-1)
    return np.round(65535 * 10**-density).astype(np.uint16)


def whole(codes: np.ndarray, degrees: float) -> np.ndarray:
    return np.concatenate([strip for _, strip in straightened(codes, ROWS, COLUMNS, degrees)])


@pytest.mark.independent(how="the same scene drawn straight, in density")
@pytest.mark.parametrize("degrees", [1.7, -0.6, 4.0])
def test_a_skewed_picture_comes_out_as_if_it_had_lain_straight(
    degrees: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    want = -np.log10(drawn(0.0)[ROWS, COLUMNS] / 65535)
    found = -np.log10(whole(drawn(degrees), degrees) / 65535)
    assert np.abs(found - want).max() < 0.006
    assert np.abs(-np.log10(drawn(degrees)[ROWS, COLUMNS] / 65535) - want).max() > 0.1
    monkeypatch.setattr(turn, "ROWS", 17)
    monkeypatch.setattr(turn, "COLUMNS", 31)
    pieces = -np.log10(whole(drawn(degrees), degrees) / 65535)
    # Places between pixels are told to 1/32: where a tile begins decides which one is meant.
    assert np.abs(pieces - found).max() < 0.006


@pytest.mark.independent(how="the codes themselves")
def test_no_turn_leaves_every_code_and_no_grain_is_taken_away() -> None:
    rng = np.random.default_rng(7)
    grain = np.round(20000 * 10 ** rng.normal(0, 0.02, (HEIGHT, WIDTH, 3))).astype(np.uint16)
    assert np.array_equal(whole(grain, 0.0), grain[ROWS, COLUMNS])
    ratio = np.log(whole(grain, 1.0)).std() / np.log(grain).std()
    assert 0.88 < ratio < 1.02


def test_each_frame_goes_by_its_own_angle_and_a_moving_roll_by_one() -> None:
    skews = {"a": 0.9, "b": 1.1, "c": 1.0}
    assert turns_of(skews, "abcd", False) == skews
    assert set(turns_of(skews, "abc", True).values()) == {1.0}
    assert turns_of({"a": 1.0}, "abc", True) == {} and turns_of({}, [], True) == {}
