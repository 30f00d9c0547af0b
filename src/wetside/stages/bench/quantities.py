"""Which question: how much of each thing goes into the tank, out of which jars, bottles and taps.

Needs a volume, or the tank and its reels. Where a kit cannot be divided or a tap is too cold it says so.
"""

from __future__ import annotations

from typing import Any

from wetside.figures.finding import CannotSay, Unusable
from wetside.laws.chemistry.mixing import split_concentrates, stock_and_water, tempered_water
from wetside.laws.chemistry.volumes import volume_for_area, volume_to_cover
from wetside.stages.bench.wanted import Wanted


def volumes(wanted: Wanted) -> dict[str, Any]:
    """The volume asked for, what covers the reels, what the film's area asks for, and which of them decides."""
    cover = (
        volume_to_cover(wanted.tank_volume, wanted.tank_reels, list(wanted.reels))
        if wanted.tank_volume is not None and wanted.reels
        else None
    )
    area = volume_for_area(list(wanted.reels)) if wanted.reels else None
    volume, decides = decided(wanted, cover.value if cover else None, area.value if area else None)
    return {
        "volume_ml": volume,
        "decides": decides,
        "to_cover": cover.as_json() if cover else None,
        "for_area": area.as_json() if area else None,
        "film_mm2": sum(reel.area for reel in wanted.reels),
        "say": said(wanted, volume, decides, cover.value if cover else None, area.value if area else None),
    }


def decided(wanted: Wanted, cover: float | None, area: float | None) -> tuple[float, str]:
    """(mL, what decides it), rounded up to 10 mL where it is reckoned."""
    if wanted.volume is not None:
        return wanted.volume, "asked for"
    assert cover is not None and area is not None and wanted.tank_volume is not None
    most = max(cover, min(area, wanted.tank_volume))
    return 10.0 * -(-most // 10), "covering the reels" if cover >= most else "area of the film"


def said(wanted: Wanted, volume: float, decides: str, cover: float | None, area: float | None) -> str:
    """What of the volume a person should know before pouring."""
    if cover is not None and volume < 0.95 * cover:
        return f"{volume:g} mL do not cover these reels: about {cover:.0f} mL would."
    if wanted.tank_volume is not None and volume > 1.02 * wanted.tank_volume:
        return f"{volume:g} mL do not go into this tank; it takes {wanted.tank_volume:g} mL."
    if area is not None and volume < 0.98 * area:
        return (
            f"The film's area asks for {area:.0f} mL of developer (amateur batch limit); {volume:g} mL is less: "
            "put less film in, or expect a thinner, softer negative."
        )
    if decides == "asked for":
        return "As asked for. Surer than any table: cover the empty reels with water once and measure it."
    return f"Decided by {decides}. Surer: cover the empty reels with water once and measure it."


def of_the_kit(wanted: Wanted, volume: float) -> dict[str, Any] | None:
    """mL of each concentrate and of water, or why this kit cannot be divided; None where no kit was named."""
    if wanted.kit is None:
        return None
    parts = split_concentrates(wanted.kit.parts, wanted.kit.makes, volume, wanted.kit.powder)
    if isinstance(parts, CannotSay):
        return parts.as_json()
    rows = [{"name": name, "amount": round(amount, 2), "unit": "mL"} for name, amount in parts.items()]
    return {
        "parts": rows,
        "water_ml": round(volume - sum(parts.values()), 2),
        "left_for": f"{wanted.kit.makes - volume:g} mL more out of the same bottles",
    }


def of_the_stock(wanted: Wanted, volume: float) -> dict[str, Any] | None:
    """mL of stock and of water for the working bath; None where no dilution was named."""
    if wanted.dilution is None:
        return None
    stock, water = stock_and_water(volume, *wanted.dilution)
    return {"stock_ml": round(stock, 1), "water_ml": round(water, 1)}


def from_the_taps(wanted: Wanted, volume: float, at: list[tuple[str, float]]) -> dict[str, Any] | None:
    """mL from the hot and the cold tap for each (what, °C); None where the taps were not read."""
    hot, cold = wanted.warmth.hot, wanted.warmth.cold
    if hot is None or cold is None:
        return None
    if cold >= hot:
        raise Unusable(
            f"the hot tap is warmer than the cold one; found hot {hot:g}, cold {cold:g} °C", "--hot-c"
        )
    return {
        "hot_c": hot,
        "cold_c": cold,
        "rows": [one_water(what, aim, volume, hot, cold) for what, aim in at],
    }


def one_water(what: str, aim: float, volume: float, hot: float, cold: float) -> dict[str, Any]:
    row: dict[str, Any] = {"for": what, "c": aim, "hot_ml": None, "cold_ml": None, "say": ""}
    if aim > hot:
        return {**row, "say": f"the hot tap gives {hot:g} °C: heat the rest in a kettle"}
    if aim < cold:
        return {**row, "say": f"the cold tap gives {cold:g} °C: cool with ice outside the bottle"}
    warm, cool = tempered_water(volume, aim, hot, cold)
    return {**row, "hot_ml": round(warm), "cold_ml": round(cool)}
