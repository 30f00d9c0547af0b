"""The same done to many things by as many threads as there are cores, the answers in order.

The array libraries let go of the interpreter while they work, so frames of a roll can be gone through side by side.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")
R = TypeVar("R")


def abreast(work: Callable[[T], R], things: Iterable[T], most: int | None = None) -> Iterator[R]:
    """`work` of each thing, in order; things are taken one by one, never more under way than `most` (the cores)."""
    threads = max(1, min(most or 4, os.cpu_count() or 1))
    if threads == 1:
        yield from map(work, things)
        return
    with ThreadPoolExecutor(threads) as pool:
        under_way: deque[Future[R]] = deque()
        try:
            for thing in things:
                under_way.append(pool.submit(work, thing))
                if len(under_way) >= threads:
                    yield under_way.popleft().result()
            while under_way:
                yield under_way.popleft().result()
        finally:
            for waiting in under_way:
                waiting.cancel()
