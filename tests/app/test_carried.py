"""A figure carried to a shoot is held against what the card says later."""

from __future__ import annotations

from pathlib import Path

import pytest

from wetside.app.sensitometry import carried as module
from wetside.book.kinds import StockNoted
from wetside.figures.finding import Unusable
from wetside.store.ledger import Ledger


def card(value: float) -> dict:
    return {
        "cannot_say": None,
        "working_ei": {"value": value, "rounded": None},
        "speed": {"spread_stops": 0.1},
    }


def test_a_carried_index_holds_until_the_card_leaves_both_spreads(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Ledger.open(tmp_path) as book:
        book.append(StockNoted(stock="OWN50"), happened_at=1.0)
    monkeypatch.setattr(module, "stock", lambda *_: card(64.0))
    monkeypatch.setattr(module, "stocks", lambda _: [{"stock": "OWN50", "scale": "R7"}])
    module.carry(tmp_path, "OWN50")
    assert module.carried(tmp_path, "OWN50", card(68.0))[0]["moved"] == 0.0  # 0.09 stop
    assert module.carried(tmp_path, "OWN50", card(32.0))[0]["moved"] == pytest.approx(-1.0)
    assert module.carried(tmp_path, "OWN50", None)[0]["moved"] is None


def test_without_a_card_nothing_is_carried(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "stock", lambda *_: {"cannot_say": "no grey scale"})
    with pytest.raises(Unusable, match="no figure to carry: no grey scale"):
        module.carry(tmp_path, "OWN50")
