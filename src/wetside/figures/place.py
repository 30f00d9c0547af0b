"""Places on a stored file: x right, y down, origin at the outer corner of the top left pixel."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple


class Rectangle(NamedTuple):
    """A rectangle of pixels of the file as stored."""

    x: int
    y: int
    w: int
    h: int

    @property
    def centre(self) -> tuple[float, float]:
        return self.x + self.w / 2, self.y + self.h / 2

    @property
    def slices(self) -> tuple[slice, slice]:
        """Row and column slices for an array of shape (h, w, …)."""
        return slice(self.y, self.y + self.h), slice(self.x, self.x + self.w)

    def clipped_to(self, width: int, height: int) -> Rectangle:
        """The part that lies inside a file of width × height; may be empty."""
        left, top = max(0, self.x), max(0, self.y)
        right, bottom = min(width, self.x + self.w), min(height, self.y + self.h)
        return Rectangle(left, top, max(0, right - left), max(0, bottom - top))

    def as_json(self) -> dict[str, int]:
        return {"x": int(self.x), "y": int(self.y), "w": int(self.w), "h": int(self.h)}


def turned_box(box: Rectangle, width: int, height: int, tag: int) -> Rectangle:
    """A rectangle of a file of width × height where it lies once an orientation tag (EXIF 2.32, tag 274, 1–8) is applied."""
    x, y, w, h = box
    right, below = width - x - w, height - y - h
    if tag > 4:
        x, y, w, h, right, below = y, x, h, w, below, right
    return Rectangle(right if tag in (2, 3, 6, 7) else x, below if tag in (3, 4, 7, 8) else y, w, h)


def turned_pixels(pixels: Any, tag: int) -> Any:
    """Pixels (h, w, …) with an orientation tag applied, as a view: the first row is the visual top afterwards."""
    if tag > 4:
        pixels = pixels.swapaxes(0, 1)
    if tag in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    return pixels[::-1] if tag in (3, 4, 7, 8) else pixels


def undone(tag: int) -> int:
    """The tag that takes an orientation tag back."""
    return {6: 8, 8: 6}.get(tag, tag)


class Part(NamedTuple):
    """Where a frame lies in a file, and how it is turned to lie with its film along the rows and the right way up.

    `tag` is the file's orientation tag (EXIF 274), applied first; `down`: the film then runs down and is turned a quarter
    against the clock. With neither, x and y count as in the file. `by` says what shows the part: "gaps" beside it, the
    "pitch" of the others, the "hand" that drew it, or the "tag" alone where the file holds one frame. `strip` counts strips that lie side by side.
    """

    box: Rectangle
    down: bool = False
    by: str = "gaps"
    tag: int = 1
    strip: int = 1

    @property
    def turns(self) -> tuple[int, ...]:
        """Orientation tags that are applied in turn."""
        return tuple(tag for tag in (self.tag, 8 if self.down else 1) if tag != 1)

    def in_file(self, own: Rectangle) -> Rectangle:
        """A rectangle of the part in pixels of the file."""
        width, height = self.box.w, self.box.h
        if sum(tag > 4 for tag in self.turns) % 2:
            width, height = height, width
        for tag in reversed(self.turns):
            own = turned_box(own, width, height, undone(tag))
            width, height = (height, width) if tag > 4 else (width, height)
        return own._replace(x=own.x + self.box.x, y=own.y + self.box.y)

    def in_part(self, stored: Rectangle) -> Rectangle:
        """A rectangle of the file in pixels of the part."""
        found = stored._replace(x=stored.x - self.box.x, y=stored.y - self.box.y)
        width, height = self.box.w, self.box.h
        for tag in self.turns:
            found = turned_box(found, width, height, tag)
            width, height = (height, width) if tag > 4 else (width, height)
        return found

    def upright(self, stored: Any) -> Any:
        """The part's pixels (h, w, …) as stored, turned as it lies; a view."""
        for tag in self.turns:
            stored = turned_pixels(stored, tag)
        return stored

    def stored(self, upright: Any) -> Any:
        """Pixels of the part turned back as they lie in the file; a view."""
        for tag in reversed(self.turns):
            upright = turned_pixels(upright, undone(tag))
        return upright

    @property
    def along_y(self) -> bool:
        """Whether the film runs along the file's y as stored."""
        return (self.tag > 4) != self.down

    def as_json(self) -> dict[str, object]:
        return {**self.box.as_json(), "down": self.down, "by": self.by, "tag": self.tag, "strip": self.strip}


def part_from_json(said: Mapping[str, Any]) -> Part:
    """The part that `as_json` gave."""
    box = Rectangle(*(int(said[key]) for key in "xywh"))
    return Part(box, bool(said["down"]), str(said["by"]), int(said.get("tag", 1)), int(said.get("strip", 1)))


def touch(a: Rectangle, b: Rectangle) -> bool:
    """Whether two rectangles share any pixel."""
    return a.x < b.x + b.w and b.x < a.x + a.w and a.y < b.y + b.h and b.y < a.y + a.h


def intersection_over_union(a: Rectangle, b: Rectangle) -> float:
    """Shared area over joint area, 0 to 1."""
    width = min(a.x + a.w, b.x + b.w) - max(a.x, b.x)
    height = min(a.y + a.h, b.y + b.h) - max(a.y, b.y)
    shared = max(0, width) * max(0, height)
    joint = a.w * a.h + b.w * b.h - shared
    return shared / joint if joint else 0.0
