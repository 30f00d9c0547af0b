"""Rolls of scans with known truth, as a scanner could give them: photographs, four gauges, and what goes wrong.

Nothing here is shared with the demo's film model. A roll's `Setting` names what is imposed: skew, flare, hidden
sides, dark edges, an exposure that was not locked, a light that falls off (`lens`: as a lens makes it).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

from benchmarks.planted import FITTED, KEPT_OUT, photograph
from wetside.figures.place import Rectangle
from wetside.laws.reel.gauges import GAUGES, Gauge
from wetside.store.scans.originals import write_dng, write_tiff16

#: Lays marks on the density (h, w, 3) [D] of a whole frame, film and picture, of a base (3,): density, base, picture, px per mm.
Laid = Callable[[np.ndarray, np.ndarray, Rectangle, float], np.ndarray]
SCALE = {"135": 24.0, "110": 48.0, "16still": 58.0, "16cine": 76.0}


@dataclass(frozen=True)
class Setting:
    """What a roll is made with. Lengths in mm, angles in degrees, flare as a share of the mean light.

    `fine` is the scale [px/mm] where the gauge's own in `SCALE` is not meant; `raw`: Bayer raw files of twice that scale.
    `printed`: edge print and frame numbers beside the pictures.
    `blur` is what lens and scanner smear [px].
    `skirt`: the part of the flare that lies round what is bright, most of it within `reach` [mm], instead of everywhere
    alike; `slant`: by how much the rest is stronger at one end of the frame and weaker at the other.
    """

    gauge: str = "135"
    frames: int = 5
    gate: bool = True
    locked: bool = True
    skew: float = 0.0
    flare: float = 0.0
    hidden: tuple[str, ...] = ()
    dark_edges: bool = False
    falloff: float = 0.08
    grain: float = 0.006
    irregular: float = 0.0
    exposures: float = 0.5
    lens: bool = False
    fine: float | None = None
    raw: bool = False
    printed: bool = False
    blur: float = 0.0
    skirt: float = 0.0
    reach: float = 3.0
    slant: float = 0.0


@dataclass(frozen=True)
class Truth:
    """Base [D], picture rectangles, and a patch in each frame: its rectangle and density [D, base included]."""

    base: np.ndarray
    pictures: tuple[Rectangle, ...]
    patches: tuple[tuple[Rectangle, np.ndarray], ...]
    px_per_mm: float
    names: tuple[str, ...] = field(default=())


def roll(folder: Path, setting: Setting, seed: int, laid: Laid | None = None) -> Truth:
    """Write a roll's scans (16-bit linear TIFF) and its open gate, with marks if `laid` lays any; what they hold comes back."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True, exist_ok=True)
    base = np.array([rng.uniform(0.12, 0.3), rng.uniform(0.4, 0.65), rng.uniform(0.6, 0.95)])
    light = light_over(setting, rng)
    pictures, patches, names = [], [], []
    for number in range(setting.frames):
        density, clear, picture, patch = _film(setting, base, rng, number, laid)
        signal = scanned(density, clear, light, setting, rng)
        name = f"n{number + 1}.{'dng' if setting.raw else 'tif'}"
        (write_dng if setting.raw else write_tiff16)(folder / name, signal)
        pictures.append(picture)
        patches.append(patch)
        names.append(name)
    if setting.gate:
        light_file = folder / f"open_gate.{'dng' if setting.raw else 'tif'}"
        (write_dng if setting.raw else write_tiff16)(
            light_file, (light * 60000).clip(0, 65535).astype(np.uint16)
        )
    return Truth(base, tuple(pictures), tuple(patches), _px(setting), tuple(names))


def _px(setting: Setting) -> float:
    return setting.fine or SCALE[setting.gauge]


def frame_size(setting: Setting) -> tuple[int, int, int, int, int, int]:
    """Height and width of the file, height and width of the picture, its left and top, in pixels."""
    gauge, px = GAUGES[setting.gauge], _px(setting)
    w, h = round(gauge.frame_along_mm * px), round(gauge.frame_across_mm * px)
    tall = round((gauge.film_width_mm + 1.0) * px)
    side = round(0.9 * px)
    top = (tall - h) // 2 if gauge.both_edges else tall - h - round(1.4 * px)
    return tall, w + 2 * side, h, w, side, top


def light_over(setting: Setting, rng: np.random.Generator) -> np.ndarray:
    tall, wide, *_ = frame_size(setting)
    y, x = np.mgrid[0:tall, 0:wide].astype(np.float32)
    r2 = ((x - wide * rng.uniform(0.4, 0.6)) ** 2 + (y - tall * rng.uniform(0.4, 0.6)) ** 2) / (wide / 2) ** 2
    colour = np.array([rng.uniform(0.75, 0.95), rng.uniform(0.8, 0.95), rng.uniform(0.75, 0.95)])
    level = 1 - setting.falloff * r2
    if setting.lens:
        # The fourth power of the cosine, with the same loss half a width from the middle.
        level = 1 / (1 + r2 * ((1 - setting.falloff) ** -0.5 - 1)) ** 2
    return (level[..., None] * colour).astype(np.float32)


def _film(
    setting: Setting, base: np.ndarray, rng: np.random.Generator, number: int = 0, laid: Laid | None = None
) -> tuple[np.ndarray, np.ndarray, Rectangle, tuple[Rectangle, np.ndarray]]:
    """Density of a frame in its holder, where bare light comes through, the picture and the patch."""
    px = _px(setting)
    tall, wide, h, w, x, y = frame_size(setting)
    x += int(rng.integers(-2, 3)) + round(rng.normal(0, setting.irregular) * px)
    density = np.tile(base.astype(np.float32), (tall, wide, 1))
    density[y : y + h, x : x + w] += picture_of(setting, h, w, rng)
    size = max(16, round(0.09 * h))
    patch = Rectangle(x + round(0.3 * w), y + round(0.3 * h), size, size)
    level = base + rng.uniform(0.4, 1.5) * np.array([0.9, 1.0, 1.05])
    density[patch.y : patch.y + size, patch.x : patch.x + size] = level
    if setting.printed:
        edge_print(density, setting, number, x, px)
    if laid is not None:
        density = laid(density, base, Rectangle(x, y, w, h), px)
    clear = np.zeros((tall, wide), np.float32)
    perforate(clear, setting, x, px)
    rim = round(0.5 * px)
    density[:rim] = density[-rim:] = 5.0
    clear[:rim] = clear[-rim:] = 0
    if setting.skew:
        turn = cv2.getRotationMatrix2D((x + w / 2, y + h / 2), rng.choice([-1, 1]) * setting.skew, 1)
        density = cv2.warpAffine(density, turn, (wide, tall), borderMode=cv2.BORDER_REPLICATE)
        clear = cv2.warpAffine(clear, turn, (wide, tall))
    picture = Rectangle(x, y, w, h)
    inset = size // 5
    inner = Rectangle(patch.x + inset, patch.y + inset, size - 2 * inset, size - 2 * inset)
    return *_hidden(density, clear, setting, px), picture, (inner, level)


def picture_of(setting: Setting, h: int, w: int, rng: np.random.Generator) -> np.ndarray:
    scene = photograph(str(rng.choice(FITTED + KEPT_OUT)))
    tall, wide = scene.shape[:2]
    cw = min(wide, tall * w / h) * rng.uniform(0.7, 1.0)
    ch = cw * h / w
    left, top = rng.uniform(0, wide - cw), rng.uniform(0, tall - ch)
    part = np.ascontiguousarray(scene[int(top) : int(top + ch), int(left) : int(left + cw)])
    how = cv2.INTER_AREA if part.shape[1] > w else cv2.INTER_CUBIC
    light = np.maximum(cv2.resize(part, (w, h), interpolation=how), 1e-3)
    if setting.dark_edges:
        fade = np.minimum(1, np.linspace(0, 6, w))[None, :, None]
        light = light * fade + 2e-4
    x = np.log10(light * 0.35 * 2 ** rng.normal(0, setting.exposures)) + 1.92
    above = np.array([0.47, 0.55, 0.54]) * (np.logaddexp(0, 4 * x) / 4 - np.logaddexp(0, 3 * (x - 2.9)) / 3)
    return (above + setting.grain * rng.standard_normal(above.shape) * np.sqrt(above + 0.2)).astype(
        np.float32
    )


def hole_mm(gauge: Gauge, px: float) -> float:
    """Where the middle of the first hole lies [mm from the picture's left edge], as `perforate` lays it."""
    return 0.3 * gauge.perf_pitch_mm + gauge.perf_along_mm / 2 - 3 / px


def perforate(clear: np.ndarray, setting: Setting, x: int, px: float) -> None:
    gauge = GAUGES[setting.gauge]
    rim, tall, wide = round(0.5 * px), round(gauge.perf_across_mm * px), round(gauge.perf_along_mm * px)
    tops = [rim + round(gauge.perf_edge_mm * px)]
    if gauge.both_edges:
        tops.append(clear.shape[0] - tops[0] - tall)
    for top in tops:
        for i in range(-3, 40):
            left = round(x - 3 + (i + 0.3) * gauge.perf_pitch_mm * px)
            if left + wide > 0 and left < clear.shape[1]:
                clear[top : top + tall, max(0, left) : left + wide] = 1


def edge_print(density: np.ndarray, setting: Setting, number: int, x: int, px: float) -> None:
    """Print exposed on the film beside the pictures: its name, frame numbers, a row of bars; 1.1 mm tall at the most, as light makes it."""
    gauge = GAUGES[setting.gauge]
    rim = round(0.5 * px)
    tall = 1.1 if gauge.both_edges else 0.55
    rows = [rim + 0.4 * px, len(density) - rim - (0.4 + tall) * px] if gauge.both_edges else [len(density) - rim - (0.15 + tall) * px]  # fmt: skip
    size, thick = tall * px / 22, max(1, round(0.14 * px))
    ink = np.zeros(density.shape[:2], np.uint8)
    for place, row in enumerate(rows):
        foot = round(row + tall * px)
        words = f"{number + 1} {number + 1}A" if place or len(rows) == 1 else "DAY 90"
        for turn in range(-1, 4):
            left = round(x + (turn * 9.5 + 2 * place) * px)
            cv2.putText(ink, words, (left, foot), cv2.FONT_HERSHEY_SIMPLEX, size, 255, thick, cv2.LINE_AA)
            for bar in (0, 1, 3, 4, 6, 9, 10) if place or len(rows) == 1 else ():
                at = left + round((5.0 + 0.25 * bar) * px)
                ink[round(row) : foot, max(0, at) : max(0, at + round(0.2 * px))] = 255
    exposed = cv2.GaussianBlur(ink.astype(np.float32) / 255, (0, 0), 0.03 * px)
    density += exposed[..., None] * np.array([1.1, 0.9, 0.7], np.float32)


def _hidden(
    density: np.ndarray, clear: np.ndarray, setting: Setting, px: float
) -> tuple[np.ndarray, np.ndarray]:
    """A holder's mask laid over the sides that shall not be seen: opaque up to the picture, and a little over it."""
    tall, wide, h, w, x, y = frame_size(setting)
    over = round(0.25 * px)
    for side in setting.hidden:
        rows, columns = {
            "top": (slice(0, y + over), slice(None)),
            "bottom": (slice(y + h - over, tall), slice(None)),
            "left": (slice(None), slice(0, x + over)),
            "right": (slice(None), slice(x + w - over, wide)),
        }[side]
        density[rows, columns] = 5.0
        clear[rows, columns] = 0
    return density, clear


def stray(lit: np.ndarray, setting: Setting) -> np.ndarray:
    """Where a flare of 1 throws the light of a frame (h, w, 3): a veil over all of it, and a skirt about each bright place.

    The skirt falls off with the third power of the distance, as light scattered between a lens's faces and in its glass
    does (common practice); beyond the file's left and right the film goes on as it is mirrored, above and below is the holder.
    """
    veil = lit.mean(axis=(0, 1))
    if not (setting.skirt or setting.slant):
        return veil  # type: ignore[no-any-return]
    tall, wide = lit.shape[:2]
    away = np.linspace(-1, 1, wide)[None, :, None] * 0.8 + np.linspace(-1, 1, tall)[:, None, None] * 0.6
    few = max(1, round(_px(setting) / 5))
    small = cv2.resize(lit, (wide // few, tall // few), interpolation=cv2.INTER_AREA)
    rows, columns = small.shape[:2]
    beyond = cv2.copyMakeBorder(small, 0, 0, columns, columns, cv2.BORDER_REFLECT)
    beyond = cv2.copyMakeBorder(beyond, rows, rows, 0, 0, cv2.BORDER_CONSTANT)
    y, x = np.mgrid[0 : beyond.shape[0], 0 : beyond.shape[1]].astype(float)
    r2 = (y - beyond.shape[0] // 2) ** 2 + (x - beyond.shape[1] // 2) ** 2
    skirt = (1 + r2 * (few / _px(setting) / setting.reach) ** 2) ** -1.5
    far = np.fft.rfft2(np.fft.ifftshift(skirt / skirt.sum()))
    spread = np.stack(
        [np.fft.irfft2(np.fft.rfft2(beyond[..., c]) * far, beyond.shape[:2]) for c in range(3)], -1
    )
    round_bright = cv2.resize(spread[rows : 2 * rows, columns : 2 * columns].astype(np.float32), (wide, tall), interpolation=cv2.INTER_CUBIC)  # fmt: skip
    return setting.skirt * round_bright + (1 - setting.skirt) * veil * (1 + setting.slant * away)  # type: ignore[no-any-return]


def scanned(
    density: np.ndarray, clear: np.ndarray, light: np.ndarray, setting: Setting, rng: np.random.Generator
) -> np.ndarray:
    """16-bit codes: light through film, flare, shot noise; a scanner that sets its own exposure when not locked."""
    film = 10**-density * (1 - clear[..., None]) + clear[..., None]
    if setting.blur:
        film = cv2.GaussianBlur(film, (0, 0), setting.blur)
    lit = film * light
    lit = (1 - setting.flare) * lit + setting.flare * stray(lit, setting)
    gain = 1.0 if setting.locked else 2 ** rng.uniform(-0.7, 0.0)
    signal = lit * 60000 * gain
    signal += rng.standard_normal(signal.shape) * np.sqrt(np.maximum(signal, 0) * 0.7 + 40)
    return signal.clip(0, 65535).astype(np.uint16)
