"""What was common to the bad rolls and absent from the good ones: a permutation test over the company rolls kept."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

import numpy as np

TRIALS = 4000
#: No company alone speaks louder for a cause than this, as odds; judged.
MOST = 20.0


def suspects(rolls: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Things ranked by how well they part bad rolls from good: share among each, p by permutation with the best taken.

    rolls: [{"id", "bad": bool, "things": ["bath:F2", …], "roles": {"bath:F2": "fixer"}}]. Things that always go together are named together.
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
    best = _best_by_chance(held, bad)
    found = [
        {"things": names, "with_bad": float(h[bad].mean()) if bad.any() else 0.0, "with_good": float(h[~bad].mean()) if (~bad).any() else 0.0,
         "p": float((1 + (best >= g - 1e-12).sum()) / (1 + len(best))) if len(best) else None}
        for (names, _), h, g in zip(groups, held, gap)
    ]  # fmt: skip
    return sorted(found, key=lambda one: one["with_good"] - one["with_bad"])


def _best_by_chance(held: np.ndarray, bad: np.ndarray) -> np.ndarray:
    """The largest gap of any thing for verdicts dealt out anew (TRIALS,); empty where all rolls are alike."""
    if bad.all() or not bad.any():
        return np.zeros(0)
    dealt = np.random.default_rng(11).permuted(np.tile(bad, (TRIALS, 1)), axis=1)
    gaps = held @ (dealt / bad.sum() - ~dealt / (~bad).sum()).transpose()
    return np.asarray(gaps.max(axis=0))


def weight_of_p(p: float) -> float:
    """The most that a chance level can speak for a thing, as odds: −1/(e p ln p) below 1/e, else 1; at most MOST.

    The bound of "Calibration of p values for testing precise null hypotheses" (2001), from memory.
    """
    return min(MOST, -1 / (math.e * p * math.log(p))) if 0 < p < 1 / math.e else 1.0


def shared_roles(rolls: Sequence[Mapping[str, Any]], asked: Collection[str]) -> dict[str, tuple[float, str]]:
    """Odds and words for each role (fixer, light, …) whose own bottle or gear the bad rolls share and the good ones lack.

    Only for a bad roll: none of those `asked` about being bad, nothing is said. Without names, all bad rolls are meant.
    """
    of_these = [roll for roll in rolls if roll.get("bad") and (not asked or roll.get("id") in asked)]
    roles = {str(thing): str(role) for roll in rolls for thing, role in dict(roll.get("roles") or {}).items()}
    held = {str(thing) for roll in of_these for thing in roll.get("things", ())}
    found: dict[str, tuple[float, str]] = {}
    for one in suspects(rolls) if of_these else ():
        factor = weight_of_p(one["p"]) if one["p"] and one["with_bad"] > one["with_good"] else 1.0
        for thing in held.intersection(one["things"]) if factor > 1 else ():
            role = roles.get(thing, thing.partition(":")[0])
            if factor > found.get(role, (1.0, ""))[0]:
                found[role] = factor, _say(thing, one)
    return found


def _say(thing: str, one: Mapping[str, Any]) -> str:
    name = thing.partition(":")[2] or thing
    return f"{one['with_bad']:.0%} of the bad rolls and {one['with_good']:.0%} of the good ones share {name} (p {one['p']:.3f})"


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
