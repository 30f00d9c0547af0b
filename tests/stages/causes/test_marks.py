"""Marks planted in photographs and in plain grounds, where the truth is known to the pixel."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from benchmarks import plainly
from benchmarks.known_shape import answer, at_place, centred, ground_of
from benchmarks.marks import study

from wetside.figures.channels import rgb
from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.figures.place import Rectangle, intersection_over_union
from wetside.laws.image.layers import half_size
from wetside.stages.causes.signs import net
from wetside.stages.causes.signs.bare import bare_patches
from wetside.stages.causes.signs.candidates import Candidate, Signs, worth
from wetside.stages.causes.signs.chance import chance_of_marks, in_cells, layers_apart, net_input
from wetside.stages.causes.signs.marks import marks_in_frame
from wetside.stages.causes.signs.outline import Agreement, Step

HEIGHT, WIDTH = 480, 640


def ground(grain: float = 0.004) -> np.ndarray:
    """A plain sky: a slow change of density, and grain."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    plain = np.array([0.6, 1.0, 1.3], np.float32) + (0.15 * x / WIDTH - 0.1 * y / HEIGHT)[..., None]
    return plain + np.random.default_rng(3).normal(0, grain, plain.shape).astype(np.float32)


def disc(density: np.ndarray, delta: tuple[float, float, float], edge: float) -> np.ndarray:
    """A disc of radius 24 at (300, 200), its edge softened."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    weight = np.clip((24 - np.hypot(x - 300, y - 200)) / edge + 0.5, 0, 1)
    return density + weight[..., None] * np.array(delta, np.float32)


def framed(density: np.ndarray, mask: np.ndarray | None = None) -> DensityFrame:
    if mask is None:
        mask = np.zeros(density.shape[:2], np.uint16)
    whole = Rectangle(0, 0, density.shape[1], density.shape[0])
    return DensityFrame("n1.tif", 1, density, mask, whole, 1.0, rgb(np.array([0.2, 0.5, 0.8])), 20.0)


@pytest.mark.independent("planted truth: a disc of known place and density")
@pytest.mark.parametrize("delta", [(0.15, 0.15, 0.15), (0.12, 0, 0), (0, 0, -0.12), (-0.15, -0.12, -0.15)])
def test_a_disc_on_a_plain_ground_is_found_where_it_lies(delta: tuple[float, float, float]) -> None:
    marks = marks_in_frame(framed(disc(ground(), delta, 1.5)))
    assert len(marks) == 1
    mark = marks[0]
    assert intersection_over_union(mark.box, Rectangle(276, 176, 48, 48)) > 0.75
    assert np.abs(np.array(mark.delta) - delta).max() < 0.02
    assert mark.spread is not None and max(mark.spread) < 0.03


@pytest.mark.independent("planted truth: nothing planted")
@pytest.mark.parametrize("grain", [0.001, 0.004, 0.010])
def test_a_plain_ground_holds_no_marks(grain: float) -> None:
    assert marks_in_frame(framed(ground(grain))) == ()


@pytest.mark.independent("planted truth: edges 1.5 and 20 pixels wide, at three places of the pixels' grid")
def test_an_edge_is_told_sharp_from_soft() -> None:
    def edges(width: float) -> list[str]:
        drawn = disc(ground(0.002), (0.2, 0, 0), width)
        return [marks_in_frame(framed(np.roll(drawn, by, (0, 1))))[0].edge for by in ((0, 0), (1, 1), (3, 2))]

    assert edges(1.5).count("sharp") >= 2 and edges(20.0) == ["soft"] * 3


@pytest.mark.independent("planted truth: the mark's pixels are masked")
def test_nothing_is_claimed_on_masked_pixels() -> None:
    mask = np.zeros((HEIGHT, WIDTH), np.uint16)
    mask[160:240, 260:340] = int(Left.OUTSIDE_FILM)
    assert marks_in_frame(framed(disc(ground(), (0.15, 0.15, 0.15), 1.5), mask)) == ()


@pytest.mark.independent(
    "planted truth: photographs and a threshold that the fit never saw (benchmarks/marks.py)"
)
def test_in_photographs_most_of_what_is_claimed_is_a_mark() -> None:
    counts = study(20, 7)
    assert counts["recall"][0] > 0.3 * counts["recall"][1]
    assert counts["precision"][0] > 0.7 * counts["precision"][1]


@pytest.mark.independent("least squares of numpy over one window")
def test_a_layer_apart_is_what_its_local_fit_leaves() -> None:
    rng = np.random.default_rng(1)
    density = rng.normal(1, 0.3, (26, 26, 3)).astype(np.float32)
    others = np.stack([np.ones(676), density[..., 1].ravel(), density[..., 2].ravel()], axis=1)
    fit, *_ = np.linalg.lstsq(others, density[..., 0].ravel(), rcond=None)
    left = (density[..., 0] - (others @ fit).reshape(26, 26))[12:14, 12:14]
    assert layers_apart(in_cells(density))[:, :, 0, 6, 6] == pytest.approx(left, abs=1e-3)


@pytest.mark.independent("layers in a fixed ratio leave nothing")
def test_a_picture_whose_layers_go_together_leaves_nothing_apart() -> None:
    grey = cv2.GaussianBlur(np.random.default_rng(2).normal(1, 1, (80, 80)).astype(np.float32), (0, 0), 2)
    apart = layers_apart(in_cells(np.stack([grey, 0.8 * grey, 0.9 * grey + 0.1], axis=2)))
    assert np.abs(apart).max() < 0.003


def marked(tall: int, wide: int) -> np.ndarray:
    """Density of soft clouds with grain and one patch in all layers."""
    rng = np.random.default_rng(11)
    soft = cv2.GaussianBlur(rng.normal(0, 4, (tall, wide, 3)).astype(np.float32), (0, 0), 5)
    density = (1 + soft + rng.normal(0, 0.01, soft.shape)).astype(np.float32)
    density[tall // 3 : tall // 2, wide // 3 : wide // 2] += np.array([0.1, 0.3, 0.05], np.float32)
    return density


@pytest.mark.independent("scipy: box means, numpy's solver at every pixel, in double precision")
def test_what_the_net_is_shown_is_what_plain_arithmetic_gives() -> None:
    half = marked(96, 128)
    assert net_input(half) == pytest.approx(plainly.shown_to_the_net(half.astype(float)), abs=2e-3)


@pytest.mark.independent("scipy: convolution by convolution of the fitted weights, in double precision")
def test_the_nets_answer_in_whole_numbers_is_near_that_of_plain_convolutions() -> None:
    density = marked(90, 118)
    plain, own = plainly.chance(density), chance_of_marks(half_size(density))
    assert np.ptp(own.odds) > 3  # it does not answer all alike
    assert np.abs(plain[0] - own.odds).mean() < 0.1 and np.abs(plain[0] - own.odds).max() < 1
    assert np.abs(plain[1] - own.added()).mean() < 0.001


@pytest.mark.independent("one library's arithmetic against another's")
def test_the_net_answers_alike_by_either_library() -> None:
    pytest.importorskip("onnxruntime")
    planes = net_input(marked(64, 96))[None]
    assert net.by_runtime()(planes) == pytest.approx(net.by_picture_library(planes), abs=0.05)


@pytest.mark.independent("shapes by their definition")
def test_the_net_answers_for_every_half_size_pixel() -> None:
    density = ground()[:331, :457]
    chance = chance_of_marks(half_size(density))
    assert net_input(np.zeros((32, 64, 3), np.float32)).shape == (24, 16, 32)
    assert chance.odds.shape == (165, 228) and chance.added().shape == (165, 228, 3)
    assert np.isfinite(chance.odds).all()
    for box in (Rectangle(7, 4, 12, 9), Rectangle(200, 150, 28, 15)):
        assert (chance.added(box) == chance.added()[box.slices]).all()


def with_signs(signs: np.ndarray, x: int = 0) -> Candidate:
    """A candidate of given signs, alone at its place."""
    step = Step(np.zeros(3), np.zeros(3), "sharp", Agreement())
    return Candidate(Rectangle(x, 0, 8, 8), np.ones((8, 8), bool), step, Signs(*signs.tolist()), 0.5)


@pytest.mark.independent("a chance by its definition")
def test_worth_is_a_chance() -> None:
    drawn = np.random.default_rng(0).normal(0, 5, (50, len(Signs._fields)))
    values = worth([with_signs(signs) for signs in drawn])
    assert values.shape == (50,) and (values >= 0).all() and (values <= 1).all()


def candidate(value: float, x: int) -> Candidate:
    """A candidate of a given worth, alone at its place."""
    many = len(Signs._fields)
    nothing, *units = worth([with_signs(signs) for signs in np.vstack([np.zeros(many), np.eye(many)])])
    zero, one = (float(np.log(p / (1 - p))) for p in (nothing, value))
    weights = np.array([np.log(p / (1 - p)) - zero for p in units])
    return with_signs((one - zero) * weights / (weights @ weights), x)


@pytest.mark.independent("planted truth on noise, and the strongest answer on the same noise without it")
def test_a_detector_that_knows_the_shape_answers_at_its_place() -> None:
    noise = np.random.default_rng(4).normal(1, 0.02, (120, 160, 3))
    y, x = np.mgrid[0:120, 0:160]
    disc_at = (np.hypot(x - 90, y - 50) < 8).astype(np.float64)
    delta = np.array([0.02, 0.02, 0.02])
    shape, at = centred(disc_at)
    there = at_place(answer(ground_of(noise + disc_at[..., None] * delta), shape, delta), at)
    assert at == (50, 90)
    assert there > answer(ground_of(noise), shape, delta).max()


@pytest.mark.independent("degenerate frames by hand")
def test_a_frame_too_small_or_empty_of_film_has_no_marks() -> None:
    assert marks_in_frame(framed(np.ones((30, 30, 3), np.float32))) == ()
    assert marks_in_frame(framed(np.full((200, 300, 3), 0.7, np.float32))) == ()


@pytest.mark.independent(
    how="a blot at the base's own density, and black things lit by 0.003 to 0.006 D, in a grey field under a tilt"
)
@pytest.mark.parametrize(("lit", "claimed"), [(-0.02, True), (0.0, True), (0.004, False)])
def test_bare_film_is_no_denser_than_the_film_beside_it(lit: float, claimed: bool) -> None:
    rng = np.random.default_rng(11)
    base, window = np.array([0.2, 0.55, 0.8]), Rectangle(0, 20, 400, 260)
    tilt = 0.006 * np.linspace(-1, 1, 300)[:, None, None] * np.array([1.0, 0.0, -1.0])
    density = np.tile(base, (300, 400, 1))
    density[20:280] += 0.5
    y, x = np.mgrid[0:300, 0:400]
    density[np.hypot(x - 150, y - 70) < 16] = base + lit * np.array([0.4, 1.0, 0.7])
    density = (density + tilt + 0.004 * rng.standard_normal(density.shape)).astype(np.float32)
    mask = np.full((300, 400), int(Left.REBATE), np.uint16)
    mask[20:280] = 0
    sides = {"top": rgb(density[:20].mean((0, 1))), "bottom": rgb(density[280:].mean((0, 1)))}
    places = {"top": -10 / 260, "bottom": 1 + 10 / 260}
    frame = DensityFrame("f.tif", 1, density, mask, window, 1.0, rgb(base), 10.0, sides, places)
    found = bare_patches(frame, window, half_size(density[window.slices]))
    assert [mark.kind for mark in found] == ["bare"] * claimed
