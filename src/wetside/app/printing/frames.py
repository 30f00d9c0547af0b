"""One frame printed, a strip at a time from the disk to the disk: the same function here, side by side, and on another machine."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np

from wetside.app.printing.recipe import Recipe, read_recipe
from wetside.app.reading.lengths import opened
from wetside.figures.finding import Unusable
from wetside.figures.place import Part
from wetside.figures.scan import Scan
from wetside.stages.negative.scanner.working import field_within
from wetside.stages.positive.cut import strips_within, window
from wetside.stages.positive.evening import (
    NO_VEIL,
    EvenMap,
    Grown,
    Veil,
    across_rows,
    shared_map,
)
from wetside.stages.positive.path import Depth, Through, developed, strips
from wetside.stages.positive.rebate import Sampled, Seen, every_of, seen_in
from wetside.stages.positive.softening import lifted
from wetside.stages.positive.transform import cdl_text, slope_of
from wetside.stages.positive.turn import straightened
from wetside.store.memory import peak_bytes
from wetside.store.scans.laid import laid_in_rows
from wetside.store.scans.parts import number_of, stem_of
from wetside.store.scans.rows import scan_in_rows
from wetside.store.scans.sinks import SUFFIX, StoreSlip, write_text
from wetside.store.scans.stamps import hash_known
from wetside.store.scans.told import Told

#: Takes the next rows of a frame's evened codes and of its picture.
LayBoth = Callable[[np.ndarray, np.ndarray], None]
NEGATIVE = {"tiff": ".negative.tif", "dpx": ".negative.dpx"}


@dataclass(frozen=True)
class Printer:
    """A recipe and where its pictures go, ready to print frames one at a time."""

    recipe: Recipe
    out: Path

    def stem(self, file: str) -> str:
        """What a frame's files are called: as its scan, or by its number in a sequence."""
        return self.recipe.names.get(file) or stem_of(file)

    def outputs(self, file: str) -> list[str]:
        """The names of all files of a frame."""
        stem = self.stem(file)
        names = [stem + SUFFIX[self.recipe.kind], f"{stem}.cdl"]
        return names + ([stem + NEGATIVE[self.recipe.negative]] if self.recipe.negative else [])

    def frame(self, path: Path) -> dict[str, Any]:
        """Print a frame: evened, transformed in strips, written; also its CDL and, when asked, its evened negative.

        Answers {"file", "picture", "seconds", "sha256", …}, or {"file", "slip", "store"} in place of raising, so that
        it may come from another process.
        """
        began = time.perf_counter()
        places = [self.out / name for name in self.outputs(path.name)]
        before = {place for place in places if place.exists()}
        try:
            known = hash_known(path, self.recipe.hashed)
            scan = _scan(path, known is None)
            if known is not None:
                scan = replace(scan, sha256=known)
            seen = self._made(scan, self.stem(path.name))
        except Unusable as slip:
            _take_back(set(places) - before)
            what = f"{slip.where}: {slip.what}" if isinstance(slip, StoreSlip) else slip.what
            return {"file": path.name, "slip": what, "store": isinstance(slip, StoreSlip)}
        except MemoryError:
            _take_back(set(places) - before)
            return {"file": path.name, "slip": "not enough memory for this frame", "store": False}
        return {
            "file": path.name, "picture": str(self.out / (self.stem(path.name) + SUFFIX[self.recipe.kind])),
            "seconds": time.perf_counter() - began, "sha256": scan.sha256, "seen": seen.as_json(),
            "peak_bytes": peak_bytes(),
        }  # fmt: skip

    def _made(self, scan: Scan, stem: str) -> Seen:
        recipe = self.recipe
        trim = recipe.trim(scan.file)
        rows, columns = self.cut(scan)
        sampled = Sampled(scan.height, scan.width, every_of(scan.height, scan.width))
        evened = self._placed(sampled.of(self._evened(scan)), scan, rows, columns)
        shape = rows.stop - rows.start, columns.stop - columns.start, 3
        with self._laid(scan.file, stem, shape) as lay:
            for _, codes, pixels in developed(evened, _through(recipe, trim, scan.file)):
                lay(codes, pixels)
        write_text(self.out / f"{stem}.cdl", cdl_text(stem, slope_of(trim)))
        return seen_in(sampled.codes, recipe.boxes.get(scan.file), recipe.base, scan.shrink * sampled.every)

    def _placed(
        self, evened: Iterator[tuple[int, np.ndarray]], scan: Scan, rows: slice, columns: slice
    ) -> Iterator[tuple[int, np.ndarray]]:
        """Evened strips cut to what is printed, set straight where the picture lies askew: that takes the whole frame at once."""
        degrees = self.recipe.turns.get(scan.file)
        if not degrees:
            return strips_within(evened, rows, columns)
        whole = np.empty((scan.height, scan.width, 3), np.uint16)
        for top, strip in evened:
            whole[top : top + len(strip)] = strip
        return straightened(whole, rows, columns, degrees)

    def _evened(self, scan: Scan) -> Iterator[tuple[int, np.ndarray]]:
        """Evened codes of a scan in strips."""
        veil, more = self.veil(scan)
        even = self.even_map(scan, more)
        values = scan.pixels if scan.pixels.dtype != np.uint8 else scan.pixels.astype(np.uint16)
        stains = lifted(self.recipe.softened(scan.file).values(), scan.shrink, scan.height, scan.width)
        return strips(values, self.recipe.dark, even, veil, stains, self.recipe.form(scan.file))

    @contextlib.contextmanager
    def _laid(self, file: str, stem: str, shape: tuple[int, int, int]) -> Iterator[LayBoth]:
        """What takes strips of a frame's evened codes and picture to their files."""
        recipe, negative = self.recipe, self.recipe.negative
        dtype = np.float32 if recipe.kind == "exr" else np.uint16
        place = self.out / (stem + SUFFIX[recipe.kind])
        with contextlib.ExitStack() as files:
            lay = files.enter_context(
                laid_in_rows(place, recipe.kind, recipe.space, self.told(file, recipe.space), shape, dtype)
            )
            if negative is None:
                yield lambda codes, pixels: lay(pixels)
                return
            space = "transmittance" if negative == "tiff" else "density"
            beside = self.out / (stem + NEGATIVE[negative])
            keep = files.enter_context(
                laid_in_rows(beside, negative, space, self.told(file, space), shape, np.uint16)
            )
            log = _log_codes(recipe.base) if negative == "dpx" else None

            def both(codes: np.ndarray, pixels: np.ndarray) -> None:
                keep(codes if log is None else _each(log, codes))
                lay(pixels)

            yield both

    def cut(self, scan: Scan) -> tuple[slice, slice]:
        """Rows and columns of a scan that are printed."""
        own = self.recipe.cuts.get(scan.file)
        if own is None:
            return slice(0, scan.height), slice(0, scan.width)
        return window(own, scan.shrink, scan.height, scan.width)

    def told(self, file: str, space: str) -> Told:
        """What a frame's picture says of itself."""
        notes = self.recipe.notes
        return Told(
            file, str(notes.get("roll", "")), notes.get("numbers", {}).get(file), str(notes.get("stock", "")),
            str(notes.get("process", "")), notes.get("ei"), space,
        )  # fmt: skip

    def veil(self, scan: Scan) -> tuple[Veil, float]:
        """Scan values of a frame's stray light, and the factor that its map gains where that is taken off."""
        return veil_of(self.recipe, scan.file, scan.part, scan.exposure_s, scan.full_scale)

    def even_map(self, scan: Scan, more: float = 1.0) -> EvenMap:
        """The map of one scan: light, exposure of the scan against the light's, and the cast where it is taken out."""
        recipe = self.recipe
        ratio = recipe.gain(scan.file, scan.exposure_s) * more
        across = None
        profile = recipe.profile()
        if profile is not None and scan.file in recipe.boxes:
            _, top, _, height = recipe.boxes[scan.file]
            across = across_rows(profile, top, height, scan.height, scan.shrink)
        gain = ratio if recipe.light is not None else ratio / scan.full_scale
        whole = self._lit
        light = None if whole is None else field_within(whole, scan.part, recipe.light_width)
        with _ONE_AT_A_TIME:
            grown = None if light is None or scan.part else _grown(_Kept(light), scan.height, scan.width)
        return EvenMap(light, across, gain, scan.height, scan.width, grown)

    @cached_property
    def _lit(self) -> np.ndarray | None:
        return self.recipe.lit()


def _scan(path: Path, hashed: bool) -> Scan:
    """A frame as it is printed: its rows on the disk where its file allows that, else in memory."""
    plain = scan_in_rows(path, hashed) if number_of(path) is None else None
    return opened(path, half=False, hashed=hashed) if plain is None else plain


def veil_of(
    recipe: Recipe, file: str, part: Part | None, exposure_s: float | None, full: float
) -> tuple[Veil, float]:
    """Scan values r g b of a frame's stray light, and the factor that its map gains without it; `full`: the file's full scale.

    T = (T′ − level) / (1 − share), as the flare's law has it of densities, where the light is at its average; elsewhere the
    same amount of light comes off.
    """
    r, g, b, share = recipe.veil(file)
    if not any((r, g, b)):
        return NO_VEIL, 1 / (1 - share)
    average = np.full(3, full)
    if recipe.light is not None:
        average = _average(_Kept(field_within(recipe.light, part, recipe.light_width)))
    off = np.array((r, g, b)) * average * (10 ** recipe.shift(file) / recipe.gain(file, exposure_s))
    return (float(off[0]), float(off[1]), float(off[2])), 1 / (1 - share)


def _take_back(places: set[Path]) -> None:
    """Remove what a frame that failed had written so far."""
    for place in places:
        with contextlib.suppress(OSError):
            place.unlink(missing_ok=True)


class _Kept:
    """An array as a key of a cache, by identity."""

    def __init__(self, array: np.ndarray) -> None:
        self.array = array

    def __hash__(self) -> int:
        return id(self.array)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Kept) and other.array is self.array


@lru_cache(maxsize=4)
def _average(light: _Kept) -> np.ndarray:
    """Scan values r g b of a light's average, from its factor to transmittance."""
    return np.asarray((1 / light.array).mean(axis=(0, 1), dtype=np.float64))


@lru_cache(maxsize=1)
def _grown(light: _Kept, height: int, width: int) -> Grown:
    return shared_map(light.array, height, width)


_LAST: dict[tuple[int, tuple[float, float, float]], tuple[Recipe, Through]] = {}
#: Frames side by side wait for one another where one makes what all of them share.
_ONE_AT_A_TIME = Lock()


def _through(recipe: Recipe, trim: tuple[float, float, float], file: str) -> Through:
    """The frame's processor; the last few are kept, since most frames share one."""
    key = (id(recipe), trim)
    with _ONE_AT_A_TIME:
        found = _LAST.get(key)
        if found is None or found[0] is not recipe:
            depth: Depth = "f32" if recipe.kind == "exr" else "u16"
            while len(_LAST) >= 8:
                _LAST.pop(next(iter(_LAST)))
            found = _LAST[key] = (recipe, _made_ready(recipe, file, depth))
    return found[1]


def _made_ready(recipe: Recipe, file: str, depth: Depth) -> Through:
    try:
        return Through(recipe.group_of(file), depth, recipe.written)
    except ImportError:
        raise Unusable(
            "this roll is printed by the quick extra, which is not installed here: pip install 'wetside[quick]'",
            file,
        ) from None


@lru_cache(maxsize=2)
def _log_codes(base: tuple[float, float, float]) -> np.ndarray:
    """10-bit printing-density codes (65536, 3) in the top of 16 bits, for every evened code: 95 at the base, 500 a density."""
    density = -np.log10(np.maximum(np.arange(65536)[:, None] / 65535, 1e-5)) - np.array(base)
    ten = np.clip(np.round(500 * density + 95), 0, 1023).astype(np.uint16)
    return (ten << 6) | (ten >> 4)


def _each(table: np.ndarray, codes: np.ndarray) -> np.ndarray:
    """What a table (65536, 3) has for every code (h, w, 3)."""
    return np.stack([table[codes[..., layer], layer] for layer in range(3)], axis=-1)


@lru_cache(maxsize=2)
def _printer(place: str, key: str, stamp: tuple[int, int]) -> Printer:
    found = read_recipe(Path(place))
    if found is None or found[0].shared_key() != key:
        raise Unusable("the roll's transform cannot be read here, or is another: is the store shared?", place)
    return Printer(found[0], Path(place).parent.parent)


def printer_at(place: str, key: str) -> Printer:
    """The printer of a recipe kept in a folder's `.positive`; `key` is its digest.

    The file's own stamp counts as well: what is a frame's own (trims, stains) is in the file and not in the digest.
    """
    try:
        found = Path(place).stat()
    except OSError as slip:
        raise Unusable("the roll's transform cannot be read here: is the store shared?", place) from slip
    return _printer(place, key, (found.st_mtime_ns, found.st_size))


def print_batch(place: str, key: str, files: list[str]) -> list[dict[str, Any]]:
    """Print frames by their paths with the recipe kept at `place`: what travels to another process or machine."""
    import cv2

    cv2.setNumThreads(1)
    try:
        printer = printer_at(place, key)
    except Unusable as slip:
        return [{"file": Path(file).name, "slip": slip.what, "store": True} for file in files]
    return [printer.frame(Path(file)) for file in files]
