"""Files of one roll in several folders: read as one roll, added to a roll of the book, and kept as lines that go round."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from benchmarks.rolls import Setting, roll

from wetside.app.faults.more_scans import add_scans
from wetside.app.reading.read import ReadOptions, read
from wetside.book.line import Thing
from wetside.cli.main import main
from wetside.figures.finding import Unusable
from wetside.store.ledger import Ledger
from wetside.store.scans.folder import listing, natural_key
from wetside.store.scans.gather import gathered, names_after


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One roll of six frames with its open gate, as n1.tif … n6.tif."""
    folder = tmp_path_factory.mktemp("whole")
    roll(folder, Setting("135", frames=6, fine=12.0), 17)
    return folder


def parted(
    whole: Path, place: Path, second: tuple[str, ...] = ("n4.tif", "n5.tif", "n6.tif"), rename: bool = False
) -> list[Path]:
    """The roll in two folders; with `rename` the second begins at n1.tif again, as a scanner's second batch does."""
    one, two = place / "monday", place / "friday"
    for folder in (one, two):
        folder.mkdir(parents=True)
    for name in ("n1.tif", "n2.tif", "n3.tif", "open_gate.tif"):
        shutil.copy2(whole / name, one / name)
    for i, name in enumerate(second, 1):
        shutil.copy2(whole / name, two / (f"n{i}.tif" if rename else name))
    return [one, two]


@pytest.mark.independent(how="the same files read from one folder")
@pytest.mark.parametrize("rename", [False, True])
def test_two_folders_read_as_one_roll(whole: Path, tmp_path: Path, rename: bool) -> None:
    alone = read(whole, ReadOptions(gauge="135", marks=False))
    with gathered(parted(whole, tmp_path, rename=rename)) as (folder, said):
        both = read(folder, ReadOptions(gauge="135", marks=False))
    assert [f.sha256 for f in both.frames] == [f.sha256 for f in alone.frames]
    assert both.base is not None and alone.base is not None and both.base.density == alone.base.density
    assert [f.picture for f in both.frames] == [f.picture for f in alone.frames]
    assert ([one.id for one in said] == ["frames-renamed"]) is rename
    assert not folder.exists()


def test_a_file_that_is_there_already_is_taken_once(whole: Path, tmp_path: Path) -> None:
    with gathered(parted(whole, tmp_path, ("n3.tif", "n4.tif"), rename=True)) as (folder, said):
        assert len(listing(folder).frames) == 4
    assert (
        "friday/n1.tif is the same file as n3.tif"
        in next(one for one in said if one.id == "same-file-twice").say
    )


def test_the_second_folders_light_is_named_and_passed_over(whole: Path, tmp_path: Path) -> None:
    folders = parted(whole, tmp_path, ("n4.tif", "n5.tif"))
    shutil.copy2(whole / "n6.tif", folders[1] / "open_gate.tif")
    with gathered(folders) as (folder, said):
        light = listing(folder).open_gate
        assert light is not None and light.read_bytes() == (whole / "open_gate.tif").read_bytes()
    assert [one.id for one in said] == ["light-passed-over"] and "friday/open_gate.tif" in said[0].found


def test_new_names_stand_after_those_that_are_there() -> None:
    there = [Path("zebra 9.tif"), Path("n2.tif")]
    for new in ([Path("a1.tif"), Path("a2.tif")], [Path("9.tif")], [Path("zz.tif")]):
        names = names_after(there, new, 2)
        keys = [natural_key(Path(name)) for name in names]
        assert keys == sorted(keys) and keys[0] > max(natural_key(path) for path in there)


def test_a_folder_is_added_to_a_roll_and_the_lines_go_round(
    whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    home = tmp_path / "book"
    monkeypatch.setenv("WETSIDE_HOME", str(home))
    one, two = parted(whole, tmp_path, ("n3.tif", "n4.tif", "n5.tif"), rename=True)
    shutil.copytree(one, home / "scans" / "R07")
    assert main(["read", "R07", str(two), "--keep", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert [f["file"] for f in said["frames"]] == ["n1.tif", "n2.tif", "n3.tif", "z2_n2.tif", "z2_n3.tif"]
    assert {"scans-added", "same-file-twice", "frames-renamed"} <= {f["id"] for f in said["findings"]}
    with Ledger.open(home) as book:
        lines = [one for one in book.lines(thing=Thing("roll", "R07")) if one.kind == "scan"]
    assert [(one.body["file"], one.body["frame"]) for one in lines] == [("z2_n2.tif", 4), ("z2_n3.tif", 5)]
    assert (home / "scans" / "R07" / "z2_n2.tif").read_bytes() == (whole / "n4.tif").read_bytes()
    assert main(["book", "export", str(tmp_path / "a.txt")]) == 0
    monkeypatch.setenv("WETSIDE_HOME", str(tmp_path / "other"))
    assert (
        main(["book", "import", str(tmp_path / "a.txt")]) == 0
        and main(["book", "export", str(tmp_path / "b.txt")]) == 0
    )
    assert (tmp_path / "a.txt").read_bytes() == (tmp_path / "b.txt").read_bytes()


def test_what_cannot_be_added_is_one_line_and_nothing_is_lost(
    whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "book"
    one, two = parted(whole, tmp_path)
    with pytest.raises(Unusable, match="no scans of 'R07'"):
        add_scans(home, "R07", two)
    shutil.copytree(one, home / "scans" / "R07")
    before = sorted(path.name for path in (home / "scans" / "R07").iterdir())
    monkeypatch.setattr(
        "wetside.store.scans.gather.shutil.copy2",
        lambda a, b: (_ for _ in ()).throw(OSError(28, "No space left")),
    )
    with pytest.raises(Unusable, match="No space left"):
        add_scans(home, "R07", two, move=True)
    assert sorted(path.name for path in (home / "scans" / "R07").iterdir()) == before and two.is_dir()
    assert main(["read", str(one), str(two), "--keep"]) == 2


@pytest.mark.independent(how="pictures of known places")
def test_the_command_reads_folders_in_the_order_given(
    whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one, two = parted(whole, tmp_path)
    assert main(["read", str(two), str(one), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert [f["file"] for f in said["frames"]] == [
        "n4.tif",
        "n5.tif",
        "n6.tif",
        "z2_n1.tif",
        "z2_n2.tif",
        "z2_n3.tif",
    ]
    assert np.isfinite(said["base"]["r"])
