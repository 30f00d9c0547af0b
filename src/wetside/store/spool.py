"""A list that keeps what was put in last on disk, so that memory stays flat however long a roll is."""

from __future__ import annotations

import pickle
import tempfile
from collections.abc import Iterator, Sequence
from typing import Any, TypeVar, overload

T = TypeVar("T")
#: Bytes kept in memory before anything goes to a nameless temporary file, gone with the process.
ROOM = 64_000_000


class Spool(Sequence[T]):
    """Items in order; those beyond `room` bytes are read back from a temporary file each time they are asked for."""

    def __init__(self, room: int = ROOM) -> None:
        self._near: list[T] = []
        self._far: list[int] = []
        self._left = room
        self._file: Any = None

    def append(self, item: T, size: int) -> None:
        """Keep an item of about `size` bytes."""
        if not self._far and size <= self._left:
            self._left -= size
            self._near.append(item)
            return
        if self._file is None:
            self._file = tempfile.TemporaryFile()  # noqa: SIM115
        self._far.append(self._file.seek(0, 2))
        pickle.dump(item, self._file, protocol=5)

    def __len__(self) -> int:
        return len(self._near) + len(self._far)

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> list[T]: ...

    def __getitem__(self, index: int | slice) -> T | list[T]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        place = range(len(self))[index]
        if place < len(self._near):
            return self._near[place]
        self._file.seek(self._far[place - len(self._near)])
        item: T = pickle.load(self._file)
        return item

    def __iter__(self) -> Iterator[T]:
        return (self[i] for i in range(len(self)))
