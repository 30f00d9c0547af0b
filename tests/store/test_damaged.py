"""Damaged files of every format, some hundred of them here; thousands by `python -m benchmarks.damaged`."""

from __future__ import annotations

import re
import struct
from pathlib import Path

import cv2
import numpy as np
import pytest
from benchmarks.damaged import KINDS, study, written

from wetside.app.reading.scan_file import scan_or_finding
from wetside.figures.finding import Finding, Unusable
from wetside.figures.scan import Scan
from wetside.store.scans.cut_off import blank_below
from wetside.store.scans.first_bytes import dpx_size, exr_size, png_size
from wetside.store.scans.guard import Guard
from wetside.store.scans.header import header
from wetside.store.scans.load import load


@pytest.mark.parametrize("kind", KINDS)
def test_a_damaged_file_is_a_reading_or_one_line(kind: str) -> None:
    counts, failures, _, memory = study(kind, 30, 9_000, patience=120.0)
    assert failures == [] and counts["read"] + counts["refused"] == 30 and memory < 2e9


@pytest.mark.independent(how="OpenImageIO's own reading of the same headers")
@pytest.mark.parametrize("kind", ["dpx", "exr", "png"])
def test_sizes_in_headers_are_those_the_library_reads(tmp_path: Path, kind: str) -> None:
    import OpenImageIO as oiio

    written(tmp_path / f"a.{kind}", kind)
    spec = oiio.ImageInput.open(str(tmp_path / f"a.{kind}")).spec()
    found = {"dpx": dpx_size, "exr": exr_size, "png": png_size}[kind](tmp_path / f"a.{kind}")
    bits = spec.get_int_attribute("oiio:BitsPerSample", spec.format.size() * 8)
    assert found == (spec.width, spec.height, spec.nchannels, bits)


@pytest.mark.parametrize("kind", ["dpx", "exr"])
def test_a_bomb_is_refused_by_its_header_alone(
    tmp_path: Path, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / f"a.{kind}"
    written(file, kind)
    content = bytearray(file.read_bytes())
    if kind == "dpx":
        order = ">" if content.startswith(b"SDPX") else "<"
        struct.pack_into(order + "II", content, 772, 60_000, 60_000)
    else:
        at = content.index(b"dataWindow\0box2i\0") + len(b"dataWindow\0box2i\0") + 4
        struct.pack_into("<4i", content, at, 0, 0, 59_999, 59_999)
    file.write_bytes(content)
    monkeypatch.setattr(Guard, "decodes", lambda self, path: pytest.fail("the file was decoded"))
    with pytest.raises(Unusable, match="60000 × 60000"):
        load(file)


@pytest.mark.parametrize("kind", ["dpx", "exr", "png", "jxl"])
def test_a_file_that_stops_its_library_stops_another_process_only(
    tmp_path: Path, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from wetside.store.scans import guard as module
    from wetside.store.scans import header as judging
    from wetside.store.scans import load as loading

    written(tmp_path / f"a.{kind}", kind)
    written(tmp_path / f"b.{kind}", kind)
    dying = module.PROGRAM.replace(
        '    said = "bad"\n    try:',
        '    import os; "a." in path and os.abort()\n    said = "bad"\n    try:',
        1,
    )
    assert dying != module.PROGRAM
    monkeypatch.setattr(module, "PROGRAM", dying)
    own = Guard()
    monkeypatch.setattr(loading, "guard", own)
    monkeypatch.setattr(judging, "guard", own)
    with pytest.raises(Unusable, match="damaged"):
        load(tmp_path / f"a.{kind}")
    assert load(tmp_path / f"b.{kind}").pixels.shape == (64, 96, 3)


def test_one_process_serves_many_files_and_is_replaced_when_it_ends(tmp_path: Path) -> None:
    guard = Guard()
    written(tmp_path / "a.exr", "exr")
    (tmp_path / "b.exr").write_bytes((tmp_path / "a.exr").read_bytes()[:200])
    assert guard.decodes(tmp_path / "a.exr") and not guard.decodes(tmp_path / "b.exr")
    first = guard._child
    assert guard.decodes(tmp_path / "a.exr") and guard._child is first
    assert first is not None
    first.kill()
    first.wait()
    assert guard.decodes(tmp_path / "a.exr") and guard._child is not first
    guard._end()


@pytest.mark.independent(how="files cut at a known place: what is said to be missing is what was cut away")
@pytest.mark.parametrize("kind", KINDS)
def test_a_file_cut_short_says_how_much_is_missing(
    tmp_path: Path, kind: str, capfd: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / f"a.{kind}"
    written(file, kind)
    content = file.read_bytes()
    assert isinstance(scan_or_finding(file), Scan)
    head = {"dpx": 8192, "jpg": content.find(b"\xff\xda")}.get(kind, 0)
    step = 0.26 if kind == "jpg" else 0.16  # a row of blocks is a quarter of this picture
    for kept in (1 / 3, 2 / 3, 0.95):
        file.write_bytes(content[: head + int(kept * (len(content) - head))])
        said = scan_or_finding(file)
        assert isinstance(said, Finding) and said.where == file.name and said.say.startswith("cut off: ")
        share = re.search(r"last (\d+) %", said.say)
        if share is not None:
            assert int(share[1]) / 100 == pytest.approx(1 - kept, abs=step)
    assert capfd.readouterr().err == ""


@pytest.mark.independent(
    how="files whose end is zeros, as a copy leaves it that makes room first and breaks off"
)
@pytest.mark.parametrize("kind", KINDS)
def test_a_file_whose_end_is_zeros_is_refused(tmp_path: Path, kind: str) -> None:
    file = tmp_path / f"a.{kind}"
    written(file, kind)
    content = file.read_bytes()
    kept = len(content) // 2
    file.write_bytes(content[:kept] + bytes(len(content) - kept))
    said = scan_or_finding(file)
    assert isinstance(said, Finding) and re.search("cut off|broken off", said.say)


def test_grey_below_is_no_picture_and_a_holder_is_none_of_it() -> None:
    rng = np.random.default_rng(5)
    film = (30000 + 300 * rng.standard_normal((400, 300, 3))).astype(np.uint16)
    broken, holder, light = film.copy(), film.astype(np.float32), film.copy()
    broken[250:] = 0
    holder[300:] = 0
    held = cv2.GaussianBlur(holder, (0, 0), 0.7).astype(np.uint16)
    light[300:] = 65535
    assert blank_below(Scan("a", broken, 65535.0, 16, "linear")) == pytest.approx(150 / 400)
    cut = film.copy()
    cut[:30] = cut[350:] = 0  # a rim that an unsharp mask made black from one row to the next, on both sides
    for good in (film, held, light, cut):
        assert blank_below(Scan("a", good, 65535.0, 16, "linear")) == 0.0
    grey = (film >> 8).astype(np.uint8)
    grey[200:] = 128
    assert blank_below(Scan("a", grey, 255.0, 8, "gamma")) == pytest.approx(0.5)


def test_remarks_of_libraries_stay_off_the_screen(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    written(tmp_path / "a.tif", "tif")
    content = bytearray((tmp_path / "a.tif").read_bytes())
    content[22:24] = np.array([3584], "<u2").tobytes()
    (tmp_path / "a.tif").write_bytes(content)
    with pytest.raises(Unusable):
        header(tmp_path / "a.tif")
    assert capfd.readouterr().err == ""


def test_a_large_picture_in_a_tiny_file_is_refused(tmp_path: Path) -> None:
    written(tmp_path / "a.tif", "tif")
    import tifffile

    with tifffile.TiffFile(tmp_path / "a.tif", mode="r+b") as tiff:
        tiff.pages[0].tags[256].overwrite(12_000)
        tiff.pages[0].tags[257].overwrite(12_000)
    with pytest.raises(Unusable, match="more than so small a file can hold"):
        header(tmp_path / "a.tif")


def test_a_row_that_breaks_off_in_its_middle_tells_a_small_loss() -> None:
    rng = np.random.default_rng(6)
    film = (30000 + 300 * rng.standard_normal((400, 300, 3))).astype(np.uint16)
    lost = film.copy()
    lost[397, 140:] = lost[398:] = 0
    assert blank_below(Scan("a", lost, 65535.0, 16, "linear")) == pytest.approx(2 / 400)
    rim = film.copy()
    rim[398:] = 0  # begins with a row, as a narrow rim may
    assert blank_below(Scan("a", rim, 65535.0, 16, "linear")) == 0.0
    log = (10 ** -(0.2 + 0.01 * rng.standard_normal((400, 300, 3)))).astype(np.float32)
    light, blank = log.copy(), np.float32(10 ** (95 / 500))
    log[300:] = blank
    assert blank_below(Scan("a", log, 1.0, 10, "log")) == pytest.approx(100 / 400)
    light[100:140, 100:140] = light[300:] = (
        blank  # bare light past the film, which a lens blurs, and through a hole
    )
    light[280:320] = cv2.GaussianBlur(light, (0, 0), 0.7)[280:320]
    assert blank_below(Scan("a", light, 1.0, 10, "log")) == 0.0
