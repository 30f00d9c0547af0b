"""The net that looks for marks, in multiplications of 8-bit whole numbers: a third of the time that floats take.

Its weights are 7-bit numbers, so that every processor adds the same products without overflow (`benchmarks/net.py`).
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import cache
from importlib.resources import as_file, files
from importlib.util import find_spec

import cv2
import numpy as np

NET = files("wetside.stages.causes.signs") / "marks.onnx"
ERRORS_ONLY = 3  # of the runtime's five grades of message
_own = threading.local()


def answered(planes: np.ndarray) -> np.ndarray:
    """The net's answer (16, h, w) to its planes (24, h, w); h and w divisible by 8."""
    found: np.ndarray = _way()(planes[None])[0]
    return found


@cache
def _way() -> Callable[[np.ndarray], np.ndarray]:
    """By onnxruntime; where no wheel of it was to be had, by the picture library: the same numbers in three times the time."""
    return by_runtime() if find_spec("onnxruntime") else by_picture_library


def by_runtime() -> Callable[[np.ndarray], np.ndarray]:
    """The net of onnxruntime, on one thread; many may call it at once."""
    import onnxruntime

    onnxruntime.disable_telemetry_events()
    how = onnxruntime.SessionOptions()
    how.intra_op_num_threads = how.inter_op_num_threads = 1
    how.log_severity_level = ERRORS_ONLY
    net = onnxruntime.InferenceSession(NET.read_bytes(), how, providers=["CPUExecutionProvider"])
    return lambda planes: net.run(["out"], {"planes": planes})[0]


def by_picture_library(planes: np.ndarray) -> np.ndarray:
    """The same (1, 16, h, w) of planes (1, 24, h, w); each thread has a net of its own."""
    if not hasattr(_own, "net"):
        with as_file(NET) as place:
            # The library's newer engine takes twice as long for the same answer; only by a file's name is it not chosen.
            _own.net = cv2.dnn.readNetFromONNX(str(place), cv2.dnn.ENGINE_CLASSIC)
    _own.net.setInput(planes)
    answer: np.ndarray = _own.net.forward()
    return answer
