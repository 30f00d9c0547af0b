"""The dark frame of a folder is one that is dark: a picture under such a name spoils no roll in silence."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wetside.app.reading.lights import lights
from wetside.store.scans.folder import listing
from wetside.store.scans.originals import write_tiff16


@pytest.mark.independent("planted: a pedestal of 3 % of full scale, and a picture from 2 to 60 % of it")
@pytest.mark.parametrize(("brightest", "taken"), [(0.03, True), (0.6, False)])
def test_a_dark_frame_that_is_a_picture_is_left_out_and_named(
    tmp_path: Path, brightest: float, taken: bool
) -> None:
    ramp = np.linspace(0.02, brightest, 96)[None, :, None] * np.full((64, 96, 3), 65535.0)
    write_tiff16(tmp_path / "dark_alley.tif", ramp.astype(np.uint16))
    write_tiff16(tmp_path / "n1.tif", np.full((64, 96, 3), 9000, np.uint16))
    _, dark, findings = lights(listing(tmp_path), None)
    assert (dark is not None) == taken
    assert [one.id for one in findings] == ([] if taken else ["dark-not-dark"])
    assert taken or (findings[0].where == "dark_alley.tif" and "rename" in (findings[0].source or ""))
