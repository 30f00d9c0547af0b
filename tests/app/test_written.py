"""Which way a roll's pixels are made: by the colour library, or by code written for the machine where the roll is long enough."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import tifffile

from wetside.app.printing import frames
from wetside.app.printing import positive as printing
from wetside.app.printing.cluster import Cluster
from wetside.app.printing.positive import PositiveOptions, positive
from wetside.figures.finding import Unusable
from wetside.stages.positive import path
from wetside.store.scans.originals import write_tiff16


@pytest.fixture(scope="module")
def roll(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("scans") / "W01"
    folder.mkdir()
    rng = np.random.default_rng(4)
    for number in range(3):
        density = np.tile([0.2, 0.55, 0.8], (220, 300, 1))
        density[20:-20, 18:-18] += np.kron(rng.uniform(0.2, 1.0, (5, 8)), np.ones((36, 33)))[..., None]
        light = 10**-density * 60000 + rng.normal(0, 20, density.shape)
        write_tiff16(folder / f"w{number}.tif", light.clip(0, 65535).astype(np.uint16))
    return folder


def pictures(out: Path) -> np.ndarray:
    return np.stack([tifffile.imread(out / f"w{i}.tif").astype(int) for i in range(3)])


@pytest.mark.independent(how="the pictures of the colour library's own pass")
def test_a_roll_is_printed_anew_when_the_way_is_another_and_only_then(
    roll: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("llvmlite")

    def printed() -> tuple[int, str]:
        kept = positive(roll, PositiveOptions(tmp_path))["kept"]
        return kept, json.loads((tmp_path / "positive.json").read_text())["versions"]["way"]

    assert printed() == (0, "the colour library")
    by_library = pictures(tmp_path)
    monkeypatch.setattr(printing, "LONG", 0)
    monkeypatch.setattr(printing, "FINE", 0)
    kept, way = printed()
    assert kept == 0 and "written for the machine" in way
    assert 0 < np.abs(pictures(tmp_path) - by_library).max() <= 1
    assert printed()[0] == 3
    monkeypatch.setattr(printing, "machine_writes", lambda: False)
    assert printed() == (0, "the colour library")
    assert (pictures(tmp_path) == by_library).all()


def test_a_worker_without_the_extra_says_so(
    roll: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(lattice: object) -> None:
        raise ImportError

    monkeypatch.setattr(printing, "LONG", 0)
    monkeypatch.setattr(printing, "FINE", 0)
    monkeypatch.setattr(printing, "machine_writes", lambda: True)
    monkeypatch.setattr(path, "LatticePass", missing)
    frames._LAST.clear()
    with pytest.raises(Unusable, match="quick extra"):
        positive(roll, PositiveOptions(tmp_path))


@pytest.mark.parametrize(("workers", "written"), [([True, True], True), ([True, False], False), ([], False)])
def test_a_cluster_goes_by_what_all_its_workers_can(
    monkeypatch: pytest.MonkeyPatch, workers: list[bool], written: bool
) -> None:
    class Client:
        def run(self, asked: object) -> dict[str, bool]:
            return {f"tcp://{i}": can for i, can in enumerate(workers)}

        def close(self, timeout: float) -> None:
            pass

    cluster = Cluster("tcp://127.0.0.1:9")
    monkeypatch.setattr(cluster, "_client", Client)
    assert cluster.writes() is written
