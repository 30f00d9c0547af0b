"""Read a folder of scans as a densitometer would: one roll in, one `RollReading` out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from wetside.app.reading.film import film_found, no_film, pictures_shown
from wetside.app.reading.laid import Laid, laid, pattern_of
from wetside.app.reading.lie import with_lie
from wetside.app.reading.lights import lights
from wetside.app.reading.loaded import Loaded, lift, linear, loaded_files, said_of_files
from wetside.app.reading.read_options import PatchAt, ReadOptions
from wetside.app.reading.rims import rims
from wetside.app.reading.standing import footing_of, noise_in, standing_of
from wetside.app.reading.turned import light_by_half_a_turn
from wetside.figures.abreast import abreast
from wetside.figures.channels import RGB
from wetside.figures.density import DensityFrame
from wetside.figures.finding import Finding
from wetside.figures.footing import Footing
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import DensityKind, FrameReading, Patch, RollReading
from wetside.laws.reel.gauges import GAUGES
from wetside.stages.causes.signs.beside_roll import with_claims
from wetside.stages.causes.signs.cast import CastField, without_density
from wetside.stages.causes.signs.codes import in_codes
from wetside.stages.causes.signs.film import each_once, placed
from wetside.stages.causes.signs.marks import searched
from wetside.stages.causes.signs.perhaps import Searched, best_of_roll
from wetside.stages.causes.signs.same_place import without_the_lights
from wetside.stages.causes.signs.stacked import Stack, with_staying
from wetside.stages.negative.found.film import density_frame
from wetside.stages.negative.found.mixed import mixed
from wetside.stages.negative.found.shown import FilmOfFrame, FilmOfRoll
from wetside.stages.negative.measured.reckoned import reckoned
from wetside.stages.negative.measured.rung import rung_of
from wetside.stages.negative.scanner.coding import sharpened
from wetside.stages.negative.scanner.light import UNTOLD, light_agrees, light_leans, light_untold
from wetside.stages.negative.scanner.noise import noise_blocks
from wetside.stages.negative.scanner.turned import Gradient, from_rebate, levelled
from wetside.stages.negative.scanner.working import Working, light_of
from wetside.store.scans.folder import listing

__all__ = ["PatchAt", "ReadOptions", "read"]

#: Frames, evenly spread, that tell a roll's cast: each holds 36 KB, and four times that while the cast is worked out.
MOST_FOR_CAST = 128
#: Frames whose rebates say from where the light of a turned frame is counted.
MOST_FOR_FALL = 12


@dataclass
class Shared:
    """What the frames of a roll tell together, gathered while each is in memory."""

    cast: CastField
    every: int
    stack: Stack
    bare: list[Mapping[str, RGB]] = field(default_factory=list)
    sides: list[DensityFrame] = field(default_factory=list)

    def add(self, dense: DensityFrame, light: Gradient | None) -> None:
        """Take what one frame tells of the cast, the light and the base."""
        self.cast.add(levelled(dense, light) if light else dense)
        self.bare.append(dense.bare)
        if light and len(self.sides) < MOST_FOR_FALL:
            self.sides.append(dense)


def read(folder: Path, options: ReadOptions | None = None, progress: Progress = silent) -> RollReading:
    """All that can be said of a folder of scans; Unusable when no frame of it can be read."""
    options = with_lie(folder, options or ReadOptions())
    files = listing(folder)
    open_gate, dark, early = lights(files, options.open_gate)
    light = light_of(open_gate, dark, options.exposure_ratio)
    loaded = loaded_files(files, options, light, open_gate, progress)
    if dark is not None and loaded.blocks and dark.full_scale == loaded.white:
        loaded.blocks.append(noise_blocks(dark, light.dark))
    dense = linear(loaded)
    loaded.findings.extend(said_of_files(loaded))
    if dense:
        lift(loaded)
    film = film_found(loaded, options) if dense else no_film(loaded.frames)
    loaded.findings += mixed(loaded.frames, loaded.sizes, film if dense else None, loaded.lit)
    film = pictures_shown(film, loaded, options.picture_at)
    if dense and not loaded.lit and (gradient := light_by_half_a_turn(folder, loaded.frames)):
        loaded.gradient = gradient
        loaded.findings.append(gradient.said())
    locked = loaded.lit and film.level
    rung = rung_of(dense, film.base is not None, locked)
    reading = _assembled(loaded, film, options, locked, rung.level, progress)
    sharp = sharpened(loaded.noise, rims(files.folder, reading.frames) if dense else ())
    found = (
        *early,
        *([sharp] if sharp else ()),
        *loaded.findings,
        *_of_film(film, loaded),
        *rung.findings,
        *reading.findings,
    )
    return replace(reading, reasons=rung.reasons, findings=found)


def _of_film(film: FilmOfRoll, loaded: Loaded) -> tuple[Finding, ...]:
    """What the film says against itself; two rolls that each show a base of their own do show unexposed film."""
    parted = any(one.id == "two-rolls" and one.found.startswith("base") for one in loaded.findings)
    return tuple(one for one in film.findings if not (parted and one.id == "no-rebate"))


def _assembled(
    loaded: Loaded, film: FilmOfRoll, options: ReadOptions, light_known: bool, rung: int, progress: Progress
) -> RollReading:
    on = laid(loaded, film, options)
    down = loaded.gradient.down if loaded.gradient else None
    gauge = GAUGES.get(options.gauge or "")
    shared = Shared(
        CastField(light_known, down),
        -(-len(loaded.frames) // MOST_FOR_CAST),
        Stack(on.lengths.perf_pitch_mm, gauge.frame_along_mm if gauge else None),
    )
    alone = without_the_lights(with_claims(list(_frames(loaded, film, on, options, shared, progress))))
    stay = [with_staying(one, shared.stack, *on.of(i)) for i, one in enumerate(alone)]
    frames = best_of_roll(each_once(stay, on.lengths.px_per_mm))
    kind = _density_kind(rung, light_known)
    across = film.fall is not None and not film.fall.one_sided
    untold = light_untold(UNTOLD) if loaded.patches and kind == "above base" and not across else ()
    light = loaded.gradient and from_rebate(loaded.gradient, shared.sides)
    if light and shared.sides and not across:
        film = replace(film, fall=light.fall(loaded.frames[0].width, loaded.frames[0].height, UNTOLD))
    footing = footing_of(film, loaded.blocks, loaded.white, light)
    patches = tuple(
        _patch(i, options.patches[i], loaded, film, kind, footing) for i in sorted(loaded.patches)
    )
    return RollReading(
        rung, (), kind, film.base, frames, patches, shared.cast.cast() if rung >= 1 else without_density(), on.lengths,
        pattern_of(frames, on, options), (*on.findings, *shared.stack.said(), *_light_said(shared, film, light_known), *untold),
        footing,
    )  # type: ignore[arg-type]  # fmt: skip


def _frames(
    loaded: Loaded, film: FilmOfRoll, on: Laid, options: ReadOptions, shared: Shared, progress: Progress
) -> Iterator[FrameReading]:
    """Every frame's own reading, two looked into abreast; what they tell together is gathered on the way."""

    def looked_into(one: tuple[int, tuple[Working, FilmOfFrame]]) -> tuple[DensityFrame, Searched]:
        index, (frame, own) = one
        scale = on.lengths.px_per_mm
        dense = density_frame(frame, own, film.levels_of(index), index + 1, scale, film.surface)
        if not options.marks:
            return dense, Searched()
        return dense, searched(in_codes(dense) if loaded.scans[index].coding == "gamma" else dense)

    every_frame = enumerate(zip(loaded.frames, film.frames))
    for index, (dense, seen) in enumerate(abreast(looked_into, every_frame)):
        if film.levels is not None and (index + 1) % shared.every == 0:
            shared.add(dense, loaded.gradient)
        if options.marks:
            shared.stack.add(dense)
        yield _frame_reading(index, dense, seen, loaded, film, on)
        progress("marks", index + 1, len(loaded.frames))


def _frame_reading(
    index: int, dense: DensityFrame, seen: Searched, loaded: Loaded, film: FilmOfRoll, on: Laid
) -> FrameReading:
    scan, lies = loaded.scans[index], on.of(index)
    return FrameReading(
        scan.file,
        dense.picture,
        tuple(placed(mark, dense.picture, *lies) for mark in seen.marks),
        film.frames[index].base,
        loaded.flare(index),
        film.shift(index),
        scan.sha256,
        scan.exposure_s,
        scan.part,
        number=loaded.numbers[index],
        skew=film.frames[index].angle or None,
        perhaps=tuple(placed(place, dense.picture, *lies) for place in seen.perhaps),
    )


def _light_said(shared: Shared, film: FilmOfRoll, light_known: bool) -> tuple[Finding, ...]:
    if not light_known:
        return ()
    holes = [light for sides in shared.bare for light in sides.values()]
    return light_agrees(holes, film.base.density if film.base else None) + light_leans(shared.bare)


def _density_kind(rung: int, light_known: bool) -> DensityKind:
    if rung == 0:
        return "none"
    if light_known:
        return "camera"
    return "above base" if rung >= 2 else "none"


def _patch(
    asked: int, at: PatchAt, loaded: Loaded, film: FilmOfRoll, counts_from: str, footing: Footing
) -> Patch:
    """A patch as the roll has it; without a base and without an open gate it cannot be read."""
    file, seen = loaded.patches[asked]
    index = loaded.index_of(file)
    if index is not None:
        flare, noise = loaded.flare(index), noise_in(footing)
        stands = standing_of(film, index, counts_from, flare, loaded.lit, noise)
        size = loaded.frames[index].width, loaded.frames[index].height
        seen = reckoned(seen, stands, loaded.own_box(index, at.box).centre, size)
    return Patch(at.file, at.box, seen.density, seen.spread, seen.parts, seen.grain)
