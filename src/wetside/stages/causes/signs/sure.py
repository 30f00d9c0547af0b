"""How sure it is that any of a roll's marks is one, beside the marks that a search claims where there are none.

Theory. A search claims marks by mistake at a steady rate, so a long roll without any mark still shows some. Marks that
something made come as well, few or many. Both are counts at random (Poisson), and each claim carries the search's own
chance, which is likelier high for a true mark. How much likelier the claims of a roll are with true marks among them
than without is a product over the claims, averaged over how many true ones there may be. Mistakes are of either sign,
one cause's marks mostly of one; and mistakes do not repeat.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

#: Marks by mistake a frame where the search's chances were fitted, each frame by itself (docs/studies.md, Marks).
MISTAKEN = 0.1
#: The same on a roll that holds none, where all its frames speak (`beside_roll`): 10 on 528 frames (docs/studies.md), and more
#: where one thing comes again in its pictures (judged).
ON_ROLL = 0.04
#: True marks found a frame where the search's chances were fitted: 0.55 of three planted (docs/studies.md, Marks).
FOUND = 1.6
#: Frames looked at where nobody says how many (judged).
FRAMES = 6
#: How many true marks a search may find on a roll, each as likely (judged).
MAY_BE = np.array([1.0, 2.0, 4.0, 8.0, 16.0])
#: How many rolls in ten have something that makes marks, before any was looked for (judged).
MARKED = 0.2
#: Share of one cause's marks that are of its own sign (judged: a neighbour or an edge turns some).
OWN_SIGN = 0.9
#: No likeness of marks counts more than this, nor a repeat than that (judged: what makes one mistake makes its like).
ALIKE, REPEATED = 20.0, 5.0


def odds_of(mark: Mapping[str, Any]) -> float:
    """How much likelier a search claims so of a true mark than by mistake; infinite where the user saw it or no search did."""
    given = mark.get("chance")
    if (
        mark.get("verdict") in ("confirmed", "drawn")
        or not isinstance(given, int | float)
        or not 0 <= given <= 1
    ):
        return math.inf
    return MISTAKEN / FOUND * given / max(1 - given, 1e-3)


def chance_of(mark: Mapping[str, Any]) -> float:
    """The chance that a mark is one, beside as many that are none."""
    odds = odds_of(mark)
    return 1.0 if math.isinf(odds) else odds / (1 + odds)


def chance_of_any(
    marks: Sequence[Mapping[str, Any]], frames: int | None = None, repeat: bool = False
) -> float:
    """The chance that something made marks on a roll of so many frames looked at; 0 without marks, 1 where one is sure.

    `repeat`: whether they were found to repeat.
    """
    odds = np.array([odds_of(mark) for mark in marks])
    if not len(odds) or np.isinf(odds).any():
        return float(len(odds) > 0)
    mistaken = ON_ROLL * (frames or FRAMES)
    logs = np.log1p(MAY_BE[:, None] / mistaken * odds).sum(axis=1) - MAY_BE
    likelier = float(np.exp(np.minimum(logs, 50)).mean()) * alike(marks) * (REPEATED if repeat else 1.0)
    return MARKED * likelier / (1 - MARKED + MARKED * likelier)


def alike(marks: Sequence[Mapping[str, Any]]) -> float:
    """How much likelier marks agree in sign as they do where one cause made them than by mistake; 1 for a single one."""
    known = [dict(mark.get("delta") or {}).get("g") for mark in marks]
    signs = [value > 0 for value in known if isinstance(value, int | float)]
    dense, thin = sum(signs), len(signs) - sum(signs)
    one_cause = sum(OWN_SIGN**a * (1 - OWN_SIGN) ** b for a, b in ((dense, thin), (thin, dense))) / 2
    return min(ALIKE, one_cause * 2.0 ** len(signs)) if signs else 1.0
