"""The pixel path (evenness map + transform, uint16 → uint16) against a naive numpy float64 version and a bare pass."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from wetside.laws.image.evenness import full_size
from wetside.stages.positive.fit import TOP, ToneFit, log_exposure
from wetside.stages.positive.transform import acescct, processor_of, tone_group

HEIGHT, WIDTH = 1556, 2048
BASE = (0.2, 0.55, 0.8)
Row = tuple[str, str, str]


def tone() -> ToneFit:
    """A fitted tone without a roll behind it."""
    d = np.linspace(0, TOP, 4096)[:, None]
    gradients = np.array([0.47, 0.55, 0.53])
    return ToneFit(log_exposure(d, gradients) - 1.0, (0.47, 0.55, 0.53), True, "benchmark")


def naive(codes: np.ndarray, even: np.ndarray, fit: ToneFit) -> np.ndarray:
    """The path to linear ACEScg in plain float64, whole arrays, no table but the tone's own."""
    light = np.maximum(codes.astype(np.float64) / 65535 * even, 1e-5)
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


def quick(codes: np.ndarray, small: np.ndarray, processor) -> np.ndarray:
    """The path as the program runs it."""
    picture = codes.astype(np.float32)
    picture *= full_size(small, HEIGHT, WIDTH)
    picture *= np.float32(1 / 65535)
    processor.applyRGB(picture)
    picture *= np.float32(65535)
    picture += np.float32(0.5)
    np.clip(picture, 0, 65535, out=picture)
    return picture.astype(np.uint16)


def cpu(work: Callable[[], object], times: int = 3) -> float:
    """Least CPU seconds of some runs."""
    best = float("inf")
    for _ in range(times):
        began = time.process_time()
        work()
        best = min(best, time.process_time() - began)
    return best


def rows() -> list[Row]:
    """Measured ratios beside their goals."""
    rng = np.random.default_rng(1)
    codes = (10 ** -rng.uniform(0.3, 2.2, (HEIGHT, WIDTH, 3)) * 65535).astype(np.uint16)
    small = (
        (1 + 0.05 * rng.standard_normal((3, 4, 3)))
        .astype(np.float32)
        .clip(0.9, 1.1)
        .repeat(16, 0)
        .repeat(16, 1)
    )
    processor = processor_of(tone_group(tone(), BASE, "ACEScg"))
    full = full_size(small, HEIGHT, WIDTH).astype(np.float64)
    plain = cpu(lambda: naive(codes, full, tone()), 1)
    own = cpu(lambda: quick(codes, small, processor))
    picture = codes.astype(np.float32) / np.float32(65535)
    bare = cpu(lambda: processor.applyRGB(picture.copy()))
    error = int(np.abs(naive(codes, full, tone()).astype(int) - quick(codes, small, processor)).max())
    return [
        ("pixel path against naive float64, CPU", f"{plain / own:.1f}×", "≥ 15×"),
        ("pixel path against the bare transform, CPU", f"{own / bare:.2f}×", "≤ 1.6×"),
        ("largest error against the oracle", f"{error} codes", "≤ 1"),
    ]


if __name__ == "__main__":
    for row in rows():
        print("  ".join(row))
