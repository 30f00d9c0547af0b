"""What was common to the bad rolls and absent from the good ones: a permutation test over the company rolls kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

TRIALS = 4000


def suspects(rolls: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Things ranked by how well they part bad rolls from good: share among each, p by permutation with the best taken.

    rolls: [{"id", "bad": bool, "things": ["bath:F2", …]}]. Things that always go together are named together.
    """
    if not rolls:
        return []
    bad = np.array([bool(roll.get("bad")) for roll in rolls])
    groups = together(rolls)
    if len(groups) == 0:
        return []
    if bad.all() and len(rolls) >= 3:
        return [_common(names, len(rolls)) for names, held in groups if held.all()]
    held = np.array([held for _, held in groups], float)
    gap = _gap(held, bad)
    rng = np.random.default_rng(11)
    best = np.array(
        [_gap(held, rng.permutation(bad)).max() for _ in range(TRIALS if 0 < bad.sum() < len(bad) else 0)]
    )
    found = [
        {"things": names, "with_bad": float(h[bad].mean()) if bad.any() else 0.0, "with_good": float(h[~bad].mean()) if (~bad).any() else 0.0,
         "p": float((1 + (best >= g - 1e-12).sum()) / (1 + len(best))) if len(best) else None}
        for (names, _), h, g in zip(groups, held, gap)
    ]  # fmt: skip
    return sorted(found, key=lambda one: one["with_good"] - one["with_bad"])


def _common(names: list[str], count: int) -> dict[str, Any]:
    return {"things": names, "with_bad": 1.0, "with_good": 0.0, "p": None, "rolls": count}


def together(rolls: Sequence[Mapping[str, Any]]) -> list[tuple[list[str], np.ndarray]]:
    """Things grouped by the rolls that touched them: those of one group cannot be parted by these rolls."""
    names = sorted({str(thing) for roll in rolls for thing in roll.get("things", ())})
    groups: dict[bytes, tuple[list[str], np.ndarray]] = {}
    for name in names:
        held = np.array([name in roll.get("things", ()) for roll in rolls])
        groups.setdefault(held.tobytes(), ([], held))[0].append(name)
    return list(groups.values())


def _gap(held: np.ndarray, bad: np.ndarray) -> np.ndarray:
    """Share among bad rolls minus share among good ones, for each thing."""
    if not bad.any() or bad.all():
        return np.zeros(len(held))
    return held[:, bad].mean(axis=1) - held[:, ~bad].mean(axis=1)
