"""The same pictures from a cluster, also when a worker is killed in the middle: nothing lost, nothing doubled."""

from __future__ import annotations

import json
import signal
import subprocess
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from benchmarks.beyond import cluster

from wetside.app.printing.cluster import Cluster
from wetside.app.printing.positive import PositiveOptions, positive
from wetside.figures.finding import Unusable
from wetside.store.scans.journal import PLACE
from wetside.store.scans.originals import write_tiff16

FRAMES = 16


@pytest.fixture(scope="module")
def roll(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("scans") / "M01"
    folder.mkdir()
    rng = np.random.default_rng(3)
    for number in range(FRAMES):
        density = np.tile([0.2, 0.55, 0.8], (300, 400, 1))
        density[24:-24, 20:-20] += np.kron(rng.uniform(0.2, 1.0, (7, 10)), np.ones((36, 36)))[..., None]
        light = 10**-density * 60000 + rng.normal(0, 20, density.shape)
        write_tiff16(folder / f"m{number:03d}.tif", light.clip(0, 65535).astype(np.uint16))
    return folder


@pytest.fixture
def scheduler() -> Iterator[tuple[str, list[subprocess.Popen]]]:
    """A scheduler and two workers on loopback, each a process of its own."""
    with cluster(2) as found:
        yield found


def content(out: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in out.iterdir() if p.is_file()}


@pytest.mark.independent(
    how="one process against a cluster of which one of two workers is killed in the middle, byte by byte"
)
def test_a_worker_killed_in_the_middle_loses_nothing_and_doubles_nothing(
    roll: Path, tmp_path: Path, scheduler: tuple[str, list[subprocess.Popen]]
) -> None:
    address, workers = scheduler
    positive(roll, PositiveOptions(tmp_path / "one"))
    killed: list[int] = []

    def progress(what: str, done: int, total: int) -> None:
        if what == "printing" and done >= 4 and not killed:
            workers[0].send_signal(signal.SIGKILL)
            killed.append(done)

    found = positive(roll, PositiveOptions(tmp_path / "many", crew=Cluster(address)), progress)
    assert killed and killed[0] < FRAMES and workers[0].wait(10) == -signal.SIGKILL
    assert [f["file"] for f in found["frames"]] == [f"m{i:03d}.tif" for i in range(FRAMES)]
    assert not [f for f in found["findings"] if f["id"] == "frame-not-printed"]
    assert content(tmp_path / "many") == content(tmp_path / "one")
    lines = (tmp_path / "many" / PLACE / "journal.jsonl").read_text().splitlines()
    assert set(Counter(json.loads(line).get("file") for line in lines).values()) == {1}


def test_no_scheduler_and_no_extra_are_one_line(
    roll: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wetside.app.printing.cluster.PATIENCE", 3.0)
    with pytest.raises(Unusable, match="no scheduler can be reached"):
        positive(roll, PositiveOptions(tmp_path / "out", crew=Cluster("tcp://127.0.0.1:9")))
    assert not list((tmp_path / "out").glob("*.tif"))
    with pytest.raises(Unusable):
        Cluster("no such thing://x")._client()
