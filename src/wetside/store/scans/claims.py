"""What a file says of how it was made: its exposure by EXIF, its tone curve by its ICC profile. Nothing here reads pixels."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from typing import Any

#: How far a profile's curve may lie from a straight line before the file counts as coded.
STRAIGHT = 0.01


def exposure_of(tags: Mapping[str, Any]) -> float | None:
    """Shutter time [s] times sensitivity over ISO 100, over the square of the f-number; None without a shutter time.

    Only ratios between files are meant: an f-number that is not told counts as 1 (EXIF 2.32, tags 33434, 33437, 34855).
    """
    time = _number(_first(tags, "ExposureTime", "Exif:ExposureTime"))
    if time is None or not 0 < time < 1e5:
        return None
    iso = _number(
        _first(
            tags,
            "PhotographicSensitivity",
            "Exif:PhotographicSensitivity",
            "ISOSpeedRatings",
            "Exif:ISOSpeedRatings",
        )
    )
    stop = _number(_first(tags, "FNumber", "Exif:FNumber"))
    gain = iso / 100 if iso and iso > 0 else 1.0
    return time * gain / (stop * stop if stop and stop > 0 else 1.0)


def _first(tags: Mapping[str, Any], *names: str) -> Any:
    return next((tags[name] for name in names if tags.get(name) is not None), None)


def _number(value: Any) -> float | None:
    """A number, a rational (two whole numbers) or the first of a list; None for anything else."""
    if isinstance(value, (tuple, list)):
        if len(value) == 2 and value[1]:
            return float(value[0]) / float(value[1])
        value = value[0] if len(value) == 1 else None
    try:
        return float(value) if value is not None else None
    except (TypeError, ValueError):
        return None


def straight(profile: bytes) -> bool | None:
    """Whether an ICC profile's red curve is a straight line: the file holds light; None where there is no curve.

    Source: ISO 15076-1: a tag table of (signature, offset, size) after byte 128; "curv" and "para" curve types.
    """
    curve = _tag(profile, b"rTRC") or _tag(profile, b"kTRC")
    if curve is None or len(curve) < 12:
        return None
    if curve[:4] == b"para":
        kind, gamma = struct.unpack(">H", curve[8:10])[0], struct.unpack(">i", curve[12:16])[0] / 65536
        return kind == 0 and abs(gamma - 1) < STRAIGHT
    if curve[:4] != b"curv":
        return None
    count = struct.unpack(">I", curve[8:12])[0]
    if count == 0:
        return True
    if count > 65536 or len(curve) < 12 + 2 * count:
        return None
    values = struct.unpack(f">{count}H", curve[12 : 12 + 2 * count])
    if count == 1:
        return abs(values[0] / 256 - 1) < STRAIGHT
    return all(abs(v / 65535 - i / (count - 1)) < STRAIGHT for i, v in enumerate(values))


def _tag(profile: bytes, name: bytes) -> bytes | None:
    """The bytes of one tag; None when it is missing or points outside the profile."""
    if len(profile) < 132:
        return None
    for i in range(min(100, struct.unpack(">I", profile[128:132])[0])):
        entry = profile[132 + 12 * i : 144 + 12 * i]
        if len(entry) < 12:
            return None
        signature, offset, size = struct.unpack(">4sII", entry)
        if signature == name:
            return profile[offset : offset + size] if offset + size <= len(profile) else None
    return None
