"""Places on a stored file: x right, y down, origin at the outer corner of the top left pixel."""

from __future__ import annotations

from typing import NamedTuple


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


class Part(NamedTuple):
    """Where a frame lies in a file that holds several: its rectangle as stored, and whether its film runs down the file.

    A part whose film runs down is turned a quarter against the clock, so that its film runs along: its x is the file's
    y, its y counts from the part's right side. `by` says what shows it: "gaps" beside it, or the "pitch" of the others.
    """

    box: Rectangle
    down: bool = False
    by: str = "gaps"

    def in_file(self, own: Rectangle) -> Rectangle:
        """A rectangle of the part in pixels of the file."""
        if self.down:
            own = Rectangle(self.box.w - own.y - own.h, own.x, own.h, own.w)
        return own._replace(x=own.x + self.box.x, y=own.y + self.box.y)

    def in_part(self, stored: Rectangle) -> Rectangle:
        """A rectangle of the file in pixels of the part."""
        x, y, w, h = stored.x - self.box.x, stored.y - self.box.y, stored.w, stored.h
        return Rectangle(y, self.box.w - x - w, h, w) if self.down else Rectangle(x, y, w, h)

    def as_json(self) -> dict[str, object]:
        return {**self.box.as_json(), "down": self.down, "by": self.by}


def intersection_over_union(a: Rectangle, b: Rectangle) -> float:
    """Shared area over joint area, 0 to 1."""
    width = min(a.x + a.w, b.x + b.w) - max(a.x, b.x)
    height = min(a.y + a.h, b.y + b.h) - max(a.y, b.y)
    shared = max(0, width) * max(0, height)
    joint = a.w * a.h + b.w * b.h - shared
    return shared / joint if joint else 0.0
