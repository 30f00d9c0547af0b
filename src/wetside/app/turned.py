"""Tell the scanner's shading from the film's by a frame and its second scan, turned half round in the holder."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from wetside.figures.channels import rgb
from wetside.figures.finding import CannotSay, Unusable
from wetside.stages.negative.turned import scanner_shading
from wetside.stages.negative.working import Light, working
from wetside.store.scans.load import load


def turned(first: Path, second: Path) -> dict[str, Any]:
    """The `wetside.turned/1` object of two files; Unusable when one cannot be read as densities."""
    densities = []
    for file in (first, second):
        if not file.is_file():
            raise Unusable("no such file", str(file))
        scan = load(file)
        if scan.coding == "gamma":
            raise Unusable("a gamma-coded file yields no density; expected a linear 16-bit scan", file.name)
        densities.append(working(scan, Light()).density)
    found = scanner_shading(*densities)
    common = {"schema": "wetside.turned/1", "file": first.name, "turned": second.name}
    if isinstance(found, CannotSay):
        return {
            **common,
            "peak": None,
            "left_to_right": None,
            "top_to_bottom": None,
            "error": None,
            **found.as_json(),
        }
    across, down = found.slopes()
    peak = found.field.reshape(-1, 3)[np.abs(found.field.reshape(-1, 3)).argmax(axis=0), range(3)]
    return {
        **common, "peak": rgb(peak).as_json(), "left_to_right": rgb(across).as_json(), "top_to_bottom": rgb(down).as_json(),
        "error": found.error, "cannot_say": None,
        "would_help": "an open gate, for what half a turn leaves alike: a fall of the light to all corners",
    }  # fmt: skip
