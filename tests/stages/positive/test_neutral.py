"""The fitted door: neutral and slopes by greys, and by what a roll's pictures share."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from wetside.app.printing.positive import PositiveOptions, positive
from wetside.cli.main import main
from wetside.demo.scenes import scene
from wetside.figures.finding import CannotSay
from wetside.figures.place import Rectangle
from wetside.stages.positive.fit import ToneFit, fitted_tone, tone_of_greys
from wetside.stages.positive.neutral import neutral_offsets
from wetside.store.scans.originals import write_tiff16

SLOPES = np.array([0.41, 0.56, 0.61])
LEAN = np.array([0.2, 0.0, -0.15])
STOP = 0.30103


def film(light: np.ndarray) -> np.ndarray:
    """Densities above base of a scene: layers of other slopes and speeds than the fit assumes."""
    x = np.log10(np.maximum(light, 1e-4)) + 1.9 + LEAN
    return np.logaddexp(0, 4 * x) / 4 * SLOPES


def lean_of(tone: ToneFit, stops: tuple[float, ...]) -> np.ndarray:
    """How far red and blue print from green for greys at these exposures [stops]."""
    above = film(0.18 * 2.0 ** np.array(stops)[:, None] * np.ones(3))
    d = np.linspace(0, 4, len(tone.table))
    x = np.stack([np.interp(above[:, i], d, tone.table[:, i]) for i in range(3)], axis=1) / STOP
    return x[:, [0, 2]] - x[:, [1]]


def photographs() -> list[np.ndarray]:
    rng = np.random.default_rng(3)
    return [film(scene(f"photo {i}", 240, 160, rng)[0]) for i in range(6)]


@pytest.mark.independent(
    how="a film of known slopes and speeds; greys between and beyond the two that were named"
)
def test_two_greys_make_all_greys_neutral() -> None:
    greys = film(np.array([0.06, 0.6])[:, None] * np.ones(3))
    tone = tone_of_greys(greys, photographs())
    assert isinstance(tone, ToneFit) and tone.assumed and "2 greys" in tone.say
    assert np.abs(lean_of(tone, (-2, -1, 0, 1, 2))).max() < 0.12
    assert np.abs(lean_of(fitted_tone(photographs()), (0,))).max() > 0.12  # it is the greys that do it


@pytest.mark.independent(how="the same film, a scale of six")
def test_a_grey_scale_does_and_bad_greys_are_refused() -> None:
    scale = film(0.18 * 2.0 ** np.arange(-3, 3)[:, None] * np.ones(3))
    noise = np.random.default_rng(2).normal(0, 0.004, scale.shape)
    tone = tone_of_greys(scale + noise, photographs())
    assert isinstance(tone, ToneFit) and np.abs(lean_of(tone, (-2, -1, 0, 1, 2))).max() < 0.2
    for wrong, why in (
        (scale[:1], "two greys"),
        (scale[3:4].repeat(2, axis=0), "apart"),
        (scale * 0.001, "apart"),
    ):
        found = tone_of_greys(wrong, photographs())
        assert isinstance(found, CannotSay) and why in found.reason


@pytest.mark.independent(
    how="the same pictures exposed through another colour of light: the answer must move by as much"
)
def test_what_the_pictures_share_follows_the_light() -> None:
    rng = np.random.default_rng(1)
    grey = cv2.resize(rng.uniform(0.02, 0.9, (12, 18)), (180, 120), interpolation=cv2.INTER_NEAREST)[
        ..., None
    ] * np.ones(3)
    pieces = [np.log10(grey * rng.uniform(0.6, 1.4)) for _ in range(5)]
    there = [np.ones(p.shape[:2], bool) for p in pieces]
    offsets, apart = neutral_offsets(pieces, there)
    assert np.abs(offsets).max() < 0.02 and apart < 0.05
    lean, _ = neutral_offsets([p + LEAN for p in pieces], there)
    assert lean == pytest.approx(LEAN, abs=0.03)


def test_a_roll_with_nothing_in_it_is_not_a_traceback() -> None:
    tone = fitted_tone([np.full((40, 60, 3), 0.001)])
    assert np.isfinite(tone.table).all()


@pytest.mark.independent(how="grey cards planted in a roll, their prints measured")
def test_greys_named_on_the_command_line_print_grey(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rng = np.random.default_rng(3)
    base = np.array([0.2, 0.55, 0.8])
    cards = {}
    for i in range(3):
        view = scene(f"photo {i}", 260, 180, rng)[0].copy()
        view[20:60, 20:60], view[20:60, 70:110] = 0.05, 0.7
        cards[f"g{i + 1}.tif"] = (Rectangle(56, 56, 28, 28), Rectangle(106, 56, 28, 28))
        density = np.tile(base, (240, 320, 1))
        density[30:210, 30:290] += film(view)
        codes = 10**-density * 55000
        write_tiff16(
            tmp_path / f"g{i + 1}.tif",
            (codes + rng.normal(0, 1, codes.shape) * np.sqrt(codes * 0.2)).clip(0, 65535).astype(np.uint16),
        )
    write_tiff16(tmp_path / "open_gate.tif", np.full((240, 320, 3), 55000, np.uint16))
    dark, light = cards["g2.tif"]
    words = [f"g2.tif:{b.x},{b.y},{b.w},{b.h}" for b in (dark, light)]

    def call(out: str, *more: str) -> int:
        return main(["positive", str(tmp_path), "--out", str(tmp_path / out), "--as", "jpeg", *more])

    assert call("out", "--grey", words[0], "--grey", words[1]) == 0
    assert "2 greys" in capsys.readouterr().out
    shown = cv2.imread(str(tmp_path / "out" / "g3.jpg"))[..., ::-1].astype(float)
    for box in cards["g3.tif"]:
        card = np.median(shown[box.slices].reshape(-1, 3), axis=0)
        assert np.ptp(card) < 8, card
    found = positive(tmp_path, PositiveOptions(tmp_path / "plain", kind="jpeg", workers=1))
    assert "assumed" in found["say"]
    assert call("x", "--grey", words[0]) == 2
    assert call("x", "--grey", words[0], "--grey", "no.tif:1,1,9,9") == 2
    assert call("x", "--door", "exchange", "--grey", words[0]) == 2
