"""Cards of the book's stocks: read once, kept while no file of theirs changes."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from wetside.app.sensitometry import stock as module
from wetside.book.kinds import RollLoaded, StockNoted
from wetside.store.ledger import Ledger


def test_a_card_is_kept_until_a_file_changes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "scans" / "R7"
    folder.mkdir(parents=True)
    sidecar = folder / module.SIDECAR
    sidecar.write_text("{}", encoding="utf-8")
    with Ledger.open(tmp_path) as book:
        book.append(StockNoted(stock="OWN50"), happened_at=1.0)
        book.append(RollLoaded(roll="R7", stock="OWN50", gauge="135"), happened_at=2.0)
    reads = []
    monkeypatch.setattr(module, "_card", lambda *_: reads.append(1) or {"curve": None, "times": len(reads)})
    assert module.stocks(tmp_path)[0]["card"] is None and module.stocks(tmp_path)[0]["scale"] == "R7"
    assert [module.stock("OWN50", tmp_path)["times"] for _ in range(2)] == [1, 1]
    assert module.stocks(tmp_path)[0]["card"] == {"curve": None, "times": 1}
    told = sidecar.stat()
    os.utime(sidecar, ns=(told.st_atime_ns, told.st_mtime_ns + 1_000_000))
    assert module.stock("OWN50", tmp_path)["times"] == 2
