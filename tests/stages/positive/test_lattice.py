"""The way through a lattice that is written for the machine, against the colour library and against plain double precision."""

from __future__ import annotations

import numpy as np
import PyOpenColorIO as ocio
import pytest

from wetside.stages.positive import lattice_code
from wetside.stages.positive.fit import fitted_tone
from wetside.stages.positive.lattice import lattice_of
from wetside.stages.positive.path import Through
from wetside.stages.positive.transform import exchange_group, tone_group, trimmed

BASE = (0.2, 0.55, 0.8)


def codes(many: int, seed: int = 8) -> np.ndarray:
    """Every kind of code, and a wedge of all greys, (1, many, 3)."""
    rng = np.random.default_rng(seed)
    found = (10 ** -rng.uniform(0.0, 4.8, (1, many, 3)) * 65535).astype(np.uint16)
    greys = np.arange(65536, step=max(1, 65536 // (many // 2)))[: many // 2]
    found[0, : len(greys)] = greys[:, None]
    return found


@pytest.fixture(scope="module")
def group() -> ocio.GroupTransform:
    above = -np.log10(codes(4000)[0] / 65535 + 1e-5) - np.array(BASE)
    return tone_group(fitted_tone(above), BASE, "sRGB")


@pytest.mark.independent(how="the colour library's own pass")
@pytest.mark.parametrize("trim", [(0.0, 0.0, 0.0), (0.31, -0.2, 0.05)])
def test_it_is_the_colour_librarys_picture_within_a_code(
    group: ocio.GroupTransform, trim: tuple[float, float, float]
) -> None:
    pytest.importorskip("llvmlite")
    values = codes(100_003)
    own, theirs = np.empty_like(values), np.empty_like(values)
    whole = trimmed(group, trim)
    quick = Through(whole, "u16", written=True)
    assert quick.quick is not None
    quick(values, own)
    Through(whole, "u16")(values, theirs)
    assert np.abs(own.astype(int) - theirs).max() <= 1
    assert len(np.unique(own)) > 20_000


@pytest.mark.independent(how="the tetrahedra walked corner by corner in double precision")
def test_a_small_cube_is_gone_through_tetrahedron_by_tetrahedron() -> None:
    pytest.importorskip("llvmlite")
    edge, rng = 5, np.random.default_rng(2)
    cube = ocio.Lut3DTransform(gridSize=edge)
    colours = rng.uniform(0, 1, (edge, edge, edge, 3)).astype(np.float32)
    cube.setData(colours.ravel())
    cube.setInterpolation(ocio.INTERP_TETRAHEDRAL)
    small = ocio.GroupTransform()
    small.appendTransform(cube)
    values = rng.integers(0, 65536, (1, 500, 3)).astype(np.uint16)
    values[0, :8] = np.array([[(i >> k & 1) * 65535 for k in range(3)] for i in range(8)])
    values[0, 8:40, 1] = values[0, 8:40, 0]  # two layers as far along
    own = np.empty_like(values)
    Through(small, "u16", written=True)(values, own)
    for value, got in zip(values[0], own[0]):
        along = value / 65535 * (edge - 1)
        cell = np.minimum(along.astype(int), edge - 2)
        order = np.argsort(cell - along, kind="stable")
        corner, want, left = cell.copy(), colours[tuple(cell)].astype(float), along - cell
        for layer in order:
            before = colours[tuple(corner)].astype(float)
            corner[layer] += 1
            want += left[layer] * (colours[tuple(corner)] - before)
        assert np.abs(want * 65535 - got).max() <= 0.55


def test_any_number_of_pixels_is_made_and_nothing_beyond_them(group: ocio.GroupTransform) -> None:
    pytest.importorskip("llvmlite")
    quick = Through(group, "u16", written=True)
    values = codes(40)
    whole = np.empty_like(values)
    quick(values, whole)
    for many in range(1, 26):
        room = np.full((many + 2, 3), 7, np.uint16)
        quick(np.ascontiguousarray(values[:, :many]), room[None, 1:-1])
        assert (room[1:-1] == whole[0, :many]).all() and (room[[0, -1]] == 7).all()


def test_what_is_no_lattice_goes_by_the_library(group: ocio.GroupTransform) -> None:
    assert lattice_of(exchange_group(BASE, "sRGB")) is None
    assert lattice_of(tone_group(fitted_tone(np.full((9, 3), 0.7)), BASE, "ACEScg")) is None
    mixed = tone_group(fitted_tone(np.full((9, 3), 0.7)), BASE, "sRGB", np.full((3, 3), 0.1) + np.eye(3))
    assert lattice_of(mixed) is None and lattice_of(ocio.GroupTransform()) is None
    assert lattice_of(group) is not None
    assert Through(mixed, "u16", written=True).quick is None
    assert Through(group, "u8", written=True).quick is None


def test_a_machine_that_cannot_write_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(edge: int) -> None:
        raise OSError("memory that may not be run")

    monkeypatch.setattr(lattice_code, "_written", refused)
    assert not lattice_code.machine_writes()
