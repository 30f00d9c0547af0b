"""Every format of the list, written by another library: known light comes back, and what a header leaves open is said."""

from __future__ import annotations

from pathlib import Path

import imagecodecs
import numpy as np
import OpenImageIO as oiio
import pytest
import tifffile

from wetside.app.reading.read import ReadOptions, read
from wetside.figures.scan import Scan
from wetside.stages.negative.scanner.working import Light, working
from wetside.store.scans.load import load
from wetside.store.scans.originals import WHITE

LIGHT = np.broadcast_to(np.geomspace(0.003, 0.95, 60)[None, :, None], (40, 60, 3))
CODES = np.round(LIGHT * 65535).astype(np.uint16)


def by_oiio(path: Path, pixels: np.ndarray, kind: object, **told: object) -> Scan:
    spec = oiio.ImageSpec(pixels.shape[1], pixels.shape[0], pixels.shape[2], kind)
    for name, value in told.items():
        spec.attribute(name.replace("__", ":"), value)
    out = oiio.ImageOutput.create(str(path))
    assert out.open(str(path), spec) and out.write_image(np.ascontiguousarray(pixels))
    out.close()
    return load(path)


def light(scan: Scan) -> np.ndarray:
    return scan.pixels[20].astype(float) / scan.full_scale


@pytest.mark.independent(how="files written by OpenImageIO and tifffile from known light")
@pytest.mark.parametrize(
    ("name", "kind", "told", "within"),
    [
        ("a.dpx", oiio.UINT16, {"oiio__BitsPerSample": 16, "dpx__Transfer": "Linear"}, 1e-5),
        ("b.dpx", oiio.UINT16, {"oiio__BitsPerSample": 10, "dpx__Transfer": "Linear"}, 1 / 1023),
        ("a.exr", oiio.HALF, {}, 3e-4),
        ("b.exr", oiio.FLOAT, {}, 1e-5),
        ("a.png", oiio.UINT16, {}, 1e-5),
    ],
)
def test_linear_files_give_the_light_that_was_written(
    tmp_path: Path, name: str, kind: object, told: dict[str, object], within: float
) -> None:
    pixels = CODES if kind == oiio.UINT16 else LIGHT.astype(np.float32)
    scan = by_oiio(tmp_path / name, pixels, kind, **told)
    assert scan.coding == "linear" and scan.findings == ()
    assert np.abs(light(scan) - CODES[20] / 65535).max() < within
    assert scan.bits == told.get("oiio__BitsPerSample", scan.bits)


@pytest.mark.independent(how="the same light as tifffile keeps it in other kinds of numbers and layouts")
@pytest.mark.parametrize(
    "what", ["uint32", "int16", "float32", "float16", "codes in floats", "planes", "four channels", "tiles"]
)
def test_every_kind_of_tiff_gives_the_light_that_was_written(tmp_path: Path, what: str) -> None:
    file = tmp_path / "a.tif"
    how: dict[str, object] = {"photometric": "rgb"}
    pixels: np.ndarray = CODES
    if what == "uint32":
        pixels = CODES.astype(np.uint32) * 65537
    elif what == "int16":
        pixels = (CODES // 2).astype(np.int16)
    elif what in ("float32", "float16"):
        pixels = LIGHT.astype(what)
    elif what == "codes in floats":
        pixels = CODES.astype(np.float32)
    elif what == "planes":
        pixels, how = CODES.transpose(2, 0, 1), {"photometric": "rgb", "planarconfig": "separate"}
    elif what == "four channels":
        pixels, how = (
            np.concatenate([CODES, CODES[..., :1]], axis=2),
            {"photometric": "rgb", "extrasamples": ["unassalpha"]},
        )
    else:
        how["tile"] = (16, 16)
    tifffile.imwrite(file, pixels, **how)
    scan = load(file)
    assert scan.coding == "linear" and np.abs(light(scan) - LIGHT[20]).max() < 5e-4
    assert [f.id for f in scan.findings] == (["float-scale"] if what == "codes in floats" else [])
    density = working(scan, Light()).density  # every kind of number goes on to a density
    assert np.abs(density[20, :, 1] + np.log10(LIGHT[20, :, 1])).max() < 0.03


def test_a_grey_file_whose_zero_is_white_is_turned_about(tmp_path: Path) -> None:
    tifffile.imwrite(tmp_path / "a.tif", 65535 - CODES[..., 0], photometric="miniswhite")
    assert np.abs(light(load(tmp_path / "a.tif")) - LIGHT[20]).max() < 1e-4


@pytest.mark.published(
    source="st-2065-3",
    place="printing density: 500 codes a density over 95, of 10 bits; written by OpenImageIO",
)
@pytest.mark.parametrize("bits", [10, 16])
def test_printing_density_of_ten_and_sixteen_bits_is_turned_to_light(tmp_path: Path, bits: int) -> None:
    density = np.broadcast_to(np.linspace(0, 1.7, 60)[None, :, None], (40, 60, 3))
    codes = np.round((500 * density + 95) / 1023 * 65535).astype(np.uint16)
    scan = by_oiio(
        tmp_path / "a.dpx", codes, oiio.UINT16, oiio__BitsPerSample=bits, dpx__Transfer="Printing density"
    )
    assert scan.coding == "log" and scan.bits == bits
    assert np.abs(-np.log10(scan.pixels[20]) - density[20]).max() < (0.002 if bits == 10 else 0.0001)


@pytest.mark.parametrize(
    ("told", "bits", "coding", "said"),
    [
        ("Logarithmic", 10, "log", "curve-assumed"), ("", 10, "log", "curve-assumed"), ("User defined", 12, "log", "curve-assumed"),
        ("", 16, "linear", None), ("ITU-R 709-4", 10, "gamma", "transfer-coded"),
    ],
)  # fmt: skip
def test_what_a_dpx_header_leaves_open_is_said(
    tmp_path: Path, told: str, bits: int, coding: str, said: str | None
) -> None:
    more = {"dpx__Transfer": told} if told else {}
    scan = by_oiio(tmp_path / "a.dpx", CODES, oiio.UINT16, oiio__BitsPerSample=bits, **more)
    assert scan.coding == coding and [f.id for f in scan.findings] == ([said] if said else [])


def test_profiles_that_are_curved_wrong_or_straight_are_told_apart(tmp_path: Path) -> None:
    straight = imagecodecs.cms_profile("rgb", gamma=1.0)
    for name, profile, coding, said in (
        ("curved", imagecodecs.cms_profile("srgb"), "gamma", ["profile-coded"]),
        ("junk", b"no profile at all" * 12, "linear", ["profile-unreadable"]),
        ("cut", imagecodecs.cms_profile("srgb")[:150], "linear", ["profile-unreadable"]),
        ("straight", straight, "linear", []),
    ):
        tifffile.imwrite(tmp_path / f"{name}.tif", CODES, photometric="rgb", iccprofile=profile)
        scan = load(tmp_path / f"{name}.tif")
        assert (scan.coding, [f.id for f in scan.findings]) == (coding, said), name
    tifffile.imwrite(
        tmp_path / "eight.tif", (CODES >> 8).astype(np.uint8), photometric="rgb", iccprofile=straight
    )
    assert load(tmp_path / "eight.tif").coding == "gamma"


def test_a_jpeg_xl_file_is_coded_unless_its_profile_is_straight(tmp_path: Path) -> None:
    for kind, pixels in ((oiio.UINT8, (CODES >> 8).astype(np.uint8)), (oiio.UINT16, CODES)):
        scan = by_oiio(tmp_path / "a.jxl", pixels, kind)
        assert scan.coding == "gamma" and scan.pixels.dtype == pixels.dtype


def raw(path: Path, black: int, baseline: tuple[int, int] | None) -> Scan:
    """A Bayer raw of known light over a black level, with a baseline exposure where one is given."""
    level = np.round(LIGHT[..., 0] * (WHITE - black) + black).astype(np.uint16)
    mosaic = np.repeat(np.repeat(level, 2, axis=0), 2, axis=1)
    one, none = (10000, 10000), (0, 10000)
    matrix = [v for row in range(3) for column in range(3) for v in (one if row == column else none)]
    tags = [
        (33421, "H", 2, (2, 2), True), (33422, "B", 4, bytes((0, 1, 1, 2)), True), (50706, "B", 4, bytes((1, 4, 0, 0)), True),
        (50707, "B", 4, bytes((1, 1, 0, 0)), True), (50708, "s", 0, "invented copy stand", True), (50714, "H", 1, black, True),
        (50717, "H", 1, WHITE, True), (50721, "2i", 9, tuple(matrix), True), (50728, "2I", 3, (*one, *one, *one), True),
        (50778, "H", 1, 21, True),
    ]  # fmt: skip
    if baseline is not None:
        tags.append((50730, "2i", 1, baseline, True))
    tifffile.imwrite(path, mosaic, photometric=32803, extratags=tags, software=False)
    return load(path)


@pytest.mark.independent(
    how="a raw written by tifffile with a black level and a baseline exposure, read through LibRaw"
)
@pytest.mark.parametrize("black", [0, 512])
@pytest.mark.parametrize("baseline", [None, (1, 1), (-3, 2)])
def test_black_levels_are_taken_off_and_a_baseline_exposure_leaves_the_light_alone(
    tmp_path: Path, black: int, baseline: tuple[int, int] | None
) -> None:
    scan = raw(tmp_path / "a.dng", black, baseline)
    assert np.abs(light(scan)[2:-2] - LIGHT[20][2:-2]).max() < 2e-4


@pytest.mark.parametrize("kind", ["uint32", "logarithmic"])
def test_a_folder_of_such_files_is_read_to_the_end(tmp_path: Path, kind: str) -> None:
    for i in (1, 2):
        if kind == "uint32":
            tifffile.imwrite(
                tmp_path / f"a{i}.tif", np.tile(CODES, (6, 6, 1)).astype(np.uint32) * 65537, photometric="rgb"
            )
        else:
            by_oiio(
                tmp_path / f"a{i}.dpx",
                np.tile(CODES, (6, 6, 1)),
                oiio.UINT16,
                oiio__BitsPerSample=10,
                dpx__Transfer="Logarithmic",
            )
    found = read(tmp_path, ReadOptions(marks=False))
    assert len(found.frames) == 2
    assert sum(f.id == "curve-assumed" for f in found.findings) == (2 if kind == "logarithmic" else 0)
