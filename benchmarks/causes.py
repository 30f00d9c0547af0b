"""Is the right cause named, and what are the words worth? `python -m benchmarks.causes [rolls] [seed]`."""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from collections.abc import Sequence

import numpy as np

from benchmarks.faulty_rolls import Made, made_rolls
from wetside.stages.causes.ranking.evidence import evidence_from
from wetside.stages.causes.ranking.model import CLEAN, Ranked, inseparable, ranked_causes

WORDS = ("likely", "possible", "unlikely")


def judged(roll: Made) -> tuple[list[Ranked], bool]:
    """The ranking of a roll, and whether the planted cause stands first or is named inseparable from the first."""
    evidence = evidence_from(roll.given)
    ranked = ranked_causes(evidence)
    first = ranked[0].name
    groups = inseparable(ranked, evidence)
    return ranked, first == roll.truth or any(first in g and roll.truth in g for g in groups)


def study(rolls: Sequence[Made]) -> dict[str, dict]:
    """Shares right by evidence, the confusion of first answers, and how often each word is true."""
    right: dict[str, list[bool]] = defaultdict(list)
    first: dict[str, list[bool]] = defaultdict(list)
    confused: Counter[tuple[str, str]] = Counter()
    words: dict[str, list[bool]] = {word: [] for word in WORDS}
    for roll in rolls:
        ranked, good = judged(roll)
        kind = "a clean roll" if roll.truth == CLEAN else roll.kept
        right[kind].append(ranked[0].name == CLEAN if roll.truth == CLEAN else good)
        first[kind].append(ranked[0].name == roll.truth)
        confused[roll.truth, ranked[0].name if not good else roll.truth] += 1
        for cause in ranked:
            words[cause.how].append(cause.name == roll.truth)
    return {"right": dict(right), "first": dict(first), "confused": dict(confused), "words": words}


def interval(hits: int, all_: int) -> tuple[float, float]:
    """95 % interval of a share (Wilson)."""
    p, z = hits / max(1, all_), 1.96
    middle, reach = p + z * z / (2 * all_), z * np.sqrt(p * (1 - p) / all_ + z * z / (4 * all_ * all_))
    return float((middle - reach) / (1 + z * z / all_)), float((middle + reach) / (1 + z * z / all_))


def main() -> None:
    """Print the three tables."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    found = study(made_rolls(count, int(sys.argv[2]) if len(sys.argv) > 2 else 1))
    print("| evidence | right or inseparable | 95 % interval | right first | rolls |\n|---|---|---|---|---|")
    for kind, right in sorted(found["right"].items()):
        low, high = interval(sum(right), len(right))
        print(
            f"| {kind} | {np.mean(right):.2f} | {low:.2f}–{high:.2f} | {np.mean(found['first'][kind]):.2f} | {len(right)} |"
        )
    print("\n| word | true | of |\n|---|---|---|")
    for word, true in found["words"].items():
        print(f"| {word} | {np.mean(true) if true else float('nan'):.2f} | {len(true)} |")
    print("\n| planted | right | taken for |\n|---|---|---|")
    for truth in sorted({truth for truth, _ in found["confused"]}):
        own = {said: n for (t, said), n in found["confused"].items() if t == truth}
        others = ", ".join(
            f"{said} {n}" for said, n in sorted(own.items(), key=lambda e: -e[1]) if said != truth
        )
        print(f"| {truth} | {own.get(truth, 0)} of {sum(own.values())} | {others} |")


if __name__ == "__main__":
    main()
