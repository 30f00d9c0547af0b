"""Two faults at once, and layers fitted from own runs: `python -m benchmarks.several_faults [rolls] [seed]`.

The film is that of `faulty_rolls`; of two faults the exposures add, the gains multiply, and what is laid over the film adds.
Own runs are five of the same stock whose log tells of a developer too hot, too cold, or of missed agitation.
"""

from __future__ import annotations

import sys
from itertools import combinations
from typing import Any

import numpy as np

from benchmarks.causes import interval, judged
from benchmarks.faulty_rolls import (
    ACTION,
    CLEAN,
    HIGH,
    LOW,
    WHOLE,
    Developed,
    Emulsion,
    Made,
    departures,
    developed,
    emulsion,
    log_of,
)
from wetside.stages.causes.ranking.evidence import evidence_from
from wetside.stages.causes.ranking.model import ranked_causes, together
from wetside.stages.causes.ranking.several import NEVER_BOTH

ROWS = ("dmin", "ld", "hd_ld")
#: Faults of development whose log tells which way it went, and what a cold one is.
MOVED = ("developer hot or long", "developer cold or short", "low agitation")


def both(one: Developed, other: Developed) -> Developed:
    """What two faults together make of an emulsion."""
    return Developed(
        one.film, one.speed + other.speed, one.gain * other.gain, one.deep + other.deep, one.fog + other.fog,
        one.stain + other.stain, one.halide + other.halide, one.silver + other.silver,
    )  # fmt: skip


def moved(made: Developed, film: Emulsion, rng: np.random.Generator) -> np.ndarray:
    """Departures (3, 3) [D] of D-min, LD, HD−LD with the scatter of a run and of its reading."""
    clean = developed(film, CLEAN, 0.0, rng)
    low, high, least = (made.density(at) - clean.density(at) for at in (LOW, HIGH, None))
    away = np.array([least, low, high - low])
    alike = rng.standard_t(5, (3, 1)) * np.array([[0.004], [0.011], [0.011]])
    return away + alike + rng.standard_t(5, (3, 3)) * 0.008


def rows(values: np.ndarray) -> dict[str, dict[str, float]]:
    return {name: dict(zip("rgb", row.tolist())) for name, row in zip(ROWS, values)}


def two_faults(rng: np.random.Generator) -> tuple[set[str], dict[str, Any]]:
    """Two faults that a control chart would each act on, and the strip and log of their roll."""
    pairs = [pair for pair in combinations(WHOLE, 2) if set(pair) not in NEVER_BOTH]
    one, other = pairs[int(rng.integers(len(pairs)))]
    film = emulsion(rng)
    while True:
        sizes = rng.uniform(0.4, 1.0, 2)
        parts = [developed(film, name, float(size), rng) for name, size in zip((one, other), sizes)]
        if all(np.abs(moved(part, film, rng)).max() > ACTION for part in parts):
            break
    log = {**log_of(one, float(sizes[0]), rng)}
    second = log_of(other, float(sizes[1]), rng)
    told = log_of(CLEAN, 0.0, np.random.default_rng(1))
    for (
        key
    ) in second:  # what the second fault did to the log is in it as well, where that is more than ordinary
        if key not in log or _odd(second[key], told.get(key)) > _odd(log[key], told.get(key)):
            log[key] = second[key]
    return {one, other}, {"departures": rows(moved(both(*parts), film, rng)), "spread": 0.01, "log": log}


def _odd(value: Any, usual: Any) -> float:
    return abs(float(value) - float(usual or 0.0))


def pairs_named(rolls: int, seed: int) -> str:
    """How often both, one or none of two faults are named, and how often two are named where there is one."""
    rng = np.random.default_rng(seed)
    as_pair, one_first, among, single = 0, 0, 0, 0
    for _ in range(rolls):
        truth, given = two_faults(rng)
        evidence = evidence_from(given)
        ranked, named = ranked_causes(evidence), together(evidence)
        as_pair += any(set(pair.causes) == truth for pair in named)
        one_first += ranked[0].name in truth
        among += truth <= {cause.name for cause in ranked[:3]}
        name = str(rng.choice(WHOLE))
        alone = {"departures": rows(departures(emulsion(rng), name, 0.8, rng)), "spread": 0.01}
        single += bool(together(evidence_from({**alone, "log": log_of(name, 0.8, rng)})))
    return f"| {one_first / rolls:.2f} | {among / rolls:.2f} | {as_pair / rolls:.2f} | {single / rolls:.2f} | {rolls} |"


def own_layers(rolls: int, seed: int) -> list[tuple[bool, bool, bool, bool]]:
    """Of rolls with a developer's fault: right, and right first, without own runs and with five of them."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(rolls):
        film, name = emulsion(rng), str(rng.choice(MOVED))
        own = [_run(film, str(rng.choice(MOVED)), rng) for _ in range(5)]
        given = {"departures": rows(departures(film, name, rng.uniform(0.4, 1.0), rng)), "spread": 0.01}
        before, good = judged(Made(name, given, ""))
        after, better = judged(Made(name, {**given, "own_runs": own}, ""))
        found.append((good, before[0].name == name, better, after[0].name == name))
    return found


def _run(film: Emulsion, fault: str, rng: np.random.Generator) -> dict[str, Any]:
    log = {"missed_agitation": True} if fault == "low agitation" else {"developer_temperature_off_c": 1.5 if "hot" in fault else -1.5}  # fmt: skip
    return {"departures": rows(departures(film, fault, rng.uniform(0.5, 1.0), rng)), "log": log}


def main() -> None:
    """Print both tables."""
    rolls = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    print(
        "| one of the two first | both among the first three | named as a pair | a pair named where there is one fault | rolls |\n|---|---|---|---|---|"
    )
    print(pairs_named(rolls, seed))
    told = np.array(own_layers(rolls, seed + 1)).sum(axis=0)
    print("\n| strip alone, a developer's fault | right or inseparable | right first |\n|---|---|---|")
    for say, good, first in (("no own runs", *told[:2]), ("five own runs", *told[2:])):
        low, high = interval(int(good), rolls)
        print(f"| {say} | {good / rolls:.2f} ({low:.2f}–{high:.2f}) | {first / rolls:.2f} |")


if __name__ == "__main__":
    main()
