"""Where across the film marks lie: plumes of a surge come from the perforations, so they lie along an edge of the picture.

Handbook film.md §4. Marks that something else made lie anywhere across; those of which most lie away from both edges are no
surge, whatever they repeat with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from wetside.stages.causes.ranking.experiments import SURGE
from wetside.stages.causes.signs.sure import chance_of

#: How near to an edge of the picture a mark's middle lies along it, in parts of its height; fewest marks that tell.
EDGE, FEWEST = 0.2, 3
#: Shares of the marks over which they lie along the edges, and under which they lie away from them.
MOST, FEW = 0.7, 0.4
#: Odds of a surge where marks lie so (set by hand, inference).
ALONG, AWAY = 2.5, 0.1


def share_at_edges(marks: Sequence[Mapping[str, Any]]) -> float | None:
    """Share of the marks that lie along an edge of the picture, each by its chance; None where few places are known."""
    known = [(float(mark["across"]), chance_of(mark)) for mark in marks if mark.get("across") is not None]
    total = sum(chance for _, chance in known)
    if len(known) < FEWEST or total <= 0:
        return None
    return sum(chance for across, chance in known if min(across, 1 - across) < EDGE) / total


def factors_of_edges(cause: str, marks: Sequence[Mapping[str, Any]]) -> list[tuple[float, str]]:
    """What marks' places across the film do to the odds of a surge, and in words; nothing for other causes."""
    share = share_at_edges(marks) if cause == SURGE else None
    if share is None or FEW <= share <= MOST:
        return []
    if share > MOST:
        return [(ALONG, "the marks lie along an edge of the picture")]
    return [(AWAY, "most marks lie away from the picture's edges")]
