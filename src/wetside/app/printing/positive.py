"""Print a roll: one evenness map a frame, one transform for the roll, pictures out, and all that reproduces them.

What is finished stays finished: a frame is printed again only when its scan, its transform or the laws changed.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Generator, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from wetside.app.printing.cluster import Cluster
from wetside.app.printing.corrections import NAMES, stays_out
from wetside.app.printing.crew import crew
from wetside.app.printing.frames import Printer
from wetside.app.printing.handover import BESIDE, write_beside
from wetside.app.printing.proxy_film import film_pictures
from wetside.app.printing.recipe import NONE, Recipe, Rows, law_versions, read_recipe, write_recipe
from wetside.app.printing.roll_transform import Wanted, roll_transform
from wetside.app.printing.softening import marks_of
from wetside.app.reading.lengths import roll_files
from wetside.app.reading.read import ReadOptions, read
from wetside.app.reading.turned import AGAIN, MOST_AGAIN, second_scans
from wetside.app.sensitometry.crosstalk import calibration_sheet, calibration_told, refuse_layers
from wetside.app.viewing.verdicts import verdicts_for
from wetside.figures.curves import Curves
from wetside.figures.finding import Finding, Unusable
from wetside.figures.place import Rectangle
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import RollReading
from wetside.stages.negative.measured.calibration import Profile
from wetside.stages.positive.cut import cuts_of
from wetside.stages.positive.lattice import lattice_of
from wetside.stages.positive.lattice_code import machine_writes
from wetside.stages.positive.rebate import consistency
from wetside.stages.positive.turn import turns_of
from wetside.store.memory import peak_bytes
from wetside.store.scans.folder import FolderListing
from wetside.store.scans.journal import PLACE, Journal, held
from wetside.store.scans.parts import whole
from wetside.store.scans.sinks import refuse_existing
from wetside.store.scans.stamps import Stamp, settled_stamps, sha256

DEFAULT_SPACE = {"tiff": "sRGB", "jpeg": "sRGB", "exr": "ACES2065-1", "dpx": "ADX10"}
ALLOWED = {"tiff": ("sRGB",), "jpeg": ("sRGB",), "exr": ("ACES2065-1", "ACEScg"), "dpx": ("ADX10",)}
FILM = "positive.mp4"
#: Bytes of scans from which code written for the machine earns its start: some 0.2 s, and 0.01 s a megapixel (6 MB) saved.
LONG = 300_000_000
#: Bytes of a scan, in the mean, under which what is saved is lost in a frame's other work, and the library's 70 MB are too many.
FINE = 3_000_000
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
    workers     frames that are printed side by side; crew who prints in place of this process
    even, mid_tones  take out the cast across the film: an additive one, or one that grows with density, in the mid-tones
    leave       names of corrections that are not to be made: "light", "flare", "drift", "level", or a stain by its number
    soften_stains  take off every mark that is a stain and shows it; `soften` those marks that are named, by file
    greys       places that were neutral, two or more, for the fitted door: file and rectangle [px]
    by          a calibration of the light and scanner, whose matrix comes before the layers' curves; the own door's `curves` are in its densities
    home        the book whose words on marks count, or None
    alone       the pictures alone, cut to one size, in place of the whole scans
    reading     what was read of these very files already, in place of reading them again
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
    mid_tones: bool = False
    leave: tuple[str, ...] = ()
    soften_stains: bool = False
    soften: dict[str, list[Rectangle]] = field(default_factory=dict)
    home: Path | None = None
    greys: tuple[tuple[str, Rectangle], ...] = ()
    by: Profile | None = None
    alone: bool = False
    reading: RollReading | None = None

    def left(self) -> tuple[str, ...]:
        """Names of the corrections that are not made, in order; those that must be asked for among them unless they were."""
        asked = {"cast": self.even, "mid-tones": self.mid_tones}
        stains = sorted(name for name in self.leave if stays_out(name, self.leave) and name not in NAMES)
        return (*(name for name in NAMES if name in self.leave or not asked.get(name, True)), *stains)


def positive(folder: Path, options: PositiveOptions, progress: Progress = silent) -> dict[str, Any]:
    """One picture a frame, `positive.clf`, a CDL a frame, `positive.json`; the `wetside.positive/1` object."""
    began = time.perf_counter()
    refuse_layers(options.by, options.door)
    files = roll_files(folder)
    space = _space(options)
    names = _outputs(files, options)
    stamps = settled_stamps(files.frames)
    before = Journal(options.out)
    refuse_existing((options.out / name for name in names), options.overwrite, before.own)
    with held(options.out):
        recipe, about = _recipe(files, options, space, stamps, progress)
        printer = Printer(recipe, options.out)
        frames, findings, kept = _printed(files, printer, before, about["hashes"], options, progress)
        if not frames:
            raise Unusable(
                f"none of {len(files.frames)} frames could be printed: {findings[0].say}", str(folder)
            )
        even = consistency([f["file"] for f in frames], [f["seen"] for f in frames], about["before"])
        if options.film:
            findings += film_of([Path(f["picture"]) for f in frames], options, progress)
        seen = {f["file"]: f["seen"]["rebate"] for f in frames if f["seen"]["rebate"] is not None}
        write_beside(options.out, recipe, about, even, seen)
        before.add("", "", [*BESIDE, *([FILM] if options.film else [])], {})
    shown = [{k: f[k] for k in ("file", "picture", "seconds", "kept")} for f in frames]
    return {
        "schema": "wetside.positive/1", "frames": shown, "seconds": time.perf_counter() - began, "peak_bytes": peak_bytes(),
        "worker_peak_bytes": max((f["peak_bytes"] for f in frames if not f["kept"]), default=None), "kept": kept,
        "door": options.door, "base": about["base"], "evenness": about["evenness"], "space": space, "say": about["say"],
        "drift": about["drift"], "calibration": calibration_sheet(about["calibration"]), "corrections": about["corrections"], "marks_left": about["marks_left"], "consistency": even, "findings": about["findings"] + [f.as_json() for f in findings],
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
    names = [*BESIDE, *([FILM] if options.film else [])]
    whose = dict.fromkeys(names, "the roll")
    for path in files.frames:
        for name in printer.outputs(path.name):
            # Names that differ in capitals alone are one file on many stores.
            other = whose.setdefault(name.casefold(), path.name)
            if other != path.name:
                raise Unusable(
                    f"{other} and {path.name} would both be written to {name}: rename one of them",
                    str(files.folder),
                )
            names.append(name)
    if options.out.exists() and options.out.samefile(files.folder):
        scans = {path.name for path in files.folder.iterdir() if path.is_file()}
        frames = {whole(path).name for path in files.frames}
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
    files: FolderListing, options: PositiveOptions, space: str, stamps: dict[str, Stamp], progress: Progress
) -> tuple[Recipe, dict[str, Any]]:
    """The recipe kept from before, when nothing that made it changed; else one from reading the roll."""
    place = options.out / PLACE / "recipe.npz"
    wanted: dict[str, Any] = {
        "door": options.door, "leave": list(options.left()), "space": space, "kind": options.kind, "negative": options.negative,
        "laws": law_versions(), "curves": repr(options.curves), "folder": files.folder.name, "soften": _asked(files, options), "greys": [[file, *box] for file, box in options.greys], "calibration": calibration_told(options.by),
    }  # fmt: skip
    found = read_recipe(place)
    if found is not None and found[1].get("wanted") == wanted:
        hashes = _hashes(files, options, {}, progress)
        if found[1].get("hashes") == hashes:
            return _with_trims(place, *found, files, options, stamps, found[0])
    if options.reading is not None:
        stamps = {}  # that reading's hashes are older than these stamps: each file is hashed as it is printed
    reading = options.reading or read(
        files.folder, ReadOptions(open_gate=options.open_gate, marks=options.soften_stains), progress
    )
    boxes = {file: list(own) for file, own in options.soften.items()}
    if options.soften_stains:
        for file, own in marks_of(options.home, files.folder, reading).items():
            boxes.setdefault(file, []).extend(own)
    how = Wanted(
        options.door,
        space,
        options.kind,
        options.negative,
        options.left(),
        options.curves,
        options.open_gate,
        boxes,
        options.greys,
        options.by,
    )
    recipe, about = roll_transform(files, reading, how)
    known = {frame.file: frame.sha256 for frame in reading.frames}
    about |= {"wanted": wanted, "hashes": _hashes(files, options, known, progress)}
    return _with_trims(place, recipe, about, files, options, stamps)


def _asked(files: FolderListing, options: PositiveOptions) -> Any:
    """Which marks are to be taken off, so that asking for others reads the roll anew."""
    said = (
        [[*list(v.box), v.file, v.answer] for v in verdicts_for(options.home, files.folder)]
        if options.home
        else []
    )
    named = {file: [list(box) for box in own] for file, own in sorted(options.soften.items())}
    return [options.soften_stains, named, said if options.soften_stains else []]


def _with_trims(
    place: Path,
    recipe: Recipe,
    about: dict[str, Any],
    files: FolderListing,
    options: PositiveOptions,
    stamps: dict[str, Stamp],
    kept: Recipe | None = None,
) -> tuple[Recipe, dict[str, Any]]:
    recipe = replace(
        recipe, written=_written(recipe, files, options), trims=dict(options.trims), balance=options.balance, notes=dict(options.notes),
        names=sequence_names(files, options), cuts=cuts_of(recipe.boxes) if options.alone else {},
        turns=turns_of(recipe.skews, recipe.boxes, bool(options.sequence)) if options.alone else {},
        hashed={name: (about["hashes"][name], *stamp) for name, stamp in stamps.items() if about["hashes"].get(name)},
    )  # fmt: skip
    if kept is None or replace(kept, hashed={}).plain() != replace(recipe, hashed={}).plain():
        write_recipe(place, recipe, about)
    return recipe, about


def _written(recipe: Recipe, files: FolderListing, options: PositiveOptions) -> bool:
    """Whether the roll's tables are gone through by code written for the machine: where it is long enough, and all can."""
    sizes = [path.stat().st_size for path in {whole(frame) for frame in files.frames} if path.is_file()]
    if sum(sizes) < max(LONG, FINE * len(sizes)) or lattice_of(recipe.group()) is None:
        return False
    return options.crew.writes() if isinstance(options.crew, Cluster) else machine_writes()


def _hashes(
    files: FolderListing, options: PositiveOptions, known: dict[str, str], progress: Progress
) -> dict[str, str]:
    """SHA-256 of every scan, second scan, light and dark frame, as far as they are not `known`; "" for one that cannot be opened."""
    paths = [*files.frames, *(p for p in (options.open_gate or files.open_gate, files.dark) if p is not None)]
    named = [(path.name, path) for path in paths] + [
        (f"{AGAIN}/{path.name}", path) for path in second_scans(files.folder)[:MOST_AGAIN]
    ]
    found = {}
    for i, (name, path) in enumerate(named, 1):
        try:
            found[name] = known.get(name) or sha256(path)
        except OSError:
            found[name] = ""
        progress("comparing", i, len(named))
    return found


def _printed(
    files: FolderListing,
    printer: Printer,
    journal: Journal,
    hashes: dict[str, str],
    options: PositiveOptions,
    progress: Progress,
) -> tuple[list[dict[str, Any]], list[Finding], int]:
    """Every frame: those finished before are kept, the rest is printed; one that fails is named and the rest is done."""
    shared = printer.recipe.shared_key()
    done = _finished(files, printer, journal, hashes, shared)
    findings: list[Finding] = []
    todo = [path for path in files.frames if path.name not in done]
    kept, total = len(done), len(files.frames)
    journal.begin([*(name for path in todo for name in printer.outputs(path.name)), *BESIDE, FILM])
    place = options.out / PLACE / "recipe.npz"
    make = options.crew or (lambda at, key, paths: crew(at, key, paths, options.workers))
    with closing(make(place, shared, todo)) as coming:
        for found in coming:
            name = found["file"]
            if "slip" not in found:
                key = printer.recipe.frame_key(name, found["sha256"], shared)
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


def _finished(
    files: FolderListing, printer: Printer, journal: Journal, hashes: dict[str, str], shared: str
) -> dict[str, dict[str, Any]]:
    """Frames whose pictures stand as they would be printed now, by file."""
    done = {}
    for path in files.frames:
        if path.name not in journal.lines or not hashes.get(path.name):
            continue
        key = printer.recipe.frame_key(path.name, hashes[path.name], shared)
        names = printer.outputs(path.name)
        frame = journal.finished(path.name, key, names)
        if frame is not None:
            done[path.name] = {**frame, "picture": str(printer.out / names[0]), "kept": True}
    return done


def film_of(pictures: Sequence[Path], options: PositiveOptions, progress: Progress) -> list[Finding]:
    """A small film of the pictures, for looking at; scene-linear and log pictures have none, and it is said."""
    if options.kind not in ("tiff", "jpeg"):
        say = "a film for looking at is made from TIFF or JPEG pictures alone"
        return [Finding("no-film", "note", FILM, say)]
    return film_pictures(pictures, options.out / FILM, options.film or 24.0, progress)
