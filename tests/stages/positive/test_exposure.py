"""Rolls exposed wrong, on purpose or by age, through film models: what is said of them, and what is not."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from benchmarks.positives import expired, shouldered, tungsten_in_daylight

from wetside.cli.main import main
from wetside.demo.scenes import scene
from wetside.figures.curves import Curves
from wetside.stages.positive.exposure import age_untold, base_words, exposure_words
from wetside.stages.positive.fit import own_tone
from wetside.store.scans.originals import write_tiff16

FILES = [f"e{i}.tif" for i in range(6)]
FILMS = {"usual": shouldered, "tungsten": tungsten_in_daylight, "expired": expired}


def pieces(film: str = "usual", stops: float = 0.0) -> list[np.ndarray]:
    rng = np.random.default_rng(5)
    views = [scene(f"photo {i}", 220, 150, rng)[0] for i in range(6)]
    return [FILMS[film](np.log10(np.maximum(view, 1e-4)) + 0.30103 * stops) for view in views]


def said(film: str = "usual", stops: float = 0.0) -> dict[str, str]:
    return {word.id: word.say for word in exposure_words(pieces(film, stops), FILES, None)}


@pytest.mark.independent(how="photographs exposed on film models that share nothing with the words")
def test_a_roll_exposed_as_meant_is_left_in_peace_and_wrong_ones_are_said() -> None:
    assert said() == {}
    assert "lift" in said(stops=-3.5)["under-exposed"] and "over-exposed" not in said(stops=-3.5)
    assert "roll off" in said(stops=3)["over-exposed"] and "under-exposed" not in said(stops=3)
    words = said("tungsten")
    assert "tungsten stock in daylight" in words["layers-apart"] and words["layers-apart"].startswith(
        "the blue layer"
    )


def test_a_base_that_stands_in_and_a_gate_of_another_light_are_named() -> None:
    orange, blue_gate = np.array([0.2, 0.55, 0.8]), np.array([0.28, 0.50, 0.40])
    assert base_words(orange, True, True) == [] and base_words(blue_gate, True, False) == []
    (stand_in,) = base_words(orange, False, True)
    (unusual,) = base_words(blue_gate, True, True)
    assert stand_in.severity == "warning" and "guess" in stand_in.say and "g 0.55" in stand_in.found
    assert unusual.where == "open gate" and "another light" in unusual.say


@pytest.mark.independent(how="the grey wedge of two film models as curves: one fresh, one aged")
def test_flat_curves_of_an_expired_stock_are_said_by_the_own_door() -> None:
    log_h = np.linspace(-3.4, 1.2, 60)
    for film, expected in (("usual", False), ("expired", True)):
        grey = FILMS[film](np.tile(log_h[:, None], 3))
        layers = dict(enumerate("rgb"))
        curves = Curves(
            {c: tuple(log_h) for c in "rgb"},
            {c: tuple(grey[:, i]) for i, c in layers.items()},
            {c: (0.0,) * len(log_h) for c in "rgb"},
            "wedge",
        )
        tone = own_tone(curves, np.concatenate([p.reshape(-1, 3) for p in pieces(film)]))
        ids = [word.id for word in exposure_words(pieces(film), FILES, tone)]
        assert age_untold(tone) is None and age_untold(None) is not None
        assert ("flat-curves" in ids) is expected, (film, tone.gradients)


def test_an_under_exposed_roll_says_so_on_the_command_line_and_beside_the_pictures(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for i, piece in enumerate(pieces(stops=-4)[:3]):
        density = np.tile(np.array([0.2, 0.55, 0.8]), (210, 280, 1))
        density[30:180, 30:250] += piece
        codes = 10**-density * 55000
        codes += np.random.default_rng(i).standard_normal(codes.shape) * np.sqrt(codes * 0.1)
        write_tiff16(tmp_path / f"e{i}.tif", codes.clip(0, 65535).astype(np.uint16))
    write_tiff16(tmp_path / "open_gate.tif", np.full((210, 280, 3), 55000, np.uint16))
    assert main(["positive", str(tmp_path), "--out", str(tmp_path / "out"), "--as", "jpeg"]) == 0
    assert "under-exposed" in capsys.readouterr().out
    sheet = json.loads((tmp_path / "out" / "positive.json").read_text())
    assert any(say.startswith("under-exposed") for say in sheet["exposure"])
    page = " ".join((tmp_path / "out" / "positive.txt").read_text().split())
    assert "under-exposed" in page and "whether the stock has aged" in page
    assert "grey scale" in sheet["untold"]["would_help"]
    assert main(["positive", str(tmp_path), "--out", str(tmp_path / "out"), "--as", "jpeg"]) == 0
    again = capsys.readouterr().out
    assert "finished before" in again and "under-exposed" in again
