"""Print a roll: one evenness map a frame, one transform for the roll, pictures out, and all that reproduces them.

What is finished stays finished: a frame is printed again only when its scan, its transform or the laws changed.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable, Generator, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from wetside import __version__
from wetside.app.crew import crew
from wetside.app.frames import Printer
from wetside.app.handover import film_pictures, one_page
from wetside.app.read import ReadOptions, lights, read
from wetside.app.recipe import NONE, Recipe, Rows, law_versions, read_recipe, write_recipe
from wetside.figures.curves import Curves
from wetside.figures.finding import Finding, Unusable
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import RollReading
from wetside.stages.negative.working import Light, light_of, working
from wetside.stages.positive.fit import ToneFit, fitted_tone, own_tone
from wetside.stages.positive.rebate import consistency
from wetside.stages.positive.transform import clf_text
from wetside.store.memory import peak_bytes
from wetside.store.scans.folder import FolderListing, listing
from wetside.store.scans.journal import PLACE, Journal, held
from wetside.store.scans.load import load, sha256
from wetside.store.scans.sinks import refuse_existing, write_text

DEFAULT_SPACE = {"tiff": "sRGB", "jpeg": "sRGB", "exr": "ACES2065-1", "dpx": "ADX10"}
ALLOWED = {"tiff": ("sRGB",), "jpeg": ("sRGB",), "exr": ("ACES2065-1", "ACEScg"), "dpx": ("ADX10",)}
BESIDE = ("positive.clf", "positive.json", "positive.txt")
NAME = re.compile(r"[A-Za-z0-9_-]{1,60}")
Crew = Callable[[Path, str, Sequence[Path]], Generator[dict[str, Any]]]


@dataclass(frozen=True)
class PositiveOptions:
    """How to print. `space` None takes the kind's usual one; `curves` are needed by the own door.

    negative    None, "tiff" or "dpx": write the evened negatives too
    trims       density added to a frame, by file, r g b [D]; `balance` the same for the whole roll
    notes       what is known of the roll: roll, stock, EI, process
    sequence    a name: pictures are called NAME.0000001 and on, in the order of the roll
    film        frames a second of a small film for looking at, or None
    crew        who prints, in place of `workers` processes of this machine
    """

    out: Path
    door: str = "fitted"
    even: bool = False
    kind: str = "tiff"
    space: str | None = None
    negative: str | None = None
    workers: int = 1
    open_gate: Path | None = None
    overwrite: bool = False
    curves: Curves | None = None
    trims: dict[str, Rows] = field(default_factory=dict)
    balance: Rows = NONE
    notes: dict[str, Any] = field(default_factory=dict)
    sequence: str | None = None
    film: float | None = None
    crew: Crew | None = None


def positive(folder: Path, options: PositiveOptions, progress: Progress = silent) -> dict[str, Any]:
    """One picture a frame, `positive.clf`, a CDL a frame, `positive.json`; the `wetside.positive/1` object."""
    began = time.perf_counter()
    files = listing(folder)
    space = _space(options)
    names = _outputs(files, options)
    before = Journal(options.out)
    refuse_existing((options.out / name for name in names), options.overwrite, before.own)
    with held(options.out):
        recipe, about = _recipe(files, options, space, progress)
        printer = Printer(recipe, options.out)
        frames, findings, kept = _printed(files, printer, before, options, progress)
        if not frames:
            raise Unusable(
                f"none of {len(files.frames)} frames could be printed: {findings[0].say}", str(folder)
            )
        even = consistency([f["file"] for f in frames], [f["seen"] for f in frames])
        if options.film:
            findings += film_of(
                [Path(f["picture"]) for f in frames], options.out / "positive.mp4", options, progress
            )
        even_of = {f["file"]: f["seen"]["rebate"] for f in frames if f["seen"]["rebate"] is not None}
        _beside_pictures(before, recipe, about, even, even_of, options)
    shown = [{k: f[k] for k in ("file", "picture", "seconds", "kept")} for f in frames]
    return {
        "schema": "wetside.positive/1", "frames": shown, "seconds": time.perf_counter() - began, "peak_bytes": peak_bytes(),
        "worker_peak_bytes": max((f["peak_bytes"] for f in frames if not f["kept"]), default=None), "kept": kept,
        "door": options.door, "base": about["base"], "evenness": about["evenness"], "space": space, "say": about["say"],
        "consistency": even, "findings": about["findings"] + [f.as_json() for f in findings],
    }  # fmt: skip


def _space(options: PositiveOptions) -> str:
    space = options.space or DEFAULT_SPACE[options.kind]
    if space not in ALLOWED[options.kind]:
        raise Unusable(f"--space {space}: {options.kind} takes {', '.join(ALLOWED[options.kind])}", "--space")
    return space


def _outputs(files: FolderListing, options: PositiveOptions) -> list[str]:
    """The name of every file that will be written; Unusable when two are one, or one is a scan."""
    recipe = Recipe(
        options.door, "", options.kind, options.negative, NONE, names=sequence_names(files, options)
    )
    printer = Printer(recipe, options.out)
    names = [*BESIDE, *(["positive.mp4"] if options.film else [])]
    whose = dict.fromkeys(names, "the roll")
    for path in files.frames:
        for name in printer.outputs(path.name):
            # Names that differ in capitals alone are one file on many stores.
            other = whose.setdefault(name.casefold(), path.name)
            if other != path.name:
                raise Unusable(f"{other} and {path.name} would both be written to {name}", str(files.folder))
            names.append(name)
    if options.out.exists() and options.out.samefile(files.folder):
        scans = {path.name for path in files.folder.iterdir() if path.is_file()}
        frames = {path.name for path in files.frames}
        over = next((name for name in names if name in scans & frames), None)
        if over is not None:
            raise Unusable(f"{over} is a scan: print into another folder", str(options.out))
    return names


def sequence_names(files: FolderListing, options: PositiveOptions) -> dict[str, str]:
    """Names of a sequence by file: seven digits, no gap, in the order of the roll; none when it is not one."""
    if not options.sequence:
        return {}
    if not NAME.fullmatch(options.sequence):
        raise Unusable("expected letters, digits, _ and -, at most 60", "--sequence")
    return {path.name: f"{options.sequence}.{i:07d}" for i, path in enumerate(files.frames, 1)}


def _recipe(
    files: FolderListing, options: PositiveOptions, space: str, progress: Progress
) -> tuple[Recipe, dict[str, Any]]:
    """The recipe kept from before, when nothing that made it changed; else one from reading the roll."""
    place = options.out / PLACE / "recipe.npz"
    wanted: dict[str, Any] = {
        "door": options.door, "even": options.even, "space": space, "kind": options.kind, "negative": options.negative,
        "laws": law_versions(), "curves": repr(options.curves), "folder": files.folder.name,
    }  # fmt: skip
    found = read_recipe(place)
    if found is not None and found[1].get("wanted") == wanted:
        hashes = _hashes(files, options, progress)
        if found[1].get("hashes") == hashes:
            return _with_trims(place, *found, files, options, found[0])
    reading = read(files.folder, ReadOptions(open_gate=options.open_gate, marks=False), progress)
    recipe, tone = recipe_from_reading(files, reading, options, space)
    about = {
        "wanted": wanted, "hashes": _hashes(files, options, progress), "base": reading.base.as_json() if reading.base else None,
        "evenness": evenness_of(recipe, reading), "say": tone.say if tone else "Academy density exchange",
        "gradients": list(tone.gradients) if tone else None, "assumed": tone.assumed if tone else False,
        "findings": [f.as_json() for f in reading.findings],
    }  # fmt: skip
    return _with_trims(place, recipe, about, files, options)


def _with_trims(
    place: Path,
    recipe: Recipe,
    about: dict[str, Any],
    files: FolderListing,
    options: PositiveOptions,
    kept: Recipe | None = None,
) -> tuple[Recipe, dict[str, Any]]:
    recipe = replace(
        recipe, trims=dict(options.trims), balance=options.balance, notes=dict(options.notes),
        names=sequence_names(files, options),
    )  # fmt: skip
    if kept is None or kept.plain() != recipe.plain():
        write_recipe(place, recipe, about)
    return recipe, about


def _hashes(files: FolderListing, options: PositiveOptions, progress: Progress) -> dict[str, str]:
    """SHA-256 of every scan, light and dark frame; "" for one that cannot be opened."""
    paths = [*files.frames, *(p for p in (options.open_gate or files.open_gate, files.dark) if p is not None)]
    found = {}
    for i, path in enumerate(paths, 1):
        try:
            found[path.name] = sha256(path)
        except OSError:
            found[path.name] = ""
        progress("comparing", i, len(paths))
    return found


def recipe_from_reading(
    files: FolderListing, reading: RollReading, options: PositiveOptions, space: str
) -> tuple[Recipe, ToneFit | None]:
    """The recipe of a roll from its reading; Unusable when no positive can be printed from it."""
    if reading.rung == 0:
        raise Unusable(
            "these files are gamma-coded: no positive can be printed from them; scan linear, 16 bits",
            str(files.folder),
        )
    if options.door == "own" and options.curves is None:
        raise Unusable(
            "the own door needs this stock's curves: `wetside stock FOLDER` with a stock.json beside the scans",
            "--door",
        )
    open_gate, dark, _ = lights(files, options.open_gate)
    light = light_of(open_gate, dark)
    if open_gate is None:
        light = replace(light, exposure_s=_first_exposure(files))
    factor = None
    if light.field is not None:
        factor = (1 / np.maximum(light.field - np.float32(light.dark), 1e-6)).astype(np.float32)
    base = tuple(reading.base.density) if reading.base else _thinnest(files, light)
    tone = None
    if options.door != "exchange":
        above = _sampled(files, reading, light, np.array(base))
        tone = (
            own_tone(options.curves, above)
            if options.door == "own" and options.curves
            else fitted_tone(above)
        )
    across, cast = _profile(reading) if options.even else (None, None)
    recipe = Recipe(
        options.door, space, options.kind, options.negative, base,  # type: ignore[arg-type]
        None if tone is None else tone.table, factor, light.dark, light.exposure_ratio, light.exposure_s, across, cast,
        {frame.file: tuple(frame.picture) for frame in reading.frames}, shifts=_shifts(reading), laws=law_versions(),  # type: ignore[misc]
    )  # fmt: skip
    return recipe, tone


def _shifts(reading: RollReading) -> dict[str, float]:
    """Density by which frames named as scanned at another exposure lie off the roll's base: the mean of the layers."""
    named = {finding.where for finding in reading.findings if finding.id == "exposure-not-locked"}
    if reading.base is None:
        return {}
    middle = np.array(reading.base.density)
    return {
        frame.file: float(np.mean(np.array(frame.base) - middle))
        for frame in reading.frames
        if frame.file in named and frame.base is not None
    }


def _first_exposure(files: FolderListing) -> float | None:
    for path in files.frames:
        try:
            return load(path).exposure_s
        except Unusable:
            continue
    return None


def _thinnest(files: FolderListing, light: Light) -> Rows:
    """Without a rebate: the thinnest densities of the roll stand in for the base, and are said to."""
    lows = [
        np.percentile(working(load(path), light).density.reshape(-1, 3), 0.5, axis=0)
        for path in files.frames[:8]
    ]
    return tuple(float(v) for v in np.min(lows, axis=0))  # type: ignore[return-value]


def _sampled(files: FolderListing, reading: RollReading, light: Light, base: np.ndarray) -> np.ndarray:
    """Densities above base of the roll's pictures, at most 24 frames, thinned."""
    step, shifts = max(1, len(reading.frames) // 24), _shifts(reading)
    names = {path.name: path for path in files.frames}
    parts = []
    for frame in reading.frames[::step]:
        small = working(load(names[frame.file]), light)
        x, y, w, h = (int(v / small.shrink) for v in frame.picture)
        inner = small.density[y + h // 30 : y + h - h // 30 : 4, x + w // 30 : x + w - w // 30 : 4]
        parts.append(inner.reshape(-1, 3) - base - shifts.get(frame.file, 0.0))
    return np.concatenate(parts)


def _profile(reading: RollReading) -> tuple[np.ndarray, np.ndarray] | tuple[None, None]:
    """The additive cast's profile, where there is one that may be taken out."""
    cast = reading.cast
    if not cast.found or cast.kind not in ("additive", "light") or not cast.profile:
        return None, None
    return np.array([p.across for p in cast.profile]), np.array([tuple(p.density) for p in cast.profile])


def _printed(
    files: FolderListing, printer: Printer, journal: Journal, options: PositiveOptions, progress: Progress
) -> tuple[list[dict[str, Any]], list[Finding], int]:
    """Every frame: those finished before are kept, the rest is printed; one that fails is named and the rest is done."""
    recipe = printer.recipe
    shared = recipe.shared_key()
    done: dict[str, dict[str, Any]] = {}
    findings: list[Finding] = []
    todo: list[Path] = []
    for path in files.frames:
        line = journal.lines.get(path.name)
        frame = None
        if line is not None and path.is_file():
            key = recipe.frame_key(path.name, sha256(path), shared)
            frame = journal.finished(path.name, key, printer.outputs(path.name))
        if frame is None:
            todo.append(path)
        else:
            picture = str(options.out / printer.outputs(path.name)[0])
            done[path.name] = {**frame, "picture": picture, "kept": True}
    kept, total = len(done), len(files.frames)
    journal.begin([*(name for path in todo for name in printer.outputs(path.name)), *BESIDE, "positive.mp4"])
    place = options.out / PLACE / "recipe.npz"
    make = options.crew or (lambda at, key, paths: crew(at, key, paths, options.workers))
    with closing(make(place, shared, todo)) as coming:
        for found in coming:
            name = found["file"]
            if "slip" not in found:
                key = recipe.frame_key(name, found["sha256"], shared)
                journal.add(name, key, printer.outputs(name), found)
                done[name] = {**found, "kept": False}
            elif found["store"]:
                raise Unusable(
                    f"{found['slip']}; {len(done)} of {total} frames are finished and stay: put it right and run the "
                    "same command again", name,
                )  # fmt: skip
            else:
                findings.append(Finding("frame-not-printed", "error", name, found["slip"]))
            progress("printing", len(done) + len(findings), total)
    order = {path.name: i for i, path in enumerate(files.frames)}
    findings.sort(key=lambda finding: order[finding.where])
    return [done[path.name] for path in files.frames if path.name in done], findings, kept


def _beside_pictures(
    journal: Journal,
    recipe: Recipe,
    about: dict[str, Any],
    even: dict[str, Any],
    seen: dict[str, Any],
    options: PositiveOptions,
) -> None:
    write_text(options.out / "positive.clf", clf_text(recipe.group()))
    fitted = recipe.table is not None
    sheet = {
        "schema": "wetside.positive-sheet/1",
        "input": "evened negative: transmittance 0–1, code / 65535 in 16-bit TIFF",
        "order": "STEM.cdl (slope on transmittance = printer-light trim in density), then positive.clf",
        "output": "ACES2065-1 (then ADX10)" if recipe.space == "ADX10" else recipe.space,
        "base": dict(zip("rgb", recipe.base)), "door": options.door,
        "gradients": dict(zip("rgb", about["gradients"])) if fitted else None, "assumed": about["assumed"],
        "say": about["say"] if fitted else "Academy density exchange; the scan's densities are taken as calibrated",
        "map": about["evenness"], "pictures": {name: list(box) for name, box in recipe.boxes.items()},
        "negative": recipe.negative, "names": recipe.names, "notes": {k: v for k, v in recipe.notes.items() if k != "numbers"},
        "trims": {name: list(trim) for name, trim in recipe.trims.items()}, "balance": list(recipe.balance), "shifts": recipe.shifts,
        "consistency": even, "seen": seen, "versions": {"wetside": __version__, "laws": recipe.laws},
    }  # fmt: skip
    write_text(options.out / "positive.json", json.dumps(sheet, indent=2, ensure_ascii=False) + "\n")
    write_text(options.out / "positive.txt", one_page(sheet, recipe))
    journal.add("", "", [*BESIDE, *(["positive.mp4"] if options.film else [])], {})


def evenness_of(recipe: Recipe, reading: RollReading) -> dict[str, Any]:
    """What is taken out of a roll's unevenness, what remains [D], and how that is said."""
    cast = reading.cast
    label = ""
    if cast.found and cast.kind == "with density":
        label = "mid-tones only: the cast grows with density and no additive map can undo it"
    light = recipe.light is not None
    return {
        "light": light, "cast": recipe.across is not None,
        "remains": cast.remains if cast.found else None, "label": label,
        "say": "the open gate's unevenness is taken out" if light else "no open gate: the light's unevenness stays",
    }  # fmt: skip


def film_of(
    pictures: Sequence[Path], to: Path, options: PositiveOptions, progress: Progress
) -> list[Finding]:
    """A small film of the pictures, for looking at; scene-linear and log pictures have none, and it is said."""
    if options.kind not in ("tiff", "jpeg"):
        return [
            Finding(
                "no-film", "note", to.name, "a film for looking at is made from TIFF or JPEG pictures alone"
            )
        ]
    film_pictures(pictures, to, options.film or 24.0, progress)
    return []
