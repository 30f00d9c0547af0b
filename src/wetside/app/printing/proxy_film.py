"""A small film of a moving roll, for looking at: by ffmpeg where the machine has one, else by OpenCV's own writer."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from wetside.figures.finding import Finding
from wetside.figures.progress import Progress, silent
from wetside.store.film_writer import FilmSlip, ffmpeg_writer, opencv_writer
from wetside.store.programs import program
from wetside.store.scans.load import load
from wetside.store.scans.sinks import written_whole

LONGEST = 960


def film_pictures(
    pictures: Sequence[Path], to: Path, rate: float, progress: Progress = silent
) -> list[Finding]:
    """A film (at most 960 px) of pictures in order, one frame each: H.264 by ffmpeg, MPEG-4 without; which one is said.

    pictures    8- or 16-bit display pictures, all of one shape or fitted into the first one's
    rate        frames a second
    """
    ffmpeg = program("ffmpeg")
    if ffmpeg is None:
        _film(pictures, to, rate, None, progress)
        say = "ffmpeg is not on this machine: the film is MPEG-4 by the video library that comes with the program"
        return [Finding("film-without-ffmpeg", "note", to.name, say, "ffmpeg on the PATH, for H.264")]
    try:
        _film(pictures, to, rate, ffmpeg, progress)
    except FilmSlip as slip:
        _film(pictures, to, rate, None, progress)
        say = f"ffmpeg made no film ({slip}): it is MPEG-4 by the video library that comes with the program"
        return [Finding("film-without-ffmpeg", "warning", to.name, say)]
    return []


def _film(pictures: Sequence[Path], to: Path, rate: float, ffmpeg: Path | None, progress: Progress) -> None:
    size = _fitted(_eight(pictures[0]))
    with written_whole(to) as beside:
        opened = ffmpeg_writer(ffmpeg, beside, rate, size) if ffmpeg else opencv_writer(beside, rate, size)
        with opened as write:
            for i, path in enumerate(pictures, 1):
                write(np.ascontiguousarray(cv2.resize(_eight(path), size, interpolation=cv2.INTER_AREA)))
                progress("film", i, len(pictures))


def _eight(path: Path) -> np.ndarray:
    scan = load(path)
    found: np.ndarray = (scan.pixels.astype(np.float32) * (255 / scan.full_scale) + 0.5).astype(np.uint8)
    return found


def _fitted(picture: np.ndarray) -> tuple[int, int]:
    """Width and height, even numbers, at most 960."""
    height, width = picture.shape[:2]
    factor = min(1.0, LONGEST / max(height, width))
    return max(2, int(width * factor) // 2 * 2), max(2, int(height * factor) // 2 * 2)
