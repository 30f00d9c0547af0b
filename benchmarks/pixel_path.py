"""The pixel path (evenness map + transform, uint16 → uint16) against a naive numpy float64 version and a bare pass."""

from __future__ import annotations

import time
from collections.abc import Callable

import cv2
import numpy as np

from wetside.stages.positive.evening import NO_VEIL, EvenMap, Grown, Veil, shared_map
from wetside.stages.positive.fit import TOP, ToneFit, log_exposure
from wetside.stages.positive.path import Through, developed, strips
from wetside.stages.positive.transform import acescct, tone_group

HEIGHT, WIDTH = 1556, 2048
#: A frame whose map does not fit at every row, and how many of its rows are gone through.
LARGE, ROWS_OF_IT = (12_000, 8_700), 370
TIMES = 15
BASE = (0.2, 0.55, 0.8)
Row = tuple[str, str, str]


def tone() -> ToneFit:
    """A fitted tone without a roll behind it."""
    d = np.linspace(0, TOP, 4096)[:, None]
    gradients = np.array([0.47, 0.55, 0.53])
    return ToneFit(log_exposure(d, gradients) - 1.0, (0.47, 0.55, 0.53), True, "benchmark")


def naive_even(codes: np.ndarray, even: np.ndarray) -> np.ndarray:
    """Evened codes in plain float64: 65535 T, rounded to the 16 bits that the evened negative holds."""
    return np.clip(np.round(codes.astype(np.float64) * even), 0, 65535)


def naive_picture(evened: np.ndarray, fit: ToneFit) -> np.ndarray:
    """Evened codes to linear ACEScg in plain float64, whole arrays, no table but the tone's own."""
    light = np.maximum(evened.astype(np.float64) / 65535, 1e-5)
    above = np.clip((-np.log10(light) - np.array(BASE)) / TOP, 0, 1) * 4095
    value = np.stack(
        [
            np.interp(above[..., i], np.arange(4096), acescct(10.0 ** np.clip(fit.table[:, i], -6, 2.1)))
            for i in range(3)
        ],
        axis=-1,
    )
    linear = np.where(
        value <= 0.155251141552511,
        (value - 0.0729055341958355) / 10.5402377416545,
        2.0 ** (value * 17.52 - 9.72),
    )
    return np.clip(np.round(linear * 65535), 0, 65535).astype(np.uint16)


def cpu(work: Callable[[], object], times: int = 5) -> float:
    """Least CPU seconds of some runs."""
    best = float("inf")
    for _ in range(times):
        began = time.process_time()
        work()
        best = min(best, time.process_time() - began)
    return best


def small_map() -> np.ndarray:
    """A light that falls off by a third to the corners and leans to one side, (96, 128, 3)."""
    y, x = np.mgrid[-1:1:96j, -1:1:128j]
    fall = 1 / (1 + 0.25 * (x**2 + y**2)) ** 2
    return (1 / np.stack([fall * (1 + 0.03 * x), fall, fall * (1 - 0.02 * y)], axis=-1)).astype(np.float32)


def grown_exactly(small: np.ndarray) -> np.ndarray:
    """The small map at full size in float64: straight lines in the logarithm between pixel centres, rims carried on."""
    from scipy.interpolate import RegularGridInterpolator

    h, w = small.shape[:2]
    grid = RegularGridInterpolator(
        (np.arange(h) + 0.5, np.arange(w) + 0.5),
        np.log(small.astype(np.float64)),
        bounds_error=False,
        fill_value=None,
    )
    y, x = np.meshgrid(
        (np.arange(HEIGHT) + 0.5) * h / HEIGHT, (np.arange(WIDTH) + 0.5) * w / WIDTH, indexing="ij"
    )
    return np.exp(grid(np.stack([y, x], axis=-1)))


def picture_like(rng: np.random.Generator) -> np.ndarray:
    """Codes of a frame with large soft shapes and grain of 0.02 D: neighbours are alike, as in a picture."""
    shapes = rng.standard_normal((HEIGHT // 128 + 2, WIDTH // 128 + 2, 3)).astype(np.float32)
    density: np.ndarray = cv2.resize(shapes, (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC) * 0.25
    density += 0.6 + np.float32(BASE) + 0.02 * rng.standard_normal(density.shape, np.float32)
    return (10**-density * 65535).clip(0, 65535).astype(np.uint16)


def gone_through(codes: np.ndarray, even: EvenMap, through: Through, veil: Veil = NO_VEIL) -> None:
    """A frame's strips made one after another, as a frame is printed but for the files."""
    for _ in developed(strips(codes, 0.0, even, veil), through):
        pass


def whole(codes: np.ndarray, even: EvenMap, through: Through) -> tuple[np.ndarray, np.ndarray]:
    """A frame's evened codes and its picture."""
    parts = [(own.copy(), picture.copy()) for _, own, picture in developed(strips(codes, 0.0, even), through)]
    kept, picture = (np.concatenate(some) for some in zip(*parts))
    return kept, picture


def rows() -> list[Row]:
    """Measured ratios beside their goals."""
    cv2.setNumThreads(1)
    rng = np.random.default_rng(1)
    codes = (10 ** -rng.uniform(0.3, 2.2, (HEIGHT, WIDTH, 3)) * 65535).astype(np.uint16)
    small = small_map()
    full = grown_exactly(small)
    fit = tone()
    through = Through(tone_group(fit, BASE, "ACEScg"), "u16")
    even = EvenMap(small, None, 1 / 65535, HEIGHT, WIDTH, shared_map(small, HEIGHT, WIDTH))
    steep = EvenMap(None, None, 1 / 65535, HEIGHT, WIDTH, Grown(full.astype(np.float32), every=True))
    of_rows = EvenMap(small, None, 1 / 65535, *LARGE)
    large = np.resize(codes, (ROWS_OF_IT, LARGE[1], 3))
    seen = picture_like(rng)
    veil = (300.0, 400.0, 500.0)
    quick = Through(tone_group(fit, BASE, "sRGB"), "u16", written=True)
    display = Through(tone_group(fit, BASE, "sRGB"), "u16")
    room, room_of_large = np.empty_like(codes), np.empty_like(large)
    kept, picture = whole(codes, even, through)
    plain = cpu(lambda: naive_picture(naive_even(codes, full), fit), 2)
    ways = (
        lambda: through(codes, room),
        lambda: gone_through(codes, even, through),
        lambda: gone_through(codes, even, through, veil),
        lambda: gone_through(codes, steep, through),
        lambda: gone_through(large, of_rows, through),
        lambda: through(large, room_of_large),
        codes.copy,
        lambda: display(seen, room),
        lambda: gone_through(seen, even, display),
        lambda: gone_through(seen, even, quick),
    )
    # In turns, so that what others do to the machine meanwhile falls on all of them alike.
    bare, own, veiled, floats, by_rows, bare_of_large, copy, shown, by_display, by_quick = (
        min(times) for times in zip(*([cpu(way, 1) for way in ways] for _ in range(TIMES)))
    )
    of_even = np.abs(naive_even(codes, full) - kept)
    of_picture = int(np.abs(naive_picture(kept, fit).astype(int) - picture).max())
    of_quick = int(np.abs(whole(codes, even, quick)[1].astype(int) - whole(codes, even, display)[1]).max())
    exact = EvenMap(full.astype(np.float32), None, 1 / 65535, HEIGHT, WIDTH)
    kept, _ = whole(codes, exact, through)
    of_full = int(np.abs(naive_even(codes, full) - kept).max())
    return [
        ("pixel path against naive float64, CPU", f"{plain / own:.1f}×", "≥ 15×"),
        ("pixel path against the bare transform of 16-bit codes, CPU", f"{own / bare:.2f}×", "≤ 1.6×"),
        ("the same, stray light taken off as well", f"{veiled / bare:.2f}×", "none"),
        ("the same, map too steep for 16 bits, held in single precision", f"{floats / bare:.2f}×", "≤ 1.6×"),
        ("the same, a frame of 104 megapixels, map made strip by strip", f"{by_rows / bare_of_large:.2f}×", "≤ 1.6×"),
        ("pixel path, CPU, and a copy of the frame", f"{own * 1e3:.0f} ms, {copy * 1e3:.1f} ms", "none"),
        ("evened codes against the oracle, full-size map", f"{of_full} codes", "≤ 1"),
        ("the same, small map, p99.9 and largest",
         f"{np.percentile(of_even, 99.9):.0f} and {of_even.max():.0f} codes", "≤ 8 at p99.9"),
        ("pixel path to a display against the library's bare pass, CPU", f"{by_display / shown:.2f}×", "≤ 1.6×"),
        ("the same by the quick extra", f"{by_quick / shown:.2f}×", "≤ 1.6×"),
        ("the quick extra's display codes against the library's", f"{of_quick} code", "≤ 1"),
        ("picture against the oracle, from the same evened codes", f"{of_picture} codes", "≤ 1"),
    ]  # fmt: skip


if __name__ == "__main__":
    for row in rows():
        print("  ".join(row))
