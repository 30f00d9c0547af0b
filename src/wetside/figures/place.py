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


def intersection_over_union(a: Rectangle, b: Rectangle) -> float:
    """Shared area over joint area, 0 to 1."""
    width = min(a.x + a.w, b.x + b.w) - max(a.x, b.x)
    height = min(a.y + a.h, b.y + b.h) - max(a.y, b.y)
    shared = max(0, width) * max(0, height)
    joint = a.w * a.h + b.w * b.h - shared
    return shared / joint if joint else 0.0
