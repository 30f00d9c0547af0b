"""How true positives are, over film of several kinds: `python -m benchmarks.positives`.

A published chart and its grey scale are exposed at −4, −2, 0 and +2 stops on a film model, scanned with noise, printed by
the own and the fitted door, and compared by mean ΔE2000 after the best balance and a matrix whose rows sum to one.
The film whose dyes overlap is also printed by a calibration from exposures of one layer at a time on the same film, which share
no patch, no exposure and no grain with the chart.
Grey tracking: an 18 % grey from −4 to +4 stops through the stock's own tables, the layers' largest distance in stops.
"""

from __future__ import annotations

import json
import tempfile
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import tifffile

from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.sensitometry.calibrate import calibrate, profile_of
from wetside.app.sensitometry.stock import curves_of_folder
from wetside.figures.curves import Curves
from wetside.stages.negative.measured.calibration import Profile
from wetside.stages.positive.fit import own_tone

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

Film = Callable[[np.ndarray], np.ndarray]
GREYS = (0.05, 0.23, 0.44, 0.70, 1.05, 1.50)
BASE = np.array([0.2, 0.55, 0.8])
LIGHT = np.array([0.8, 0.84, 0.78])
SHOULDER = 1.2


def softplus(x: np.ndarray, sharp: float) -> np.ndarray:
    """ln(1 + e^(sharp x)) / sharp."""
    return np.logaddexp(0, sharp * x) / sharp


def long_toe(x: np.ndarray) -> np.ndarray:
    """Densities above base of log exposures (…, 3): a hyperbola's toe, straight above it."""
    y = x + 1.9
    return 0.5 * (y + np.sqrt(y * y + 0.16)) * np.array([0.45, 0.54, 0.50])


def shouldered(x: np.ndarray) -> np.ndarray:
    """A soft toe and a shoulder that ends a stop above the brightest grey."""
    return (softplus(x + 1.95, 4) - softplus(x - SHOULDER, 3)) * np.array([0.47, 0.55, 0.53])


def crossing(x: np.ndarray) -> np.ndarray:
    """Layers of very different contrast: greys go from one hue to the other with exposure."""
    return softplus(x + 1.95, 4) * np.array([0.42, 0.55, 0.63])


def expired(x: np.ndarray) -> np.ndarray:
    """Four fifths of the contrast, a stop slower, the blue layer another half; fog is in the base."""
    slow = x - np.array([0.3, 0.33, 0.48])
    return softplus(slow + 1.95, 2.6) * np.array([0.38, 0.44, 0.40])


def tungsten_in_daylight(x: np.ndarray) -> np.ndarray:
    """A tungsten stock without its filter: blue layer 1.2 stops over, red half a stop under."""
    return softplus(x + np.array([-0.15, 0.0, 0.36]) + 1.95, 4) * np.array([0.47, 0.55, 0.53])


#: What each dye (columns: cyan, magenta, yellow) absorbs of red, green and blue light, against its own. Invented, of the size
#: that broad bands see (handbook: 0.05–0.10 D and more without calibration).
DYES = np.array([[1.0, 0.07, 0.02], [0.13, 1.0, 0.06], [0.05, 0.16, 1.0]])


def overlapping(x: np.ndarray) -> np.ndarray:
    """A toe and a shoulder, and dyes that absorb in each other's layers: what red sees holds some magenta, and so on."""
    found: np.ndarray = shouldered(x) @ DYES.T
    return found


FILMS: dict[str, Film] = {
    "long toe": long_toe, "toe and shoulder": shouldered, "layers that cross": crossing, "expired": expired,
    "tungsten stock in daylight": tungsten_in_daylight, "dyes that overlap": overlapping,
}  # fmt: skip


#: Density that a filter for one layer lets through to the others: a thousandth of the light. Invented.
LEAK = 3.0


def separations(folder: Path, film: Film, seed: int = 21) -> Path:
    """A frame of single layers, five exposures of each, and the bare base, with its calibration.json and open gate."""
    rng = np.random.default_rng(seed)
    folder.mkdir()
    density, patches = np.tile(BASE, (260, 420, 1)), []
    for place in range(16):
        layer, step = divmod(place, 5)
        x, y = 20 + 48 * (place % 8), 30 + 90 * (place // 8)
        name = "none" if place == 15 else "rgb"[layer]
        if place < 15:
            light = np.full(3, -1.3 + 0.45 * step - LEAK)
            light[layer] += LEAK
            density[y : y + 60, x : x + 40] += film(light)
        patches.append({"file": "single.tif", "x": x + 4, "y": y + 4, "w": 32, "h": 52, "layer": name})
    codes = 10**-density * LIGHT * 65535
    codes[:10] = codes[-10:] = 0
    codes += rng.standard_normal(codes.shape) * np.sqrt(codes + 30)
    tifffile.imwrite(folder / "single.tif", codes.clip(0, 65535).astype(np.uint16), photometric="rgb")
    gate = (np.ones((260, 420, 3)) * LIGHT * 65535).astype(np.uint16)
    tifffile.imwrite(folder / "open_gate.tif", gate, photometric="rgb")
    (folder / "calibration.json").write_text(json.dumps({"aim": "layers", "patches": patches}))
    return folder


def calibration(where: Path, film: Film) -> Profile:
    """The film's layers taken apart by exposures of one layer at a time."""
    return profile_of(calibrate(separations(where / "single", film)), "single layers", "file")


def chart() -> np.ndarray:
    """Linear sRGB (24, 3) of 24 published chart colours."""
    values = list(colour.CCS_COLOURCHECKERS.values())[-1]
    xyz = np.array([colour.xyY_to_XYZ(v) for v in values.data.values()])
    daylight = colour.xy_to_XYZ((0.3127, 0.329))
    adapted = colour.adaptation.chromatic_adaptation_VonKries(
        xyz, colour.xy_to_XYZ(values.illuminant), daylight, transform="Bradford"
    )
    out: np.ndarray = adapted @ np.array(colour.RGB_COLOURSPACES["sRGB"].matrix_XYZ_to_RGB).T
    return out


def boxes() -> list[tuple[int, int]]:
    """Left and top of each patch in the file."""
    return [(40 + (i % 6) * 70, 60 + (i // 6) * 68) for i in range(24)]


def chart_roll(folder: Path, film: Film, seed: int = 2) -> None:
    """Frames at −2, 0, +2 and −4 stops, an open gate and a stock.json."""
    rng = np.random.default_rng(seed)
    scene = np.full((300, 450, 3), 0.05)
    for (x, y), value in zip(boxes(), chart()):
        scene[y - 40 : y + 16, x - 20 : x + 38] = np.maximum(value, 1e-3)
    frames = []
    for number, stops in enumerate((-2, 0, 2, -4), 1):
        density = np.tile(BASE, (380, 490, 1))
        density[40:340, 20:470] += film(np.log10(np.maximum(scene, 1e-4)) + 0.30103 * stops)
        codes = 10**-density * LIGHT * 65535
        codes[:10] = codes[-10:] = 0
        codes += rng.standard_normal(codes.shape) * np.sqrt(codes + 30)
        tifffile.imwrite(folder / f"c{number}.tif", codes.clip(0, 65535).astype(np.uint16), photometric="rgb")
        at = [
            {"x": x + 6, "y": y + 6, "w": 44, "h": 44, "reflection_density": d}
            for (x, y), d in zip(boxes()[18:], GREYS)
        ]
        frames.append({"file": f"c{number}.tif", "stops": stops, "patches": at})
    gate = (np.ones((380, 490, 3)) * LIGHT * 65535).astype(np.uint16)
    tifffile.imwrite(folder / "open_gate.tif", gate, photometric="rgb")
    (folder / "stock.json").write_text(json.dumps({"stock": "DAY90", "rated_ei": 100, "frames": frames}))


def chart_error(file: Path) -> float:
    """Mean ΔE2000 of a printed chart (ACEScg EXR) after the best balance and matrix with rows that sum to one."""
    import OpenImageIO as oiio
    from scipy.optimize import least_squares

    pixels = oiio.ImageBuf(str(file)).get_pixels(oiio.FLOAT)
    patches = np.array(
        [np.median(pixels[y + 14 : y + 42, x + 14 : x + 44, :3].reshape(-1, 3), axis=0) for x, y in boxes()]
    )
    to_xyz = np.array(colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ)

    def lab(linear: np.ndarray) -> np.ndarray:
        return colour.XYZ_to_Lab(np.maximum(linear, 1e-6) @ to_xyz.T, (0.3127, 0.329))

    def balanced(v: np.ndarray) -> np.ndarray:
        m = np.array(
            [[1 - v[0] - v[1], v[0], v[1]], [v[2], 1 - v[2] - v[3], v[3]], [v[4], v[5], 1 - v[4] - v[5]]]
        )
        return (patches * np.exp(v[6:])) @ m.T

    want = lab(chart())
    best = least_squares(lambda v: (lab(balanced(v)) - want).ravel(), np.zeros(9), max_nfev=200).x
    return float(np.mean(colour.delta_E(lab(balanced(best)), want, method="CIE 2000")))


def grey_tracking(film: Film, curves: Curves, matrix: np.ndarray) -> float:
    """Largest distance [stops] between the layers' exposures of an 18 % grey from −4 to +4 stops, balanced at 0."""
    stops = np.linspace(-4, 4, 33)
    above = film(np.tile((np.log10(0.18) + 0.30103 * stops)[:, None], 3)) @ matrix.T
    table = own_tone(curves, above).table
    d = np.linspace(0, 4, len(table))
    x = np.stack([np.interp(above[:, i], d, table[:, i]) for i in range(3)], axis=1) / 0.30103
    x -= x[len(x) // 2]
    return float(np.ptp(x, axis=1).max())


def study(
    film: Film, where: Path, calibrated: bool = False, doors: Sequence[str] = ("own", "fitted")
) -> tuple[dict[str, tuple[float, float, float]], float]:
    """ΔE2000 at −2, 0 and +2 stops by door, and grey tracking [stops]; `calibrated`, with the layers taken apart."""
    scans = where / "scans"
    scans.mkdir(parents=True)
    chart_roll(scans, film)
    by = calibration(where, film) if calibrated else None
    matrix = np.eye(3) if by is None else by.fit.matrix
    curves = curves_of_folder(scans, matrix)
    found = {}
    for door in doors:
        out = where / door
        positive(
            scans,
            PositiveOptions(
                out,
                door,
                kind="exr",
                space="ACEScg",
                curves=curves if door == "own" else None,
                workers=1,
                by=by,
            ),
        )
        under, middle, over = (chart_error(out / f"c{i}.exr") for i in (1, 2, 3))
        found[door] = (under, middle, over)
    return found, grey_tracking(film, curves, matrix)


def main() -> None:
    """Print a table."""
    print("| film | own: −2, 0, +2 | fitted: −2, 0, +2 | grey over ±4 stops |\n|---|---|---|---|")
    last = list(FILMS)[-1]
    for name, calibrated in [*((name, False) for name in FILMS), (last, True)]:
        with tempfile.TemporaryDirectory() as place:
            errors, greys = study(FILMS[name], Path(place), calibrated)
        own, fitted = (", ".join(f"{e:.2f}" for e in errors[door]) for door in ("own", "fitted"))
        print(f"| {name}{', calibrated' * calibrated} | {own} | {fitted} | {greys:.2f} stop |", flush=True)


if __name__ == "__main__":
    main()
