"""What the words are worth: how often each was true on invented rolls whose film follows another model than the ranking.

Measured, not computed here: `python -m benchmarks.causes 2000 90210` (docs/studies.md, Causes). Those rolls' stocks,
scanners, sizes of faults and logs are drawn by a model of curves and stains; the ranking holds signs and wide priors only.
"""

from __future__ import annotations

from typing import Any

ROLLS = 2000
#: For each word how many causes it was said of, and of how many of those it was true.
TRUE = {"likely": 1281, "possible": 568, "unlikely": 151}
SAID = {"likely": 1442, "possible": 2117, "unlikely": 29153}
BY_HAND = "what answers, experiments and shared gear do to the odds is set by hand, not measured"


def share_true(word: str) -> float:
    """Share of the causes so called that were at work, 0 to 1."""
    return TRUE[word] / SAID[word]


def worth_of_words() -> dict[str, Any]:
    """What each word was worth, and on how many rolls; what the study does not cover."""
    return {
        "rolls": ROLLS, "words": {word: {"true": round(share_true(word), 3), "of": SAID[word]} for word in SAID},
        "by_hand": BY_HAND,
    }  # fmt: skip
