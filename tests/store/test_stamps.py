"""A file counts as the one that was hashed only while nothing of it can have changed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from wetside.store.scans import stamps
from wetside.store.scans.stamps import hash_known, settled_stamps, stamp_of


@pytest.mark.independent(how="a file changed in every way its size and its given times do not show")
def test_a_file_that_was_changed_is_hashed_again_even_when_its_times_are_put_back(tmp_path: Path) -> None:
    file = tmp_path / "a.tif"
    file.write_bytes(b"one")
    before = file.stat()
    told = {"a.tif": ("hash", *(stamp_of(file) or ()))}
    assert hash_known(file, told) == "hash"
    while file.stat().st_ctime_ns == before.st_ctime_ns:  # until the store's clock has gone on
        file.write_bytes(b"two")
        os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert file.stat().st_mtime_ns == before.st_mtime_ns and file.stat().st_size == before.st_size
    assert hash_known(file, told) is None
    file.unlink()
    assert hash_known(file, told) is None and hash_known(tmp_path / "b.tif", told) is None


def test_a_file_that_changed_just_now_is_not_vouched_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "a.tif"
    file.write_bytes(b"one")
    monkeypatch.setattr(stamps, "SETTLED", 3_600_000_000_000)
    assert settled_stamps([file, tmp_path / "none.tif"]) == {}
    monkeypatch.setattr(stamps, "SETTLED", -3_600_000_000_000)
    assert settled_stamps([file]) == {"a.tif": stamp_of(file)}
