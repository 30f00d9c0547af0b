"""What things cost: a kit mixed, a session, a parcel, a roll at a laboratory, a day of waiting."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Kit:
    """Chemistry to be mixed, or a bath on the shelf (`price` 0, at most one). Area in m², life in days after mixing."""

    id: str
    process: str
    price: float
    area_m2: float
    life_days: float
    litres: float = 1.0
    sessions: int | None = None
    on_shelf: bool = False


@dataclass(frozen=True, slots=True)
class Laboratory:
    """A laboratory: prices before tax; `tax` is a fraction of the price of the work, not of the post."""

    id: str
    gauges: tuple[str, ...]
    processes: tuple[str, ...]
    takes_backing: bool
    price_per_roll: float | None
    price_per_m: float | None
    minimum_m: float
    per_parcel: float
    parcel_rolls: int
    tax: float
    days: int


def laboratory_price(laboratory: Laboratory, length_mm: float) -> float:
    """Price of one roll's work, tax included: per roll, or per metre with the laboratory's least length."""
    metres = max(length_mm / 1000, laboratory.minimum_m)
    work = (laboratory.price_per_roll or 0.0) + (laboratory.price_per_m or 0.0) * metres
    return work * (1 + laboratory.tax)
