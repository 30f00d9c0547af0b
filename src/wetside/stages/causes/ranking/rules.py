"""What a log line, a test's outcome or the company of bad rolls does to the odds of a cause: factors, most set by hand, checked by study."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from wetside.laws.sensitometry.faults import Fault
from wetside.stages.causes.ranking.evidence import Evidence
from wetside.stages.causes.ranking.experiments import (
    CARRIED,
    COLD,
    DEVELOPER,
    EXPOSED,
    HALIDE,
    HOT,
    LEUCO,
    SCANNER,
    SILVER,
    TOUCHED,
    factors_of_tests,
)

MINUS = re.compile(r"-(?=\d)")
Rule = tuple[str, str, Callable[[Any], bool], float, str]
OFF, TIMED, BEFORE = (
    "the log has the developer {v:+.1f} °C off",
    "developed {v:+.0f} s off the aim",
    "{v:.2f} m² a litre went through the %s before",
)
RULES: tuple[Rule, ...] = (
    (COLD, "developer_temperature_off_c", lambda v: v < -0.3, 4.0, OFF),
    (COLD, "developer_temperature_off_c", lambda v: v < -0.8, 4.0, "more than a run's own scatter"),
    (HOT, "developer_temperature_off_c", lambda v: v > 0.3, 4.0, OFF),
    (HOT, "developer_temperature_off_c", lambda v: v > 0.8, 4.0, "more than a run's own scatter"),
    (COLD, "developer_temperature_off_c", lambda v: v > 0.2, 0.3, OFF),
    (HOT, "developer_temperature_off_c", lambda v: v < -0.2, 0.3, OFF),
    (COLD, "developer_time_off_s", lambda v: v < -8, 6.0, TIMED),
    (HOT, "developer_time_off_s", lambda v: v > 8, 6.0, TIMED),
    (HOT, "pushed", bool, 4.0, "the run was a push"),
    (HOT, "late_drain", bool, 5.0, "the developer was drained late"),
    ("low agitation", "missed_agitation", bool, 8.0, "agitation was missed"),
    ("low agitation", "missed_agitation", lambda v: v is False, 0.5, "agitation was kept"),
    ("developer dilute or spent", "developer_area_m2_per_litre", lambda v: v > 0.25, 6.0, BEFORE % "developer"),
    ("developer dilute or spent", "developer_area_m2_per_litre", lambda v: v < 0.06, 0.5, BEFORE % "developer"),
    ("developer oxidised", "developer_age_days", lambda v: v > 18, 6.0, "the developer was {v:.0f} days old"),
    ("developer oxidised", "developer_age_days", lambda v: v < 5, 0.3, "the developer was {v:.0f} days old"),
    ("weak bleach: retained silver", "bleach_area_m2_per_litre", lambda v: v > 0.25, 6.0, BEFORE % "bleach"),
    ("weak bleach: retained silver", "bleach_area_m2_per_litre", lambda v: v < 0.06, 0.5, BEFORE % "bleach"),
    ("weak bleach: leuco-cyan", "bleach_area_m2_per_litre", lambda v: v > 0.25, 3.0, BEFORE % "bleach"),
    ("weak fixer: retained halide", "fixer_area_m2_per_litre", lambda v: v > 0.25, 6.0, BEFORE % "fixer"),
    ("developer carried into the bleach", "stop_bath_used", lambda v: v is False, 6.0, "no stop bath in the log"),
    ("developer carried into the bleach", "stop_bath_used", lambda v: v is True, 0.3, "a stop bath was used"),
    ("old stock", "film_age_years", lambda v: v > 5, 6.0, "the film is {v:.0f} years old"),
    ("old stock", "film_age_years", lambda v: v <= 2, 0.2, "the film is {v:.0f} years old"),
)  # fmt: skip

#: What a bath or a piece of gear can bring (inference); a thing of the log's company speaks for these alone.
BROUGHT_BY: dict[str, tuple[str, ...]] = {
    "developer": DEVELOPER, "fixer": (HALIDE, TOUCHED), "bleach": (SILVER, LEUCO, TOUCHED), "stop": (CARRIED,), "stock": ("old stock",),
    "thermometer": (HOT, COLD), "camera": EXPOSED, "light": ("light under the negative",), "scanner": SCANNER,
}  # fmt: skip


def factors_of_the_log(fault: Fault, evidence: Evidence) -> list[tuple[float, str]]:
    found = [
        (factor, MINUS.sub("−", say.format(v=evidence.log[key])) + line_of(evidence, key))
        for name, key, holds, factor, say in RULES
        if name == fault.name and evidence.log.get(key) is not None and holds(evidence.log[key])
    ]
    found += factors_of_company(fault.name, evidence)
    found += factors_of_tests(fault.name, evidence.tests, evidence.lines)
    return found


def factors_of_company(cause: str, evidence: Evidence) -> list[tuple[float, str]]:
    """What the things that only bad rolls share do to the odds of a cause that such a thing can bring; the strongest counts."""
    own = [
        evidence.shared[role]
        for role, causes in BROUGHT_BY.items()
        if cause in causes and role in evidence.shared
    ]
    return [max(own)] if own else []


def line_of(evidence: Evidence, key: str) -> str:
    """The line that a statement rests on, as it is said behind it; nothing where none is known."""
    return f" (line {evidence.lines[key]})" if key in evidence.lines else ""
