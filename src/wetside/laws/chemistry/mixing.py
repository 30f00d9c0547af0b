"""How much of what: hydrates, stock to working strength, kits split by volume, and water tempered from two taps."""

from __future__ import annotations

from dataclasses import dataclass

from wetside.figures.figure import Figure
from wetside.figures.finding import CannotSay, Unusable

#: Factor from the anhydrous salt to its hydrate, by mass. Source basic-textbook-4; the printed digits.
HYDRATE_FACTORS = {
    ("sodium carbonate", 1): 1.17,
    ("sodium carbonate", 10): 2.70,
    ("sodium sulfite", 7): 2.0,
}


@dataclass(frozen=True, slots=True)
class Part:
    """One ingredient of a litre: name, amount, unit ("g" or "mL")."""

    name: str
    per_litre: float
    unit: str


#: From-scratch formulas per litre of working bath. Source bench-memory: compare with your own sheet.
FORMULAS: dict[str, tuple[Part, ...]] = {
    "prebath": (
        Part("borax decahydrate", 20, "g"),
        Part("sodium sulfate, anhydrous", 100, "g"),
        Part("sodium hydroxide", 1, "g"),
    ),
    "developer": (
        Part("anti-calcium agent", 2, "mL"),
        Part("sodium sulfite, anhydrous", 2.0, "g"),
        Part("antifog", 0.22, "g"),
        Part("sodium bromide", 1.20, "g"),
        Part("sodium carbonate, anhydrous", 25.6, "g"),
        Part("sodium bicarbonate", 2.7, "g"),
        Part("CD-3", 4.0, "g"),
    ),
    "stop": (Part("sulfuric acid, 7.0 N", 50, "mL"),),
    "bleach": (Part("potassium ferricyanide", 40, "g"), Part("sodium bromide", 25, "g")),
    "fixer": (
        Part("ammonium thiosulfate, 58 % solution", 185, "mL"),
        Part("sodium sulfite, anhydrous", 10, "g"),
        Part("sodium metabisulfite", 8.4, "g"),
        Part("potassium iodide", 0.5, "g"),
    ),
}


def hydrate_mass(anhydrous: float, salt: str, waters: int) -> Figure:
    """Mass in g of the hydrate that holds `anhydrous` g of the salt. Source basic-textbook-4."""
    factor = HYDRATE_FACTORS.get((salt, waters))
    if factor is None:
        known = ", ".join(f"{name} with {n} waters" for name, n in HYDRATE_FACTORS)
        raise Unusable(f"no factor for {salt} with {waters} waters; known: {known}", "hydrate")
    return Figure(anhydrous * factor, anhydrous * 0.005, "g", "basic-textbook-4")


def scaled_formula(role: str, volume: float) -> tuple[Part, ...]:
    """The formula of a bath for `volume` mL."""
    return tuple(Part(p.name, p.per_litre * volume / 1000, p.unit) for p in FORMULAS.get(role, ()))


def stock_and_water(volume: float, stock_parts: float, water_parts: float) -> tuple[float, float]:
    """mL of stock and of water that make `volume` mL of a dilution stock_parts + water_parts."""
    if volume <= 0 or stock_parts <= 0 or water_parts < 0:
        raise Unusable(
            f"a dilution needs a volume and parts above zero; found {volume:g} mL, {stock_parts:g} + {water_parts:g}",
            "dilution",
        )
    stock = volume * stock_parts / (stock_parts + water_parts)
    return stock, volume - stock


def split_concentrates(
    parts: dict[str, float], makes: float, volume: float, powder: bool = False
) -> dict[str, float] | CannotSay:
    """mL of each liquid concentrate for `volume` mL out of a kit that makes `makes` mL."""
    if powder and len(parts) > 1:
        return CannotSay(
            "a powder of several substances is not even through its bag: a spoonful is not the same mixture",
            "mix the whole bag into a concentrate or the full volume, then divide the liquid",
        )
    if not 0 < volume <= makes:
        raise Unusable(f"the kit makes {makes:g} mL; found {volume:g} mL wanted", "volume")
    return {name: amount * volume / makes for name, amount in parts.items()}


def tempered_water(volume: float, aim: float, hot: float, cold: float) -> tuple[float, float]:
    """mL of hot and of cold water (°C) that make `volume` mL at `aim` °C. Heat capacity taken as constant: < 0.5 %."""
    if not cold < hot or not cold <= aim <= hot:
        raise Unusable(
            f"water of {aim:g} °C lies between the taps; found cold {cold:g}, hot {hot:g} °C", "tempering"
        )
    hot_part = volume * (aim - cold) / (hot - cold)
    return hot_part, volume - hot_part
