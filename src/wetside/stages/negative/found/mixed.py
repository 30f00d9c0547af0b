"""Are two rolls in one folder? Their bases differ in colour, their files come in two sizes, or the scans' exposure steps once.

The frames are named. A step of the exposure says that scanning stopped and began anew, not whether the film did too.

Bases are compared by colour (red and blue against green), which another exposure of the scan leaves alone. Where the whole
folder shows no common base, its first and its last frames are asked alone: two rolls lie one after the other by name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from wetside.figures.finding import Finding
from wetside.stages.negative.found.film import film_of_roll
from wetside.stages.negative.found.shown import FilmOfRoll
from wetside.stages.negative.scanner.working import Working

APART = 0.045  # [D] of colour, red or blue against green
ENDS, FEWEST = 3, 2
MOST = 400  # frames that are asked one by one
ONE = "one roll a folder"
HELP = "put each roll into a folder of its own"


def mixed(
    frames: Sequence[Working],
    sizes: Mapping[str, tuple[int, int]],
    film: FilmOfRoll | None,
    light_known: bool,
) -> tuple[Finding, ...]:
    """Whether two rolls lie in the folder: by their bases, else by the sizes of the files; `film` None for coded files."""
    files = list(sizes)
    found = two_rolls(frames, files, film, light_known) if film is not None else ()
    found = found or two_kinds_of_file(files, list(sizes.values()))
    return found or (two_goes(files, film.shifts) if film is not None else ())


def two_rolls(
    frames: Sequence[Working], files: Sequence[str], film: FilmOfRoll, light_known: bool
) -> tuple[Finding, ...]:
    """A finding that names the frames of two rolls by their bases; none where one base, or too few frames, is seen."""
    bases = [None if own.base is None else np.array(own.base) for own in film.frames]
    if film.base is None:
        bases = bases_by_ends(frames, light_known)
        if light_known and not any(base is not None for base in bases):
            bases = bases_by_ends(frames, False)  # the open gate may be of one roll's light alone
    seen = [i for i, base in enumerate(bases) if base is not None]
    if len(seen) < 2 * FEWEST:
        return ()
    levels = np.array([bases[i] for i in seen])
    groups = in_two(levels[:, [0, 2]] - levels[:, [1]])
    if groups is None:
        return ()
    first, second = ([files[seen[i]] for i in group] for group in groups)
    found = " against ".join(_said(np.median(levels[group], axis=0)) for group in groups)
    say = f"two rolls lie in one folder: {named(first)} have one base, {named(second)} another"
    return (Finding("two-rolls", "warning", "roll", say, ONE, found, HELP),)


def bases_by_ends(frames: Sequence[Working], light_known: bool) -> list[np.ndarray | None]:
    """Base of each frame [D], at the level that either the first three or the last three frames have among themselves."""
    nothing: list[np.ndarray | None] = [None] * len(frames)
    if not 2 * FEWEST <= len(frames) <= MOST:
        return nothing
    many = min(ENDS, len(frames) // 2)
    ends = [
        film_of_roll([frames[i] for i in part], light_known)
        for part in (range(many), range(len(frames) - many, len(frames)))
    ]
    if any(end.base is None or end.levels is None for end in ends):
        return nothing
    levels = [end.levels for end in ends if end.levels is not None]
    return [_own_base(frame, light_known, levels) for frame in frames]


def _own_base(frame: Working, light_known: bool, levels: Sequence[np.ndarray]) -> np.ndarray | None:
    """The base [D] that one frame, asked by itself, shows at one of the levels; None where it shows none or both."""
    films = [film_of_roll([frame], light_known, levels=level).frames[0] for level in levels]
    bases = [film.base for film in films if film.seen and film.base is not None]
    return np.array(bases[0]) if len(bases) == 1 else None


def in_two(colours: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    """Indices of two groups of colours (n, 2) [D] that lie further apart than 0.045 D and three times as wide as either."""
    middle = colours - colours.mean(axis=0)
    _, _, axes = np.linalg.svd(middle, full_matrices=False)
    along = middle @ axes[0]
    order = np.argsort(along, kind="stable")
    cut = int(np.diff(along[order]).argmax()) + 1
    low, high = np.sort(order[:cut]), np.sort(order[cut:])
    gap = along[order[cut]] - along[order[cut - 1]]
    wide = max(np.ptp(along[low]), np.ptp(along[high]))
    if min(len(low), len(high)) < FEWEST or gap < APART or gap < 3 * wide:
        return None
    return (low, high) if low[0] < high[0] else (high, low)


def two_kinds_of_file(files: Sequence[str], sizes: Sequence[tuple[int, int]]) -> tuple[Finding, ...]:
    """A finding where the files come in two sizes, several of each; scans cropped by hand come in many and say nothing."""
    kinds: dict[tuple[int, ...], list[str]] = {}
    for file, size in zip(files, sizes):
        kinds.setdefault(tuple(sorted(size)), []).append(file)
    if len(kinds) != 2 or min(map(len, kinds.values())) < FEWEST:
        return ()
    first, second = kinds.values()
    found = " against ".join(f"{short} × {long}" for short, long in kinds)
    say = f"the files come in two sizes: {named(first)}, and {named(second)}; two rolls, or scanned in two ways?"
    return (Finding("two-sizes", "note", "roll", say, ONE, found, HELP),)


def two_goes(files: Sequence[str], shifts: Sequence[float]) -> tuple[Finding, ...]:
    """A finding where the exposure of the scans [D, one a frame] steps once, between two runs of frames that each keep theirs."""
    steps = np.abs(np.diff(shifts))
    if len(shifts) < 2 * FEWEST or len(shifts) != len(files):
        return ()
    at = int(steps.argmax()) + 1
    first, second = np.array(shifts[:at]), np.array(shifts[at:])
    if min(len(first), len(second)) < FEWEST or steps[at - 1] < APART:
        return ()
    if max(np.ptp(first), np.ptp(second)) > steps[at - 1] / 3:
        return ()
    say = (
        f"the exposure of the scans steps once: {named(files[:at])}, and {named(files[at:])}; their bases have one colour, so "
        "one roll scanned in two goes, or two rolls of one stock: the film does not say which"
    )
    found = f"{np.median(second) - np.median(first):+.2f} D between them".replace("-", "−")
    return (Finding("two-goes", "note", "roll", say, ONE, found, f"if they are two rolls, {HELP}"),)


def named(files: Sequence[str]) -> str:
    """Files in words: all of a few, else the first and the last with how many."""
    return ", ".join(files) if len(files) <= 3 else f"{files[0]} … {files[-1]} ({len(files)} frames)"


def _said(base: np.ndarray) -> str:
    return f"base {base[0]:.2f} {base[1]:.2f} {base[2]:.2f} D"
