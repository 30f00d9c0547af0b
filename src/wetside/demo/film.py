"""The demo's own film, camera and scanner. Invented; nothing of it is known to the stages that read the scans."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

LIGHT = np.array([0.80, 0.84, 0.78])
CROSSTALK = np.array([[0.90, 0.08, 0.02], [0.05, 0.90, 0.05], [0.01, 0.08, 0.91]])


@dataclass(frozen=True)
class Stock:
    """A stock: base densities, gradients, log exposure at the toe (absolute, for `ei`), colour of light it is made for."""

    name: str
    ei: float
    base: tuple[float, float, float] = (0.22, 0.56, 0.82)
    gradient: tuple[float, float, float] = (0.46, 0.53, 0.52)
    tungsten: bool = False


@dataclass(frozen=True)
class Faults:
    """What went wrong, in the model's own terms."""

    gain: tuple[float, float, float] = (1.0, 1.0, 1.0)
    speed_stops: float = 0.0
    fog: tuple[float, float, float] = (0.0, 0.0, 0.0)
    silver: float = 0.0
    thin_edge: float = 0.0
    light: tuple[float, float, float] = (1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Spot:
    """A mark: place along the film [mm], across (0–1), radii [mm], density change, or to the base when `bare`."""

    film_mm: float
    across: float
    along_mm: float
    across_mm: float
    delta: tuple[float, float, float] = (0.0, 0.0, 0.0)
    bare: bool = False


@dataclass(frozen=True)
class Scanner:
    """A camera over a light: hue gradient across the light, flare, noise; `exposure` per frame when not locked."""

    gradient: float = 0.09
    flare: float = 0.002
    exposure: tuple[float, ...] = field(default_factory=tuple)


def toe(x: np.ndarray) -> np.ndarray:
    """Density per gradient over log exposure from the toe: soft toe, soft shoulder at 2.9."""
    return (
        np.log1p(np.exp(np.clip(4 * x, -40, 40))) / 4 - np.log1p(np.exp(np.clip(3 * (x - 2.9), -40, 40))) / 3
    )


def to_threshold(stock: Stock) -> float:
    """Log exposure from the toe at which green stands 0.15 over its base: the model's rated speed is put there."""
    return float(np.log(np.expm1(4 * 0.15 / stock.gradient[1])) / 4)


def exposed(scene: np.ndarray, stock: Stock, index: float, stops: float, faults: Faults) -> np.ndarray:
    """Density above base (h, w, 3) of a scene (0.18 is grey) metered at an index."""
    light = scene * np.array(faults.light, np.float32)
    layers = np.maximum(light @ CROSSTALK.T, 1e-5)
    at_grey = np.log10(8.125 / index) + 0.30103 * (stops + faults.speed_stops)
    start = np.log10(np.sqrt(2.0) / stock.ei) - to_threshold(stock)
    log_h = np.log10(layers / 0.18) + at_grey
    density = toe(log_h - start) * np.array(stock.gradient) * np.array(faults.gain)
    return density + faults.silver * density.mean(axis=2, keepdims=True)


def grained(density: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Grain that grows with the root of density."""
    return density + 0.010 * np.sqrt(np.maximum(density, 0.02)) * rng.standard_normal(density.shape)


def scanned(
    transmitted: np.ndarray, scanner: Scanner, rng: np.random.Generator, exposure: float = 1.0
) -> np.ndarray:
    """uint16 codes of light through film: light's gradient, flare, shot and read noise."""
    light = light_field(transmitted.shape[0], transmitted.shape[1], scanner) * exposure
    signal = (light * transmitted).astype(np.float32)
    signal += scanner.flare * signal.mean(axis=(0, 1))
    codes = signal * 65535
    codes += rng.standard_normal(codes.shape, dtype=np.float32) * np.sqrt(np.maximum(codes, 0) * 0.8 + 30)
    return np.clip(np.round(codes), 0, 65535).astype(np.uint16)


def light_field(height: int, width: int, scanner: Scanner) -> np.ndarray:
    """The light alone: brightness falls to the corners, hue drifts from side to side."""
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    x, y = x / width - 0.5, y / height - 0.5
    fall = 1 - 0.10 * (x * x + y * y)
    hue = np.stack([1 + scanner.gradient * x, np.ones_like(x), 1 - scanner.gradient * x], axis=-1)
    return (LIGHT * fall[..., None] * hue).astype(np.float32)


def spot_weight(
    shape: tuple[int, int], centre: tuple[float, float], radii: tuple[float, float]
) -> np.ndarray:
    """Soft-edged ellipse, 1 inside, 0 outside."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    distance = np.hypot((x - centre[0]) / max(radii[0], 1), (y - centre[1]) / max(radii[1], 1))
    return cv2.GaussianBlur(np.clip((1.05 - distance) * 10, 0, 1), (0, 0), 1.0)
