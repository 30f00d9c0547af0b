"""Illuminants, colour difference: the outside library that other tests rest on gives its published values."""

from __future__ import annotations

import warnings

import pytest

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour


@pytest.mark.published(source="ciede2000-data", place="pairs 1, 7, 25 of the published 34")
def test_colour_differences_of_published_pairs() -> None:
    pairs = [
        ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
        ((50, 0, 0), (50, -1, 2), 2.3669),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ]
    for one, other, want in pairs:
        assert colour.delta_E(one, other, method="CIE 2000") == pytest.approx(want, abs=1e-4)


@pytest.mark.published(source="iso-7589", place="illuminants as the colour library carries them")
def test_the_illuminants_of_iso_7589_are_there() -> None:
    names = [name for name in colour.SDS_ILLUMINANTS if "ISO 7589" in name]
    assert len(names) == 7
