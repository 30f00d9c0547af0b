"""What was done to the files before they came here: inverted, sharpened, exposed frame by frame, and what that forbids.

A negative's base is the thinnest thing on it and, with a mask, orange. In a positive the base is the darkest thing
and grey. Sharpening leaves neighbouring pixels' noise opposed, which a lens and a sensor can only make alike, and halos beside edges.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np

from wetside.figures.abreast import abreast
from wetside.figures.finding import Finding
from wetside.stages.negative.found.base import BIN, flat_colours
from wetside.stages.negative.scanner.halos import LIFTED

#: A masked base lets through less blue than red; the least difference [D] that counts as a mask.
MASK = 0.15
#: Sum of the noise's correlations one and two pixels on below which a file counts as sharpened. Plain sensors lie at
#: −0.02 … 1.2; an unsharp mask of strength 1 and radius 1 on white noise gives −0.13 (measured, tests/stages).
OPPOSED = -0.08
BLOCK = 24


def inverted(densities: Iterable[np.ndarray]) -> Finding | None:
    """A finding where the files are positives: what most frames share lies at their dark end and has no mask's hue.

    densities: (h, w, 3) [D] against full scale, as if the files were negatives; taken one by one.
    """
    votes, darks = Counter[tuple[int, ...]](), list[float]()
    for colours, dark_end in abreast(_colours_and_dark_end, densities):
        votes.update(colours)
        darks.append(dark_end)
    shared = [np.array(c) * BIN for c, count in votes.items() if count >= max(2, 0.6 * len(darks))]
    if len(darks) < 2 or not shared:
        return None
    if any(c[2] - c[0] > MASK for c in shared):
        return None
    if any(c[0] - c[2] > MASK for c in shared):
        return _positives(
            "what every frame shares has the colours of an orange mask turned round",
            "a shared colour that lets through more blue than red",
        )
    dark = float(np.median(darks))
    if not any(c.mean() > dark and np.ptp(c) < 0.12 and c.mean() > 0.6 for c in shared):
        return None
    return _positives(
        "what every frame shares is black and has no orange mask",
        "a shared grey at the dark end of all frames",
    )


def _positives(why: str, found: str) -> Finding:
    return Finding(
        "inverted", "error", "roll", f"these files are positives: {why}",
        "negatives, linear, 16 bits, every correction off", found, "scan again with inversion off",
    )  # fmt: skip


def _colours_and_dark_end(density: np.ndarray) -> tuple[set[tuple[int, ...]], float]:
    return flat_colours(density, densest=6.0), float(np.percentile(density[::4, ::4].mean(axis=2), 70))


def neighbours(pixels: np.ndarray) -> float | None:
    """Noise's correlations one and two pixels on along the rows, summed, in the evenest blocks of a file (h, w, 3) at its own size.

    None where no block is even yet noisy (drawn files, files without grain). White noise gives 0, an optical blur
    above 0, unsharp masking below 0.
    """
    height, width = pixels.shape[:2]
    rows = range(0, height - BLOCK + 1, max(BLOCK, height // 24))
    columns = range(0, width - BLOCK + 1, max(BLOCK, width // 24))
    cut = [pixels[y : y + BLOCK, x : x + BLOCK, 1] for y in rows for x in columns]
    if len(cut) < 8:
        return None
    blocks = np.stack(cut).astype(np.float64)
    grid = np.arange(BLOCK) - (BLOCK - 1) / 2
    many = BLOCK * (grid**2).sum()
    level = blocks.mean(axis=(1, 2), keepdims=True)
    slopes = [
        (blocks * along).sum(axis=(1, 2), keepdims=True) / many * along for along in (grid, grid[:, None])
    ]
    noise = blocks - level - slopes[0] - slopes[1]
    variance = (noise * noise).mean(axis=(1, 2))
    alike = (noise[:, :, 1:] * noise[:, :, :-1]).mean(axis=(1, 2)) + (
        noise[:, :, 2:] * noise[:, :, :-2]
    ).mean(axis=(1, 2))
    noisy = variance > 0.35  # below that the whole numbers of the file show, not its noise
    uneven = variance[noisy] / np.maximum(1.0, level.ravel()[noisy]) ** 2
    found = (alike[noisy] / variance[noisy])[np.argsort(uneven)]
    if len(found) < 8:
        return None
    return float(np.median(found[: max(6, len(found) // 8)]))


def sharpened(correlations: Sequence[float | None], lifts: Sequence[float] = ()) -> Finding | None:
    """A finding where the files' noise is opposed from pixel to pixel, or their pictures' edges lift the rebate beside them.

    correlations: one a file, None unknown; lifts: shares of the step over an edge, of a few files.
    """
    known = [c for c in correlations if c is not None]
    noise, lift = float(np.median(known or [0.0])), float(np.median(lifts or [0.0]))
    said = [f"correlation {noise:+.2f}"] * (noise <= OPPOSED)
    said += [f"rebate lifted by {lift:.0%} of the step at the picture's edge".replace("%", " %")] * (
        lift > LIFTED
    )
    if not said:
        return None
    return Finding(
        "sharpened", "warning", "roll",
        "the files were sharpened: edges of marks and of the picture carry halos that the film does not. Densities of flat "
        "areas stay right; those beside an edge, how sharply a mark ends, and grain are not the film's",
        f"noise of neighbouring pixels alike or independent (correlation over {OPPOSED}), and a rebate as bright beside the picture as elsewhere",
        "; ".join(said), "scan again with sharpening off",
    )  # fmt: skip


def exposures(files: Sequence[str], told: Sequence[float | None]) -> Finding | None:
    """A note where the exposures that the files state differ: densities were set right by them."""
    known = [value for value in told if value is not None]
    if len(known) < len(told) or not known or max(known) / min(known) < 1.005:
        return None
    least, most = files[int(np.argmin(np.array(known)))], files[int(np.argmax(np.array(known)))]
    return Finding(
        "exposures-told", "note", "roll", "the files state different exposures; their densities were set right by the times they tell",
        "one exposure for the roll", f"{np.log2(max(known) / min(known)):.1f} stops from {least} to {most}",
    )  # fmt: skip


def orientations(files: Sequence[str], tags: Sequence[int]) -> Finding | None:
    """What was done with the files' orientation tags (1–8): a note where all agree, a warning that names those that differ."""
    if all(tag == 1 for tag in tags):
        return None
    counts = Counter(tags)
    usual, many = counts.most_common(1)[0]
    if len(counts) == 1:
        say = "the files' orientation tag was applied once: pictures, prints, sides and direction are those of the turned frames"
        return Finding("turned-by-tag", "note", "roll", say, "", f"tag {usual} in {many} files")
    odd = [file for file, tag in zip(files, tags) if tag != usual]
    say = f"orientation tags differ: {', '.join(odd[:3])}{' …' if len(odd) > 3 else ''}; a camera that looks straight down sets them at random"
    return Finding(
        "tags-differ", "warning", "roll", say, f"tag {usual}, as in {many} of {len(tags)} files",
        ", ".join(str(tag) for tag in sorted(counts)), "set one tag in all files, or scan with the camera's sensor of tilt off",
    )  # fmt: skip
