"""Whole rolls as scans: rebate, perforations, pictures in their place, marks in theirs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from wetside.demo.film import (
    Faults,
    Scanner,
    Spot,
    Stock,
    exposed,
    grained,
    light_field,
    scanned,
    spot_weight,
)
from wetside.demo.scenes import scene
from wetside.laws.reel.gauges import GAUGES, Gauge

FIRST_MM = 60.0
MARGIN_MM = {"135": 1.0, "110": 3.0, "16still": 0.6, "16cine": 0.05}


@dataclass(frozen=True)
class Shot:
    """One frame: a scene's name ("photo 3", "grey scale", "chart"), and how it was exposed."""

    what: str
    stops: float = 0.0
    index: float | None = None


@dataclass(frozen=True)
class Roll:
    """A roll and all that was done to it."""

    name: str
    stock: Stock
    gauge: str
    shots: tuple[Shot, ...]
    faults: Faults = Faults()
    spots: tuple[Spot, ...] = ()
    scanner: Scanner = Scanner()
    files: str = "tiff"
    note: str = ""
    baths: dict[str, str] = field(default_factory=dict)


def size_of(gauge: Gauge, px_per_mm: float) -> tuple[int, int]:
    """Height and width of a scan in pixels: the film's width and a holder above and below."""
    along = gauge.frame_along_mm + 2 * MARGIN_MM[gauge.name]
    return round((gauge.film_width_mm + 0.8) * px_per_mm), round(along * px_per_mm)


def frames(roll: Roll, px_per_mm: float, seed: int) -> Iterator[tuple[np.ndarray, dict[str, object]]]:
    """uint16 scans of a roll's frames with their truth."""
    rng = np.random.default_rng(seed)
    gauge = GAUGES[roll.gauge]
    for number, shot in enumerate(roll.shots):
        exposure = roll.scanner.exposure[number] if roll.scanner.exposure else 1.0
        density, truth = frame_density(roll, gauge, shot, number, px_per_mm, rng)
        clear = openings(gauge, density.shape[:2], px_per_mm, truth["picture"])  # type: ignore[arg-type]
        light = np.power(10.0, -density)
        light[clear == 1] = 1.0
        light[clear == 2] = 0.0
        yield scanned(light.astype(np.float32), roll.scanner, rng, exposure), truth


def frame_density(
    roll: Roll, gauge: Gauge, shot: Shot, number: int, px_per_mm: float, rng: np.random.Generator
) -> tuple[np.ndarray, dict[str, object]]:
    """Density of one frame's film (h, w, 3) and where the picture and the marks lie on it."""
    height, width = size_of(gauge, px_per_mm)
    w, h = round(gauge.frame_along_mm * px_per_mm), round(gauge.frame_across_mm * px_per_mm)
    x = min(max(0, (width - w) // 2 + int(rng.integers(-2, 3))), width - w)
    y = min(max(0, _top(gauge, height, h, px_per_mm) + int(rng.integers(-1, 2))), height - h)
    view, patches = scene(shot.what, w, h, rng)
    above = exposed(view, roll.stock, shot.index or roll.stock.ei, shot.stops, roll.faults)
    across = ((np.arange(h) + 0.5) / h)[:, None, None]
    above = above * (1 - roll.faults.thin_edge * np.clip((0.30 - across) / 0.30, 0, 1))
    density = np.zeros((height, width, 3))
    density[y : y + h, x : x + w] = grained(above, rng)
    for spot in roll.spots:
        density = _marked(density, spot, (x, y, w, h), number, gauge, px_per_mm)
    density += np.array(roll.stock.base) + np.array(roll.faults.fog)
    boxes = [(x + px, y + py, pw, ph) for px, py, pw, ph in patches]
    return np.maximum(density, 0), {"picture": (x, y, w, h), "patches": boxes}


def _top(gauge: Gauge, height: int, picture: int, px_per_mm: float) -> int:
    """The picture's first row: centred, or below the perforations of film perforated along one edge."""
    if gauge.both_edges:
        return (height - picture) // 2
    below = round((0.4 + gauge.perf_edge_mm + gauge.perf_across_mm + 0.35) * px_per_mm)
    return min(below, height - picture - round(0.5 * px_per_mm))


def _marked(
    density: np.ndarray, spot: Spot, box: tuple[int, int, int, int], number: int, gauge: Gauge, px: float
) -> np.ndarray:
    along = spot.film_mm - FIRST_MM - number * gauge.frame_pitch_mm
    x, y, w, h = box
    if not -2 < along < gauge.frame_along_mm + 2:
        return density
    weight = spot_weight(
        density.shape[:2], (x + along * px, y + spot.across * h), (spot.along_mm * px, spot.across_mm * px)
    )[..., None]
    return density * (1 - weight) if spot.bare else density + weight * np.array(spot.delta)


def openings(gauge: Gauge, shape: tuple[int, int], px: float, picture: Sequence[int]) -> np.ndarray:
    """0 film, 1 bare light (perforations), 2 holder."""
    height, width = shape
    found = np.zeros(shape, np.uint8)
    rim = round(0.4 * px)
    found[:rim] = found[height - rim :] = 2
    first = picture[0] - 0.5 * (gauge.frame_pitch_mm - gauge.frame_along_mm) * px
    for top in _rows(gauge, height, rim, px):
        for i in range(-3, 60):
            centre = first + i * gauge.perf_pitch_mm * px
            if centre > width + 20:
                break
            left, right = (
                round(centre - gauge.perf_along_mm * px / 2),
                round(centre + gauge.perf_along_mm * px / 2),
            )
            if right > 0:
                found[top : top + round(gauge.perf_across_mm * px), max(0, left) : min(width, right)] = 1
    return found


def _rows(gauge: Gauge, height: int, rim: int, px: float) -> list[int]:
    top = round(rim + gauge.perf_edge_mm * px)
    bottom = round(height - rim - (gauge.perf_edge_mm + gauge.perf_across_mm) * px)
    return [top, bottom] if gauge.both_edges else [top]


def open_gate(gauge: str, px_per_mm: float, scanner: Scanner, seed: int) -> np.ndarray:
    """A scan of the light without film."""
    height, width = size_of(GAUGES[gauge], px_per_mm)
    del seed
    return np.clip(light_field(height, width, scanner) * 65535, 0, 65535).astype(np.uint16)
