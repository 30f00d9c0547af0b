"""The way through a lattice written out for the machine at hand, by LLVM: the `quick` extra.

A tenth of a second makes it, once a process; what it does stands in `lattice_text`.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np

from wetside.stages.positive.lattice import Lattice

#: Pixels that one turn of the loop takes.
AT_ONCE = 8


def machine_writes() -> bool:
    """Whether the way can be written out here: the library is there and the machine runs what it writes."""
    try:
        _written(2)
    except (
        Exception
    ):  # no library, an unknown processor, memory that may not be run: the colour library does it
        return False
    return True


class LatticePass:
    """Evened codes to display codes through a lattice, by code written for this machine."""

    def __init__(self, lattice: Lattice) -> None:
        self.lattice = lattice
        self._run, self._kept = _written(lattice.edge)

    def __call__(self, codes: np.ndarray, out: np.ndarray) -> None:
        """Pixels of `codes` (…, 3) uint16 into `out`, of the same shape and kind, both contiguous."""
        many = codes.size // 3
        # A pixel is stored as four values, the next one over its last: the end is made apart, where there is room.
        whole = max(0, many - 1) // AT_ONCE
        self._turns(codes, out, whole)
        rest = many - whole * AT_ONCE
        if rest:
            ends, made = np.zeros((2, 3 * AT_ONCE + 1), np.uint16)
            ends[: 3 * rest] = codes.reshape(-1)[-3 * rest :]
            self._turns(ends, made, 1)
            out.reshape(-1)[-3 * rest :] = made[: 3 * rest]

    def _turns(self, codes: np.ndarray, out: np.ndarray, turns: int) -> None:
        own = self.lattice
        self._run(codes.ctypes.data, own.places.ctypes.data, own.corners.ctypes.data, out.ctypes.data, turns)


@lru_cache(maxsize=4)
def _written(edge: int) -> tuple[Callable[..., None], Any]:
    """The function at its address in memory, and what keeps it there."""
    from llvmlite import binding

    from wetside.stages.positive.lattice_text import NAME, text_of

    binding.initialize_native_target()
    binding.initialize_native_asmprinter()
    machine = binding.Target.from_default_triple().create_target_machine(
        cpu=binding.get_host_cpu_name(), features=binding.get_host_cpu_features().flatten(), opt=3
    )
    module = binding.parse_assembly(text_of(edge, AT_ONCE))
    passes = binding.create_pass_builder(machine, binding.create_pipeline_tuning_options(speed_level=2))
    passes.getModulePassManager().run(module, passes)
    engine = binding.create_mcjit_compiler(module, machine)
    engine.finalize_object()
    place = ctypes.c_void_p
    kind = ctypes.CFUNCTYPE(None, place, place, place, place, ctypes.c_int64)
    return kind(engine.get_function_address(NAME)), engine
