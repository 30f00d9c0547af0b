"""The one colour transform of a roll, as an OpenColorIO group: evened negative in, picture out.

    transmittance → density above base → log exposure → ACEScct (one table) → display (ACES output, baked at 65³) or linear ACES

With a calibration a matrix stands in density, between a table to density above base and one from there to ACEScct.

The same group makes the picture and is written as `positive.clf`, so any room with a general colour-management library
gets the same picture from the evened negative. The input is transmittance 0–1 (16-bit: code / 65535).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import PyOpenColorIO as ocio

from wetside.stages.positive.fit import POINTS, TOP, ToneFit

SPACES = ("sRGB", "ACES2065-1", "ACEScg")
CLF = "Academy/ASC Common LUT Format"
EDGE = 65
CCT_TOP = 1.468
#: Where the display table ends: 223 times a perfect white, white on the display long before. Up to `CCT_TOP` a third of its
#: points would lie where no picture does.
DISPLAY_TOP = 1.0
CODES = 65536
FLOOR = 1e-5
OUTPUT = "ACES-OUTPUT - ACES2065-1_to_CIE-XYZ-D65 - SDR-100nit-REC709_2.0"


def acescct(linear: np.ndarray) -> np.ndarray:
    """ACEScct code of linear AP1 values (S-2016-001)."""
    value = np.asarray(linear, float)
    return np.where(value <= 0.0078125, 10.5402377416545 * value + 0.0729055341958355,
                    (np.log2(np.maximum(value, 1e-10)) + 9.72) / 17.52)  # fmt: skip


def tone_group(
    tone: ToneFit, base: tuple[float, float, float], space: str, matrix: np.ndarray | None = None
) -> ocio.GroupTransform:
    """The group for a roll: base and tables fixed, output in a named space.

    matrix      (3, 3) that takes camera density above base to the densities that the tone is of, or None
    """
    codes = np.clip(acescct(np.power(10.0, np.clip(tone.table, -6, 2.1))), 0, CCT_TOP)
    group = ocio.GroupTransform()
    if matrix is None:
        above = np.clip(_above(base) / TOP, 0, 1) * (POINTS - 1)
        codes = np.stack([np.interp(above[:, i], np.arange(POINTS), codes[:, i]) for i in range(3)], axis=1)
    else:
        _append_table(group, _above(base))
        group.appendTransform(_matrix(matrix / TOP))
    _append_table(group, codes)
    append_output(group, space)
    return group


def exchange_group(
    base: tuple[float, float, float], space: str, matrix: np.ndarray | None = None
) -> ocio.GroupTransform:
    """The group of the density exchange door: densities above base as ADX10, then the Academy's own transform. `matrix` as in `tone_group`."""
    group = ocio.GroupTransform()
    if matrix is None:
        _append_table(group, (500 * _above(base) + 95) / 1023)
    else:
        _append_table(group, _above(base))
        group.appendTransform(_matrix(matrix * (500 / 1023), 95 / 1023))
    group.appendTransform(ocio.BuiltinTransform("ADX10_to_ACES2065-1"))
    if space != "ACES2065-1":
        group.appendTransform(ocio.BuiltinTransform("ACEScct_to_ACES2065-1", ocio.TRANSFORM_DIR_INVERSE))
        append_output(group, space)
    return group


def _above(base: tuple[float, float, float]) -> np.ndarray:
    """Densities above base (65536, 3) [D] of every 16-bit code of transmittance."""
    density = -np.log10(np.maximum(np.arange(CODES) / (CODES - 1), FLOOR))
    return density[:, None] - np.array(base)


def _append_table(group: ocio.GroupTransform, values: np.ndarray) -> None:
    """A table (n, 3) over 0 … 1: one entry a 16-bit code, or a tone's own points. A logarithm in the group would be computed
    by the library's quick approximation, which the steep toe turns into five codes of 65535; a table is the same everywhere."""
    table = ocio.Lut1DTransform(length=len(values), inputHalfDomain=False)
    table.setData(values.astype(np.float32).ravel())
    table.setInterpolation(ocio.INTERP_LINEAR)
    group.appendTransform(table)


def _matrix(matrix: np.ndarray, offset: float = 0.0) -> ocio.MatrixTransform:
    """A matrix (3, 3) with one offset for all layers."""
    whole = np.eye(4)
    whole[:3, :3] = matrix
    return ocio.MatrixTransform(matrix=whole.ravel().tolist(), offset=[offset, offset, offset, 0.0])


def append_output(group: ocio.GroupTransform, space: str) -> None:
    """Append what leads from ACEScct to a named space."""
    if space == "sRGB":
        group.appendTransform(
            ocio.RangeTransform(minInValue=0, maxInValue=DISPLAY_TOP, minOutValue=0, maxOutValue=1)
        )
        table = ocio.Lut3DTransform(gridSize=EDGE)
        table.setData(display_table())
        table.setInterpolation(ocio.INTERP_TETRAHEDRAL)
        group.appendTransform(table)
        return
    group.appendTransform(ocio.BuiltinTransform("ACEScct_to_ACES2065-1"))
    if space == "ACEScg":
        group.appendTransform(ocio.BuiltinTransform("ACEScg_to_ACES2065-1", ocio.TRANSFORM_DIR_INVERSE))


@lru_cache(maxsize=1)
def display_table() -> np.ndarray:
    """The ACES output transform to sRGB over ACEScct 0 … DISPLAY_TOP, flat float32 in OpenColorIO's order (blue fastest)."""
    chain = ocio.GroupTransform()
    chain.appendTransform(ocio.BuiltinTransform("ACEScct_to_ACES2065-1"))
    chain.appendTransform(ocio.BuiltinTransform(OUTPUT))
    chain.appendTransform(ocio.BuiltinTransform("DISPLAY - CIE-XYZ-D65_to_sRGB"))
    steps = np.linspace(0, DISPLAY_TOP, EDGE, dtype=np.float32)
    r, g, b = np.meshgrid(steps, steps, steps, indexing="ij")
    grid = np.ascontiguousarray(np.stack([r, g, b], axis=-1).reshape(-1, 3))
    processor_of(chain).applyRGB(grid)
    return np.clip(grid, 0, 1).ravel()


@lru_cache(maxsize=1)
def _config() -> ocio.Config:
    return ocio.Config.CreateRaw()


def processor_of(group: ocio.GroupTransform) -> ocio.CPUProcessor:
    """A processor float32 → float32 for a group."""
    return (
        _config()
        .getProcessor(group)
        .getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_VERY_GOOD)
    )


def clf_text(group: ocio.GroupTransform) -> str:
    """The group as Common LUT Format."""
    return str(group.write(CLF, _config()))


def cdl_text(name: str, slope: tuple[float, float, float] = (1.0, 1.0, 1.0)) -> str:
    """A CDL for one frame: slopes on transmittance, which are printer-light trims in density (−log10 slope)."""
    values = " ".join(f"{v:.6f}" for v in slope)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<ColorDecisionList xmlns="urn:ASC:CDL:v1.2">\n  <ColorDecision>\n'
        f'    <ColorCorrection id="{_escaped(name)}">\n      <SOPNode><Slope>{values}</Slope><Offset>0 0 0</Offset>'
        "<Power>1 1 1</Power></SOPNode>\n      <SatNode><Saturation>1</Saturation></SatNode>\n"
        "    </ColorCorrection>\n  </ColorDecision>\n</ColorDecisionList>\n"
    )


def _escaped(name: str) -> str:
    return name.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")


def slope_of(trim: tuple[float, float, float]) -> tuple[float, float, float]:
    """Slopes on transmittance of densities added to a negative r g b [D]: 10^−D."""
    r, g, b = (10.0**-value for value in trim)
    return (r, g, b)


def trimmed(
    group: ocio.GroupTransform, trim: tuple[float, float, float], adx10: bool = False
) -> ocio.GroupTransform:
    """A roll's group with a frame's trim [D] before it and, when asked, ADX10 codes after it (OpenColorIO's own)."""
    whole = ocio.GroupTransform()
    if any(trim):
        r, g, b = slope_of(trim)
        whole.appendTransform(ocio.MatrixTransform(matrix=[r, 0, 0, 0, 0, g, 0, 0, 0, 0, b, 0, 0, 0, 0, 1]))
    for step in group:
        whole.appendTransform(step)
    if adx10:
        whole.appendTransform(ocio.BuiltinTransform("ADX10_to_ACES2065-1", ocio.TRANSFORM_DIR_INVERSE))
    return whole
