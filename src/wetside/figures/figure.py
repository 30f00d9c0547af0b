"""A figure: a number that knows its spread, its unit and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

from wetside.figures.channels import number


@dataclass(frozen=True, slots=True)
class Figure:
    """A measured, derived or quoted number.

    value   in `unit`
    spread  one standard deviation in `unit`; None where it is not known
    unit    "D", "°C", "s", "mL", "mm", "log10 lx·s", "stop", or "" for a ratio
    source  an id of sources.toml, a line's id, or "common practice"
    """

    value: float
    spread: float | None
    unit: str
    source: str

    def as_json(self) -> dict[str, object]:
        return {
            "value": number(self.value),
            "spread": number(self.spread),
            "unit": self.unit,
            "source": self.source,
        }
