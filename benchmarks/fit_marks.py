"""Fits the marks finder's net: `nice -n 19 python -m benchmarks.fit_marks POOL MINUTES FOLDER [WEIGHTS.pt]`.

POOL is what `benchmarks.photographs` made. Pieces of photographs with marks are made on the fly by a second process,
each shown a few times, turned; the rate of learning falls to nothing by the end of the minutes given. What is written,
every few minutes, is a running mean of the weights. WEIGHTS are those of an earlier fit to go on from.
"""

from __future__ import annotations

import multiprocessing
import sys
import time
from collections.abc import Iterator
from multiprocessing import shared_memory
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from benchmarks.crops import SIDE, crop
from benchmarks.net import built, folded, kept
from benchmarks.photographs import split
from wetside.stages.causes.signs.chance import SCALE, net_input

KEPT, BATCH, SHOWN = 6000, 16, 2
FASTEST, AGAIN = 3e-3, 1.5e-3  # rate of learning afresh, and from an earlier fit
WARM = 400  # steps until the rate is reached
MEAN, EVERY = 0.996, 240  # running mean each fourth step, seconds between writings
THREADS = 1  # the other core makes pieces
HALF = SIDE // 2
#: What is kept of a piece: what the net sees, where marks are, what each pixel weighs, what was added.
SPEC = {"seen": 24, "marks": 4, "weight": 4, "added": 12}
Names = dict[str, str]


def fed(names: Names) -> tuple[dict[str, np.ndarray], list[shared_memory.SharedMemory]]:
    """Arrays of `KEPT` pieces in memory that both processes see, and what keeps it alive."""
    memory = {name: shared_memory.SharedMemory(name=names[name]) for name in SPEC}
    arrays = {
        name: np.ndarray((KEPT, HALF, HALF, planes), np.float16, buffer=memory[name].buf)
        for name, planes in SPEC.items()
    }
    return arrays, list(memory.values())


def cells(plane: np.ndarray) -> np.ndarray:
    """(h, w, c) to (h/2, w/2, 4·c)."""
    h, w, c = plane.shape
    return plane.reshape(h // 2, 2, w // 2, 2, c).transpose(0, 2, 1, 3, 4).reshape(h // 2, w // 2, 4 * c)


def pixel_weight(number: np.ndarray) -> np.ndarray:
    """Weight of each pixel: one; in a mark more for a small one, less for a large one."""
    weight = np.ones(number.shape, np.float32)
    for mark in range(1, int(number.max()) + 1):
        own = number == mark
        weight[own] = np.clip(np.sqrt(150 / max(1, own.sum())), 0.25, 3)
    return weight


def feed(names: Names, made: Any, used: Any, files: list[Path]) -> None:
    """Makes pieces for ever, never further ahead than each can be shown `SHOWN` times."""
    cv2.setNumThreads(1)
    arrays, _memory = fed(names)
    photographs = [cv2.imread(str(path), cv2.IMREAD_COLOR)[..., ::-1] for path in files]
    rng = np.random.default_rng()
    while True:
        while made.value > 600 + used.value / SHOWN:
            time.sleep(0.2)
        density, number, added = crop(photographs, rng)
        place = made.value % KEPT
        arrays["seen"][place] = net_input(density).transpose(1, 2, 0)
        arrays["marks"][place] = cells((number > 0).astype(np.float32)[..., None])
        arrays["weight"][place] = cells(pixel_weight(number)[..., None])
        arrays["added"][place] = cells(added / SCALE)
        made.value += 1


def turned(batch: np.ndarray, mirrored: bool, upset: bool, swapped: bool) -> np.ndarray:
    """A batch of cells mirrored, upside down, or its axes swapped."""
    n, h, w, planes = batch.shape
    pixels = batch.reshape(n, h, w, 2, 2, planes // 4)
    pixels = pixels[:, :, ::-1, :, ::-1] if mirrored else pixels
    pixels = pixels[:, ::-1, :, ::-1] if upset else pixels
    pixels = pixels.transpose(0, 2, 1, 4, 3, 5) if swapped else pixels
    return np.ascontiguousarray(pixels.reshape(n, h, w, planes))


def loss_of(torch: Any, answer: Any, marks: Any, weight: Any, added: Any) -> Any:
    """Cross entropy with a stress on errors, one less the overlap, and the error of the density added."""
    odds = answer[:, :4]
    chance = torch.sigmoid(odds)
    entropy = torch.nn.functional.binary_cross_entropy_with_logits(odds, marks, reduction="none")
    stressed = 4 * (weight * entropy * (0.25 + (marks - chance).abs())).mean()
    overlap = 2 * (weight * chance * marks).sum() / ((weight * (chance + marks)).sum() + 1)
    error = torch.nn.functional.smooth_l1_loss(answer[:, 4:], added, reduction="none")
    counted = (marks * weight + 0.15).repeat_interleave(3, 1)
    return stressed + 0.3 * (1 - overlap) + 0.5 * (error * counted).mean()


def batches(arrays: dict[str, np.ndarray], made: Any) -> Iterator[list[np.ndarray]]:
    """Pieces drawn from those there are, each batch turned at random."""
    rng = np.random.default_rng()
    while True:
        drawn = np.sort(rng.choice(min(KEPT, made.value), BATCH, replace=False))
        how = rng.random(3) < 0.5
        yield [turned(arrays[name][drawn], *(bool(v) for v in how)) for name in SPEC]


def fit(pool: Path, minutes: float, out: Path, start: Path | None = None) -> None:
    """Fits for a time and writes the net; its weights stand beside it."""
    memory = {
        name: shared_memory.SharedMemory(create=True, size=KEPT * HALF * HALF * planes * 2)
        for name, planes in SPEC.items()
    }
    names = {name: part.name for name, part in memory.items()}
    made, used = multiprocessing.Value("l", 0), multiprocessing.Value("l", 0)
    feeder = multiprocessing.Process(target=feed, args=(names, made, used, split(pool)[0]), daemon=True)
    feeder.start()
    try:
        arrays, _held = fed(names)
        _fitted(arrays, made, used, minutes, out, start)
    finally:
        feeder.kill()
        feeder.join()
        for part in memory.values():
            part.unlink()


def written_mean(torch: Any, mean: Any, out: Path) -> None:
    """Writes the mean of the net's weights, to go on from and to ship from."""
    torch.save(mean.state_dict(), out / "marks-weights.pt")
    kept(folded(mean), out / "marks-weights.npz")


def moved(torch: Any, mean: Any, net: Any) -> None:
    """Moves the running mean a little towards the net, what its normalisations have seen included."""
    with torch.no_grad():
        for old, new in zip(mean.state_dict().values(), net.state_dict().values(), strict=True):
            if old.dtype.is_floating_point:
                old.lerp_(new, 1 - MEAN)


def _fitted(
    arrays: dict[str, np.ndarray], made: Any, used: Any, minutes: float, out: Path, start: Path | None
) -> None:
    import torch

    torch.set_num_threads(THREADS)
    torch.set_flush_denormal(True)
    net, mean = (built(torch).to(memory_format=torch.channels_last) for _ in range(2))
    if start is not None:
        net.load_state_dict(torch.load(start))
    mean.load_state_dict(net.state_dict())
    mean.eval()
    fastest = FASTEST if start is None else AGAIN
    way = torch.optim.AdamW(net.parameters(), fastest, weight_decay=1e-3)

    def step(batch: list[np.ndarray]) -> float:
        seen, marks, weight, added = (torch.from_numpy(part).permute(0, 3, 1, 2).float() for part in batch)
        with torch.autocast("cpu", torch.bfloat16):
            answer = net(seen)
        loss = loss_of(torch, answer.float(), marks, weight, added)
        way.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        way.step()
        return float(loss.detach())

    while made.value < 300:
        time.sleep(1)
    began = saved = time.monotonic()
    losses = list[float]()
    for steps, batch in enumerate(batches(arrays, made)):
        part = (time.monotonic() - began) / (60 * minutes)
        if part >= 1:
            break
        way.param_groups[0]["lr"] = fastest * min(1, (steps + 1) / WARM) * (0.5 + 0.5 * np.cos(np.pi * part))
        losses.append(step(batch))
        used.value = (steps + 1) * BATCH
        if steps % 100 == 0:
            print(f"{60 * minutes * part:.0f} s, step {steps}, loss {np.mean(losses[-100:]):.3f}", flush=True)
        if steps == WARM:
            mean.load_state_dict(net.state_dict())
        if steps % 4 == 0:
            moved(torch, mean, net)
        if time.monotonic() > saved + EVERY:
            saved = time.monotonic()
            written_mean(torch, mean, out)
    written_mean(torch, mean, out)


if __name__ == "__main__":
    multiprocessing.set_start_method("spawn")
    fit(Path(sys.argv[1]), float(sys.argv[2]), Path(sys.argv[3]), Path(sys.argv[4]) if sys.argv[4:] else None)
