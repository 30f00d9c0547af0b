"""Long sequences: a few frames read in full, the others measured for exposure and base, and the answer says which."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from benchmarks.sequences import BASE, sequence

from wetside.app.reading import sequence as app
from wetside.app.reading.read import ReadOptions, read
from wetside.app.schemas import schema
from wetside.app.viewing import glass
from wetside.cli.main import main
from wetside.figures.finding import Unusable

FRAMES = 40


@pytest.fixture(scope="module")
def reel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("reel") / "scans" / "M1"
    sequence(folder, FRAMES, 384, 292)
    return folder


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(app, "LONG", 20)
    monkeypatch.setattr(app, "IN_FULL", 6)


@pytest.mark.independent(how="an exposure of 0.15 D and a damaged file planted in the last third")
def test_what_is_wrong_with_any_frame_is_found(reel: Path) -> None:
    found = app.read_long(reel, ReadOptions(gauge="16cine"))
    assert len(found.frames) == FRAMES - 1 and sum(frame.in_full for frame in found.frames) == 6
    by_id = {one.id: one for one in found.findings}
    assert by_id["frame-unreadable"].where == "m00031.tif"
    assert "m00030.tif" in by_id["exposure-moves"].say and "+0.15 D" in by_id["exposure-moves"].found
    assert "6 of 40" in by_id["sequence-sampled"].say
    moved = next(frame for frame in found.frames if frame.file == "m00030.tif")
    assert moved.shift == pytest.approx(0.15, abs=0.01) and not moved.in_full and moved.sha256


@pytest.mark.independent(how="the same frames read in full")
def test_a_frame_measured_alone_has_the_base_that_its_full_reading_has(reel: Path) -> None:
    sampled = app.read_long(reel, ReadOptions(gauge="16cine", marks=False))
    whole = read(reel, ReadOptions(gauge="16cine", marks=False))
    assert sampled.base is not None and whole.base is not None
    assert np.allclose(sampled.base.density, BASE, atol=0.01)
    by_file = {frame.file: frame for frame in whole.frames}
    for frame in sampled.frames:
        other = by_file[frame.file]
        assert frame.base is not None and other.base is not None and frame.sha256 == other.sha256
        assert np.allclose(frame.base, other.base, atol=0.01)
        assert np.abs(np.subtract(frame.picture, other.picture)).max() <= 4


def test_a_stretch_is_read_in_full_on_demand(reel: Path) -> None:
    found = app.read_long(reel, ReadOptions(marks=False), [(11, 14)])
    assert {f"m{n:05d}.tif" for n in range(11, 15)} <= {f.file for f in found.frames if f.in_full}
    with pytest.raises(Unusable, match="11 to 99 of 40"):
        app.in_full(FRAMES, [(11, 99)])


def test_frames_keep_their_numbers_along_the_film(reel: Path) -> None:
    found = app.read_long(reel, ReadOptions(gauge="16cine"))
    whole = read(reel, ReadOptions(gauge="16cine"))
    places = {f.file: [m.film_mm for m in f.marks] for f in whole.frames}
    for frame in found.frames:
        if frame.in_full:
            assert [m.film_mm for m in frame.marks] == pytest.approx(places[frame.file], abs=1.0)


def test_a_short_folder_is_read_whole(reel: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(app, "LONG", 200)
    found = app.read_long(reel, ReadOptions(marks=False))
    assert all(frame.in_full for frame in found.frames)


def test_the_command_says_what_was_sampled(reel: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", str(reel), "--in-full", "3-4", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    jsonschema.validate(said, schema("read")["json_schema"])
    assert [f["in_full"] for f in said["frames"]].count(True) in (7, 8)
    assert main(["read", str(reel), "--in-full", "3-4"]) == 0
    assert "frames of which exposure and base were measured" in capsys.readouterr().out
    assert main(["read", str(reel), "--in-full", "3-x"]) == 2


def test_the_strip_shows_a_window_of_a_long_sequence(reel: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(glass, "LONG", 20)
    monkeypatch.setattr(glass, "AROUND", 4)
    home = reel.parents[1]
    strip = glass.strip(home, "M1", 25)
    assert [f["number"] for f in strip["frames"]] == list(range(21, 30)) and strip["count"] == FRAMES
    assert [f["number"] for f in glass.strip(home, "M1", 40)["frames"]] == list(range(32, 41))
    assert [f["number"] for f in glass.strip(home, "M1", 1)["frames"]] == list(range(1, 10))
