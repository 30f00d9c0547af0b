"""What goes along with a printed roll: one page for the colourist, and a small film of a moving roll for looking at."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from wetside.app.recipe import Recipe
from wetside.figures.finding import Unusable
from wetside.figures.progress import Progress, silent
from wetside.store.scans.load import load
from wetside.store.scans.sinks import _beside

LONGEST = 960


def facts(sheet: dict[str, Any]) -> list[tuple[str, str]]:
    """What a colourist wants to know, from `positive.json`, in order."""
    notes = sheet.get("notes") or {}
    even = sheet["consistency"]
    map_ = sheet["map"]
    base = " ".join(f"{sheet['base'][layer]:.3f}" for layer in "rgb")
    trims = sheet["trims"]
    balance = " ".join(f"{value:+.3f}" for value in sheet["balance"])
    film = ", ".join(
        f"{word} {notes[key]:g}" if isinstance(notes[key], float) else f"{word} {notes[key]}"
        for key, word in (("roll", "roll"), ("stock", "stock"), ("process", "process"), ("ei", "EI"))
        if notes.get(key)
    )
    rows = [
        ("Film", film or "not noted"),
        ("Input", sheet["input"]),
        ("Output", sheet["output"]),
        ("Order", sheet["order"]),
        ("Door", f"{sheet['door']}: {sheet['say']}"),
        ("Base r g b", f"{base} D"),
        ("Lights", f"{len(trims)} frames trimmed, balance r g b {balance} D; in the CDLs, 0.301 D a stop"),
        ("Evenness", f"{map_['say']}{'; an additive cast is taken out' if map_['cast'] else ''}"),
        ("Consistency", even["say"]),
    ]
    if map_["label"]:
        rows.insert(8, ("It stays uneven", map_["label"]))
    if sheet.get("negative") == "dpx":
        rows.insert(
            2,
            (
                "10-bit negatives",
                "printing density, code 95 at the base above, 500 codes a density; the CLF takes the 16-bit input",
            ),
        )
    rows.append(("Made by", sheet["versions"]["laws"]))
    return rows


def one_page(sheet: dict[str, Any], recipe: Recipe) -> str:
    """The page as plain text, 88 columns."""
    import textwrap

    lines = ["FOR THE COLOURIST", ""]
    for name, value in facts(sheet):
        lines += textwrap.wrap(value, 88, initial_indent=f"{name:<18}", subsequent_indent=" " * 18)
    lines += [
        "", "To get the picture from an evened negative, in any general colour-management library:",
        "apply STEM.cdl, then positive.clf, to code / 65535. It is the picture within one code.", "",
    ]  # fmt: skip
    if recipe.trims:
        lines += ["Trimmed frames, density added r g b:"]
        shown = list(recipe.trims.items())[:30]
        lines += [f"  {file:<40} " + "  ".join(f"{value:+.3f}" for value in trim) for file, trim in shown]
        more = len(recipe.trims) - len(shown)
        lines += [f"  and {more} more in positive.json"] if more else []
    return "\n".join(lines) + "\n"


def film_pictures(pictures: Sequence[Path], to: Path, rate: float, progress: Progress = silent) -> None:
    """A film (MPEG-4, at most 960 px) of pictures in order, one frame each; for looking at, not for editing.

    pictures    8- or 16-bit display pictures, all of one shape or fitted into the first one's
    rate        frames a second
    """
    width, height = _fitted(_eight(pictures[0]))
    with _beside(to) as beside:
        writer = cv2.VideoWriter(str(beside), cv2.VideoWriter.fourcc(*"mp4v"), rate, (width, height))
        if not writer.isOpened():
            raise Unusable("this machine's video library cannot write MPEG-4", str(to))
        for i, path in enumerate(pictures, 1):
            small = cv2.resize(_eight(path), (width, height), interpolation=cv2.INTER_AREA)
            writer.write(np.ascontiguousarray(small[..., ::-1]))
            progress("film", i, len(pictures))
        writer.release()


def _eight(path: Path) -> np.ndarray:
    scan = load(path)
    found: np.ndarray = (scan.pixels.astype(np.float32) * (255 / scan.full_scale) + 0.5).astype(np.uint8)
    return found


def _fitted(picture: np.ndarray) -> tuple[int, int]:
    """Width and height, even numbers, at most 960."""
    height, width = picture.shape[:2]
    factor = min(1.0, LONGEST / max(height, width))
    return max(2, int(width * factor) // 2 * 2), max(2, int(height * factor) // 2 * 2)
