"""A cast that the frames of a roll share: its profile over the picture, what anchors it, and of what kind it is.

Pictures differ, a cast does not: the median over frames of density *gradients* keeps the cast and loses the pictures.
Its mean and its tilt are undetermined by pictures alone. Unexposed film gives both: the rebate at its two ends, the gap
between two frames over the whole width. An additive stain shows there; uneven development scales with density, leaves
unexposed film alone, and no additive map can undo it.
A cast is reported only where it is larger than its own bootstrap error.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.density import DensityFrame
from wetside.figures.reading import Cast, ProfilePoint
from wetside.stages.causes.signs.film_across import FilmAcross, film_across
from wetside.stages.causes.signs.gaps import gaps_across
from wetside.stages.causes.signs.uneven import certainty, clear_by, uneven_profile, views_of

ROWS, COLUMNS = 48, 64
PLACE = (np.arange(ROWS) + 0.5) / ROWS - 0.5
FEWEST = 4
BOOTSTRAPS = 200
SMALLEST = 0.012
#: One standard deviation [D] of a light's gradient told by turning a frame: within 0.01 D on twelve planted films.
BY_TURNING = 0.004
#: Share of a stain's tilt that may be left where nothing shows how it bends between the rebates.
UNSEEN = 0.5
OPEN_GATE = "a scan of the light without film, at the same exposure"
GAP = "scans that show the film between two frames: it alone crosses the whole width"
FLATS = "two defocused frames of an even surface at two exposures on the next roll"


@dataclass
class CastField:
    """Collects frames (a 48 × 64 grid each, so memory stays small) and says what cast they share.

    `of_light` (3,) [D]: how much the light's own gradient grew from the file's top to its bottom, where a frame turned half
    round told it and it was taken off these frames. Then a gradient that is left is the film's; what is alike after
    half a turn stays untold.
    """

    light_known: bool
    of_light: np.ndarray | None = None
    grids: list[np.ndarray] = field(default_factory=list)
    sides: list[dict[str, RGB]] = field(default_factory=list)
    spans: list[float] = field(default_factory=list)
    bare: list[dict[str, RGB]] = field(default_factory=list)
    shares: list[float] = field(default_factory=list)
    places: list[dict[str, float]] = field(default_factory=list)
    gaps: list[np.ndarray | None] = field(default_factory=list)

    @property
    def told(self) -> bool:
        """True where a gradient can only be the film's."""
        return self.light_known or self.of_light is not None

    @property
    def gapped(self) -> bool:
        """True where enough frames show the film beside their pictures."""
        return sum(gap is not None for gap in self.gaps) >= FEWEST

    @property
    def taken_off(self) -> str:
        """What a basis adds where the light's gradient was taken off first."""
        return (
            ""
            if self.of_light is None
            else "; the light's gradient, told by a frame turned half round, is taken off"
        )

    def odd(self, profile: np.ndarray) -> np.ndarray:
        """What of a profile (rows, 3) is known not to be the light's."""
        return profile if self.light_known or self.of_light is None else (profile - profile[::-1]) / 2

    def add(self, frame: DensityFrame) -> None:
        """Take one frame's picture, relative to its base where that is known."""
        grid = picture_grid(frame)
        if grid is not None:
            self.grids.append(grid)
            self.sides.append(dict(frame.sides))
            self.places.append(dict(frame.places))
            self.gaps.append(gaps_across(frame, ROWS))
            self.spans.append(frame.places.get("bottom", 1.0) - frame.places.get("top", 0.0))
            self.bare.append(dict(frame.bare))
            self.shares.append(frame.picture.h / frame.shrink / frame.density.shape[0])

    def cast(self) -> Cast:
        """The roll's cast; found is False, with what would help, where none stands out of its error."""
        if len(self.grids) < FEWEST:
            return _nothing(
                f"{len(self.grids)} frames; at least {FEWEST} are needed", "more frames of the same roll"
            )
        return _judged(self)


def picture_grid(frame: DensityFrame) -> np.ndarray | None:
    """Density above base of the picture, its rim left out, on a 48 × 64 grid; None for a picture too small."""
    x, y, w, h = (v / frame.shrink for v in frame.picture)
    rim = 0.015 * min(w, h) + 1
    top, bottom, left, right = int(y + rim), int(y + h - rim), int(x + rim), int(x + w - rim)
    picture = frame.density[max(0, top) : bottom, max(0, left) : right]
    if min(picture.shape[:2]) < 16:
        return None
    small = cv2.resize(picture, (COLUMNS, ROWS), interpolation=cv2.INTER_AREA)
    return small - np.asarray(frame.base or (0, 0, 0), np.float32)


def profile_across(grids: np.ndarray) -> np.ndarray:
    """Profile (ROWS, 3) [D] shared by grids (frames, ROWS, COLUMNS, 3): medians of gradients, summed; mean 0."""
    steps = np.diff(grids, axis=1)
    shared = np.median(steps.transpose(1, 0, 2, 3).reshape(ROWS - 1, -1, 3), axis=1)
    profile = np.vstack([np.zeros(3), np.cumsum(shared, axis=0)])
    return profile - profile.mean(axis=0)


def _judged(cast: CastField) -> Cast:
    grids = np.stack(cast.grids)
    rng = np.random.default_rng(len(grids))
    profile = profile_across(grids)
    draws = np.stack([
        profile_across(grids[rng.integers(0, len(grids), len(grids))][:, :, ::3]) for _ in range(BOOTSTRAPS)
    ])  # fmt: skip
    error = draws.std(axis=0)
    film = film_across(cast.gaps, cast.sides, cast.places, FEWEST)
    if film is not None and cast.told:
        return _by_film(cast, grids, film, draws)
    tilt = _rebate_tilt(cast)
    if tilt is None:
        found = _unanchored(cast, profile, error, clear_by(views_of(grids)))
    else:
        found = _anchored(cast, grids, profile, error, *tilt)
    return found if film is None else _light_and_stain(found, film)


def _light_and_stain(cast: Cast, film: FilmAcross) -> Cast:
    """A cast without an open gate: what the gaps show besides is light and stain as one, so it is said and not claimed."""
    if cast.found and cast.kind != "light":
        return cast
    claimed = np.zeros((ROWS, 3))
    if cast.profile:
        places = [point.across for point in cast.profile]
        claimed = np.stack([np.interp(PLACE + 0.5, places, layer) for layer in zip(*(p.density for p in cast.profile))], axis=1)  # fmt: skip
    besides = np.ptp(film.profile - claimed, axis=0)
    if not (besides > np.maximum(3 * film.error, SMALLEST)).any():
        return cast
    more = " more" if cast.found else ""
    basis = f"{cast.basis}; {film.where} vary by up to {besides.max():.3f} D{more} across the width, light and stain as one"
    remains = None if cast.remains is None else max(cast.remains, float(besides.max()))
    return replace(cast, basis=basis, remains=remains, would_help=OPEN_GATE)


def _rebate_tilt(cast: CastField) -> tuple[np.ndarray, np.ndarray] | None:
    """Rebate density at the bottom minus the top, for one picture height, median over frames, with that median's error."""
    both = [
        (side["top"], side["bottom"], span)
        for side, span in zip(cast.sides, cast.spans)
        if "top" in side and "bottom" in side
    ]
    if len(both) < FEWEST:
        return None
    steps = np.array([np.subtract(bottom, top) / max(span, 0.5) for top, bottom, span in both])
    error = (
        1.2533 * 1.4826 * np.median(np.abs(steps - np.median(steps, axis=0)), axis=0) / np.sqrt(len(steps))
    )
    error = np.maximum(error, 0.001)
    return np.median(steps, axis=0), error if cast.of_light is None else np.hypot(error, BY_TURNING)


def _by_film(cast: CastField, grids: np.ndarray, film: FilmAcross, draws: np.ndarray) -> Cast:
    """The cast where gaps between frames show the film across its whole width; draws (n, ROWS, 3) of the pictures' profile."""
    field_ = cast.odd(film.profile)
    error = film.error if cast.of_light is None else np.hypot(film.error, BY_TURNING)
    size = np.ptp(field_, axis=0)
    if not (size > np.maximum(3 * error, SMALLEST)).any():
        return _even_film(cast, grids, error, f"{film.where} are even across the width")
    share, doubt, bound = share_in_pictures(field_, grids, draws)
    if share < 0.5 and 1 - share > bound:
        return _nothing(
            f"{film.where} vary by up to {size.max():.3f} D across the width, and the pictures hold {share:.1f} ± {doubt:.1f} of that: "
            "light that reached the unexposed film alone, not a cast of the pictures", "")  # fmt: skip
    besides = _grown_besides(grids - field_[None, :, None, :])
    remains = float(max(0.003, error.max(), besides))
    told = share > 0.5 and share > bound
    basis = f"{film.where}; {'the pictures hold it too' if told else 'the pictures alone cannot tell'}{cast.taken_off}"
    if besides:
        basis += f"; besides, the pictures grow uneven with density by up to {besides:.2f} D, and that stays"
    return _found("additive", field_, error, basis, remains, "rebate", "" if cast.light_known else OPEN_GATE)


def _grown_besides(grids: np.ndarray) -> float:
    """How far [D] in the mid-tones pictures that are rid of their additive cast are still uneven; 0 where they are even."""
    grown, _ = uneven_profile(grids)
    if grown is None:
        return 0.0
    return float(np.abs(grown - grown.mean(axis=0)).max() * np.median(grids.mean(axis=(1, 2))))


def share_in_pictures(field_: np.ndarray, grids: np.ndarray, draws: np.ndarray) -> tuple[float, float, float]:
    """What share of a profile (ROWS, 3) the pictures' shared gradients hold, its error, and from where on they contradict it."""
    wanted, steps, drawn = (
        np.diff(field_, axis=0),
        np.diff(profile_across(grids), axis=0),
        np.diff(draws, axis=1),
    )
    weighed = wanted * certainty(drawn.mean(axis=2))[:, None]
    power = float((weighed * wanted).sum())
    views = views_of(grids)
    doubt = float(np.tensordot(drawn, weighed, 2).std()) / power * float(np.sqrt(len(grids) / views))
    return float((weighed * steps).sum()) / power, doubt, clear_by(views) * doubt


def _anchored(
    cast: CastField,
    grids: np.ndarray,
    profile: np.ndarray,
    error: np.ndarray,
    tilt: np.ndarray,
    tilt_error: np.ndarray,
) -> Cast:
    """The cast where the rebate shows the film's two ends; what lies between them is the pictures' to tell."""
    if not (np.abs(tilt) > np.maximum(3 * tilt_error, SMALLEST)).any():
        return _even_film(
            cast, grids, tilt_error, "the rebate is even at both edges", "" if cast.gapped else GAP
        )
    bent = profile - np.outer(PLACE, profile[-1] - profile[0])
    bent = cast.odd(bent)
    bend = np.where(np.abs(bent).max(axis=0) > clear_by(views_of(grids)) * error.max(axis=0), bent, 0.0)
    field_ = np.outer(PLACE, tilt) + bend - bend.mean(axis=0)
    spread = np.maximum(tilt_error / 2, np.where(bend.any(axis=0), error.max(axis=0), 0.0))
    kind, parted = ("additive", True) if cast.told else _light_or_stain(cast, tilt)
    # How far it bends between the rebates no one saw: a stain that ends just within an edge leaves half of its tilt.
    remains = float(max(0.003, spread.max(), 0.0 if bend.any() else UNSEEN * np.abs(tilt).max()))
    basis = (
        "rebate at both edges"
        + (" and the pictures' shared gradients" if bend.any() else "")
        + cast.taken_off
    )
    help_ = OPEN_GATE if not cast.light_known else "" if bend.any() else GAP
    return replace(_found(kind, field_, spread, basis, remains, "rebate", help_), parted=parted)


def _even_film(
    cast: CastField, grids: np.ndarray, error: np.ndarray, basis: str, would_help: str = ""
) -> Cast:
    """The cast of film that adds nothing: development that differs, a light that was told, or none."""
    grown, ratio_error = uneven_profile(grids)
    if grown is not None:
        level = float(np.median(grids.mean(axis=(1, 2))))
        field_ = grown * level
        return _found("with density", field_ - field_.mean(axis=0), ratio_error * level,
                      f"grows with density in the pictures; {basis}",
                      float(np.abs(field_ - field_.mean(axis=0)).max()), "pictures", FLATS)  # fmt: skip
    if cast.of_light is not None and np.abs(cast.of_light).max() > SMALLEST:
        return _of_light(cast.of_light * float(np.median(cast.shares)), error)
    return _nothing(f"{basis}, and the pictures share no gradient larger than its error", would_help)


def _of_light(step: np.ndarray, error: np.ndarray) -> Cast:
    """A cast that stays with the scanner when the film is turned: the film beneath it is even."""
    basis = "a frame turned half round: the gradient stays in place, so it is the light's; the film beneath it is even"
    spread = np.hypot(error, BY_TURNING) / 2
    return _found("light", np.outer(PLACE, step), spread, basis, float(spread.max()), "rebate", OPEN_GATE)


def _light_or_stain(cast: CastField, tilt: np.ndarray) -> tuple[str, bool]:
    """Without an open gate the tilt is the light's unless bare light at both edges shows that it is not; and whether it showed."""
    both = [(side["top"], side["bottom"]) for side in cast.bare if "top" in side and "bottom" in side]
    if len(both) < FEWEST:
        return "light", False
    bare = np.median([np.subtract(bottom, top) for top, bottom in both], axis=0)
    return ("additive" if np.abs(tilt - bare).max() > 0.5 * np.abs(tilt).max() else "light"), True


def _unanchored(cast: CastField, profile: np.ndarray, error: np.ndarray, clear: float) -> Cast:
    profile = cast.odd(profile)
    depth = np.abs(profile).max(axis=0)
    if not ((depth > clear * error.max(axis=0)) & (depth > 2 * SMALLEST)).any():
        return _nothing(
            "no rebate at both edges, and the pictures share no gradient larger than its error", FLATS
        )
    kind = "additive" if cast.told else "light"
    basis = "gradients that the pictures share; no rebate anchors them" + cast.taken_off
    found = _found(kind, profile, error.max(axis=0), basis,
                   float(error.max() + 0.012), "pictures", "scans that show the rebate at both edges")  # fmt: skip
    return replace(found, parted=cast.told)


def _found(
    kind: str,
    field_: np.ndarray,
    spread: np.ndarray,
    basis: str,
    remains: float,
    anchor: str,
    would_help: str,
) -> Cast:
    centred = field_ - field_.mean(axis=0)
    peak = centred[np.abs(centred).argmax(axis=0), np.arange(3)]
    points = tuple(
        ProfilePoint((i + 0.5) / ROWS, rgb(centred[i])) for i in (*range(0, ROWS, 3), ROWS - 1)
    )  # fmt: skip
    return Cast(True, kind, rgb(peak), rgb(spread), basis, remains, would_help, anchor, points)  # type: ignore[arg-type]


def _nothing(basis: str, would_help: str) -> Cast:
    return Cast(False, None, None, None, basis, None, would_help)


def without_density() -> Cast:
    """What is said of files that carry no density."""
    return _nothing("gamma-coded files carry no density", "linear 16-bit scans with the rebate in view")
