"""Pictures into a film file: through ffmpeg's standard input, or by OpenCV's own writer."""

from __future__ import annotations

import contextlib
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from wetside.figures.finding import Unusable

if TYPE_CHECKING:
    import cv2
    import numpy as np

Write = Callable[["np.ndarray"], None]


class FilmSlip(Exception):
    """ffmpeg is there and made no film; its own last words."""


def ffmpeg_call(ffmpeg: Path, to: Path, rate: float, size: tuple[int, int]) -> list[str]:
    """The call: raw 8-bit r g b pictures in, H.264 in MP4 out, as any player takes it (4:2:0, BT.709, index in front)."""
    width, height = size
    return [
        str(ffmpeg), "-nostdin", "-hide_banner", "-loglevel", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgb24",
        "-video_size", f"{width}x{height}", "-framerate", f"{rate:g}", "-i", "pipe:0", "-an",
        "-vf", "scale=out_color_matrix=bt709", "-c:v", "libx264", "-preset", "veryfast", "-crf", "20", "-pix_fmt", "yuv420p",
        "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-movflags", "+faststart",
        "-map_metadata", "-1", "-fflags", "+bitexact", "-f", "mp4", str(to),
    ]  # fmt: skip


@contextlib.contextmanager
def ffmpeg_writer(ffmpeg: Path, to: Path, rate: float, size: tuple[int, int]) -> Iterator[Write]:
    """Takes pictures (h, w, 3) uint8 r g b; FilmSlip when ffmpeg ends badly."""
    import tempfile

    with tempfile.TemporaryFile() as words:
        running = subprocess.Popen(
            ffmpeg_call(ffmpeg, to, rate, size),
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=words,
        )
        assert running.stdin is not None
        try:
            with contextlib.suppress(BrokenPipeError):
                yield lambda picture: _put(running, picture)
            with contextlib.suppress(BrokenPipeError):
                running.stdin.close()
            failed = running.wait()
        finally:
            if running.poll() is None:
                running.kill()
                running.wait()
        if failed:
            words.seek(0)
            said = words.read()[-400:].decode(errors="replace").split("\n")
            raise FilmSlip(
                next((line.strip() for line in reversed(said) if line.strip()), f"exit {failed}")[:160]
            )


def _put(running: subprocess.Popen[bytes], picture: np.ndarray) -> None:
    assert running.stdin is not None
    running.stdin.write(picture.tobytes())


def _written(writer: cv2.VideoWriter, picture: np.ndarray) -> None:
    writer.write(picture[..., ::-1].copy())


@contextlib.contextmanager
def opencv_writer(to: Path, rate: float, size: tuple[int, int]) -> Iterator[Write]:
    """Takes pictures (h, w, 3) uint8 r g b, MPEG-4; Unusable when this machine's library cannot write it."""
    import cv2

    writer = cv2.VideoWriter(str(to), cv2.VideoWriter.fourcc(*"mp4v"), rate, size)
    if not writer.isOpened():
        raise Unusable("this machine's video library cannot write MPEG-4", str(to))
    try:
        yield lambda picture: _written(writer, picture)
    finally:
        writer.release()
