"""What is wrong with a roll's scans, as far as the film in them tells: one finding a fault."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wetside.figures.finding import Finding
from wetside.figures.flags import Left
from wetside.stages.negative.found.shown import FilmOfFrame
from wetside.stages.negative.scanner.working import Working

LOCKED = 0.02
CLIPPED_SHARE = 0.03


def no_base(frames: Sequence[Working]) -> tuple[Finding, ...]:
    missing = Finding(
        "no-rebate", "warning", "roll", "no unexposed film is seen in these scans, so no density above base can be read",
        "an even, orange strip of rebate shared by most frames", f"none in {len(frames)} frames",
        "scan again with the rebate in the frame",
    )  # fmt: skip
    share = float(np.median([(frame.mask & int(Left.CLIPPED) > 0).mean() for frame in frames]))
    if share < CLIPPED_SHARE:
        return (missing,)
    clipped = Finding(
        "base-clipped", "warning", "roll", "much of every frame is clipped to white: the thinnest film may be among it",
        f"under {100 * CLIPPED_SHARE:.0f} % of a frame at full scale", f"{100 * share:.0f} %",
        "scan again with less exposure: the rebate at three quarters of full scale",
    )  # fmt: skip
    return missing, clipped


def turned(frames: Sequence[Working], films: Sequence[FilmOfFrame]) -> tuple[Finding, ...]:
    """Frames whose perforations lie at the other edge than most frames': turned, or mirrored top to bottom."""
    edges = [film.holes.edge for film in films if film.holes is not None and film.holes.edge != "both"]
    if len(edges) < 3 or len(set(edges)) == 1:
        return ()
    usual = max(set(edges), key=edges.count)
    return tuple(
        Finding(
            "turned", "warning", frame.file, "its perforations lie at the other edge than the roll's: turned or upside down",
            f"perforations at the {usual}", f"at the {film.holes.edge}", "scan this strip again the same way round",
        )
        for frame, film in zip(frames, films)
        if film.holes is not None and film.holes.edge not in ("both", usual)
    )  # fmt: skip


def lies_otherwise(
    edge: str | None, told: str | None, head: str, one_sided: bool, frames: int
) -> tuple[Finding, ...]:
    """A roll whose perforations lie at the other edge than it is read with; only film perforated on one side can tell."""
    if not one_sided or {edge, told} != {"top", "bottom"}:
        return ()
    return (
        Finding(
            "roll-turned", "warning", "roll",
            f"the perforations lie at the {edge}, and the roll is read as if they lay at the {told}: scanned half round or emulsion down, so that places and order along the film run the wrong way",
            f"perforations at the {told}", f"at the {edge} in most of {frames} frames",
            f"give --perf {edge} --head {head}, and --mirrored where writing on the film reads backwards, or note it on the glass",
        ),
    )  # fmt: skip


def not_locked(frames: Sequence[Working], shifts: np.ndarray) -> tuple[Finding, ...]:
    """One finding a frame whose scan's exposure lies away from the roll's."""
    return tuple(
        Finding(
            "exposure-not-locked", "warning", frame.file, "the scan's exposure differs from the roll's",
            f"base within {LOCKED} D of the roll's", f"{shift:+.2f} D in all layers", "lock the scanner's exposure and scan again",
        )
        for frame, shift in zip(frames, shifts)
        if abs(shift) > LOCKED
    )  # fmt: skip


def drift(frames: Sequence[Working], films: Sequence[FilmOfFrame], light_known: bool) -> tuple[Finding, ...]:
    """Frames whose base lies away from the roll's: another exposure of the scan, or another roll."""
    seen = [(frame.file, np.array(film.base)) for frame, film in zip(frames, films) if film.base is not None]
    if len(seen) < 3:
        return ()
    middle = np.median([base for _, base in seen], axis=0)
    found = []
    for file, base in seen:
        away = base - middle
        if np.abs(away).max() < LOCKED:
            continue
        even = np.ptp(away) < LOCKED
        found.append(
            Finding(
                "exposure-not-locked" if even else "base-differs", "warning", file,
                "the scan's exposure differs from the roll's" if even else "its base has another colour than the roll's: another roll, or another light",
                f"base within {LOCKED} D of the roll's", f"{away[0]:+.3f} {away[1]:+.3f} {away[2]:+.3f} D",
                "lock the scanner's exposure and scan again" if even else "scan one roll into one folder",
            )
        )  # fmt: skip
    return tuple(found)


def skewed(frames: Sequence[Working], angles: Sequence[float | None]) -> tuple[Finding, ...]:
    """One finding for the frames that lie turned in their scans."""
    turned_by = [(frame.file, angle) for frame, angle in zip(frames, angles) if angle is not None]
    if not turned_by:
        return ()
    file, most = max(turned_by, key=lambda pair: abs(pair[1]))
    where = file if len(turned_by) == 1 else f"{len(turned_by)} frames"
    return (
        Finding(
            "skewed", "note", where, "the picture lies turned in its scan; its rectangle is given upright, about its middle",
            "edges along the file's", f"up to {abs(most):.1f}° {'clockwise' if most > 0 else 'anticlockwise'}",
        ),
    )  # fmt: skip


def pictures_supposed(files: Sequence[str]) -> tuple[Finding, ...]:
    """One finding for the frames whose edges are not seen in themselves."""
    if not files:
        return ()
    where = files[0] if len(files) == 1 else f"{len(files)} frames"
    return (
        Finding(
            "picture-supposed", "note", where, "the picture's edges are not seen: its rectangle has the roll's size, where the roll's frames lie as a rule",
            "two edges of the picture denser than the base", ", ".join(files[:6]) + (" …" if len(files) > 6 else ""),
            "show the picture by hand on the glass",
        ),
    )  # fmt: skip
