"""Which files of a folder are frames, in natural name order, and which are the light, the dark and the flats."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from wetside.figures.finding import Unusable

RAW = (".dng", ".cr2", ".cr3", ".nef", ".arw", ".raf", ".orf", ".rw2", ".pef", ".srw", ".3fr", ".iiq")
IMAGES = (".tif", ".tiff", ".dpx", ".exr", ".png", ".jpg", ".jpeg", ".jxl", *RAW)


@dataclass(frozen=True)
class FolderListing:
    """The files of one roll's folder."""

    folder: Path
    frames: tuple[Path, ...]
    open_gate: Path | None
    dark: Path | None
    flats: tuple[Path, ...]
    passed_over: tuple[str, ...]


def natural_key(path: Path) -> tuple[tuple[int, int, str], ...]:
    """A sort key in which frame_2 stands before frame_10."""
    parts = re.split(r"(\d+)", path.name.lower())
    return tuple((0, int(part), "") if part.isdigit() else (1, 0, part) for part in parts if part)


def role(path: Path) -> str:
    """ "open gate", "dark", "flat" or "frame", from the file's name."""
    name = path.stem.lower()
    for word, meaning in (("open_gate", "open gate"), ("dark", "dark"), ("flat", "flat")):
        if word in name:
            return meaning
    return "frame"


def listing(folder: Path) -> FolderListing:
    """The frames of a folder, not recursive; Unusable when it is missing or holds no image file."""
    if not folder.exists():
        raise Unusable("no such folder", str(folder))
    if not folder.is_dir():
        raise Unusable("expected a folder of scans, found a file", str(folder))
    files = sorted((path for path in folder.iterdir() if path.is_file()), key=natural_key)
    images = [path for path in files if path.suffix.lower() in IMAGES and not path.name.startswith(".")]
    by_role: dict[str, list[Path]] = {"frame": [], "open gate": [], "dark": [], "flat": []}
    for path in images:
        by_role[role(path)].append(path)
    if not by_role["frame"]:
        raise Unusable(_no_frame(images), str(folder))
    first = {name: (paths[0] if paths else None) for name, paths in by_role.items()}
    others = tuple(path.name for path in files if path not in images)
    return FolderListing(
        folder, tuple(by_role["frame"]), first["open gate"], first["dark"], tuple(by_role["flat"]), others
    )


def _no_frame(images: list[Path]) -> str:
    """Why a folder has no frame, and what would be one."""
    if images:
        return (
            f"no frame: the names of all {len(images)} image files hold open_gate, dark or flat ({images[0].name[:60]}), "
            "which are kept for the light and the dark; expected other names for the pictures"
        )
    return f"no image file that could be a frame; expected one of {', '.join(IMAGES[:8])}, or raw ({', '.join(RAW[:4])} …)"
