"""Read a folder of scans as a densitometer would: one roll in, one `RollReading` out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from wetside.app.along import holes_by_file, lying
from wetside.app.lengths import Sizes, frames_in, from_head
from wetside.app.lie import with_lie
from wetside.app.lights import lights
from wetside.app.loaded import Loaded
from wetside.app.read_options import PatchAt, ReadOptions
from wetside.app.scan_file import LINEAR, one_channel, scan_or_finding
from wetside.app.standing import footing_of, frame_at, noise_in, standing_of
from wetside.app.strips_shown import strips_shown
from wetside.app.turned import light_by_half_a_turn
from wetside.figures.abreast import abreast
from wetside.figures.channels import RGB
from wetside.figures.density import DensityFrame
from wetside.figures.finding import Finding, Unusable
from wetside.figures.footing import Footing
from wetside.figures.place import Part, Rectangle
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import FrameReading, Geometry, Mark, Patch, RollReading
from wetside.figures.scan import Scan
from wetside.laws.reel.gauges import GAUGES
from wetside.stages.causes.cast import CastField, without_density
from wetside.stages.causes.film import Lie, placed
from wetside.stages.causes.marks import marks_in_frame
from wetside.stages.causes.pattern import Strip, pattern
from wetside.stages.causes.stacked import Stack, with_staying
from wetside.stages.negative.advance import with_advance
from wetside.stages.negative.coding import exposures, inverted, neighbours, orientations, sharpened
from wetside.stages.negative.film import density_frame, film_of_roll
from wetside.stages.negative.film_findings import lies_otherwise
from wetside.stages.negative.flare import base_unveiled, flare_said, flares, unveiled
from wetside.stages.negative.geometry import (
    geometry,
    perforated_edge,
    perforation_pitch_px,
    pitch_over_lengths,
    scale_spread,
)
from wetside.stages.negative.light import UNTOLD, light_agrees, light_untold
from wetside.stages.negative.mixed import mixed
from wetside.stages.negative.noise import noise_blocks
from wetside.stages.negative.patches import Spot, spot
from wetside.stages.negative.reckoned import reckoned
from wetside.stages.negative.rung import rung_of
from wetside.stages.negative.shown import FilmOfFrame, FilmOfRoll
from wetside.stages.negative.turned import from_rebate, levelled
from wetside.stages.negative.working import Light, Working, light_of, working
from wetside.store.scans.folder import FolderListing, listing
from wetside.store.scans.parts import whole_name
from wetside.store.spool import Spool

#: Scans of a roll that are asked for the scanner's noise; more would not tell it better.
MOST_FOR_NOISE = 24
#: Frames of a roll that tell its cast: each holds 36 KB, and four times that while the cast is worked out.
MOST_FOR_CAST = 128


def read(folder: Path, options: ReadOptions | None = None, progress: Progress = silent) -> RollReading:
    """All that can be said of a folder of scans; Unusable when no frame of it can be read."""
    options = with_lie(folder, options or ReadOptions())
    files = listing(folder)
    open_gate, dark, early = lights(files, options.open_gate)
    light = light_of(open_gate, dark, options.exposure_ratio)
    loaded = _loaded(files, options, light, open_gate, progress)
    if dark is not None and loaded.blocks and dark.full_scale == loaded.white:
        loaded.blocks.append(noise_blocks(dark, light.dark))
    linear = all(scan.coding != "gamma" for scan in loaded.scans)
    told = all(
        scan.coding == "log" for scan in loaded.scans
    )  # printing density is a negative's by definition
    grey = all(
        one_channel(scan) for scan in loaded.scans
    )  # without colours nothing shows whether a mask is there
    if linear and not told and not grey and (positives := inverted(_some_densities(loaded))):
        loaded.findings.append(positives)
        linear = False
    loaded.findings.extend(_of_files(loaded))
    if linear:
        _lift(loaded)
    film = _film(loaded, options, open_gate is not None) if linear else _no_film(loaded.frames)
    film = replace(film, base=base_unveiled(film.base, loaded.flares))
    loaded.findings += mixed(loaded.frames, loaded.sizes, film if linear else None, open_gate is not None)
    film = _pictures_shown(film, loaded, options.picture_at)
    if linear and open_gate is None and (gradient := light_by_half_a_turn(folder, loaded.frames)):
        loaded.gradient = gradient
        loaded.findings.append(gradient.said())
    locked = open_gate is not None and film.level
    rung = rung_of(linear, film.base is not None, locked)
    reading = _assembled(loaded, film, options, locked, rung.level, progress)
    found = (*early, *loaded.findings, *film.findings, *rung.findings, *reading.findings)
    return replace(reading, reasons=rung.reasons, findings=found)


def _loaded(
    files: FolderListing, options: ReadOptions, light: Light, open_gate: Scan | None, progress: Progress
) -> Loaded:
    loaded, sizes, by_hand = Loaded(lit=open_gate is not None), Sizes(), strips_shown(files.folder)
    _refuse_unknown_patches(files, options.patches)
    listed = [
        (i, path) for i, path in enumerate(files.frames) if options.only is None or path.name in options.only
    ]
    scans = abreast(scan_or_finding, (path for _, path in listed), 2)
    for i, ((place, _), scan) in enumerate(zip(listed, scans)):
        if isinstance(scan, Finding):
            loaded.findings.append(scan)
        else:
            if open_gate is None and not loaded.frames and options.exposure_ratio is None:
                light = replace(light, exposure_s=scan.exposure_s)
            frames = list(frames_in(scan, sizes, by_hand.get(scan.file)))
            loaded.findings.extend(frames[0].findings)
            for n in from_head([frame.part for frame in frames], options.from_right):
                _take(loaded, frames[n], light, place if options.only is not None else None)
            if scan.coding == "linear" and len(loaded.blocks) < MOST_FOR_NOISE:
                loaded.blocks.append(noise_blocks(scan, light.dark))
                loaded.white = scan.full_scale
            _spots(loaded, scan, frames, options, light, open_gate)
        progress("reading", i + 1, len(listed))
    if not loaded.frames:
        raise Unusable(
            f"none of {len(listed)} frames can be read; {loaded.findings[0].say}; copy the files again, or scan again",
            str(files.folder),
        )
    for index, at in enumerate(options.patches):
        loaded.patches.setdefault(index, (at.file, Spot(None, None)))
    return loaded


def _refuse_unknown_patches(files: FolderListing, patches: Sequence[PatchAt]) -> None:
    names = [path.name for path in files.frames]
    for at in patches:
        if whole_name(at.file) not in names and at.file not in names:
            raise Unusable(
                f"--patch names {at.file!r}, which is not a frame here; frames: {', '.join(names[:4])} …",
                "--patch",
            )


def _take(loaded: Loaded, scan: Scan, light: Light, place: int | None) -> None:
    frame = working(scan, light)
    loaded.numbers.append(len(loaded.numbers) + 1 if place is None else place + 1)
    loaded.frames.append(frame, frame.kept.nbytes + frame.mask.nbytes)
    loaded.scans.append(replace(scan, pixels=scan.pixels[:1, :1].copy()))  # a view would keep the whole frame
    loaded.sizes[scan.file] = scan.width, scan.height
    loaded.noise.append(neighbours(scan.pixels) if scan.coding == "linear" else None)


def _spots(
    loaded: Loaded,
    scan: Scan,
    frames: Sequence[Scan],
    options: ReadOptions,
    light: Light,
    open_gate: Scan | None,
) -> None:
    """Read the patches of one file, in pixels of the file, each under the name of the frame that it lies in."""
    for index, at in enumerate(options.patches):
        if scan.file not in (at.file, whole_name(at.file)):
            continue
        if scan.coding == "gamma":
            said = Finding(
                "patch-unreadable", "warning", at.file, "a gamma-coded file yields no density", source=LINEAR
            )
            loaded.findings.append(said)
            continue
        found = spot(scan, at.box, open_gate, light.dark, light.ratio(scan))
        loaded.patches[index] = frame_at(frames, at.box), found
        if found.reason:
            loaded.findings.append(
                Finding("patch-unreadable", "warning", at.file, found.reason, "", str(tuple(at.box)))
            )


def _lift(loaded: Loaded) -> None:
    """Take stray light off the frames and their patches, where an opaque holder shows it."""
    loaded.flares = found = flares(loaded.frames)
    if not any(found):
        return
    lifted = Spool[Working]()
    for frame, flare in zip(loaded.frames, found):
        lifted.append(unveiled(frame, flare), frame.kept.nbytes + frame.mask.nbytes)
    loaded.frames = lifted
    loaded.findings.extend(flare_said(found))


def _some_densities(loaded: Loaded) -> Iterator[np.ndarray]:
    """Densities of at most 16 frames spread over the roll, one in memory at a time."""
    frames = loaded.frames
    return (frames[i].density for i in range(0, len(frames), -(-len(frames) // 16)))


def _of_files(loaded: Loaded) -> list[Finding]:
    """What was done to the files, as far as they show or tell it."""
    names = [scan.file for scan in loaded.scans]
    told = exposures(names, [scan.exposure_s for scan in loaded.scans])
    said = (sharpened(loaded.noise), told, orientations(names, [scan.orientation for scan in loaded.scans]))
    return [finding for finding in said if finding is not None]


def _film(loaded: Loaded, options: ReadOptions, light_known: bool) -> FilmOfRoll:
    """The film as found, or from the base that the user showed."""
    at = options.base_at
    shown = next((i for i, scan in enumerate(loaded.scans) if at is not None and scan.file == at.file), None)
    if at is None or shown is None:
        return film_of_roll(loaded.frames, light_known)
    frame, own = loaded.frames[shown], _own(loaded.scans[shown].part, at.box)
    x, y, w, h = (int(v / frame.shrink) for v in own)
    part = frame.density[y : y + max(2, h), x : x + max(2, w)].reshape(-1, 3)
    if len(part) < 4:
        raise Unusable("the base shown by hand lies outside its frame", at.file)
    return film_of_roll(loaded.frames, light_known, levels=np.median(part, axis=0)[None])


def _own(part: Part | None, box: Rectangle) -> Rectangle:
    """A rectangle of a file in pixels of the frame."""
    return box if part is None else part.in_part(box)


def _pictures_shown(film: FilmOfRoll, loaded: Loaded, shown: Sequence[PatchAt]) -> FilmOfRoll:
    """Edges that the user showed stand in for those found."""
    by_file = {at.file: at.box for at in shown}
    films = []
    for frame, scan, own in zip(loaded.frames, loaded.scans, film.frames):
        box = by_file.get(frame.file)
        if box is not None:
            x, y, w, h = (v / frame.shrink for v in _own(scan.part, box))
            own = replace(own, edges=(x, y, x + w, y + h), seen=True)
        films.append(own)
    return replace(film, frames=tuple(films))


def _no_film(frames: Sequence[Working]) -> FilmOfRoll:
    whole = tuple(
        FilmOfFrame((0.0, 0.0, float(f.kept.shape[1]), float(f.kept.shape[0])), False, None, None)
        for f in frames
    )
    return FilmOfRoll(None, None, whole)


def _assembled(
    loaded: Loaded, film: FilmOfRoll, options: ReadOptions, light_known: bool, rung: int, progress: Progress
) -> RollReading:
    shrinks = [frame.shrink for frame in loaded.frames]
    pitch_px = perforation_pitch_px(film.frames, shrinks)
    over = pitch_over_lengths(holes_by_file(loaded.frames, loaded.scans, film)) if pitch_px is None else None
    lengths, found = geometry(
        options.gauge,
        options.frame_pitch,
        options.perf_pitch,
        options.px_per_mm,
        pitch_px or (over and over[0]),
        None,
    )
    if pitch_px and lengths.px_per_mm and not options.px_per_mm:
        lengths = replace(lengths, px_per_mm_spread=scale_spread(film.frames, shrinks, lengths.px_per_mm))
    if over and lengths.px_per_mm and not options.px_per_mm:
        lengths = replace(lengths, px_per_mm_spread=lengths.px_per_mm * over[1] / over[0])
    lengths, uneven = with_advance(
        lengths, lying(loaded.frames, loaded.scans, film), options.frame_pitch is not None
    )
    lengths = replace(lengths, perf_edge=perforated_edge(film.frames))
    uneven += _lies_otherwise(lengths, options, len(film.frames))
    lie = Lie(
        options.first_frame_mm,
        lengths.frame_pitch_mm,
        lengths.px_per_mm,
        options.head,
        options.mirrored,
        options.perf,
    )  # type: ignore[arg-type]
    light = loaded.gradient
    field_ = CastField(light_known, light.down if light else None)
    sides: list[DensityFrame] = []
    readings = []
    bare: list[RGB] = []
    stack = Stack()
    # A cast is what the frames share: so many of them, evenly spread, tell it; more would only fill the memory.
    every = -(-len(loaded.frames) // MOST_FOR_CAST)

    def looked_into(one: tuple[int, tuple[Working, FilmOfFrame]]) -> tuple[DensityFrame, tuple[Mark, ...]]:
        number, (frame, of_film) = one
        levels = _levels(film, number - 1)
        dense = density_frame(frame, of_film, levels, number, lengths.px_per_mm, film.surface)
        return dense, marks_in_frame(dense) if options.marks else ()

    found_in = abreast(looked_into, enumerate(zip(loaded.frames, film.frames), 1))
    for number, (of_film, scan, (dense, marks)) in enumerate(zip(film.frames, loaded.scans, found_in), 1):
        if film.levels is not None and number % every == 0:
            field_.add(levelled(dense, light) if light else dense)
            if light and len(sides) < 12:
                sides.append(dense)
            bare.extend(dense.bare.values())
        if options.marks:
            stack.add(dense)
        readings.append(
            FrameReading(
                scan.file,
                dense.picture,
                tuple(
                    placed(m, dense.picture, *_lie_of(number, loaded.numbers[number - 1], lie, lengths))
                    for m in marks
                ),
                of_film.base,
                loaded.flares[number - 1] if loaded.flares else None,
                film.shifts[number - 1] if film.shifts else 0.0,
                scan.sha256,
                scan.exposure_s,
                scan.part,
            )
        )
        progress("marks", number, len(loaded.frames))
    lies = [_lie_of(i, number, lie, lengths) for i, number in enumerate(loaded.numbers, 1)]
    readings = [with_staying(own, stack, *at) for own, at in zip(readings, lies)]
    cast = field_.cast() if rung >= 1 else without_density()
    density = _density_kind(rung, light_known)
    across = film.fall is not None and not film.fall.one_sided
    untold = light_untold(UNTOLD) if loaded.patches and density == "above base" and not across else ()
    light = light and from_rebate(light, sides)
    if light and not across and sides:
        film = replace(film, fall=light.fall(loaded.frames[0].width, loaded.frames[0].height, UNTOLD))
    footing = footing_of(film, loaded.blocks, loaded.white, light)
    patches = tuple(
        _patch(options.patches[i], *loaded.patches[i], loaded, film, density, footing)
        for i in sorted(loaded.patches)
    )
    return RollReading(
        rung, (), density, film.base, tuple(readings), patches, cast, lengths,
        _pattern(readings, lie, options), (*found, *uneven, *stack.said(), *(light_agrees(bare, film.base and film.base.density) if light_known else ()), *untold),
        footing,
    )  # type: ignore[arg-type]  # fmt: skip


def _lies_otherwise(lengths: Geometry, options: ReadOptions, frames: int) -> tuple[Finding, ...]:
    """Whether the perforations speak against how the roll's scans are said to lie."""
    gauge = GAUGES.get(options.gauge or "")
    head = "left" if options.head == "right" else "right"
    one_sided = gauge is not None and not gauge.both_edges
    return lies_otherwise(lengths.perf_edge, options.perf, head, one_sided, frames)


def _lie_of(place: int, number: int, lie: Lie, lengths: Geometry) -> tuple[int, Lie]:
    """A frame's number and lie; where frames lie unevenly, as the first frame of its own measured start."""
    if not lengths.starts_mm:
        return number, lie
    return 1, replace(lie, first_frame_mm=lie.first_frame_mm + lengths.starts_mm[place - 1])


def _levels(film: FilmOfRoll, index: int) -> np.ndarray | None:
    """The base's levels in one frame's own exposure."""
    return film.levels if film.levels is None or not film.shifts else film.levels + film.shifts[index]


def _density_kind(rung: int, light_known: bool) -> str:
    if rung == 0:
        return "none"
    if light_known:
        return "camera"
    return "above base" if rung >= 2 else "none"


def _patch(
    at: PatchAt,
    file: str,
    seen: Spot,
    loaded: Loaded,
    film: FilmOfRoll,
    counts_from: str,
    footing: Footing,
) -> Patch:
    """A patch as the roll has it; without a base and without an open gate it cannot be read."""
    index = next((i for i, frame in enumerate(loaded.frames) if frame.file == file), None)
    if index is not None:
        flare = loaded.flares[index] if loaded.flares else None
        stands = standing_of(film, index, counts_from, flare, loaded.lit, noise_in(footing))
        size = loaded.frames[index].width, loaded.frames[index].height
        seen = reckoned(seen, stands, _own(loaded.scans[index].part, at.box).centre, size)
    return Patch(at.file, at.box, seen.density, seen.spread, seen.parts, seen.grain)


def _pattern(readings: Sequence[FrameReading], lie: Lie, options: ReadOptions):
    places = [mark.film_mm for reading in readings for mark in reading.marks if mark.film_mm is not None]
    gauge = GAUGES.get(options.gauge or "")
    pitch = lie.frame_pitch_mm or 1.0
    picture = float(np.median([r.picture.w for r in readings])) / lie.px_per_mm if lie.px_per_mm else pitch
    perf = options.perf_pitch or (gauge.perf_pitch_mm if gauge else None)
    strip = Strip(options.first_frame_mm, pitch, min(picture, pitch), len(readings), perf, None, 0.3)
    return pattern(places, strip, options.reel, np.random.default_rng(20))
