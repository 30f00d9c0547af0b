"""One frame printed: the same function in this process, in a process of its own, and on another machine."""

from __future__ import annotations

import contextlib
import time
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.lengths import opened
from wetside.app.recipe import Recipe, read_recipe
from wetside.figures.finding import Unusable
from wetside.figures.place import Part
from wetside.figures.scan import Scan
from wetside.stages.negative.working import field_within
from wetside.stages.positive.cut import window
from wetside.stages.positive.evening import (
    NO_VEIL,
    EvenMap,
    Grown,
    Veil,
    across_rows,
    shared_map,
)
from wetside.stages.positive.path import Through, developed
from wetside.stages.positive.rebate import Seen, every_of, seen_in
from wetside.stages.positive.softening import lifted
from wetside.stages.positive.transform import cdl_text, slope_of
from wetside.store.memory import peak_bytes
from wetside.store.scans.parts import stem_of
from wetside.store.scans.sinks import SUFFIX, StoreSlip, write_picture, write_text
from wetside.store.scans.stamps import hash_known
from wetside.store.scans.told import Told

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
            scan = opened(path, half=False, hashed=known is None)
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
        recipe, out = self.recipe, self.out
        trim = recipe.trim(scan.file)
        through = _through(recipe, trim, scan.file)
        veil, more = self.veil(scan)
        even = self.even_map(scan, more)
        values = scan.pixels if scan.pixels.dtype != np.uint8 else scan.pixels.astype(np.uint16)
        every = 1 if recipe.negative else every_of(scan.height, scan.width)
        kept = np.empty((-(-scan.height // every), -(-scan.width // every), 3), np.uint16)
        stains = lifted(recipe.softened(scan.file).values(), scan.shrink, scan.height, scan.width)
        picture = developed(values, recipe.dark, even, through, kept, veil, stains, every)
        del values
        cut = self.cut(scan)
        if recipe.negative:
            negative = kept[cut] if recipe.negative == "tiff" else _log_codes(kept[cut], recipe.base)
            name = stem + NEGATIVE[recipe.negative]
            space = "transmittance" if recipe.negative == "tiff" else "density"
            write_picture(
                out / name,
                np.ascontiguousarray(negative),
                recipe.negative,
                space,
                self.told(scan.file, space),
            )
        thin = every_of(scan.height, scan.width) if every == 1 else 1
        seen = seen_in(
            kept[::thin, ::thin], recipe.boxes.get(scan.file), recipe.base, scan.shrink * thin * every
        )
        del kept
        write_picture(
            out / (stem + SUFFIX[recipe.kind]),
            np.ascontiguousarray(picture[cut]),
            recipe.kind,
            recipe.space,
            self.told(scan.file, recipe.space),
        )
        write_text(out / f"{stem}.cdl", cdl_text(stem, slope_of(trim)))
        return seen

    def cut(self, scan: Scan) -> tuple[slice, slice]:
        """Rows and columns of a scan that are printed."""
        own = self.recipe.cuts.get(scan.file)
        whole = slice(None), slice(None)
        return whole if own is None else window(own, scan.shrink, scan.height, scan.width)

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
        grown = None if light is None or scan.part else _grown(_Kept(light), scan.height, scan.width)
        return EvenMap(light, across, gain, scan.height, scan.width, grown)

    @cached_property
    def _lit(self) -> np.ndarray | None:
        return self.recipe.lit()


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


def _through(recipe: Recipe, trim: tuple[float, float, float], file: str) -> Through:
    """The frame's processor; the last few are kept, since most frames share one."""
    key = (id(recipe), trim)
    found = _LAST.get(key)
    if found is None or found[0] is not recipe:
        depth: Any = "f32" if recipe.kind == "exr" else "u16"
        while len(_LAST) >= 8:
            _LAST.pop(next(iter(_LAST)))
        found = _LAST[key] = (recipe, Through(recipe.group_of(file), depth))
    return found[1]


def _log_codes(kept: np.ndarray, base: tuple[float, float, float]) -> np.ndarray:
    """10-bit printing-density codes in the top of 16 bits of evened codes: 95 at the base, 500 a density."""
    codes = np.arange(65536, dtype=np.float64)
    density = -np.log10(np.maximum(codes / 65535, 1e-5))
    out = np.empty_like(kept)
    for layer in range(3):
        ten = np.clip(np.round(500 * (density - base[layer]) + 95), 0, 1023).astype(np.uint16)
        out[..., layer] = ((ten << 6) | (ten >> 4))[kept[..., layer]]
    return out


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
