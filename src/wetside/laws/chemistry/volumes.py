"""How much of a bath a tank wants: enough to cover the reels, and enough for the area of film on them."""

from __future__ import annotations

from dataclasses import dataclass

from wetside.figures.figure import Figure
from wetside.figures.finding import Unusable
from wetside.laws.chemistry.capacity import BATCH_ML_PER_ROLL, ROLL_AREA
from wetside.laws.reel.gauges import GAUGES

#: Height (mm) that the flanges of a reel and the gap above it add to the film's width. Common practice; measure.
FLANGES = 9.0

#: Length (mm) taken for a reel whose film was not measured: 36 frames of 35 mm (iso-1007); 2.5 ft of 16 mm; a 16 mm still
#: cartridge (0.14 of 80 square inches); 24 exposures of 110. From memory but the first.
USUAL_LENGTH = {"135": 1622.0, "16cine": 762.0, "16still": 450.0, "110": 700.0}


@dataclass(frozen=True, slots=True)
class Loaded:
    """A reel's film: its gauge and length in mm."""

    gauge: str
    length: float

    @property
    def area(self) -> float:
        """mm² that the chemistry sees."""
        return GAUGES[self.gauge].film_width_mm * self.length


def loaded(gauge: str, length: float | None = None) -> Loaded:
    """A reel with film; `Unusable` for a gauge that is not known or a length that no reel takes."""
    if gauge not in GAUGES:
        raise Unusable(f"gauge is one of {', '.join(GAUGES)}; found {gauge!r}", "reel")
    film = USUAL_LENGTH[gauge] if length is None else length
    if not 10 <= film <= 40_000:
        raise Unusable(f"a reel takes 10 to 40000 mm of film; found {film:g}", "reel")
    return Loaded(gauge, film)


def reel_share(gauge: str) -> float:
    """Height of this gauge's reel against that of a 35 mm reel, by which tanks are sold."""
    return (GAUGES[gauge].film_width_mm + FLANGES) / (GAUGES["135"].film_width_mm + FLANGES)


def volume_to_cover(tank_volume: float, tank_reels: int, reels: list[Loaded]) -> Figure:
    """mL that cover these reels in a tank that takes `tank_volume` mL over `tank_reels` reels of 35 mm.

    Proportional to the height of the stack; spread a tenth. Surer: fill the empty tank with its reels until
    they are covered, and measure what you poured.
    """
    if not 1 <= tank_reels <= 20:
        raise Unusable(f"a tank takes 1 to 20 reels; found {tank_reels}", "tank reels")
    volume = tank_volume / tank_reels * sum(reel_share(reel.gauge) for reel in reels)
    return Figure(volume, volume / 10, "mL", "common-practice")


def volume_for_area(reels: list[Loaded]) -> Figure:
    """mL of developer that the film's area asks for, by the amateur batch limit. Spread a third."""
    volume = sum(reel.area for reel in reels) / ROLL_AREA * BATCH_ML_PER_ROLL
    return Figure(volume, volume / 3, "mL", "bench-batch")
