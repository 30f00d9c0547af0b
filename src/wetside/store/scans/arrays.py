"""A few small arrays and one JSON object in one file, written whole or not at all."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wetside.store.scans.sinks import sweep_halves, written_whole

if TYPE_CHECKING:
    import numpy as np

TEXT = "text"


def write_arrays(path: Path, arrays: dict[str, np.ndarray], text: dict[str, Any]) -> None:
    """Arrays by name and a JSON object, as an uncompressed .npz."""
    import numpy as np

    sweep_halves(path)
    with written_whole(path) as beside, beside.open("wb") as stream:
        np.savez(stream, **{TEXT: np.array(json.dumps(text, ensure_ascii=False))}, **arrays)  # type: ignore[arg-type]


def read_arrays(path: Path) -> tuple[dict[str, np.ndarray], dict[str, Any]] | None:
    """What `write_arrays` wrote; None when it is missing or damaged. Nothing in the file is executed."""
    import zipfile

    import numpy as np

    try:
        with np.load(path, allow_pickle=False) as found:
            arrays = {name: found[name] for name in found.files if name != TEXT}
            return arrays, json.loads(str(found[TEXT]))
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
