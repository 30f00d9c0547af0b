"""What a file says of its own making, against profiles by Little CMS and EXIF written by other libraries."""

from __future__ import annotations

from pathlib import Path

import imagecodecs
import numpy as np
import OpenImageIO as oiio
import pytest
import tifffile
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms

from wetside.store.scans.claims import exposure_of, straight
from wetside.store.scans.load import load


@pytest.mark.independent(how="profiles made by Little CMS, through two libraries")
def test_a_profile_tells_light_from_coded() -> None:
    assert straight(bytes(imagecodecs.cms_profile("srgb"))) is False
    assert straight(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()) is False
    assert straight(bytes(imagecodecs.cms_profile("rgb", gamma=1.0))) is True
    assert straight(bytes(imagecodecs.cms_profile("rgb", gamma=2.2))) is False


@given(
    damage=st.lists(st.tuples(st.integers(0, 3000), st.integers(0, 255)), max_size=40),
    cut=st.integers(0, 4000),
)
def test_a_damaged_profile_is_no_traceback(damage: list[tuple[int, int]], cut: int) -> None:
    profile = bytearray(imagecodecs.cms_profile("srgb"))
    for place, value in damage:
        profile[place % len(profile)] = value
    assert straight(bytes(profile[:cut])) in (True, False, None)


def test_a_coded_profile_forbids_density(tmp_path: Path) -> None:
    pixels = np.full((40, 60, 3), 20000, np.uint16)
    profile = bytes(imagecodecs.cms_profile("rgb", gamma=2.2))
    tifffile.imwrite(
        tmp_path / "a.tif", pixels, photometric="rgb", extratags=[(34675, "B", len(profile), profile, True)]
    )
    scan = load(tmp_path / "a.tif")
    assert scan.coding == "gamma" and [f.id for f in scan.findings] == ["profile-coded"]


@pytest.mark.published(source="exif-2-32", place="tags 33434 ExposureTime, 34855 sensitivity, 33437 FNumber")
def test_exposure_from_exif_of_a_jpeg_and_a_tiff(tmp_path: Path) -> None:
    spec = oiio.ImageSpec(64, 48, 3, oiio.UINT8)
    for name, value in (("ExposureTime", 1 / 30), ("Exif:PhotographicSensitivity", 200), ("FNumber", 4.0)):
        spec.attribute(name, value)
    out = oiio.ImageOutput.create("a.jpg")
    out.open(str(tmp_path / "a.jpg"), spec)
    out.write_image(np.full((48, 64, 3), 0.4, np.float32))
    out.close()
    told = Image.open(tmp_path / "a.jpg").getexif().get_ifd(34665)
    assert float(told[33434]) == pytest.approx(1 / 30, rel=1e-3) and float(told[33437]) == pytest.approx(4.0)
    assert load(tmp_path / "a.jpg").exposure_s == pytest.approx(2 / 30 / 16, rel=1e-3)
    tifffile.imwrite(
        tmp_path / "b.tif",
        np.zeros((40, 60, 3), np.uint16),
        photometric="rgb",
        extratags=[(33434, "2I", 1, (1, 15), True)],
    )
    assert load(tmp_path / "b.tif").exposure_s == pytest.approx(1 / 15)
    assert exposure_of({}) is None and exposure_of({"ExposureTime": "x"}) is None
