"""A calibration made on screen: patches tapped on Glass, their densities typed, the fit kept; a wedge refused."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient
from tests.cli.test_calibrate import TRUE, target

from wetside.web.server import create_app


@pytest.fixture
def known() -> np.ndarray:
    return np.random.default_rng(6).uniform(0.3, 1.9, (24, 3))


def picked(home: Path, folder: str, known: np.ndarray) -> Iterator[TestClient]:
    target(home / "scans" / folder, known)
    with TestClient(create_app(home), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 50000)) as site:
        spots = [
            {"file": "t1.tif", "x": 60 * (k % 6) + 30, "y": 60 * (k // 6) + 30} for k in range(len(known))
        ]
        kept = site.post(f"/glass/{folder}/spots", json={"spots": spots})
        assert kept.status_code == 201 and len(kept.json()["spots"]) == len(known)
        yield site


def told(known: np.ndarray, roll: str, **more: str) -> dict[str, str]:
    words = {f"{c}{k}": f"{value:.2f}" for k, row in enumerate(known) for c, value in zip("rgb", row)}
    return {"roll": roll, "aim": "status M", "do": "fit", **words, **more}


@pytest.mark.independent(how="a planted matrix behind five patches, typed to two decimals")
def test_five_patches_tapped_on_the_glass_make_a_calibration_that_is_kept(
    tmp_path: Path, known: np.ndarray
) -> None:
    for site in picked(tmp_path, "T1", known[:5]):
        page = site.post("/calibration", data=told(known[:5], "T1")).text
        assert "What the fit says" in page and "Keep the calibration" in page
        done = site.post(
            "/calibration",
            data=told(known[:5], "T1", do="keep", name="panel", light="opal", scanner="stand"),
            follow_redirects=False,
        )
        assert done.status_code == 303
        assert "panel" in site.get("/calibration").text and "opal" in site.get("/calibration").text
        from wetside.app.sensitometry.calibrate import profile

        fit = profile(tmp_path, "panel").fit
        off = np.abs(fit.matrix - TRUE)
        assert (off < 4 * np.sqrt(np.einsum("cii->ci", fit.covariance)[:, :3]) + 0.02).all()


def test_a_neutral_wedge_is_refused_with_the_reason(tmp_path: Path) -> None:
    wedge = np.linspace(0.3, 1.8, 12)[:, None] * np.ones(3)
    for site in picked(tmp_path, "T2", wedge):
        page = site.post("/calibration", data=told(wedge, "T2")).text
        assert "Refused" in page and "neutral wedge alone" in page and "What the fit says" not in page


def test_half_a_patch_and_words_are_one_line_and_lose_nothing(tmp_path: Path, known: np.ndarray) -> None:
    for site in picked(tmp_path, "T3", known[:5]):
        page = site.post("/calibration", data={**told(known[:5], "T3"), "g0": "", "b1": "dense"}).text
        assert "expected three densities" in page and f'value="{known[4][0]:.2f}"' in page
        assert site.get("/calibration?roll=..%2f..").status_code in (200, 404, 422)


def test_a_light_is_watched_through_open_gates(tmp_path: Path, known: np.ndarray) -> None:
    for site in picked(tmp_path, "T4", known[:5]):
        form = {"roll": "T4", "light": "opal", "scanner": "stand"}
        assert site.post("/calibration/light", data=form, follow_redirects=False).status_code == 303
        assert "Hue of opal over 1 sights" in site.get("/calibration").text
