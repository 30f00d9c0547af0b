"""Tell the scanner's shading from the film's by a frame and its second scan, turned half round in the holder.

Second scans of a roll's frames lie in the folder `again` within its own. Which frame one shows, and that it is turned, is
told by what is seen: a scan of a frame that was bleached or fixed again lies the same way round and says nothing here.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.reading.lengths import upright_scan
from wetside.figures.channels import rgb
from wetside.figures.finding import CannotSay, Unusable
from wetside.stages.negative.scanner.turned import Gradient, Shading, gradient_of, scanner_shading
from wetside.stages.negative.scanner.working import Light, Working, working
from wetside.store.scans.folder import listing
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


#: Where second scans of single frames lie, inside a roll's folder: so they do not count as frames of it.
AGAIN = "again"
#: Second scans that are looked into.
MOST_AGAIN = 4


def light_by_half_a_turn(folder: Path, frames: Sequence[Working]) -> Gradient | None:
    """The light's gradient from the first of a roll's second scans that shows one of its frames turned half round."""
    for path in second_scans(folder)[:MOST_AGAIN]:
        try:
            scan = load(path)
        except Unusable:
            continue
        if scan.coding == "gamma":
            continue
        second = working(upright_scan(scan), Light()).density
        for i in sorted(range(len(frames)), key=lambda i: Path(frames[i].file).stem != path.stem):
            found = scanner_shading(frames[i].density, second)
            if isinstance(found, Shading):
                return gradient_of(found, frames[i].file, f"{AGAIN}/{path.name}")
    return None


def second_scans(folder: Path) -> tuple[Path, ...]:
    """Second scans of a roll's frames, in natural order."""
    try:
        return listing(folder / AGAIN).frames
    except Unusable:
        return ()
