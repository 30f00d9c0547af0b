"""An interrupted roll goes on: nothing finished is made twice, nothing changed is kept, nothing of the user's is lost."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
import tifffile

from wetside.app.printing import frames as frames_module
from wetside.app.printing.crew import alone, crew
from wetside.app.printing.frames import Printer
from wetside.app.printing.positive import PositiveOptions, positive
from wetside.figures.finding import Unusable
from wetside.store.scans import stamps
from wetside.store.scans.journal import PLACE, Journal, held
from wetside.store.scans.originals import write_tiff16
from wetside.store.scans.sinks import StoreSlip
from wetside.store.scans.stamps import sha256
from wetside.store.spool import Spool

BASE = np.array([0.2, 0.55, 0.8])


def scan(seed: int, height: int = 120, width: int = 180) -> np.ndarray:
    """A frame with rebate at both edges and a picture of soft blobs."""
    rng = np.random.default_rng(seed)
    density = np.tile(BASE, (height, width, 1))
    soft = rng.uniform(0.2, 1.0, (6, 8))
    density[20:-20, 10:-10] += np.kron(soft, np.ones((16, 20)))[: height - 40, : width - 20, None]
    return np.round(10**-density * 60000 + rng.normal(0, 20, density.shape)).clip(0, 65535).astype(np.uint16)


@pytest.fixture
def roll(tmp_path: Path) -> Path:
    folder = tmp_path / "R01"
    folder.mkdir()
    for number in range(1, 7):
        write_tiff16(folder / f"f{number}.tif", scan(number))
    write_tiff16(folder / "open_gate.tif", np.full((120, 180, 3), 60000, np.uint16))
    return folder


def content(out: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in out.iterdir() if p.is_file() and p.name != "positive.json"}


def kept(found: dict) -> list[str]:
    return [f["file"] for f in found["frames"] if f["kept"]]


@pytest.mark.independent(how="a run broken off after two frames and gone on with, against one in one go")
def test_a_broken_off_roll_goes_on_and_ends_the_same(
    roll: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = positive(roll, PositiveOptions(tmp_path / "whole", negative="tiff"))
    assert whole["kept"] == 0
    made: list[str] = []
    real = Printer.frame

    def breaks(self: Printer, path: Path) -> dict:
        if len(made) == 2:
            raise KeyboardInterrupt
        made.append(path.name)
        return real(self, path)

    monkeypatch.setattr(Printer, "frame", breaks)
    with pytest.raises(KeyboardInterrupt):
        positive(roll, PositiveOptions(tmp_path / "out", negative="tiff"))
    monkeypatch.setattr(Printer, "frame", real)
    found = positive(roll, PositiveOptions(tmp_path / "out", negative="tiff"))
    assert kept(found) == ["f1.tif", "f2.tif"] and len(found["frames"]) == 6
    assert content(tmp_path / "out") == content(tmp_path / "whole")


def test_only_what_changed_is_printed_again(roll: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    positive(roll, PositiveOptions(out))
    before = {p.name: p.stat().st_mtime_ns for p in out.glob("f*.tif")}
    assert len(kept(positive(roll, PositiveOptions(out)))) == 6
    trimmed = positive(roll, PositiveOptions(out, trims={"f3.tif": (0.1, 0.0, 0.0)}))
    assert [f["file"] for f in trimmed["frames"] if not f["kept"]] == ["f3.tif"]
    after = {p.name: p.stat().st_mtime_ns for p in out.glob("f*.tif")}
    assert [name for name in after if after[name] != before[name]] == ["f3.tif"]
    again = positive(roll, PositiveOptions(out, door="exchange"))
    assert kept(again) == []


@pytest.mark.independent(how="the hash of the bytes that were printed")
def test_a_scan_replaced_while_its_roll_is_printed_is_known_by_its_own_hash(
    roll: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stamps, "SETTLED", -3_600_000_000_000)
    told: dict[str, str] = {}

    def crew(place: Path, key: str, files: Sequence[Path]) -> Iterator[dict]:
        write_tiff16(roll / "f2.tif", scan(9))
        for found in alone(place, key, files):
            told[found["file"]] = found["sha256"]
            yield found

    before = {path.name: sha256(path) for path in roll.glob("f*.tif")}
    positive(roll, PositiveOptions(tmp_path / "out", crew=crew))
    assert told["f2.tif"] == sha256(roll / "f2.tif") != before["f2.tif"]
    assert {name: told[name] for name in before if name != "f2.tif"} == {
        name: found for name, found in before.items() if name != "f2.tif"
    }


def test_a_picture_the_user_changed_is_not_replaced_unasked(roll: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    positive(roll, PositiveOptions(out))
    (out / "f2.tif").write_bytes(b"retouched")
    with pytest.raises(Unusable, match="overwrite"):
        positive(roll, PositiveOptions(out))
    assert (out / "f2.tif").read_bytes() == b"retouched"


def test_a_torn_journal_and_half_files_of_a_crash_do_no_harm(roll: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    positive(roll, PositiveOptions(out))
    file = out / PLACE / "journal.jsonl"
    lines = file.read_text().splitlines()
    file.write_text("\n".join(lines[:5]) + "\n" + lines[5][:40])
    for name in ("f5.tif", "f5.cdl", "f6.tif", "f6.cdl", "positive.clf", "positive.json", "positive.txt"):
        (out / name).unlink()
    (out / ".f5.99999.part.tif").write_bytes(b"half")
    found = positive(roll, PositiveOptions(out))
    assert len(kept(found)) == 4 and not list(out.glob(".*part*"))
    assert len(kept(positive(roll, PositiveOptions(out)))) == 6
    (out / PLACE / "recipe.npz").write_bytes(b"PK damaged")
    assert len(kept(positive(roll, PositiveOptions(out)))) == 6


def test_a_crash_between_the_files_of_a_frame_does_not_block_the_next_run(
    roll: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    real = frames_module.write_text

    def dies(path: Path, text: str) -> None:
        if path.name == "f3.cdl":
            raise KeyboardInterrupt
        real(path, text)

    monkeypatch.setattr(frames_module, "write_text", dies)
    with pytest.raises(KeyboardInterrupt):
        positive(roll, PositiveOptions(out, negative="tiff"))
    monkeypatch.setattr(frames_module, "write_text", real)
    assert (out / "f3.negative.tif").exists() and not (out / "f3.cdl").exists()
    (out / "f4.tif").write_bytes(b"mine, from long ago")
    os.utime(out / "f4.tif", (1e9, 1e9))
    with pytest.raises(Unusable, match="overwrite"):
        positive(roll, PositiveOptions(out, negative="tiff"))
    (out / "f4.tif").unlink()
    assert kept(positive(roll, PositiveOptions(out, negative="tiff"))) == ["f1.tif", "f2.tif"]


def test_a_frame_that_cannot_be_written_leaves_nothing(
    roll: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = frames_module.write_text

    def full(path: Path, text: str) -> None:
        if path.name == "f3.cdl":
            raise StoreSlip("could not be written: no room", str(path))
        real(path, text)

    monkeypatch.setattr(frames_module, "write_text", full)
    with pytest.raises(Unusable, match="2 of 6 frames are finished"):
        positive(roll, PositiveOptions(tmp_path / "out", negative="tiff"))
    assert not list((tmp_path / "out").glob("f3*"))


def test_two_printings_into_one_folder_are_one_line(roll: Path, tmp_path: Path) -> None:
    with held(tmp_path / "out"), pytest.raises(Unusable, match="another printing"):
        positive(roll, PositiveOptions(tmp_path / "out"))


@pytest.mark.parametrize("name", ["F1.TIF", "f1.dng"])
def test_names_that_would_collide_are_one_line(roll: Path, tmp_path: Path, name: str) -> None:
    shutil.copy(roll / "f1.tif", roll / name)
    with pytest.raises(Unusable, match="would both be written"):
        positive(roll, PositiveOptions(tmp_path / "out"))
    assert not (tmp_path / "out").exists()


def test_a_scan_is_never_printed_over(roll: Path) -> None:
    before = (roll / "f1.tif").read_bytes()
    with pytest.raises(Unusable, match="is a scan"):
        positive(roll, PositiveOptions(roll, overwrite=True))
    assert (roll / "f1.tif").read_bytes() == before


def test_a_place_that_is_no_folder_is_one_line(roll: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("here")
    with pytest.raises(Unusable, match="cannot be written"):
        positive(roll, PositiveOptions(tmp_path / "file" / "out"))


@pytest.mark.independent(how="the kernel's own limit on the size of a file, in a process of its own")
def test_a_store_that_takes_no_more_stops_in_one_line_and_keeps_what_is_finished(
    roll: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from wetside.cli.main import main

    out = tmp_path / "out"
    monkeypatch.setenv("WETSIDE_HOME", str(tmp_path / "home"))
    assert main(["positive", str(roll), "--out", str(out)]) == 0
    (out / "f4.tif").unlink()
    call = (
        "import resource, sys\nfrom wetside.cli.main import main\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))\n"
        f"sys.exit(main(['positive', {str(roll)!r}, '--out', {str(out)!r}, '--workers', '1', '--plain']))"
    )
    done = subprocess.run([sys.executable, "-c", call], capture_output=True, text=True, check=False)
    said = done.stderr.strip().splitlines()
    assert done.returncode == 2 and len(said) == 1, done.stderr
    assert "5 of 6 frames are finished" in said[0]
    assert not (out / "f4.tif").exists() and not list(out.glob(".*part*"))
    assert main(["positive", str(roll), "--out", str(out)]) == 0
    assert "5 of them were finished before" in capsys.readouterr().out


@pytest.mark.independent(how="frame after frame, byte by byte")
def test_frames_side_by_side_make_the_same_pictures(roll: Path, tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    positive(roll, PositiveOptions(one, negative="dpx"))
    (roll / "f4.tif").write_bytes((roll / "f4.tif").read_bytes()[:3000])
    by = PositiveOptions(two, negative="dpx", crew=lambda at, key, files: crew(at, key, files, 2))
    found = positive(roll, by)
    assert [f["file"] for f in found["frames"]] == [f"f{i}.tif" for i in (1, 2, 3, 5, 6)]
    assert "frame-not-printed" in [f["id"] for f in found["findings"]]
    # The damaged frame changes the roll's sample, so the same five are compared with a run frame after frame on them.
    positive(roll, PositiveOptions(tmp_path / "again", negative="dpx"))
    assert content(two) == content(tmp_path / "again")
    assert content(one).keys() - content(two).keys() == {"f4.tif", "f4.cdl", "f4.negative.dpx"}


@pytest.mark.independent(how="the program ended by the kernel while two frames are printed, byte by byte")
def test_a_printing_that_is_killed_goes_on_and_ends_the_same(roll: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    positive(roll, PositiveOptions(tmp_path / "whole", negative="tiff"))
    call = (
        "import os, sys\nfrom pathlib import Path\nfrom wetside.app.printing import frames\n"
        "from wetside.app.printing.positive import PositiveOptions, positive\n"
        "real = frames.write_text\n"
        "def deadly(path, text):\n"
        "    if path.name == 'f4.cdl':\n        os.kill(os.getpid(), 9)\n"
        "    real(path, text)\n"
        "frames.write_text = deadly\n"
        f"positive(Path({str(roll)!r}), PositiveOptions(Path({str(out)!r}), negative='tiff', workers=2))\n"
    )
    done = subprocess.run([sys.executable, "-c", call], capture_output=True, check=False)
    assert done.returncode == -signal.SIGKILL and (out / "f4.tif").exists()
    assert 2 <= len(kept(positive(roll, PositiveOptions(out, negative="tiff", workers=2)))) < 5
    assert content(out) == content(tmp_path / "whole")


@pytest.mark.independent(how="a list")
def test_a_spool_is_a_list_wherever_its_items_lie() -> None:
    spool: Spool[np.ndarray] = Spool(room=1000)
    for i in range(20):
        spool.append(np.full(50, i), 400)
    assert [int(a[0]) for a in spool] == list(range(20))
    assert int(spool[-1][0]) == 19 and [int(a[0]) for a in spool[::7]] == [0, 7, 14]
    with pytest.raises(IndexError):
        spool[20]


def test_a_damaged_frame_of_a_roll_without_rebate_is_named_and_the_rest_is_done(tmp_path: Path) -> None:
    for number in range(1, 4):
        write_tiff16(tmp_path / f"f{number}.tif", scan(number)[22:-22, 12:-12])
    (tmp_path / "f2.tif").write_bytes((tmp_path / "f2.tif").read_bytes()[:9000])
    found = positive(tmp_path, PositiveOptions(tmp_path / "out"))
    assert found["base"] is None and [frame["file"] for frame in found["frames"]] == ["f1.tif", "f3.tif"]
    assert any(one["where"] == "f2.tif" and "cut off" in one["say"] for one in found["findings"])


def test_a_journal_takes_lines_that_are_no_lines(tmp_path: Path) -> None:
    (tmp_path / PLACE).mkdir()
    (tmp_path / PLACE / "journal.jsonl").write_text('[]\n{"file": 3}\nnull\n{"file": "a", "key": "k"}\n')
    assert Journal(tmp_path).finished("a", "k", ["a.tif"]) is None


def test_the_command_prints_with_the_books_lights_unless_told_not_to(
    roll: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from wetside.app.printing.trims import keep_trims
    from wetside.cli.main import main

    monkeypatch.setenv("WETSIDE_HOME", str(tmp_path / "home"))
    assert main(["positive", str(roll), "--out", str(tmp_path / "a")]) == 0
    keep_trims(tmp_path / "home", "R01", {"f2.tif": (0.1, 0.1, 0.1), "": (0.0, 0.0, 0.05)}, {"f2.tif"})
    assert main(["positive", str(roll), "--out", str(tmp_path / "b")]) == 0
    assert "1 frame trimmed, balance r g b +0.000  +0.000  +0.050 D" in capsys.readouterr().out
    assert main(["positive", str(roll), "--out", str(tmp_path / "c"), "--plain"]) == 0
    plain, lit = content(tmp_path / "a"), content(tmp_path / "b")
    assert all(plain[name] != lit[name] for name in plain if name.startswith("f"))
    assert content(tmp_path / "c") == plain


@pytest.mark.independent(
    how="one frame scanned at another exposure, planted; the rebate of its evened negative measured"
)
def test_a_frame_scanned_at_another_exposure_is_brought_to_the_rolls(roll: Path, tmp_path: Path) -> None:
    write_tiff16(roll / "f3.tif", np.round(scan(3) * 10**-0.03).astype(np.uint16))
    found = positive(roll, PositiveOptions(tmp_path / "out", negative="tiff"))
    named = [f["where"] for f in found["findings"] if f["id"] == "exposure-not-locked"]
    assert named == ["f3.tif"]
    rebates = [
        -np.log10(
            tifffile.imread(tmp_path / "out" / f"f{i}.negative.tif")[3:15, 30:150].mean(axis=(0, 1)) / 65535
        )
        for i in range(1, 7)
    ]
    assert np.ptp(rebates, axis=0).max() < 0.01
    assert found["consistency"]["worst"] < 0.01 and found["consistency"]["frames"] == 6


def test_files_of_a_run_that_never_finished_count_as_own_and_never_as_finished(tmp_path: Path) -> None:
    from wetside.store.scans.journal import Journal, held

    names = ["f1.tif", "f1.cdl"]
    with held(tmp_path):
        journal = Journal(tmp_path)
        for name in names:
            (tmp_path / name).write_text("old")
        journal.add("f1", "key", names, {"file": "f1"})
        past = (tmp_path / "f1.cdl").stat().st_mtime_ns - 60_000_000_000
        os.utime(tmp_path / "f1.cdl", ns=(past, past))
        journal.add("f1", "key", names, {"file": "f1"})
        journal.begin(names)
        assert Journal(tmp_path).finished("f1", "key", names) == {"file": "f1"}
        (tmp_path / "f1.tif").write_text("half of another printing")
        again = Journal(tmp_path)
        assert all(again.own(name) for name in names)
        assert again.finished("f1", "key", names) is None
