"""What travels with the pictures, read by others: XMP and Exif, names of a sequence, the film, the colourist's page."""

from __future__ import annotations

import importlib
import importlib.util
import io
import json
import shutil
import xml.etree.ElementTree as ET
from pathlib import Path

import cv2
import numpy as np
import OpenImageIO as oiio
import pytest
import tifffile

from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.printing.proxy_film import film_pictures
from wetside.figures.finding import Unusable
from wetside.store.film_writer import ffmpeg_call
from wetside.store.scans.originals import write_tiff16
from wetside.store.scans.sinks import write_picture
from wetside.store.scans.told import SPACES, Told

BASE = np.array([0.2, 0.55, 0.8])
TOLD = Told("a.tif", "R09", 7, "DAY <90> & ü", "ecn-2", 64.0, "sRGB")


@pytest.fixture(scope="module")
def roll(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twelve frames that grow lighter, numbered with gaps."""
    folder = tmp_path_factory.mktemp("moving") / "M01"
    folder.mkdir()
    rng = np.random.default_rng(1)
    for i in range(12):
        density = np.tile(BASE, (120, 180, 1))
        density[20:-20, 10:-10] += (
            0.25 + 0.08 * i + np.kron(rng.uniform(0, 0.3, (5, 8)), np.ones((16, 20)))[..., None]
        )
        light = 10**-density * 60000 + rng.normal(0, 20, density.shape)
        write_tiff16(folder / f"take_{i * 3 + 1}.tif", light.clip(0, 65535).astype(np.uint16))
    return folder


def fields(packet: bytes) -> dict[str, str]:
    """Text of every property of an XMP packet by its namespace and name."""
    root = ET.fromstring(packet.decode())
    about = root.find(f".//{{{SPACES['rdf']}}}Description")
    assert about is not None
    return {child.tag: "".join(child.itertext()) for child in about}


@pytest.mark.independent(how="tifffile, OpenImageIO and an XML parser read what was written")
@pytest.mark.parametrize("kind", ["tiff", "jpeg"])
def test_a_picture_tells_roll_stock_process_ei_and_frame(tmp_path: Path, kind: str) -> None:
    path = tmp_path / ("a.tif" if kind == "tiff" else "a.jpg")
    write_picture(path, np.full((40, 60, 3), 30000, np.uint16), kind, "sRGB", TOLD)
    if kind == "tiff":
        with tifffile.TiffFile(path) as tiff:
            packet = bytes(tiff.pages[0].tags.valueof(700))
            assert (
                tiff.pages[0].tags.valueof(270).startswith("R09 frame 7, stock DAY <90> & ?, process ecn-2")
            )
            assert tiff.pages[0].tags.valueof(34675)
    else:
        data = path.read_bytes()
        start = data.index(b"http://ns.adobe.com/xap/1.0/\0") + 29
        packet = data[start : data.index(b'<?xpacket end="w"?>') + 19]
        spec = oiio.ImageBuf(str(path)).spec()
        tags = {one.name: one.value for one in spec.extra_attribs}
        block = data[data.index(b"Exif\0\0") + 6 :]
        with tifffile.TiffFile(io.BytesIO(block[: block.index(b"http://ns.adobe")])) as tiff:
            assert (
                tiff.pages[0].tags.valueof(270).startswith("R09 frame 7, stock DAY <90> & ?, process ecn-2")
            )
        assert (tags["Exif:PixelXDimension"], tags["Exif:PixelYDimension"]) == (60, 40)
        assert tags["Exif:PhotographicSensitivity"] == 64 and tags["Exif:ColorSpace"] == 1
        assert tags["Software"].startswith("wetside") and "ICCProfile" in tags
        assert cv2.imread(str(path)).shape == (40, 60, 3)
    found = fields(packet)
    assert found[f"{{{SPACES['xmpDM']}}}tapeName"] == "R09" and found[f"{{{SPACES['xmpDM']}}}shotName"] == "7"
    assert found[f"{{{SPACES['dc']}}}description"] == "stock DAY <90> & ü, process ecn-2, EI 64, space sRGB"
    assert found[f"{{{SPACES['exif']}}}ISOSpeedRatings"] == "64"
    assert found[f"{{{SPACES['dc']}}}source"] == "a.tif"


@pytest.mark.independent(how="the names counted, and the film read back frame by frame against the pictures")
def test_a_moving_roll_has_frame_exact_names_and_a_film(roll: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    found = positive(roll, PositiveOptions(out, kind="jpeg", sequence="M01", film=24.0))
    names = [Path(f["picture"]).name for f in found["frames"]]
    assert names == [f"M01.{i:07d}.jpg" for i in range(1, 13)]
    assert [f["file"] for f in found["frames"]] == [f"take_{i * 3 + 1}.tif" for i in range(12)]
    film = cv2.VideoCapture(str(out / "positive.mp4"))
    assert film.get(cv2.CAP_PROP_FPS) == pytest.approx(24)
    levels = []
    while True:
        there, picture = film.read()
        if not there:
            break
        levels.append(float(picture[30:-30, 20:-20].mean()))
    wanted = [float(cv2.imread(str(out / name))[30:-30, 20:-20].mean()) for name in names]
    assert len(levels) == 12 and np.abs(np.array(levels) - wanted).max() < 4
    assert positive(roll, PositiveOptions(out, kind="jpeg", sequence="M01", film=24.0))["kept"] == 12


@pytest.mark.independent(how="the whole prints, cut by the rectangles that positive.json tells")
def test_pictures_alone_are_the_whole_prints_cut_to_one_size(roll: Path, tmp_path: Path) -> None:
    whole, out = tmp_path / "whole", tmp_path / "alone"
    positive(roll, PositiveOptions(whole, negative="tiff"))
    positive(roll, PositiveOptions(out, negative="tiff", alone=True))
    sheet = json.loads((out / "positive.json").read_text())
    sizes = set()
    for i in (1, 4, 34):
        x, y, w, h = sheet["cuts"][f"take_{i}.tif"]
        for name in (f"take_{i}.tif", f"take_{i}.negative.tif"):
            cut = tifffile.imread(out / name)
            assert np.array_equal(cut, tifffile.imread(whole / name)[y : y + h, x : x + w])
            sizes.add(cut.shape)
        left, top, wide, tall = sheet["pictures"][f"take_{i}.tif"]
        assert -6 < left <= 0 and -6 < top <= 0 and wide >= w and tall >= h
        assert (158 - 6, 78 - 6) < (w, h) <= (160, 80)
    assert len(sizes) == 1
    assert positive(roll, PositiveOptions(out, negative="tiff", alone=True))["kept"] == 12
    assert positive(roll, PositiveOptions(out, negative="tiff"))["kept"] == 0


def test_a_film_of_linear_pictures_is_not_made_and_said(roll: Path, tmp_path: Path) -> None:
    found = positive(roll, PositiveOptions(tmp_path / "out", kind="exr", film=24.0))
    assert (
        "no-film" in [f["id"] for f in found["findings"]] and not (tmp_path / "out" / "positive.mp4").exists()
    )


def test_a_sequence_of_a_wrong_name_is_one_line(roll: Path, tmp_path: Path) -> None:
    with pytest.raises(Unusable, match="letters"):
        positive(roll, PositiveOptions(tmp_path / "out", sequence="../x"))


def test_the_page_for_the_colourist_names_spaces_order_and_lights(roll: Path, tmp_path: Path) -> None:
    options = PositiveOptions(
        tmp_path / "out", kind="exr", trims={"take_4.tif": (0.05, 0.0, -0.025)}, balance=(0.0, 0.01, 0.0),
        notes={"roll": "M01", "stock": "DAY90", "process": "ecn-2", "ei": 64.0},
    )  # fmt: skip
    positive(roll, options)
    text = (tmp_path / "out" / "positive.txt").read_text()
    for words in ("roll M01, stock DAY90, process ecn-2, EI 64", "code / 65535", "ACES2065-1", "STEM.cdl",
                  "balance r g b +0.000 +0.010", "take_4.tif", "-0.025"):  # fmt: skip
        assert words in " ".join(text.split()) or words in text
    assert max(len(line) for line in text.splitlines()) <= 88 and len(text.splitlines()) < 60


@pytest.mark.published(source="st-2065-3", place="10-bit codes: 500 D + 95; read through OpenImageIO")
def test_a_log_negative_holds_the_density_above_base_within_half_a_code(roll: Path, tmp_path: Path) -> None:
    for kind in ("tiff", "dpx"):
        positive(roll, PositiveOptions(tmp_path / kind, negative=kind))
    evened = tifffile.imread(tmp_path / "tiff" / "take_4.negative.tif").astype(float) / 65535
    image = oiio.ImageBuf(str(tmp_path / "dpx" / "take_4.negative.dpx"))
    assert image.spec().get_int_attribute("oiio:BitsPerSample") == 10
    codes = image.get_pixels(oiio.FLOAT)[..., :3] * 1023
    sheet = json.loads((tmp_path / "dpx" / "positive.json").read_text())
    above = -np.log10(np.maximum(evened, 1e-5)) - np.array([sheet["base"][layer] for layer in "rgb"])
    assert np.abs(codes - np.clip(500 * above + 95, 0, 1023)).max() <= 0.51
    header = (tmp_path / "dpx" / "take_4.negative.dpx").read_bytes()[:2048]
    assert header[:4] in (b"SDPX", b"XPDS") and not any(header[36:160])


@pytest.mark.published(
    source="st-268-1",
    place="DPX header: project at byte 260, frame position 1712, frame identification 1732, slate 1764",
)
@pytest.mark.parametrize("space", ["ACES2065-1", "ACEScg", "ADX10"])
def test_a_file_for_grading_tells_roll_stock_process_ei_and_frame(tmp_path: Path, space: str) -> None:
    kind = "dpx" if space == "ADX10" else "exr"
    path, told = tmp_path / f"a.{kind}", Told("a.tif", "R09", 7, "DAY <90> & ü", "ecn-2", 64.0, space)
    pixels = (
        np.full((40, 60, 3), 30000, np.uint16) if kind == "dpx" else np.full((40, 60, 3), 0.3, np.float32)
    )
    write_picture(path, pixels, kind, space, told)
    tags = {one.name: one.value for one in oiio.ImageBuf(str(path)).spec().extra_attribs}
    data = path.read_bytes()
    if kind == "dpx":
        assert tags["DocumentName"] == "R09" and tags["dpx:FramePosition"] == 7
        assert data[260:264] == b"R09\0" and data[1732:1744] == b"R09 frame 7\0"
        assert int.from_bytes(data[1712:1716], "little" if data[:4] == b"XPDS" else "big") == 7
        assert data[1764:1864].startswith(b"stock DAY <90> & ?, process ecn-2, EI 64, space ADX10\0")
        return
    assert (tags["reelName"], tags["imageCounter"], tags["isoSpeed"]) == ("R09", 7, 64.0)
    assert (
        "stock DAY <90> & ü, process ecn-2, EI 64" in tags["ImageDescription"]
        and b"comments\0string\0" in data
    )
    assert bool(tags.get("acesImageContainerFlag")) is (space == "ACES2065-1")
    red = 0.713 if space == "ACEScg" else 0.7347  # S-2014-004, ST 2065-1
    assert tags["chromaticities"][0] == pytest.approx(red) and len(tags["chromaticities"]) == 8
    assert not tags.get("DateTime")  # printed again it is the same file


@pytest.mark.independent(how="a film read back frame by frame; the real ffmpeg where the machine has one")
def test_the_film_is_made_without_ffmpeg_and_with_one_that_fails_and_it_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pictures = []
    for i in range(8):
        write_picture(
            tmp_path / f"p{i}.tif", np.full((61, 91, 3), 20000 + 4000 * i, np.uint16), "tiff", "sRGB"
        )
        pictures.append(tmp_path / f"p{i}.tif")
    monkeypatch.setenv("PATH", str(tmp_path / "nowhere"))
    assert [f.id for f in film_pictures(pictures, tmp_path / "a.mp4", 24.0)] == ["film-without-ffmpeg"]
    bad = tmp_path / "bin" / "ffmpeg"
    bad.parent.mkdir()
    bad.write_text("#!/bin/sh\necho 'no such encoder' >&2\nexit 1\n")
    bad.chmod(0o755)
    monkeypatch.setenv("PATH", str(bad.parent))
    [said] = film_pictures(pictures, tmp_path / "b.mp4", 24.0)
    assert "no such encoder" in said.say and said.severity == "warning"
    for name in ("a.mp4", "b.mp4"):
        levels = film_levels(tmp_path / name)
        assert len(levels) == 8 and np.all(np.diff(levels) > 10)


def film_levels(path: Path) -> list[float]:
    film, levels = cv2.VideoCapture(str(path)), []
    while True:
        there, picture = film.read()
        if not there:
            return levels
        levels.append(float(picture.mean()))


def ffmpeg_here() -> str | None:
    """The machine's own ffmpeg, or the one that a wheel of the tests brings."""
    if shutil.which("ffmpeg") is not None or importlib.util.find_spec("imageio_ffmpeg") is None:
        return shutil.which("ffmpeg")
    return str(importlib.import_module("imageio_ffmpeg").get_ffmpeg_exe())


@pytest.mark.skipif(
    ffmpeg_here() is None, reason="requirements/test.txt brings an ffmpeg; it is not installed"
)
@pytest.mark.independent(how="ffmpeg's film decoded by another library, its levels against those written")
def test_ffmpeg_makes_a_film_of_every_frame(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = tmp_path / "bin"
    place.mkdir()
    (place / "ffmpeg").symlink_to(str(ffmpeg_here()))
    monkeypatch.setenv("PATH", str(place))
    pictures = []
    for i in range(8):
        write_picture(
            tmp_path / f"p{i}.tif", np.full((61, 91, 3), 20000 + 4000 * i, np.uint16), "tiff", "sRGB"
        )
        pictures.append(tmp_path / f"p{i}.tif")
    assert film_pictures(pictures, tmp_path / "a.mp4", 24.0) == []
    wanted = [(20000 + 4000 * i) / 257 for i in range(8)]
    assert film_levels(tmp_path / "a.mp4") == pytest.approx(wanted, abs=3)


def test_the_call_of_ffmpeg_names_what_goes_in_and_what_comes_out() -> None:
    call = ffmpeg_call(Path("/x/ffmpeg"), Path("/o/.positive.9.part.mp4"), 23.976, (960, 540))
    assert call[0] == "/x/ffmpeg" and call[-1] == "/o/.positive.9.part.mp4"
    words = " ".join(call)
    for part in ("-f rawvideo -pix_fmt rgb24 -video_size 960x540 -framerate 23.976 -i pipe:0", "-c:v libx264", "-pix_fmt yuv420p",
                 "-movflags +faststart", "-map_metadata -1"):  # fmt: skip
        assert part in words
    assert call.index("-i") < call.index("-c:v")
