"""A user's slip or a file's defect is data, not an exception.

`Finding` reports and the work goes on; `Unusable` ends a call (exit 2, HTTP 4xx) in one line;
`CannotSay` is an ordinary answer, with what would help.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Literal

from wetside.figures.unusable import Unusable as Unusable

Severity = Literal["note", "warning", "error"]


@dataclass(frozen=True, slots=True)
class Finding:
    """What was expected, what was found, and where."""

    id: str
    severity: Severity
    where: str
    say: str
    expected: str = ""
    found: str = ""
    source: str = ""

    def as_json(self) -> dict[str, object]:
        return asdict(self)


@dataclass(frozen=True, slots=True)
class CannotSay:
    """An answer that is not there yet: the reason, and what one more thing would add."""

    reason: str
    would_help: str

    def as_json(self) -> dict[str, object]:
        return {"cannot_say": self.reason, "would_help": self.would_help}


#: Words that say of what kind a source is; any other source of a finding says what helps.
TAGS = ("published", "memory", "computed", "inference", "common practice")
MOST_NAMED = 3
#: A hyphen before a number that is no part of a word or an option.
MINUS = re.compile(r"(?<![\w-])-(?=\d)")
#: What weighs most is shown first.
WEIGHT = {"error": 0, "warning": 1, "note": 2}


def gathered(findings: Sequence[Mapping[str, object]]) -> list[dict[str, str]]:
    """Findings as they are shown, the weightiest first: what is said alike of several files is said once, with them named.

    Each with `severity`, `say` (what, and of which file), and `more`: what was found and expected, and what helps.
    """
    alike: dict[tuple[str, ...], list[Mapping[str, object]]] = {}
    for one in findings:
        key = tuple(str(one.get(k) or "") for k in ("id", "severity", "say", "expected", "source"))
        alike.setdefault(key, []).append(one)
    return [
        {"severity": severity, "say": _said(_listed([str(f["where"]) for f in ones]), say),
         "more": _more(_listed(list(dict.fromkeys(str(f.get("found") or "") for f in ones)), "; "), expected, source)}
        for (_, severity, say, expected, source), ones in sorted(alike.items(), key=lambda one: WEIGHT.get(one[0][1], 1))
    ]  # fmt: skip


def _said(where: str, say: str) -> str:
    return f"{where}: {say}" if where else say


def _listed(words: Sequence[str], between: str = ", ") -> str:
    first = between.join(word for word in words[:MOST_NAMED] if word)
    return first if len(words) <= MOST_NAMED else f"{first} and {len(words) - MOST_NAMED} more"


def _more(found: str, expected: str, source: str) -> str:
    helps = "" if source in TAGS else source
    said = (found, expected and f"expected: {expected}", helps and f"what helps: {helps}")
    return MINUS.sub("−", "; ".join(part for part in said if part))
