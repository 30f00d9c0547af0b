"""Damaged files of every format, some hundred of them here; thousands by `python -m benchmarks.damaged`."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
from benchmarks.damaged import KINDS, study, written

from wetside.figures.finding import Unusable
from wetside.store.scans.guard import Guard
from wetside.store.scans.headers import dpx_size, exr_size, png_size
from wetside.store.scans.load import header, load


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
    monkeypatch.setattr(loading, "guard", Guard())
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


def test_a_raw_file_cut_short_is_named_so(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    written(tmp_path / "a.dng", "dng")
    content = (tmp_path / "a.dng").read_bytes()
    (tmp_path / "a.dng").write_bytes(content[:-300])
    with pytest.raises(Unusable, match="truncated"):
        load(tmp_path / "a.dng")
    assert capfd.readouterr().err == ""


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
