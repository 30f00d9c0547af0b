"""How much of what: formulas by volume, stock to working strength, kits split by volume, and water tempered from two taps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from wetside.figures.finding import CannotSay, Unusable
from wetside.laws.chemistry.hydrates import called, hydrate_factor


@dataclass(frozen=True, slots=True)
class Part:
    """One ingredient of a litre: name, amount, unit ("g" or "mL"); `salt` and `waters` where it holds water."""

    name: str
    per_litre: float
    unit: str
    salt: str = ""
    waters: float = 0


def hydrated(salt: str, waters: float, grams: float) -> Part:
    """A salt of the formulas in one of its hydrates."""
    return Part(called(salt, waters), grams, "g", salt, waters)


#: From-scratch formulas per litre of working bath. Source bench-memory: compare with your own sheet.
FORMULAS: dict[str, tuple[Part, ...]] = {
    "prebath": (
        hydrated("borax", 10, 20),
        hydrated("sodium sulfate", 0, 100),
        Part("sodium hydroxide", 1, "g"),
    ),
    "developer": (
        Part("anti-calcium agent", 2, "mL"),
        hydrated("sodium sulfite", 0, 2.0),
        Part("antifog", 0.22, "g"),
        Part("sodium bromide", 1.20, "g"),
        hydrated("sodium carbonate", 0, 25.6),
        Part("sodium bicarbonate", 2.7, "g"),
        Part("CD-3", 4.0, "g"),
    ),
    "stop": (Part("sulfuric acid, 7.0 N", 50, "mL"),),
    "bleach": (Part("potassium ferricyanide", 40, "g"), Part("sodium bromide", 25, "g")),
    "fixer": (
        Part("ammonium thiosulfate, 58 % solution", 185, "mL"),
        hydrated("sodium sulfite", 0, 10),
        Part("sodium metabisulfite", 8.4, "g"),
        Part("potassium iodide", 0.5, "g"),
    ),
}


def scaled_formula(role: str, volume: float, on_shelf: Mapping[str, float] | None = None) -> tuple[Part, ...]:
    """The formula of a bath for `volume` mL, in the hydrates on the shelf (salt → waters)."""
    jars = on_shelf or {}
    return tuple(in_hydrate(part, jars, volume / 1000) for part in FORMULAS.get(role, ()))


def in_hydrate(part: Part, jars: Mapping[str, float], litres: float) -> Part:
    """The ingredient for so many litres, weighed out of the jar that is there."""
    if part.salt not in jars:
        return replace(part, per_litre=part.per_litre * litres)
    waters = jars[part.salt]
    factor = hydrate_factor(part.salt, part.waters, waters)
    return hydrated(part.salt, waters, part.per_litre * factor * litres)


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
    parts: Mapping[str, float], makes: float, volume: float, powder: bool = False
) -> dict[str, float] | CannotSay:
    """mL of each liquid concentrate for `volume` mL out of a kit that makes `makes` mL."""
    if makes <= 0 or not parts or any(amount <= 0 for amount in parts.values()):
        raise Unusable("a kit makes some volume out of parts above zero", "kit")
    if powder and len(parts) > 1:
        return CannotSay(
            "a powder of several substances is not even through its bag: a spoonful is not the same mixture",
            "mix the whole bag into a concentrate or the full volume, then divide the liquid",
        )
    if sum(parts.values()) > makes:
        raise Unusable(
            f"the parts are {sum(parts.values()):g} mL together, more than the {makes:g} mL they make", "kit"
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
