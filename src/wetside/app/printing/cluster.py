"""Frames printed by machines that share a store with this one: paths travel, pixels never do."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from pathlib import Path
from typing import Any

from wetside.app.printing.frames import print_batch
from wetside.figures.finding import Unusable
from wetside.stages.positive.lattice_code import machine_writes

#: Frames that travel together: a task's overhead is some milliseconds, a frame's printing some hundred.
BATCH = 8
RETRIES = 3
PATIENCE = 10


class Cluster:
    """A dask.distributed scheduler by its address; called like any other crew."""

    def __init__(self, address: str, batch: int = BATCH) -> None:
        self.address, self.batch = address, max(BATCH, batch)

    def __call__(self, place: Path, key: str, files: Sequence[Path]) -> Generator[dict[str, Any]]:
        """Frames as their batches are finished, each once. A batch whose worker dies is done anew by another one.

        Every file is written beside its place and renamed, so a batch begun twice leaves the same files once. Unusable
        when the scheduler cannot be reached, has no workers, or is lost.
        """
        client = self._client()
        try:
            if not files:
                return
            if not client.scheduler_info(n_workers=-1)["workers"]:
                raise Unusable("the scheduler has no workers; start one: dask worker ADDRESS", self.address)
            yield from self._batches(client, place.resolve(), key, [file.resolve() for file in files])
        finally:
            client.close(timeout=PATIENCE)

    def writes(self) -> bool:
        """Whether every worker can write its own way through a lattice: only then do all print alike by it."""
        client = self._client()
        try:
            found = client.run(machine_writes)
        finally:
            client.close(timeout=PATIENCE)
        return bool(found) and all(found.values())

    def _client(self) -> Any:
        try:
            from distributed import Client
        except ImportError:
            raise Unusable("needs the cluster extra: pip install 'wetside[cluster]'", "--cluster") from None
        try:
            return Client(self.address, timeout=PATIENCE, set_as_default=False)
        except (OSError, ValueError, ImportError) as slip:
            said = " ".join(str(slip).split())[:120] or type(slip).__name__
            raise Unusable(f"no scheduler can be reached: {said}", self.address) from None

    def _batches(
        self, client: Any, place: Path, key: str, files: Sequence[Path]
    ) -> Generator[dict[str, Any]]:
        from distributed import as_completed

        parts = [files[i : i + self.batch] for i in range(0, len(files), self.batch)]
        running = {
            client.submit(
                print_batch, str(place), key, [str(f) for f in part], pure=False, retries=RETRIES
            ): part
            for part in parts
        }
        for future in as_completed(list(running), loop=client.loop):
            part = running.pop(future)
            if future.status == "finished":
                yield from future.result()
            elif future.status == "cancelled":
                raise Unusable("the scheduler was lost; run the same command again", self.address)
            else:
                said = " ".join(str(future.exception()).split())[:160]
                yield from (
                    {"file": file.name, "slip": f"on the cluster: {said}", "store": False} for file in part
                )
            future.release()
