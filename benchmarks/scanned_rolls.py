"""Scans of a roll with a planted cause: `faulty_rolls` makes the film, `rolls` the scanner, marks lie where the film lay on its reel.

Pictures are photographs that no fit saw and drawn scenes. A fault of the whole roll acts on pictures and grey scale alike;
marks add, thin or hide what lies under them; a cast runs across the film; a scanner's fault stays with the scanner.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np

from benchmarks.faulty_rolls import HIGH, LOW, Developed, Emulsion
from benchmarks.leaks import DARK, Leak, drawn_leak, leaked, light_of
from benchmarks.other_scenes import card, clouds_of_noise, soft_light
from benchmarks.planted import KEPT_OUT, photograph
from benchmarks.rolls import Setting, frame_size, hole_mm, light_over, perforate, scanned
from wetside.figures.place import Rectangle
from wetside.laws.reel.gauges import GAUGES, Gauge
from wetside.laws.reel.spiral import TURN, length_to_angle
from wetside.store.scans.originals import write_tiff16

SCALE = {"135": 16.0, "110": 34.0, "16still": 42.0}
#: Log exposures of the grey scale's steps (None: never exposed); the first, second, fourth and last are D-min, LD, MD, HD.
STEPS = (None, LOW, 0.9, 1.3, 1.7, HIGH)
CONTROL = (1, 2, 4, 6)
CORE, GROOVE = 18.0, 2.8


@dataclass(frozen=True)
class Planted:
    """A mark on the film: its place [mm] along the film and down from the picture's top, reach [mm], its own draw of 0 to 1."""

    along: float
    down: float
    reach: float
    own: float


@dataclass(frozen=True)
class Shown:
    """What a local cause does: where its marks lie, how they are shaped, what they do to the density under them."""

    repeat: str
    shape: str
    soft: float
    reach: tuple[float, float]
    lays: Callable[[np.ndarray, np.ndarray, np.ndarray, float], np.ndarray]


def _dye(above: np.ndarray) -> np.ndarray:
    mean = above.mean(axis=2, keepdims=True)
    return mean / (0.6 + mean)


def _thin(d: np.ndarray, base: np.ndarray, w: np.ndarray, own: float) -> np.ndarray:
    return d - w * (0.5 + 0.4 * own) * (d - base)


def _hidden(d: np.ndarray, base: np.ndarray, w: np.ndarray, own: float) -> np.ndarray:
    return d - w * (d - base)


def _silver(d: np.ndarray, base: np.ndarray, w: np.ndarray, own: float) -> np.ndarray:
    return d + w * ((0.2 + 0.4 * own) * _dye(d - base) + np.array([0.02, 0.05, 0.12]))


def _denser(d: np.ndarray, base: np.ndarray, w: np.ndarray, own: float) -> np.ndarray:
    return d + w * ((0.15 + 0.25 * own) * (d - base) + 0.01)


def _residue(d: np.ndarray, base: np.ndarray, w: np.ndarray, own: float) -> np.ndarray:
    return d + w * (0.08 + 0.15 * own) * np.array([1.0, 1.0, 1.05])


def _opaque(d: np.ndarray, base: np.ndarray, w: np.ndarray, own: float) -> np.ndarray:
    return d + w * (0.3 + 0.7 * own)


MARKED: dict[str, Shown] = {
    "air bells in the developer": Shown("scattered", "disc", 0.05, (0.25, 0.9), _thin),
    "turns touching in the developer": Shown("touching turns", "blot", 0.06, (0.5, 1.4), _hidden),
    "turns touching in bleach or fixer": Shown("touching turns", "blot", 0.06, (0.5, 1.4), _silver),
    "splash or slow pour": Shown("one angle", "band", 0.6, (0.8, 2.0), _denser),
    "surge at the perforations": Shown("perforation", "plume", 0.5, (0.6, 1.1), _denser),
    "drying marks or residue on the surface": Shown("scattered", "ring", 0.05, (0.5, 1.3), _residue),
    "dust or dirt in camera or scanner": Shown("frame", "blot", 0.03, (0.15, 0.35), _opaque),
}  # fmt: skip
LEAK = "light leak in the camera"
#: Causes of marks: those that lie on the film as they are, and light, which the film is exposed to.
MARKED_CAUSES = (*list(MARKED)[:-1], LEAK, *list(MARKED)[-1:])
CASTS = ("tank filled too low", "stain carried over the film", "light under the negative")


@dataclass(frozen=True)
class Film:
    """A roll to be scanned: what was developed, its scatter (3, 3) on D-min, LD, HD−LD, what was planted and how it is scanned."""

    made: Developed
    scatter: np.ndarray
    setting: Setting
    cause: str = ""
    marks: tuple[Planted, ...] = ()
    cast: np.ndarray = field(default_factory=lambda: np.zeros(3))
    leaks: tuple[Leak, ...] = ()

    @property
    def gauge(self) -> Gauge:
        return GAUGES[self.setting.gauge]

    def density(self, log_h: np.ndarray | float | None) -> np.ndarray:
        """Camera density at log exposures (…, 3), with this run's own scatter."""
        rows = np.array([self.scatter[0], self.scatter[1], self.scatter[1] + self.scatter[2]])
        if log_h is None:
            return self.made.density(None) + rows[0]
        plain = self.made.density(log_h)
        at = np.broadcast_to(log_h, plain.shape)
        moved = np.stack([np.interp(at[..., c], (-0.5, LOW, HIGH), rows[:, c]) for c in range(3)], axis=-1)
        return plain + moved


@cache
def scenes() -> tuple[np.ndarray, ...]:
    """Linear pictures (h, w, 3): the photographs that nothing was fitted to, and eight drawn scenes."""
    rng = np.random.default_rng(5)
    drawn = [make(rng) for make in (soft_light, card, clouds_of_noise, soft_light) for _ in range(2)]
    small = [cv2.resize(one, (720, 480), interpolation=cv2.INTER_AREA) for one in drawn]
    return (*[photograph(name) for name in KEPT_OUT], *small)


def exposure_of_picture(h: int, w: int, rng: np.random.Generator) -> np.ndarray:
    """Log exposure (h, w, 3) of a picture, as the curves of `faulty_rolls` count it."""
    every = scenes()
    scene = every[int(rng.integers(len(every)))]
    tall, wide = scene.shape[:2]
    cw = min(wide, tall * w / h) * rng.uniform(0.7, 1.0)
    ch = cw * h / w
    x, y = rng.uniform(0, wide - cw), rng.uniform(0, tall - ch)
    part = np.ascontiguousarray(scene[int(y) : int(y + ch), int(x) : int(x + cw)])
    if rng.random() < 0.5:
        part = np.ascontiguousarray(part[:, ::-1])
    how = cv2.INTER_AREA if part.shape[1] > w else cv2.INTER_CUBIC
    light = np.maximum(cv2.resize(part, (w, h), interpolation=how), 1e-3)
    return np.log10(light) + 1.75 + rng.normal(0, 0.15) + rng.normal(0, 0.04, 3)


def places(cause: str, film: Film, count: int, rng: np.random.Generator) -> tuple[Planted, ...]:
    """Where a cause's marks lie on the film; a seventh of them astray where they repeat."""
    shown, gauge = MARKED[cause], film.gauge
    end = gauge.frame_pitch_mm * film.setting.frames
    size = min(1.0, gauge.frame_across_mm / 16)
    found: list[Planted] = []
    fixed = [(rng.uniform(0.1, 0.9) * gauge.frame_along_mm, rng.uniform(0.1, 0.9) * gauge.frame_across_mm, rng.uniform(*shown.reach) * size) for _ in range(int(rng.integers(1, 4)))]  # fmt: skip
    turn = rng.uniform(0, TURN)
    if shown.repeat == "perforation":
        return _at_holes(film, shown, size, rng)
    while len(found) < count:
        down, reach = rng.uniform(0.05, 0.95) * gauge.frame_across_mm, rng.uniform(*shown.reach) * size
        own, stray = float(rng.random()), rng.random() < 0.14
        along = [rng.uniform(0, end)]
        if shown.repeat == "frame":
            left, down, reach = fixed[len(found) % len(fixed)]
            along = [len(found) // len(fixed) * gauge.frame_pitch_mm + left]
            if along[0] > end:
                break
        elif shown.repeat == "one angle" and not stray:
            along = [_on_reel(turn + TURN * rng.integers(0, 8) + rng.normal(0, np.radians(20)))]
        elif shown.repeat == "touching turns" and not stray:
            at = rng.uniform(0, TURN) + TURN * rng.integers(0, 6)
            along = [_on_reel(at), _on_reel(at + TURN + rng.normal(0, 0.06))]
        found += [Planted(float(a), float(down), float(reach), own) for a in along if 0 <= a < end]
    return tuple(found[: count if shown.repeat != "frame" else None])


def _at_holes(film: Film, shown: Shown, size: float, rng: np.random.Generator) -> tuple[Planted, ...]:
    """Plumes beside a share of the holes along one edge of the picture, each within half a millimetre of its hole."""
    gauge, px = film.gauge, film.setting.fine or 1.0
    every = round(gauge.frame_pitch_mm * film.setting.frames / gauge.perf_pitch_mm)
    holes = np.flatnonzero(rng.random(every) < (rng.uniform(0.2, 1.0) if every > 20 else 0.8))
    down = gauge.frame_across_mm if gauge.both_edges and rng.random() < 0.5 else 0.0
    first = hole_mm(gauge, px)
    along = first + holes * gauge.perf_pitch_mm + rng.normal(0, 0.2, len(holes))
    return tuple(
        Planted(float(a), down, float(rng.uniform(*shown.reach) * size), float(rng.random())) for a in along
    )


def _on_reel(theta: float) -> float:
    return float(length_to_angle(theta, CORE, GROOVE))


def write_roll(folder: Path, film: Film, rng: np.random.Generator) -> dict[str, list[Rectangle]]:
    """Write a roll's scans, with an open gate where its setting has one; boxes of its marks in pixels of each file."""
    folder.mkdir(parents=True, exist_ok=True)
    light, seen = _light_of(film, rng), {}
    for number in range(film.setting.frames):
        density, clear, boxes = frame(film, number, rng)
        name = f"n{number + 1:02d}.tif"
        write_tiff16(folder / name, scanned(density, clear, light, film.setting, rng))
        seen[name] = boxes
    if film.setting.gate:
        write_tiff16(folder / "open_gate.tif", (light * 60000).clip(0, 65535).astype(np.uint16))
    return seen


def _light_of(film: Film, rng: np.random.Generator) -> np.ndarray:
    light = light_over(film.setting, rng)
    if film.cause == "light under the negative":
        down = np.linspace(-0.5, 0.5, light.shape[0], dtype=np.float32)[:, None, None]
        light = light * 10 ** -(down * film.cast.astype(np.float32))
    return light


def frame(
    film: Film, number: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, list[Rectangle]]:
    """Density of a frame in its holder, where bare light comes through, and the boxes of its marks."""
    setting, gauge = film.setting, film.gauge
    px = setting.fine or 1.0
    tall, wide, h, w, x, y = frame_size(setting)
    x += int(rng.integers(-2, 3))
    rim = round(0.5 * px)
    base = film.density(None)
    log_h = np.full((tall, wide, 3), DARK, np.float32)
    log_h[y : y + h, x : x + w] = exposure_of_picture(h, w, rng)
    log_h, boxes = _with_leaks(log_h, film, (x, y, w, h), rim, rng)
    above = film.density(log_h) - film.density(DARK)
    grain = setting.grain * rng.standard_normal(above.shape) * np.sqrt(np.maximum(above, 0) + 0.2)
    grain[np.broadcast_to(log_h <= DARK, above.shape)] = 0
    density = (base + above + grain).astype(np.float32)
    density = _with_cast(density, base, film, y, h)
    plain = density
    for mark in film.marks:
        at = x + (mark.along - number * gauge.frame_pitch_mm) * px, y + mark.down * px
        laid, box = _laid(plain if _spreads(film) else density, base, mark, film, at, px)
        # Developer that comes twice to one place does not develop it twice as much.
        density = np.maximum(density, laid) if _spreads(film) else laid
        if box is not None:
            boxes.append(box)
    clear = np.zeros((tall, wide), np.float32)
    perforate(clear, setting, x, px)
    density[:rim] = density[-rim:] = 5.0
    clear[:rim] = clear[-rim:] = 0
    return density, clear, boxes


def _spreads(film: Film) -> bool:
    return MARKED[film.cause].lays is _denser if film.cause in MARKED else False


def _with_leaks(
    log_h: np.ndarray,
    film: Film,
    picture: tuple[int, int, int, int],
    rim: int,
    rng: np.random.Generator,
) -> tuple[np.ndarray, list[Rectangle]]:
    """Log exposures (h, w, 3) with the leaks of a camera, which nine frames in ten show, and the boxes of their brighter half."""
    px, boxes = film.setting.fine or 1.0, []
    for leak in film.leaks:
        if rng.random() < 0.1:
            continue
        light = light_of(leak, log_h.shape[:2], picture, (rim, len(log_h) - rim), px)
        log_h = leaked(log_h, light, leak, rng.normal(0, 0.7))
        rows, columns = np.nonzero(light > 0.5 * light.max())
        boxes.append(Rectangle(int(columns.min()), int(rows.min()), int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1))  # fmt: skip
    return log_h, boxes


def _with_cast(density: np.ndarray, base: np.ndarray, film: Film, top: int, high: int) -> np.ndarray:
    across = ((np.arange(len(density)) - top) / high).astype(np.float32)[:, None, None]
    if film.cause == "stain carried over the film":
        return density + (across - 0.5) * film.cast.astype(np.float32)
    if film.cause == "tank filled too low":
        thin, reach = film.cast[0], film.cast[1]
        return density - (density - base) * thin * np.clip((reach - across) / reach, 0, 1)
    return density


def _laid(
    density: np.ndarray, base: np.ndarray, mark: Planted, film: Film, at: tuple[float, float], px: float
) -> tuple[np.ndarray, Rectangle | None]:
    """The density with a mark laid on it, and the mark's box; None where it lies outside the file."""
    shown = MARKED[film.cause]
    tall, wide = density.shape[:2]
    r, soft = mark.reach * px, max(0.6, shown.soft * mark.reach * px)
    far = r * (9 if shown.shape == "band" else 2) + 3 * soft
    x0, x1 = (int(np.clip(v, 0, wide)) for v in (at[0] - r * 1.3 - 3 * soft, at[0] + r * 1.3 + 3 * soft))
    y0, y1 = (int(np.clip(v, 0, tall)) for v in (at[1] - far, at[1] + far))
    if x1 - x0 < 3 or y1 - y0 < 3:
        return density, None
    y, x = np.mgrid[y0:y1, x0:x1].astype(np.float32)
    weight = _weight(shown.shape, x - at[0], y - at[1], r, soft, mark.own)[..., None]
    density = density.copy()
    density[y0:y1, x0:x1] = shown.lays(density[y0:y1, x0:x1], base, weight, mark.own)
    rows, columns = np.nonzero(weight[..., 0] > 0.5)
    if len(rows) < 9:
        return density, None
    box = Rectangle(x0 + int(columns.min()), y0 + int(rows.min()), int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1)  # fmt: skip
    return density, box


def _weight(shape: str, u: np.ndarray, v: np.ndarray, r: float, soft: float, own: float) -> np.ndarray:
    """How much of a mark lies at an offset (u, v) [px], 0 to 1."""
    if shape == "band":
        # One edge soft and one sharper (handbook, film §4); it thins out at both ends.
        across, edge = u + 0.15 * v * (own - 0.5), np.where((u > 0) == (own > 0.5), soft, soft / 3)
        ends = np.clip((9 * r - np.abs(v)) / (3 * r), 0, 1)
        return np.asarray(ends * np.clip((r - np.abs(across)) / (2 * edge) + 0.5, 0, 1))
    if shape == "plume":
        inside = r - np.hypot(u, v / 2.5)
    elif shape == "ring":
        inside = 0.18 * r + 0.6 - np.abs(np.hypot(u, v * (1 + 0.5 * own)) - 0.8 * r)
    else:
        wobble = 0.0
        if shape == "blot":
            turn = np.arctan2(v, u)
            wobble = 0.14 * np.cos(2 * turn + 9 * own) + 0.09 * np.cos(3 * turn + 23 * own)
        inside = r * (1 + wobble) - np.hypot(u, v)
    return np.clip(inside / (2 * soft) + 0.5, 0, 1)


def write_scale(file: Path, film: Film, rng: np.random.Generator) -> None:
    """Write the scan of a grey scale of six steps side by side, with its own open gate beside it."""
    file.parent.mkdir(parents=True, exist_ok=True)
    size = 64
    steps = np.stack([film.density(step) for step in STEPS])
    density = np.repeat(np.repeat(steps[None], size, axis=0), size, axis=1).astype(np.float32)
    density += film.setting.grain * rng.standard_normal(density.shape)
    density = _with_cast(density, film.density(None), film, 0, size)
    light = np.full(density.shape, 0.9, np.float32)
    clear = np.zeros(density.shape[:2], np.float32)
    write_tiff16(file, scanned(density, clear, light, replace(film.setting, flare=0.0), rng))
    write_tiff16(file.parent / "open_gate.tif", (light * 60000).astype(np.uint16))


def roll_scatter(rng: np.random.Generator) -> np.ndarray:
    """What one run's D-min, LD and HD−LD (3, 3) wander without a fault [D]: all layers alike, and each by itself."""
    return rng.standard_t(5, (3, 1)) * np.array([[0.004], [0.011], [0.011]]) + rng.standard_t(5, (3, 3)) * 0.006  # fmt: skip


def film_with(
    film: Emulsion, made: Developed, setting: Setting, cause: str, rng: np.random.Generator
) -> Film:
    """A roll of which the whole is developed so, with the marks or the cast of a local cause."""
    bare = Film(made, roll_scatter(rng), setting, cause)
    if cause == LEAK:
        frame_mm = bare.gauge.frame_along_mm, bare.gauge.frame_across_mm
        ways = [drawn_leak(frame_mm, bare.gauge.both_edges, rng) for _ in range(int(rng.integers(1, 3)))]
        return replace(bare, leaks=tuple(ways))
    if cause in MARKED:
        return replace(bare, marks=places(cause, bare, int(rng.integers(9, 22)), rng))
    if cause == "tank filled too low":
        return replace(bare, cast=np.array([rng.uniform(0.12, 0.3), rng.uniform(0.25, 0.5), 0.0]))
    if cause in CASTS:
        return replace(bare, cast=rng.choice([-1, 1]) * rng.uniform(0.05, 0.14) * rng.uniform(0.3, 1.0, 3))
    return bare
